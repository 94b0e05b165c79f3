//! People, documents, money and dates as several sections use them, with what may be withheld.

use std::{fmt, str::FromStr};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::scalar::PartialDate;
use super::term::terms;
use crate::units::Decimal;

/// A salted digest of a withheld property: 43 base64url characters.
///
/// Source: RFC 9901, 4.2.3 (SHA-256 over the encoded disclosure).
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct SaltedDigest(#[schemars(regex(pattern = r"^[A-Za-z0-9_-]{43}$"))] pub String);

terms! {
    /// Part a person plays.
    Role {
        Polisher "polisher" "研師" "polisher";
        Owner "owner" "" "owner" "所有者";
        Customer "customer" "" "customer who left the blade" "依頼者（預け主）";
        Seller "seller" "" "seller" "売り主";
        Buyer "buyer" "" "buyer" "買い主";
        Specialist "specialist" "" "senior specialist" "上級の専門家";
        Appraiser "appraiser" "鑑定家" "author of an opinion" "鑑定者";
        Smith "smith" "刀匠" "smith";
        FittingMaker "fitting_maker" "" "maker of fittings" "刀装具の職方";
        Carrier "carrier" "" "carrier" "運送人";
        Authority "authority" "" "public authority" "官公庁";
        Museum "museum" "" "museum or collection" "博物館または収集家";
        Insurer "insurer" "" "insurer" "保険者";
        Heir "heir" "" "heir" "相続人";
        Unknown "unknown" "" "not known" "不明";
    }
}

/// A person or body. Name, address and contact may be withheld.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Person {
    /// Part played.
    pub role: Role,
    /// Name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 200))]
    pub name: Option<String>,
    /// Postal address.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 400))]
    pub address: Option<String>,
    /// Telephone or mail.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 200))]
    pub contact: Option<String>,
    /// Digests of withheld properties.
    #[serde(rename = "_sd", default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(min = 3, max = 3))]
    pub withheld: Vec<SaltedDigest>,
}

/// An amount of money.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Money {
    /// Amount.
    pub amount: Decimal,
    /// Currency code of three capital letters (ISO 4217).
    #[schemars(regex(pattern = r"^[A-Z]{3}$"))]
    pub currency: String,
}

/// A text that is no amount of money.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{found}` found, an amount, a space and a currency code are allowed")]
pub struct MoneyError {
    /// The text, cut to 60 characters.
    pub found: String,
}

impl MoneyError {
    /// Returns the next step.
    pub const fn hint(&self) -> &'static str {
        "write it like \"1200 EUR\": the code in three capital letters (ISO 4217), nothing between thousands, \
         a full stop before decimals"
    }
}

impl FromStr for Money {
    type Err = MoneyError;

    /// Reads `1200 EUR`.
    fn from_str(text: &str) -> Result<Self, MoneyError> {
        let fault = || {
            let mut found: String = text.trim().chars().take(60).collect();
            if found.len() < text.trim().len() {
                found.push('…');
            }
            MoneyError { found }
        };
        let (amount, currency) = text.trim().split_once(' ').ok_or_else(fault)?;
        let currency = currency.trim();
        let code =
            currency.len() == 3 && currency.bytes().all(|letter| letter.is_ascii_uppercase());
        if !code {
            return Err(fault());
        }
        Ok(Self {
            amount: amount.parse().map_err(|_| fault())?,
            currency: currency.to_owned(),
        })
    }
}

impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.amount, self.currency)
    }
}

/// A span of time known only within limits.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct When {
    /// Not before.
    pub earliest: PartialDate,
    /// Not after.
    pub latest: PartialDate,
}

terms! {
    /// How sure the author of an opinion is.
    Confidence {
        Low "low" "" "low" "低い";
        Moderate "moderate" "" "moderate" "中程度";
        High "high" "" "high" "高い";
    }
}

/// Somebody's opinion on period, maker or origin; never a fact of the record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Attribution {
    /// The opinion in words.
    #[schemars(length(min = 1, max = 400))]
    pub statement: String,
    /// Whose opinion.
    pub author: Person,
    /// What it rests on.
    #[schemars(length(min = 1, max = 400))]
    pub basis: String,
    /// How sure the author is.
    pub confidence: Confidence,
    /// When it was given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<PartialDate>,
}

terms! {
    /// Kind of a paper.
    DocumentKind {
        RegistrationCard "registration_card" "登録証" "registration card of the blade" "登録証";
        AppraisalPaper "appraisal_paper" "鑑定書" "private appraisal paper, an opinion" "鑑定書（私的見解）";
        ExportPermit "export_permit" "" "export permit or certificate" "輸出許可書または証明書";
        ImportPermit "import_permit" "" "import permit or customs entry" "輸入許可書または通関書類";
        SpeciesPermit "species_permit" "" "permit for protected species" "保護種の許可書";
        Invoice "invoice" "" "invoice" "請求書";
        Receipt "receipt" "" "receipt" "受領書";
        Letter "letter" "" "letter" "書簡";
        Photograph "photograph" "" "dated photograph" "日付のある写真";
        Inventory "inventory" "" "inventory or list" "目録";
        LossRegisterSearch "loss_register_search" "" "search in a register of lost objects" "紛失・盗難品台帳の照会";
        Other "other" "" "other paper" "その他の書類";
    }
}

/// A paper that goes with an event. Its number may be withheld.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Document {
    /// Kind.
    pub kind: DocumentKind,
    /// Who issued it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 200))]
    pub issuer: Option<String>,
    /// Its date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<PartialDate>,
    /// Its number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 100))]
    pub number: Option<String>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 400))]
    pub note: Option<String>,
    /// Digests of withheld properties.
    #[serde(rename = "_sd", default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(min = 1, max = 1))]
    pub withheld: Vec<SaltedDigest>,
}
