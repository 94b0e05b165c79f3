//! P-256 keys: names, fingerprints, signing and verifying.
//!
//! Source: FIPS 186-5 (ECDSA), SEC 1 (points), RFC 6979 (deterministic signatures),
//! W3C vc-di-ecdsa 1.0 (Multikey), the did:key method of the W3C Credentials Community Group.

use std::{cell::RefCell, fmt, str::FromStr};

use p256::ecdsa::{Signature, SigningKey, VerifyingKey, signature::Signer};
use sha2::{Digest as _, Sha256};
use zeroize::Zeroize as _;

/// Multicodec 0x1200 (compressed P-256 point) as an unsigned varint.
///
/// Source: W3C vc-di-ecdsa 1.0, Multikey.
const P256_MULTICODEC: [u8; 2] = [0x80, 0x24];
const DID_PREFIX: &str = "did:key:";

/// Why a key, its name or its fingerprint was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum KeyError {
    /// The 32 bytes are zero or not below the group order, so they are no P-256 private key.
    #[error("private key: the 32 bytes are zero or not below the order of P-256")]
    OutOfRange,
    /// The text does not begin with `did:key:`.
    #[error("key name `{0}`: expected `did:key:` and a P-256 key")]
    NotDidKey(String),
    /// The key is not written in base58btc (multibase prefix `z`).
    #[error("key name `{0}`: expected multibase `z` and base58btc characters")]
    NotBase58(String),
    /// The key is of another kind than P-256.
    #[error("key name `{found}`: multicodec 0x{prefix} is not that of P-256 (0x8024)")]
    WrongKind {
        /// The name as found, shortened.
        found: String,
        /// The first two bytes in hexadecimal.
        prefix: String,
    },
    /// The point has another length than the 33 bytes of a compressed one.
    #[error("public key: {found} bytes, 33 bytes (compressed point) allowed")]
    WrongLength {
        /// Bytes found.
        found: usize,
    },
    /// The bytes are no compressed point of the curve.
    #[error("public key: the 33 bytes are no compressed point on P-256")]
    NotOnCurve,
    /// A verification method names one key before and another after `#`.
    #[error("verification method `{0}`: the part after `#` is not the key named before it")]
    FragmentDiffers(String),
    /// The fingerprint is not 20 Base32 characters.
    #[error("fingerprint `{0}`: 20 characters A-Z and 2-7 in groups of five allowed")]
    Fingerprint(String),
}

impl KeyError {
    /// The next step, where there is one.
    pub fn hint(&self) -> Option<&'static str> {
        match self {
            Self::OutOfRange => Some("draw 32 new random bytes and try again"),
            Self::Fingerprint(_) => Some(
                "copy the fingerprint from the workshop's card, for example ABCDE-FGHIJ-KLMNO-PQRST",
            ),
            _ => None,
        }
    }
}

/// Cuts foreign text down to what fits on a line.
pub(crate) fn shorten(text: &str) -> String {
    text.chars().take(80).flat_map(char::escape_debug).collect()
}

/// Foreign text in a sentence of ours: between backticks, none of which is its own, and signs that nobody sees or that
/// turn the direction of reading by their number.
pub(crate) fn quoted(text: &str) -> String {
    quoted_to(80, text)
}

/// [`quoted`], cut behind so many characters, and the cut told by `…`.
pub(crate) fn quoted_to(most: usize, text: &str) -> String {
    let mut shown = String::from("`");
    let mut letters = text.chars();
    for letter in letters.by_ref().take(most) {
        match letter {
            '`' => shown.extend(letter.escape_unicode()),
            '\'' | '"' => shown.push(letter),
            _ => shown.extend(letter.escape_debug()),
        }
    }
    if letters.next().is_some() {
        shown.push('…');
    }
    shown.push('`');
    shown
}

/// A P-256 private key. Its memory is overwritten when it is dropped.
#[derive(Clone)]
pub struct PrivateKey(SigningKey);

impl PrivateKey {
    /// Takes 32 bytes of entropy as the private key.
    ///
    /// # Errors
    /// [`KeyError::OutOfRange`] when they are zero or not below the group order (about once in 2^32 draws):
    /// the caller draws again, so that every key is equally likely.
    pub fn from_entropy(mut entropy: [u8; 32]) -> Result<Self, KeyError> {
        let key = SigningKey::from_bytes(&entropy.into()).map_err(|_| KeyError::OutOfRange);
        entropy.zeroize();
        key.map(Self)
    }

    /// The public key that belongs to it.
    pub fn public_key(&self) -> PublicKey {
        PublicKey::from_verifying_key(self.0.verifying_key())
    }

    /// Signs `message` (hashed with SHA-256): 64 bytes r ‖ s, deterministic, s in the lower half.
    ///
    /// Source: RFC 6979; low s as W3C vc-di-ecdsa 1.0 lets a signer choose.
    pub fn sign(&self, message: &[u8]) -> [u8; 64] {
        let signature: Signature = self.0.sign(message);
        signature
            .normalize_s()
            .unwrap_or(signature)
            .to_bytes()
            .into()
    }

    /// The key as the crates that write files and certificates want it.
    pub(crate) fn signing_key(&self) -> &SigningKey {
        &self.0
    }

    pub(crate) fn from_signing_key(key: SigningKey) -> Self {
        Self(key)
    }
}

impl fmt::Debug for PrivateKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "PrivateKey(of {})", self.public_key().did_key())
    }
}

/// A P-256 public key, known to lie on the curve.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PublicKey {
    compressed: [u8; 33],
    /// Kept beside the compressed form: taking the square root again costs a fifth of a verification.
    uncompressed: [u8; 65],
}

thread_local! {
    /// The name that was read last, with its key.
    static LAST_READ: RefCell<Option<(String, PublicKey)>> = const { RefCell::new(None) };
}

impl PublicKey {
    fn from_verifying_key(key: &VerifyingKey) -> Self {
        let mut public = Self {
            compressed: [0; 33],
            uncompressed: [0; 65],
        };
        public
            .compressed
            .copy_from_slice(key.to_encoded_point(true).as_bytes());
        public
            .uncompressed
            .copy_from_slice(key.to_encoded_point(false).as_bytes());
        public
    }

    /// Reads a compressed point of 33 bytes, beginning with 2 or 3.
    ///
    /// # Errors
    /// When the length, the first byte or the point is wrong. Source: SEC 1, 2.3.4.
    pub fn from_compressed(bytes: &[u8]) -> Result<Self, KeyError> {
        match bytes {
            [2 | 3, ..] if bytes.len() == 33 => Self::from_point(bytes),
            _ if bytes.len() == 33 => Err(KeyError::NotOnCurve),
            _ => Err(KeyError::WrongLength { found: bytes.len() }),
        }
    }

    /// Reads a compressed point or an uncompressed one of 65 bytes, beginning with 4, as certificates carry it.
    ///
    /// # Errors
    /// As [`PublicKey::from_compressed`].
    pub fn from_sec1(bytes: &[u8]) -> Result<Self, KeyError> {
        match bytes {
            [4, ..] if bytes.len() == 65 => Self::from_point(bytes),
            _ => Self::from_compressed(bytes),
        }
    }

    /// The library takes a third form, x alone, so the callers look at the first byte before.
    fn from_point(bytes: &[u8]) -> Result<Self, KeyError> {
        VerifyingKey::from_sec1_bytes(bytes)
            .map(|key| Self::from_verifying_key(&key))
            .map_err(|_| KeyError::NotOnCurve)
    }

    /// The point, compressed: 33 bytes.
    pub const fn compressed(&self) -> &[u8; 33] {
        &self.compressed
    }

    /// The point, uncompressed: 65 bytes beginning with 4.
    pub const fn uncompressed(&self) -> &[u8; 65] {
        &self.uncompressed
    }

    /// The key as a Multikey value: `zDn…`.
    pub fn multikey(&self) -> String {
        let mut bytes = [0; 35];
        bytes[..2].copy_from_slice(&P256_MULTICODEC);
        bytes[2..].copy_from_slice(&self.compressed);
        format!("z{}", bs58::encode(bytes).into_string())
    }

    /// The key's name: `did:key:zDn…`.
    pub fn did_key(&self) -> String {
        format!("{DID_PREFIX}{}", self.multikey())
    }

    /// The name proofs use: `did:key:zDn…#zDn…`.
    pub fn verification_method(&self) -> String {
        let multikey = self.multikey();
        format!("{DID_PREFIX}{multikey}#{multikey}")
    }

    /// Reads `did:key:zDn…`.
    ///
    /// # Errors
    /// When it is not exactly the name [`PublicKey::did_key`] would give a P-256 key.
    pub fn from_did(text: &str) -> Result<Self, KeyError> {
        // The records of a chain name the same key: its square root, an eighth of a verification, is taken once.
        // Nothing but the time depends on what was read before.
        let last = LAST_READ.with_borrow(|last| {
            let same = last.as_ref().filter(|(did, _)| did == text);
            same.map(|(_, key)| *key)
        });
        if let Some(key) = last {
            return Ok(key);
        }
        let key = Self::decode_did(text)?;
        LAST_READ.set(Some((text.to_owned(), key)));
        Ok(key)
    }

    fn decode_did(text: &str) -> Result<Self, KeyError> {
        let multikey = text
            .strip_prefix(DID_PREFIX)
            .ok_or_else(|| KeyError::NotDidKey(shorten(text)))?;
        let base58 = multikey
            .strip_prefix('z')
            .ok_or_else(|| KeyError::NotBase58(shorten(text)))?;
        // Decoding takes the square of the length in time; no key of any kind in use is this long.
        if base58.len() > 200 {
            return Err(KeyError::NotBase58(shorten(text)));
        }
        let bytes = bs58::decode(base58)
            .into_vec()
            .map_err(|_| KeyError::NotBase58(shorten(text)))?;
        let point = bytes
            .strip_prefix(&P256_MULTICODEC)
            .ok_or_else(|| KeyError::WrongKind {
                found: shorten(text),
                prefix: data_encoding::HEXLOWER.encode(bytes.get(..2).unwrap_or(&bytes)),
            })?;
        // Base58 text and bytes map one to one, so a key has one name.
        Self::from_compressed(point)
    }

    /// Reads `did:key:zDn…#zDn…`.
    ///
    /// # Errors
    /// As [`PublicKey::from_did`], and when the two halves name different keys.
    pub fn from_verification_method(text: &str) -> Result<Self, KeyError> {
        let Some((did, fragment)) = text.split_once('#') else {
            return Err(KeyError::FragmentDiffers(shorten(text)));
        };
        let key = Self::from_did(did)?;
        if did.strip_prefix(DID_PREFIX) == Some(fragment) {
            Ok(key)
        } else {
            Err(KeyError::FragmentDiffers(shorten(text)))
        }
    }

    /// What people compare: see [`Fingerprint`].
    pub fn fingerprint(&self) -> Fingerprint {
        Fingerprint::of(&self.compressed)
    }

    /// Whether `signature` (64 bytes r ‖ s) is one of this key over `message` (hashed with SHA-256).
    ///
    /// Both values of s are accepted: a record is named by a digest that leaves the proof out, so the
    /// twin of a signature names the same record. Source: FIPS 186-5, 6.4.2.
    pub fn verify(&self, message: &[u8], signature: &[u8]) -> bool {
        ring::signature::UnparsedPublicKey::new(
            &ring::signature::ECDSA_P256_SHA256_FIXED,
            self.uncompressed,
        )
        .verify(message, signature)
        .is_ok()
    }
}

impl fmt::Debug for PublicKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "PublicKey({})", self.did_key())
    }
}

/// The first 100 bits of SHA-256 over the compressed point, as 20 Base32 characters.
///
/// Written in groups of five with hyphens, everywhere the same; nothing shorter is shown or compared.
/// Source: RFC 4648, 6 (Base32 alphabet), FIPS 180-4 (SHA-256).
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Fingerprint([u8; 20]);

impl Fingerprint {
    fn of(compressed: &[u8; 33]) -> Self {
        let digest = Sha256::digest(compressed);
        // 13 bytes are 104 bits or 21 characters; the last one and its bits are left out.
        let text = data_encoding::BASE32_NOPAD.encode(&digest[..13]);
        let mut characters = [0; 20];
        characters.copy_from_slice(&text.as_bytes()[..20]);
        Self(characters)
    }
}

impl fmt::Display for Fingerprint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, character) in self.0.iter().enumerate() {
            if index > 0 && index % 5 == 0 {
                f.write_str("-")?;
            }
            write!(f, "{}", char::from(*character))?;
        }
        Ok(())
    }
}

impl fmt::Debug for Fingerprint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Fingerprint({self})")
    }
}

impl FromStr for Fingerprint {
    type Err = KeyError;

    /// Reads a fingerprint as a person types it from a card: small letters, spaces and hyphens are fine.
    fn from_str(text: &str) -> Result<Self, KeyError> {
        let characters: Vec<u8> = text
            .bytes()
            .filter(|byte| !matches!(byte, b' ' | b'-'))
            .map(|byte| byte.to_ascii_uppercase())
            .collect();
        let sound = characters
            .iter()
            .all(|byte| matches!(byte, b'A'..=b'Z' | b'2'..=b'7'));
        <[u8; 20]>::try_from(characters.as_slice())
            .ok()
            .filter(|_| sound)
            .map(Self)
            .ok_or_else(|| KeyError::Fingerprint(shorten(text)))
    }
}

#[cfg(test)]
mod tests;
