//! Every byte of the package, once: digests of all files.

use std::sync::atomic::{AtomicU64, Ordering};

use sha2::{Digest as _, Sha256};
use tangmark_core::Digest;

use super::{Progress, Watch, work};
use crate::open::{Package, ReadError, Refusal};

/// Hashes every file, on all cores; the digests stand in the order of [`Package::files`].
///
/// # Errors
/// The first file, by path, whose data show that the package must be refused.
pub(super) fn digests(package: &Package, watch: &Watch<'_>) -> Result<Vec<Digest>, Refusal> {
    let files = package.files();
    let all = files.iter().map(|file| file.length).sum();
    let done = AtomicU64::new(0);
    // The longest first, so that no core is left with one of them at the end.
    let mut order: Vec<usize> = (0..files.len()).collect();
    order.sort_by_key(|index| std::cmp::Reverse(files[*index].length));
    let hashed = work::all(&order, |index| {
        let mut hash = Sha256::new();
        let read = package.stream(&files[*index].path, &mut |block| {
            hash.update(block);
            let length = block.len() as u64;
            let done = done.fetch_add(length, Ordering::Relaxed) + length;
            watch(Progress { done, all });
        });
        read.map(|()| Digest::from_bytes(hash.finalize().into()))
    });
    let mut results: Vec<_> = order.into_iter().zip(hashed).collect();
    results.sort_by_key(|(index, _)| *index);
    results
        .into_iter()
        .map(|(_, result)| result.map_err(refusal))
        .collect()
}

/// What a file that is in the list cannot be read for.
pub(super) fn refusal(error: ReadError) -> Refusal {
    match error {
        ReadError::Refused(refusal) => refusal,
        other => Refusal::new(crate::open::Rule::Unreadable, "", other.to_string()),
    }
}
