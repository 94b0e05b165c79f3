//! Lines and columns of many places in one text, without counting from its start each time.

use super::problem::Place;

/// Characters are counted up to every so many bytes, so that one long line costs no more than many short ones.
const STEP: usize = 256;

/// Index of a text's lines.
pub(super) struct Lines<'t> {
    text: &'t str,
    /// Offsets at which lines start.
    starts: Vec<usize>,
    /// Characters that start before each multiple of [`STEP`].
    counted: Vec<usize>,
}

impl<'t> Lines<'t> {
    pub(super) fn of(text: &'t str) -> Self {
        let bytes = text.as_bytes();
        let mut starts = vec![0];
        starts.extend(
            bytes
                .iter()
                .enumerate()
                .filter_map(|(at, byte)| (*byte == b'\n').then_some(at + 1)),
        );
        let mut counted = vec![0];
        let mut total = 0;
        for block in bytes.chunks(STEP) {
            total += characters(block);
            counted.push(total);
        }
        Self {
            text,
            starts,
            counted,
        }
    }

    /// Returns the place of the character that starts at `offset`, both counted from 1.
    pub(super) fn place(&self, offset: usize) -> Place {
        let offset = offset.min(self.text.len());
        let line = self.starts.partition_point(|start| *start <= offset);
        let start = self.starts[line.saturating_sub(1)];
        Place {
            line,
            column: self.before(offset) - self.before(start) + 1,
        }
    }

    /// Characters that start before `offset`.
    fn before(&self, offset: usize) -> usize {
        let block = offset / STEP;
        self.counted[block] + characters(&self.text.as_bytes()[block * STEP..offset])
    }
}

fn characters(bytes: &[u8]) -> usize {
    bytes
        .iter()
        .filter(|byte| *byte & 0b1100_0000 != 0b1000_0000)
        .count()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::json::line_column;

    #[test]
    fn places_are_those_of_counting_from_the_start() {
        let text = format!("a\n刃文é\n\n{}\nlast", "長い x".repeat(200));
        let lines = Lines::of(&text);
        for (offset, _) in text.char_indices().chain([(text.len(), ' ')]) {
            let slow = line_column(text.as_bytes(), offset);
            assert_eq!(
                lines.place(offset),
                Place {
                    line: slow.line,
                    column: slow.column
                },
                "{offset}"
            );
        }
        assert_eq!(Lines::of("").place(0), Place { line: 1, column: 1 });
    }
}
