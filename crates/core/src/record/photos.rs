//! Photos, bound to the record by the digest of their bytes.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::people::SaltedDigest;
use super::quantity::Length;
use super::scalar::{Key, PartialDate};
use super::term::terms;
use crate::Digest;

terms! {
    /// What a photo shows.
    Shows {
        Whole "whole" "" "whole blade" "全体";
        Tang "tang" "茎" "tang";
        Point "point" "鋒" "point";
        Flaw "flaw" "疵" "flaw";
        TemperLine "temper_line" "刃文" "temper line";
        Grain "grain" "地鉄" "grain";
        Inscription "inscription" "銘" "inscription";
        Fittings "fittings" "刀装具" "fittings";
        Packing "packing" "" "packing" "梱包";
        Papers "papers" "" "papers" "書類";
        Other "other" "" "other" "その他";
    }
}

/// One file, described by facts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PhotoFile {
    /// SHA-256 over all bytes of the file.
    pub digest: Digest,
    /// Length in bytes.
    #[schemars(range(min = 1))]
    pub length: u64,
    /// Media type.
    #[schemars(regex(pattern = r"^image/[a-z0-9.+-]{1,40}$"))]
    pub media_type: String,
    /// Width in pixels, as stored.
    #[schemars(range(min = 1))]
    pub width_px: u32,
    /// Height in pixels, as stored.
    #[schemars(range(min = 1))]
    pub height_px: u32,
    /// EXIF orientation, 1 to 8, where the file has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1, max = 8))]
    pub orientation: Option<u8>,
}

/// A file made from the original.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Derivative {
    /// The file.
    pub file: PhotoFile,
    /// What was done to make it.
    #[schemars(length(min = 1, max = 400))]
    pub transform: String,
}

/// A photo. The original may be kept private; its derivatives then stand for it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Photo {
    /// Key that other sections use.
    pub id: Key,
    /// What it shows.
    pub shows: Shows,
    /// Caption.
    #[schemars(length(min = 1, max = 400))]
    pub caption: String,
    /// Day it was taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken_on: Option<PartialDate>,
    /// Width of the picture on the blade, where a scale is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub field_width: Option<Length>,
    /// The original stays with the workshop.
    #[serde(default)]
    pub original_kept_private: bool,
    /// The original.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub original: Option<PhotoFile>,
    /// Files made from it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub derivatives: Vec<Derivative>,
    /// Digests of withheld properties.
    #[serde(rename = "_sd", default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(min = 1, max = 1))]
    pub withheld: Vec<SaltedDigest>,
}
