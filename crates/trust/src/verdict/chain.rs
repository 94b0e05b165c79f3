//! What the other records of a chain say of the one that is judged.

use std::collections::BTreeSet;

use tangmark_core::chain::{self, Link};

use super::{Completeness, signer};
use crate::history::KeyHistory;
use crate::key::PublicKey;

impl Completeness {
    /// Follows the chain of the record judged and of others whose own proofs hold. `told` as in
    /// [`chain::check_links`]; `histories` say which keys are of one hand.
    pub fn follow(
        &mut self,
        judged: &Link,
        others: &[Link],
        told: &BTreeSet<u32>,
        histories: &[KeyHistory],
    ) {
        let mut links = others.to_vec();
        links.push(judged.clone());
        match chain::check_links(&links, told) {
            Ok(state) => {
                self.supplied = state.supplied;
                self.not_supplied = state.not_supplied;
                self.missing = state.missing;
            }
            Err(error) => self.broken = Some(error.to_string()),
        }
        self.other_keys = others
            .iter()
            .filter(|other| !same_hand(histories, judged, other))
            .count();
        self.superseded_by = others
            .iter()
            .filter(|other| other.sequence > judged.sequence)
            .max_by_key(|other| other.sequence)
            .map(|later| later.digest);
    }
}

/// Whether one key sealed both records, or two that rotations join.
fn same_hand(histories: &[KeyHistory], judged: &Link, other: &Link) -> bool {
    let key = |link: &Link| PublicKey::from_did(&link.issuer).ok();
    judged.issuer == other.issuer
        || matches!((key(judged), key(other)), (Some(one), Some(two))
            if signer::linked(histories, &one, &two, other.issued_at.as_str()))
}
