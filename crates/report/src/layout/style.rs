//! Sizes, distances and colours: one place for the look of the pages.

use crate::{font::Weight, scene::Colour};

/// Text.
pub(crate) const INK: Colour = Colour(0x1b, 0x1c, 0x1e);
/// Labels and secondary text: at least 7:1 against white.
pub(crate) const SLATE: Colour = Colour(0x50, 0x55, 0x5b);
/// Hairlines.
pub(crate) const HAIR: Colour = Colour(0xc4, 0xc8, 0xcc);
/// The one accent: ink of indigo, for rules beside headings and what decides.
pub(crate) const INDIGO: Colour = Colour(0x1f, 0x36, 0x5c);
/// Ground of steel in drawings.
pub(crate) const STEEL: Colour = Colour(0xe9, 0xeb, 0xee);
/// Ground of panels.
pub(crate) const PAPER: Colour = Colour(0xf5, 0xf5, 0xf2);

/// Size, line height and colour of a kind of text.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Style {
    /// Points.
    pub(crate) size: f64,
    /// Distance of base lines, mm.
    pub(crate) leading: f64,
    /// Weight of text that says nothing else.
    pub(crate) weight: Weight,
    /// Colour of text that says nothing else.
    pub(crate) colour: Colour,
}

const fn style(size: f64, leading: f64, weight: Weight, colour: Colour) -> Style {
    Style {
        size,
        leading,
        weight,
        colour,
    }
}

/// Title of the report.
pub(crate) const TITLE: Style = style(19.0, 8.6, Weight::Bold, INK);
/// Line above the title.
pub(crate) const EYEBROW: Style = style(7.5, 3.8, Weight::Bold, INDIGO);
/// Heading of a section.
pub(crate) const SECTION: Style = style(11.5, 5.6, Weight::Bold, INK);
/// Heading inside a section.
pub(crate) const SUBSECTION: Style = style(8.8, 4.6, Weight::Bold, INK);
/// Text.
pub(crate) const BODY: Style = style(8.6, 4.4, Weight::Regular, INK);
/// Table cells.
pub(crate) const CELL: Style = style(8.2, 4.0, Weight::Regular, INK);
/// Column headings and labels.
pub(crate) const LABEL: Style = style(7.0, 3.5, Weight::Regular, SLATE);
/// Notes and captions.
pub(crate) const NOTE: Style = style(7.2, 3.6, Weight::Regular, SLATE);
/// Words inside drawings.
pub(crate) const MAP: Style = style(6.2, 3.0, Weight::Regular, SLATE);
/// Header and footer.
pub(crate) const CHROME: Style = style(6.0, 2.9, Weight::Regular, SLATE);
/// The word that decides, on page 1.
pub(crate) const VERDICT: Style = style(15.0, 7.2, Weight::Bold, INDIGO);

/// Paper and margins.
pub(crate) mod page {
    use crate::PageSize;

    /// The frame in which text stands, mm.
    #[derive(Debug, Clone, Copy, PartialEq)]
    pub(crate) struct Frame {
        pub(crate) width: f64,
        pub(crate) height: f64,
        pub(crate) left: f64,
        pub(crate) right: f64,
        pub(crate) top: f64,
        pub(crate) bottom: f64,
    }

    impl Frame {
        /// The frame of a paper size.
        pub(crate) const fn of(size: PageSize) -> Self {
            let (width, height) = match size {
                PageSize::A4 => (210.0, 297.0),
                // 8.5 by 11 inches.
                PageSize::Letter => (215.9, 279.4),
            };
            Self {
                width,
                height,
                left: 24.0,
                right: 20.0,
                top: 21.0,
                bottom: 22.0,
            }
        }

        /// Width of the text.
        pub(crate) fn text_width(&self) -> f64 {
            self.width - self.left - self.right
        }
    }
}
