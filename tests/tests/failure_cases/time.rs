//! Case 64: time evidence beside a record, its root trusted. (In packages: `packages`.)

use tangmark_testkit::failures::Kind;

use super::{cases, judged, time_said, words};

const REFUSED: &str = "own_word";
const TRUSTED: &str = "not_later_than trusted";

#[test]
fn case_64_time_evidence_beside_a_record() {
    let wanted = [
        ("it fits", TRUSTED),
        ("over another digest", REFUSED),
        ("of a certificate for e-mail", REFUSED),
        ("its usage is not critical", REFUSED),
        ("its certificate had ended", REFUSED),
        ("its certificate had not begun", REFUSED),
        ("refused by the authority", REFUSED),
        ("granted with changes", TRUSTED),
        ("it names another certificate", REFUSED),
        // The reader's own copy of the root says that it may certify; the one in the token is not needed.
        ("who certified it is no authority", TRUSTED),
        ("a fraction of a second", TRUSTED),
        ("run by the workshop itself", "not_later_than workshop"),
        ("without the status around it", REFUSED),
        ("its last byte flipped", REFUSED),
        ("cut off", REFUSED),
        ("a byte behind it", REFUSED),
    ];
    let found: Vec<(String, String)> = cases(64, Kind::Record)
        .into_iter()
        .map(|case| {
            let verdict = judged(case).verdict;
            // A record needs no time evidence: what is refused changes nothing but the line of time.
            assert_eq!(words(&verdict), "2 intact new", "{}", case.name);
            (case.name.clone(), time_said(&verdict))
        })
        .collect();
    let wanted: Vec<(String, String)> = wanted
        .into_iter()
        .map(|(name, said)| (format!("{name}, with its root"), said.to_owned()))
        .collect();
    assert_eq!(found, wanted);
}
