//! Which plugins may run: finding a library is not approving it.

use std::collections::{BTreeMap, BTreeSet};

use tangmark_core::Digest;

/// The approved file digests by plugin name. The caller keeps them; nothing here is stored.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Approvals(BTreeMap<String, BTreeSet<Digest>>);

impl Approvals {
    /// Approves one file under one name.
    pub fn approve(&mut self, name: &str, digest: Digest) {
        self.0.entry(name.to_owned()).or_default().insert(digest);
    }

    /// Withdraws the approval of every file under this name; tells whether there was one.
    pub fn withdraw(&mut self, name: &str) -> bool {
        self.0.remove(name).is_some()
    }

    /// Tells whether this file may run under this name.
    pub fn contains(&self, name: &str, digest: Digest) -> bool {
        self.0
            .get(name)
            .is_some_and(|digests| digests.contains(&digest))
    }

    /// Tells whether any file was approved under this name: if so, a refusal means that the file
    /// changed, for example by a rebuild.
    pub fn knows(&self, name: &str) -> bool {
        self.0.contains_key(name)
    }
}

impl FromIterator<(String, Digest)> for Approvals {
    fn from_iter<I: IntoIterator<Item = (String, Digest)>>(pairs: I) -> Self {
        let mut approvals = Self::default();
        for (name, digest) in pairs {
            approvals.approve(&name, digest);
        }
        approvals
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_approval_holds_for_one_name_and_one_file() {
        let (old, new) = (Digest::of(b"old"), Digest::of(b"new"));
        let mut approvals: Approvals = [("triage".to_owned(), old)].into_iter().collect();
        assert!(approvals.contains("triage", old));
        assert!(!approvals.contains("triage", new));
        assert!(!approvals.contains("dimensions", old));
        assert!(approvals.withdraw("triage"));
        assert!(!approvals.contains("triage", old) && !approvals.knows("triage"));
    }
}
