//! How large things may be.

/// Upper limits in bytes. What is larger is refused before it is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Largest object (photo, PDF, paper), in bytes.
    pub object: u64,
    /// Largest sealed record, in bytes.
    pub record: u64,
    /// Largest draft body in its canonical text, in bytes.
    pub draft: u64,
    /// Largest key file, in bytes.
    pub key: u64,
}

impl Default for Limits {
    /// 512 MiB for an object, 16 MiB for a sealed record and a draft, 64 KiB for a key file.
    fn default() -> Self {
        Self {
            object: 512 << 20,
            record: 16 << 20,
            draft: 16 << 20,
            key: 64 << 10,
        }
    }
}
