//! The reader's grammar: values, arrays and objects. Strings and numbers are in `scalar`.

use serde_json::{Map, Value, map::Entry};

use super::{
    DEPTH_CEILING, JsonErrorKind, Limits, StringRole, error::excerpt, line_column,
    position::Recorder,
};

/// What is wrong at an offset. Boxed: it is rare, and results stay small.
pub(super) struct Fault(Box<(usize, JsonErrorKind)>);

impl Fault {
    pub(super) fn new(offset: usize, kind: JsonErrorKind) -> Self {
        Self(Box::new((offset, kind)))
    }

    pub(super) fn into_parts(self) -> (usize, JsonErrorKind) {
        *self.0
    }
}

/// Refuses what stands at `offset`.
pub(super) fn fail<T>(offset: usize, kind: JsonErrorKind) -> Result<T, Fault> {
    Err(Fault::new(offset, kind))
}

/// Reads one document. Recursive, no deeper than `max_depth`.
pub(super) struct Reader<'a, R> {
    pub(super) text: &'a str,
    /// Offset of the next byte to read; always on a character boundary when a token starts.
    pub(super) at: usize,
    depth: usize,
    max_depth: usize,
    values: usize,
    max_values: usize,
    recorder: R,
}

impl<'a, R: Recorder> Reader<'a, R> {
    pub(super) fn new(text: &'a str, limits: &Limits, recorder: R) -> Self {
        Self {
            text,
            at: 0,
            depth: 0,
            max_depth: limits.max_depth.min(DEPTH_CEILING),
            values: 0,
            max_values: limits.max_values,
            recorder,
        }
    }

    /// Reads the whole text as one value.
    pub(super) fn document(mut self) -> Result<(Value, R), Fault> {
        self.skip_space();
        if self.peek().is_none() {
            return fail(
                self.at,
                JsonErrorKind::Empty {
                    bytes: self.text.len(),
                },
            );
        }
        let value = self.value("a JSON value", 0)?;
        self.skip_space();
        match self.peek() {
            None => Ok((value, self.recorder)),
            Some(_) if self.is_comment() => fail(self.at, JsonErrorKind::Comment),
            Some(_) => fail(
                self.at,
                JsonErrorKind::TrailingBytes {
                    found: self.token(),
                },
            ),
        }
    }

    /// Reads a value. `allowed` says what may stand here, `opened` where the container began.
    fn value(&mut self, allowed: &'static str, opened: usize) -> Result<Value, Fault> {
        self.values += 1;
        if self.values > self.max_values {
            let kind = JsonErrorKind::TooManyValues {
                allowed: self.max_values,
            };
            return fail(self.at, kind);
        }
        self.recorder.start(self.text, self.at);
        let value = match self.peek() {
            Some(b'"') => Value::String(self.string(StringRole::String)?),
            Some(b'{') => self.nested(Self::object)?,
            Some(b'[') => self.nested(Self::array)?,
            Some(b'-' | b'0'..=b'9') => Value::from(self.integer()?),
            Some(b't') => self.literal("true", Value::Bool(true), allowed, opened)?,
            Some(b'f') => self.literal("false", Value::Bool(false), allowed, opened)?,
            Some(b'n') => self.literal("null", Value::Null, allowed, opened)?,
            Some(b'+' | b'.') => return Err(self.number_fault(self.at)),
            Some(b'N') if self.stands("NaN") => return Err(self.number_fault(self.at)),
            Some(b'I') if self.stands("Infinity") => return Err(self.number_fault(self.at)),
            _ => return Err(self.unexpected(allowed, opened)),
        };
        self.recorder.finish();
        Ok(value)
    }

    fn nested(
        &mut self,
        container: impl FnOnce(&mut Self) -> Result<Value, Fault>,
    ) -> Result<Value, Fault> {
        if self.depth == self.max_depth {
            return fail(
                self.at,
                JsonErrorKind::TooDeep {
                    allowed: self.max_depth,
                },
            );
        }
        self.depth += 1;
        let value = container(self)?;
        self.depth -= 1;
        Ok(value)
    }

    fn array(&mut self) -> Result<Value, Fault> {
        let opened = self.at;
        self.at += 1;
        let mut elements = Vec::new();
        self.skip_space();
        if self.eat(b']') {
            return Ok(Value::Array(elements));
        }
        let mut allowed = "a value or `]`";
        loop {
            elements.push(self.value(allowed, opened)?);
            self.skip_space();
            if self.eat(b']') {
                return Ok(Value::Array(elements));
            }
            self.comma(b']', "`,` or `]`", opened)?;
            allowed = "a value";
        }
    }

    fn object(&mut self) -> Result<Value, Fault> {
        let opened = self.at;
        self.at += 1;
        let mut members = Map::new();
        self.skip_space();
        if self.eat(b'}') {
            return Ok(Value::Object(members));
        }
        let mut allowed = "a key in double quotation marks or `}`";
        loop {
            let offset = self.at;
            let key = self.key(allowed, opened)?;
            self.recorder.key(self.text, offset, &key);
            // Checked before the value is read: a later fault inside it must not hide this one.
            let Entry::Vacant(place) = members.entry(key) else {
                return Err(self.duplicate(offset, opened));
            };
            place.insert(self.value("a value", opened)?);
            self.skip_space();
            if self.eat(b'}') {
                return Ok(Value::Object(members));
            }
            self.comma(b'}', "`,` or `}`", opened)?;
            allowed = "a key in double quotation marks";
        }
    }

    /// Reads a key and its colon, up to the first byte of the value.
    fn key(&mut self, allowed: &'static str, opened: usize) -> Result<String, Fault> {
        if self.peek() != Some(b'"') {
            return Err(self.unexpected(allowed, opened));
        }
        let key = self.string(StringRole::Key)?;
        self.skip_space();
        if !self.eat(b':') {
            return Err(self.unexpected("`:`", opened));
        }
        self.skip_space();
        Ok(key)
    }

    /// Reads a comma and the space after it, and refuses the container's end there.
    fn comma(&mut self, end: u8, allowed: &'static str, opened: usize) -> Result<(), Fault> {
        let comma = self.at;
        if !self.eat(b',') {
            return Err(self.unexpected(allowed, opened));
        }
        self.skip_space();
        if self.peek() == Some(end) {
            return fail(
                comma,
                JsonErrorKind::TrailingComma {
                    end: char::from(end),
                },
            );
        }
        Ok(())
    }

    fn literal(
        &mut self,
        word: &str,
        value: Value,
        allowed: &'static str,
        opened: usize,
    ) -> Result<Value, Fault> {
        if !self.stands(word) {
            return Err(self.unexpected(allowed, opened));
        }
        self.at += word.len();
        Ok(value)
    }

    /// Names both places of a key given twice. Reads the object again, so that objects without
    /// such a key, which is all but one, need not remember where their keys stood.
    #[cold]
    fn duplicate(&mut self, second: usize, opened: usize) -> Fault {
        self.at = second;
        let key = self.key("", opened).unwrap_or_default();
        let mut first = opened;
        self.at = opened + 1;
        while self.at < second {
            self.skip_space();
            first = self.at;
            match self.key("", opened) {
                Ok(other) if other != key && self.skip_value() => {}
                _ => break,
            }
            self.skip_space();
            self.eat(b',');
        }
        let first = line_column(self.text.as_bytes(), first);
        Fault::new(
            second,
            JsonErrorKind::DuplicateKey {
                key: excerpt(&key),
                first,
            },
        )
    }

    /// Passes over a value that was read before; false when it cannot be.
    fn skip_value(&mut self) -> bool {
        let mut again = Reader {
            text: self.text,
            at: self.at,
            depth: self.depth,
            max_depth: self.max_depth,
            values: 0,
            max_values: self.max_values,
            recorder: super::NoRecorder,
        };
        let read = again.value("", self.at).is_ok();
        self.at = again.at;
        read
    }

    /// Says what stands at the current offset instead of what is allowed there.
    #[cold]
    fn unexpected(&self, allowed: &'static str, opened: usize) -> Fault {
        let kind = match self.peek() {
            None => {
                let what = match self.text.as_bytes().get(opened) {
                    Some(b'[') => "array",
                    Some(b'{') => "object",
                    _ => "value",
                };
                let opened = line_column(self.text.as_bytes(), opened);
                JsonErrorKind::Unterminated {
                    what,
                    opened,
                    allowed,
                }
            }
            Some(_) if self.is_comment() => JsonErrorKind::Comment,
            Some(_) => JsonErrorKind::Unexpected {
                found: self.token(),
                allowed,
            },
        };
        Fault::new(self.at, kind)
    }

    /// The piece of text at the current offset, for people: a text, a word, or one sign.
    fn token(&self) -> String {
        let rest = &self.text[self.at..];
        let sign = rest.chars().next().map_or(0, char::len_utf8);
        let is_end = |c: char| c.is_whitespace() || ",:[]{}\"".contains(c);
        let end = match rest.strip_prefix('"') {
            Some(inner) => inner.find('"').map_or(rest.len(), |length| length + 2),
            None => rest.find(is_end).unwrap_or(rest.len()).max(sign),
        };
        excerpt(&rest[..end])
    }

    fn is_comment(&self) -> bool {
        ["//", "/*", "#"].iter().any(|opening| self.stands(opening))
    }

    /// Whether `word` stands at the current offset.
    fn stands(&self, word: &str) -> bool {
        self.text.as_bytes()[self.at..].starts_with(word.as_bytes())
    }

    #[inline]
    pub(super) fn peek(&self) -> Option<u8> {
        self.text.as_bytes().get(self.at).copied()
    }

    #[inline]
    fn eat(&mut self, byte: u8) -> bool {
        let found = self.peek() == Some(byte);
        self.at += usize::from(found);
        found
    }

    #[inline]
    fn skip_space(&mut self) {
        while let Some(b' ' | b'\n' | b'\r' | b'\t') = self.peek() {
            self.at += 1;
        }
    }
}
