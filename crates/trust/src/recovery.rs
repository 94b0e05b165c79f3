//! The recovery key: a secret kept on paper whose digest stands in every statement of the key history.
//!
//! Whoever can show the key behind the digest of the last statement may name a successor when the everyday key is lost:
//! each new statement can name another paper, and the papers before it count no more.

use std::{fmt, str::FromStr};

use sha2::{Digest as _, Sha256};
use tangmark_core::Digest;
use zeroize::{Zeroize as _, Zeroizing};

use crate::key::{KeyError, PrivateKey};

const KEY_DOMAIN: &[u8] = b"tangmark recovery key 1\0";
const CHECK_DOMAIN: &[u8] = b"tangmark recovery check 1\0";
const CHECK_LENGTH: usize = 4;

/// Why a recovery secret was refused. The secret itself is never repeated.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RecoveryError {
    /// Too few or too many random bytes.
    #[error("recovery secret: {found} bytes of entropy, 16 to 32 bytes allowed")]
    Length {
        /// Bytes found.
        found: usize,
    },
    /// A character that a recovery secret cannot have, or the wrong number of them.
    #[error(
        "recovery secret: not groups of five characters A-Z and 2-7 of the length printed by setup"
    )]
    Characters,
    /// A character was mistyped, left out or swapped.
    #[error("recovery secret: the check at its end does not fit")]
    Check,
    /// The key cannot be made.
    #[error("recovery secret: {0}")]
    Key(#[from] KeyError),
}

impl RecoveryError {
    /// The next step, where there is one.
    pub fn hint(&self) -> Option<&'static str> {
        match self {
            Self::Characters | Self::Check => Some(
                "compare with the paper character by character; there is no 0, 1, 8 or 9 in it",
            ),
            _ => None,
        }
    }
}

/// A recovery secret of 16 to 32 random bytes and the P-256 key that follows from it.
pub struct Recovery {
    entropy: Zeroizing<Vec<u8>>,
    key: PrivateKey,
}

impl Recovery {
    /// Takes 16 to 32 fresh random bytes as the secret.
    ///
    /// # Errors
    /// When there are fewer or more.
    pub fn from_entropy(entropy: &[u8]) -> Result<Self, RecoveryError> {
        if !(16..=32).contains(&entropy.len()) {
            return Err(RecoveryError::Length {
                found: entropy.len(),
            });
        }
        Ok(Self {
            entropy: Zeroizing::new(entropy.to_vec()),
            key: derive(entropy)?,
        })
    }

    /// What to print on paper, once: Base32 in groups of five with hyphens, its last bytes a check.
    pub fn text(&self) -> Zeroizing<String> {
        let mut bytes = Zeroizing::new(self.entropy.to_vec());
        bytes.extend_from_slice(&check(&self.entropy));
        let characters = Zeroizing::new(data_encoding::BASE32_NOPAD.encode(&bytes));
        let mut text = Zeroizing::new(String::with_capacity(characters.len() * 6 / 5 + 1));
        for (index, character) in characters.chars().enumerate() {
            if index > 0 && index % 5 == 0 {
                text.push('-');
            }
            text.push(character);
        }
        text
    }

    /// The key that may name a successor.
    pub fn key(&self) -> &PrivateKey {
        &self.key
    }

    /// What the key history holds: SHA-256 over the compressed point of the recovery key.
    pub fn digest(&self) -> Digest {
        Digest::of(self.key.public_key().compressed())
    }
}

impl FromStr for Recovery {
    type Err = RecoveryError;

    /// Reads the secret as typed from paper: small letters, spaces and hyphens are fine.
    fn from_str(text: &str) -> Result<Self, RecoveryError> {
        // 36 bytes are 58 characters; room for separators, and no more is looked at.
        if text.len() > 200 {
            return Err(RecoveryError::Characters);
        }
        let characters: Zeroizing<Vec<u8>> = Zeroizing::new(
            text.bytes()
                .filter(|byte| !matches!(byte, b' ' | b'-' | b'\n' | b'\r'))
                .map(|byte| byte.to_ascii_uppercase())
                .collect(),
        );
        let bytes = data_encoding::BASE32_NOPAD
            .decode(&characters)
            .map(Zeroizing::new)
            .map_err(|_| RecoveryError::Characters)?;
        let Some((entropy, found)) = bytes.split_last_chunk::<CHECK_LENGTH>() else {
            return Err(RecoveryError::Characters);
        };
        if check(entropy) != *found {
            return Err(RecoveryError::Check);
        }
        Self::from_entropy(entropy)
    }
}

impl fmt::Debug for Recovery {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Recovery({})", self.digest())
    }
}

fn check(entropy: &[u8]) -> [u8; CHECK_LENGTH] {
    let digest = Sha256::new()
        .chain_update(CHECK_DOMAIN)
        .chain_update(entropy)
        .finalize();
    let mut check = [0; CHECK_LENGTH];
    check.copy_from_slice(&digest[..CHECK_LENGTH]);
    check
}

/// SHA-256 over domain, counter and secret, with the next counter when the result is no private key.
///
/// No stretching: the secret has at least 128 random bits, so guessing it is hopeless as it is.
fn derive(entropy: &[u8]) -> Result<PrivateKey, KeyError> {
    let mut last = KeyError::OutOfRange;
    for counter in 0..=u8::MAX {
        let mut bytes: [u8; 32] = Sha256::new()
            .chain_update(KEY_DOMAIN)
            .chain_update([counter])
            .chain_update(entropy)
            .finalize()
            .into();
        let key = PrivateKey::from_entropy(bytes);
        bytes.zeroize();
        match key {
            Ok(key) => return Ok(key),
            Err(error) => last = error,
        }
    }
    Err(last)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn what_is_printed_gives_the_same_key_again() {
        for length in 16..=32_u8 {
            let entropy: Vec<u8> = (0..length)
                .map(|index| index.wrapping_mul(37).wrapping_add(length))
                .collect();
            let made = Recovery::from_entropy(&entropy).unwrap();
            let typed = made.text().to_lowercase().replace('-', " ");
            let read: Recovery = typed.parse().unwrap();
            assert_eq!(read.digest(), made.digest(), "{length} bytes");
            assert_eq!(read.key().public_key(), made.key().public_key());
        }
    }

    #[test]
    fn the_secret_and_digest_of_a_given_entropy_stay_the_same() {
        // Paper printed today must open the same key in twenty years. Digest computed apart from this code.
        let made = Recovery::from_entropy(&[7; 16]).unwrap();
        assert_eq!(
            made.text().as_str(),
            "A4DQO-BYHA4-DQOBY-HA4DQ-OBYHA-4KBM3-SG"
        );
        assert_eq!(
            made.digest().to_string(),
            "8d7db4ec102a08d98ac99fdb65ef1049b13d30adca672c2757dafea4188ed30e"
        );
    }

    #[test]
    fn every_single_mistyped_character_is_noticed() {
        let text = Recovery::from_entropy(&[7; 16]).unwrap().text();
        for index in (0..text.len()).filter(|index| index % 6 != 5) {
            for other in ('A'..='Z').chain('2'..='7') {
                let mut typed: Vec<char> = text.chars().collect();
                if typed[index] == other {
                    continue;
                }
                typed[index] = other;
                let result = typed.into_iter().collect::<String>().parse::<Recovery>();
                assert_eq!(
                    result.unwrap_err(),
                    RecoveryError::Check,
                    "character {index}: {other}"
                );
            }
        }
    }

    #[test]
    fn other_lengths_and_characters_are_refused() {
        assert_eq!(
            Recovery::from_entropy(&[1; 15]).unwrap_err().to_string(),
            "recovery secret: 15 bytes of entropy, 16 to 32 bytes allowed"
        );
        assert!(Recovery::from_entropy(&[1; 33]).is_err());
        for bad in ["", "AAAAA", "AAAA0-11111", &"A".repeat(500)] {
            let error = bad.parse::<Recovery>().unwrap_err();
            assert!(error.hint().is_some(), "{error}");
        }
    }

    #[test]
    fn debug_output_does_not_show_the_secret() {
        let made = Recovery::from_entropy(&[7; 16]).unwrap();
        assert!(!format!("{made:?}").contains(&made.text()[..5]));
    }
}
