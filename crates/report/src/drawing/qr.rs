//! The record's name as a QR code, drawn as one path.

use super::{filled, symbol::Symbol};
use crate::scene::{Colour, Draw, Path};

/// Draws `text` as a QR code with its quiet zone into a square of `side` mm; nothing when the text is too long.
///
/// Source: the symbol's structure and its quiet zone of four modules are those of ISO/IEC 18004.
pub(crate) fn draw(text: &str, x: f64, y: f64, side: f64) -> Vec<Draw> {
    let Some(code) = Symbol::of(text) else {
        return Vec::new();
    };
    let modules = code.side;
    let step = side / (modules as f64 + 8.0);
    let mut path = Path::new();
    for (row, line) in code.dark.chunks(modules).enumerate() {
        // Dark modules that touch in a row are one rectangle, so that no hairline shows between them.
        let mut column = 0;
        while column < modules {
            let dark = line.iter().skip(column).take_while(|dark| **dark).count();
            if dark > 0 {
                let (left, top) = (
                    x + (column as f64 + 4.0) * step,
                    y + (row as f64 + 4.0) * step,
                );
                path.append(&Path::rectangle(left, top, dark as f64 * step, step));
            }
            column += dark.max(1);
        }
    }
    vec![filled(path, Colour::BLACK)]
}

/// Modules along a side of the code for a text, without the quiet zone.
#[cfg(test)]
pub(crate) fn modules(text: &str) -> Option<usize> {
    Symbol::of(text).map(|symbol| symbol.side)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn code_keeps_its_quiet_zone() {
        let draws = draw("tangmark:record:sha-256:0000", 10.0, 20.0, 30.0);
        let Some(Draw::Path(path)) = draws.first() else {
            panic!("no path")
        };
        let [left, top, right, bottom] = path.path.bounds().unwrap();
        // Version 3 has 29 modules.
        let quiet = 4.0 * 30.0 / 37.0;
        for (found, wanted) in [
            (left, 10.0 + quiet),
            (top, 20.0 + quiet),
            (right, 40.0 - quiet),
            (bottom, 50.0 - quiet),
        ] {
            assert!((found - wanted).abs() < 1e-9, "{found} {wanted}");
        }
        assert!(draw(&"x".repeat(5000), 0.0, 0.0, 30.0).is_empty());
    }
}
