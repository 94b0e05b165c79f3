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
        Intake "intake" "" "arrival in the workshop";
        BeforeWork "before_work" "" "before any stone touches it";
        DuringWork "during_work" "" "between passes";
        AfterWork "after_work" "" "work finished";
        Sale "sale" "" "before a change of hands";
        Insurance "insurance" "" "for an insurer";
        Referral "referral" "" "for a specialist";
        Periodic "periodic" "" "regular check";
        Damage "damage" "" "after damage";
    }
}

terms! {
    /// Way of looking.
    SightingMethod {
        NakedEye "naked_eye" "" "naked eye";
        RakingLight "raking_light" "" "raking light";
        TransmittedGlare "point_light" "" "single point of light along the blade";
        Loupe "loupe" "" "hand lens";
        Microscope "microscope" "" "microscope";
        MildEtch "mild_etch" "" "mild acid etch";
        StainLine "stain_line" "" "stain line after wiping";
        DyePenetrant "dye_penetrant" "" "dye penetrant";
        DepthGauge "depth_gauge" "" "depth gauge or wire";
        SightAlong "sight_along" "" "sight along the back";
        Radiograph "radiograph" "" "radiograph";
        Other "other" "" "other";
    }
}

terms! {
    /// Condition of the surface as a whole, in this tool's own five steps.
    SurfaceGrade {
        FullPolish "full_polish" "" "full polish, no rust, no scratches without a loupe";
        WornPolish "worn_polish" "" "polish readable, hairlines or haze";
        StainedOrScratched "stained_or_scratched" "" "stains or scratches that hide part of the work";
        Rusted "rusted" "" "rust over a good part";
        DeeplyRusted "deeply_rusted" "" "deep rust or pits over a good part";
    }
}

terms! {
    /// How much of the blade is there.
    Completeness {
        Complete "complete" "" "complete";
        Incomplete "incomplete" "" "a part is missing";
        Fragment "fragment" "" "fragment";
    }
}

terms! {
    /// A part that can be examined.
    Part {
        Edge "edge" "刃" "edge";
        Ground "ground" "地" "ground between edge and ridge";
        Ridge "ridge" "鎬" "ridge and the face behind it";
        Back "back" "棟" "back";
        Point "point" "鋒" "point";
        Tang "tang" "茎" "tang";
        TemperLine "temper_line" "刃文" "temper line";
        PointTemper "point_temper" "帽子" "temper in the point";
        Grain "grain" "地鉄" "grain of the steel";
        Straightness "straightness" "" "straightness and twist";
        Fittings "fittings" "刀装具" "fittings";
        Mass "mass" "" "mass";
        Sections "sections" "" "thickness and width at stations";
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
