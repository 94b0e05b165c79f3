//! A spreadsheet becomes blades, through the built command.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;

use common::{Bench, text};
use serde_json::{Value, json};

/// As a German spreadsheet saves it.
const LIST: &str = "\u{feff}Nr.;Titel;Art;Länge (cm);Gewicht (g);Gekauft am;Preis;Bemerkung;Porto\r\n\
    7;Kurzschwert \"\"Amsel\"\";wakizashi;45,5;412,6;03.11.2026;1.240,00 EUR;=lag im Schuppen;12,50 EUR\r\n\
    8;Langschwert;刀;70,15;745;11.2026;880,00 EUR;;\r\n\
    9;Lanze;;20,1;;2025;95 EUR;\"zwei\r\nZeilen\";\r\n";

const MAP: &str = r#"
[table]
separator = ";"
decimal = ","
thousands = "."
dates = "DD.MM.YYYY"

[key]
column = "Titel"

[[column]]
name = "Titel"
to = "blade.title"

[[column]]
name = "Art"
to = "blade.kind_by_make"

[[column]]
name = "Länge (cm)"
to = "dimensions.blade_length"
unit = "cm"
method = "from an older list"

[[column]]
name = "Gewicht (g)"
to = "dimensions.mass"
unit = "g"

[[column]]
name = "Gekauft am"
to = "custody[0].when"

[[column]]
name = "Preis"
to = "custody[0].price"

[[column]]
name = "Bemerkung"
to = "blade.related"
prefix = "Bemerkung: "

[[column]]
name = "Porto"
to = "cost.amount"

[[value]]
to = "blade.object_type"
value = "edged blade"

[[value]]
to = "blade.construction"
value = "other"

[[value]]
to = "dimensions.datum"
value = "back_notch"

[[value]]
to = "dimensions.mass_state"
value = "bare"

[[value]]
to = "custody[0].kind"
value = "bought"

[[value]]
to = "custody[0].to.role"
value = "polisher"

[[column]]
name = "Nr."
to = "intake.came"

[[value]]
to = "intake.as"
value = "bought"

[[value]]
to = "cost.for"
value = "postage"

[[value]]
to = "cost.on"
value = "2026-11-03"
"#;

fn bench() -> Bench {
    let bench = Bench::with_workshop("Reedbank Polishing");
    fs::write(bench.path("list.csv"), LIST.replace("\"\"", "")).unwrap();
    fs::write(bench.path("map.toml"), MAP).unwrap();
    bench
}

fn import(bench: &Bench, more: &[&str], code: i32) -> Value {
    let all = [
        &["book", "import", "list.csv", "--map", "map.toml", "--json"],
        more,
    ]
    .concat();
    bench.work(&all).code(code).json()
}

fn blades(bench: &Bench) -> Vec<String> {
    let list = bench.work(&["blade", "list", "--json"]).code(0).json();
    let list = list.as_array().unwrap().clone();
    list.iter()
        .map(|line| text(line, "id").to_owned())
        .collect()
}

/// `column: what` of every problem.
fn problems(outcome: &Value) -> Vec<String> {
    let all = outcome["problems"].as_array().unwrap();
    all.iter()
        .map(|one| {
            let column = one["column"].as_str().unwrap_or("-");
            format!("{} {column}: {}", one["line"], text(one, "what"))
        })
        .collect()
}

#[test]
fn a_dry_run_shows_every_row_and_writes_nothing() {
    let bench = bench();
    let outcome = import(&bench, &["--dry-run"], 0);
    assert_eq!(outcome["rows"][0]["blade"], "kurzschwert-amsel");
    let values = outcome["rows"][0]["values"].as_array().unwrap();
    let value = |place: &str| {
        let found = values.iter().find(|one| one["place"] == place);
        found.unwrap_or_else(|| panic!("{place} in {values:?}"))["value"].clone()
    };
    assert_eq!(value("custody[0].price"), "1240.00 EUR");
    assert_eq!(value("custody[0].when"), "2026-11-03..2026-11-03");
    assert_eq!(value("cost.amount"), "12.50 EUR");
    // The third row has no kind, and a line break within a cell.
    assert_eq!(outcome["rows"][2]["fate"], "bad");
    let found = problems(&outcome);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(
        found[0].starts_with("4 Art: ") && found[0].contains("kind_by_make"),
        "{found:?}"
    );
    assert!(blades(&bench).is_empty());
    let told = bench
        .work(&[
            "book",
            "import",
            "list.csv",
            "--map",
            "map.toml",
            "--dry-run",
        ])
        .code(0);
    for words in [
        "utf-8, cells divided by `;`",
        "line 3: would enter langschwert",
        "  dimensions.blade_length = ",
        "2 blades would be entered, 0 skipped, 1 not sound",
    ] {
        assert!(told.out.contains(words), "{words} in\n{}", told.out);
    }
}

#[test]
fn nothing_is_entered_unless_all_rows_are_sound_and_nothing_twice() {
    let bench = bench();
    let refused = bench
        .work(&["book", "import", "list.csv", "--map", "map.toml"])
        .code(1);
    assert!(
        refused
            .err
            .contains("1 row is not sound, nothing was entered"),
        "{}",
        refused.err
    );
    assert!(refused.err.contains("--skip-bad"), "{}", refused.err);
    assert!(blades(&bench).is_empty());
    let outcome = import(&bench, &["--skip-bad"], 0);
    assert_eq!(
        (&outcome["entered"], &outcome["bad"]),
        (&json!(2), &json!(1))
    );
    assert_eq!(blades(&bench), ["kurzschwert-amsel", "langschwert"]);
    // Goes on where it was, once the map says what the empty kind means; what is there is passed over.
    let whole = format!("{MAP}\n[[value]]\nto = \"blade.kind_by_make\"\nvalue = \"yari\"\n");
    let map = whole.replace(
        "[[column]]\nname = \"Art\"\nto = \"blade.kind_by_make\"\n",
        "",
    );
    fs::write(bench.path("map.toml"), map).unwrap();
    let outcome = import(&bench, &[], 0);
    assert_eq!(
        (&outcome["entered"], &outcome["there"]),
        (&json!(1), &json!(2))
    );
    let again = import(&bench, &[], 0);
    assert_eq!((&again["entered"], &again["there"]), (&json!(0), &json!(3)));
    assert_eq!(blades(&bench).len(), 3);
    let sheet = bench
        .work(&["examine", "show", "langschwert", "--json"])
        .code(0)
        .json();
    assert_eq!(sheet["blade"]["kind_by_make"], "katana");
    let length = &sheet["dimensions"]["blade_length"];
    assert_eq!(
        (text(length, "value"), text(length, "method")),
        ("701.50", "from an older list")
    );
    assert_eq!(
        sheet["custody"][0]["when"],
        json!({ "earliest": "2026-11", "latest": "2026-11" })
    );
    let amsel = bench
        .work(&["book", "show", "kurzschwert-amsel", "--json"])
        .code(0)
        .json();
    assert_eq!(amsel["currencies"][0]["margin"], "-1252.50");
    let journal = [
        "journal",
        "list",
        "langschwert",
        "--kind",
        "intake",
        "--json",
    ];
    let intake = bench.work(&journal).code(0).json();
    assert_eq!(
        intake[0]["content"],
        json!({ "as": "bought", "came": ["8"] })
    );
}

#[test]
fn a_mended_table_enters_only_what_is_new() {
    let bench = bench();
    let map = MAP.replace(
        "column = \"Titel\"\n\n",
        "column = \"Titel\"\nrepeated = \"number\"\n\n",
    );
    fs::write(bench.path("map.toml"), map).unwrap();
    let head = "Nr.;Titel;Art;Länge (cm);Gewicht (g);Gekauft am;Preis;Bemerkung;Porto\n";
    let twins = "1;Zwilling;tanto;25;;;;;\n1;Zwilling;tanto;25;;;;;\n";
    let bad = format!("{head}{twins}2;Speer;yarri;;;;;;\n");
    fs::write(bench.path("list.csv"), bad).unwrap();
    let outcome = import(&bench, &["--skip-bad"], 0);
    assert_eq!(
        (&outcome["entered"], &outcome["bad"]),
        (&json!(2), &json!(1))
    );
    // One cell mended, a row before the others, cells that a spreadsheet pads, another name.
    let mended = format!(
        "{head}3;Messer;knife;;;;;;\n2;Speer;yari;;;;;;\n1 ; Zwilling;tanto;25;;;;;\n1;Zwilling;tanto;25;;;;; \n"
    );
    fs::write(bench.path("mended.csv"), &mended).unwrap();
    let run = |more: &[&str]| {
        let all = [&["book", "import", "mended.csv", "--map", "map.toml"], more].concat();
        bench.work(&all).code(0)
    };
    let dry = run(&["--dry-run"]);
    assert!(
        dry.out
            .contains("2 blades would be entered, 2 skipped, 0 not sound"),
        "{}",
        dry.out
    );
    assert!(
        dry.err.contains("2 rows would be skipped") && dry.err.contains("`--again`"),
        "{}",
        dry.err
    );
    let ran = run(&[]);
    assert!(
        ran.out
            .contains("line 4: skipped, an earlier import entered zwilling\nline 5: skipped, an earlier import entered zwilling-2\n"),
        "{}",
        ran.out
    );
    assert!(ran.err.contains("note: 2 rows skipped"), "{}", ran.err);
    assert_eq!(
        blades(&bench),
        ["messer", "speer", "zwilling", "zwilling-2"]
    );
    // A third equal row is one more blade.
    fs::write(
        bench.path("mended.csv"),
        format!("{mended}1;Zwilling;tanto;25;;;;;\n"),
    )
    .unwrap();
    let third = run(&["--json"]).json();
    assert_eq!((&third["entered"], &third["there"]), (&json!(1), &json!(4)));
    assert_eq!(third["rows"][4]["blade"], "zwilling-3");
    let again = run(&["--again", "--json"]).json();
    assert_eq!((&again["entered"], &again["there"]), (&json!(5), &json!(0)));
    assert_eq!(blades(&bench).len(), 10);
}

#[test]
fn control_characters_are_refused_with_line_and_column() {
    let bench = bench();
    let list = LIST
        .replace("\"\"", "")
        .replace("=lag im", "lag\u{1b}[2Jim")
        .replace("8;Langschwert", "8;Lang\u{0}schwert")
        .replace("9;Lanze;", "9;\tLan\tze;yari");
    fs::write(bench.path("list.csv"), list).unwrap();
    let outcome = import(&bench, &["--dry-run"], 0);
    assert_eq!(
        problems(&outcome),
        [
            "2 Bemerkung: the control character U+001B found in the cell, of those only tabs and line ends are allowed",
            "3 Titel: the control character U+0000 found in the cell, of those only tabs and line ends are allowed",
            "3 Titel: the control character U+0000 found in the cell, of those only tabs and line ends are allowed",
        ]
    );
    assert!(
        text(&outcome["problems"][0], "hint").contains("take the character out"),
        "{outcome}"
    );
    assert_eq!(outcome["rows"][2]["fate"], "sound", "tabs and line ends");
}

#[test]
fn problems_name_row_column_found_and_allowed() {
    let bench = bench();
    let bad = "Nr.;Titel;Art;Länge (cm);Gewicht (g);Gekauft am;Preis;Bemerkung;Porto\n\
        1;Eins;katanna;45.5;;31.02.2026;viel;;\n\
        2;Eins;katana;;412 cm;;;;\n\
        3;;katana;;;;;;0 EUR\n\
        4;Vier;katana\n";
    fs::write(bench.path("list.csv"), bad).unwrap();
    let outcome = import(&bench, &["--dry-run"], 0);
    let found = problems(&outcome);
    let starts = [
        "2 Art: `katanna` found, a term of the list is allowed, such as `katana`",
        "2 Länge (cm): `45.5`: three digits are allowed after the `.` between thousands",
        "2 Gekauft am: `31.02.2026` found, a date written like DD.MM.YYYY is allowed",
        "2 Preis: `viel` found, an amount of money is allowed",
        "3 Gewicht (g): `cm` in `412 cm` is a unit of length",
        "4 Titel: nothing found, the name or number of the blade is needed",
        "4 Porto: cost: `0 EUR` found, an amount above zero is allowed",
        "5 -: the row has 3 cells: 9 are allowed, as in the header",
    ];
    assert_eq!(found.len(), starts.len(), "{found:#?}");
    for (found, start) in found.iter().zip(starts) {
        assert!(found.starts_with(start), "{found} is not {start}");
    }
    // Two rows of one name, and one that the workshop has already.
    let twice = "Nr.;Titel;Art;Länge (cm);Gewicht (g);Gekauft am;Preis;Bemerkung;Porto\n\
        1;Eins;katana;;;;;;\n2;eins;katana;;;;;;\n";
    fs::write(bench.path("list.csv"), twice).unwrap();
    let outcome = import(&bench, &["--dry-run"], 0);
    assert_eq!(
        problems(&outcome),
        ["3 Titel: `eins` gives the key `eins`, which is that of line 2 too"]
    );
    let numbered = MAP.replace(
        "column = \"Titel\"\n\n",
        "column = \"Titel\"\nrepeated = \"number\"\n\n",
    );
    fs::write(bench.path("map.toml"), numbered).unwrap();
    import(&bench, &[], 0);
    assert_eq!(blades(&bench), ["eins", "eins-2"]);
    let wrong = MAP.replace("name = \"Art\"", "name = \"Arrt\"");
    fs::write(bench.path("map.toml"), wrong).unwrap();
    let ran = bench
        .work(&["book", "import", "list.csv", "--map", "map.toml"])
        .code(1);
    assert!(
        ran.err.contains("there is no column `Arrt` in the header"),
        "{}",
        ran.err
    );
    assert!(ran.err.contains("did you mean `Art`?"), "{}", ran.err);
}

#[test]
fn a_map_is_suggested_and_works_as_it_is() {
    let bench = bench();
    let list = LIST.replace("\"\"", "").replace("Lanze;;", "Lanze;yari;");
    fs::write(bench.path("list.csv"), list).unwrap();
    let ran = bench
        .work(&[
            "book",
            "import",
            "list.csv",
            "--suggest",
            "--out",
            "suggested.toml",
        ])
        .code(0);
    assert!(ran.err.contains("--dry-run"), "{}", ran.err);
    let map = fs::read_to_string(bench.path("suggested.toml")).unwrap();
    for words in [
        "separator = \";\"",
        "dates = \"DD.MM.YYYY\"",
        "# Porto: 12,50 EUR",
        "unit = \"cm\"",
    ] {
        assert!(map.contains(words), "{words} in\n{map}");
    }
    let outcome = bench
        .work(&[
            "book",
            "import",
            "list.csv",
            "--map",
            "suggested.toml",
            "--json",
        ])
        .code(0)
        .json();
    assert_eq!(outcome["entered"], 3, "{outcome}\n{map}");
    assert_eq!(blades(&bench), ["7", "8", "9"]);
    let sheet = bench
        .work(&["examine", "show", "7", "--json"])
        .code(0)
        .json();
    assert_eq!(
        sheet["blade"]["related"],
        json!(["Bemerkung: =lag im Schuppen"])
    );
    // Nothing is written over.
    bench
        .work(&[
            "book",
            "import",
            "list.csv",
            "--suggest",
            "--out",
            "suggested.toml",
        ])
        .code(1);
}

#[test]
fn amounts_that_can_be_read_in_two_ways_are_asked_for() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    fs::write(
        bench.path("list.csv"),
        "Nr.;Titel;Gekauft am;Preis\r\n1;A;3.2.2024;1.200\r\n2;B;4.2.2024;850\r\n3;C;5.2.2024;2.400\r\n",
    )
    .unwrap();
    let suggest = ["book", "import", "list.csv", "--suggest"];
    let map = bench.work(&suggest).code(0).out;
    fs::write(bench.path("map.toml"), &map).unwrap();
    let words = ["book", "import", "list.csv", "--map", "map.toml", "--json"];
    let ran = bench.work(&words).code(1);
    assert!(ran.err.contains("table.decimal"), "{}", ran.err);
    let filled = |decimal: &str| {
        map.replace("decimal = \"\"", decimal)
            .replace("# currency = ", "currency = ")
    };
    // Not one euro twenty.
    fs::write(bench.path("map.toml"), filled("decimal = \".\"")).unwrap();
    let ran = bench.work(&words).code(1);
    let told = format!("{}{}", ran.out, ran.err);
    assert!(
        told.contains("`1.200` found, at most 2 digits after the decimal mark are allowed in EUR"),
        "{told}"
    );
    assert!(told.contains("thousands = "), "{told}");
    assert!(blades(&bench).is_empty());
    fs::write(
        bench.path("map.toml"),
        filled("decimal = \",\"\nthousands = \".\""),
    )
    .unwrap();
    bench.work(&words).code(0);
    let year = bench
        .work(&["book", "year", "2024", "--json"])
        .code(0)
        .json();
    assert_eq!(year["went"]["EUR"], "4450");
}

#[test]
fn what_an_export_guards_comes_back_as_it_was() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    let map = "[key]\ncolumn = \"blade\"\n\
        [[column]]\nname = \"title\"\nto = \"blade.title\"\n\
        [[value]]\nto = \"blade.object_type\"\nvalue = \"edged blade\"\n\
        [[value]]\nto = \"blade.kind_by_make\"\nvalue = \"other\"\n\
        [[value]]\nto = \"blade.construction\"\nvalue = \"other\"\n";
    fs::write(bench.path("map.toml"), map).unwrap();
    fs::write(
        bench.path("list.csv"),
        "blade,title\na,=Eq + blade\nb,'s blade\nc,'=Eq\n",
    )
    .unwrap();
    let words = ["book", "import", "list.csv", "--map", "map.toml"];
    bench.work(&words).code(0);
    bench.work(&["book", "export", "tables"]).code(0);
    let exported = fs::read_to_string(bench.path("tables/blades.csv")).unwrap();
    assert!(exported.contains("'=Eq + blade"), "{exported}");
    assert!(exported.contains("''s blade"), "{exported}");
    let other = Bench::with_workshop("Reedbank Polishing");
    fs::write(other.path("map.toml"), map).unwrap();
    fs::write(other.path("list.csv"), exported).unwrap();
    other.work(&words).code(0);
    for (blade, title) in [("a", "=Eq + blade"), ("b", "'s blade"), ("c", "=Eq")] {
        let sheet = other
            .work(&["examine", "show", blade, "--json"])
            .code(0)
            .json();
        assert_eq!(sheet["blade"]["title"], title);
    }
}

#[test]
fn what_japanese_spreadsheets_save_is_read() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    // Shift_JIS of `番号,名称,種別,銘` and `甲1,短い刀,脇差,備前長船`, by the tables of JIS X 0208.
    let mut bytes = Vec::new();
    for (code, text) in [
        (&[0x94, 0xd4, 0x8d, 0x86][..], ","),
        (&[0x96, 0xbc, 0x8f, 0xcc], ","),
        (&[0x8e, 0xed, 0x95, 0xca], ","),
        (&[0x96, 0xc1], "\r\nk1,"),
        (&[0x92, 0x5a, 0x82, 0xa2, 0x93, 0x81], ","),
        (&[0x98, 0x65, 0x8d, 0xb7], ","),
        (&[0x94, 0xf5, 0x91, 0x4f, 0x92, 0xb7, 0x91, 0x44], "\r\n"),
    ] {
        bytes.extend_from_slice(code);
        bytes.extend_from_slice(text.as_bytes());
    }
    fs::write(bench.path("list.csv"), bytes).unwrap();
    bench
        .work(&[
            "book",
            "import",
            "list.csv",
            "--suggest",
            "--out",
            "map.toml",
        ])
        .code(0);
    let outcome = import(&bench, &[], 0);
    assert_eq!(
        (&outcome["encoding"], &outcome["entered"]),
        (&json!("shift_jis"), &json!(1))
    );
    let sheet = bench
        .work(&["examine", "show", "k1", "--json"])
        .code(0)
        .json();
    assert_eq!(sheet["tang"]["inscriptions"][0]["reading"], "備前長船");
    assert_eq!(sheet["blade"]["kind_by_make"], "wakizashi");
    let found = bench.work(&["search", "長船", "--json"]).code(0).json();
    assert_eq!(found["found"][0]["blade"], "k1");
    fs::write(bench.path("list.csv"), b"a,b\n\xff\xfe\xfd\n").unwrap();
    let ran = bench
        .work(&[
            "book",
            "import",
            "list.csv",
            "--map",
            "map.toml",
            "--dry-run",
        ])
        .code(1);
    assert!(ran.err.contains("byte 4 is not"), "{}", ran.err);
}
