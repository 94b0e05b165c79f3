//! A writer of DER, just enough for certificates and time-stamp tokens. Source: ITU-T X.690, 8 and 10 (from memory).

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
