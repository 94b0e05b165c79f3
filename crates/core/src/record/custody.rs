//! Custody and ownership events, agreements, valuation, referral.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::people::{Document, Money, Person, SaltedDigest, When};
use super::quantity::Mass;
use super::scalar::PartialDate;
use super::term::terms;
use crate::Digest;

terms! {
    /// Kind of an event in the life of a blade.
    CustodyKind {
        Made "made" "" "made" "製作";
        Shortened "shortened" "磨上げ" "shortened";
        Polished "polished" "研ぎ" "polished";
        Altered "altered" "" "otherwise altered" "その他の改変";
        FittingAdded "fitting_added" "" "fitting added" "刀装具の取付け";
        FittingRemoved "fitting_removed" "" "fitting removed" "刀装具の取外し";
        Examined "examined" "" "condition examined" "状態調査";
        Measured "measured" "" "measured" "計測";
        Attributed "attributed" "" "attributed, an opinion" "極め（見解）";
        LeftForWork "left_for_work" "" "left in custody for work" "作業のための預かり";
        Returned "returned" "" "returned from custody" "返却";
        Lent "lent" "" "lent" "貸出し";
        Sold "sold" "" "sold" "売却";
        Given "given" "" "given" "贈与";
        Inherited "inherited" "" "inherited" "相続";
        Bought "bought" "" "bought" "購入";
        Exported "exported" "" "taken out of a country" "国外への持出し";
        Imported "imported" "" "brought into a country" "国内への持込み";
        Registered "registered" "" "entered in a register" "登録";
        Lost "lost" "" "lost or destroyed" "紛失または滅失";
        Found "found" "" "found" "発見";
    }
}

impl CustodyKind {
    /// Returns the fixed terms of CIDOC CRM that an event of this kind maps to.
    ///
    /// Source: CIDOC CRM 7.1.3 class names; E6, E8, E10, E11, E12, E13, E14, E16, E79, E80.
    pub fn maps_to(self) -> &'static [&'static str] {
        match self {
            Self::Made => &["crm:E12_Production"],
            Self::Shortened | Self::Polished | Self::Altered => &["crm:E11_Modification"],
            Self::FittingAdded => &["crm:E79_Part_Addition"],
            Self::FittingRemoved => &["crm:E80_Part_Removal"],
            Self::Examined => &["crm:E14_Condition_Assessment"],
            Self::Measured => &["crm:E16_Measurement"],
            Self::Attributed | Self::Registered => &["crm:E13_Attribute_Assignment"],
            Self::LeftForWork | Self::Returned | Self::Lent => &["crm:E10_Transfer_of_Custody"],
            Self::Sold | Self::Given | Self::Inherited | Self::Bought => &["crm:E8_Acquisition"],
            Self::Exported | Self::Imported => &["crm:E9_Move"],
            Self::Lost => &["crm:E6_Destruction"],
            Self::Found => &["crm:E5_Event"],
        }
    }
}

/// An event in the life of the blade. The price may be withheld.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CustodyEvent {
    /// Kind.
    pub kind: CustodyKind,
    /// Terms of CIDOC CRM, fixed by `kind`.
    #[schemars(length(min = 1, max = 3))]
    pub maps_to: Vec<String>,
    /// When, within limits.
    pub when: When,
    /// From whom.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Person>,
    /// To whom.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<Person>,
    /// Place, in general words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 200))]
    pub place: Option<String>,
    /// Papers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub documents: Vec<Document>,
    /// Price.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub price: Option<Money>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 2000))]
    pub note: Option<String>,
    /// Digests of withheld properties.
    #[serde(rename = "_sd", default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(min = 1, max = 1))]
    pub withheld: Vec<SaltedDigest>,
}

/// What came of a point at which to stop and ask: the owner's answer, or that it was looked for and not met.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Asked {
    /// The point, as in `stop_and_ask`.
    #[schemars(length(min = 1, max = 1000))]
    pub point: String,
    /// Day.
    pub on: PartialDate,
    /// The answer.
    #[schemars(length(min = 1, max = 2000))]
    pub answer: String,
}

/// What was agreed with the owner. Price ceiling and insured value may be withheld.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Agreement {
    /// Owner.
    pub owner: Person,
    /// What is to be done.
    #[schemars(length(min = 1, max = 2000))]
    pub work: String,
    /// Most steel that may go.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub steel_limit: Option<Mass>,
    /// Whether an etch is allowed.
    pub etch_allowed: bool,
    /// Points at which to stop and ask.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stop_and_ask: Vec<String>,
    /// What came of these points, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 200))]
    pub asked: Vec<Asked>,
    /// What the owner agreed to in writing, where a step needed it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 2000))]
    pub consent: Option<String>,
    /// Day of the agreement.
    pub on: PartialDate,
    /// Day of return.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub return_by: Option<PartialDate>,
    /// Price ceiling.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub price_ceiling: Option<Money>,
    /// Insured value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub insured_value: Option<Money>,
    /// Digests of withheld properties.
    #[serde(rename = "_sd", default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(min = 2, max = 2))]
    pub withheld: Vec<SaltedDigest>,
}

terms! {
    /// What a value rests on.
    ValueBasis {
        Market "market" "" "market" "市場価格";
        Replacement "replacement" "" "replacement" "再取得価格";
        Insurance "insurance" "" "agreed for insurance" "保険のための協定価格";
        Asking "asking" "" "asking price" "売出し価格";
        Paid "paid" "" "price paid" "支払価格";
    }
}

/// A valuation; withheld as a whole unless it is shown by choice.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Valuation {
    /// Amount.
    pub value: Money,
    /// Basis.
    pub basis: ValueBasis,
    /// Day.
    pub on: PartialDate,
    /// Valid until.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub valid_until: Option<PartialDate>,
    /// Valuer.
    #[schemars(length(min = 1, max = 200))]
    pub valuer: String,
    /// The valuer's interest in the blade.
    #[schemars(length(min = 1, max = 400))]
    pub interest: String,
    /// How it was reached.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 2000))]
    pub note: Option<String>,
}

/// What goes to a senior specialist.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Referral {
    /// To whom.
    pub to: Person,
    /// Questions.
    #[schemars(length(min = 1, max = 30))]
    pub questions: Vec<String>,
    /// What was not done, and why.
    #[schemars(length(min = 1, max = 30))]
    pub not_done: Vec<String>,
    /// Conditions of return.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 1000))]
    pub return_conditions: Option<String>,
    /// What was packed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub packed: Vec<String>,
}

/// The earlier record that a correction, withdrawal, reply, receipt or override speaks of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RefersTo {
    /// Digest of that record.
    pub record: Digest,
    /// What is said of it.
    #[schemars(length(min = 1, max = 4000))]
    pub statement: String,
}

/// A new signing key announced by the old one.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct KeyChange {
    /// did:key of the new key.
    #[schemars(regex(pattern = r"^did:key:z[1-9A-HJ-NP-Za-km-z]{40,60}$"))]
    pub new_key: String,
    /// Reason.
    #[schemars(length(min = 1, max = 400))]
    pub reason: String,
}
