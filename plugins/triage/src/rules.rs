//! Every rule as data: id, title, source. The part before the first full stop tells who may lift a stop.

use tangmark_core::record::{FlawKind, Term as _};

/// A rule of this plugin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Rule {
    /// Identifier, for example `fatal.hagire`.
    pub(crate) id: String,
    /// One line for people.
    pub(crate) title: String,
    /// Convention and where it comes from.
    pub(crate) source: &'static str,
}

/// How the trade weighs a kind of flaw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Weight {
    /// Ends the work.
    Fatal,
    /// Ends the work when it goes through the temper line, or when that is not told and it may; else serious.
    FatalPastTemper,
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

/// What the trade holds of a kind of flaw, and what settles it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct FlawRule {
    /// Kind.
    pub(crate) kind: FlawKind,
    /// Weight.
    pub(crate) weight: Weight,
    /// What to do, or what would settle it; a clause without full stop.
    pub(crate) advice: &'static str,
}

/// Source of the weights of flaws.
pub(crate) const FLAW_LISTS: &str = "flaw lists used in the trade, in this tool's own words; the weight is a convention \
    and depends on the age of the blade and on its maker";

/// Source of weights that are known from memory only.
const FLAW_MEMORY: &str = "common practice of the trade, from memory; the weight is a convention and depends on the age of the \
    blade and on its maker";

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
    Hagarami FatalIfSaidPastTemper "look again in raking light on both faces; some lists call it fatal";
    TsukiNoWa FatalIfSaidPastTemper "look at both sides of the point; some lists call it fatal";
    Mikazuki FatalIfSaidPastTemper "look at both sides of the point; some lists call it fatal";
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

/// Rules that are not about a single flaw: id, title, source.
const OTHERS: &[(&str, &str, &str)] = &[
    (
        "fatal.temper-lost",
        "The temper is gone where the make leads one to expect it",
        FLAW_LISTS,
    ),
    (
        "fatal.point-temper-none",
        "No temper in the point",
        FLAW_MEMORY,
    ),
    (
        "flaw.ruled-out",
        "A suspicion that was looked for again and not found",
        TWO_LOOKS,
    ),
    (
        "temper.not-seen",
        "The temper line is not to be seen in the present surface",
        OWN,
    ),
    (
        "temper.unusual",
        "What the sheet says of the temper does not fit the kind",
        OWN,
    ),
    ("temper.breaks", "Stretches without temper line", FLAW_LISTS),
    (
        "temper.run-outs",
        "The temper line runs out into the edge",
        FLAW_LISTS,
    ),
    (
        "temper.re-tempered",
        "The tang makes one suspect re-tempering",
        FLAW_MEMORY,
    ),
    (
        "importance.designation",
        "Designated under a heritage law",
        IMPORTANCE,
    ),
    (
        "importance.gold-inlay",
        "An attribution inlaid in gold",
        IMPORTANCE,
    ),
    (
        "importance.maker-on-papers",
        "An important maker named on papers",
        IMPORTANCE,
    ),
    (
        "importance.excavated",
        "Looks as if it came out of the ground",
        IMPORTANCE,
    ),
    (
        "importance.early-with-signs",
        "An early period with two independent signs",
        IMPORTANCE,
    ),
    ("importance.signed", "Signed", IMPORTANCE),
    ("importance.dated", "Dated", IMPORTANCE),
    ("importance.unshortened", "The tang is original", IMPORTANCE),
    ("importance.early", "An early period", IMPORTANCE),
    (
        "importance.old-papers",
        "Papers of an earlier century",
        IMPORTANCE,
    ),
    (
        "importance.temple-or-shrine",
        "Mark of a temple or shrine",
        IMPORTANCE,
    ),
    ("importance.rare-form", "A form seldom seen", IMPORTANCE),
    (
        "importance.named",
        "The blade has a name of its own",
        IMPORTANCE,
    ),
    (
        "importance.other-sign",
        "Another sign that somebody noted",
        IMPORTANCE,
    ),
    ("importance.card", "Papers that are ordinary", IMPORTANCE),
    (
        "provenance.gap",
        "A gap in where the blade has been",
        PROVENANCE,
    ),
    (
        "provenance.loss-register",
        "An entry in a register of lost objects",
        PROVENANCE,
    ),
    ("missing.examination", "No examination", MISSING),
    ("missing.edge", "The edge was not examined", MISSING),
    ("missing.point", "The point was not examined", MISSING),
    ("missing.tang", "The tang was not examined", MISSING),
    (
        "missing.temper-line",
        "The temper line was not examined",
        MISSING,
    ),
    (
        "missing.sections",
        "Thickness and width were not measured",
        MISSING,
    ),
    ("missing.mass", "The blade was not weighed", MISSING),
    (
        "missing.straightness",
        "Straightness was not examined",
        MISSING,
    ),
    (
        "missing.method",
        "Looked at with the naked eye alone",
        MISSING,
    ),
    ("care.going-on", "A flaw that goes on", PRACTICE),
    (
        "care.pit-depth",
        "Pits deeper than the plan leaves steel for",
        OWN,
    ),
    (
        "care.chip-depth",
        "A chip that takes much of the temper line",
        OWN,
    ),
    (
        "care.thinnest",
        "A section at the thinnest that the plan allows",
        OWN,
    ),
    ("care.tang-worked", "Work on the tang", PRACTICE),
    ("care.etch-on-tang", "An etch on the tang", PRACTICE),
    (
        "care.etch-not-agreed",
        "An etch that was not agreed",
        PRACTICE,
    ),
    (
        "care.etch-when-held",
        "An etch on a blade held for importance",
        PRACTICE,
    ),
    (
        "care.etch-aftercare",
        "An etch without neutralising, rinsing or drying",
        PRACTICE,
    ),
    (
        "budget.spent",
        "The steel that may go by the plan is gone, or may be",
        BUDGET,
    ),
    (
        "budget.agreed-limit",
        "The steel that may go by the agreement is gone, or may be",
        BUDGET,
    ),
    (
        "budget.near",
        "Little is left of the steel that may go",
        BUDGET,
    ),
    (
        "budget.plan-over-agreement",
        "The plan allows more than the agreement",
        BUDGET,
    ),
    (
        "budget.mass-grew",
        "The blade weighs more after work than before",
        BUDGET,
    ),
    ("triage.recommendation", "Work, set aside, or refer", OWN),
];

const OWN: &str = "this tool's own rule";
const TWO_LOOKS: &str =
    "this tool's own rule: two independent looks that do not find a fatal flaw lift the suspicion";
const IMPORTANCE: &str = "this tool's own rule, after common practice of the trade: what the bench cannot judge goes to a senior \
    specialist; one strong sign holds the blade, weak signs together with an early period do";
const PROVENANCE: &str = "common practice after the UNESCO convention of 1970 (illicit trade in cultural property), from memory; \
    local law and authorities decide";
const MISSING: &str = "this tool's own list of what is looked at before a stone touches a blade; common practice, no source";
const PRACTICE: &str = "common practice of the trade, no source";
const BUDGET: &str = "this tool's own rule: guarded rejection, value + 1.645 u against the limit, since removal is final; JCGM 106:2012, \
    from memory";

/// Returns whether a kind can be fatal.
pub(crate) const fn may_be_fatal(weight: Weight) -> bool {
    matches!(
        weight,
        Weight::Fatal | Weight::FatalPastTemper | Weight::FatalIfSaidPastTemper
    )
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

/// Every rule, in the order of the description.
pub(crate) fn all() -> Vec<Rule> {
    let fatal = FLAWS
        .iter()
        .filter(|rule| may_be_fatal(rule.weight))
        .map(|rule| flaw("fatal", rule));
    let flaws = FLAWS.iter().map(|rule| flaw("flaw", rule));
    let others = OTHERS.iter().map(|(id, title, source)| Rule {
        id: (*id).to_owned(),
        title: (*title).to_owned(),
        source,
    });
    fatal.chain(flaws).chain(others).collect()
}

/// Finds a rule by its id.
pub(crate) fn find(id: &str) -> Option<Rule> {
    all().into_iter().find(|rule| rule.id == id)
}

fn flaw(family: &str, rule: &FlawRule) -> Rule {
    let from_memory = matches!(
        rule.kind,
        FlawKind::BoshiNone
            | FlawKind::Saiha
            | FlawKind::Yakemi
            | FlawKind::HaWare
            | FlawKind::ShinogiWare
            | FlawKind::GeometryLost
    );
    let title = rule.kind.shown();
    Rule {
        id: format!("{family}.{}", rule.kind.key()),
        title,
        source: if from_memory { FLAW_MEMORY } else { FLAW_LISTS },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_kind_of_flaw_has_one_rule() {
        let kinds: BTreeSet<FlawKind> = FLAWS.iter().map(|rule| rule.kind).collect();
        assert_eq!(kinds.len(), FLAWS.len());
        assert_eq!(kinds, FlawKind::ALL.iter().copied().collect());
    }

    #[test]
    fn rules_are_unique_and_described_in_bounds() {
        let rules = all();
        let ids: BTreeSet<&str> = rules.iter().map(|rule| rule.id.as_str()).collect();
        assert_eq!(ids.len(), rules.len());
        assert_eq!(crate::describe().audit("triage"), Ok(()));
        for rule in rules {
            assert!(
                rule.source.len() <= 400,
                "the record holds 400 characters: {}",
                rule.id
            );
        }
    }

    #[test]
    fn no_rule_speaks_a_verdict_the_tool_does_not_give() {
        for rule in all() {
            for word in ["authentic", "genuine", "safe", "legal"] {
                assert!(
                    !rule.title.to_lowercase().split(' ').any(|one| one == word),
                    "{}",
                    rule.id
                );
            }
        }
    }
}
