//! How to check this report, and the place of the signature.

use super::{Content, words};
use crate::{
    Speech,
    drawing::{qr, stroked},
    font,
    layout::{FigureSpec, Flow, Line, Span, Style, count, draw_line, style},
    scene::{Path, Role, SignatureField, Stroke},
    speech::{Pair, pair},
};

/// Side of the QR code, mm.
const CODE: f64 = 34.0;
/// Least height of the signature's panel, mm.
const PANEL: f64 = 24.0;
/// From the frame of the signature to its words, mm.
const INSET: f64 = 4.0;

fn steps() -> [(Option<Pair>, Pair); 4] {
    [
        (
            None,
            pair(
                "Get the key's fingerprint from the workshop by another way (a card, a call) and compare it with the one below, all twenty characters.",
                "鍵の指紋を工房から別の手段（名刺、電話）で得て、下の指紋と二十文字すべてを照合する。",
            ),
        ),
        (
            None,
            pair(
                "tangmark verify FILE.pdf judges bytes, signer, time and completeness apart. It needs no network and no workshop.",
                "tangmark verify FILE.pdf は、内容、署名者、時刻、完全性を別々に判定する。ネットワークも工房も要らない。",
            ),
        ),
        (
            None,
            pair(
                "With another PDF reader: the certificate is the workshop's own, so a reader calls it unknown. What counts: the signature covers the whole file, nothing was changed after it, and the certificate's key is the one below.",
                "他の PDF 閲覧ソフトでは、証明書は工房自身のものなので「不明」と表示される。署名がファイル全体に及ぶこと、署名後に変更がないこと、証明書の鍵が下の鍵であることを確かめる。",
            ),
        ),
        (
            None,
            pair(
                "The attachment record.json is the sealed record. Its name, printed at the foot of every page and in the code, is the SHA-256 digest of its canonical form (RFC 8785) without the proof.",
                "添付の record.json が封印した記録である。各ページの下と二次元コードに記した名は、証明を除いた正規形（RFC 8785）の SHA-256 ダイジェストである。",
            ),
        ),
    ]
}

/// Sets how to check the file, whole on one page, with the signature.
pub(super) fn verify(flow: &mut Flow, content: &Content<'_>) {
    let title = pair("How to check this report", "本報告書の確かめ方");
    if flow.fit.brief {
        words::heading(flow, &title, SMALL_CODE);
        in_short(flow, content);
        return;
    }
    words::heading(flow, &title, 48.0 + CODE);
    flow.say(
        &pair(
            "This file carries the sealed record it was made from, and one signature over all its bytes by the key below. A signature shows that the holder of a key made these bytes and that they are unchanged; who holds the key, and whether the words are true, it cannot show.",
            "このファイルは、作成の元となった封印した記録を添付し、全体に下の鍵による署名が一つ付く。署名は、鍵の持ち主がこの内容を作り、以後変更がないことを示す。鍵の持ち主が誰か、記述が真実かは示さない。",
        ),
        style::BODY,
    );
    flow.y += 1.6;
    flow.say_list(&steps(), style::CELL);
    flow.gap(3.0);
    seal(flow, content);
}

/// Sets a short word on checking, with the signature.
pub(super) fn short(flow: &mut Flow, content: &Content<'_>) {
    flow.gap(4.0);
    in_short(flow, content);
}

fn in_short(flow: &mut Flow, content: &Content<'_>) {
    let said = pair(
        "To check: compare the fingerprint with one you have from the workshop by another way, all twenty characters; then run tangmark verify FILE.pdf. The sealed record is attached. A signature shows who made these bytes and that they are unchanged, not that the words are true.",
        "確かめ方：工房から別の手段で得た指紋と二十文字すべてを照合し、tangmark verify FILE.pdf を実行する。封印した記録を添付してある。署名は、誰がこの内容を作ったか、以後変更がないことを示すが、記述が真実であることは示さない。",
    );
    let panel = Panel::of(flow, content, SMALL_CODE);
    let words = flow.height_of(&said, style::NOTE);
    flow.ensure(words + 1.6 + panel.height().max(SMALL_CODE) + panel.below());
    if !flow.fit.brief {
        flow.section = Some(flow.scene.add_node(Role::Section, None));
    }
    flow.say(&said, style::NOTE);
    flow.y += 1.6;
    sealed(flow, content, SMALL_CODE);
}

/// Side of the QR code, and least height of the signature's panel, where there is little room, mm.
const SMALL_CODE: f64 = 20.0;

fn seal(flow: &mut Flow, content: &Content<'_>) {
    sealed(flow, content, CODE);
}

/// Sets the code and the signature beside it.
fn sealed(flow: &mut Flow, content: &Content<'_>, side: f64) {
    let panel = Panel::of(flow, content, side);
    let height = side.max(panel.height()) + panel.below();
    flow.ensure(height);
    let top = flow.y;
    let text = record_code(content);
    flow.figure_here(&FigureSpec {
        alternative: flow.speech.text(&pair(
            "QR code that holds the name of this record, the digest printed at the foot of each page",
            "この記録の名（各ページの下に記したダイジェスト）を収めた二次元コード",
        )),
        x: 0.0,
        width: side,
        height: side,
        draw: &|x, y| qr::draw(&text, x, y, side),
    });
    panel.set(flow, content, top, side + 6.0);
    flow.y = top + height + 1.0;
}

/// What a code on paper says: how the record is named.
pub(super) fn record_code(content: &Content<'_>) -> String {
    format!("tangmark:record:sha-256:{}", content.name)
}

/// The signature in words, as page content; the signature field is an empty frame around it.
struct Panel {
    lines: Vec<(Line, Style)>,
    note: Vec<Line>,
    least: f64,
}

impl Panel {
    /// Beside a code with the side given.
    fn of(flow: &mut Flow, content: &Content<'_>, side: f64) -> Self {
        let speech = flow.speech;
        let record = content.record;
        let width = flow.frame.text_width() - side - 6.0;
        let signed = match speech {
            Speech::English => format!("Signed by {}", record.issuer.name),
            Speech::Japanese => format!("署名：{}", record.issuer.name),
            Speech::Both => format!("Signed by / 署名： {}", record.issuer.name),
        };
        let named = |name: Pair| Span::quiet(format!("{} ", speech.text(&name)));
        let fingerprint = Span {
            weight: Some(font::Weight::Bold),
            ..Span::figures(content.fingerprint)
        };
        let blocks = [
            (vec![Span::bold(signed)], style::CELL),
            (
                vec![named(pair("fingerprint", "指紋")), fingerprint],
                style::CELL,
            ),
            (
                vec![
                    named(pair("key", "鍵")),
                    Span::plain(record.issuer.id.clone()),
                ],
                style::NOTE,
            ),
            (
                vec![
                    named(pair(
                        "time, by the issuer's own clock",
                        "発行者の時計による時刻",
                    )),
                    Span::figures(record.issued_at.as_str()),
                ],
                style::NOTE,
            ),
        ];
        let mut lines = Vec::new();
        for (spans, style) in blocks {
            let set = flow.lines(&spans, style, width - 2.0 * INSET);
            lines.extend(set.into_iter().map(|line| (line, style)));
        }
        let note = if content.demo {
            let said = words::bold(speech.label(&pair(
                "Demonstration: the key is a throw-away and vouches for nothing.",
                "見本：鍵は使い捨てで、何も保証しない。",
            )));
            flow.lines(&said, style::NOTE, width)
        } else {
            Vec::new()
        };
        Self {
            lines,
            note,
            least: side.min(PANEL),
        }
    }

    fn height(&self) -> f64 {
        let lines: f64 = self.lines.iter().map(|(_, style)| style.leading).sum();
        (lines + 4.4).max(self.least)
    }

    /// Height of the note below, mm.
    fn below(&self) -> f64 {
        if self.note.is_empty() {
            0.0
        } else {
            1.4 + style::NOTE.leading * count(self.note.len())
        }
    }

    fn set(&self, flow: &mut Flow, content: &Content<'_>, top: f64, x: f64) {
        let left = flow.frame.left + x;
        let width = flow.frame.text_width() - x;
        let height = self.height();
        let words = flow.node(Role::Paragraph);
        // The form element holds the field alone (ISO 32000-1, table 340).
        let form = flow.node(Role::Form);
        let mut y = top + 2.2;
        let mut draws = Vec::new();
        for (line, style) in &self.lines {
            draws.extend(draw_line(line, *style, left + INSET, y));
            y += style.leading;
        }
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
            flow.set_lines(node, &self.note, style::NOTE, left);
        }
    }
}
