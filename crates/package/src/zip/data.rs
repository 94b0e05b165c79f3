//! The data of an entry, in blocks.

use flate2::{Decompress, FlushDecompress, Status};

use super::{Entry, Method, ReadAt};
use crate::open::{BLOCK, Refusal, Rule};

/// Hands the bytes of an entry to `sink`, block after block, and checks length and check sum at the end.
///
/// Never more bytes than the entry states, and no more memory than two blocks.
///
/// # Errors
/// When the data are not those that the directory states; what `sink` was given then counts for nothing.
pub(crate) fn stream(
    source: &dyn ReadAt,
    entry: &Entry,
    sink: &mut dyn FnMut(&[u8]),
) -> Result<(), Refusal> {
    let mut sum = crc32fast::Hasher::new();
    let mut taken = |bytes: &[u8]| {
        sum.update(bytes);
        sink(bytes);
    };
    match entry.method {
        Method::Stored => blocks(source, entry, &mut |block| {
            taken(block);
            Ok(())
        })?,
        Method::Deflate => inflate(source, entry, &mut taken)?,
    }
    let found = sum.finalize();
    if found != entry.crc {
        let found = format!("check sum {found:08x}, {:08x} stated", entry.crc);
        return Err(Refusal::new(Rule::ZipData, &entry.path, found));
    }
    Ok(())
}

/// The data as they stand in the file.
fn blocks(
    source: &dyn ReadAt,
    entry: &Entry,
    sink: &mut dyn FnMut(&[u8]) -> Result<(), Refusal>,
) -> Result<(), Refusal> {
    let most = usize::try_from(entry.packed).unwrap_or(BLOCK).min(BLOCK);
    let mut block = vec![0; most];
    let mut done = 0;
    while done < entry.packed {
        let left = usize::try_from(entry.packed - done).unwrap_or(BLOCK);
        let part = &mut block[..left.min(most)];
        source
            .fill(part, entry.start + done)
            .map_err(|error| Refusal::unreadable(&entry.path, &error))?;
        sink(part)?;
        done += part.len() as u64;
    }
    Ok(())
}

fn inflate(
    source: &dyn ReadAt,
    entry: &Entry,
    taken: &mut dyn FnMut(&[u8]),
) -> Result<(), Refusal> {
    let refused = |found: String| Err(Refusal::new(Rule::ZipData, &entry.path, found));
    let mut inflater = Decompress::new(false);
    let mut output = vec![0; BLOCK];
    let mut ended = false;
    blocks(source, entry, &mut |block| {
        let mut rest = block;
        loop {
            if ended {
                return if rest.is_empty() {
                    Ok(())
                } else {
                    refused("bytes behind the end of the deflate stream".to_owned())
                };
            }
            let (read, written) = (inflater.total_in(), inflater.total_out());
            // One byte more than is stated is room enough to see that there are more.
            let room =
                usize::try_from(entry.length - written).map_or(BLOCK, |left| (left + 1).min(BLOCK));
            let status = inflater.decompress(rest, &mut output[..room], FlushDecompress::None);
            let Ok(status) = status else {
                return refused("no deflate stream".to_owned());
            };
            let used = usize::try_from(inflater.total_in() - read).unwrap_or(rest.len());
            let made = usize::try_from(inflater.total_out() - written).unwrap_or(room);
            if inflater.total_out() > entry.length {
                return refused(format!("more than the {} bytes stated", entry.length));
            }
            rest = rest.get(used..).unwrap_or_default();
            taken(output.get(..made).unwrap_or_default());
            ended = status == Status::StreamEnd;
            // Without progress it waits for the next block.
            if !ended && used == 0 && made == 0 {
                return if rest.is_empty() {
                    Ok(())
                } else {
                    refused("no deflate stream".to_owned())
                };
            }
        }
    })?;
    if !ended || inflater.total_out() != entry.length {
        return refused(format!(
            "{} bytes, {} stated",
            inflater.total_out(),
            entry.length
        ));
    }
    Ok(())
}
