//! Flaws as seen. How much a flaw matters is a finding of a plugin, never a property of the flaw.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::dimensions::Face;
use super::examination::SightingMethod;
use super::people::Role;
use super::quantity::{Area, Length};
use super::scalar::{Key, PartialDate};
use super::term::terms;

terms! {
    /// Kind of a flaw.
    FlawKind {
        Hagire "hagire" "刃切れ" "crack through the hardened edge, square to it";
        Karasunokuchi "karasunokuchi" "烏の口" "crack in the point temper, running from the edge";
        KissakiBroken "kissaki_broken" "鋒欠け" "point broken off";
        Hakobore "hakobore" "刃毀れ" "chip in the edge";
        BoshiNone "boshi_none" "帽子無し" "no temper in the point";
        NioiGire "nioi_gire" "匂切れ" "stretch without temper line";
        Saiha "saiha" "再刃" "re-tempered";
        Yakemi "yakemi" "焼身" "temper lost in a fire";
        Hagarami "hagarami" "刃搦み" "slanting crack or opening at the edge";
        TsukiNoWa "tsuki_no_wa" "月の輪" "ring-shaped crack in the point temper";
        Mikazuki "mikazuki" "三日月" "crescent-shaped crack in the point temper";
        Shinae "shinae" "撓え" "ripples in the skin steel";
        Fukure "fukure" "膨れ" "blister";
        FukureYabure "fukure_yabure" "膨れ破れ" "opened blister";
        Ware "ware" "割れ" "opening along a weld line";
        HadaWare "hada_ware" "肌割れ" "opening along the grain";
        KitaeWare "kitae_ware" "鍛え割れ" "opening between folds";
        TateWare "tate_ware" "縦割れ" "lengthwise opening";
        MuneWare "mune_ware" "棟割れ" "opening in the back";
        ShinogiWare "shinogi_ware" "鎬割れ" "opening at the ridge";
        HaWare "ha_ware" "刃割れ" "opening in the edge";
        Umegane "umegane" "埋鉄" "let-in plug of steel";
        Kirikomi "kirikomi" "切込み" "cut received in use, kept";
        JiAre "ji_are" "地荒れ" "coarse patch in the ground";
        Shingane "shingane" "心鉄" "core steel showing" "心鉄の露出";
        Tsukare "tsukare" "疲れ" "tired from many polishes" "研ぎ減りによる疲れ";
        YakibaKuzure "yakiba_kuzure" "焼刃崩れ" "temper line fallen apart";
        Shimi "shimi" "染み" "stain in the ground";
        HaJimi "ha_jimi" "刃染み" "dull patch in the temper line";
        KakeDashi "kake_dashi" "駆け出し" "temper line runs out into the edge";
        SabiActive "sabi_active" "赤錆" "active rust" "赤錆（進行性）";
        SabiStable "sabi_stable" "黒錆" "stable dark rust" "黒錆（安定）";
        Pits "pits" "朽込み" "pits";
        Magari "magari" "曲り" "bend";
        Nejire "nejire" "捩れ" "twist";
        Scratches "scratches" "ヒケ" "scratches" "ヒケ傷";
        NotchWorn "notch_worn" "" "edge or back notch worn or lost" "区の減りまたは欠失";
        GeometryLost "geometry_lost" "" "ridge, point line or point reshaped or rounded" "鎬・横手・鋒の形崩れ";
        Delamination "delamination" "" "layers parting" "鍛え層の剥離";
        Crack "crack" "" "crack elsewhere than in the edge" "刃以外の亀裂";
        Other "other" "" "other" "その他";
    }
}

terms! {
    /// Where on the section a flaw is.
    Zone {
        Edge "edge" "刃" "edge";
        Ground "ground" "地" "ground between temper line and ridge";
        Ridge "ridge" "鎬地" "ridge and the face behind it";
        Back "back" "棟" "back";
        Point "point" "鋒" "point";
        Tang "tang" "茎" "tang";
    }
}

terms! {
    /// Whether a flaw goes on.
    Progress {
        Active "active" "" "goes on" "進行中";
        Stable "stable" "" "stable" "安定";
        Unknown "unknown" "" "not known" "不明";
    }
}

terms! {
    /// How far a flaw is established.
    Standing {
        Suspected "suspected" "" "suspected" "疑いあり";
        Confirmed "confirmed" "" "confirmed" "確認済み";
        RuledOut "ruled_out" "" "looked for again and not found" "再調査で認められず";
    }
}

terms! {
    /// Outcome of one look.
    Outcome {
        Seen "seen" "" "seen" "認めた";
        NotSeen "not_seen" "" "not seen" "認めず";
        Unclear "unclear" "" "unclear" "判然とせず";
    }
}

/// One look at a suspected flaw.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Sighting {
    /// Day.
    pub on: PartialDate,
    /// Who looked, by part played.
    pub by: Role,
    /// How.
    pub method: SightingMethod,
    /// Light.
    #[schemars(length(min = 1, max = 200))]
    pub light: String,
    /// Face looked at.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub face: Option<Face>,
    /// Outcome.
    pub outcome: Outcome,
    /// Photos.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photos: Vec<Key>,
}

/// A flaw.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Flaw {
    /// Key; stays the same from record to record.
    pub id: Key,
    /// Kind.
    pub kind: FlawKind,
    /// Zone.
    pub zone: Zone,
    /// Faces on which it shows.
    #[schemars(length(min = 1, max = 4))]
    pub faces: Vec<Face>,
    /// Distance from the datum to its middle.
    pub at: Length,
    /// Distance of its middle from the edge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from_edge: Option<Length>,
    /// Extent along the blade.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length: Option<Length>,
    /// Extent across the blade.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub width: Option<Length>,
    /// Depth.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth: Option<Length>,
    /// Area, where it is a field of many.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub area: Option<Area>,
    /// Number, where it is a field of many.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub count: Option<u32>,
    /// Whether it goes through the temper line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub through_temper: Option<bool>,
    /// Whether it goes on.
    pub progress: Progress,
    /// How far it is established.
    pub standing: Standing,
    /// Looks that led to `standing`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 50))]
    pub sightings: Vec<Sighting>,
    /// Cause, where known, as an opinion.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 400))]
    pub cause: Option<String>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 2000))]
    pub note: Option<String>,
    /// Photos.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photos: Vec<Key>,
}
