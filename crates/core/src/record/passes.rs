//! Passes: what was done to the steel, one entry a pass.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::dimensions::{Face, Station};
use super::examination::Etch;
use super::flaws::Zone;
use super::quantity::{Duration, Length, Mass};
use super::scalar::{Key, PartialDate};
use super::term::terms;

terms! {
    /// What was done.
    Operation {
        Straighten "straighten" "" "straighten" "曲り直し";
        Derust "derust" "錆取り" "remove rust";
        Grind "grind" "下地研ぎ" "foundation grinding";
        Polish "polish" "研ぎ" "polish on the stone" "砥石による研ぎ";
        FingerFinish "finger_finish" "仕上げ研ぎ" "finish with finger stones";
        Etch "etch" "" "etch" "腐食検査";
        Neutralise "neutralise" "" "neutralise" "中和";
        WipePolish "wipe_polish" "拭い" "wipe with oxide and oil";
        Whiten "whiten" "刃取り" "whiten along the temper line" "刃取り";
        Burnish "burnish" "磨き" "burnish" "磨き";
        PointFinish "point_finish" "ナルメ" "finish the point";
        Clean "clean" "" "clean" "清掃";
        Oil "oil" "油" "oil" "油引き";
    }
}

/// The passes of an earlier state and of a later one, each once by its key, in the order of the work: of a pass in both the
/// later one counts, in the place of the earlier.
///
/// This is the one rule for which passes a blade has: go through its sealed records, oldest first, then its sheet. `key` gives
/// the key of a pass, and one without a key is like no other; `on` its day, see [`in_order_of_days`].
pub fn each_pass_once<T>(
    earlier: Vec<T>,
    later: Vec<T>,
    key: impl Fn(&T) -> Option<&str>,
    on: impl Fn(&T) -> Option<&str>,
) -> Vec<T> {
    let mut all = earlier;
    for pass in later {
        let known = key(&pass).and_then(|name| all.iter().position(|one| key(one) == Some(name)));
        match known.and_then(|at| all.get_mut(at)) {
            Some(place) => *place = pass,
            None => all.push(pass),
        }
    }
    in_order_of_days(&mut all, on);
    all
}

/// Sorts by day; those of a day stay as they are listed. Where a day is known to the month or year alone, or not at all,
/// nothing tells what came before it, and all stay as they are listed.
pub fn in_order_of_days<T>(passes: &mut [T], on: impl Fn(&T) -> Option<&str>) {
    if passes
        .iter()
        .all(|pass| on(pass).is_some_and(|day| day.len() == 10))
    {
        passes.sort_by(|one, other| on(one).cmp(&on(other)));
    }
}

impl Operation {
    /// Tells whether it takes steel on purpose; what comes off with rust is rust for the most part and counts apart.
    ///
    /// Common practice, no source.
    pub const fn takes_steel(self) -> bool {
        match self {
            Self::Grind
            | Self::Polish
            | Self::FingerFinish
            | Self::Whiten
            | Self::PointFinish
            | Self::Etch => true,
            Self::Straighten
            | Self::Derust
            | Self::Neutralise
            | Self::WipePolish
            | Self::Burnish
            | Self::Clean
            | Self::Oil => false,
        }
    }
}

terms! {
    /// Grading system of a grit number; a number without its system means nothing.
    GritSystem {
        FepaF "fepa_f" "" "FEPA F, loose and bonded grain" "FEPA F（砥粒・砥石）";
        FepaP "fepa_p" "" "FEPA P, coated abrasives" "FEPA P（研磨布紙）";
        Jis "jis" "" "JIS R 6001" "JIS R 6001";
        Cami "cami" "" "CAMI" "CAMI";
        MakersOwn "makers_own" "" "maker's own number" "製造者独自の番手";
    }
}

terms! {
    /// Where an abrasive comes from.
    AbrasiveOrigin {
        Natural "natural" "天然" "natural";
        Synthetic "synthetic" "人造" "synthetic";
    }
}

terms! {
    /// Stage of the work, in the trade's names.
    StoneStage {
        Arato "arato" "荒砥" "coarse shaping";
        Binsui "binsui" "備水砥" "first foundation stone";
        Kaisei "kaisei" "改正砥" "second foundation stone";
        ChuNagura "chu_nagura" "中名倉砥" "middle stone";
        KomaNagura "koma_nagura" "細名倉砥" "fine stone";
        UchigumoriHato "uchigumori_hato" "内曇刃砥" "stone for the edge side";
        UchigumoriJito "uchigumori_jito" "内曇地砥" "stone for the ground";
        Hazuya "hazuya" "刃艶" "finger stone for the edge side";
        Jizuya "jizuya" "地艶" "finger stone for the ground";
        Nugui "nugui" "拭い" "oxide in oil";
        Migaki "migaki" "磨き" "burnishing needle";
        Narume "narume" "ナルメ" "point";
        Other "other" "" "other" "その他";
    }
}

/// A grit number with its system.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Grit {
    /// Number.
    #[schemars(range(min = 4, max = 100_000))]
    pub number: u32,
    /// System.
    pub system: GritSystem,
}

/// An abrasive.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Abrasive {
    /// The workshop's name for it.
    #[schemars(length(min = 1, max = 200))]
    pub name: String,
    /// Stage.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stage: Option<StoneStage>,
    /// Natural or synthetic.
    pub origin: AbrasiveOrigin,
    /// Grit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grit: Option<Grit>,
    /// Median grain size, where known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub d50: Option<Length>,
}

/// Readings before or after a pass.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PassReadings {
    /// Mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass: Option<Mass>,
    /// Stations.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 200))]
    pub stations: Vec<Station>,
}

/// A pass.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Pass {
    /// Key.
    pub id: Key,
    /// Day.
    pub on: PartialDate,
    /// What was done.
    pub operation: Operation,
    /// Zones worked.
    #[schemars(length(min = 1, max = 6))]
    pub zones: Vec<Zone>,
    /// Faces worked; left out: both.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub faces: Vec<Face>,
    /// Abrasive.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub abrasive: Option<Abrasive>,
    /// Strokes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strokes: Option<u32>,
    /// Time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub time: Option<Duration>,
    /// Etch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub etch: Option<Etch>,
    /// Readings before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before: Option<PassReadings>,
    /// Readings after.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub after: Option<PassReadings>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 2000))]
    pub note: Option<String>,
    /// Photos.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photos: Vec<Key>,
}

/// One stage of a plan.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlannedStage {
    /// What is to be done.
    pub operation: Operation,
    /// Abrasive.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub abrasive: Option<Abrasive>,
    /// Zones.
    #[schemars(length(min = 1, max = 6))]
    pub zones: Vec<Zone>,
    /// Steel this stage may take.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub steel: Option<Mass>,
    /// Hours it may take.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub time: Option<Duration>,
}

/// The plan of work and its limits.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Plan {
    /// Steel that may go in all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub steel_budget: Option<Mass>,
    /// Thinnest the blade may become, at the ridge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thinnest: Option<Length>,
    /// What the limits rest on.
    #[schemars(length(min = 1, max = 1000))]
    pub basis: String,
    /// Stages in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 60))]
    pub stages: Vec<PlannedStage>,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Key, day, and which state it is from.
    type One = (&'static str, &'static str, u8);

    fn merged(earlier: &[One], later: &[One]) -> Vec<(&'static str, u8)> {
        let all = each_pass_once(
            earlier.to_vec(),
            later.to_vec(),
            |pass| Some(pass.0),
            |pass| Some(pass.1),
        );
        all.into_iter().map(|pass| (pass.0, pass.2)).collect()
    }

    #[test]
    fn a_pass_stays_in_its_place_whichever_state_tells_it() {
        let sealed = [("p1", "2026-03-01", 1), ("p2", "2026-03-02", 1)];
        assert_eq!(
            merged(&sealed, &[("p1", "2026-03-01", 2)]),
            [("p1", 2), ("p2", 1)]
        );
        assert_eq!(merged(&sealed, &[]), [("p1", 1), ("p2", 1)]);
        // One of the day before, entered afterwards; of one day the order is that of the list.
        let late = [("p3", "2026-03-01", 2), ("p4", "2026-03-02", 2)];
        assert_eq!(
            merged(&sealed, &late),
            [("p1", 1), ("p3", 2), ("p2", 1), ("p4", 2)]
        );
        // Of a month nobody can say whether it came before.
        assert_eq!(
            merged(&sealed, &[("p3", "2026-03", 2), ("p4", "2026-03-01", 2)]),
            [("p1", 1), ("p2", 1), ("p3", 2), ("p4", 2)]
        );
    }
}
