//! The table of the package page and the states of the program are the same.

use std::collections::BTreeSet;

use tangmark_trust::verdict::Weight;

use super::*;

const PAGE: &str = include_str!("../../../../../schemas/package-format.md");

/// Part, state and weight of every row of the table.
fn table() -> BTreeSet<(String, String, String)> {
    let start = PAGE.find("| part | state | when | weight |").unwrap();
    let mut rows = BTreeSet::new();
    for line in PAGE[start..]
        .lines()
        .skip(2)
        .take_while(|line| line.starts_with('|'))
    {
        let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
        let states: Vec<&str> = cells[1]
            .split(", ")
            .map(|state| state.trim_matches('`'))
            .collect();
        let weights: Vec<&str> = match cells[3] {
            whole if states.len() == 1 => vec![whole.split(';').next().unwrap()],
            several => several.split(", ").collect(),
        };
        assert!(
            weights.len() == states.len() || weights.len() == 1,
            "{line}"
        );
        for (index, state) in states.iter().enumerate() {
            let weight = weights.get(index).unwrap_or(&weights[0]);
            assert!(
                rows.insert((
                    cells[0].to_owned(),
                    (*state).to_owned(),
                    (*weight).to_owned()
                )),
                "{line}"
            );
        }
    }
    rows
}

fn words(weight: Weight) -> &'static str {
    match weight {
        Weight::Accepted => "–",
        Weight::ToBeConfirmed => "to be confirmed",
        Weight::CannotBeChecked => "cannot be checked",
        Weight::Rejected => "rejected",
    }
}

#[test]
fn every_state_of_the_page_has_its_weight() {
    let mut ours = BTreeSet::new();
    let mut add = |part: &str, state: &str, weight: &str| {
        ours.insert((part.to_owned(), state.to_owned(), weight.to_owned()));
    };
    macro_rules! all {
        ($part:literal $kind:ident: $($state:ident)+) => {
            $({
                let state = $kind::$state;
                let word = serde_json::to_value(state).unwrap();
                add($part, word.as_str().unwrap(), words(state.weight()));
            })+
        };
    }
    all!("record" RecordState: Altered CannotJudge Misnamed Intact SameContent);
    all!("chain" ChainState: Broken Incomplete Whole);
    all!("disclosures" DisclosuresState: Refused NoRecord CannotJudge Fit);
    all!("photo" PhotoState: NotTheSame Original Copy Unsigned);
    all!("report" ReportState: Altered CannotJudge OtherRecord KeyRejected Older KeyOpen Unaltered);
    all!("key history" KeysState: Refused Fork NoIssuer Fits);
    all!("timestamp" TimestampState: NoRecord CannotJudge Refused Fits);
    all!("schema" SchemaState: Fits Other);
    all!("page" PageState: Released Other Missing);
    all!("aid" AidState: Released Other);
    // These are lists; their weights are tried in `bags`.
    add("package", "refused", "rejected");
    add("file", "changed", "rejected");
    add("file", "missing", "cannot be checked");
    add("file", "unlisted", "to be confirmed");
    assert_eq!(table(), ours);
}
