//! Small checked texts: keys, times, dates.

use std::{fmt, str::FromStr};

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error as _};

/// A text that does not have the form its field asks for.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{found}` is not {allowed}")]
pub struct ScalarError {
    /// What was found, cut to 80 characters.
    pub found: String,
    /// What the field allows, in words.
    pub allowed: &'static str,
}

macro_rules! scalar {
    ($(#[$meta:meta])* $name:ident, $allowed:literal, $pattern:literal, $check:expr) => {
        $(#[$meta])*
        #[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(String);

        impl $name {
            /// Returns the text.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl FromStr for $name {
            type Err = ScalarError;

            fn from_str(text: &str) -> Result<Self, ScalarError> {
                let check: fn(&str) -> bool = $check;
                if check(text) {
                    Ok(Self(text.to_owned()))
                } else {
                    Err(ScalarError { found: text.chars().take(80).collect(), allowed: $allowed })
                }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(&self.0)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                String::deserialize(deserializer)?.parse().map_err(D::Error::custom)
            }
        }

        impl JsonSchema for $name {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!({ "type": "string", "description": $allowed, "pattern": $pattern })
            }
        }
    };
}

scalar!(
    /// A short name inside one record: a blade, a flaw, a photo, an instrument.
    Key,
    "a key of 1 to 40 lower-case letters, digits and hyphens that starts with a letter or digit",
    "^[a-z0-9][a-z0-9-]{0,39}$",
    |text| {
        (1..=40).contains(&text.len())
            && text.bytes().all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-')
            && !text.starts_with('-')
    }
);

impl Key {
    /// Makes a key of any name: what a key may not hold becomes a hyphen, what is too long is cut.
    pub fn from_name(name: &str) -> Self {
        let hyphened = |letter: char| {
            let letter = letter.to_ascii_lowercase();
            if letter.is_ascii_lowercase() || letter.is_ascii_digit() {
                letter
            } else {
                '-'
            }
        };
        let text: String = name
            .chars()
            .map(hyphened)
            .skip_while(|letter| *letter == '-')
            .take(40)
            .collect();
        Self(if text.is_empty() {
            "unnamed".to_owned()
        } else {
            text
        })
    }
}

scalar!(
    /// 128 random bits that make a record unguessable, as 32 lower-case hexadecimal digits.
    RecordId,
    "a record id of 32 lower-case hexadecimal digits",
    "^[0-9a-f]{32}$",
    |text| text.len() == 32 && text.bytes().all(|byte| byte.is_ascii_digit() || (b'a'..=b'f').contains(&byte))
);

scalar!(
    /// A moment in UTC with whole seconds.
    ///
    /// Source: RFC 3339, restricted to the `Z` form.
    UtcTime,
    "a UTC time written like 2026-11-25T09:30:00Z",
    "^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z$",
    |text| text.len() == 20 && text.ends_with('Z') && text.parse::<jiff::Timestamp>().is_ok_and(|time| time.to_string() == text)
);

impl UtcTime {
    /// Returns the seconds from an earlier moment to this one; negative where that moment lies after it.
    pub fn seconds_since(&self, earlier: &Self) -> i64 {
        // Both were read as times when they were made.
        let seconds = |time: &Self| {
            time.0
                .parse::<jiff::Timestamp>()
                .map_or(0, jiff::Timestamp::as_second)
        };
        seconds(self) - seconds(earlier)
    }
}

scalar!(
    /// A calendar date known to the year, the month or the day.
    PartialDate,
    "a date written like 2026, 2026-11 or 2026-11-25",
    "^[0-9]{4}(-[0-9]{2}(-[0-9]{2})?)?$",
    |text| {
        let full = match text.len() {
            4 => format!("{text}-01-01"),
            7 => format!("{text}-01"),
            _ => text.to_owned(),
        };
        full.len() == 10 && full.parse::<jiff::civil::Date>().is_ok_and(|date| date.to_string() == full)
    }
);

impl PartialDate {
    /// Returns the first day the date may mean, as `YYYY-MM-DD`.
    pub fn first_day(&self) -> String {
        match self.0.len() {
            4 => format!("{}-01-01", self.0),
            7 => format!("{}-01", self.0),
            _ => self.0.clone(),
        }
    }

    /// Returns a text that sorts after every day the date may mean.
    pub fn last_day(&self) -> String {
        match self.0.len() {
            4 => format!("{}-12-31", self.0),
            7 => format!("{}-31", self.0),
            _ => self.0.clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn times_are_utc_seconds() {
        assert!("2026-11-25T09:30:00Z".parse::<UtcTime>().is_ok());
        for bad in [
            "2026-11-25T09:30:00+00:00",
            "2026-11-25T09:30:00.5Z",
            "2026-02-30T00:00:00Z",
            "2026-11-25",
            "",
        ] {
            assert_eq!(
                bad.parse::<UtcTime>().unwrap_err().to_string(),
                format!("`{bad}` is not a UTC time written like 2026-11-25T09:30:00Z")
            );
        }
    }

    #[test]
    fn seconds_between_times_are_counted_over_days() {
        let time = |text: &str| text.parse::<UtcTime>().unwrap();
        let (first, next) = (time("2026-02-28T23:59:30Z"), time("2026-03-01T00:01:00Z"));
        assert_eq!(next.seconds_since(&first), 90);
        assert_eq!(first.seconds_since(&next), -90);
    }

    #[test]
    fn dates_may_be_partial() {
        assert_eq!(
            "1868".parse::<PartialDate>().unwrap().last_day(),
            "1868-12-31"
        );
        assert_eq!(
            "1868-03".parse::<PartialDate>().unwrap().first_day(),
            "1868-03-01"
        );
        for bad in ["1868-13", "1868-02-30", "68", "1868/03", "about 1868"] {
            assert!(bad.parse::<PartialDate>().is_err(), "{bad}");
        }
    }

    #[test]
    fn any_name_makes_a_key() {
        for (name, key) in [
            ("triage", "triage"),
            ("my_Plugin 2", "my-plugin-2"),
            ("--x", "x"),
            ("刃", "unnamed"),
        ] {
            assert_eq!(Key::from_name(name).as_str(), key);
            assert!(key.parse::<Key>().is_ok());
        }
    }

    #[test]
    fn keys_are_lower_case() {
        assert!("flaw-1".parse::<Key>().is_ok());
        for bad in ["", "Flaw", "-a", "a b", "刃", &"a".repeat(41)] {
            assert!(bad.parse::<Key>().is_err(), "{bad}");
        }
    }
}
