//! A bar of known length below a picture.

use crate::{
    drawing::stroked,
    font::{Face, MM_PER_POINT},
    layout::style,
    scene::{Draw, Language, Path, PathDraw, RubyPart, Stroke, TextDraw},
};

/// Lengths a bar may have, mm on the blade.
const LENGTHS: [f64; 13] = [
    0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0,
];
/// Longest bar, as part of the width of the picture.
const LONGEST: f64 = 0.4;
/// Shortest bar that can be read off, mm on paper.
const SHORTEST: f64 = 4.0;
/// Height of the bar, mm.
const THICK: f64 = 1.0;

/// A bar that is so long on the blade and on paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ScaleBar {
    /// Length on the blade, mm.
    pub(super) on_blade: f64,
    /// Length on paper, mm.
    pub(super) on_paper: f64,
    /// Blade over paper: the picture is shown 1 to this number.
    pub(super) scale: f64,
}

impl ScaleBar {
    /// Height of the place below the picture, mm.
    pub(super) const HEIGHT: f64 = 4.2;

    /// The longest round bar for a picture that shows `field` mm of the blade in `width` mm on paper; nothing where the
    /// numbers allow none.
    pub(super) fn new(field: f64, width: f64) -> Option<Self> {
        let scale = field / width;
        let fits = |length: &&f64| **length / scale <= LONGEST * width;
        let on_blade = *LENGTHS.iter().rev().find(fits)?;
        let on_paper = on_blade / scale;
        (scale.is_finite() && on_paper >= SHORTEST).then_some(Self {
            on_blade,
            on_paper,
            scale,
        })
    }

    /// What stands beside the bar: its length on the blade and the scale of the picture.
    pub(super) fn label(&self) -> String {
        format!("{}\u{a0}mm · {}", self.on_blade, self.written())
    }

    /// The scale as people write it, `1 : 3.1`, to two digits.
    pub(super) fn written(&self) -> String {
        let two_digits = |value: f64| {
            if value < 9.95 {
                format!("{value:.1}")
            } else {
                format!("{value:.0}")
            }
        };
        if self.scale < 1.0 {
            format!("{}\u{a0}:\u{a0}1", two_digits(1.0 / self.scale))
        } else {
            format!("1\u{a0}:\u{a0}{}", two_digits(self.scale))
        }
    }

    /// Draws it below a picture whose lower left corner is given: half black, half white, so that its middle can be seen.
    pub(super) fn draw(&self, x: f64, y: f64) -> Vec<Draw> {
        let (top, half) = (y + 1.4, self.on_paper / 2.0);
        let filled = PathDraw {
            path: Path::rectangle(x, top, half, THICK),
            fill: Some(style::INK),
            stroke: None,
        };
        let outline = stroked(
            Path::rectangle(x, top, self.on_paper, THICK),
            Stroke::solid(style::INK, 0.15),
        );
        let label = self.label();
        let size = style::MAP.size;
        let text = TextDraw {
            x: x + self.on_paper + 1.6,
            // The middle of the figures is level with the middle of the bar.
            y: top + THICK / 2.0 + 0.35 * size * MM_PER_POINT,
            size,
            weight: style::MAP.weight,
            colour: style::MAP.colour,
            language: Language::English,
            tabular: false,
            ruby: RubyPart::None,
            text: label,
        };
        debug_assert!(Face::of(text.weight).width(&text.text, size, false) > 0.0);
        vec![Draw::Path(filled), outline, Draw::Text(text)]
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_bar_is_as_long_on_paper_as_its_scale_says() {
        // 56.3 mm of the blade on 80 mm of paper: 1.42 times as large; 20 mm are 28.42 mm on paper.
        let bar = ScaleBar::new(56.3, 80.0).unwrap();
        assert!((bar.on_paper - 20.0 * 80.0 / 56.3).abs() < 1e-12, "{bar:?}");
        assert_eq!(bar.label(), "20\u{a0}mm · 1.4\u{a0}:\u{a0}1");
        // A whole blade: 966 mm on 166 mm.
        let bar = ScaleBar::new(966.0, 166.0).unwrap();
        assert!((bar.on_paper - 200.0 * 166.0 / 966.0).abs() < 1e-12);
        assert_eq!(bar.label(), "200\u{a0}mm · 1\u{a0}:\u{a0}5.8");
        for (field, width) in [(30.0, 51.0), (0.5, 51.0), (2000.0, 166.0), (254.0, 80.0)] {
            let bar = ScaleBar::new(field, width).unwrap();
            assert!(bar.on_paper <= 0.4 * width && bar.on_paper >= SHORTEST);
            assert!((bar.on_paper / width - bar.on_blade / field).abs() < 1e-12);
        }
    }

    #[test]
    fn numbers_that_allow_no_bar_give_none() {
        for (field, width) in [
            (0.0, 80.0),
            (f64::NAN, 80.0),
            (1e9, 80.0),
            (80.0, 0.0),
            (-5.0, 80.0),
        ] {
            assert_eq!(ScaleBar::new(field, width), None, "{field} {width}");
        }
    }

    #[test]
    fn the_drawn_bar_has_the_length_it_says() {
        let bar = ScaleBar::new(56.3, 80.0).unwrap();
        let draws = bar.draw(30.0, 40.0);
        let Draw::Path(outline) = &draws[1] else {
            panic!("{draws:?}");
        };
        let xs: Vec<f64> = outline
            .path
            .segments
            .iter()
            .filter_map(|segment| match segment {
                crate::scene::Segment::Move([x, _]) | crate::scene::Segment::Line([x, _]) => {
                    Some(*x)
                }
                _ => None,
            })
            .collect();
        let length = xs.iter().copied().fold(f64::MIN, f64::max)
            - xs.iter().copied().fold(f64::MAX, f64::min);
        assert!((length - bar.on_paper).abs() < 1e-9, "{length}");
    }
}
