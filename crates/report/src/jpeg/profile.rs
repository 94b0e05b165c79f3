//! Colour profiles inside pictures: put together from their parts, and looked at before they are embedded.
//!
//! Source: header and tag table, ICC.1:2004-10, 7.2 and 7.3; which profiles a PDF may hold, ISO 32000-1, 8.6.5.5 and
//! ISO 19005-3, 6.2.4.2 (both from memory).

/// Largest profile that is kept, in bytes.
pub const LARGEST_PROFILE: usize = 4 << 20;

/// Length of the header of a profile.
const HEADER: usize = 128;
/// Length of an entry of its tag table.
const ENTRY: usize = 12;

/// Why a colour profile is not kept. Reads on after "its colour profile".
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ProfileFault {
    /// A part is missing, there twice, or counted otherwise.
    #[error("is not complete")]
    Incomplete,
    /// Larger than a photo's profile ever is.
    #[error("has {0} bytes, at most {LARGEST_PROFILE} are allowed")]
    Large(usize),
    /// The bytes are no profile, or cut.
    #[error("is damaged")]
    Damaged,
    /// A version that an archival PDF may not hold.
    #[error("is of version {0}, versions 2 to 4 are allowed")]
    Version(u8),
    /// No profile of a camera, scanner, screen, printer or colour space.
    #[error("is none of a camera, screen, printer or colour space")]
    Class,
    /// For another number of colours than the picture has.
    #[error("is for other colours than the picture has")]
    Colours,
    /// Lacks what is needed to compute colours.
    #[error("lacks the curves or tables it needs")]
    Tags,
}

/// One segment's part of a profile.
pub(super) struct Chunk<'a> {
    /// Which part, from 1.
    pub(super) number: u8,
    /// Of how many.
    pub(super) of: u8,
    pub(super) data: &'a [u8],
    /// The whole payload of its segment.
    pub(super) payload: &'a [u8],
}

/// Puts a profile together; nothing where there is no part of one.
pub(super) fn joined<'a>(
    chunks: impl Iterator<Item = Chunk<'a>>,
) -> Option<Result<Vec<u8>, ProfileFault>> {
    let mut chunks: Vec<Chunk<'_>> = chunks.collect();
    if chunks.is_empty() {
        return None;
    }
    chunks.sort_by_key(|chunk| chunk.number);
    let complete = chunks.iter().enumerate().all(|(index, chunk)| {
        usize::from(chunk.number) == index + 1 && usize::from(chunk.of) == chunks.len()
    });
    if !complete {
        return Some(Err(ProfileFault::Incomplete));
    }
    let length: usize = chunks.iter().map(|chunk| chunk.data.len()).sum();
    if length > LARGEST_PROFILE {
        return Some(Err(ProfileFault::Large(length)));
    }
    Some(Ok(chunks
        .iter()
        .flat_map(|chunk| chunk.data)
        .copied()
        .collect()))
}

/// Returns the profile if a PDF may hold it for a picture of so many colours, without bytes after its end.
pub(super) fn sound(mut profile: Vec<u8>, components: u8) -> Result<Vec<u8>, ProfileFault> {
    let word = |at: usize| {
        let bytes = profile.get(at..at + 4)?;
        Some(u32::from_be_bytes(bytes.try_into().ok()?))
    };
    let size = |at: usize| word(at).and_then(|word| usize::try_from(word).ok());
    let length = size(0).ok_or(ProfileFault::Damaged)?;
    if length < HEADER + 4 || length > profile.len() || &profile[36..40] != b"acsp" {
        return Err(ProfileFault::Damaged);
    }
    let version = profile[8];
    if !(2..=4).contains(&version) {
        return Err(ProfileFault::Version(version));
    }
    if !matches!(&profile[12..16], b"scnr" | b"mntr" | b"prtr" | b"spac") {
        return Err(ProfileFault::Class);
    }
    if !matches!((&profile[16..20], components), (b"RGB ", 3) | (b"GRAY", 1)) {
        return Err(ProfileFault::Colours);
    }
    if !matches!(&profile[20..24], b"XYZ " | b"Lab ") || word(64).is_none_or(|intent| intent > 3) {
        return Err(ProfileFault::Damaged);
    }
    let count = size(HEADER).ok_or(ProfileFault::Damaged)?;
    if count == 0 || count > (length - HEADER - 4) / ENTRY {
        return Err(ProfileFault::Damaged);
    }
    let mut tags = Vec::new();
    for index in 0..count {
        let entry = HEADER + 4 + ENTRY * index;
        let (Some(start), Some(bytes)) = (size(entry + 4), size(entry + 8)) else {
            return Err(ProfileFault::Damaged);
        };
        if start < HEADER + 4 + ENTRY * count || start.saturating_add(bytes) > length {
            return Err(ProfileFault::Damaged);
        }
        tags.push(profile[entry..entry + 4].to_vec());
    }
    let has = |tag: &&[u8; 4]| tags.iter().any(|known| known == *tag);
    let by_curves: &[&[u8; 4]] = if components == 1 {
        &[b"kTRC"]
    } else {
        &[b"rXYZ", b"gXYZ", b"bXYZ", b"rTRC", b"gTRC", b"bTRC"]
    };
    if !(has(&b"A2B0") || by_curves.iter().all(has)) {
        return Err(ProfileFault::Tags);
    }
    profile.truncate(length);
    Ok(profile)
}
