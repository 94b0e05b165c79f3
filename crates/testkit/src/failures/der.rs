//! A writer of DER, just enough for certificates and time-stamp tokens. Source: ITU-T X.690, 8 and 10 (from memory).

use crate::mutate::Chance;

/// Tag, length and content.
pub fn tagged(tag: u8, content: &[u8]) -> Vec<u8> {
    let mut out = vec![tag];
    let length = content.len();
    if length < 128 {
        out.push(u8::try_from(length).unwrap_or(0));
    } else {
        let bytes: Vec<u8> = length
            .to_be_bytes()
            .into_iter()
            .skip_while(|byte| *byte == 0)
            .collect();
        out.push(0x80 | u8::try_from(bytes.len()).unwrap_or(0));
        out.extend(bytes);
    }
    out.extend(content);
    out
}

/// SEQUENCE.
pub fn sequence(parts: &[Vec<u8>]) -> Vec<u8> {
    tagged(0x30, &parts.concat())
}

/// SET OF, sorted as DER demands.
pub fn set(parts: &[Vec<u8>]) -> Vec<u8> {
    let mut sorted = parts.to_vec();
    sorted.sort();
    tagged(0x31, &sorted.concat())
}

/// `[number]`, constructed.
pub fn explicit(number: u8, content: &[u8]) -> Vec<u8> {
    tagged(0xa0 | number, content)
}

/// INTEGER of unsigned bytes.
pub fn integer(bytes: &[u8]) -> Vec<u8> {
    let mut digits: Vec<u8> = bytes
        .iter()
        .copied()
        .skip_while(|byte| *byte == 0)
        .collect();
    if digits.first().is_none_or(|first| *first >= 128) {
        digits.insert(0, 0);
    }
    tagged(0x02, &digits)
}

/// OCTET STRING.
pub fn octets(bytes: &[u8]) -> Vec<u8> {
    tagged(0x04, bytes)
}

/// BIT STRING of whole bytes.
pub fn bits(bytes: &[u8]) -> Vec<u8> {
    tagged(0x03, &[&[0], bytes].concat())
}

/// BOOLEAN, true.
pub fn yes() -> Vec<u8> {
    vec![0x01, 0x01, 0xff]
}

/// OBJECT IDENTIFIER of the numbers of a dotted name.
pub fn oid(dotted: &str) -> Vec<u8> {
    let numbers: Vec<u64> = dotted
        .split('.')
        .filter_map(|part| part.parse().ok())
        .collect();
    let mut content = Vec::new();
    let first = numbers.first().unwrap_or(&0) * 40 + numbers.get(1).unwrap_or(&0);
    for number in std::iter::once(first).chain(numbers.iter().skip(2).copied()) {
        let mut digits = vec![u8::try_from(number & 0x7f).unwrap_or(0)];
        let mut rest = number >> 7;
        while rest > 0 {
            digits.push(0x80 | u8::try_from(rest & 0x7f).unwrap_or(0));
            rest >>= 7;
        }
        content.extend(digits.iter().rev());
    }
    tagged(0x06, &content)
}

/// UTCTime of `2026-03-01T09:30:00Z`.
pub fn utc_time(time: &str) -> Vec<u8> {
    tagged(0x17, digits(time).get(2..).unwrap_or_default().as_bytes())
}

/// GeneralizedTime of the same, with a fraction of a second where one is given.
pub fn generalized_time(time: &str, fraction: &str) -> Vec<u8> {
    let digits = digits(time);
    let text = format!("{}{fraction}Z", digits.trim_end_matches('Z'));
    tagged(0x18, text.as_bytes())
}

fn digits(time: &str) -> String {
    time.chars()
        .filter(|sign| sign.is_ascii_digit() || *sign == 'Z')
        .collect()
}

/// A value of DER, taken apart as deep as it goes.
struct Element {
    tag: u8,
    content: Content,
}

enum Content {
    Plain(Vec<u8>),
    Parts(Vec<Element>),
    /// Written as these bytes, whatever the tag.
    Raw(Vec<u8>),
}

impl Element {
    fn plain(tag: u8, content: &[u8]) -> Self {
        Self {
            tag,
            content: Content::Plain(content.to_vec()),
        }
    }

    fn write(&self) -> Vec<u8> {
        match &self.content {
            Content::Plain(bytes) => tagged(self.tag, bytes),
            Content::Parts(parts) => tagged(self.tag, &written(parts)),
            Content::Raw(bytes) => bytes.clone(),
        }
    }

    fn again(&self) -> Self {
        let content = match &self.content {
            Content::Plain(bytes) => Content::Plain(bytes.clone()),
            Content::Parts(parts) => Content::Parts(parts.iter().map(Self::again).collect()),
            Content::Raw(bytes) => Content::Raw(bytes.clone()),
        };
        Self {
            tag: self.tag,
            content,
        }
    }

    fn count(&self) -> usize {
        match &self.content {
            Content::Plain(_) | Content::Raw(_) => 1,
            Content::Parts(parts) => 1 + parts.iter().map(Self::count).sum::<usize>(),
        }
    }
}

fn written(parts: &[Element]) -> Vec<u8> {
    parts.iter().flat_map(Element::write).collect()
}

/// Values one behind the other; nothing where the bytes are none.
fn taken_apart(mut der: &[u8]) -> Option<Vec<Element>> {
    let mut found = Vec::new();
    while let [tag, first, rest @ ..] = der {
        let (length, rest) = if *first < 128 {
            (usize::from(*first), rest)
        } else {
            let count = usize::from(first & 0x7f);
            let digits = rest.get(..count).filter(|_| count <= 4)?;
            let length = digits
                .iter()
                .fold(0, |sum, digit| (sum << 8) | usize::from(*digit));
            (length, &rest[count..])
        };
        let inside = rest.get(..length)?;
        // A string of octets may hold values too, as in an extension.
        let may_hold = tag & 0x20 != 0 || (*tag == 0x04 && matches!(inside, [0x30 | 0x31, ..]));
        let parts = may_hold.then(|| taken_apart(inside)).flatten();
        found.push(Element {
            tag: *tag,
            content: parts.map_or_else(|| Content::Plain(inside.to_vec()), Content::Parts),
        });
        der = &rest[length..];
    }
    der.is_empty().then_some(found)
}

/// The same with one element left out, doubled, moved, added or of another kind; all lengths around it fit again.
/// What is no DER comes back as it is.
pub fn edited(der: &[u8], chance: &mut Chance) -> Vec<u8> {
    let Some(mut parts) = taken_apart(der) else {
        return der.to_vec();
    };
    let mut at = chance.below(parts.iter().map(Element::count).sum());
    edit(&mut parts, &mut at, chance);
    written(&parts)
}

fn edit(parts: &mut Vec<Element>, at: &mut usize, chance: &mut Chance) -> bool {
    for place in 0..parts.len() {
        if *at == 0 {
            edit_one(parts, place, chance);
            return true;
        }
        *at -= 1;
        if let Content::Parts(inside) = &mut parts[place].content
            && edit(inside, at, chance)
        {
            return true;
        }
    }
    false
}

fn edit_one(parts: &mut Vec<Element>, place: usize, chance: &mut Chance) {
    match chance.below(10) {
        0 => {
            parts.remove(place);
        }
        1 => {
            let again = parts[place].again();
            parts.insert(place, again);
        }
        2 => {
            let last = parts.len() - 1;
            parts.swap(place, (place + 1).min(last));
        }
        3 => parts.insert(place + 1, Element::plain(0x05, &[])),
        4 => parts.insert(place, Element::plain(0x02, &[1])),
        5 => {
            let inside = parts[place].write();
            let tag = 0xa0 | u8::try_from(chance.below(5)).unwrap_or(0);
            parts[place] = Element::plain(tag, &inside);
        }
        6 => {
            let tags = [
                0x0c, 0x13, 0x02, 0x04, 0x30, 0x31, 0x80, 0x81, 0xa0, 0xa3, 0x05, 0x17, 0x18,
            ];
            parts[place].tag = *chance.pick(&tags).unwrap_or(&0x05);
        }
        7 => {
            if let Content::Plain(bytes) = &mut parts[place].content {
                let at = chance.below(bytes.len());
                match bytes.get_mut(at) {
                    Some(byte) if chance.percent(70) => *byte = chance.byte(),
                    _ => bytes.clear(),
                }
            }
        }
        8 => parts.insert(place + 1, Element::plain(0x30, &[])),
        _ => {
            // The length in more bytes than it needs.
            let bytes = parts[place].write();
            let inside = match bytes.get(1) {
                Some(first) if *first < 128 => 2,
                Some(first) => 2 + usize::from(first & 0x7f),
                None => bytes.len(),
            };
            let content = bytes.get(inside..).unwrap_or_default();
            let length = u32::try_from(content.len()).unwrap_or(0).to_be_bytes();
            let raw = [&[parts[place].tag, 0x84], length.as_slice(), content].concat();
            parts[place].content = Content::Raw(raw);
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn what_is_edited_is_der_again() {
        let inner = octets(&sequence(&[oid("1.2.3"), integer(&[9; 200])]));
        let value = sequence(&[integer(&[1]), set(&[yes(), inner]), bits(&[7; 300])]);
        assert_eq!(written(&taken_apart(&value).unwrap()), value);
        let mut others = 0;
        for number in 0..200 {
            let found = edited(&value, &mut Chance::new(5, number));
            others += usize::from(found != value);
            // A tag that holds values may stand around bytes that are none: its length fits all the same.
            assert!(taken_apart(&found).is_some(), "{found:02x?}");
        }
        assert!(others > 150, "{others}");
        assert_eq!(edited(&[0x30, 5, 1], &mut Chance::new(5, 0)), [0x30, 5, 1]);
    }
}
