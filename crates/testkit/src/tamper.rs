//! Changes that somebody might make to a file, counted and tried on all cores.
//!
//! The corpus is systematic, not random: every other value of every byte, every deletion, insertions and
//! swaps at every place. What a verdict says to each is a number of this project's word.

use std::num::NonZero;
use std::ops::Range;

use tangmark_trust::memory::Memory;
use tangmark_trust::verdict::{self, BytesLine, Reader, Verdict};

/// One kind of change, made at one place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// The byte gets another value, the given one added to it (1 to 255).
    Add(u8),
    /// The byte is taken out.
    Delete,
    /// A byte is put in before it.
    Insert(u8),
    /// The byte and the one after it change places.
    Swap,
}

impl Change {
    /// Makes the change in `copy`, which becomes a changed copy of `original`; false when nothing would change.
    pub fn make(self, original: &[u8], at: usize, copy: &mut Vec<u8>) -> bool {
        let Some(&byte) = original.get(at) else {
            return false;
        };
        copy.clear();
        copy.extend_from_slice(original);
        match self {
            Self::Add(0) => return false,
            Self::Add(step) => copy[at] = byte.wrapping_add(step),
            Self::Delete => {
                copy.remove(at);
            }
            Self::Insert(value) => copy.insert(at, value),
            Self::Swap => match original.get(at + 1) {
                Some(next) if *next != byte => copy.swap(at, at + 1),
                _ => return false,
            },
        }
        true
    }
}

/// What verdicts said to a set of changes.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Changes that were made.
    pub made: usize,
    /// Told as altered (exit code 1).
    pub altered: usize,
    /// Told as what nobody can judge (exit code 3).
    pub cannot_judge: usize,
    /// Told as the same content in other bytes; the record's name is that of the original.
    pub same_content: usize,
    /// Changes that passed as intact, or gave another content another name: places and values, the first few.
    pub missed: Vec<(usize, Change)>,
}

impl Tally {
    fn add(&mut self, other: &Self) {
        self.made += other.made;
        self.altered += other.altered;
        self.cannot_judge += other.cannot_judge;
        self.same_content += other.same_content;
        let room = 10_usize.saturating_sub(self.missed.len());
        self.missed.extend(other.missed.iter().take(room));
    }

    fn count(&mut self, original: &Verdict, changed: &Verdict, at: usize, change: Change) {
        self.made += 1;
        match &changed.bytes {
            BytesLine::Altered { .. } => self.altered += 1,
            BytesLine::CannotJudge { .. } => self.cannot_judge += 1,
            BytesLine::SameContent if changed.record == original.record => self.same_content += 1,
            BytesLine::Intact | BytesLine::SameContent if self.missed.len() < 10 => {
                self.missed.push((at, change));
            }
            BytesLine::Intact | BytesLine::SameContent => {}
        }
    }
}

impl std::fmt::Display for Tally {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "{}: {} altered, {} cannot be judged, {} same content in other bytes, {} missed",
            tangmark_core::counted(self.made, "change"),
            self.altered,
            self.cannot_judge,
            self.same_content,
            self.made - self.altered - self.cannot_judge - self.same_content
        )
    }
}

/// Judges a file as a reader who knows nobody.
pub fn judge(bytes: &[u8]) -> Verdict {
    let memory = Memory::default();
    let reader = Reader {
        own_keys: &[],
        memory: &memory,
        now: "2030-01-01T00:00:00Z",
        others: &[],
        histories: &[],
        evidence: &[],
    };
    verdict::judge(bytes, &reader).verdict
}

/// Makes each change at each place, one at a time, and counts what the verdict says.
pub fn try_all(
    original: &[u8],
    places: impl IntoIterator<Item = usize>,
    changes: &[Change],
) -> Tally {
    let before = judge(original);
    let places: Vec<usize> = places.into_iter().collect();
    let threads = std::thread::available_parallelism().map_or(1, NonZero::get);
    let mut total = Tally::default();
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads)
            .map(|first| {
                let (before, places) = (&before, &places);
                // Every n-th place, so that cheap and dear stretches are shared out evenly.
                scope.spawn(move || {
                    let mut tally = Tally::default();
                    let mut copy = Vec::with_capacity(original.len() + 1);
                    for &at in places.iter().skip(first).step_by(threads) {
                        for &change in changes {
                            if change.make(original, at, &mut copy) {
                                tally.count(before, &judge(&copy), at, change);
                            }
                        }
                    }
                    tally
                })
            })
            .collect();
        for worker in workers {
            match worker.join() {
                Ok(tally) => total.add(&tally),
                // A verdict that panics is a fault, whatever else was counted.
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
    });
    total
}

/// All 255 other values of a byte.
pub fn other_values() -> Vec<Change> {
    (1..=255).map(Change::Add).collect()
}

/// Deletion, swap with the neighbour, and insertions of bytes that mean something to JSON or to nobody.
pub fn edits() -> Vec<Change> {
    let inserted = [
        b' ', b'\n', b'0', b'a', b'"', b'\\', b',', b'}', 0x00, 0x80, 0xff,
    ];
    let mut edits = vec![Change::Delete, Change::Swap];
    edits.extend(inserted.map(Change::Insert));
    edits
}

/// Places of a file in steps of `step`, each at another offset within its block.
pub fn one_in_each(step: usize, whole: Range<usize>) -> impl Iterator<Item = usize> {
    // 29 and 64 have no common factor: all offsets are met in turn.
    let blocks = whole.len().div_ceil(step.max(1));
    (0..blocks).map(move |block| {
        whole.start + block * step + (block * 29) % step.max(1).min(whole.len() - block * step)
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn changes_change_exactly_what_they_say() {
        let mut copy = Vec::new();
        let mut made =
            |change: Change, at| change.make(b"aab", at, &mut copy).then(|| copy.clone());
        assert_eq!(made(Change::Add(1), 2).unwrap(), b"aac");
        assert_eq!(made(Change::Add(255), 0).unwrap(), b"`ab");
        assert_eq!(made(Change::Delete, 1).unwrap(), b"ab");
        assert_eq!(made(Change::Insert(b'x'), 0).unwrap(), b"xaab");
        assert_eq!(made(Change::Swap, 1).unwrap(), b"aba");
        // Neighbours that are equal, the last byte, and places outside.
        assert_eq!(made(Change::Swap, 0), None);
        assert_eq!(made(Change::Swap, 2), None);
        assert_eq!(made(Change::Delete, 3), None);
        assert_eq!(made(Change::Add(0), 0), None);
    }

    #[test]
    fn each_block_has_one_place() {
        let places: Vec<usize> = one_in_each(64, 10..1000).collect();
        assert_eq!(places.len(), 16);
        for (block, place) in places.iter().enumerate() {
            let start = 10 + block * 64;
            assert!(
                (start..(start + 64).min(1000)).contains(place),
                "{place} in block {block}"
            );
        }
        assert!(
            places
                .iter()
                .map(|place| (place - 10) % 64)
                .collect::<std::collections::BTreeSet<_>>()
                .len()
                > 12
        );
    }

    #[test]
    fn a_change_that_passes_is_counted_as_missed() {
        let original = judge(b"{}");
        let mut intact = original.clone();
        intact.bytes = BytesLine::Intact;
        let mut tally = Tally::default();
        tally.count(&original, &intact, 3, Change::Delete);
        assert_eq!(tally.missed, [(3, Change::Delete)]);
        assert_eq!(
            tally.to_string(),
            "1 change: 0 altered, 0 cannot be judged, 0 same content in other bytes, 1 missed"
        );
    }
}
