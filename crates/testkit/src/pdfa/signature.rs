//! Rules about the one signature.

use lopdf::Dictionary;

use super::facts::{nothing, text};
use super::{Facts, Rule, Told};

/// Rules about the signature. A report that is not signed yet keeps them but for those about bytes.
pub(super) const RULES: &[Rule] = &[
    Rule {
        id: "G1",
        clause: "one signature: a rule of this project",
        says: "there is one signature field and one signature",
        check: one,
    },
    Rule {
        id: "G2",
        clause: "ISO 19005-3, 6.4.3, and ISO 32000-1, 12.8.1, from memory",
        says: "the signature covers the whole file but for its own value, whose brackets are the ends of the gap",
        check: byte_range,
    },
    Rule {
        id: "G3",
        clause: "no hiding place: a rule of this project",
        says: "behind the signature's value there are zeros only",
        check: padding,
    },
    Rule {
        id: "G4",
        clause: "ISO 32000-1, 12.8.2.2, from memory; level 1: a rule of this project",
        says: "the signature certifies the document and allows no change",
        check: certification,
    },
    Rule {
        id: "G5",
        clause: "ETSI EN 319 142-1, from memory",
        says: "the signature is of the kind ETSI.CAdES.detached, states a time and holds no certificate of its own",
        check: kind,
    },
    Rule {
        id: "G6",
        clause: "ISO 32000-1, 12.7.2, from memory",
        says: "the form says that there is a signature and that the file is only to be appended to",
        check: flags,
    },
];

fn signatures<'f>(facts: &'f Facts<'_>) -> Vec<(u32, &'f Dictionary)> {
    facts
        .dictionaries()
        .into_iter()
        .filter(|(_, dictionary)| dictionary.has(b"ByteRange"))
        .collect()
}

fn one(facts: &Facts<'_>, told: &mut Told) {
    let fields = facts
        .dictionaries()
        .into_iter()
        .filter(|(_, dictionary)| facts.name(dictionary, "FT") == Some(b"Sig"))
        .count();
    let signatures = signatures(facts).len();
    if (fields, signatures) != (1, 1) {
        told.push(format!("{fields} fields, {signatures} signatures"));
    }
}

/// The gap of a signature by the text of the file: the places of `<` and behind `>`.
pub(super) fn gap(bytes: &[u8]) -> Option<(usize, usize)> {
    let places = super::file::places(bytes, b"/Contents");
    places.into_iter().find_map(|at| {
        let open = at + 9 + usize::from(bytes.get(at + 9) == Some(&b' '));
        let rest = bytes.get(open..)?;
        let end = rest.iter().position(|byte| *byte == b'>')?;
        (rest.first() == Some(&b'<') && end > 2_000).then_some((open, open + end + 1))
    })
}

/// The four numbers, once the place is filled.
fn range(facts: &Facts<'_>) -> Option<[usize; 4]> {
    let (_, signature) = *signatures(facts).first()?;
    let numbers: Vec<usize> = facts
        .array(signature, "ByteRange")
        .iter()
        .map(|number| {
            number
                .as_i64()
                .ok()
                .and_then(|number| usize::try_from(number).ok())
        })
        .collect::<Option<_>>()?;
    numbers.try_into().ok()
}

fn byte_range(facts: &Facts<'_>, told: &mut Told) {
    if signatures(facts).is_empty() {
        return;
    }
    let Some(numbers) = range(facts) else {
        told.push("no four numbers".to_owned());
        return;
    };
    if numbers == [0; 4] {
        return;
    }
    let wanted = gap(facts.bytes).map(|(open, close)| [0, open, close, facts.bytes.len() - close]);
    if wanted != Some(numbers) {
        told.push(format!("{numbers:?}, wanted {wanted:?}"));
    }
}

/// Length of the first DER value in digits, or nothing for an empty place.
fn value_digits(digits: &[u8]) -> Option<usize> {
    let byte = |index: usize| {
        let pair = digits.get(2 * index..2 * index + 2)?;
        usize::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok()
    };
    if byte(0)? == 0 {
        return Some(0);
    }
    let length = match byte(1)? {
        0x81 => 3 + byte(2)?,
        0x82 => 4 + 256 * byte(2)? + byte(3)?,
        short => 2 + short,
    };
    Some(2 * length)
}

fn padding(facts: &Facts<'_>, told: &mut Told) {
    let Some((open, close)) = gap(facts.bytes) else {
        return;
    };
    let digits = &facts.bytes[open + 1..close - 1];
    let rest = value_digits(digits).and_then(|length| digits.get(length..));
    if !rest.is_some_and(|rest| rest.iter().all(|digit| *digit == b'0')) {
        told.push("other digits".to_owned());
    }
}

fn certification(facts: &Facts<'_>, told: &mut Told) {
    let permission = facts
        .dictionary(facts.catalog(), "Perms")
        .and_then(|permissions| permissions.get(b"DocMDP").ok())
        .and_then(|object| object.as_reference().ok());
    let Some((number, signature)) = signatures(facts).first().copied() else {
        return;
    };
    if permission.map(|id| id.0) != Some(number) {
        told.push("the catalogue does not name the signature under DocMDP".to_owned());
    }
    let reference = facts
        .array(signature, "Reference")
        .first()
        .and_then(|object| facts.follow(object).as_dict().ok())
        .unwrap_or(nothing());
    let level = facts
        .dictionary(reference, "TransformParams")
        .and_then(|parameters| facts.integer(parameters, "P"));
    if facts.name(reference, "TransformMethod") != Some(b"DocMDP") || level != Some(1) {
        told.push(format!("level {level:?}"));
    }
}

fn kind(facts: &Facts<'_>, told: &mut Told) {
    for (number, signature) in signatures(facts) {
        let kind = facts
            .name(signature, "SubFilter")
            .map(text)
            .unwrap_or_default();
        if kind != "ETSI.CAdES.detached"
            || facts.name(signature, "Filter") != Some(b"Adobe.PPKLite")
            || !facts
                .string(signature, "M")
                .is_some_and(|date| date.starts_with(b"D:"))
            || signature.has(b"Cert")
        {
            told.push(format!("object {number}: `{kind}`"));
        }
    }
}

fn flags(facts: &Facts<'_>, told: &mut Told) {
    let form = facts
        .dictionary(facts.catalog(), "AcroForm")
        .unwrap_or(nothing());
    let flags = facts.integer(form, "SigFlags");
    if flags != Some(3) {
        told.push(format!("SigFlags {flags:?}"));
    }
}
