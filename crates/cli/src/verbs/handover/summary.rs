//! What goes into a package, for people to look at before they hand it over.

use std::collections::BTreeSet;
use std::path::Path;

use tangmark_workshop::handover::{HandOverSummary, PhotoPart};

use crate::show::{self, add};

/// The whole of it: what goes in, what is shown, what stays withheld, what the receiver needs.
pub(super) fn text(summary: &HandOverSummary, out: Option<&Path>) -> String {
    let mut text = match out {
        Some(out) => format!("{}\n", out.display()),
        None => "nothing is written; this would go in:\n".to_owned(),
    };
    add!(
        text,
        "{}, {} bytes, for blade {}\n\n",
        show::counted(summary.files, "file"),
        summary.bytes,
        summary.blade
    );
    goes_in(summary, &mut text);
    shown(summary, &mut text);
    withheld(summary, &mut text);
    needed(summary, &mut text);
    judged(summary, &mut text);
    text
}

fn goes_in(summary: &HandOverSummary, text: &mut String) {
    text.push_str("goes in:\n");
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut row = |what: &str, words: String| {
        rows.push(vec![format!("  {what}"), words]);
    };
    for record in &summary.records {
        row(
            "record",
            format!(
                "{} ({}), sealed by `{}`",
                record.sequence,
                record.purpose,
                show::cut(&record.issuer, 120)
            ),
        );
    }
    for report in &summary.reports {
        let made = if report.to_be_made {
            ", to be made"
        } else {
            ""
        };
        row(
            "report",
            format!("{} of record {}{made}", name(&report.file), report.sequence),
        );
    }
    if summary.reports.is_empty() {
        row("report", "none".to_owned());
    }
    for report in &summary.reports_left_out {
        row(
            "stays out",
            format!(
                "a report that came with record {}: {}; {}",
                report.sequence,
                show::plain(&report.why),
                report.hint
            ),
        );
    }
    for photo in &summary.photos {
        let part = match photo.part {
            PhotoPart::Original => "the original",
            PhotoPart::Copy => "the copy",
        };
        let mut words = format!("{}: {part}", photo.photo);
        if !photo.carries.is_empty() {
            add!(words, ", which carries {}", photo.carries.join(", "));
        }
        if !photo.instead_of.is_empty() {
            add!(
                words,
                "; the original carries {}",
                photo.instead_of.join(", ")
            );
        }
        row("photo", words);
    }
    for photo in &summary.photos_left_out {
        row("stays out", format!("{}: {}", photo.photo, photo.why));
    }
    if summary.photos.is_empty() && !summary.photos_left_out.is_empty() {
        for report in &summary.reports {
            row(
                "note",
                format!(
                    "{} shows pictures all the same; leave it out with `--report none`",
                    name(&report.file)
                ),
            );
        }
    }
    // Several keys of one workshop stand in one history.
    let histories: BTreeSet<&String> = summary
        .signers
        .iter()
        .filter_map(|signer| signer.history.as_ref())
        .collect();
    for history in histories {
        row("key history", name(history).to_owned());
    }
    for path in summary.timestamps.iter().chain(&summary.authorities) {
        row("time evidence", name(path).to_owned());
    }
    for left_out in &summary.timestamps_left_out {
        row(
            "stays out",
            format!(
                "time evidence of record {}: {}",
                left_out.sequence, left_out.why
            ),
        );
    }
    text.push_str(&show::table(&rows));
}

/// The last part of a path in the bag.
fn name(path: &str) -> &str {
    path.rsplit('/').next().unwrap_or(path)
}

fn shown(summary: &HandOverSummary, text: &mut String) {
    text.push_str("\nshown, though withheld from others:\n");
    let mut any = false;
    for record in &summary.records {
        for place in &record.shown {
            any = true;
            add!(text, "  {place} (record {}", record.sequence);
            if let Some(what) = record.shown_of.get(place) {
                add!(text, ": {}", show::cut(what, 120));
            }
            text.push_str(")\n");
        }
    }
    if !any {
        text.push_str("  nothing\n");
    }
}

fn withheld(summary: &HandOverSummary, text: &mut String) {
    text.push_str("\nstays withheld:\n");
    let mut any = false;
    for record in &summary.records {
        if record.withheld.is_empty() {
            continue;
        }
        any = true;
        add!(
            text,
            "  record {}: {}\n",
            record.sequence,
            record.withheld.join(", ")
        );
    }
    if !any {
        text.push_str("  nothing that this workshop could show\n");
    }
}

fn needed(summary: &HandOverSummary, text: &mut String) {
    text.push_str("\nthe receiver needs, by another way than the package:\n");
    for signer in &summary.signers {
        let numbers: Vec<String> = signer.records.iter().map(ToString::to_string).collect();
        let whose = if signer.own {
            "your card".to_owned()
        } else {
            format!("the card of `{}`", show::cut(&signer.name, 120))
        };
        add!(
            text,
            "  {whose}: fingerprint {} (record {})\n",
            signer.fingerprint,
            numbers.join(", ")
        );
    }
}

/// What whoever receives it will be told.
fn judged(summary: &HandOverSummary, text: &mut String) {
    let judged = &summary.judged;
    for (title, list) in [
        ("a receiver will reject the package, for", &judged.rejected),
        (
            "a receiver will be told to confirm",
            &judged.to_be_confirmed,
        ),
    ] {
        if list.is_empty() {
            continue;
        }
        add!(text, "\n{title}:\n");
        for one in list {
            add!(text, "  {}\n", show::plain(one));
        }
    }
    if let Some(hint) = judged.hint() {
        add!(text, "hint: {hint}\n");
    }
}
