//! The key that signed the pages of a report.

use super::{Reader, SignerLine, signer};
use crate::key::PublicKey;
use crate::timestamp::Evidence;

/// Says how the key that signed the pages of a report stands with the reader, whose evidence here is what tokens over the
/// report's signature say and nothing else. `name` is the issuer's in the record, `stated` the time to judge the key by.
pub fn signer_of_pages(
    reader: &Reader<'_>,
    name: &str,
    key: &PublicKey,
    stated: &str,
) -> SignerLine {
    let evidence: Vec<&Evidence> = reader.evidence.iter().collect();
    signer::signer(reader, name, key, stated, &evidence).line
}
