//! Dimensions: single values, the line of the back, and the station table.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::quantity::{Length, Mass};
use super::term::terms;

terms! {
    /// Where lengths along the blade start.
    Datum {
        BackNotch "back_notch" "棟区" "notch of the back, at the tang";
        Shoulder "shoulder" "" "shoulder of a blade without notches" "区のない刀身の肩";
        GuardFace "guard_face" "" "face of the guard of a mounted blade" "拵付きの刀身の鍔面";
    }
}

terms! {
    /// How the length of the point was taken.
    PointConvention {
        AlongBack "along_back" "" "along the line of the back" "棟線に沿って";
        SquareToPointLine "square_to_point_line" "" "square to the point line" "横手筋に直角に";
        ToRidgeEnd "to_ridge_end" "" "from the tip to where the ridge meets the point line" "先端から小鎬と横手筋の交点まで";
    }
}

terms! {
    /// Kind of curvature, as the examiner sees it.
    CurvatureKind {
        Muzori "muzori" "無反り" "none or barely any";
        ToriiZori "torii_zori" "鳥居反り" "even, deepest in the middle";
        KoshiZori "koshi_zori" "腰反り" "deepest towards the tang";
        SakiZori "saki_zori" "先反り" "deepest towards the point";
        UchiZori "uchi_zori" "内反り" "inward, the back is hollow";
        TakenokoZori "takenoko_zori" "筍反り" "inward and tapering like a bamboo shoot";
    }
}

terms! {
    /// Size of the point, as the examiner sees it.
    PointClass {
        KoKissaki "ko_kissaki" "小鋒" "small";
        ChuKissaki "chu_kissaki" "中鋒" "medium";
        OKissaki "o_kissaki" "大鋒" "large";
        IkubiKissaki "ikubi_kissaki" "猪首鋒" "short for its width";
        KamasuKissaki "kamasu_kissaki" "魳鋒" "with a nearly straight edge";
    }
}

terms! {
    /// Roundness of the edge of the point.
    Fukura {
        Tsuku "fukura_tsuku" "ふくら付く" "full";
        Kareru "fukura_kareru" "ふくら枯れる" "lean";
    }
}

terms! {
    /// What was on the scale.
    MassState {
        Bare "bare" "" "bare blade with tang" "刀身のみ、茎とも";
        WithCollar "with_collar" "" "with its collar" "鎺付き";
        Mounted "mounted" "" "mounted" "拵付き";
    }
}

terms! {
    /// A face of the blade, or one of its narrow sides.
    Face {
        Omote "omote" "表" "outer face";
        Ura "ura" "裏" "inner face";
        EdgeSide "edge_side" "刃方" "edge side";
        BackSide "back_side" "棟方" "back side";
    }
}

/// Measurements of one section.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Station {
    /// Distance from the datum towards the point.
    pub at: Length,
    /// Width, edge to back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub width: Option<Length>,
    /// Thickness at the ridge, or the greatest where there is no ridge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ridge_thickness: Option<Length>,
    /// Thickness at the back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub back_thickness: Option<Length>,
    /// Width of the face between ridge and back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ridge_width: Option<Length>,
}

/// Height of the back above the chord at one place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BackPoint {
    /// Distance along the chord from the datum.
    pub at: Length,
    /// Height of the back above the chord; negative where the back is hollow.
    pub height: Length,
}

/// A point of the outline seen from the side.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OutlinePoint {
    /// Along the chord from the datum; negative on the tang.
    pub along: Length,
    /// Across the chord, positive towards the back.
    pub across: Length,
}

/// A groove.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Groove {
    /// Face.
    pub face: Face,
    /// Start, from the datum.
    pub from: Length,
    /// End, from the datum.
    pub to: Length,
    /// Width.
    pub width: Length,
    /// Depth.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth: Option<Length>,
}

/// Dimensions. Every length along the blade starts at `datum`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Dimensions {
    /// Where lengths along the blade start.
    pub datum: Datum,
    /// Blade length (nagasa): straight line from the tip to the datum.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub blade_length: Option<Length>,
    /// Curvature (sori): greatest distance of the back from that line; negative for a hollow back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub curvature: Option<Length>,
    /// Where the curvature is greatest, from the datum.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub curvature_at: Option<Length>,
    /// Kind of curvature, in the examiner's view.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub curvature_kind: Option<CurvatureKind>,
    /// Overall length with tang.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub overall_length: Option<Length>,
    /// Width at the notches (motohaba).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub width_at_base: Option<Length>,
    /// Width at the point line (sakihaba).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub width_at_point: Option<Length>,
    /// Thickness at the notches (motokasane), at the ridge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thickness_at_base: Option<Length>,
    /// Thickness of the back at the notches.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub back_thickness_at_base: Option<Length>,
    /// Thickness at the point line (sakikasane), at the ridge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thickness_at_point: Option<Length>,
    /// Length of the point (kissaki).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub point_length: Option<Length>,
    /// How the length of the point was taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub point_convention: Option<PointConvention>,
    /// Size of the point, in the examiner's view.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub point_class: Option<PointClass>,
    /// Roundness of the edge of the point.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fukura: Option<Fukura>,
    /// Depth of the edge notch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub edge_notch_depth: Option<Length>,
    /// Depth of the back notch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub back_notch_depth: Option<Length>,
    /// Length of the tang.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tang_length: Option<Length>,
    /// Curvature of the tang.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tang_curvature: Option<Length>,
    /// Whole span of a cross-shaped blade.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cross_span: Option<Length>,
    /// Mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass: Option<Mass>,
    /// What was on the scale.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass_state: Option<MassState>,
    /// Station table, in order from the datum.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 200))]
    pub stations: Vec<Station>,
    /// Line of the back, in order from the datum.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 400))]
    pub back_line: Vec<BackPoint>,
    /// Measured outline, a closed polygon.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 2000))]
    pub outline: Vec<OutlinePoint>,
    /// Grooves.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 20))]
    pub grooves: Vec<Groove>,
}
