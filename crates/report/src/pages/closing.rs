//! What is withheld, cautions, how to check this report, and the place of the signature.

use tangmark_core::record::{Record, SaltedDigest};

use super::Content;
use crate::{
    drawing::{qr, stroked},
    font,
    layout::{FigureSpec, Flow, Span, draw_line, style},
    scene::{Path, Role, SignatureField, Stroke},
};

pub(super) fn set(flow: &mut Flow, content: &Content<'_>) {
    withheld(flow, content.record);
    cautions(flow);
    verify(flow, content);
}

/// Places of the record that hold digests of withheld properties, with what they may hide.
fn withheld_places(record: &Record) -> Vec<String> {
    let mut places = Vec::new();
    let mut note = |digests: &[SaltedDigest], text: String| {
        if !digests.is_empty() {
            places.push(text);
        }
    };
    note(
        &record.withheld,
        "the record: valuation, and findings that touch withheld values".to_owned(),
    );
    let person = "name, address, contact";
    if let Some(agreement) = &record.agreement {
        note(
            &agreement.withheld,
            "the agreement: price ceiling, insured value".to_owned(),
        );
        note(
            &agreement.owner.withheld,
            format!("the agreement's owner: {person}"),
        );
    }
    for (name, list) in [
        ("period", &record.blade.period),
        ("maker", &record.blade.maker),
        ("origin", &record.blade.origin),
    ] {
        for (index, opinion) in list.iter().enumerate() {
            note(
                &opinion.author.withheld,
                format!("author of opinion {} on the {name}: {person}", index + 1),
            );
        }
    }
    for (index, inscription) in record
        .tang
        .iter()
        .flat_map(|tang| &tang.inscriptions)
        .enumerate()
    {
        for opinion in &inscription.opinions {
            note(
                &opinion.author.withheld,
                format!(
                    "author of an opinion on inscription {}: {person}",
                    index + 1
                ),
            );
        }
    }
    for (index, registration) in record.blade.registrations.iter().enumerate() {
        note(
            &registration.withheld,
            format!("registration {}: number", index + 1),
        );
    }
    if let Some(examination) = &record.examination {
        note(&examination.by.withheld, format!("the examiner: {person}"));
    }
    for (index, event) in record.custody.iter().enumerate() {
        let number = index + 1;
        note(&event.withheld, format!("custody event {number}: price"));
        for (name, other) in [("giver", &event.from), ("receiver", &event.to)] {
            if let Some(other) = other {
                note(
                    &other.withheld,
                    format!("custody event {number}, {name}: {person}"),
                );
            }
        }
        for (paper, document) in event.documents.iter().enumerate() {
            note(
                &document.withheld,
                format!("custody event {number}, paper {}: number", paper + 1),
            );
        }
    }
    for photo in &record.photos {
        note(
            &photo.withheld,
            format!("photograph {}: the original file", photo.id),
        );
    }
    if let Some(referral) = &record.referral {
        note(&referral.to.withheld, format!("the specialist: {person}"));
    }
    places
}

fn withheld(flow: &mut Flow, record: &Record) {
    flow.heading("Withheld", 14.0);
    let places = withheld_places(record);
    if places.is_empty() {
        flow.paragraph(
            &[Span::plain("Nothing is withheld in this record.")],
            style::BODY,
        );
        return;
    }
    let text = "The record keeps salted digests in place of these items. Digests without meaning fill up their number, so it cannot be told which item was withheld and which was never stated. Condition, measurements, work and decision can never be withheld.";
    flow.paragraph(&[Span::plain(text)], style::NOTE);
    flow.y += 0.8;
    let items: Vec<Vec<Span>> = places
        .into_iter()
        .map(|place| vec![Span::plain(place)])
        .collect();
    flow.list(&items, style::CELL);
}

/// The usual cautions of the trade: general, and second to local code and licensed practice.
const CAUTIONS: [(&str, &str); 6] = [
    (
        "Edge",
        "A blade cuts when it is drawn, wiped or passed on. Keep it covered except while it is worked or looked at, carry it edge away and by the tang or hilt, and keep others out of reach.",
    ),
    (
        "Acids and etchants",
        "They burn eyes and skin and give off fumes. Ventilate, cover eyes and hands, never mix them with bleach or other cleaners, neutralise and rinse, dry and oil at once. Never etch a tang.",
    ),
    (
        "Stone and dust",
        "Natural stones and their mud hold crystalline silica, which harms the lungs. Work wet, wipe wet, never sand dry or sweep. Old lacquer and repairs can hold lead. Oily rags can take fire by themselves.",
    ),
    (
        "Care",
        "No bare fingers on the steel, no cleaning of a tang's patina, a thin film of neutral oil, dry and even storage.",
    ),
    (
        "Protected materials",
        "Ivory, horn, turtle shell, some woods, rays and corals fall under species law. This report clears nothing.",
    ),
    (
        "Carrying, sending, selling",
        "Law on weapons, registration, export and import differs from place to place and changes. Ask the authority before the blade moves or changes hands.",
    ),
];

fn cautions(flow: &mut Flow) {
    flow.heading("Cautions", 20.0);
    let items: Vec<Vec<Span>> = CAUTIONS
        .iter()
        .map(|(name, text)| vec![Span::bold(format!("{name}. ")), Span::plain(*text)])
        .collect();
    flow.list(&items, style::CELL);
    flow.gap(0.6);
    flow.paragraph(
        &[Span::plain(
            "These are general remarks. Your local code and licensed practice decide.",
        )],
        style::CELL,
    );
}

/// Side of the QR code, mm.
const CODE: f64 = 34.0;
/// Height of the signature's panel, mm.
const PANEL: f64 = 24.0;

fn verify(flow: &mut Flow, content: &Content<'_>) {
    flow.heading("How to check this report", 40.0 + CODE);
    let intro = "This file carries the sealed record it was made from, and one signature over all its bytes by the key below. A signature shows that the holder of a key made these bytes and that they are unchanged; who holds the key, and whether the words are true, it cannot show.";
    flow.paragraph(&[Span::plain(intro)], style::BODY);
    flow.y += 1.6;
    let steps = [
        "Get the key's fingerprint from the workshop by another way (a card, a call) and compare it with the one below, all twenty characters.",
        "tangmark verify FILE.pdf judges bytes, signer, time and completeness apart. It needs no network and no workshop.",
        "With another PDF reader: the certificate is the workshop's own, so a reader calls it unknown. What counts: the signature covers the whole file, nothing was changed after it, and the certificate's key is the one below.",
        "The attachment record.json is the sealed record. Its name, printed at the foot of every page and in the code, is the SHA-256 digest of its canonical form (RFC 8785) without the proof.",
    ];
    let items: Vec<Vec<Span>> = steps.iter().map(|step| vec![Span::plain(*step)]).collect();
    flow.list(&items, style::CELL);
    flow.gap(3.0);
    flow.ensure(CODE.max(PANEL) + 4.0);
    let top = flow.y;
    let text = format!("tangmark:record:sha-256:{}", content.name);
    let code = FigureSpec {
        alternative: "QR code that holds the name of this record, the digest printed at the foot of each page".to_owned(),
        x: 0.0,
        width: CODE,
        height: CODE,
        draw: &|x, y| qr::draw(&text, x, y, CODE),
    };
    flow.figure_here(&code);
    signature(flow, content, top);
    flow.y = top + CODE.max(PANEL) + 2.0;
}

/// The signature in words, as page content; the signature field is an empty frame around it.
fn signature(flow: &mut Flow, content: &Content<'_>, top: f64) {
    let record = content.record;
    let x = CODE + 6.0;
    let width = flow.frame.text_width() - x;
    let left = flow.frame.left + x;
    let words = flow.node(Role::Paragraph);
    // The form element holds the field alone (ISO 32000-1, table 340).
    let form = flow.node(Role::Form);
    let lines = [
        (
            vec![Span::bold(format!("Signed by {}", record.issuer.name))],
            style::CELL,
        ),
        (
            vec![
                Span::quiet("fingerprint "),
                Span {
                    weight: Some(font::Weight::Bold),
                    ..Span::figures(content.fingerprint)
                },
            ],
            style::CELL,
        ),
        (
            vec![Span::quiet("key "), Span::plain(record.issuer.id.clone())],
            style::NOTE,
        ),
        (
            vec![
                Span::quiet("time, by the issuer's own clock "),
                Span::figures(record.issued_at.as_str()),
            ],
            style::NOTE,
        ),
    ];
    let mut y = top + 2.2;
    let mut draws = Vec::new();
    for (spans, style) in lines {
        for line in flow.lines(&spans, style, width - 8.0) {
            draws.extend(draw_line(&line, style, left + 4.0, y));
            y += style.leading;
        }
    }
    let height = (y - top + 2.2).max(PANEL);
    flow.scene.put(flow.page, Some(words), draws);
    let frame = stroked(
        Path::rectangle(left, top, width, height),
        Stroke::solid(style::HAIR, 0.2),
    );
    flow.scene.put(flow.page, None, vec![frame]);
    flow.scene.signature = Some(SignatureField {
        page: flow.page,
        bounds: [left, top, width, height],
        node: form,
    });
    if content.demo {
        flow.y = top + height + 1.4;
        let node = flow.node(Role::Paragraph);
        let lines = flow.lines(
            &[Span::bold(
                "Demonstration: the key is a throw-away and vouches for nothing.",
            )],
            style::NOTE,
            width,
        );
        flow.set_lines(node, &lines, style::NOTE, left);
    }
}
