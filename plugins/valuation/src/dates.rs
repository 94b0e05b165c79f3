//! Dates as years with a fraction.

use tangmark_core::record::PartialDate;

/// Returns the middle of what a date may mean, in years: 2026 is 2026.5.
pub(crate) fn years(date: &PartialDate) -> f64 {
    let parts: Vec<f64> = date
        .as_str()
        .split('-')
        .filter_map(|part| part.parse().ok())
        .collect();
    match parts[..] {
        [year] => year + 0.5,
        [year, month] => year + (month - 0.5) / 12.0,
        [year, month, day] => year + (month - 1.0 + (day - 0.5) / 31.0) / 12.0,
        _ => 0.0,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn dates_become_years() {
        for (text, expected) in [
            ("2026", 2026.5),
            ("2026-07", 2_026.541_7),
            ("2026-01-01", 2_026.001_3),
        ] {
            let found = years(&text.parse().unwrap());
            assert!((found - expected).abs() < 1e-4, "{text}: {found}");
        }
    }
}
