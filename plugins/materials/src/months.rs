//! Months, for the age of a list.

/// Counts months to the one a date lies in: `2026-06-01`, `2026-06`; a year alone counts to its January.
pub(crate) fn of(text: &str) -> Option<i32> {
    let year: i32 = text.get(..4)?.parse().ok()?;
    let month = match text.get(5..7) {
        Some(month) => month.parse().ok()?,
        None => 1,
    };
    Some(year * 12 + month)
}

#[cfg(test)]
mod tests {
    use super::of;

    #[test]
    fn months_are_counted() {
        assert_eq!(of("2026-06-01T00:00:00Z"), Some(2026 * 12 + 6));
        assert_eq!(of("2023"), Some(2023 * 12 + 1));
        assert_eq!(of("now"), None);
        assert_eq!(of("2023-xx"), None);
    }
}
