//! Changes to time evidence.

use tangmark_core::Digest;

use super::{Chance, Maker, scramble};
use crate::failures::MakeError;
use crate::failures::authority::{self, Part, Token};
use crate::failures::bag::Bag;
use crate::failures::der;
use crate::failures::package::STAMPED;

/// Another token for one of the records.
pub(super) fn change(maker: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let keys = &maker.material.keys;
    let index = chance.below(maker.material.records.len());
    let times = [
        STAMPED,
        "2026-03-02T00:00:00Z",
        "2026-03-11T00:00:00Z",
        "2026-02-01T00:00:00Z",
    ];
    let time = if chance.percent(50) {
        STAMPED
    } else {
        times[chance.below(times.len())]
    };
    let mut token = Token::new(maker.material.records[index].name, time);
    match chance.below(14) {
        0 => token.imprint = *Digest::of(b"other").as_bytes(),
        1 => "1.3.6.1.5.5.7.3.4".clone_into(&mut token.usage),
        2 => token.critical = false,
        3 => "2026-02-15T00:00:00Z".clone_into(&mut token.valid.1),
        4 => "2026-06-15T00:00:00Z".clone_into(&mut token.valid.0),
        5 => token.status = u8::try_from(chance.below(4)).unwrap_or(0),
        6 => token.other_certificate = true,
        7 => token.root_is_ca = false,
        8 => {
            let fractions = [".25", ".999", ".0", ".250", "."];
            fractions[chance.below(fractions.len())].clone_into(&mut token.fraction);
        }
        9 => token.with_root = false,
        10 => token.time.clone_into(&mut token.valid.1),
        _ => {}
    }
    if chance.percent(35) {
        token.edit = Some((Part::ALL[chance.below(Part::ALL.len())], chance.word()));
    }
    let signer = match chance.below(12) {
        0 => &keys.workshop,
        1 => &keys.second,
        _ => &keys.authority,
    };
    let root = match chance.below(12) {
        0 => &keys.workshop,
        1 => &keys.stranger,
        _ => &keys.root,
    };
    let mut bytes = authority::response(&token, signer, root);
    match chance.below(10) {
        0 => scramble(chance, &mut bytes),
        1 => bytes = der::edited(&bytes, chance),
        2 => bytes = authority::bare(&token, signer, root),
        3 => bytes.push(0),
        _ => {}
    }
    let number = if chance.percent(92) {
        index + 1
    } else {
        chance.below(9)
    };
    bag.put(&format!("timestamps/{number:02}-trial.tsr"), bytes);
    if chance.percent(10) {
        let certificate = authority::root_certificate(&keys.stranger, true);
        bag.put(
            "timestamps/authorities/other.pem",
            authority::pem(&certificate),
        );
    }
    Ok(())
}
