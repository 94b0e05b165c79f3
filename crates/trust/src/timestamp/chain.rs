//! Who an authority is to the reader: a walk from the signer's certificate to those above it.

use der::DateTime;

use super::{Authority, AuthorityCertificate};
use crate::PublicKey;

/// Most certificates in a chain, the signer's own and the last one included.
const LONGEST_CHAIN: usize = 8;

/// What the reader brings to judge an authority by. Without anything every one is unknown.
#[derive(Clone, Copy, Debug, Default)]
pub struct Authorities<'a> {
    /// Certificates of authorities the reader trusts, or of those who vouch for them.
    pub trusted: &'a [AuthorityCertificate],
    /// Certificates of authorities that the workshop runs itself.
    pub own: &'a [AuthorityCertificate],
    /// Keys of the workshop whose records are judged: of their issuer and of its key history.
    pub workshop_keys: &'a [PublicKey],
}

impl Authorities<'_> {
    /// The standing of the authority that signed at a time; `carried` came with the token.
    pub(super) fn standing(
        &self,
        signer: &AuthorityCertificate,
        carried: &[AuthorityCertificate],
        (floor, ceiling): (DateTime, DateTime),
    ) -> Authority {
        let all: Vec<_> = carried.iter().chain(self.trusted).chain(self.own).collect();
        // Whatever is wrong with a link, a key of the workshop in it makes it the workshop's word.
        let linked = climb(signer, &all, |_, _| true);
        let own = |certificate: &&AuthorityCertificate| {
            self.own.iter().any(|own| own.has_key_of(certificate))
                || certificate
                    .key()
                    .is_some_and(|key| self.workshop_keys.contains(&key))
        };
        if linked.iter().any(own) {
            return Authority::Workshop;
        }
        if !signer.is_understood() || !signer.is_valid(floor, ceiling) {
            return Authority::Unknown;
        }
        let sound = climb(signer, &all, |certificate, below| {
            certificate.is_valid(floor, ceiling)
                && certificate.may_issue(below)
                && certificate.is_understood()
        });
        if sound
            .iter()
            .any(|certificate| self.trusted.contains(certificate))
        {
            Authority::Trusted
        } else {
            Authority::Unknown
        }
    }
}

/// The signer and every certificate above it that `may` stand there, each once: it is reached on its shortest way, and a
/// path length that is kept on no shorter way is kept on none.
fn climb<'a>(
    signer: &'a AuthorityCertificate,
    all: &[&'a AuthorityCertificate],
    may: impl Fn(&AuthorityCertificate, usize) -> bool,
) -> Vec<&'a AuthorityCertificate> {
    let mut found = vec![signer];
    let mut level = vec![signer];
    // `below`: certificates of issuers between the signer and the one that is looked at.
    for below in 0..LONGEST_CHAIN - 1 {
        let mut next = Vec::new();
        for candidate in all {
            if !found.contains(candidate)
                && level.iter().any(|lower| lower.is_issued_by(candidate))
                && may(candidate, below)
            {
                found.push(candidate);
                next.push(*candidate);
            }
        }
        level = next;
    }
    found
}
