//! A private key at rest: an encrypted PKCS #8 file that OpenSSL opens too.
//!
//! Source: RFC 5958 (EncryptedPrivateKeyInfo), RFC 8018 (PBES2), RFC 7914 (scrypt), RFC 7468 (PEM).

use der::{Decode as _, SecretDocument, pem::LineEnding};
use p256::ecdsa::SigningKey;
use pkcs5::{EncryptionScheme, pbes2};
use pkcs8::{DecodePrivateKey as _, EncodePrivateKey as _, EncryptedPrivateKeyInfo};
use zeroize::Zeroizing;

use crate::key::PrivateKey;

const LABEL: &str = "ENCRYPTED PRIVATE KEY";
const LABEL_PLAIN: [&str; 2] = ["PRIVATE KEY", "EC PRIVATE KEY"];

/// scrypt cost of the files written: N = 2^14, r = 8, p = 5.
///
/// 16 MiB, under the 32 MiB that OpenSSL allows without being asked; p makes up for the small N
/// (common practice, no source).
const COST: (u64, u16, u16) = (1 << 14, 8, 5);
/// Most N · r accepted when reading: 64 MiB of memory.
const MEMORY_LIMIT: u64 = 1 << 19;
/// Most N · r · p accepted when reading: a few seconds.
const WORK_LIMIT: u64 = 1 << 22;
/// Longest key file read, in bytes; ours take under 500.
const SIZE_LIMIT: usize = 8192;

/// Why a key file could not be written or opened.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum KeyFileError {
    /// No passphrase was given.
    #[error("passphrase: empty, at least one character allowed")]
    EmptyPassphrase,
    /// The file is far longer than a key.
    #[error("key file: {found} bytes, at most {SIZE_LIMIT} bytes allowed")]
    TooLarge {
        /// Bytes found.
        found: usize,
    },
    /// The text is no PEM block.
    #[error("key file: no PEM block that begins with `-----BEGIN {LABEL}-----`")]
    NotPem,
    /// The key is not encrypted.
    #[error("key file: the key in it is not encrypted, an encrypted one (`{LABEL}`) allowed")]
    NotEncrypted,
    /// The block holds something else.
    #[error("key file: no encrypted PKCS #8 key can be read from the block")]
    Malformed,
    /// Another way of encrypting.
    #[error("key file: encrypted in another way than PBES2 with scrypt and AES-256-CBC")]
    OtherScheme,
    /// Opening the file would take more memory or time than a key is worth.
    #[error(
        "key file: scrypt cost N = {cost}, r = {block}, p = {parallel}; N a power of two, N·r at most {MEMORY_LIMIT} and N·r·p at most {WORK_LIMIT} allowed"
    )]
    Cost {
        /// N.
        cost: u64,
        /// r.
        block: u16,
        /// p.
        parallel: u16,
    },
    /// The passphrase does not fit, or the file is damaged: the two cannot be told apart.
    #[error("key file: cannot be opened with this passphrase")]
    WrongPassphrase,
    /// The decrypted key is of another kind.
    #[error("key file: the key in it is no P-256 key, or its two halves do not belong together")]
    NotP256,
    /// The encryption library failed.
    #[error("key file: the key could not be encrypted")]
    Encrypt,
}

impl KeyFileError {
    /// The next step, where there is one.
    pub fn hint(&self) -> Option<&'static str> {
        match self {
            Self::EmptyPassphrase => {
                Some("choose a passphrase of several words and write it down where the key is not")
            }
            Self::WrongPassphrase => Some(
                "type it again (keyboard layout, capitals); if it is right the file is damaged: use the copy you keep",
            ),
            Self::NotEncrypted | Self::OtherScheme | Self::Cost { .. } => Some(
                "encrypt it with `openssl pkcs8 -topk8 -scrypt -v2 aes-256-cbc -in KEY -out FILE`",
            ),
            Self::NotPem | Self::Malformed => Some("give the key file that `tangmark setup` wrote"),
            _ => None,
        }
    }
}

/// Encrypts a key under a passphrase. Same input, same bytes: `salt` and `iv` must be fresh random bytes.
///
/// The passphrase is taken as it is; a caller that reads it from a keyboard brings it to Unicode form C
/// first, so that it fits on another computer too.
///
/// # Errors
/// When the passphrase is empty.
pub fn encrypt(
    key: &PrivateKey,
    passphrase: &[u8],
    salt: &[u8; 16],
    iv: &[u8; 16],
) -> Result<String, KeyFileError> {
    if passphrase.is_empty() {
        return Err(KeyFileError::EmptyPassphrase);
    }
    let plain = key
        .signing_key()
        .to_pkcs8_der()
        .map_err(|_| KeyFileError::Encrypt)?;
    let (cost_parameter, block_size, parallelization) = COST;
    let parameters = pbes2::Parameters {
        kdf: pbes2::ScryptParams {
            salt,
            cost_parameter,
            block_size,
            parallelization,
            key_length: None,
        }
        .into(),
        encryption: pbes2::EncryptionScheme::Aes256Cbc { iv },
    };
    let encrypted_data = parameters
        .encrypt(passphrase, plain.as_bytes())
        .map_err(|_| KeyFileError::Encrypt)?;
    let info = EncryptedPrivateKeyInfo {
        encryption_algorithm: EncryptionScheme::Pbes2(parameters),
        encrypted_data: &encrypted_data,
    };
    let pem = SecretDocument::try_from(&info)
        .and_then(|document| Ok(document.to_pem(LABEL, LineEnding::LF)?))
        .map_err(|_| KeyFileError::Encrypt)?;
    Ok(String::clone(&pem))
}

/// Opens a key file with its passphrase.
///
/// # Errors
/// What the file is instead, a cost beyond the limits (before any of it is spent), or a passphrase
/// that does not fit.
pub fn decrypt(pem: &str, passphrase: &[u8]) -> Result<PrivateKey, KeyFileError> {
    if pem.len() > SIZE_LIMIT {
        return Err(KeyFileError::TooLarge { found: pem.len() });
    }
    let (label, document) = SecretDocument::from_pem(pem).map_err(|_| KeyFileError::NotPem)?;
    if LABEL_PLAIN.contains(&label) {
        return Err(KeyFileError::NotEncrypted);
    }
    if label != LABEL {
        return Err(KeyFileError::NotPem);
    }
    let info =
        EncryptedPrivateKeyInfo::from_der(document.as_bytes()).map_err(|error| {
            match error.kind() {
                der::ErrorKind::OidUnknown { .. } => KeyFileError::OtherScheme,
                _ => KeyFileError::Malformed,
            }
        })?;
    let EncryptionScheme::Pbes2(parameters) = &info.encryption_algorithm else {
        return Err(KeyFileError::OtherScheme);
    };
    let (pbes2::Kdf::Scrypt(scrypt), pbes2::EncryptionScheme::Aes256Cbc { .. }) =
        (&parameters.kdf, &parameters.encryption)
    else {
        return Err(KeyFileError::OtherScheme);
    };
    check_cost(scrypt)?;
    let plain = parameters
        .decrypt(passphrase, info.encrypted_data)
        .map_err(|_| KeyFileError::WrongPassphrase)?;
    let plain = Zeroizing::new(plain);
    // About one wrong passphrase in 256 gives sound padding; what is below it is then no sequence.
    if pkcs8::PrivateKeyInfo::from_der(&plain).is_err() {
        return Err(KeyFileError::WrongPassphrase);
    }
    SigningKey::from_pkcs8_der(&plain)
        .map(PrivateKey::from_signing_key)
        .map_err(|_| KeyFileError::NotP256)
}

/// Refuses what would take too long or too much memory, and what the library below cannot handle.
fn check_cost(scrypt: &pbes2::ScryptParams<'_>) -> Result<(), KeyFileError> {
    let pbes2::ScryptParams {
        cost_parameter: cost,
        block_size: block,
        parallelization: parallel,
        ..
    } = *scrypt;
    let memory = cost.checked_mul(u64::from(block));
    let work = memory.and_then(|memory| memory.checked_mul(u64::from(parallel)));
    let sound = cost >= 2
        && cost.is_power_of_two()
        && memory.is_some_and(|memory| (1..=MEMORY_LIMIT).contains(&memory))
        && work.is_some_and(|work| (1..=WORK_LIMIT).contains(&work));
    if sound {
        Ok(())
    } else {
        Err(KeyFileError::Cost {
            cost,
            block,
            parallel,
        })
    }
}

#[cfg(test)]
mod tests;
