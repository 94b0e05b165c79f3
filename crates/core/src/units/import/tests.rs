#![allow(clippy::unwrap_used)]
use proptest::prelude::*;

use super::*;

/// Rows of The Met Open Access (CC0), typed from the object pages metmuseum.org/art/collection/search/
/// 35817 (2012.36a–d), 24978 (2001.574), 23935 (32.100.470), 21883 (91.2.48), 24616 (36.120.420a–d),
/// 27613 (2018.833.18a–h) and 27609 (2018.833.26a–c), and from the open records of 91.2.58,
/// 36.120.412a, b and 29.100.1376a, b. Of 2007.478.2 and of the record with `35 1/6` only the values
/// are published ones; the label of each, and the number `misprint`, are supplied here.
const MUSEUM: &str = "\
museum,accession_no,object_type,period_or_date,overall_cm,blade_with_tang_cm,nagasa_cutting_edge_cm,sori_cm,width_at_base_cm,mass_g,published_dimensions_text,unit_check_note,source_url,licence_note
Met,2012.36a–d,katana,dated 1653,85.7,,68.1,1.7,,,L. 33 3/4 in. (85.7 cm); L. of cutting edge 26 7/8 in. (68.1 cm); D. of curvature 5/8 in. (1.7 cm),,,CC0
Met,2001.574,katana,dated 1526,91.8,,75.1,2.4,,,L. 36 1/8 in. (91.8 cm); L. of blade edge 29 9/16 in. (75.1 cm); D. of curvature 3/32 in. (2.4 cm),,,CC0
Met,32.100.470,tanto,blade dated 1870,40.9,36.7,26.7,,,,L. 16 1/8 in. (40.9 cm); L. of blade 14 7/16 in. (36.7 cm); L. of cutting edge 10 1/2 in. (26.7 cm),,,CC0
Met,91.2.48,wakizashi,mid-late 14th c,59.6,54.2,39.8,0.5,,,L. 23 7/16 in. (59.6 cm); L. of blade 21 5/16 in. (54.2 cm); L. of cutting edge 15 11/16 in. (39.8 cm); D. of curvature 3/16 in. (0.5 cm),,,CC0
Met,36.120.420a–d,wakizashi,late 17th c,68.7,60.0,45.1,0.9,,,L. 27 1/16 in. (68.7 cm); L. of blade 23 5/8 in. (60 cm); L. of cutting edge 17 3/4 in.(45.1 cm); D. of curvature 3/8 in. (0.9 cm),,,CC0
Met,2018.833.18a–h,wakizashi (mounted whole),18th c,74.9,,,,,983.7,L. 29 1/2 in. (74.9 cm); W. 2 3/4 in. (7 cm); Wt. 2 lb. 2.7 oz. (983.7 g),,,CC0
Met,2018.833.26a–c,jumonji-yari (spearhead),dated August 1727,52.1,,,,15.2,411.1,spear (a): H. 20 1/2 in. (52.1 cm); W. 6 in. (15.2 cm); Wt. 14.5 oz. (411.1 g),,,CC0
Met,91.2.58,katana,17th c,94.5,83.0,62.1,1.5,,,L. 37 3/16 in. (94.5 cm); L. of blade 32 11/16 in. (83 cm); L. of cutting edge 24 7/16 in. (62.1 cm); D. of curvature 9/16 in. (1.5 cm),,,CC0
Met,\"36.120.412a, b\",katana,16th c,90.8,83.0,63.9,1.5,,,L. 35 3/4 in. (90.8 cm); L. of blade 32 11/16 in. (83 cm); L. of cutting edge 25 5/32 in. (63.9 cm); D. of blade curvature 19/32 (1.5 cm),,,CC0
Met,\"29.100.1376a, b\",tanto,16th c,39.8,37.3,27.2,,,,L. 15 11/16 in. (39.8 cm); L. of balde 14 11/16 in. (37.3 cm); L. of cutting edge 10 11/16 in. (27.2 cm),,,CC0
Met,2007.478.2,katana,,,,71.5,1.5,,,L. of cutting edge 28 1/16 in. (71.5 cm); D. of curvature 1 in. (1.5 cm),,,CC0
Met,misprint,tachi,,,89.1,,,,,L. of blade 35 1/6 in. (89.1 cm),,,CC0
Met,36.120.420a–d (record of the pair),wakizashi,17th c,63.5,,52.7,,,,L. of short sword (wakizashi) 25 in. (63.5 cm); blade 20 3/4 in. (52.7 cm),,,CC0
";

fn import(csv: &str, map: &str) -> ImportReport {
    read_csv(csv.as_bytes(), &map.parse().unwrap()).unwrap()
}

fn texts(remarks: &[Remark]) -> Vec<String> {
    remarks.iter().map(ToString::to_string).collect()
}

#[test]
fn museum_rows_are_imported_without_what_is_not_sound() {
    let report = read_csv(MUSEUM.as_bytes(), &ColumnMap::default()).unwrap();
    assert_eq!((report.rows_read, report.rows.len()), (13, 13));
    assert_eq!(
        texts(&report.faults),
        [
            "line 3, 2001.574, curvature: `D. of curvature`: `3/32 in.` is 2.38 mm but `2.4 cm` is 24.00 mm, 21.6188 mm apart: up to 2.0875 mm (1/16 in + 0.05 cm) is allowed",
            "line 12, 2007.478.2, blade_length: `L. of cutting edge`: `28 1/16 in.` is 712.79 mm but `71.5 cm` is 715.00 mm, 2.2125 mm apart: up to 2.0875 mm (1/16 in + 0.05 cm) is allowed",
            "line 12, 2007.478.2, curvature: `D. of curvature`: `1 in.` is 25.40 mm but `1.5 cm` is 15.00 mm, 10.4000 mm apart: up to 2.0875 mm (1/16 in + 0.05 cm) is allowed",
            "line 13, misprint, blade_with_tang: `L. of blade`: `35 1/6 in.` has a fraction with the denominator 6: 2, 4, 8, 16, 32 and 64 divide an inch or an ounce",
            "line 13, misprint, blade_with_tang: `L. of blade`: `35 1/6 in.` is 893.23 mm but `89.1 cm` is 891.00 mm, 2.2333 mm apart: up to 2.0875 mm (1/16 in + 0.05 cm) is allowed",
        ]
    );
    assert_eq!(
        (
            report.faults[0].first.as_deref(),
            report.faults[0].second.as_deref()
        ),
        (Some("3/32 in."), Some("2.4 cm"))
    );
    assert_eq!(
        texts(&report.remarks),
        [
            "line 7, 2018.833.18a–h, width: the published line gives a value but the column has none, and nothing is imported (`2 3/4 in. (7 cm)`)",
            "line 8, 2018.833.26a–c, overall_length: the published line has no value under this name (`52.1 cm`)",
            "line 10, 36.120.412a, b, curvature: `D. of blade curvature`: `19/32` has no unit, so that only the other value is read",
            "line 11, 29.100.1376a, b, blade_with_tang: `balde` in the label is taken for `blade`",
            "line 14, 36.120.420a–d (record of the pair), blade_length: the published line gives the value under `blade` (`52.7 cm` and `20 3/4 in. (52.7 cm)`)",
            "line 14, 36.120.420a–d (record of the pair), overall_length: line 6 bears the same number and another value (`68.7 cm` and `63.5 cm`)",
            "line 14, 36.120.420a–d (record of the pair), blade_length: line 6 bears the same number and another value (`45.1 cm` and `52.7 cm`)",
        ]
    );
    let row = &report.rows[1];
    assert_eq!(
        (
            row.line,
            row.identity.as_str(),
            row.texts[&Field::Kind].as_str()
        ),
        (3, "2001.574", "katana")
    );
    let values: Vec<_> = row
        .quantities
        .iter()
        .map(|(field, quantity)| {
            (
                *field,
                quantity.reading.rounded().to_string(),
                quantity.origin,
            )
        })
        .collect();
    assert_eq!(
        values,
        [
            (
                Field::OverallLength,
                "918.0".into(),
                Origin::ColumnAndPublished
            ),
            (
                Field::BladeLength,
                "751.0".into(),
                Origin::ColumnAndPublished
            ),
        ]
    );
    let json = serde_json::to_value(&report).unwrap();
    assert_eq!(
        json["rows"][1]["quantities"]["blade_length"]["reading"]["value"],
        "751.0"
    );
    assert_eq!(json["faults"][0]["problem"], "disagreement");
}

#[test]
fn line_ends_marks_and_quotes_do_not_matter() {
    let expected = read_csv(MUSEUM.as_bytes(), &ColumnMap::default()).unwrap();
    let windows = format!("\u{feff}{}", MUSEUM.replace('\n', "\r\n"));
    assert_eq!(
        read_csv(windows.as_bytes(), &ColumnMap::default()).unwrap(),
        expected
    );
    let unfinished = MUSEUM.trim_end();
    assert_eq!(
        read_csv(unfinished.as_bytes(), &ColumnMap::default()).unwrap(),
        expected
    );
}

#[test]
fn lines_are_counted_over_blank_lines_and_quoted_line_breaks() {
    let csv =
        "no,note,mass\r\n\r\n\r\n1,\"two\r\nlines, \"\"quoted\"\"\",bad\r\n\n2,,bad\n,,\n3,,bad";
    let report = import(csv, "identity=no,note=note,mass=mass:g");
    let lines: Vec<_> = report
        .faults
        .iter()
        .map(|fault| (fault.line, fault.identity.as_str()))
        .collect();
    assert_eq!(lines, [(4, "1"), (7, "2"), (9, "3")]);
    assert_eq!(report.rows_read, 3);
    assert_eq!(
        report.rows[0].texts[&Field::Note],
        "two\r\nlines, \"quoted\""
    );
    assert_eq!(
        texts(&report.faults)[0],
        "line 4, 1, mass: `bad` in `bad` is not understood: a number with a unit is allowed, a mass in g, kg, oz, lb, momme"
    );
}

#[test]
fn cells_take_the_unit_of_their_column_or_bring_their_own() {
    let csv = "no,a,b\n1,68.1,2.35 shaku\n2,26 7/8,\n3,681 mm,71.21\n4,\"68,1\",\n5,-3,\n";
    let report = import(csv, "identity=no,blade_length=a:cm,overall_length=b");
    let value = |row: usize, field| {
        report.rows[row]
            .quantities
            .get(&field)
            .map(|quantity| quantity.reading.rounded().to_string())
    };
    assert_eq!(value(0, Field::BladeLength).as_deref(), Some("681.0"));
    assert_eq!(value(0, Field::OverallLength).as_deref(), Some("712.1"));
    assert_eq!(value(1, Field::BladeLength).as_deref(), Some("268.8"));
    assert_eq!(value(2, Field::BladeLength).as_deref(), Some("681.0"));
    assert_eq!(
        texts(&report.faults),
        [
            "line 4, 3, overall_length: `71.21` has no unit: a length is allowed in mm, cm, m, um, in, ft, shaku, sun, bu, rin",
            "line 5, 4, blade_length: `68,1 cm` has a comma between digits, which may mean decimals or thousands: a full stop is allowed for decimals, nothing for thousands",
            "line 6, 5, blade_length: `-3 cm` is below zero: a length of zero or more is allowed",
        ]
    );
    assert_eq!(
        report.faults[1].reason.hint(),
        "write `68.1 cm` if the comma divides off decimals, `681 cm` if it groups thousands"
    );
    assert_eq!(report.rows.len(), 5, "the rest of such a row is imported");
}

#[test]
fn columns_are_compared_with_the_published_line() {
    let row = |cell: &str, published: &str| {
        import(
            &format!("no,a,p\n1,{cell},\"{published}\"\n"),
            "identity=no,blade_length=a:cm,published=p",
        )
    };
    let faults = |cell, published| texts(&row(cell, published).faults);
    assert_eq!(
        faults("86.1", "L. of cutting edge 26 7/8 in. (68.1 cm)"),
        [
            "line 2, 1, blade_length: the column gives 861.0 mm, the published line 681.0 mm, 180.0000 mm apart: only rounding may lie between them (`86.1 cm` and `68.1 cm`)"
        ]
    );
    // One digit more than published is rounding; a tenth away is not.
    let report = row("68.13", "L. of cutting edge 26 7/8 in. (68.1 cm)");
    assert_eq!(
        texts(&report.remarks),
        [
            "line 2, 1, blade_length: the column and the published line differ by rounding (`68.13 cm` and `68.1 cm`)"
        ]
    );
    assert_eq!(
        report.rows[0].quantities[&Field::BladeLength].reading.text,
        "68.13 cm"
    );
    assert_eq!(
        faults("68.2", "L. of cutting edge 26 7/8 in. (68.1 cm)").len(),
        1
    );
    // Inches alone are compared across systems.
    assert_eq!(faults("68.1", "L. of cutting edge 26 7/8 in."), [""; 0]);
    assert_eq!(faults("68.6", "L. of cutting edge 26 7/8 in.").len(), 1);
    // A fault under another label counts against the column that has the same value.
    assert_eq!(
        faults("65.8", "21 15/16 in. (65.8 cm)"),
        [
            "line 2, 1, blade_length: the published value that it comes from has a fault, listed with the published line (`65.8 cm` and `21 15/16 in. (65.8 cm)`)",
            "line 2, 1, published: `21 15/16 in.` is 557.21 mm but `65.8 cm` is 658.00 mm, 100.7875 mm apart: up to 2.0875 mm (1/16 in + 0.05 cm) is allowed",
        ]
    );
    assert_eq!(
        faults(
            "68.1",
            "L. of cutting edge 68.1 cm; L. of cutting edge 67.1 cm"
        ),
        [
            "line 2, 1, blade_length: the published line gives two different values for it: one is allowed (`68.1 cm` and `67.1 cm`)"
        ]
    );
    let alone = row("68.1", "signed");
    assert_eq!(
        texts(&alone.remarks),
        [
            "line 2, 1, published: `signed` holds no value",
            "line 2, 1, blade_length: the published line has no value under this name (`68.1 cm`)",
        ]
    );
}

#[test]
fn a_published_line_alone_gives_values() {
    let csv = "no,p\n1,L. of cutting edge 26 7/8 in. (68.1 cm); W. 1 in. (2.5 cm)\n";
    let report = import(csv, "identity=no,published=p");
    let quantity = &report.rows[0].quantities[&Field::BladeLength];
    assert_eq!(
        (quantity.reading.text.as_str(), quantity.origin),
        ("68.1 cm", Origin::Published)
    );
    assert_eq!(report.rows[0].quantities.len(), 1);
    assert_eq!(report.remarks[0].field, Some(Field::Width));
}

#[test]
fn unsound_rows_are_listed() {
    let mut csv = b"no,holder,kind\n1,A,katana\n2,A\n3,A,katana,x\n,A,tanto\n1,A,tachi\n1,B,tachi\n4,A,\xff\n5,A,".to_vec();
    csv.extend("z".repeat(20_000).bytes());
    let report = read_csv(
        &csv,
        &"identity=no,holder=holder,kind=kind".parse().unwrap(),
    )
    .unwrap();
    assert_eq!(
        texts(&report.faults),
        [
            "line 3, 2: the row has 2 cells: 3 are allowed, as in the header",
            "line 4, 3: the row has 4 cells: 3 are allowed, as in the header",
            "line 5, identity: the row has no identity: a number or name is needed",
            "line 6, 1, identity: line 2 has the same holder and identity: one row for each is allowed",
            "line 8, 4, kind: the cell is not UTF-8",
            "line 9, 5, kind: the cell has 20000 bytes: up to 10000 are allowed",
        ]
    );
    let lines: Vec<_> = report.rows.iter().map(|row| row.line).collect();
    assert_eq!((lines, report.rows_read), (vec![2, 7], 8));
    assert!(
        report
            .faults
            .iter()
            .all(|fault| !fault.reason.hint().is_empty())
    );
}

#[test]
fn files_that_make_every_row_doubtful_are_refused() {
    let map: ColumnMap = "identity=no,mass=m:g".parse().unwrap();
    let refuse = |csv: &[u8], error: &str, hint: &str| {
        let found = read_csv(csv, &map).unwrap_err();
        assert_eq!((found.to_string().as_str(), found.hint()), (error, hint));
    };
    refuse(
        b"",
        "the CSV is empty: a header line and rows are allowed",
        "check that the right file was given",
    );
    refuse(
        b"\n\n",
        "the CSV is empty: a header line and rows are allowed",
        "check that the right file was given",
    );
    refuse(
        b"\xff\xfen\0o\0",
        "the CSV is in UTF-16: UTF-8 is allowed",
        "save it again as \"CSV UTF-8\"",
    );
    refuse(
        b"no,m\n1,2\n2,\"3\n3,4\n",
        "line 3: a cell opens with a quote that is never closed, so that all lines after it would be one cell",
        "close the quote, or write a quote inside a cell twice (\"\") in a quoted cell",
    );
    refuse(
        b"number,m\n1,2\n",
        "line 1: there is no column `no` for identity: the header has number, m",
        "map the field to a column of the header, as in `blade_length=nagasa_cm:cm`",
    );
    refuse(
        b"no;m\n1;2\n",
        "line 1: there is no column `no` for identity: the header has no;m",
        "the cells seem to be divided by semicolons: save it again with commas between the cells",
    );
    refuse(
        b"no,m,m\n1,2,3\n",
        "line 1: column `m` stands in places 2 and 3: one is allowed",
        "rename one of the two columns",
    );
    refuse(
        &vec![b'x'; LARGEST_FILE + 1],
        "the CSV has 16777217 bytes: up to 16777216 are allowed",
        "split it into smaller files, each with the header line",
    );
    // An inch mark in a bare cell opens no quote.
    let report = import("no,m\n1,26-7/8\"\n2,3 in\n", "identity=no,blade_length=m");
    assert_eq!((report.rows.len(), report.faults.len()), (2, 0));
}

#[test]
fn a_table_is_read_with_its_own_separator() {
    let table = read_table(
        "\u{feff}a;b, c\n\n1,5;\"x\ny\"\n;\n2;\n3\n".as_bytes(),
        b';',
    )
    .unwrap();
    assert_eq!(table.header, ["a", "b, c"]);
    let rows: Vec<_> = table
        .rows
        .iter()
        .map(|row| {
            (
                row.line,
                row.fits(2).is_ok(),
                row.cell(0).unwrap(),
                row.cell(1).unwrap(),
            )
        })
        .collect();
    let some = |text: &str| Some(text.to_owned());
    assert_eq!(
        rows,
        [
            (3, true, some("1,5"), some("x\ny")),
            (6, true, some("2"), None),
            (7, false, some("3"), None),
        ]
    );
    assert_eq!(
        table.rows[2].fits(2).unwrap_err().to_string(),
        "the row has 1 cell: 2 are allowed, as in the header"
    );
}

proptest! {
    #[test]
    fn record_starts_match_the_reader(csv in "[a,;\"\r\n]{0,40}", separator in prop::sample::select(vec![b',', b';'])) {
        if let Ok(starts) = lines::record_starts(csv.as_bytes(), separator) {
            let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).delimiter(separator).from_reader(csv.as_bytes());
            prop_assert_eq!(starts.len(), reader.byte_records().count());
        }
    }

    #[test]
    fn nothing_panics(rows in prop::collection::vec("[0-9a-z .,;()/\"-]{0,30}|\\PC{0,20}", 0..6), bytes in prop::collection::vec(any::<u8>(), 0..60)) {
        let map: ColumnMap = "identity=no,blade_length=l:cm,published=p".parse().unwrap();
        let mut csv = format!("no,l,p\n{}\n", rows.join("\n")).into_bytes();
        csv.extend(bytes);
        let report = read_csv(&csv, &map);
        prop_assert_eq!(&report, &read_csv(&csv, &map));
        if let Ok(report) = report {
            prop_assert!(report.rows.len() <= report.rows_read);
        }
    }
}
