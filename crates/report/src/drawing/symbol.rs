//! The dark and light modules of a QR code.
//!
//! The library's own choice of a mask took as long as setting a page; the choice here follows the same four rules over
//! plain bytes. Every mask gives a symbol that readers read: the rules only find the one that is read most easily.

use qrcode::{
    Color, EcLevel,
    bits::encode_auto,
    canvas::{Canvas, MaskPattern},
    ec::construct_codewords,
};

const MASKS: [MaskPattern; 8] = [
    MaskPattern::Checkerboard,
    MaskPattern::HorizontalLines,
    MaskPattern::VerticalLines,
    MaskPattern::DiagonalLines,
    MaskPattern::LargeCheckerboard,
    MaskPattern::Fields,
    MaskPattern::Diamonds,
    MaskPattern::Meadow,
];

/// The modules of a symbol, row by row.
pub(super) struct Symbol {
    /// Modules along a side.
    pub(super) side: usize,
    /// Whether each is dark.
    pub(super) dark: Vec<bool>,
}

impl Symbol {
    /// Makes the smallest symbol for `text` with error correction level M; nothing when the text is too long.
    ///
    /// Source: ISO/IEC 18004, 7.8.3 (of the eight masks the one with the least penalty); its text from memory.
    pub(super) fn of(text: &str) -> Option<Self> {
        Self::candidates(text)?.min_by_key(Self::penalty)
    }

    /// The symbols for `text`, one for each mask.
    fn candidates(text: &str) -> Option<impl Iterator<Item = Self>> {
        let level = EcLevel::M;
        let bits = encode_auto(text.as_bytes(), level).ok()?;
        let version = bits.version();
        let (data, correction) = construct_codewords(&bits.into_bytes(), version, level).ok()?;
        let mut canvas = Canvas::new(version, level);
        canvas.draw_all_functional_patterns();
        canvas.draw_data(&data, &correction);
        let side = usize::try_from(version.width()).ok()?;
        Some(MASKS.into_iter().map(move |mask| {
            let mut masked = canvas.clone();
            masked.apply_mask(mask);
            let colours = masked.into_colors().into_iter();
            Self {
                side,
                dark: colours.map(|colour| colour == Color::Dark).collect(),
            }
        }))
    }

    fn penalty(&self) -> usize {
        let across = self.dark.chunks_exact(self.side);
        let turned: Vec<bool> = (0..self.side)
            .flat_map(|column| self.dark.iter().skip(column).step_by(self.side).copied())
            .collect();
        let lines = across.clone().chain(turned.chunks_exact(self.side));
        let lines: usize = lines.map(|line| runs(line) + finders(line)).sum();
        let blocks: usize = across
            .clone()
            .zip(across.skip(1))
            .map(|(a, b)| blocks(a, b))
            .sum();
        lines + blocks + self.imbalance()
    }

    /// Ten for each twentieth by which the dark part differs from a half.
    fn imbalance(&self) -> usize {
        let dark = self.dark.iter().filter(|dark| **dark).count();
        let half = self.dark.len();
        (2 * dark).abs_diff(half) * 10 / half * 10
    }
}

/// Three for five modules alike in a row, and one for each further.
fn runs(line: &[bool]) -> usize {
    line.chunk_by(|a, b| a == b)
        .map(|run| if run.len() >= 5 { run.len() - 2 } else { 0 })
        .sum()
}

/// Three for each block of two by two modules alike.
fn blocks(above: &[bool], below: &[bool]) -> usize {
    let pairs = above.windows(2).zip(below.windows(2));
    3 * pairs
        .filter(|(a, b)| a[0] == a[1] && a[0] == b[0] && a[0] == b[1])
        .count()
}

/// Forty for what looks like a corner mark: dark and light as 1:1:3:1:1, with four light modules on one side.
fn finders(line: &[bool]) -> usize {
    const MARK: u32 = 0b101_1101;
    let mut seen = 0_u32;
    // Outside of the symbol all is light.
    let beyond = std::iter::repeat_n(&false, 4);
    line.iter()
        .chain(beyond)
        .map(|dark| {
            seen = (seen << 1 | u32::from(*dark)) & 0x7fff;
            let (before, mark, after) = (seen >> 11, seen >> 4 & 0x7f, seen & 0xf);
            40 * usize::from(mark == MARK && (before == 0 || after == 0))
        })
        .sum()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn line(text: &str) -> Vec<bool> {
        text.chars().map(|letter| letter == '#').collect()
    }

    #[test]
    fn penalties_are_counted_as_the_rules_say() {
        assert_eq!(runs(&line("####.....#")), 3);
        assert_eq!(runs(&line("#######")), 5);
        assert_eq!(blocks(&line("##.."), &line("##..")), 6);
        assert_eq!(blocks(&line("##.."), &line("#...")), 3);
        assert_eq!(finders(&line("....#.###.#")), 40, "light on both sides");
        assert_eq!(finders(&line("#...#.###.##")), 0);
        assert_eq!(finders(&line("##.#.###.#....#")), 40);
        let half = Symbol {
            side: 2,
            dark: line("##.."),
        };
        let all = Symbol {
            side: 2,
            dark: line("####"),
        };
        assert_eq!((half.imbalance(), all.imbalance()), (0, 100));
    }

    /// The library masks the same data: one mask gives its symbol, module by module; ours is the one read most easily.
    #[test]
    fn one_mask_gives_the_symbol_of_the_library() {
        for text in ["tangmark:record:sha-256:00ff", "A", &"鎬 ".repeat(40)] {
            let symbol = Symbol::of(text).unwrap();
            let theirs = qrcode::QrCode::with_error_correction_level(text, EcLevel::M).unwrap();
            let theirs: Vec<bool> = theirs
                .to_colors()
                .into_iter()
                .map(|colour| colour == Color::Dark)
                .collect();
            let all: Vec<Symbol> = Symbol::candidates(text).unwrap().collect();
            assert_eq!(all.len(), 8);
            assert_eq!(all.iter().filter(|one| one.dark == theirs).count(), 1);
            assert_eq!(all.iter().filter(|one| one.dark == symbol.dark).count(), 1);
            assert!(all.iter().all(|one| one.side == symbol.side));
            let least = all.iter().map(Symbol::penalty).min();
            assert_eq!(Some(symbol.penalty()), least, "{text}");
        }
        assert!(Symbol::of(&"x".repeat(5000)).is_none());
    }
}
