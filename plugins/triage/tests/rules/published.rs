//! How many blades of published rows would be held: an override that becomes habit protects nothing.

use serde_json::json;
use tangmark_plugin::Level;

use super::common::{inscribed, judged, made, plain, registered};

/// Accession number, kind, years, and whether the row gives a date on the blade.
///
/// Source: The Metropolitan Museum of Art, Open Access (CC0), object records; a century is written as its years here,
/// "mid-late" and "late" as its last two thirds and its last third.
#[rustfmt::skip]
const ROWS: &[(&str, &str, &str, &str, bool)] = &[
    ("2012.36a–d", "katana", "1653", "1653", true),
    ("2001.574", "katana", "1526", "1526", true),
    ("32.100.470", "tanto", "1870", "1870", true),
    ("91.2", "tanto", "1334", "1399", false),
    ("91.2.48", "wakizashi", "1334", "1399", false),
    ("36.120.420a–d", "wakizashi", "1667", "1699", false),
    ("2018.833.18a–h", "wakizashi", "1700", "1799", false),
    ("2018.833.26a–c", "yari", "1727", "1727", true),
    ("91.2.58", "katana", "1600", "1699", false),
    ("36.120.412a, b", "katana", "1500", "1599", false),
    ("36.25.1685a, b", "katana", "1567", "1633", false),
    ("91.2.52", "wakizashi", "1500", "1599", false),
    ("91.1.876", "wakizashi", "1600", "1699", false),
    ("91.2.35", "tanto", "1800", "1899", false),
    ("91.2.36", "tanto", "1500", "1599", false),
    ("36.25.1729a, b", "tachi", "1600", "1699", false),
    ("36.25.1695a, b", "tachi", "1367", "1433", false),
    ("36.25.1694a, b", "tachi", "1533", "1533", true),
    ("36.120.417a, b", "katana", "1440", "1440", true),
    ("36.120.418a–c", "wakizashi", "1400", "1499", false),
    ("36.120.419a–d", "katana", "1600", "1699", false),
    ("29.100.1376a, b", "tanto", "1500", "1599", false),
    ("91.2.84", "wakizashi", "1839", "1839", true),
];

/// What is assumed where a row is silent on the tang.
#[derive(Clone, Copy, Debug)]
enum Tang {
    /// Not known; signed where the row gives a date.
    AsPublished,
    /// Original where the row gives a date, since a date seldom outlives a shortening.
    DatedOriginal,
    /// Every blade signed and original: the most that can be feared.
    AllOriginal,
}

/// Returns the rules that would hold the blade of a row.
fn stops((_, kind, from, to, dated): (&str, &str, &str, &str, bool), tang: Tang) -> Vec<String> {
    let mut sheet = plain();
    sheet["blade"]["kind_by_make"] = json!(kind);
    sheet["blade"]
        .as_object_mut()
        .unwrap()
        .remove("kind_by_length");
    made(&mut sheet, from, to);
    registered(&mut sheet, "registration_card");
    let all = matches!(tang, Tang::AllOriginal);
    match (dated, all) {
        (true, _) => inscribed(&mut sheet, &["zaimei", "nengo"]),
        (false, true) => inscribed(&mut sheet, &["zaimei"]),
        (false, false) => inscribed(&mut sheet, &[]),
    }
    let original = all || (dated && matches!(tang, Tang::DatedOriginal));
    sheet["tang"]["state"] = json!(if original { "ubu" } else { "unknown" });
    let reply = judged(&sheet, &json!({}));
    let held = reply
        .findings
        .into_iter()
        .filter(|finding| finding.level == Level::Stop);
    held.map(|finding| finding.rule).collect()
}

#[test]
fn not_over_a_third_of_ordinary_published_blades_are_held() {
    let mut lines = Vec::new();
    for tang in [Tang::AsPublished, Tang::DatedOriginal, Tang::AllOriginal] {
        let held: Vec<String> = ROWS
            .iter()
            .filter_map(|row| {
                let stops = stops(*row, tang);
                (!stops.is_empty()).then(|| {
                    format!(
                        "  {} ({}, {} to {}): {}",
                        row.0,
                        row.1,
                        row.2,
                        row.3,
                        stops.join(", ")
                    )
                })
            })
            .collect();
        if !matches!(tang, Tang::AllOriginal) {
            assert!(held.len() * 3 <= ROWS.len(), "{tang:?}: {held:?}");
        }
        lines.push(format!("{tang:?}: {} of {} held", held.len(), ROWS.len()));
        lines.extend(held);
    }
    insta::assert_snapshot!("published", lines.join("\n"));
}
