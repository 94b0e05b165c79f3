//! Which key histories go into a package: of all that are known here, the ones that tell most.

use std::collections::{BTreeMap, BTreeSet};

use tangmark_core::Digest;
use tangmark_package::write::Content;
use tangmark_store::{Role, Store as _};
use tangmark_trust::PublicKey;
use tangmark_trust::history::{About, KeyHistory, LARGEST, about};
use tangmark_trust::memory::histories;

use super::gather::Shown;
use super::{Giver, HandOverSummary, PackedSigner};
use crate::keys::KeysError;
use crate::{Workshop, WorkshopError};

/// The key histories that are known here.
pub(super) struct AtHand {
    /// The own one, as it stands in `keys/`, or why there is none.
    own: Result<KeyHistory, WorkshopError>,
    /// All of them, the own one first.
    pub(super) all: Vec<KeyHistory>,
}

/// Collects the own key history, those that the memory holds, and those that came with any record of any blade: a later
/// package of the same workshop may have brought one that revokes a key.
pub(super) fn at_hand(workshop: &Workshop, giver: &Giver<'_>) -> Result<AtHand, WorkshopError> {
    let own = match workshop.key_history() {
        Err(error) if !matches!(error, WorkshopError::Keys(KeysError::NoHistory(_))) => {
            return Err(error);
        }
        own => own,
    };
    let mut all: Vec<KeyHistory> = own.iter().cloned().collect();
    if let Some(folder) = giver.memory {
        all.extend(histories::load(folder)?);
    }
    let mut looked: BTreeSet<Digest> = BTreeSet::new();
    for blade in workshop.store().blades()? {
        for row in workshop.store().records(&blade.id)? {
            for (object, bytes) in workshop.papers(&row.name)? {
                if !looked.insert(object) {
                    continue;
                }
                // A paper need not be a history.
                if let Ok(history) = KeyHistory::read(&bytes)
                    && !all.contains(&history)
                {
                    all.push(history);
                }
            }
        }
    }
    Ok(AtHand { own, all })
}

/// The history that goes in for a key: the longest of those that agree. Where two disagree, the own one or the first that
/// names the key goes in, and the judgement on the package tells that they do.
pub(super) fn chosen<'h>(all: &'h [KeyHistory], key: &PublicKey) -> Option<&'h KeyHistory> {
    match about(all, key) {
        About::Nothing => None,
        About::One(history) | About::Two { one: history, .. } => Some(history),
    }
}

/// Adds the key histories that speak of a key that sealed one of the records, and lists the signers.
pub(super) fn add(
    workshop: &Workshop,
    at_hand: AtHand,
    records: &[Shown],
    content: &mut Content,
    summary: &mut HandOverSummary,
) -> Result<Vec<KeyHistory>, WorkshopError> {
    let own: Vec<String> = workshop.keys()?.iter().map(PublicKey::did_key).collect();
    let mut signers: BTreeMap<&str, Vec<&Shown>> = BTreeMap::new();
    let mut order: Vec<&str> = Vec::new();
    for shown in records {
        let did = shown.kept.record.issuer.id.as_str();
        if !order.contains(&did) {
            order.push(did);
        }
        signers.entry(did).or_default().push(shown);
    }
    if order.iter().any(|did| own.iter().any(|one| one == did)) {
        // Without it nobody learns which of the own keys are revoked; a copy elsewhere may be older.
        at_hand.own?;
    }
    for did in order {
        let key = PublicKey::from_did(did)?;
        let sealed = signers.remove(did).unwrap_or_default();
        let mut path = None;
        if let Some(history) = chosen(&at_hand.all, &key) {
            let name = format!("data/keys/{}.json", history.first().key.fingerprint());
            if !content.files().any(|(there, _)| there == name) {
                content.add_bytes(name.clone(), history.text()?)?;
            }
            path = Some(name);
        }
        summary.signers.push(PackedSigner {
            name: sealed
                .last()
                .map(|shown| shown.kept.record.issuer.name.clone())
                .unwrap_or_default(),
            fingerprint: key.fingerprint().to_string(),
            records: sealed
                .iter()
                .map(|shown| shown.kept.record.sequence)
                .collect(),
            own: own.iter().any(|one| one == did),
            history: path,
        });
    }
    Ok(at_hand.all)
}

impl Workshop {
    /// The papers kept with a record that are no longer than a key history can be, by their digest.
    fn papers(&self, record: &Digest) -> Result<Vec<(Digest, Vec<u8>)>, WorkshopError> {
        let mut papers = Vec::new();
        for attachment in self.store().attachments(record)? {
            let row = self.store().object_row(&attachment.object)?;
            let short = row.is_some_and(|row| row.length <= LARGEST as u64);
            if attachment.role == Role::Document && short {
                papers.push((attachment.object, self.store().object(&attachment.object)?));
            }
        }
        Ok(papers)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use tangmark_trust::PrivateKey;
    use tangmark_trust::history::{Statement, first_entry};

    use super::*;

    #[test]
    fn the_longest_history_goes_in_and_of_two_that_disagree_the_first() {
        let [old, new, other] = [1, 2, 3].map(|byte| PrivateKey::from_entropy([byte; 32]).unwrap());
        let paper = Digest::of(b"recovery");
        let short = first_entry(&old, "2026-01-01T00:00:00Z", "first key", paper).unwrap();
        let read = |text: &str| KeyHistory::read(text.as_bytes()).unwrap();
        let to = |key| Statement {
            key,
            from: "2026-02-01T00:00:00Z",
            reason: "new card",
            recovery_digest: paper,
        };
        let short = read(&short);
        let long = read(&short.rotate(&old, &to(&new)).unwrap());
        let fork = read(&short.rotate(&old, &to(&other)).unwrap());
        let key = old.public_key();
        for order in [[&short, &long], [&long, &short]] {
            let all = order.map(Clone::clone);
            assert_eq!(chosen(&all, &key), Some(&long));
        }
        let all = [long.clone(), fork];
        assert_eq!(chosen(&all, &key), Some(&long));
        assert_eq!(chosen(&all[..1], &other.public_key()), None);
    }
}
