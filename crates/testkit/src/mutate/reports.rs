//! Changes to the report.

use tangmark_trust::certificate;

use super::{Chance, Maker, scramble};
use crate::failures::MakeError;
use crate::failures::bag::Bag;
use crate::failures::der;
use crate::failures::material::{ISSUER, TIMES, as_values, disclosure_file};
use crate::failures::package::REPORT;
use crate::failures::report::{Draft, fill, gap, number, refill};
use crate::sealed::fault;

/// A report that was changed, or made otherwise and signed.
pub(super) fn change(maker: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    if chance.percent(45) {
        let mut pdf = maker.report.clone();
        changed(chance, &mut pdf)?;
        bag.put(REPORT, pdf);
        return Ok(());
    }
    let made = made(maker, chance)?;
    bag.put(REPORT, made);
    Ok(())
}

/// Bytes of a signed report that are others.
fn changed(chance: &mut Chance, pdf: &mut Vec<u8>) -> Result<(), MakeError> {
    let (open, close) = gap(pdf)?;
    if chance.percent(15) {
        return elements(chance, pdf, open + 1, close - 1);
    }
    match chance.below(10) {
        0 => pdf.truncate(chance.below(pdf.len())),
        1 => pdf.extend(b"\n"),
        2 => pdf.extend(b"% more\n%%EOF\n"),
        3 => {
            // In the signature's structure.
            let at = open + 1 + chance.below(1_500);
            pdf[at] = *chance.pick(b"0123456789abcdef").unwrap_or(&b'0');
        }
        4 => {
            let at = close - 2 - chance.below(9_000);
            pdf[at] = b'1';
        }
        5 => pdf[open + 1..close - 1].make_ascii_uppercase(),
        6 => {
            // Outside of it, where most of its rules are.
            let outside = pdf.len() - (close - open);
            let mut at = chance.below(outside);
            if at >= open {
                at += close - open;
            }
            pdf[at] ^= 1 << chance.below(8);
        }
        _ => {
            let mut head = pdf[..open].to_vec();
            let mut tail = pdf[close..].to_vec();
            if chance.percent(60) {
                scramble(chance, &mut head);
            } else {
                scramble(chance, &mut tail);
            }
            *pdf = [&head, &pdf[open..close], &tail].concat();
        }
    }
    Ok(())
}

/// Elements of the signature's structure are left out, doubled, moved or added.
fn elements(chance: &mut Chance, pdf: &mut [u8], from: usize, to: usize) -> Result<(), MakeError> {
    let place = &mut pdf[from..to];
    let written = data_encoding::HEXLOWER_PERMISSIVE
        .decode(place)
        .map_err(fault("report"))?;
    let end = written.iter().rposition(|byte| *byte != 0).unwrap_or(0);
    let edited = der::edited(&written[..=end], chance);
    let text = data_encoding::HEXLOWER.encode(&edited);
    let length = text.len().min(place.len());
    place.fill(b'0');
    place[..length].copy_from_slice(&text.as_bytes()[..length]);
    Ok(())
}

/// A report made and signed with something unusual in it.
fn made(maker: &Maker, chance: &mut Chance) -> Result<Vec<u8>, MakeError> {
    let keys = &maker.material.keys;
    let records = &maker.material.records;
    let index = if chance.percent(60) {
        2
    } else {
        chance.below(3)
    };
    let mut record = records[index].bytes.clone();
    match chance.below(10) {
        0 => scramble(chance, &mut record),
        1 => record.extend(b"\n"),
        _ => {}
    }
    let shown: Vec<_> = records[index]
        .disclosures
        .iter()
        .filter(|_| chance.percent(40))
        .cloned()
        .collect();
    let mut disclosures = disclosure_file(&as_values(&shown));
    if chance.percent(15) {
        scramble(chance, &mut disclosures);
    }
    let mut history = crate::failures::package::history(&maker.material)?;
    let rotated = chance.percent(70);
    if rotated {
        let kind = ["rotation", "recovery"][chance.below(2)];
        let by = if kind == "recovery" {
            &keys.paper
        } else {
            &keys.workshop
        };
        history.succeed(kind, &keys.second, by, "2026-06-01T08:00:00Z", &keys.paper)?;
    }
    let history = history.file();
    let mut others: Vec<(&str, &[u8])> = Vec::new();
    if chance.percent(40) {
        others.push(("disclosures.json", &disclosures));
    }
    let with_history = chance.percent(25);
    if with_history {
        others.push(("key-history.json", &history));
    }
    if chance.percent(5) {
        others.push(("note.txt", b"x"));
    }
    let time = if chance.percent(90) {
        TIMES[index]
    } else {
        TIMES[0]
    };
    let mut draft = Draft::new(&record, &others, time);
    unusual(chance, &mut draft);
    let key = match chance.below(if with_history { 3 } else { 12 }) {
        0 => &keys.second,
        1 => &keys.stranger,
        _ => &keys.workshop,
    };
    if chance.percent(6) {
        // The check sum at the end of the packed record.
        let end = b"\nendstream".len();
        let place = draft.objects.get_mut(&8).and_then(|object| {
            let at = object.len().checked_sub(end + 1 + chance.below(4))?;
            object.get_mut(at)
        });
        if let Some(byte) = place {
            *byte ^= 1;
        }
    }
    if chance.percent(10) {
        let certificate =
            certificate::self_issued(key, ISSUER, TIMES[0]).map_err(fault("certificate"))?;
        return fill(draft.write(), key, &der::edited(&certificate, chance)).or_else(|_| {
            // A certificate that lost its issuer or serial number cannot be named: it stays as it was.
            fill(draft.write(), key, &certificate)
        });
    }
    let pdf = draft.signed(key, ISSUER, TIMES[0])?;
    if chance.percent(12) {
        return moved_range(chance, pdf, key);
    }
    Ok(pdf)
}

/// The signed range is another, and signed so.
fn moved_range(
    chance: &mut Chance,
    mut pdf: Vec<u8>,
    key: &tangmark_trust::PrivateKey,
) -> Result<Vec<u8>, MakeError> {
    let Some(at) = crate::failures::report::find(&pdf, b"/ByteRange ") else {
        return Ok(pdf);
    };
    let at = at + 11 + chance.below(36);
    if let Some(byte) = pdf.get_mut(at) {
        *byte = *chance.pick(b"0123456789- ").unwrap_or(&b'0');
    }
    let certificate =
        certificate::self_issued(key, ISSUER, TIMES[0]).map_err(fault("certificate"))?;
    refill(pdf, key, &certificate)
}

/// Words that a rule of the report page speaks of, put into the draft.
fn unusual(chance: &mut Chance, draft: &mut Draft) {
    if chance.percent(35) {
        return;
    }
    let additions = [
        (number::CATALOG, "/OpenAction 9 0 R"),
        (number::CATALOG, "/Lang(en)"),
        (number::CATALOG, "/Outlines<<>>"),
        (number::CATALOG, "/Extensions<<>>"),
        (number::CATALOG, "/OCProperties<<>>"),
        (number::CATALOG, "/AA<<>>"),
        (number::PAGE, "/Trans<<>>"),
        (number::PAGE, "/Thumb 4 0 R"),
        (number::PAGE, "/PieceInfo<<>>"),
        (number::PAGE, "/Tabs/S"),
        (number::PAGE, "/Dur 3"),
        (number::FORM, "/XFA(x)"),
        (number::FORM, "/DA(x)"),
        (number::FIELD, "/MK<<>>"),
        (number::FIELD, "/TU(place)"),
        (number::FIELD, "/AP<</N 4 0 R>>"),
        (number::SIGNATURE, "/Name(weir)"),
        (number::SIGNATURE, "/Location(weir)"),
        (number::INFO, "/Producer(x)"),
        (number::INFO, "/Producer(x)/Producer(y)"),
        (number::INFO, "/S/Named"),
        (number::INFO, "/S/URI"),
        (number::INFO, "/A#20B 1/A#20B 2"),
        (number::INFO, "/X 1.5/Y .5/Z -.5/W +1"),
        (number::INFO, "/X 1..5"),
        (number::INFO, "/X 99999999999999999999"),
        (number::INFO, "/X(a\\)b\\101)"),
        (number::INFO, "/X(a\\qb)"),
        (number::INFO, "/X<0>"),
        (number::INFO, "/X 9 0 R"),
        (number::INFO, "/X 90 0 R"),
        (number::INFO, "/X 9 1 R"),
        (number::INFO, "/Type/Sig"),
        (number::INFO, "/EF<<>>"),
        (
            number::INFO,
            "/X[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[1]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]",
        ),
        (number::INFO, "/X% a remark\n 1"),
        (7, "/Thumb 4 0 R"),
    ];
    let replacements = [
        (number::FIELD, "/F 132", "/F 4"),
        (number::FIELD, "/FT/Sig", "/FT/Tx"),
        (number::SIGNATURE, "/P 1", "/P 2"),
        (
            number::SIGNATURE,
            "ETSI.CAdES.detached",
            "adbe.pkcs7.detached",
        ),
        (number::SIGNATURE, "Adobe.PPKLite", "Other"),
        (number::SIGNATURE, "/M(D:", "/M(d:"),
        (number::FORM, "/SigFlags 3", "/SigFlags 1"),
        (number::CATALOG, "/Perms<</DocMDP 6 0 R>>", ""),
        (number::CATALOG, "/AF[", "/AF[9 0 R "),
        (number::CATALOG, "(record.json)", "(Record.json)"),
        (7, "/AFRelationship/Source", "/AFRelationship/Data"),
        (
            7,
            "/UF(record.json)",
            "/UF<FEFF007200650063006F00720064002E006A0073006F006E>",
        ),
        (7, "/UF(record.json)", "/UF(other.json)"),
        (7, "/UF 8 0 R", ""),
        (8, "/Filter/FlateDecode", "/Filter[/FlateDecode]"),
        (8, "/Filter/FlateDecode", ""),
        (2, "/Count 1", "/Count 2"),
    ];
    match chance.below(10) {
        0..=4 => {
            if let Some((number, words)) = chance.pick(&additions) {
                draft.add(*number, words);
            }
        }
        5 | 6 => {
            // Streams are bytes, not text: only dictionaries are rewritten.
            if let Some((number, from, to)) = chance.pick(&replacements)
                && *number != 8
            {
                draft.replace(*number, from, to);
            }
        }
        7 => draft.set(number::NEXT, "<</Type/Page>>"),
        8 => {
            draft.set(number::NEXT, "<</Type/Annot/Subtype/Text/Rect[0 0 1 1]>>");
            draft.replace(number::PAGE, "[5 0 R]", "[5 0 R 17 0 R]");
        }
        _ => draft.trailer.push_str(
            chance
                .pick(&["/Encrypt 9 0 R", "/Prev 9", "/ID[<00><00>]", "/X 1"])
                .copied()
                .unwrap_or_default(),
        ),
    }
}
