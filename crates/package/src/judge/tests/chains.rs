//! Records removed, exchanged, forked, of another blade or another version; withdrawals; reports of older records.

use super::*;

const REPORT: &[u8] = include_bytes!("../../../../../samples/renderers/1/report.pdf");

fn broken(verdict: &PackageVerdict) -> &str {
    assert_eq!(
        (verdict.chain.state, verdict.exit),
        (ChainState::Broken, 1),
        "{verdict:#?}"
    );
    verdict.chain.reason.as_deref().unwrap()
}

#[test]
fn case_33_a_record_taken_out_of_the_middle_breaks_the_chain() {
    let mut files = package(&chain(3));
    files.remove(&record_path(2));
    manifests(&mut files);
    let verdict = judged(&files);
    assert!(broken(&verdict).ends_with("has sequence 3, after sequence 1 only 2 is allowed"));
    assert!(
        verdict
            .subject
            .unwrap()
            .verdict
            .completeness
            .broken
            .is_some()
    );
}

#[test]
fn case_33_records_that_change_places_are_misnamed() {
    let records = chain(3);
    let verdict = judged(&package(&[
        records[0].clone(),
        records[2].clone(),
        records[1].clone(),
    ]));
    assert_eq!(
        states(&verdict),
        [
            RecordState::Intact,
            RecordState::Misnamed,
            RecordState::Misnamed
        ]
    );
    assert_eq!(verdict.exit, 1);
    assert_eq!(
        verdict.records[&record_path(2)].reasons,
        ["it is number 3 with the purpose intake; its file name says 2 and intake"]
    );
    // The chain itself holds.
    assert_eq!(verdict.chain.state, ChainState::Whole);
    let mut files = package(&records[..2]);
    let record = files.remove(&record_path(2)).unwrap();
    files.insert("data/records/02-receipt.json".to_owned(), record);
    manifests(&mut files);
    assert_eq!(
        states(&judged(&files)),
        [RecordState::Intact, RecordState::Misnamed]
    );
}

#[test]
fn case_33_records_renumbered_and_sealed_anew_break_the_chain() {
    let records = chain(3);
    let mut second = unsigned(Some(&records[0]));
    second["record_id"] = json!(format!("{:032x}", 77));
    let verdict = judged(&package(&[
        records[0].clone(),
        seal(&second),
        records[2].clone(),
    ]));
    assert_eq!(states(&verdict), [RecordState::Intact; 3]);
    let second = name_of(&records[1]);
    assert!(broken(&verdict).contains(&format!("names {second} as its predecessor")));
}

#[test]
fn case_34_a_record_of_another_blade_breaks_the_chain() {
    let records = chain(1);
    let mut other = unsigned(Some(&records[0]));
    other["blade"]["id"] = json!("moor");
    let verdict = judged(&package(&[records[0].clone(), seal(&other)]));
    assert!(broken(&verdict).ends_with("is about blade `moor`, the chain is about `brook`"));
    // A predecessor that is a record of another blade.
    let mut first = unsigned(None);
    first["blade"]["id"] = json!("moor");
    let follows = seal(&unsigned(Some(&seal(&first))));
    let verdict = judged(&package(&[records[0].clone(), follows]));
    assert!(broken(&verdict).contains("as its predecessor, the record before is"));
}

#[test]
fn case_35_two_records_after_one_are_both_shown() {
    let records = chain(2);
    let mut other = unsigned(Some(&records[0]));
    other["purpose"] = json!("receipt");
    let other = seal(&other);
    let mut files = package(&records);
    files.insert("data/records/02-receipt.json".to_owned(), other.clone());
    manifests(&mut files);
    let verdict = judged(&files);
    assert_eq!(
        states(&verdict),
        [
            RecordState::Intact,
            RecordState::Misnamed,
            RecordState::Misnamed
        ]
    );
    assert_eq!(
        verdict.records[&record_path(2)].reasons,
        ["another file has the number 2"]
    );
    let reason = broken(&verdict);
    assert!(
        reason.contains(&name_of(&records[1]).to_string())
            && reason.contains(&name_of(&other).to_string())
    );
}

#[test]
fn case_36_whether_a_later_record_exists_cannot_be_known() {
    let records = chain(2);
    let first = judged(&package(&records[..1]));
    let said = first.subject.unwrap().verdict.completeness.to_string();
    assert!(
        said.contains("whether a later one exists cannot be known from here"),
        "{said}"
    );
    // With the later one the verdict is about that.
    let both = judged(&package(&records)).subject.unwrap();
    assert_eq!(
        (both.file, both.verdict.record),
        (record_path(2), Some(name_of(&records[1])))
    );
}

#[test]
fn case_36_earlier_records_that_are_missing_are_counted() {
    let mut files = package(&chain(4));
    files.remove(&record_path(1));
    files.remove(&record_path(2));
    manifests(&mut files);
    let verdict = judged(&files);
    assert_eq!(
        (verdict.chain.state, verdict.exit),
        (ChainState::Incomplete, 0)
    );
    assert_eq!((verdict.chain.supplied, verdict.chain.not_supplied), (2, 2));
}

#[test]
fn case_37_a_record_that_names_itself_or_a_later_one_breaks_the_chain() {
    // No record can hold its own name. A first one that has a predecessor is none of its schema.
    let records = chain(2);
    let mut first = unsigned(None);
    first["previous"] = json!(name_of(&records[1]).to_string());
    let verdict = judged(&package(&[seal(&first), records[1].clone()]));
    assert_eq!(
        (states(&verdict)[0], verdict.exit),
        (RecordState::Altered, 1)
    );
    // A gap in the numbers.
    let mut gap = unsigned(Some(&records[0]));
    gap["sequence"] = json!(3);
    let mut files = package(&records[..1]);
    files.insert(record_path(3), seal(&gap));
    manifests(&mut files);
    assert!(broken(&judged(&files)).ends_with("after sequence 1 only 2 is allowed"));
    let mut early = unsigned(Some(&records[0]));
    early["issued_at"] = json!("2026-02-01T09:30:00Z");
    let verdict = judged(&package(&[records[0].clone(), seal(&early)]));
    assert!(broken(&verdict).contains("before its predecessor at"));
}

#[test]
fn case_38_a_record_of_a_later_version_cannot_be_judged_and_breaks_nothing() {
    let records = chain(1);
    let mut later = unsigned(Some(&records[0]));
    later["schema"]["version"] = json!(2);
    later["something_new"] = json!("x");
    let later = seal(&later);
    let mut files = package(&[records[0].clone(), later]);
    files.insert(
        "data/disclosures/02.json".to_owned(),
        NO_DISCLOSURES.to_vec(),
    );
    files.insert("data/timestamps/02-harbour.tsr".to_owned(), b"x".to_vec());
    manifests(&mut files);
    let verdict = judged(&files);
    assert_eq!(
        states(&verdict),
        [RecordState::Intact, RecordState::CannotJudge]
    );
    assert_eq!((verdict.exit, verdict.chain.state), (3, ChainState::Whole));
    assert_eq!(
        verdict.disclosures["data/disclosures/02.json"].state,
        DisclosuresState::CannotJudge
    );
    assert_eq!(
        verdict.timestamps["data/timestamps/02-harbour.tsr"].state,
        TimestampState::CannotJudge
    );
    // In the middle it leaves a place that is told apart.
    let mut third = unsigned(None);
    third["sequence"] = json!(3);
    third["previous"] = json!(Digest::of(b"2").to_string());
    third["issued_at"] = json!("2026-03-03T09:30:00Z");
    files.insert(record_path(3), seal(&third));
    manifests(&mut files);
    let verdict = judged(&files);
    assert_eq!(
        (verdict.exit, verdict.chain.state),
        (3, ChainState::Incomplete)
    );
    assert_eq!(verdict.chain.not_supplied, 1);
    // Alone it is what the verdict is about.
    files.remove(&record_path(1));
    files.remove(&record_path(3));
    manifests(&mut files);
    let verdict = judged(&files);
    assert_eq!(
        (verdict.exit, verdict.chain.state),
        (3, ChainState::Incomplete)
    );
    assert_eq!(verdict.subject.unwrap().file, record_path(2));
}

#[test]
fn case_40_a_withdrawal_is_told_and_to_be_confirmed() {
    let mut records = chain(1);
    let mut withdrawal = unsigned(Some(&records[0]));
    withdrawal["purpose"] = json!("withdrawal");
    withdrawal["refers_to"] =
        json!({"record": name_of(&records[0]).to_string(), "statement": "Measured another blade."});
    records.push(seal(&withdrawal));
    records.push(seal(&unsigned(Some(&records[1]))));
    let mut files = package(&records);
    let second = files.remove(&record_path(2)).unwrap();
    let path = "data/records/02-withdrawal.json";
    files.insert(path.to_owned(), second);
    manifests(&mut files);
    let verdict = judged(&files);
    assert_eq!(states(&verdict), [RecordState::Intact; 3]);
    assert_eq!(
        (verdict.exit, verdict.withdrawals),
        (2, vec![path.to_owned()])
    );
    assert_eq!(verdict.chain.state, ChainState::Whole);
}

/// The record inside the sample report.
fn inside() -> Vec<u8> {
    tangmark_trust::pdf::examine(REPORT).record_bytes.unwrap()
}

/// A package of the record in the sample report, with the report and what else is given.
fn with_report(report: &[u8], more: impl FnOnce(&mut Files)) -> PackageVerdict {
    let record = inside();
    let value: Value = serde_json::from_slice(&record).unwrap();
    let (number, purpose) = (
        value["sequence"].as_u64().unwrap(),
        value["purpose"].as_str().unwrap(),
    );
    let mut files = package(&[]);
    files.insert(format!("data/records/{number:02}-{purpose}.json"), record);
    files.insert("data/reports/report.pdf".to_owned(), report.to_vec());
    more(&mut files);
    manifests(&mut files);
    judged(&files)
}

fn report_state(verdict: &PackageVerdict) -> ReportState {
    verdict.reports["data/reports/report.pdf"].state
}

#[test]
fn a_report_of_the_newest_record_is_unaltered() {
    let verdict = with_report(REPORT, |_| ());
    assert_eq!(
        (report_state(&verdict), verdict.exit),
        (ReportState::Unaltered, 2)
    );
    let file = verdict.reports["data/reports/report.pdf"].record.clone();
    assert_eq!(file, Some(verdict.subject.unwrap().file));
}

#[test]
fn case_63_a_report_of_an_older_record_is_to_be_confirmed() {
    let verdict = with_report(REPORT, |files| {
        let first: Value = serde_json::from_slice(&inside()).unwrap();
        let mut next = unsigned(Some(&inside()));
        next["blade"]["id"] = first["blade"]["id"].clone();
        next["issued_at"] = json!("2026-11-01T09:30:00Z");
        files.insert(
            record_path(usize::try_from(next["sequence"].as_u64().unwrap()).unwrap()),
            seal(&next),
        );
    });
    assert_ne!(
        verdict.chain.state,
        ChainState::Broken,
        "{:?}",
        verdict.chain.reason
    );
    assert_eq!(
        (report_state(&verdict), verdict.exit),
        (ReportState::Older, 2)
    );
}

#[test]
fn reports_of_other_records_and_altered_ones_are_rejected() {
    let mut altered = REPORT.to_vec();
    let middle = altered.len() / 2;
    altered[middle] ^= 1;
    let verdict = with_report(&altered, |_| ());
    assert_eq!(
        (report_state(&verdict), verdict.exit),
        (ReportState::Altered, 1)
    );
    let mut files = package(&chain(2));
    files.insert("data/reports/report.pdf".to_owned(), REPORT.to_vec());
    manifests(&mut files);
    let verdict = judged(&files);
    assert_eq!(
        (report_state(&verdict), verdict.exit),
        (ReportState::OtherRecord, 1)
    );
    for bytes in [&b"words"[..], &chain(1)[0], b"%PDF-1.4 of somebody else"] {
        files.insert("data/reports/report.pdf".to_owned(), bytes.to_vec());
        manifests(&mut files);
        let verdict = judged(&files);
        assert_eq!(
            (report_state(&verdict), verdict.exit),
            (ReportState::CannotJudge, 3)
        );
    }
}

#[test]
fn a_report_that_is_too_long_to_be_read_cannot_be_judged() {
    let files = package(&chain(2));
    let top = folder(&files);
    let path = top.path().join("data/reports/report.pdf");
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    // A hole: nothing of it takes room on the disk.
    let file = std::fs::File::create(&path).unwrap();
    file.set_len(65 << 20).unwrap();
    let memory = memory();
    let verdict = judge_path(top.path(), &reader(&memory), &|_| ());
    assert_eq!(report_state(&verdict), ReportState::CannotJudge);
    assert_eq!(
        verdict.reports["data/reports/report.pdf"].reasons,
        ["`data/reports/report.pdf` has 68157440 bytes, at most 67108864 bytes are taken here"]
    );
}
