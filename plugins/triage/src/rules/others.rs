//! Rules that are not about the kind of a single flaw.

use super::flaws::{FLAW_LISTS, FLAW_MEMORY};
use super::{OWN, Rule};

/// One row of the table.
pub(super) struct Row {
    id: &'static str,
    level: &'static str,
    source: &'static str,
    title: &'static str,
    when: &'static str,
    reason: &'static str,
    settle: &'static str,
}

impl Row {
    pub(super) fn rule(&self) -> Rule {
        Rule {
            id: self.id.to_owned(),
            title: self.title.to_owned(),
            level: self.level,
            when: self.when.into(),
            reason: self.reason.into(),
            settle: self.settle.into(),
            source: self.source,
        }
    }
}

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
/// Source of the user's own rules; the user's words stand in the message.
pub(super) const USER: &str = "the workshop's own rule, from its settings";

const SPECIALIST: &str = "a specialist's reply, or an override with name and reason";
const ANSWER: &str = "reading it, and asking where it is not plain";
const LOOK: &str = "a look, or a note why it cannot be had";

macro_rules! rows {
    ($($id:literal $level:literal $source:ident $title:literal $when:literal $reason:literal $settle:expr;)+) => {
        pub(super) const OTHERS: &[Row] = &[$(Row {
            id: $id, level: $level, source: $source, title: $title, when: $when, reason: $reason, settle: $settle,
        }),+];
    };
}

rows! {
    "fatal.temper-lost" "stop" FLAW_LISTS "The temper is gone where the make leads one to expect it"
        "temper_line.visibility is `lost` on a kind that has a temper line by make"
        "an edge without temper is not brought back by polishing" "a temper line found in another light, and the sheet corrected";
    "fatal.point-temper-none" "stop" FLAW_MEMORY "No temper in the point"
        "temper_line.point.forms has `none`, on a blade that is expected to have a temper line"
        "the lists hold it fatal" "temper found in the point at another angle of light, and the sheet corrected";
    "flaw.ruled-out" "info" TWO_LOOKS "A suspicion that was looked for again and not found"
        "standing is `ruled_out`, with two looks since it was last seen that differ in method, light or day"
        "whoever reads the record should know that it was looked for" "nothing; it is settled";
    "temper.not-seen" "caution" OWN "The temper line is not to be seen in the present surface"
        "temper_line.visibility is `none_visible` on a kind that has a temper line by make"
        "a line that is hidden and one that is gone look alike" "a look in another light, or after a first clean stage";
    "temper.unusual" "caution" OWN "What the sheet says of the temper does not fit the kind"
        "visibility `lost` on a kind without a line by make, or `not_applicable` on one with it"
        "either kind or temper is mistaken" "a note what it rests on, or the kind corrected";
    "temper.breaks" "caution" FLAW_LISTS "Stretches without temper line"
        "temper_line.breaks is not empty"
        "a missing stretch may be soft" "a look in another light, face by face";
    "temper.run-outs" "caution" FLAW_LISTS "The temper line runs out into the edge"
        "temper_line.run_outs is not empty"
        "every polish makes the soft stretch longer" "a look in another light, and widths on both sides of it";
    "temper.re-tempered" "caution" FLAW_MEMORY "The tang makes one suspect re-tempering"
        "tang.state is `saiha_suspected`"
        "function may be whole, value is not" "the opinion of somebody who handles many";
    "temper.chip-in-gap" "caution" FLAW_LISTS "A chip where the temper line is missing or has run out"
        "a chip lies within a break or run-out, position known to ±U"
        "there is no temper left there to take it back into" "the depth of the chip and a look in another light whether any temper stands behind it";
    "importance.designation" "stop" IMPORTANCE "Designated under a heritage law"
        "a registration of that kind, or the sign `designation_by_law`"
        "the law may forbid any work" SPECIALIST;
    "importance.gold-inlay" "stop" IMPORTANCE "An attribution inlaid in gold"
        "an inscription `kinzogan_mei`"
        "somebody once held the blade worth it, and the bench cannot judge that" SPECIALIST;
    "importance.maker-on-papers" "stop" IMPORTANCE "An important maker named on papers"
        "the sign `important_maker_on_papers`"
        "what is lost on such a blade is lost to more than its owner" SPECIALIST;
    "importance.excavated" "stop" IMPORTANCE "Looks as if it came out of the ground"
        "the sign `excavated_look`"
        "its crust is evidence, and the law may have a say" SPECIALIST;
    "importance.early-with-signs" "stop" IMPORTANCE "An early period with two independent signs"
        "made_not_after before `early_before_year`, and two weak signs of different cause"
        "each sign alone is common, together they are not" SPECIALIST;
    "importance.signed" "caution" IMPORTANCE "Signed" "an inscription that is a signature"
        "a name is a claim that should be read first" "the signature read; the opinion of whoever read it";
    "importance.dated" "caution" IMPORTANCE "Dated" "an inscription `nengo`"
        "a date is a claim that should be read first" "the date read";
    "importance.unshortened" "caution" IMPORTANCE "The tang is original" "tang.state is `ubu`, on a kind that has a temper line by make"
        "an original tang keeps evidence that work could take away" "nothing; leave the tang as it is";
    "importance.early" "caution" IMPORTANCE "An early period" "made_not_before or made_not_after before `early_before_year`"
        "old blades have little steel left, and their state is evidence" "a narrower period, and what it rests on";
    "importance.old-papers" "caution" IMPORTANCE "Papers of an earlier century" "the sign `old_papers`"
        "they may say more than the tang" ANSWER;
    "importance.temple-or-shrine" "caution" IMPORTANCE "Mark of a temple or shrine" "the sign `temple_or_shrine_mark`"
        "it may still belong there" "word of where it comes from";
    "importance.rare-form" "caution" IMPORTANCE "A form seldom seen" "the sign `rare_form`"
        "what is rare is easily ground into what is common" "the opinion of somebody who knows the form";
    "importance.named" "caution" IMPORTANCE "The blade has a name of its own" "the sign `named_blade`"
        "a name has a history" "word of what the name rests on";
    "importance.other-sign" "caution" IMPORTANCE "Another sign that somebody noted" "the sign `other`"
        "somebody thought it worth a note" ANSWER;
    "importance.card" "info" IMPORTANCE "Papers that are ordinary" "an ordinary card, a private appraisal, or another register"
        "it belongs to the blade" "nothing; keep it with the blade";
    "provenance.gap" "caution" PROVENANCE "A gap in where the blade has been" "the signs `gap_in_wartime` or `no_export_papers`"
        "somebody else may have a claim" "papers, or the word of the authority";
    "provenance.loss-register" "caution" PROVENANCE "An entry in a register of lost objects" "a registration `loss_register`"
        "somebody is looking for it" "the word of the authority";
    "missing.examination" "caution" MISSING "No examination" "there is no examination on the sheet"
        "nothing can be judged that was not looked at" "an examination";
    "missing.edge" "caution" MISSING "The edge was not examined" "`edge` is not among examination.examined"
        "a crack through it would not be known" LOOK;
    "missing.point" "caution" MISSING "The point was not examined" "`point` is not among examination.examined"
        "a crack or a lost temper there would not be known" LOOK;
    "missing.tang" "caution" MISSING "The tang was not examined" "`tang` is not among examination.examined, or is and holds nothing"
        "signature, file marks and shortening would not be known" LOOK;
    "missing.temper-line" "caution" MISSING "The temper line was not examined" "one is expected and `temper_line` is not among examination.examined, or is and holds nothing"
        "how much edge may be taken would not be known" LOOK;
    "missing.sections" "caution" MISSING "Thickness and width were not measured" "`sections` is not among examination.examined, or is and holds nothing"
        "how much steel there is cannot be told" "thickness and width at stations";
    "missing.mass" "caution" MISSING "The blade was not weighed" "`mass` is not among examination.examined, or is and holds nothing"
        "how much steel goes cannot be told" "a weighing";
    "missing.straightness" "info" MISSING "Straightness was not examined" "`straightness` is not among examination.examined"
        "a bend is taken out before grinding" LOOK;
    "missing.method" "caution" MISSING "Looked at with the naked eye alone" "examination.methods has nothing but `naked_eye`"
        "fine cracks do not show to it" "a look in raking light or with a loupe";
    "care.going-on" "caution" PRACTICE "A flaw that goes on" "progress is `active` on a flaw other than active rust"
        "what goes on outruns the work" "its cause found and stopped";
    "care.core-steel" "caution" FLAW_LISTS "Stone work where core steel shows or the steel is tired"
        "a flaw `shingane` or `tsukare` that is not ruled out, and stone work planned in its zone"
        "the skin steel is through or nearly so: it ends what may be taken there" "stages that leave the zone alone, or a plan agreed for it";
    "care.pit-depth" "caution" OWN "Pits deeper than the plan leaves steel for"
        "thickness at the ridge less the depth of the pit, on each face it shows on, not above plan.thinnest by more than U"
        "clearing a pit takes its depth off the whole face" "a deeper look at the pit, or another plan";
    "care.chip-depth" "caution" OWN "A chip that takes much of the temper line"
        "depth over the width of the temper line there, with U, at or above `chip_share_of_temper`"
        "taking the chip out brings the edge back by its depth over the whole length" "depth and widths measured finer, or the chip left";
    "care.thinnest" "caution" OWN "A section at the thinnest that the plan allows"
        "the least thickness at the ridge not above plan.thinnest by more than U"
        "what is ground there is gone" "the station measured again, or another plan";
    "care.tang-worked" "caution" PRACTICE "Work on the tang" "a pass or a planned stage in the zone `tang`, other than etch and oil"
        "its patina is evidence" "the stage taken out of the plan";
    "care.etch-on-tang" "caution" PRACTICE "An etch on the tang" "an etch logged or planned in the zone `tang`"
        "its patina is evidence" "the etch taken out of the plan";
    "care.etch-not-agreed" "caution" PRACTICE "An etch that was not agreed" "an etch logged or planned, and agreement.etch_allowed is false"
        "the owner has a say" "the owner's word";
    "care.etch-when-held" "caution" PRACTICE "An etch on a blade held for importance" "an etch logged or planned, and a stop of importance"
        "an etch is a removal" SPECIALIST;
    "care.etch-aftercare" "caution" PRACTICE "An etch without neutralising, rinsing or drying" "an etch that lacks one of the three"
        "acid left on steel goes on" "the three done and noted";
    "agreement.return-day" "caution" PRACTICE "A pass after the agreed day of return"
        "a pass after the last day that agreement.return_by may mean"
        "the owner expects the blade back" "the owner's word on another day";
    "agreement.ask-first" "caution" PRACTICE "A point at which to stop and ask"
        "a pass since the agreement, and a point of agreement.stop_and_ask that nothing in agreement.asked speaks of"
        "it was agreed to ask before going on" "the point looked for or the owner asked, and the answer noted";
    "budget.spent" "stop" BUDGET "The steel that may go by the plan is gone, or may be"
        "steel gone + 1.645 u at or above plan.steel_budget; passes of sealed records count"
        "what is gone does not come back" "a new examination with a new budget, or an override";
    "budget.agreed-limit" "stop" BUDGET "The steel that may go by the agreement is gone, or may be"
        "steel gone + 1.645 u at or above agreement.steel_limit; passes of sealed records count"
        "it was agreed with the owner" "the owner's word on a new limit, or an override";
    "budget.near" "caution" BUDGET "Little is left of the steel that may go"
        "steel gone + 1.645 u at or above `near_share_of_limit` of a limit"
        "the next pass may be one too many" "a weighing before each further pass";
    "budget.plan-over-agreement" "caution" BUDGET "The plan allows more than the agreement"
        "plan.steel_budget above agreement.steel_limit"
        "the plan would break the agreement" "the owner's word, or another plan";
    "budget.mass-grew" "caution" BUDGET "The blade weighs more after work than before"
        "steel gone below zero by more than U"
        "one of the weighings is mistaken" "a weighing, dry and degreased";
    "budget.sealed-passes" "caution" BUDGET "Passes of sealed records that the sheet leaves out or tells otherwise"
        "a pass of a sealed record is not on the sheet, without a new examination with a new budget since; or its masses differ"
        "steel that went is gone, whatever a draft says" "the passes put back on the sheet, or a correction";
    "user.rule" "caution or info" USER "A rule of the workshop's own"
        "the condition that the settings give the rule"
        "given with the rule" "given with the rule";
    "user.rules-conflict" "caution" USER "Two of the workshop's own rules contradict each other"
        "two rules of the settings with one condition and different levels"
        "one of them is not what was meant" "one of the two taken out";
    "user.rules-unreachable" "caution" USER "A rule of the workshop's own that can never hold"
        "bounds, terms or missing fields in one condition that contradict each other"
        "a rule that never speaks looks like one that finds nothing" "its condition corrected";
    "triage.recommendation" "info" OWN "Work, set aside, or refer"
        "always" "one sentence to begin with" "the findings it rests on";
}
