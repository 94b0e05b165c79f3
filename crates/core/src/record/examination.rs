//! Who looked at the blade, when, in what light, with what, and what was not looked at.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::people::Person;
use super::quantity::{AsRead, Duration, Fraction, Temperature};
use super::scalar::{Key, PartialDate};
use super::term::terms;

terms! {
    /// Why the blade was examined.
    Reason {
        Intake "intake" "" "arrival in the workshop" "工房への受入れ";
        BeforeWork "before_work" "" "before any stone touches it" "砥石を当てる前";
        DuringWork "during_work" "" "between passes" "工程の間";
        AfterWork "after_work" "" "work finished" "作業完了時";
        Sale "sale" "" "before a change of hands" "引渡し前";
        Insurance "insurance" "" "for an insurer" "保険のため";
        Referral "referral" "" "for a specialist" "専門家への照会のため";
        Periodic "periodic" "" "regular check" "定期点検";
        Damage "damage" "" "after damage" "損傷後";
    }
}

terms! {
    /// Way of looking.
    SightingMethod {
        NakedEye "naked_eye" "" "naked eye" "肉眼";
        RakingLight "raking_light" "" "raking light" "斜光";
        TransmittedGlare "point_light" "" "single point of light along the blade" "刀身に沿う点光源";
        Loupe "loupe" "" "hand lens" "拡大鏡";
        Microscope "microscope" "" "microscope" "顕微鏡";
        MildEtch "mild_etch" "" "mild acid etch" "弱酸による腐食";
        StainLine "stain_line" "" "stain line after wiping" "拭き取り後の滲み線";
        DyePenetrant "dye_penetrant" "" "dye penetrant" "浸透探傷";
        DepthGauge "depth_gauge" "" "depth gauge or wire" "深さゲージまたは針金";
        SightAlong "sight_along" "" "sight along the back" "棟に沿う目通し";
        Radiograph "radiograph" "" "radiograph" "X線透過撮影";
        Other "other" "" "other" "その他";
    }
}

terms! {
    /// Condition of the surface as a whole, in this tool's own five steps.
    SurfaceGrade {
        FullPolish "full_polish" "" "full polish, no rust, no scratches without a loupe" "研ぎは完全で錆なく、肉眼で傷を見ない";
        WornPolish "worn_polish" "" "polish readable, hairlines or haze" "研ぎは読めるが、ヒケ傷または曇りあり";
        StainedOrScratched "stained_or_scratched" "" "stains or scratches that hide part of the work" "染みまたは傷が見どころの一部を隠す";
        Rusted "rusted" "" "rust over a good part" "広い範囲に錆";
        DeeplyRusted "deeply_rusted" "" "deep rust or pits over a good part" "広い範囲に深錆または朽込み";
    }
}

terms! {
    /// How much of the blade is there.
    Completeness {
        Complete "complete" "" "complete" "完存";
        Incomplete "incomplete" "" "a part is missing" "一部欠失";
        Fragment "fragment" "" "fragment" "断片";
    }
}

terms! {
    /// A part that can be examined.
    Part {
        Edge "edge" "刃" "edge";
        Ground "ground" "地" "ground between edge and ridge";
        Ridge "ridge" "鎬" "ridge and the face behind it" "鎬・鎬地";
        Back "back" "棟" "back";
        Point "point" "鋒" "point";
        Tang "tang" "茎" "tang";
        TemperLine "temper_line" "刃文" "temper line";
        PointTemper "point_temper" "帽子" "temper in the point" "帽子";
        Grain "grain" "地鉄" "grain of the steel";
        Straightness "straightness" "" "straightness and twist" "曲りと捩れ";
        Fittings "fittings" "刀装具" "fittings";
        Mass "mass" "" "mass" "質量";
        Sections "sections" "" "thickness and width at stations" "各測点の重ねと身幅";
    }
}

/// A measuring instrument.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Instrument {
    /// Key that quantities use.
    pub id: Key,
    /// What it is.
    #[schemars(length(min = 1, max = 200))]
    pub name: String,
    /// Smallest step it shows.
    pub resolution: AsRead,
    /// Limit of error, half-width, where known from its papers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit_of_error: Option<AsRead>,
    /// Day of the last calibration or check.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calibrated_on: Option<PartialDate>,
}

/// A part that was not examined, and why.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NotExamined {
    /// Which part.
    pub part: Part,
    /// Why not.
    #[schemars(length(min = 1, max = 400))]
    pub why: String,
}

/// An etch, for looking or as part of the work.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Etch {
    /// Agent, for example an acid.
    #[schemars(length(min = 1, max = 200))]
    pub agent: String,
    /// Concentration.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub concentration: Option<Fraction>,
    /// Time on the steel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub time: Option<Duration>,
    /// Neutralised afterwards.
    pub neutralised: bool,
    /// Rinsed afterwards.
    pub rinsed: bool,
    /// Dried and oiled afterwards.
    pub dried: bool,
}

/// The examination behind the record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Examination {
    /// Who examined.
    pub by: Person,
    /// Day of the examination.
    pub on: PartialDate,
    /// Where, in general words.
    #[serde(rename = "where", default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 200))]
    pub place: Option<String>,
    /// Light.
    #[schemars(length(min = 1, max = 400))]
    pub light: String,
    /// Reason.
    pub reason: Reason,
    /// Ways of looking that were used.
    #[schemars(length(min = 1))]
    pub methods: Vec<SightingMethod>,
    /// Temperature of the room.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature: Option<Temperature>,
    /// Instruments.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub instruments: Vec<Instrument>,
    /// Parts that were examined.
    #[schemars(length(min = 1))]
    pub examined: Vec<Part>,
    /// Parts that were not, and why.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub not_examined: Vec<NotExamined>,
    /// An etch made for the examination.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub etch: Option<Etch>,
    /// Surface as a whole.
    pub surface: SurfaceGrade,
    /// How much of the blade is there.
    pub completeness: Completeness,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 4000))]
    pub note: Option<String>,
}
