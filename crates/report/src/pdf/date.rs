//! One moment in the spellings that PDF and XMP want.

use super::PdfError;

/// A time in UTC, to the second.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Timestamp {
    digits: String,
}

impl Timestamp {
    /// Reads `2026-01-02T03:04:05Z`; a fraction of a second is dropped.
    pub(super) fn parse(text: &str) -> Result<Self, PdfError> {
        let error = || PdfError::Date(text.chars().take(40).collect());
        let (moment, rest) = text.split_at_checked(19).ok_or_else(error)?;
        let fits = moment.bytes().enumerate().all(|(index, byte)| match index {
            4 | 7 => byte == b'-',
            10 => byte == b'T',
            13 | 16 => byte == b':',
            _ => byte.is_ascii_digit(),
        });
        let fraction = rest.strip_suffix('Z').ok_or_else(error)?;
        let fraction_fits = fraction.is_empty()
            || fraction.strip_prefix('.').is_some_and(|digits| {
                !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit())
            });
        if !fits || !fraction_fits {
            return Err(error());
        }
        Ok(Self {
            digits: moment.chars().filter(char::is_ascii_digit).collect(),
        })
    }

    /// Returns the date string of ISO 32000-1, 7.9.4.
    pub(super) fn pdf(&self) -> String {
        format!("D:{}Z", self.digits)
    }

    /// Returns the form XMP uses, to the second.
    pub(super) fn iso(&self) -> String {
        let part = |from: usize, to: usize| self.digits.get(from..to).unwrap_or_default();
        format!(
            "{}-{}-{}T{}:{}:{}Z",
            part(0, 4),
            part(4, 6),
            part(6, 8),
            part(8, 10),
            part(10, 12),
            part(12, 14)
        )
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn reads_utc_only() {
        let time = Timestamp::parse("2026-01-02T03:04:05.250Z").unwrap();
        assert_eq!(time.pdf(), "D:20260102030405Z");
        assert_eq!(time.iso(), "2026-01-02T03:04:05Z");
        for bad in [
            "2026-01-02",
            "2026-01-02T03:04:05+01:00",
            "2026-01-02 03:04:05Z",
            "2026-01-02T03:04:05.Z",
            "２０26-01-02T03:04:05Z",
        ] {
            let error = Timestamp::parse(bad).unwrap_err().to_string();
            assert_eq!(
                error,
                format!("issued_at is `{bad}`; a time in UTC like 2026-01-02T03:04:05Z is allowed")
            );
        }
    }
}
