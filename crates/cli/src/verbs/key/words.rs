//! What the verb prints for people.

use tangmark_workshop::keys::{KeyLine, KeysReport, Recovered, Rotated};

use crate::show::{self, add};

/// The keys as a table.
pub(super) fn keys(report: &KeysReport) -> String {
    let mut text = format!(
        "workshop:        {}\nfingerprint:     {}\nrecovery digest: {}\n\n",
        show::plain(&report.name),
        report.fingerprint,
        report.recovery_digest
    );
    let head = ["key", "from", "until", "named by", "file"].map(str::to_owned);
    let mut rows = vec![head.to_vec()];
    rows.extend(report.terms.iter().map(row));
    text.push_str(&show::table(&rows));
    for term in &report.terms {
        add!(
            text,
            "\n{}: {}",
            term.fingerprint,
            show::plain(&term.reason)
        );
        if let (Some(since), Some(reason)) = (&term.revoked_since, &term.revoked_reason) {
            add!(
                text,
                "\n{}: revoked since {since}: {}",
                term.fingerprint,
                show::plain(reason)
            );
        }
    }
    text.push('\n');
    text
}

fn row(term: &KeyLine) -> Vec<String> {
    use tangmark_workshop::keys::NamedBy;
    let named_by = match term.named_by {
        NamedBy::First => "itself, the first",
        NamedBy::Rotation => "the key before",
        NamedBy::Recovery => "the recovery key",
    };
    vec![
        term.fingerprint.clone(),
        term.from.clone(),
        term.until.clone().unwrap_or_else(|| "in force".to_owned()),
        named_by.to_owned(),
        term.file_name.clone().unwrap_or_else(|| "gone".to_owned()),
    ]
}

/// A new key in place of the old one.
pub(super) fn rotated(rotated: &Rotated) -> String {
    let card = show::card(rotated.card.as_deref(), rotated.no_card.as_deref());
    let mut text = format!(
        "before:      {}\nfingerprint: {}\nsigns from:  {}\nfile:        keys/{}\ncard:        {card}\n\n\
         Hand out the new card with the key history beside it. Make a new backup with `tangmark key backup DIR`.\n",
        rotated.before,
        rotated.fingerprint,
        rotated.from,
        show::plain(&rotated.file_name),
    );
    if let Some(secret) = &rotated.recovery_secret {
        add!(
            text,
            "\nrecovery secret: {secret}\n\n\
             Write the new recovery secret on paper now, and destroy the old paper: it is spent. It is shown this once and\n\
             kept nowhere.\n"
        );
    }
    text
}

/// A new key that the recovery key named.
pub(super) fn recovered(recovered: &Recovered) -> String {
    let mut text = rotated(&recovered.rotated);
    text.push_str("\nReaders compare the new fingerprint with your new card once.\n");
    if let Some(since) = &recovered.revoked_since {
        add!(text, "The old key is revoked since {since}.\n");
    }
    text
}
