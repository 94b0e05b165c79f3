//! `HOW-TO-CHECK.txt`: exact commands for whoever holds a package, and what they do not prove.

use super::super::HandOverSummary;

macro_rules! line {
    ($text:ident, $($words:tt)*) => {{
        use std::fmt::Write as _;
        // Writing to a text cannot fail.
        let _ = writeln!($text, $($words)*);
    }};
}

/// Writes the page for one package. Every line that begins with `$ ` is a command to be given in the folder of
/// `bagit.txt`.
pub(super) fn text(summary: &HandOverSummary) -> String {
    let mut text = String::new();
    line!(text, "HOW TO CHECK THIS PACKAGE");
    line!(text, "");
    line!(
        text,
        "It holds the records of the blade `{}`.",
        summary.blade
    );
    line!(
        text,
        "Each line below that begins with `$ ` is a command. Give them in the folder that holds bagit.txt, without"
    );
    line!(
        text,
        "the `$ `. Nothing is asked from a network. A command that ends with an error has found something."
    );
    damage(&mut text);
    python(summary, &mut text);
    node(summary, &mut text);
    timestamps(summary, &mut text);
    fingerprints(summary, &mut text);
    rest(&mut text);
    text
}

fn damage(text: &mut String) {
    line!(text, "");
    line!(
        text,
        "1. Was a file damaged on the way? (any system with sha256sum)"
    );
    line!(text, "");
    line!(
        text,
        "$ sha256sum --check --quiet --strict manifest-sha256.txt tagmanifest-sha256.txt"
    );
    line!(text, "");
    line!(
        text,
        "It prints nothing when every file is as listed. The lists are signed by nobody: they find damage, not deceit."
    );
}

fn python(summary: &HandOverSummary, text: &mut String) {
    line!(text, "");
    line!(
        text,
        "2a. Are the records as they were sealed? (Python 3.9 or later, with the openssl command)"
    );
    line!(text, "");
    checks(summary, "python3 data/tools/check_record.py", text);
    line!(text, "");
    line!(
        text,
        "Each step is explained in data/format/record-format.md, in the section of the same name."
    );
}

fn node(summary: &HandOverSummary, text: &mut String) {
    line!(text, "");
    line!(text, "2b. The same with Node.js 20 or later alone:");
    line!(text, "");
    checks(summary, "node data/tools/check_record.mjs", text);
    line!(text, "");
    line!(
        text,
        "2c. The same in a browser: get a verifier page from somebody you trust, or from an earlier package whose"
    );
    line!(
        text,
        "page you checked, and drop this folder or zip file on it. data/verify.html came with the package: if the"
    );
    line!(
        text,
        "package were changed, the page could be changed with it."
    );
}

/// One command for each record: the one before it and the disclosures beside it, where there are any.
fn checks(summary: &HandOverSummary, tool: &str, text: &mut String) {
    let mut before: Option<&str> = None;
    for record in &summary.records {
        let mut words = format!("$ {tool} {}", record.file);
        if let Some(before) = before {
            words.push_str(" --previous ");
            words.push_str(before);
        }
        if !record.shown.is_empty() {
            words.push_str(&format!(
                " --disclosures data/disclosures/{:02}.json",
                record.sequence
            ));
        }
        line!(text, "{words}");
        before = Some(&record.file);
    }
}

fn timestamps(summary: &HandOverSummary, text: &mut String) {
    line!(text, "");
    line!(text, "3. When did a record exist at the latest?");
    line!(text, "");
    if summary.timestamps.is_empty() {
        line!(
            text,
            "There is no time evidence in this package: the times are the workshops' own word."
        );
        return;
    }
    line!(
        text,
        "OpenSSL checks each token against a time authority's certificate. A certificate that came with the package"
    );
    line!(
        text,
        "makes nobody trusted: take it from the authority, by a way that does not come from here, and name that"
    );
    line!(text, "file in place of the one below.");
    line!(text, "");
    for path in &summary.timestamps {
        let number = path
            .strip_prefix("data/timestamps/")
            .and_then(|name| name.split('-').next())
            .and_then(|number| number.parse::<u32>().ok());
        let record = summary
            .records
            .iter()
            .find(|record| Some(record.sequence) == number);
        let Some(record) = record else { continue };
        match summary.authorities.as_slice() {
            [] => line!(
                text,
                "  openssl ts -verify -digest {} -in {path} -CAfile AUTHORITY.pem",
                record.record
            ),
            authorities => {
                for authority in authorities {
                    let mark = if authorities.len() == 1 { "$" } else { " " };
                    line!(
                        text,
                        "{mark} openssl ts -verify -digest {} -in {path} -CAfile {authority}",
                        record.record
                    );
                }
            }
        }
    }
    line!(text, "");
    line!(
        text,
        "The long word after -digest is the name of the record, as step 2 prints it."
    );
}

fn fingerprints(summary: &HandOverSummary, text: &mut String) {
    line!(text, "");
    line!(text, "4. Whose records are they?");
    line!(text, "");
    line!(
        text,
        "Step 2 prints a fingerprint for each record. Compare all twenty characters with the card of the workshop,"
    );
    line!(
        text,
        "which did not come with this package: in print, by voice, or from somebody you trust. The name in a record is"
    );
    line!(text, "what its writer chose to write.");
    line!(text, "");
    for signer in &summary.signers {
        let numbers: Vec<String> = signer.records.iter().map(ToString::to_string).collect();
        line!(
            text,
            "  {}  sealed record {}",
            signer.fingerprint,
            numbers.join(", ")
        );
    }
    if summary
        .signers
        .iter()
        .any(|signer| signer.history.is_some())
    {
        line!(text, "");
        line!(
            text,
            "data/keys/ holds key histories: which keys a workshop signed with, and when. They are explained in"
        );
        line!(text, "data/format/key-history-format.md.");
    }
    if let [first, ..] = summary.reports.as_slice() {
        line!(text, "");
        line!(
            text,
            "A report is a signed PDF with the record inside. Any PDF reader that knows signatures shows whether a byte"
        );
        line!(
            text,
            "was changed; pdfsig of the Poppler tools says so too:"
        );
        line!(text, "");
        line!(text, "  pdfsig {}", first.file);
    }
}

fn rest(text: &mut String) {
    line!(text, "");
    line!(text, "WHAT ALL THIS DOES NOT PROVE");
    line!(text, "");
    line!(
        text,
        "- That what a record says is true: a false statement can be sealed like a true one."
    );
    line!(
        text,
        "- That the blade in your hand is the one described: compare tang, marks and measurements yourself."
    );
    line!(
        text,
        "- Whose key it is, before you compared the fingerprint with the card."
    );
    line!(
        text,
        "- When a record was made, beyond the workshop's own word and the evidence of step 3."
    );
    line!(text, "- That no later record exists: ask the workshop.");
    line!(
        text,
        "- Anything about price, maker or law: your local code and licensed practice decide."
    );
}
