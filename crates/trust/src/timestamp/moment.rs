//! The time of a token, and how far it may be off.

use std::time::Duration;

use der::{Any, AnyRef, DateTime, Tag, TagNumber, Tagged as _};

use super::{TimestampError, syntax::Fields};

/// `genTime`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Moment {
    /// The whole second in which it lies.
    pub(super) floor: DateTime,
    /// The end of that second where the time has a fraction, else the same as `floor`.
    pub(super) ceiling: DateTime,
    /// The fraction, rounded up to millionths of a second.
    fraction: Duration,
}

impl Moment {
    /// Source: RFC 3161, 2.4.2: UTC, seconds always, a fraction without zeros at its end.
    pub(super) fn read(field: AnyRef<'_>) -> Result<Self, TimestampError> {
        (field.tag() == Tag::GeneralizedTime)
            .then(|| moment(field.value()))
            .flatten()
            .ok_or(TimestampError::Form(
                "the time is not written as `20261128093000Z`, with a fraction or without",
            ))
    }

    /// The latest time that the token allows: its own and the accuracy, rounded up to whole seconds.
    pub(super) fn latest(&self, accuracy: Duration) -> Result<DateTime, TimestampError> {
        self.fraction
            .checked_add(accuracy)
            .and_then(|more| after(self.floor, more))
            .ok_or(TimestampError::Form(
                "the time with its accuracy lies beyond the year 9999",
            ))
    }
}

/// `Accuracy`: how far the time may be off. Source: RFC 3161, 2.4.2 (from memory).
pub(super) fn accuracy(field: AnyRef<'_>) -> Result<Duration, TimestampError> {
    let what = "the accuracy";
    let mut fields = Fields::within(what, Tag::Sequence, field)?;
    let unreadable = |error| TimestampError::Unreadable { what, error };
    let seconds: u64 = match fields.optional(Tag::Integer) {
        Some(field) => field.decode_as().map_err(unreadable)?,
        None => 0,
    };
    let mut part = |number: u8| {
        let tag = Tag::ContextSpecific {
            constructed: false,
            number: TagNumber::new(number),
        };
        let Some(field) = fields.optional(tag) else {
            return Ok(0);
        };
        let value: u16 = Any::new(Tag::Integer, field.value())
            .and_then(|value| value.decode_as())
            .map_err(unreadable)?;
        if (1..=999).contains(&value) {
            Ok(u64::from(value))
        } else {
            Err(TimestampError::Form(
                "the parts of a second in the accuracy are not 1 to 999",
            ))
        }
    };
    let (millis, micros) = (part(0)?, part(1)?);
    fields.end()?;
    Ok(Duration::from_secs(seconds).saturating_add(Duration::from_micros(millis * 1000 + micros)))
}

fn moment(text: &[u8]) -> Option<Moment> {
    let text = std::str::from_utf8(text).ok()?.strip_suffix('Z')?;
    let (whole, fraction) = match text.split_once('.') {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (text, None),
    };
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    if whole.len() != 14 || !digits(whole) {
        return None;
    }
    let number = |from: usize, to: usize| whole.get(from..to)?.parse::<u8>().ok();
    let floor = DateTime::new(
        whole.get(..4)?.parse().ok()?,
        number(4, 6)?,
        number(6, 8)?,
        number(8, 10)?,
        number(10, 12)?,
        number(12, 14)?,
    )
    .ok()?;
    let fraction = match fraction {
        None => Duration::ZERO,
        Some(fraction) if !digits(fraction) || fraction.ends_with('0') => return None,
        Some(fraction) => {
            let head: String = fraction.chars().chain("000000".chars()).take(6).collect();
            // Digits behind the sixth are not all 0: the last of them is none.
            let more = u64::from(fraction.len() > 6);
            Duration::from_micros(head.parse::<u64>().ok()? + more)
        }
    };
    Some(Moment {
        floor,
        ceiling: after(floor, fraction)?,
        fraction,
    })
}

/// The time so much later, rounded up to whole seconds; nothing beyond the year 9999.
fn after(time: DateTime, more: Duration) -> Option<DateTime> {
    let seconds = more
        .as_secs()
        .checked_add(u64::from(more.subsec_nanos() > 0))?;
    let sum = time
        .unix_duration()
        .checked_add(Duration::from_secs(seconds))?;
    DateTime::from_unix_duration(sum).ok()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use der::Decode as _;

    use super::*;

    /// An `Accuracy` of fields written by hand.
    fn accurate(fields: &[u8]) -> Result<Duration, TimestampError> {
        let bytes = [&[0x30, u8::try_from(fields.len()).unwrap()], fields].concat();
        accuracy(AnyRef::from_der(&bytes).unwrap())
    }

    #[test]
    fn the_parts_of_an_accuracy_are_added() {
        let micros = Duration::from_micros;
        for (fields, wanted) in [
            (&b""[..], micros(0)),
            (b"\x02\x01\x05", micros(5_000_000)),
            (b"\x02\x01\x00", micros(0)),
            (b"\x80\x02\x03\xe7", micros(999_000)),
            (b"\x81\x01\x01", micros(1)),
            (b"\x02\x01\x01\x80\x01\x02\x81\x01\x03", micros(1_002_003)),
        ] {
            assert_eq!(accurate(fields).unwrap(), wanted, "{fields:?}");
        }
        for fields in [
            // Below 0, past 999, 0, in another order, twice, something else behind.
            &b"\x02\x01\xff"[..],
            b"\x80\x02\x03\xe8",
            b"\x81\x01\x00",
            b"\x81\x01\x01\x80\x01\x01",
            b"\x80\x01\x01\x80\x01\x01",
            b"\x02\x01\x01\x05\x00",
        ] {
            assert!(accurate(fields).is_err(), "{fields:?}");
        }
    }

    #[test]
    fn a_time_is_one_that_the_calendar_has() {
        for text in [
            "20260230080000Z",
            "20250229080000Z",
            "20260302240000Z",
            "20260302086000Z",
            "20260302080060Z",
            "20261302080000Z",
            "20260300080000Z",
            "20260302080000.50Z",
            "20260302080000.Z",
            "20260302080000,5Z",
            "20260302080000",
            "20260302080000+0000",
            "202603020800Z",
        ] {
            assert_eq!(moment(text.as_bytes()), None, "{text}");
        }
        let leap = moment(b"20280229235959Z").unwrap();
        assert_eq!(leap.floor.to_string(), "2028-02-29T23:59:59Z");
        // What is valid until a second is no longer valid half a second after it.
        let half = moment(b"20260302080000.5Z").unwrap();
        assert_eq!(half.floor.to_string(), "2026-03-02T08:00:00Z");
        assert_eq!(half.ceiling.to_string(), "2026-03-02T08:00:01Z");
    }

    #[test]
    fn the_latest_time_is_rounded_up_to_whole_seconds() {
        let latest = |time: &[u8], micros: u64| {
            let found = moment(time).unwrap().latest(Duration::from_micros(micros));
            found.map(|time| time.to_string())
        };
        for (time, micros, wanted) in [
            (&b"20260302080000Z"[..], 0, "2026-03-02T08:00:00Z"),
            (b"20260302080000Z", 1, "2026-03-02T08:00:01Z"),
            (b"20260302080000Z", 60_000_000, "2026-03-02T08:01:00Z"),
            (b"20260302080000.5Z", 0, "2026-03-02T08:00:01Z"),
            (b"20260302080000.5Z", 500_000, "2026-03-02T08:00:01Z"),
            (b"20260302080000.5Z", 500_001, "2026-03-02T08:00:02Z"),
            // Behind the millionths, too.
            (b"20260302080000.5000001Z", 500_000, "2026-03-02T08:00:02Z"),
            (b"20260302080000.9999999Z", 0, "2026-03-02T08:00:01Z"),
        ] {
            assert_eq!(latest(time, micros).unwrap(), wanted, "{time:?} {micros}");
        }
        assert!(latest(b"99991231235959Z", 1).is_err());
        assert!(latest(b"20260302080000Z", u64::MAX).is_err());
    }
}
