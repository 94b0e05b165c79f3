//! Pictures: a file's coded data as they are, without what a camera or a program wrote beside them.

use std::borrow::Cow;
use std::sync::Arc;

use tangmark_core::Digest;

use crate::jpeg::{self, Header, JpegError};

/// A picture that is embedded byte for byte.
#[derive(Debug, Clone, PartialEq)]
pub struct Image {
    /// Digest of the bytes.
    pub digest: Digest,
    /// The JPEG file, without anything but the picture and its colour profile.
    pub bytes: Arc<[u8]>,
    /// What its header says.
    pub header: Header,
    /// Its colour profile; sRGB or plain grey is assumed without one.
    pub profile: Option<Arc<[u8]>>,
    /// How the bytes were made from the file that was given, where they are not the file itself.
    pub left_out: Option<String>,
}

impl Image {
    /// Takes the picture out of a JPEG file whose digest is known.
    ///
    /// # Errors
    /// Says why the file cannot be embedded.
    pub fn of(file: &[u8], digest: Digest) -> Result<Self, JpegError> {
        let copied = jpeg::copy(file)?;
        let left_out = copied.differs().then(|| copied.transform());
        Ok(Self {
            digest: match &copied.bytes {
                Cow::Borrowed(_) => digest,
                Cow::Owned(copy) => Digest::of(copy),
            },
            bytes: Arc::from(&*copied.bytes),
            header: copied.header,
            profile: copied.profile.map(Arc::from),
            left_out,
        })
    }
}
