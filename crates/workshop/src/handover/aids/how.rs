//! `HOW-TO-CHECK.txt`: exact commands for whoever holds a package, and what they do not prove.

use std::fmt::Write as _;

use super::super::HandOverSummary;

const HEAD: &str = "
Each line below that begins with `$ ` is a command. Give them in the folder that holds bagit.txt, without
the `$ `. Nothing is asked from a network. A command that ends with an error has found something.

1. Was a file damaged on the way? (any system with sha256sum)

$ sha256sum --check --quiet --strict manifest-sha256.txt tagmanifest-sha256.txt

It prints nothing when every file is as listed. The lists are signed by nobody: they find damage, not deceit.

2. Before you run a tool: take the tools and the pages from somebody you trust. Those in data/ came with this
package: whoever changed the package could change them, and a program can do anything with your computer.
`tangmark verify` of this folder says whether they are ones that were released; it runs none of them.

2a. Are the records as they were sealed? (Python 3.9 or later, with the openssl command)

";

const NODE: &str = "
Each step is explained in data/format/record-format.md, in the section of the same name.

2b. The same with Node.js 20 or later alone:

";

const BROWSER: &str = "
2c. The same in a browser: get a verifier page from somebody you trust, or from an earlier package whose
page you checked, and drop this folder or zip file on it. data/verify.html came with the package: if the
package were changed, the page could be changed with it.

3. When did a record exist at the latest?

";

const NO_TIME: &str = "\
There is no time evidence in this package: the times are the workshops' own word.
";

const TIME: &str = "\
OpenSSL checks each token against a time authority's certificate. A certificate that came with the package
makes nobody trusted: take it from the authority, by a way that does not come from here, and name that
file in place of the one below.

";

const AFTER_TIME: &str = "
The long word after -digest is the name of the record, as step 2 prints it.
";

const WHOSE: &str = "
4. Whose records are they?

Step 2 prints a fingerprint for each record. Compare all twenty characters with the card of the workshop,
which did not come with this package: in print, by voice, or from somebody you trust. The name in a record is
what its writer chose to write.

";

const HISTORIES: &str = "
data/keys/ holds key histories: which keys a workshop signed with, and when. They are explained in
data/format/key-history-format.md. The scripts of step 2 do not look at them: a record whose key was revoked,
or was not in force, passes there. `tangmark verify` of this folder and a verifier page do look at them.
";

const REPORT: &str = "
A report is a signed PDF with the record inside. Any PDF reader that knows signatures shows whether a byte
was changed; pdfsig of the Poppler tools says so too:

";

const PAGES: &str = "
Neither that nor the page in the browser compares the pages of a report with the record inside: whoever holds
the workshop's key can sign other pages. `tangmark verify` of this folder draws them again and compares.
Without it they were not compared: read the record, and take the pages for what was signed with it.
";

const NOT_PROVED: &str = "
WHAT ALL THIS DOES NOT PROVE

- That what a record says is true: a false statement can be sealed like a true one.
- That the blade in your hand is the one described: compare tang, marks and measurements yourself.
- Whose key it is, before you compared the fingerprint with the card.
- When a record was made, beyond the workshop's own word and the evidence of step 3.
- That no later record exists: ask the workshop.
- Anything about price, maker or law: your local code and licensed practice decide.
";

/// Writes the page for one package. Every line that begins with `$ ` is a command to be given in the folder of
/// `bagit.txt`.
pub(super) fn text(summary: &HandOverSummary) -> String {
    let mut text = format!(
        "HOW TO CHECK THIS PACKAGE\n\nIt holds the records of the blade `{}`.\n{HEAD}",
        summary.blade
    );
    checks(summary, "python3 -I data/tools/check_record.py", &mut text);
    text.push_str(NODE);
    checks(summary, "node data/tools/check_record.mjs", &mut text);
    text.push_str(BROWSER);
    timestamps(summary, &mut text);
    fingerprints(summary, &mut text);
    text.push_str(NOT_PROVED);
    text
}

/// One command for each record: the one before it and the disclosures beside it, where there are any.
fn checks(summary: &HandOverSummary, tool: &str, text: &mut String) {
    let mut before: Option<&str> = None;
    for record in &summary.records {
        // Writing to a text cannot fail, here and below.
        let _ = write!(text, "$ {tool} {}", record.file);
        if let Some(before) = before {
            let _ = write!(text, " --previous {before}");
        }
        if !record.shown.is_empty() {
            let number = record.sequence;
            let _ = write!(text, " --disclosures data/disclosures/{number:02}.json");
        }
        text.push('\n');
        before = Some(&record.file);
    }
}

fn timestamps(summary: &HandOverSummary, text: &mut String) {
    if summary.timestamps.is_empty() {
        text.push_str(NO_TIME);
        return;
    }
    text.push_str(TIME);
    for path in &summary.timestamps {
        let number = path
            .strip_prefix("data/timestamps/")
            .and_then(|name| name.split('-').next())
            .and_then(|number| number.parse::<u32>().ok());
        let mut records = summary.records.iter();
        let Some(record) = records.find(|record| Some(record.sequence) == number) else {
            continue;
        };
        let name = record.record;
        let command = format!("openssl ts -verify -digest {name} -in {path} -CAfile");
        let _ = match summary.vouched.get(path) {
            Some(certificates) => writeln!(text, "$ {command} {certificates}"),
            None => writeln!(text, "  {command} AUTHORITY.pem"),
        };
    }
    for path in &summary.authorities {
        let _ = writeln!(text, "\nA certificate lies in {path}.");
    }
    text.push_str(AFTER_TIME);
}

fn fingerprints(summary: &HandOverSummary, text: &mut String) {
    text.push_str(WHOSE);
    for signer in &summary.signers {
        let numbers: Vec<String> = signer.records.iter().map(ToString::to_string).collect();
        let numbers = numbers.join(", ");
        let _ = writeln!(text, "  {}  sealed record {numbers}", signer.fingerprint);
    }
    let any = summary
        .signers
        .iter()
        .any(|signer| signer.history.is_some());
    if any {
        text.push_str(HISTORIES);
    }
    if let Some(first) = summary.reports.first() {
        let _ = writeln!(text, "{REPORT}  pdfsig {}", first.file);
        text.push_str(PAGES);
    }
}
