//! Text for terminals: tables, escaped words of strangers, talk.

use std::io::Write as _;
use std::path::Path;

use tangmark_workshop::hides;

/// Adds to a text as `format!` would; writing to a `String` cannot fail.
macro_rules! add {
    ($text:expr, $($argument:tt)+) => {{
        use std::fmt::Write as _;
        let _ = write!($text, $($argument)+);
    }};
}
pub(crate) use add;
pub(crate) use tangmark_workshop::counted;

/// Longest text of a stranger that is printed on one line, in characters.
const LONGEST: usize = 600;

/// Says something to the person; never data, so it goes to the error stream.
pub(crate) fn say(line: &str) {
    // When nobody listens there is nobody to tell.
    let _ = writeln!(std::io::stderr().lock(), "{line}");
}

/// Returns a stranger's text such that it shows what it is: characters that are invisible, turn the direction of
/// writing or steer a terminal stand as `\u{…}`, and a text beyond 600 characters is cut with `…`.
pub(crate) fn plain(text: &str) -> String {
    cut(text, LONGEST)
}

/// As [`plain`], cut to `longest` characters.
pub(crate) fn cut(text: &str, longest: usize) -> String {
    let mut shown = String::new();
    for (count, letter) in text.chars().enumerate() {
        if count == longest {
            shown.push('…');
            break;
        }
        if hides(letter) {
            shown.extend(letter.escape_unicode());
        } else {
            shown.push(letter);
        }
    }
    shown
}

/// A name that somebody gave himself, in a sentence of ours: between backticks, none of which is its own.
pub(crate) fn quoted(name: &str) -> String {
    format!("`{}`", cut(name, 120).replace('`', "\\u{60}"))
}

/// Says where the card lies, or why there is none.
pub(crate) fn card(folder: Option<&Path>, fault: Option<&str>) -> String {
    folder.map_or_else(
        || {
            format!(
                "not written, write it with `tangmark key card`: {}",
                plain(fault.unwrap_or_default())
            )
        },
        |folder| folder.display().to_string(),
    )
}

/// Lays rows out in columns, two spaces apart; no line ends in a space.
pub(crate) fn table(rows: &[Vec<String>]) -> String {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns)
        .map(|column| {
            rows.iter()
                .filter_map(|row| row.get(column))
                .map(|cell| width(cell))
                .max()
                .unwrap_or(0)
        })
        .collect();
    let mut text = String::new();
    for row in rows {
        let mut line = String::new();
        for (cell, column) in row.iter().zip(&widths) {
            line.push_str(cell);
            line.extend(std::iter::repeat_n(' ', column - width(cell) + 2));
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

/// Columns a text takes: kanji, kana and full-width forms take two.
fn width(text: &str) -> usize {
    let wide = |letter: &char| matches!(letter, '\u{1100}'..='\u{115f}' | '\u{2e80}'..='\u{a4cf}' | '\u{ac00}'..='\u{d7a3}' | '\u{f900}'..='\u{faff}' | '\u{ff00}'..='\u{ff60}' | '\u{20000}'..='\u{3fffd}');
    text.chars().count() + text.chars().filter(wide).count()
}

/// Turns a JSON Pointer (RFC 6901) into the dotted form of error messages: `/flaws/2/depth` is `flaws[2].depth`.
pub(crate) fn dotted(pointer: &str) -> String {
    if pointer.is_empty() {
        "the whole sheet".to_owned()
    } else {
        tangmark_workshop::dotted(pointer)
    }
}

/// The stops that stand, for a list: `held 2`, a dash, or `?` where the newest sheet was not judged yet.
pub(crate) fn held(stops: Option<u64>) -> String {
    match stops {
        None => "?".to_owned(),
        Some(0) => "-".to_owned(),
        Some(stops) => format!("held {stops}"),
    }
}

/// Says on the error stream which blades of a list nobody judged yet.
pub(crate) fn say_not_judged<'a>(mut blades: impl Iterator<Item = &'a str>) {
    let Some(first) = blades.next() else {
        return;
    };
    say(&format!(
        "{} not judged since the last change, `?` under `held`: `tangmark check {first}` judges the first",
        counted(blades.count() + 1, "blade"),
    ));
}

/// Tells progress on the error stream, at most once for every twentieth of the way.
pub(crate) fn progress(what: &'static str) -> impl FnMut(u64, u64) {
    let mut last = 0;
    move |done, total| {
        let step = done.saturating_mul(20).checked_div(total).unwrap_or(20);
        if total >= 100 && step > last {
            last = step;
            say(&format!("{what}: {done} of {total}"));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_hides_is_shown() {
        assert_eq!(
            plain("Halloway & Daughter \"x\" it's"),
            "Halloway & Daughter \"x\" it's"
        );
        assert_eq!(plain("刀匠　正宗 é e\u{301}"), "刀匠　正宗 é e\u{301}");
        assert_eq!(
            plain("a\u{202e}b\u{200b}c\u{7}\u{1b}[31m"),
            "a\\u{202e}b\\u{200b}c\\u{7}\\u{1b}[31m"
        );
        assert_eq!(
            plain("a\u{2066}\u{2069}\u{feff}\u{ad}\u{61c}"),
            "a\\u{2066}\\u{2069}\\u{feff}\\u{ad}\\u{61c}"
        );
        assert_eq!(
            plain("\u{3164}\u{fe0f}\u{e0100}\u{2028}\u{e000}"),
            "\\u{3164}\\u{fe0f}\\u{e0100}\\u{2028}\\u{e000}"
        );
        assert_eq!(plain("line\nnext\ttab\r"), "line\\u{a}next\\u{9}tab\\u{d}");
        assert_eq!(cut("abcdef", 3), "abc…");
    }

    #[test]
    fn columns_line_up_with_kanji_too() {
        let rows = [
            vec!["刀".to_owned(), "x".to_owned()],
            vec!["abc".to_owned(), String::new()],
        ];
        assert_eq!(table(&rows), "刀   x\nabc\n");
        assert_eq!(table(&[]), "");
    }

    #[test]
    fn pointers_are_dotted() {
        assert_eq!(dotted("/flaws/2/depth"), "flaws[2].depth");
        assert_eq!(dotted("/a~1b"), "a/b");
        assert_eq!(dotted(""), "the whole sheet");
    }
}
