#![allow(clippy::unwrap_used)]
use super::*;
use crate::layout::style::BODY;

fn texts(spans: &[Span], width: f64) -> Vec<String> {
    break_lines(spans, BODY, width)
        .iter()
        .map(|line| line.runs.iter().map(|run| run.text.as_str()).collect())
        .collect()
}

#[test]
fn lines_break_at_spaces_and_keep_the_space() {
    let lines = texts(&[Span::plain("one two "), Span::bold("three four")], 14.0);
    assert_eq!(lines.concat(), "one two three four");
    assert!(
        lines.len() > 1
            && lines[..lines.len() - 1]
                .iter()
                .all(|line| line.ends_with(' ')),
        "{lines:?}"
    );
}

#[test]
fn no_line_is_wider_than_asked() {
    let text = "A blade of 701.5 mm 刃文は小乱れ、匂口深く沸よくつく。 aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa (end)";
    for width in [5.0, 12.0, 30.0, 170.0] {
        let lines = break_lines(&[Span::plain(text)], BODY, width);
        assert!(
            lines.iter().all(|line| line.width <= width + 1e-5),
            "{width}"
        );
        assert_eq!(texts(&[Span::plain(text)], width).concat(), text);
    }
}

#[test]
fn japanese_marks_do_not_start_or_end_a_line() {
    let lines = texts(&[Span::plain("刃文、「小乱れ」。匂口、「深く」。")], 13.0);
    assert!(lines.len() > 2, "{lines:?}");
    for line in &lines {
        assert!(
            !line.starts_with(['、', '。', '」']) && !line.ends_with('「'),
            "{lines:?}"
        );
    }
}

#[test]
fn a_short_japanese_word_stays_whole_and_a_sentence_does_not() {
    for width in 20..40 {
        let lines = texts(
            &[Span::plain(
                "file marks yasurime 鑢目 and 登録証 or 勝手下り",
            )],
            f64::from(width),
        );
        assert!(
            ["鑢目", "登録証", "勝手下り"]
                .iter()
                .all(|word| lines.iter().any(|line| line.contains(word))),
            "{lines:?}"
        );
    }
    assert!(
        texts(
            &[Span::plain("茎は生ぶ、目釘孔一。銘は太刀銘に切る。")],
            30.0
        )
        .len()
            > 1
    );
}

#[test]
fn numbers_keep_their_units_and_dates_stay_whole() {
    assert_eq!(
        texts(&[Span::plain("1\u{a0}mm 2026-01-02")], 1.0).concat(),
        "1 mm 2026-01-02"
    );
    let lines = texts(&[Span::plain("at 701.5\u{a0}mm on 2026-01-02")], 25.0);
    assert!(
        lines.iter().any(|line| line.contains("701.5 mm"))
            && lines.iter().any(|line| line.contains("2026-01-02")),
        "{lines:?}"
    );
}

#[test]
fn languages_are_apart_and_line_ends_are_kept() {
    let lines = break_lines(&[Span::plain("ridge 鎬 line\n\nend")], BODY, 100.0);
    let languages: Vec<_> = lines[0]
        .runs
        .iter()
        .map(|run| (run.text.as_str(), run.language))
        .collect();
    assert_eq!(
        languages,
        [
            ("ridge ", Language::English),
            ("鎬 ", Language::Japanese),
            ("line ", Language::English)
        ]
    );
    assert_eq!(lines.len(), 3);
    assert_eq!(texts(&[Span::plain("one\ntwo")], 100.0), ["one ", "two"]);
}

#[test]
fn a_reading_stands_centred_over_its_word_and_both_stay_together() {
    let spans = [
        Span::plain("the ridge "),
        Span::with_reading("鎬", "しのぎ"),
        Span::plain(" of it"),
    ];
    for width in 4..40 {
        let lines = break_lines(&spans, BODY, f64::from(width));
        let with: Vec<_> = lines
            .iter()
            .filter(|line| line.runs.iter().any(|run| run.text == "鎬"))
            .collect();
        assert_eq!(with.len(), 1);
        assert!(
            with[0].runs.iter().any(|run| run.text == "しのぎ"),
            "{width}"
        );
    }
    let line = &break_lines(&spans, BODY, 100.0)[0];
    let draws = draw_line(line, BODY, 0.0, 0.0);
    let texts: Vec<&TextDraw> = draws
        .iter()
        .map(|draw| match draw {
            Draw::Text(text) => text,
            _ => panic!("only text"),
        })
        .collect();
    let middle =
        |text: &TextDraw| text.x + Face::of(text.weight).width(&text.text, text.size, false) / 2.0;
    let [before, word, reading, after] = texts[..] else {
        panic!("{texts:?}");
    };
    assert_eq!(
        [before.ruby, word.ruby, reading.ruby, after.ruby],
        [
            RubyPart::None,
            RubyPart::Base,
            RubyPart::Reading,
            RubyPart::None
        ]
    );
    assert!((middle(word) - middle(reading)).abs() < 1e-9);
    // Above the kanji, whose body ends 0.88 of an em above the base line, and inside the distance of lines.
    let rise = word.y - reading.y;
    assert!(rise > 0.88 * BODY.size * MM_PER_POINT);
    let top = rise + 0.88 * reading.size * MM_PER_POINT;
    assert!(
        top < BODY.leading,
        "the reading reaches the base line above"
    );
    // What follows begins behind the wider of the two.
    let end = |text: &TextDraw| text.x + Face::of(text.weight).width(&text.text, text.size, false);
    assert!(after.x >= end(word).max(end(reading)) - 1e-9);
}

#[test]
fn a_reading_too_wide_for_the_line_follows_in_brackets() {
    let spans = [Span::with_reading("勝手下り鑢目", "かってさがりやすりめ")];
    let lines = break_lines(&spans, BODY, 9.0);
    let text: String = lines
        .iter()
        .flat_map(|line| &line.runs)
        .map(|run| run.text.as_str())
        .collect();
    assert_eq!(text, "勝手下り鑢目（かってさがりやすりめ）");
    assert!(lines.iter().all(|line| line.width <= 9.0 + 1e-5));
}

#[test]
fn widths_of_lines_are_those_of_their_texts() {
    let text = "AVATAR 1-2/3 Tōya's m\u{304}etre 鎬 (しのぎ) 11.1\u{a0}mm office";
    for width in [6.0, 11.0, 25.0, 80.0] {
        for line in break_lines(&[Span::figures(text)], BODY, width) {
            let whole: String = line.runs.iter().map(|run| run.text.as_str()).collect();
            let drawn = in_use().width(whole.trim_end(), BODY.weight, BODY.size, true);
            assert!((line.width - drawn).abs() < 1e-9, "{whole}");
        }
    }
}

mod any_text {
    use proptest::prelude::*;

    use super::*;
    use crate::font::{Weight, drawable};

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(300))]

        #[test]
        fn fits_its_lines_and_loses_nothing(
            text in "(\\PC|[a-z ]|[ぁ-ん]|[\u{300}-\u{36f}]|\u{a0}|\\n){0,60}",
            width in 6.0_f64..60.0,
            tabular: bool,
            bold: bool,
        ) {
            let drawn = drawable(&text.replace('\n', " "));
            let span = Span {
                text: drawn.text.clone(),
                tabular,
                weight: bold.then_some(Weight::Bold),
                ..Span::default()
            };
            let lines = break_lines(&[span], BODY, width);
            let set: String = lines.iter().flat_map(|line| &line.runs).map(|run| run.text.as_str()).collect();
            prop_assert_eq!(set, drawn.text.replace('\u{a0}', " "));
            for line in &lines {
                prop_assert!(line.width <= width + 1e-5, "{} > {width}", line.width);
            }
        }
    }
}
