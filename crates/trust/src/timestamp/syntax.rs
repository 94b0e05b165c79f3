//! ASN.1 read field by field: DER only, and a field that was not expected is refused.
//!
//! The types of general libraries sort each `SET OF` while reading; a signature is over the bytes as they stand.

use der::{
    Any, AnyRef, Choice, Decode as _, DecodeValue, Encode as _, Reader as _, SliceReader, Tag,
    TagNumber, Tagged as _,
    asn1::{IntRef, ObjectIdentifier},
};
use x509_cert::ext::Extensions;

use super::TimestampError;

/// The fields of one constructed value, taken one after the other.
pub(super) struct Fields<'a> {
    what: &'static str,
    fields: std::vec::IntoIter<AnyRef<'a>>,
}

impl<'a> Fields<'a> {
    /// The fields of a value whose outer tag was looked at already.
    pub(super) fn of(what: &'static str, value: &'a [u8]) -> Result<Self, TimestampError> {
        let unreadable = |error| TimestampError::Unreadable { what, error };
        let mut reader = SliceReader::new(value).map_err(unreadable)?;
        let mut fields = Vec::new();
        while !reader.is_finished() {
            fields.push(AnyRef::decode(&mut reader).map_err(unreadable)?);
        }
        Ok(Self {
            what,
            fields: fields.into_iter(),
        })
    }

    /// The fields of a SEQUENCE or SET.
    pub(super) fn within(
        what: &'static str,
        tag: Tag,
        value: AnyRef<'a>,
    ) -> Result<Self, TimestampError> {
        value
            .tag()
            .assert_eq(tag)
            .map_err(|error| TimestampError::Unreadable { what, error })?;
        Self::of(what, value.value())
    }

    /// The fields of the SEQUENCE that the bytes are, with nothing behind it.
    pub(super) fn whole(what: &'static str, bytes: &'a [u8]) -> Result<Self, TimestampError> {
        let outer =
            AnyRef::from_der(bytes).map_err(|error| TimestampError::Unreadable { what, error })?;
        Self::within(what, Tag::Sequence, outer)
    }

    /// The next field, whatever it is.
    pub(super) fn any(&mut self) -> Result<AnyRef<'a>, TimestampError> {
        self.fields
            .next()
            .ok_or_else(|| TimestampError::Unreadable {
                what: self.what,
                error: der::ErrorKind::Incomplete {
                    expected_len: der::Length::ONE,
                    actual_len: der::Length::ZERO,
                }
                .into(),
            })
    }

    /// The next field as a value of a known type.
    pub(super) fn read<T: Choice<'a> + DecodeValue<'a>>(&mut self) -> Result<T, TimestampError> {
        let what = self.what;
        self.any()?
            .decode_as()
            .map_err(|error| TimestampError::Unreadable { what, error })
    }

    /// The fields of the next SEQUENCE or SET.
    pub(super) fn inner(&mut self, tag: Tag) -> Result<Self, TimestampError> {
        let field = self.any()?;
        Self::within(self.what, tag, field)
    }

    /// The next field if it has the tag.
    pub(super) fn optional(&mut self, tag: Tag) -> Option<AnyRef<'a>> {
        let found = self
            .fields
            .as_slice()
            .first()
            .is_some_and(|field| field.tag() == tag);
        found.then(|| self.fields.next()).flatten()
    }

    /// All that is left.
    pub(super) fn rest(self) -> Vec<AnyRef<'a>> {
        self.fields.collect()
    }

    /// Nothing is left.
    pub(super) fn end(mut self) -> Result<(), TimestampError> {
        match self.fields.next() {
            None => Ok(()),
            Some(field) => Err(TimestampError::Unreadable {
                what: self.what,
                error: field.tag().unexpected_error(None),
            }),
        }
    }
}

/// Tag `[number]` of a constructed value.
pub(super) const fn context(number: u8) -> Tag {
    Tag::ContextSpecific {
        constructed: true,
        number: TagNumber::new(number),
    }
}

/// An algorithm without parameters, or with NULL as RSA and many others write it.
pub(super) fn plain_algorithm(
    what: &'static str,
    field: AnyRef<'_>,
) -> Result<ObjectIdentifier, TimestampError> {
    algorithm(what, field).map(|(algorithm, _)| algorithm)
}

/// An algorithm without parameters, or with NULL: then true.
pub(super) fn algorithm(
    what: &'static str,
    field: AnyRef<'_>,
) -> Result<(ObjectIdentifier, bool), TimestampError> {
    let mut fields = Fields::within(what, Tag::Sequence, field)?;
    let algorithm = fields.read()?;
    let null = fields.optional(Tag::Null);
    if null.is_some_and(|null| !null.value().is_empty()) {
        return Err(TimestampError::Form("NULL with contents"));
    }
    fields.end()?;
    Ok((algorithm, null.is_some()))
}

/// The contents of an INTEGER in its shortest form.
pub(super) fn integer(field: AnyRef<'_>) -> Result<Vec<u8>, TimestampError> {
    field
        .decode_as::<IntRef<'_>>()
        .map_err(|error| TimestampError::Unreadable {
            what: "a number",
            error,
        })?;
    Ok(field.value().to_vec())
}

/// Bytes of a field with its tag and length.
pub(super) fn with_tag(field: AnyRef<'_>) -> Result<Vec<u8>, TimestampError> {
    field.to_der().map_err(|error| TimestampError::Unreadable {
        what: "a field",
        error,
    })
}

/// Extensions under an implicit tag.
pub(super) fn extensions(
    what: &'static str,
    field: AnyRef<'_>,
) -> Result<Extensions, TimestampError> {
    Any::new(Tag::Sequence, field.value())
        .and_then(|sequence| sequence.decode_as())
        .map_err(|error| TimestampError::Unreadable { what, error })
}
