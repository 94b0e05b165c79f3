//! The record, schema version 1: types that are the source of the published JSON Schema.
//!
//! A [`Sheet`] is what the workshop states about a blade; a [`Record`] is a sheet with header, findings,
//! decision and proof. Quantities carry what was read, trade terms are closed lists with romaji keys.

mod blade;
mod custody;
mod dimensions;
mod examination;
pub mod findings;
mod fittings;
mod flaws;
mod json;
mod passes;
mod people;
mod photos;
mod quantity;
mod readings;
mod scalar;
mod tang;
mod temper;
mod term;
pub mod withhold;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use blade::*;
pub use custody::*;
pub use dimensions::*;
pub use examination::*;
pub use findings::*;
pub use fittings::*;
pub use flaws::*;
pub use passes::*;
pub use people::*;
pub use photos::*;
pub use quantity::*;
pub use readings::reading_of;
pub use scalar::*;
pub use tang::*;
pub use temper::*;
pub use term::Term;

use crate::Digest;
use term::terms;

/// Identifier of the record schema.
pub const SCHEMA_ID: &str = "tangmark-record";
/// Version of the record schema that this crate writes.
pub const SCHEMA_VERSION: u32 = 1;

terms! {
    /// What a record is for.
    Purpose {
        Intake "intake" "" "arrival" "受入れ";
        BeforeWork "before_work" "" "state before work" "作業前の状態";
        InWork "in_work" "" "state during work" "作業中の状態";
        AfterWork "after_work" "" "state after work" "作業後の状態";
        Transfer "transfer" "" "change of hands" "引渡し";
        Referral "referral" "" "referral to a specialist" "専門家への照会";
        Reply "reply" "" "reply of a specialist" "専門家の回答";
        Receipt "receipt" "" "receipt" "受領";
        Correction "correction" "" "correction of an earlier record" "先の記録の訂正";
        Withdrawal "withdrawal" "" "withdrawal of an earlier record" "先の記録の撤回";
        Override "override" "" "override of a stop" "停止に対する例外措置";
        KeyChange "key_change" "" "change of the signing key" "署名鍵の変更";
    }
}

/// The schema a record follows.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SchemaRef {
    /// `tangmark-record`.
    #[schemars(length(min = 1, max = 80))]
    pub id: String,
    /// Version.
    #[schemars(range(min = 1))]
    pub version: u32,
    /// Digest of the schema file.
    pub digest: Digest,
}

/// Who issued the record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Issuer {
    /// did:key of the P-256 key.
    #[schemars(regex(pattern = r"^did:key:z[1-9A-HJ-NP-Za-km-z]{40,60}$"))]
    pub id: String,
    /// Name of the workshop.
    #[schemars(length(min = 1, max = 200))]
    pub name: String,
    /// The key is a throw-away for demonstration.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub demo: bool,
}

/// The proof: one W3C Data Integrity proof of the suite ecdsa-jcs-2019.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Proof {
    /// `DataIntegrityProof`.
    #[serde(rename = "type")]
    #[schemars(regex(pattern = "^DataIntegrityProof$"))]
    pub kind: String,
    /// `ecdsa-jcs-2019`.
    #[schemars(regex(pattern = "^ecdsa-jcs-2019$"))]
    pub cryptosuite: String,
    /// Equals `issued_at`.
    pub created: UtcTime,
    /// The issuer's did:key with its key as fragment.
    #[serde(rename = "verificationMethod")]
    #[schemars(regex(
        pattern = r"^did:key:(z[1-9A-HJ-NP-Za-km-z]{40,60})#(z[1-9A-HJ-NP-Za-km-z]{40,60})$"
    ))]
    pub verification_method: String,
    /// `assertionMethod`.
    #[serde(rename = "proofPurpose")]
    #[schemars(regex(pattern = "^assertionMethod$"))]
    pub proof_purpose: String,
    /// Multibase base58btc of the 64 bytes r‖s.
    #[serde(rename = "proofValue")]
    #[schemars(regex(pattern = r"^z[1-9A-HJ-NP-Za-km-z]{60,100}$"))]
    pub proof_value: String,
}

/// Defines a struct that ends in the fields of a sheet, so that sheet and record cannot drift apart.
macro_rules! with_sheet_fields {
    ($(#[$meta:meta])* $name:ident { $($(#[$field_meta:meta])* $field:ident: $type:ty,)* }) => {
        $(#[$meta])*
        #[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
        #[serde(deny_unknown_fields)]
        pub struct $name {
            $($(#[$field_meta])* pub $field: $type,)*
            /// Identity of the blade.
            pub blade: Blade,
            /// The examination.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            pub examination: Option<Examination>,
            /// Dimensions.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            pub dimensions: Option<Dimensions>,
            /// Tang.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            pub tang: Option<Tang>,
            /// Temper line.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            pub temper_line: Option<TemperLine>,
            /// Grain.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            pub grain: Option<Grain>,
            /// Flaws.
            #[serde(default, skip_serializing_if = "Vec::is_empty")]
            #[schemars(length(max = 500))]
            pub flaws: Vec<Flaw>,
            /// Fittings.
            #[serde(default, skip_serializing_if = "Vec::is_empty")]
            #[schemars(length(max = 100))]
            pub fittings: Vec<Fitting>,
            /// Plan of work.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            pub plan: Option<Plan>,
            /// Passes, in order.
            #[serde(default, skip_serializing_if = "Vec::is_empty")]
            #[schemars(length(max = 1000))]
            pub passes: Vec<Pass>,
            /// Custody, in order.
            #[serde(default, skip_serializing_if = "Vec::is_empty")]
            #[schemars(length(max = 200))]
            pub custody: Vec<CustodyEvent>,
            /// Photos.
            #[serde(default, skip_serializing_if = "Vec::is_empty")]
            #[schemars(length(max = 200))]
            pub photos: Vec<Photo>,
            /// Agreement with the owner.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            pub agreement: Option<Agreement>,
            /// Valuation; withheld unless shown by choice.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            pub valuation: Option<Valuation>,
            /// Referral.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            pub referral: Option<Referral>,
            /// The earlier record this one speaks of.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            pub refers_to: Option<RefersTo>,
            /// Change of the signing key.
            #[serde(default, skip_serializing_if = "Option::is_none")]
            pub key_change: Option<KeyChange>,
        }
    };
}

/// Calls a macro with the names of the sheet's fields.
macro_rules! sheet_fields {
    ($macro:ident) => {
        $macro! {
            blade examination dimensions tang temper_line grain flaws fittings plan passes custody photos
            agreement valuation referral refers_to key_change
        }
    };
}

with_sheet_fields! {
    /// What the workshop states about a blade: a draft before it is sealed.
    Sheet {}
}

with_sheet_fields! {
    /// A sealed record. Its file is its RFC 8785 bytes; its name the digest of the record without `proof`.
    Record {
        /// Schema.
        schema: SchemaRef,
        /// 128 random bits.
        record_id: RecordId,
        /// 1 for the first record of a blade, then one more each time.
        #[schemars(range(min = 1))]
        sequence: u32,
        /// Digest of the record before, `null` for the first.
        previous: Option<Digest>,
        /// Issuer.
        issuer: Issuer,
        /// Purpose.
        purpose: Purpose,
        /// Time of sealing in the issuer's own word.
        issued_at: UtcTime,
        /// Runs of plugins.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        runs: Vec<Run>,
        /// Findings.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        #[schemars(length(max = 1000))]
        findings: Vec<Finding>,
        /// Findings whose evidence touches withheld values; withheld unless shown by choice.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        #[schemars(length(max = 1000))]
        private_findings: Vec<Finding>,
        /// Decision.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        decision: Option<Decision>,
        /// Overrides of stops, of this and all earlier records of the blade.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        overrides: Vec<Override>,
        /// Passes logged while a stop stood unanswered.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        worked_under_hold: Vec<WorkedUnderHold>,
        /// Digests of withheld properties of the record itself.
        #[serde(rename = "_sd", default, skip_serializing_if = "Vec::is_empty")]
        #[schemars(length(min = 2, max = 2))]
        withheld: Vec<SaltedDigest>,
        /// Hash of the withheld digests, `sha-256`.
        #[serde(rename = "_sd_alg", default, skip_serializing_if = "Option::is_none")]
        #[schemars(regex(pattern = "^sha-256$"))]
        withheld_alg: Option<String>,
        /// Proof; absent only before signing.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        proof: Option<Proof>,
    }
}

/// Everything a record says beside its sheet, without proof.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Header {
    /// Schema.
    pub schema: SchemaRef,
    /// 128 random bits.
    pub record_id: RecordId,
    /// Number in the blade's chain.
    pub sequence: u32,
    /// Digest of the record before.
    pub previous: Option<Digest>,
    /// Issuer.
    pub issuer: Issuer,
    /// Purpose.
    pub purpose: Purpose,
    /// Time of sealing.
    pub issued_at: UtcTime,
}

/// What checking and deciding added to a sheet.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Judgement {
    /// Runs of plugins.
    pub runs: Vec<Run>,
    /// Findings.
    pub findings: Vec<Finding>,
    /// Findings on withheld values.
    pub private_findings: Vec<Finding>,
    /// Decision.
    pub decision: Option<Decision>,
    /// Overrides.
    pub overrides: Vec<Override>,
    /// Passes under hold.
    pub worked_under_hold: Vec<WorkedUnderHold>,
}

impl Record {
    /// Joins a sheet, a header and a judgement into an unsigned record.
    pub fn assemble(header: Header, sheet: Sheet, judgement: Judgement) -> Self {
        macro_rules! build {
            ($($field:ident)*) => {
                Self {
                    schema: header.schema,
                    record_id: header.record_id,
                    sequence: header.sequence,
                    previous: header.previous,
                    issuer: header.issuer,
                    purpose: header.purpose,
                    issued_at: header.issued_at,
                    runs: judgement.runs,
                    findings: judgement.findings,
                    private_findings: judgement.private_findings,
                    decision: judgement.decision,
                    overrides: judgement.overrides,
                    worked_under_hold: judgement.worked_under_hold,
                    withheld: Vec::new(),
                    withheld_alg: None,
                    proof: None,
                    $($field: sheet.$field,)*
                }
            };
        }
        sheet_fields!(build)
    }

    /// Returns the sheet inside the record.
    pub fn sheet(&self) -> Sheet {
        macro_rules! build {
            ($($field:ident)*) => { Sheet { $($field: self.$field.clone(),)* } };
        }
        sheet_fields!(build)
    }
}

impl Sheet {
    /// Starts a sheet that holds nothing but the identity of a blade.
    pub fn of(blade: Blade) -> Self {
        Self {
            blade,
            examination: None,
            dimensions: None,
            tang: None,
            temper_line: None,
            grain: None,
            flaws: Vec::new(),
            fittings: Vec::new(),
            plan: None,
            passes: Vec::new(),
            custody: Vec::new(),
            photos: Vec::new(),
            agreement: None,
            valuation: None,
            referral: None,
            refers_to: None,
            key_change: None,
        }
    }
}
