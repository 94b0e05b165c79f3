//! Counts with their nouns, for people.

use std::fmt::Display;

/// Writes a count with its noun: `1 pit`, `3 pits`, `2 passes`, `4 entries`, `2 changes of the key`.
///
/// The noun stands in the singular, with its last word the one that counts, or that before `of`.
pub fn counted(count: impl Display + Copy, noun: &str) -> String {
    let count = count.to_string();
    if count == "1" {
        return format!("1 {noun}");
    }
    let (head, rest) = noun.find(" of ").map_or((noun, ""), |at| noun.split_at(at));
    let many = match head.strip_suffix('y') {
        Some(stem) if !stem.ends_with(['a', 'e', 'i', 'o', 'u']) => format!("{stem}ies"),
        _ if ["s", "x", "ch", "sh"].iter().any(|end| head.ends_with(end)) => format!("{head}es"),
        _ => format!("{head}s"),
    };
    format!("{count} {many}{rest}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_is_not_many() {
        assert_eq!(counted(1, "pit"), "1 pit");
        assert_eq!(counted(1_u64, "entry"), "1 entry");
        for (count, noun, words) in [
            (0, "pit", "0 pits"),
            (2, "pass", "2 passes"),
            (3, "entry", "3 entries"),
            (3, "day", "3 days"),
            (4, "stretch", "4 stretches"),
            (5, "sealed record", "5 sealed records"),
            (2, "change of the key", "2 changes of the key"),
        ] {
            assert_eq!(counted(count, noun), words);
        }
        assert_eq!(counted(-1, "day"), "-1 days");
    }
}
