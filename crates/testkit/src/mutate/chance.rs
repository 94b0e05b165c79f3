//! Chances that are the same from the same seed on every machine.

/// A stream of chances. Source: splitmix64 (Steele, Lea, Flood 2014; constants from memory).
#[derive(Clone, Debug)]
pub struct Chance(u64);

impl Chance {
    /// The stream of a seed and a number.
    pub fn new(seed: u64, number: u64) -> Self {
        let mut chance = Self(seed ^ number.wrapping_mul(0x9e37_79b9_7f4a_7c15));
        // The first words of neighbours are alike.
        chance.word();
        chance.word();
        chance
    }

    /// The next 64 bits.
    pub fn word(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut word = self.0;
        word = (word ^ (word >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        word = (word ^ (word >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        word ^ (word >> 31)
    }

    /// A number below `limit`; 0 when that is 0.
    pub fn below(&mut self, limit: usize) -> usize {
        let limit = u64::try_from(limit).unwrap_or(u64::MAX).max(1);
        usize::try_from(self.word() % limit).unwrap_or(0)
    }

    /// True `percent` times in a hundred.
    pub fn percent(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }

    /// A byte.
    pub fn byte(&mut self) -> u8 {
        u8::try_from(self.word() & 0xff).unwrap_or(0)
    }

    /// One of a list; nothing of an empty one.
    pub fn pick<'a, T>(&mut self, list: &'a [T]) -> Option<&'a T> {
        list.get(self.below(list.len()))
    }
}

/// Changes a few bytes: flips, cuts, doubles, writes something that means something.
pub fn scramble(chance: &mut Chance, bytes: &mut Vec<u8>) {
    for _ in 0..=chance.below(3) {
        let at = chance.below(bytes.len());
        match chance.below(8) {
            0..=2 => {
                if let Some(byte) = bytes.get_mut(at) {
                    *byte ^= 1 << chance.below(8);
                }
            }
            3 => {
                if let Some(byte) = bytes.get_mut(at) {
                    *byte = chance.byte();
                }
            }
            4 if at < bytes.len() => {
                bytes.remove(at);
            }
            5 => {
                let byte = *chance
                    .pick(&[b' ', b'\n', b'0', b'"', b'\\', b',', b'}', 0, 0x80, 0xff])
                    .unwrap_or(&b' ');
                bytes.insert(at.min(bytes.len()), byte);
            }
            6 => bytes.truncate(at),
            _ => {
                let length = chance.below(16).min(bytes.len() - at.min(bytes.len()));
                let part = bytes[at.min(bytes.len())..][..length].to_vec();
                let to = chance.below(bytes.len());
                bytes.splice(to..to, part);
            }
        }
    }
}
