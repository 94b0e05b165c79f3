//! The verdict on a package, in the words of the package page.

use std::collections::BTreeMap;

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_trust::history::Standing;
use tangmark_trust::timestamp::Authority;
use tangmark_trust::verdict::{Verdict, Weight};
use tangmark_trust::withhold::Withheld;

use crate::open::{Refusal, Rule};

/// Defines states with their weights.
macro_rules! states {
    ($(#[$meta:meta])* $name:ident { $($(#[$state_meta:meta])* $state:ident $weight:ident;)+ }) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
        #[serde(rename_all = "snake_case")]
        pub enum $name { $($(#[$state_meta])* $state,)+ }

        impl $name {
            /// How much the state weighs.
            pub const fn weight(self) -> Weight {
                match self { $(Self::$state => Weight::$weight,)+ }
            }
        }
    };
}

states! {
    /// State of a record.
    RecordState {
        /// Not what was sealed.
        Altered Rejected;
        /// The signature holds; the contents cannot be interpreted here.
        CannotJudge CannotBeChecked;
        /// Another number or purpose than the file name, or another file of this number.
        Misnamed Rejected;
        /// Byte for byte what was sealed.
        Intact Accepted;
        /// What was sealed, in other bytes.
        SameContent Accepted;
    }
}

states! {
    /// How a record's key stands in the key histories.
    KeyStanding {
        /// No history names the key.
        NotInHistory Accepted;
        /// Before the key signed.
        TooEarly Rejected;
        /// When its successor signed.
        TooLate Rejected;
        /// Revoked for this time.
        Revoked Rejected;
        /// Revoked later than a trusted authority saw the record.
        RevokedProved Accepted;
        /// Revoked later than the record says of itself.
        RevokedUnproved ToBeConfirmed;
        /// In force.
        InForce Accepted;
        /// Two histories disagree.
        TwoHistories Rejected;
    }
}

impl From<Standing> for KeyStanding {
    fn from(standing: Standing) -> Self {
        match standing {
            Standing::NotInHistory => Self::NotInHistory,
            Standing::TooEarly => Self::TooEarly,
            Standing::TooLate => Self::TooLate,
            Standing::Revoked => Self::Revoked,
            Standing::RevokedProved => Self::RevokedProved,
            Standing::RevokedUnproved => Self::RevokedUnproved,
            Standing::InForce => Self::InForce,
        }
    }
}

states! {
    /// State of the chain.
    ChainState {
        /// A rule of the chain is broken.
        Broken Rejected;
        /// Records are missing.
        Incomplete Accepted;
        /// From the first to the last.
        Whole Accepted;
    }
}

states! {
    /// State of a file of disclosures.
    DisclosuresState {
        /// It does not fit the record.
        Refused Rejected;
        /// There is no such record.
        NoRecord Rejected;
        /// The record cannot be judged.
        CannotJudge Accepted;
        /// Each fits its digest in the record.
        Fit Accepted;
    }
}

states! {
    /// State of a photo.
    PhotoState {
        /// Not the bytes of the digest in its name.
        NotTheSame Rejected;
        /// A record names it as an original.
        Original Accepted;
        /// A record names it as a copy.
        Copy Accepted;
        /// No record names it.
        Unsigned ToBeConfirmed;
    }
}

/// In what a photo that is not the same differs, as far as its header says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PhotoDifference {
    /// Other pixels wide or high.
    OtherSize,
    /// The same pixels, turned.
    OtherOrientation,
    /// Written anew, or something beside the picture was changed.
    SameSize,
}

states! {
    /// State of a report.
    ReportState {
        /// Not what was signed.
        Altered Rejected;
        /// Nothing can be said.
        CannotJudge CannotBeChecked;
        /// Unaltered, of a record that is not here.
        OtherRecord Rejected;
        /// Unaltered, but by the key histories the key that signed the pages is not to be relied on.
        KeyRejected Rejected;
        /// Unaltered, of another record than the subject.
        Older ToBeConfirmed;
        /// Unaltered, of the subject; a later key or a revoked one signed the pages, and whose it is has to be confirmed.
        KeyOpen ToBeConfirmed;
        /// Unaltered, of the subject.
        Unaltered Accepted;
    }
}

states! {
    /// State of a key history.
    KeysState {
        /// It does not hold, or is another one than the file name says.
        Refused Rejected;
        /// Another one, of the reader or of the package, disagrees.
        Fork Rejected;
        /// It names no key of a record here.
        NoIssuer ToBeConfirmed;
        /// It names the key of a record.
        Fits Accepted;
    }
}

states! {
    /// State of time evidence.
    TimestampState {
        /// There is no such record.
        NoRecord Rejected;
        /// The record cannot be judged.
        CannotJudge Accepted;
        /// It does not hold, or speaks of something else.
        Refused Rejected;
        /// It speaks of the record.
        Fits Accepted;
    }
}

states! {
    /// State of the schema file.
    SchemaState {
        /// The published one.
        Fits Accepted;
        /// Another one.
        Other Rejected;
    }
}

states! {
    /// State of the verifier page.
    PageState {
        /// One that was released.
        Released Accepted;
        /// Another one.
        Other ToBeConfirmed;
        /// None is there.
        Missing Accepted;
    }
}

states! {
    /// State of a format page or a tool.
    AidState {
        /// One that was released.
        Released Accepted;
        /// Another one.
        Other ToBeConfirmed;
    }
}

/// A format page or a tool.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct AidVerdict {
    /// State.
    pub state: AidState,
}

/// Files and manifests; every list is sorted.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct BagVerdict {
    /// Files whose bytes are not those of the manifest.
    pub changed: Vec<String>,
    /// Files that a manifest lists and that are not there.
    pub missing: Vec<String>,
    /// Files that no manifest lists, or that have no place in a package.
    pub unlisted: Vec<String>,
    /// Files kept for later versions.
    pub not_looked_at: Vec<String>,
    /// Manifests of other algorithms.
    pub ignored_manifests: Vec<String>,
}

/// A record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RecordVerdict {
    /// State.
    pub state: RecordState,
    /// NN of its file name.
    pub number: u64,
    /// Its own number, where it can be read.
    pub sequence: Option<u32>,
    /// Its purpose, where it can be read.
    pub purpose: Option<&'static str>,
    /// Its name, where its signature holds.
    pub name: Option<Digest>,
    /// Name that the issuer gives itself.
    pub issuer: Option<String>,
    /// did:key of the issuer.
    pub key: Option<String>,
    /// Fingerprint of that key.
    pub fingerprint: Option<String>,
    /// Time of sealing, in the issuer's own word.
    pub issued_at: Option<String>,
    /// How the key stands.
    pub standing: Option<KeyStanding>,
    /// What is wrong.
    pub reasons: Vec<String>,
}

/// The chain.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ChainVerdict {
    /// State.
    pub state: ChainState,
    /// Records of the chain that are here.
    pub supplied: usize,
    /// Earlier ones that are not.
    pub not_supplied: u32,
    /// What breaks it.
    pub reason: Option<String>,
}

/// A file of disclosures.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DisclosuresVerdict {
    /// State.
    pub state: DisclosuresState,
    /// Places of the values shown, as JSON pointers; sorted.
    pub places: Vec<String>,
    /// What is wrong. Values are never repeated.
    pub reason: Option<String>,
}

/// A photo.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PhotoVerdict {
    /// State.
    pub state: PhotoState,
    /// In what one that is not the same differs.
    pub difference: Option<PhotoDifference>,
    /// NN of the first record that names it.
    pub record: Option<u64>,
    /// SHA-256 over its bytes.
    pub digest: Digest,
}

/// A report.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ReportVerdict {
    /// State.
    pub state: ReportState,
    /// File of the record in it.
    pub record: Option<String>,
    /// What is wrong.
    pub reasons: Vec<String>,
}

/// A key history.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct KeysVerdict {
    /// State.
    pub state: KeysState,
    /// Fingerprint of its first key.
    pub first: Option<String>,
    /// Fingerprint of the key in force.
    pub in_force: Option<String>,
    /// What is wrong.
    pub reason: Option<String>,
}

/// Time evidence.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TimestampVerdict {
    /// State.
    pub state: TimestampState,
    /// The record existed not later than this, UTC.
    pub time: Option<String>,
    /// Name in the authority's certificate.
    pub authority: Option<String>,
    /// Whether the reader trusts it.
    pub standing: Option<Authority>,
    /// What is wrong.
    pub reason: Option<String>,
}

/// The record that the four lines are about.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Subject {
    /// Its file.
    pub file: String,
    /// Bytes, signer, time, completeness.
    #[serde(flatten)]
    pub verdict: Verdict,
}

/// Why the package is refused, and the next step.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Refused {
    /// The rule, where, and what was found.
    #[serde(flatten)]
    pub refusal: Refusal,
    /// The same in words.
    pub what: String,
    /// The next step.
    pub hint: &'static str,
}

/// The verdict on a package. Files stand by their path in the bag.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PackageVerdict {
    /// Exit code: 1 rejected, 3 something cannot be checked, 2 something is to be confirmed, 0 otherwise.
    pub exit: u8,
    /// Why the package is refused whole; nothing else is said then.
    pub refused: Option<Refused>,
    /// Files and manifests.
    pub bag: BagVerdict,
    /// Records.
    pub records: BTreeMap<String, RecordVerdict>,
    /// The chain.
    pub chain: ChainVerdict,
    /// Disclosures.
    pub disclosures: BTreeMap<String, DisclosuresVerdict>,
    /// Photos.
    pub photos: BTreeMap<String, PhotoVerdict>,
    /// Files of photos that records name by digest and that are not here.
    pub photos_not_packed: usize,
    /// Reports.
    pub reports: BTreeMap<String, ReportVerdict>,
    /// Key histories.
    pub keys: BTreeMap<String, KeysVerdict>,
    /// Time evidence.
    pub timestamps: BTreeMap<String, TimestampVerdict>,
    /// The schema; none where it is not there.
    pub schema: Option<SchemaState>,
    /// The verifier page.
    pub page: PageState,
    /// Format pages and tools.
    pub aids: BTreeMap<String, AidVerdict>,
    /// Files of records that withdraw another: to be told first.
    pub withdrawals: Vec<String>,
    /// The record that the four lines are about.
    pub subject: Option<Subject>,
    /// Objects of it with values that this reader is not shown.
    pub withheld: Vec<Withheld>,
    /// SHA-256 of every file as it was judged, to hold what is read later against it.
    #[serde(skip)]
    pub digests: BTreeMap<String, Digest>,
}

impl PackageVerdict {
    /// The verdict on a package of which nothing is said yet.
    pub(super) fn blank() -> Self {
        Self {
            exit: 1,
            refused: None,
            bag: BagVerdict::default(),
            records: BTreeMap::new(),
            chain: ChainVerdict {
                state: ChainState::Incomplete,
                supplied: 0,
                not_supplied: 0,
                reason: None,
            },
            disclosures: BTreeMap::new(),
            photos: BTreeMap::new(),
            photos_not_packed: 0,
            reports: BTreeMap::new(),
            keys: BTreeMap::new(),
            timestamps: BTreeMap::new(),
            schema: None,
            page: PageState::Missing,
            aids: BTreeMap::new(),
            withdrawals: Vec::new(),
            subject: None,
            withheld: Vec::new(),
            digests: BTreeMap::new(),
        }
    }

    /// The verdict on a package that is refused whole. One that a disk or a right kept from being read cannot be checked.
    pub fn refused(refusal: Refusal) -> Self {
        let exit = if refusal.rule == Rule::Unreadable {
            3
        } else {
            1
        };
        let refused = Refused {
            what: refusal.to_string(),
            hint: refusal.hint(),
            refusal,
        };
        Self {
            exit,
            refused: Some(refused),
            ..Self::blank()
        }
    }

    /// The exit code that follows from all states.
    pub(super) fn exit_code(&self) -> u8 {
        let some = |any: bool, weight| if any { weight } else { Weight::Accepted };
        let records = self.records.values();
        let mut weights: Vec<Weight> = records
            .flat_map(|record| {
                let standing = record.standing.map(KeyStanding::weight);
                [Some(record.state.weight()), standing]
            })
            .flatten()
            .collect();
        weights.extend(self.disclosures.values().map(|one| one.state.weight()));
        weights.extend(self.photos.values().map(|one| one.state.weight()));
        weights.extend(self.reports.values().map(|one| one.state.weight()));
        weights.extend(self.keys.values().map(|one| one.state.weight()));
        weights.extend(self.timestamps.values().map(|one| one.state.weight()));
        weights.extend(self.aids.values().map(|one| one.state.weight()));
        weights.extend(self.schema.map(SchemaState::weight));
        weights.extend([
            self.chain.state.weight(),
            self.page.weight(),
            some(!self.bag.changed.is_empty(), Weight::Rejected),
            some(!self.bag.missing.is_empty(), Weight::CannotBeChecked),
            some(!self.bag.unlisted.is_empty(), Weight::ToBeConfirmed),
            some(!self.withdrawals.is_empty(), Weight::ToBeConfirmed),
        ]);
        let subject = self
            .subject
            .as_ref()
            .map(|subject| subject.verdict.exit_code());
        let has = |weight, code| weights.contains(&weight) || subject == Some(code);
        if has(Weight::Rejected, 1) {
            1
        } else if has(Weight::CannotBeChecked, 3) || subject.is_none() {
            3
        } else if has(Weight::ToBeConfirmed, 2) {
            2
        } else {
            0
        }
    }
}
