//! How host and runner cut what they say to each other into messages: one byte says what it is, eight bytes
//! (big-endian) how long it is, then the bytes. Both ends are the same binary, so that this is no
//! public format.

use std::io::{ErrorKind, Read, Write};

/// What a frame holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tag {
    /// Host to runner: the [`crate::job::Job`].
    Job,
    /// Host to runner: the describe request.
    DescribeRequest,
    /// Host to runner: the check request.
    CheckRequest,
    /// Runner to host: the [`crate::BarrierReport`], sent before the library is opened.
    Barriers,
    /// Runner to host: the description.
    Description,
    /// Runner to host: the reply.
    Reply,
    /// Runner to host: a [`crate::job::RunnerFault`].
    Fault,
}

impl Tag {
    const ALL: [Self; 7] = [
        Self::Job,
        Self::DescribeRequest,
        Self::CheckRequest,
        Self::Barriers,
        Self::Description,
        Self::Reply,
        Self::Fault,
    ];

    const fn byte(self) -> u8 {
        match self {
            Self::Job => b'J',
            Self::DescribeRequest => b'd',
            Self::CheckRequest => b'c',
            Self::Barriers => b'B',
            Self::Description => b'D',
            Self::Reply => b'C',
            Self::Fault => b'F',
        }
    }
}

/// The other end does not speak in frames.
#[derive(Debug, thiserror::Error)]
pub(crate) enum FrameError {
    /// The pipe ended, in or between frames.
    #[error("the pipe ended")]
    Ended,
    /// The pipe broke.
    #[error("the pipe broke: {0}")]
    Broken(#[source] std::io::Error),
    /// No frame begins like this.
    #[error("no frame begins with byte {0}")]
    UnknownTag(u8),
    /// More bytes than allowed for this kind of frame.
    #[error("a frame of {found} bytes; at most {most} are allowed")]
    TooLong {
        /// Bytes announced.
        found: u64,
        /// Bytes allowed.
        most: usize,
    },
}

/// Writes one frame.
pub(crate) fn write(mut pipe: impl Write, tag: Tag, bytes: &[u8]) -> std::io::Result<()> {
    let mut head = [tag.byte(); 9];
    let length = u64::try_from(bytes.len()).unwrap_or(u64::MAX);
    head[1..].copy_from_slice(&length.to_be_bytes());
    pipe.write_all(&head)?;
    pipe.write_all(bytes)?;
    pipe.flush()
}

/// Reads one frame; `most` says how long each kind may be. The length is judged before memory is
/// taken, and memory is taken only as bytes come.
pub(crate) fn read(
    mut pipe: impl Read,
    most: impl Fn(Tag) -> usize,
) -> Result<(Tag, Vec<u8>), FrameError> {
    let mut head = [0_u8; 9];
    pipe.read_exact(&mut head).map_err(broken)?;
    let [first, length @ ..] = head;
    let tag = Tag::ALL
        .into_iter()
        .find(|tag| tag.byte() == first)
        .ok_or(FrameError::UnknownTag(first))?;
    let (found, most) = (u64::from_be_bytes(length), most(tag));
    if usize::try_from(found).is_ok_and(|length| length <= most) {
        let mut bytes = Vec::new();
        pipe.take(found).read_to_end(&mut bytes).map_err(broken)?;
        if u64::try_from(bytes.len()).unwrap_or(0) != found {
            return Err(FrameError::Ended);
        }
        return Ok((tag, bytes));
    }
    Err(FrameError::TooLong { found, most })
}

fn broken(error: std::io::Error) -> FrameError {
    if error.kind() == ErrorKind::UnexpectedEof {
        FrameError::Ended
    } else {
        FrameError::Broken(error)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn frames_survive_the_way() {
        let mut pipe = Vec::new();
        write(&mut pipe, Tag::Reply, b"abc").unwrap();
        write(&mut pipe, Tag::Fault, b"").unwrap();
        let mut rest = pipe.as_slice();
        assert_eq!(
            read(&mut rest, |_| 3).unwrap(),
            (Tag::Reply, b"abc".to_vec())
        );
        assert_eq!(read(&mut rest, |_| 3).unwrap(), (Tag::Fault, Vec::new()));
        assert!(matches!(read(&mut rest, |_| 3), Err(FrameError::Ended)));
    }

    #[test]
    fn broken_frames_are_named() {
        let mut pipe = Vec::new();
        write(&mut pipe, Tag::Reply, b"abcd").unwrap();
        let error = read(pipe.as_slice(), |_| 3).unwrap_err();
        assert_eq!(
            error.to_string(),
            "a frame of 4 bytes; at most 3 are allowed"
        );
        assert!(matches!(read(&pipe[..11], |_| 4), Err(FrameError::Ended)));
        pipe[0] = b'x';
        let error = read(pipe.as_slice(), |_| 4).unwrap_err();
        assert_eq!(error.to_string(), "no frame begins with byte 120");
        let endless = [b'C', 255, 255, 255, 255, 255, 255, 255, 255];
        assert!(matches!(
            read(&endless[..], |_| 4),
            Err(FrameError::TooLong { .. })
        ));
    }
}
