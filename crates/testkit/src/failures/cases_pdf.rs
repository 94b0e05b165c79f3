//! Cases 52 to 63: reports that were changed, or signed with a fault in them.

use std::fmt::Write as _;

use super::bag::Bag;
use super::material::{ISSUER, Material, TIMES};
use super::package::{REPORT, report, sign_report, sound};
use super::report::{DIGITS, Draft, find, gap, number, refill};
use super::{Corpus, Kind, MakeError};
use crate::sealed::fault;
use tangmark_trust::certificate;
use tangmark_trust::pdf::BYTE_RANGE_PLACEHOLDER;

fn place(pdf: &[u8], part: &[u8]) -> Result<usize, MakeError> {
    find(pdf, part).ok_or_else(|| fault("report")(part.escape_ascii().to_string()))
}

/// The bytes with a part of them exchanged.
fn replaced(pdf: &[u8], at: usize, length: usize, by: &[u8]) -> Vec<u8> {
    [&pdf[..at], by, &pdf[at + length..]].concat()
}

/// A further revision with other objects, as PDF editors write one.
fn revision(pdf: &[u8], objects: &[(u32, &str)]) -> Result<Vec<u8>, MakeError> {
    let before = place(pdf, b"xref\n0 ")?;
    let mut out = pdf.to_vec();
    let mut table = String::from("xref\n");
    for (number, object) in objects {
        let _ = write!(table, "{number} 1\n{:010} 00000 n \n", out.len());
        out.extend(format!("{number} 0 obj\n{object}\nendobj\n").bytes());
    }
    let start = out.len();
    let size = number::NEXT + 10;
    out.extend(
        format!(
            "{table}trailer\n<</Root 1 0 R/Info 9 0 R/Size {size}/Prev {before}>>\nstartxref\n{start}\n%%EOF\n"
        )
        .bytes(),
    );
    Ok(out)
}

/// The report that the cases are changes of: whoever changes one back has this.
///
/// # Errors
/// When it cannot be signed.
pub fn sound_report(material: &Material) -> Result<Vec<u8>, MakeError> {
    sign_report(material, &report(material, 3))
}

pub(super) fn add(corpus: &mut Corpus, material: &Material) -> Result<(), MakeError> {
    let sound_pdf = sound_report(material)?;
    let pdf = sound_pdf.as_slice();
    let (open, close) = gap(pdf)?;

    for part in [1, 2, 5, 9, 15, 19] {
        let length = pdf.len() * part / 20;
        corpus.pdf(
            52,
            &format!("cut off after {part} twentieths"),
            &pdf[..length],
        );
    }
    corpus.pdf(52, "cut off before the last line", &pdf[..pdf.len() - 7]);
    for (name, junk) in [
        ("a word behind it", &b"word"[..]),
        ("a NUL behind it", b"\0"),
        ("two line ends behind it", b"\n\n"),
        ("a second end", b"%%EOF\n"),
    ] {
        corpus.pdf(53, name, [pdf, junk].concat());
    }
    for (name, objects) in [
        (
            "another drawing",
            vec![(number::CONTENT, "<</Length 0>>stream\n\nendstream")],
        ),
        (
            "a note on the page",
            vec![
                (
                    number::NEXT,
                    "<</Type/Annot/Subtype/Text/Rect[0 0 9 9]/Contents(sold)>>",
                ),
                (
                    number::PAGE,
                    "<</Type/Page/Parent 2 0 R/MediaBox[0 0 200 200]/Contents 4 0 R/Resources<<>>/Annots[5 0 R 17 0 R]>>",
                ),
            ],
        ),
        (
            "another font",
            vec![(11, "<</Type/Font/Subtype/Type1/BaseFont/Courier>>")],
        ),
        ("another title", vec![(number::INFO, "<</Title(Other)>>")]),
    ] {
        corpus.pdf(54, name, revision(pdf, &objects)?);
    }
    let second = format!(
        "<</Type/Sig/Filter/Adobe.PPKLite/SubFilter/ETSI.CAdES.detached/ByteRange[0 1 2 3]/Contents<{}>>>",
        "00".repeat(64)
    );
    let field =
        "<</Type/Annot/Subtype/Widget/FT/Sig/T(Second)/V 18 0 R/P 3 0 R/Rect[0 0 0 0]/F 132>>";
    corpus.pdf(
        55,
        "a second signature in a further revision",
        revision(
            pdf,
            &[
                (number::NEXT, field),
                (number::NEXT + 1, &second),
                (number::FORM, "<</Fields[5 0 R 17 0 R]/SigFlags 3>>"),
            ],
        )?,
    );
    let signed = |change: &dyn Fn(&mut Draft)| {
        let mut draft = report(material, 3);
        change(&mut draft);
        sign_report(material, &draft)
    };
    corpus.pdf(
        55,
        "a second signature before the first",
        signed(&|draft| {
            draft.set(number::NEXT, field);
            draft.set(number::NEXT + 1, &second);
            draft.replace(number::FORM, "[5 0 R]", "[5 0 R 17 0 R]");
        })?,
    );

    let digits = open + 1..close - 1;
    for (name, bytes) in [
        ("empty", replaced(pdf, open, DIGITS + 2, b"<>")),
        ("null", replaced(pdf, open, DIGITS + 2, b"null")),
        ("an odd digit", replaced(pdf, close - 1, 0, b"0")),
        ("a digit left out", replaced(pdf, close - 2, 1, b"")),
        (
            "padding that is not zero",
            replaced(pdf, close - 2, 1, b"1"),
        ),
        (
            "capital digits",
            [
                &pdf[..digits.start],
                &pdf[digits.clone()].to_ascii_uppercase(),
                &pdf[digits.end..],
            ]
            .concat(),
        ),
        (
            "all zeros",
            [
                &pdf[..digits.start],
                &[b'0'].repeat(DIGITS),
                &pdf[digits.end..],
            ]
            .concat(),
        ),
        (
            "a byte of it flipped",
            replaced(pdf, digits.start + 900, 1, &[pdf[digits.start + 900] ^ 1]),
        ),
    ] {
        corpus.pdf(56, &format!("signature {name}"), bytes);
    }

    let range = place(pdf, b"/ByteRange ")? + 11;
    let certificate = certificate::self_issued(&material.keys.workshop, ISSUER, TIMES[0])
        .map_err(fault("certificate"))?;
    let tail = pdf.len() - close;
    for (name, text) in [
        ("negative", format!("[0 -{open:09} {close:010} {tail:010}]")),
        (
            "overlapping",
            format!("[0 {:010} {open:010} {:010}]", close, pdf.len() - open),
        ),
        (
            "short at the end",
            format!("[0 {open:010} {close:010} {:010}]", tail - 3),
        ),
        (
            "long at the end",
            format!("[0 {open:010} {close:010} {:010}]", tail + 3),
        ),
        (
            "another beginning",
            format!("[1 {open:010} {close:010} {tail:010}]"),
        ),
        (
            "without leading zeros",
            format!("[0 {open} {close} {tail}]"),
        ),
        (
            "three pairs",
            format!("[0 {open:010} {close:010} {tail:010} 0 0]"),
        ),
    ] {
        // Signed again where the length stays, so that nothing but the range is wrong.
        let changed = replaced(pdf, range, 36, text.as_bytes());
        let changed = if text.len() == 36 {
            refill(changed, &material.keys.workshop, &certificate)?
        } else {
            changed
        };
        corpus.pdf(57, &format!("range {name}"), changed);
    }
    corpus.pdf(
        57,
        "range elsewhere",
        signed(&|draft| {
            draft.set(number::NEXT, BYTE_RANGE_PLACEHOLDER);
            draft.replace(number::SIGNATURE, BYTE_RANGE_PLACEHOLDER, "17 0 R");
        })?,
    );

    // 58: the second part is moved behind something new.
    let wrapped = {
        let new = b"<</Type/Page/Sold(yes)>>";
        let mut bytes = [&pdf[..close], new, &pdf[close..]].concat();
        let text = format!("[0 {open:010} {:010} {tail:010}]", close + new.len());
        bytes[range..range + 36].copy_from_slice(text.as_bytes());
        bytes
    };
    corpus.pdf(58, "the second part moved behind something new", wrapped);
    let appended = {
        let mut bytes = [pdf, b"<</Sold(yes)>>", &pdf[close..]].concat();
        let text = format!("[0 {open:010} {:010} {tail:010}]", pdf.len() + 14);
        bytes[range..range + 36].copy_from_slice(text.as_bytes());
        bytes
    };
    corpus.pdf(58, "the signed part kept at the end", appended);

    for (name, change) in hidden() {
        corpus.pdf(59, name, signed(&change)?);
    }
    for (name, change) in active() {
        corpus.pdf(60, name, signed(&change)?);
    }

    let other = Draft::new(&material.records[1].bytes, &[], TIMES[2]);
    corpus.pdf(
        61,
        "the record of another time in it",
        sign_report(material, &other)?,
    );
    let rewritten = {
        let value = material.records[2].value()?;
        let text = serde_json::to_vec_pretty(&value).map_err(fault("record"))?;
        sign_report(material, &Draft::new(&text, &[], TIMES[2]))?
    };
    corpus.pdf(61, "its record written anew", rewritten);
    let altered = {
        let text =
            String::from_utf8_lossy(&material.records[2].bytes).replacen("703.5", "705.5", 1);
        sign_report(material, &Draft::new(text.as_bytes(), &[], TIMES[2]))?
    };
    corpus.pdf(61, "its record altered", altered);
    let mut bag = sound(material)?;
    let stranger = material.resealed(2, &material.keys.workshop, |record| {
        record["decision"]["reason"] = serde_json::json!("Another story.");
    })?;
    bag.put(
        REPORT,
        sign_report(material, &Draft::new(&stranger, &[], TIMES[2]))?,
    );
    corpus.package(61, "a report of a record that is not here", close_bag(bag));

    let draft = report(material, 3);
    corpus.pdf(
        62,
        "a certificate of the same name and another key",
        draft.signed(&material.keys.stranger, ISSUER, TIMES[0])?,
    );
    corpus.pdf(
        62,
        "an old certificate of the same key",
        draft.signed(&material.keys.workshop, ISSUER, "1990-01-01T00:00:00Z")?,
    );
    let history = super::cases_keys::rotated(material)?.file();
    let carried = Draft::new(
        &material.records[0].bytes,
        &[("key-history.json", &history)],
        TIMES[0],
    );
    corpus.pdf(
        62,
        "signed by a later key, with the history",
        carried.signed(&material.keys.second, ISSUER, super::cases_keys::ROTATED)?,
    );
    corpus.pdf(
        62,
        "signed by a stranger, with the history",
        carried.signed(&material.keys.stranger, ISSUER, super::cases_keys::ROTATED)?,
    );

    let older = sign_report(material, &report(material, 1))?;
    let mut files = vec![("report.pdf", older.clone())];
    for (name, index) in [("02.json", 1), ("03.json", 2)] {
        files.push((name, material.records[index].bytes.clone()));
    }
    corpus.add(
        63,
        Kind::Pdf,
        "of the first record while later ones are here",
        files,
    );
    let mut bag = sound(material)?;
    bag.take(REPORT);
    bag.put("reports/trial-01-intake.pdf", older);
    corpus.package(63, "a report of the first record", close_bag(bag));
    Ok(())
}

fn close_bag(mut bag: Bag) -> Vec<u8> {
    bag.close();
    bag.zipped()
}

type Change = Box<dyn Fn(&mut Draft)>;

/// 59: what a page can hide, signed with it.
fn hidden() -> Vec<(&'static str, Change)> {
    vec![
        (
            "a hidden layer",
            Box::new(|draft: &mut Draft| {
                draft.add(number::CATALOG, "/OCProperties<</OCGs[17 0 R]/D<<>>>>");
                draft.set(number::NEXT, "<</Type/OCG/Name(hidden)>>");
            }) as Change,
        ),
        (
            "an object that nothing names",
            Box::new(|draft: &mut Draft| {
                draft.set(number::NEXT, "<</Type/Page/MediaBox[0 0 9 9]>>");
            }),
        ),
        (
            "an object that is not there",
            Box::new(|draft: &mut Draft| draft.add(number::PAGE, "/Tabs 40 0 R")),
        ),
        (
            "a text field",
            Box::new(|draft: &mut Draft| {
                draft.set(number::NEXT, "<</FT/Tx/T(Price)/V(12)>>");
                draft.replace(number::FORM, "[5 0 R]", "[5 0 R 17 0 R]");
            }),
        ),
        (
            "a second annotation",
            Box::new(|draft: &mut Draft| {
                draft.set(number::NEXT, "<</Type/Annot/Subtype/Square/Rect[0 0 9 9]>>");
                draft.replace(number::PAGE, "[5 0 R]", "[5 0 R 17 0 R]");
            }),
        ),
        (
            "a widget over the page that is not printed",
            Box::new(|draft: &mut Draft| {
                draft.set(
                    number::NEXT,
                    "<</Subtype/Form/BBox[0 0 200 200]/Length 25>>stream\n1 1 1 rg 0 0 200 200 re f\nendstream",
                );
                draft.replace(
                    number::FIELD,
                    "/Rect[0 0 0 0]/F 132",
                    "/Rect[0 0 200 200]/F 0/AP<</N 17 0 R>>",
                );
            }),
        ),
        (
            "a kind of annotation in an object of its own",
            Box::new(|draft: &mut Draft| {
                draft.set(number::NEXT, "/Annot");
                draft.add(number::INFO, "/X<</Type 17 0 R/Rect[0 0 9 9]>>");
            }),
        ),
        (
            "the list of fields in an object of its own",
            Box::new(|draft: &mut Draft| {
                draft.set(number::NEXT, "[5 0 R]");
                draft.replace(number::FORM, "[5 0 R]", " 17 0 R");
            }),
        ),
    ]
}

/// 60: what acts when the file is opened.
fn active() -> Vec<(&'static str, Change)> {
    let add = |words: &'static str| {
        Box::new(move |draft: &mut Draft| draft.add(number::CATALOG, words)) as Change
    };
    vec![
        (
            "a script",
            add("/OpenAction<</S/JavaScript/JS(app.alert\\(1\\))>>"),
        ),
        ("a program", add("/OpenAction<</S/Launch/F(x)>>")),
        (
            "an address",
            add("/OpenAction<</S/URI/URI(http://example.org)>>"),
        ),
        ("further actions", add("/AA<</WC<</S/Named>>>>")),
        (
            "a form of another kind",
            Box::new(|draft: &mut Draft| draft.add(number::FORM, "/XFA(x)")),
        ),
        (
            "an action named in an object of its own",
            Box::new(|draft: &mut Draft| {
                draft.set(number::NEXT, "/Launch");
                draft.add(number::INFO, "/A<</S 17 0 R/F(x)>>");
            }),
        ),
        (
            "a catalogue in the trailer",
            Box::new(|draft: &mut Draft| {
                draft.add(number::CATALOG, "/OpenAction<</S/Launch/F(x)>>");
                draft.catalogue_in_trailer();
            }),
        ),
    ]
}
