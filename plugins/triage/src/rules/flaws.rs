//! How the trade weighs each kind of flaw, and where its conventions differ by what a blade is for.

use serde::Deserialize;
use tangmark_core::record::FlawKind;

/// What the blade is for, as the user says.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum UseCase {
    /// Not said: the strictest convention holds.
    #[default]
    Strictest,
    /// Cutting or martial use.
    Cutting,
    /// Display alone.
    Display,
    /// Study; an old or important blade.
    Study,
}

impl UseCase {
    /// Words for messages.
    pub(crate) const fn words(self) -> &'static str {
        match self {
            Self::Strictest => "any use",
            Self::Cutting => "cutting or martial use",
            Self::Display => "display",
            Self::Study => "study, or an old or important blade",
        }
    }
}

/// How heavy a kind of flaw is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Weight {
    /// Ends the work.
    Fatal,
    /// Ends the work when it goes through the temper line, or when that is not told and it may; else serious.
    FatalPastTemper,
    /// Ends the work unless it is said not to go through the temper line; then serious.
    FatalUnlessWithin,
    /// Ends the work when it is said to go through the temper line; else serious.
    FatalIfSaidPastTemper,
    /// Look again before going on.
    Serious,
    /// Serious in the edge, common elsewhere.
    SeriousInEdge,
    /// Worth knowing.
    Tolerable,
    /// Kept as it is.
    Keep,
}

impl Weight {
    /// Tells whether it can end the work.
    pub(crate) const fn may_be_fatal(self) -> bool {
        matches!(
            self,
            Self::Fatal
                | Self::FatalPastTemper
                | Self::FatalUnlessWithin
                | Self::FatalIfSaidPastTemper
        )
    }

    /// Words for people.
    pub(crate) const fn words(self) -> &'static str {
        match self {
            Self::Fatal => "fatal",
            Self::FatalPastTemper => "fatal through the temper line",
            Self::FatalUnlessWithin => "fatal unless said to stay within the temper line",
            Self::FatalIfSaidPastTemper => "fatal when said to go through the temper line",
            Self::Serious => "serious",
            Self::SeriousInEdge => "serious in the edge",
            Self::Tolerable => "tolerable",
            Self::Keep => "kept",
        }
    }
}

/// What the trade holds of a kind of flaw, and what settles it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct FlawRule {
    /// Kind.
    pub(crate) kind: FlawKind,
    /// Weight by the strictest convention.
    pub(crate) weight: Weight,
    /// What to do, or what would settle it; a clause without full stop.
    pub(crate) advice: &'static str,
}

impl FlawRule {
    /// Where the weight comes from.
    pub(crate) const fn source(self) -> &'static str {
        match self.kind {
            FlawKind::BoshiNone
            | FlawKind::Saiha
            | FlawKind::Yakemi
            | FlawKind::HaWare
            | FlawKind::Hagarami
            | FlawKind::ShinogiWare
            | FlawKind::GeometryLost => FLAW_MEMORY,
            _ => FLAW_LISTS,
        }
    }
}

/// Another convention for one use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct View {
    /// Kind of flaw.
    pub(crate) kind: FlawKind,
    /// Use for which it holds.
    pub(crate) use_case: UseCase,
    /// Weight then.
    pub(crate) weight: Weight,
    /// Who holds it, and what; a clause without full stop.
    pub(crate) words: &'static str,
    /// Where that comes from.
    pub(crate) source: &'static str,
}

/// Source of the weights of flaws.
pub(crate) const FLAW_LISTS: &str = "flaw lists used in the trade, in this tool's own words; the weight is a convention \
    and depends on the age of the blade, its maker and its use";

/// Source of weights that are known from memory only.
pub(crate) const FLAW_MEMORY: &str = "common practice of the trade, from memory; the weight is a convention and depends on the age \
    of the blade, its maker and its use";

macro_rules! flaw_rules {
    ($($kind:ident $weight:ident $advice:literal;)+) => {
        /// Weight of every kind of flaw.
        pub(crate) const FLAWS: &[FlawRule] =
            &[$(FlawRule { kind: FlawKind::$kind, weight: Weight::$weight, advice: $advice }),+];
    };
}

flaw_rules! {
    Hagire Fatal "look again in raking light on both faces at the same station, and for a stain line after wiping";
    Karasunokuchi Fatal "look again in raking light on both faces of the point";
    KissakiBroken FatalPastTemper "measure how much temper is left in the point";
    Hakobore FatalPastTemper "taking it out brings the edge back by its depth over the whole length";
    BoshiNone Fatal "look for temper in the point at another angle of light";
    NioiGire Serious "follow the line in another light before anything is ground";
    Saiha Serious "an opinion, to be asked of somebody who handles many; function may be whole, value is not";
    Yakemi Fatal "look for any temper line at another angle of light";
    Hagarami FatalUnlessWithin "look again in raking light on both faces, and note whether it goes through the temper line";
    TsukiNoWa FatalUnlessWithin "look at both sides of the point, and note whether it goes through the temper";
    Mikazuki FatalUnlessWithin "look at both sides of the point, and note whether it goes through the temper";
    Shinae Serious "look at the opposite face for a crack through the edge; a bend has been straightened here";
    Fukure Serious "map it with a loupe and never press on it; grinding may open it";
    FukureYabure Serious "map its edge and depth; it opens further as steel goes";
    Ware SeriousInEdge "common in old blades; measure its length and see that it does not leave at the edge";
    KitaeWare SeriousInEdge "common in old blades; measure its length and see that it does not leave at the edge";
    HadaWare SeriousInEdge "common in old blades; measure its length and see that it does not leave at the edge";
    TateWare SeriousInEdge "measure its length and depth";
    MuneWare Tolerable "measure its length; it stays";
    ShinogiWare Tolerable "measure its length; it stays";
    HaWare FatalIfSaidPastTemper "see whether it reaches the edge on either face";
    Umegane Tolerable "record its outline; it is not taken out";
    Kirikomi Keep "it is a trace of use: it is neither corrected nor taken out";
    JiAre Tolerable "look with a loupe whether core steel shows";
    Shingane Serious "the skin steel is through: it ends what may be taken there";
    Tsukare Serious "little is left to take; ask before the next full polish";
    HaJimi Tolerable "look at it in another light";
    Shimi Tolerable "look at it in another light";
    YakibaKuzure Serious "see in another light how much of the temper line still stands";
    KakeDashi Serious "the line has reached the edge: chips there cannot be taken out";
    SabiActive Serious "stop it before anything else, and weigh again once it is off: rust that goes is not steel";
    SabiStable Tolerable "leave it where it does no harm; on the tang it stays";
    Pits Tolerable "decide pit by pit: clearing one takes its depth off the whole face around it";
    Magari Serious "straighten before any stone touches it, then look for wrinkles and for cracks through the edge";
    Nejire Serious "straighten before any stone touches it, then look for wrinkles and for cracks through the edge";
    Scratches Tolerable "they go with the ordinary sequence";
    NotchWorn Tolerable "record the depth; every polish takes from it";
    GeometryLost Serious "measure stations before deciding what can be brought back";
    Delamination Serious "map it with a loupe; grinding may open it";
    Crack Serious "find both of its ends before anything else";
    Other Tolerable "no convention is known for it: the examiner decides";
}

const REVIEW: &str = "one list of flaws used in the trade, in this tool's own words";
const OLD: &str = "a list of flaws used in the trade, in this tool's own words";
const ACCEPTED: &str = "one list says that even what it calls fatal may be accepted in a really old blade, or by a noted maker";
const CRESCENT: &str =
    "the lists differ, fatal or serious, and a blade for display bears no load there";

macro_rules! views {
    ($($kind:ident $use_case:ident $weight:ident $words:expr, $source:expr;)+) => {
        /// Conventions that differ from the strictest, by use.
        pub(crate) const VIEWS: &[View] = &[$(View {
            kind: FlawKind::$kind, use_case: UseCase::$use_case, weight: Weight::$weight, words: $words, source: $source,
        }),+];
    };
}

views! {
    Hagire Display Serious "one list holds it not so bad in a blade for display", REVIEW;
    Hagire Study Serious ACCEPTED, OLD;
    Karasunokuchi Study Serious ACCEPTED, OLD;
    KissakiBroken Study Serious ACCEPTED, OLD;
    Hakobore Study Serious ACCEPTED, OLD;
    BoshiNone Display Serious "practice differs, fatal or serious", FLAW_MEMORY;
    BoshiNone Study Serious ACCEPTED, OLD;
    Yakemi Study Serious ACCEPTED, OLD;
    Hagarami Display FatalIfSaidPastTemper CRESCENT, FLAW_MEMORY;
    Hagarami Study Serious ACCEPTED, OLD;
    TsukiNoWa Display FatalIfSaidPastTemper CRESCENT, FLAW_MEMORY;
    TsukiNoWa Study Serious ACCEPTED, OLD;
    Mikazuki Display FatalIfSaidPastTemper CRESCENT, FLAW_MEMORY;
    Mikazuki Study Serious ACCEPTED, OLD;
    Shinae Display Tolerable "shallow ones are tolerated", FLAW_LISTS;
}

/// Returns the rule of a kind of flaw.
pub(crate) fn flaw_rule(kind: FlawKind) -> FlawRule {
    let unknown = FlawRule {
        kind,
        weight: Weight::Tolerable,
        advice: "no convention is known for it: the examiner decides",
    };
    FLAWS
        .iter()
        .copied()
        .find(|rule| rule.kind == kind)
        .unwrap_or(unknown)
}

/// Returns the convention of a use, where it differs from the strictest.
pub(crate) fn view(kind: FlawKind, use_case: UseCase) -> Option<&'static View> {
    VIEWS
        .iter()
        .find(|view| view.kind == kind && view.use_case == use_case)
}

/// Returns every convention that differs from the strictest.
pub(crate) fn views(kind: FlawKind) -> impl Iterator<Item = &'static View> {
    VIEWS.iter().filter(move |view| view.kind == kind)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;
    use tangmark_core::record::Term as _;

    #[test]
    fn every_kind_of_flaw_has_one_rule() {
        let kinds: BTreeSet<FlawKind> = FLAWS.iter().map(|rule| rule.kind).collect();
        assert_eq!(kinds.len(), FLAWS.len());
        assert_eq!(kinds, FlawKind::ALL.iter().copied().collect());
    }

    #[test]
    fn views_are_unique_and_lighter_than_the_strictest() {
        let order = |weight: Weight| match weight {
            Weight::Keep => 0,
            Weight::Tolerable => 1,
            Weight::SeriousInEdge => 2,
            Weight::Serious => 3,
            Weight::FatalIfSaidPastTemper => 4,
            Weight::FatalUnlessWithin => 5,
            Weight::FatalPastTemper => 6,
            Weight::Fatal => 7,
        };
        let mut seen = BTreeSet::new();
        for view in VIEWS {
            assert!(
                seen.insert((view.kind, view.use_case)),
                "{}",
                view.kind.key()
            );
            assert_ne!(view.use_case, UseCase::Strictest);
            assert!(
                order(view.weight) < order(flaw_rule(view.kind).weight),
                "{}",
                view.kind.key()
            );
        }
    }
}
