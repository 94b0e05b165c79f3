//! JSON in which no name is given twice: what a reader makes of one that is depends on the reader.

use std::collections::HashSet;
use std::fmt;

use serde::de::{Deserialize, Deserializer, Error, MapAccess, SeqAccess, Visitor};

/// Any JSON value, looked at and forgotten.
pub(crate) struct Once;

impl<'de> Deserialize<'de> for Once {
    fn deserialize<D: Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        reader.deserialize_any(Look)
    }
}

struct Look;

impl<'de> Visitor<'de> for Look {
    type Value = Once;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("JSON")
    }

    fn visit_bool<E: Error>(self, _: bool) -> Result<Once, E> {
        Ok(Once)
    }

    fn visit_i64<E: Error>(self, _: i64) -> Result<Once, E> {
        Ok(Once)
    }

    fn visit_u64<E: Error>(self, _: u64) -> Result<Once, E> {
        Ok(Once)
    }

    fn visit_f64<E: Error>(self, _: f64) -> Result<Once, E> {
        Ok(Once)
    }

    fn visit_str<E: Error>(self, _: &str) -> Result<Once, E> {
        Ok(Once)
    }

    fn visit_unit<E: Error>(self) -> Result<Once, E> {
        Ok(Once)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Once, A::Error> {
        while list.next_element::<Once>()?.is_some() {}
        Ok(Once)
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Once, A::Error> {
        let mut names = HashSet::new();
        while let Some(name) = members.next_key::<String>()? {
            members.next_value::<Once>()?;
            if !names.insert(name.clone()) {
                return Err(A::Error::custom(format!("`{name}` is given twice")));
            }
        }
        Ok(Once)
    }
}
