//! Days between two days of the calendar.

use tangmark_core::record::UtcTime;

/// Seconds of a day.
const DAY: i64 = 86_400;

/// Days from `first` to `second`, both as `2026-11-25`; nothing where one is no such day. A 31st counts as the last day of
/// its month, as dates that are known to the month end with it.
pub(crate) fn between(first: &str, second: &str) -> Option<i64> {
    Some(midnight(second)?.seconds_since(&midnight(first)?) / DAY)
}

fn midnight(day: &str) -> Option<UtcTime> {
    let read = |day: &str| format!("{day}T00:00:00Z").parse::<UtcTime>().ok();
    let ends = ["31", "30", "29", "28"];
    read(day).or_else(|| {
        let month = day.strip_suffix(ends[0])?;
        ends.iter().find_map(|end| read(&format!("{month}{end}")))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_counted_over_months_and_leap_years() {
        assert_eq!(between("2026-11-25", "2026-11-28"), Some(3));
        assert_eq!(between("2026-11-28", "2026-11-25"), Some(-3));
        assert_eq!(between("2024-02-28", "2024-03-01"), Some(2));
        assert_eq!(between("2100-02-28", "2100-03-01"), Some(1));
        // The number of days of the Gregorian cycle of 400 years.
        assert_eq!(between("1600-01-01", "2000-01-01"), Some(146_097));
        assert_eq!(between("2026-11", "2026-11-25"), None);
        assert_eq!(between("2026-11-31", "2026-12-01"), Some(1));
        assert_eq!(between("2026-02-31", "2026-03-01"), Some(1));
        assert_eq!(between("2024-02-31", "2024-03-02"), Some(2));
        assert_eq!(between("2026-11-30", "2026-13-31"), None);
    }
}
