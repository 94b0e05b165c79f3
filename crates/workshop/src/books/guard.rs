//! Texts in tables that a spreadsheet opens: none of them is run as a formula.

/// First characters of a text that a spreadsheet would take for the beginning of a formula, full-width forms included.
///
/// Source: common practice, no source.
const RUN: [char; 10] = ['=', '+', '-', '@', '＝', '＋', '－', '＠', '\t', '\r'];

/// Keeps a text from being run as a formula: an apostrophe is put before it. A text that begins with an apostrophe gets
/// one more, so that taking the first off always gives the text back.
pub(crate) fn harmless(text: &str) -> String {
    if is_guarded(text) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

/// Takes off what [`harmless`] put before a text; any other text stays as it is.
pub(crate) fn as_it_was(text: &str) -> &str {
    text.strip_prefix('\'')
        .filter(|rest| is_guarded(rest))
        .unwrap_or(text)
}

fn is_guarded(text: &str) -> bool {
    text.starts_with('\'') || text.starts_with(RUN)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_put_before_a_text_is_taken_off_again() {
        for text in [
            "=1+1",
            "'=1",
            "''",
            "＝SUM(1)",
            "-3",
            "\tx",
            "@a",
            "'t",
            "plain",
            "",
        ] {
            assert_eq!(as_it_was(&harmless(text)), text, "{text}");
        }
        assert_eq!(harmless("=1+1"), "'=1+1");
        // An apostrophe of the text itself stays.
        assert_eq!(as_it_was("'s-Hertogenbosch"), "'s-Hertogenbosch");
    }
}
