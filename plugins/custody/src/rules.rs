//! Every rule of this plugin.

use tangmark_author::rules;

const OWN: &str = "this tool's own rule: events are compared as spans of time";
const PRACTICE: &str = "common practice, no source";
const CARD: &str = "common practice, no source: a paper belongs to one blade and stays with it; what the law asks is for the authority to say";
const BORDER: &str = "common practice, no source: a border leaves papers behind; what was needed at the time is for the authorities to say";

rules! {
    "custody.empty" "Nothing is said of where the blade has been" PRACTICE;
    "custody.standing" "Where the blade stands by its last event" OWN;
    "custody.start" "What came before the first event" PRACTICE;
    "custody.listed-out-of-order" "Events are not listed in the order of time" OWN;
    "custody.future" "An event or paper dated after the day of the check" OWN;
    "custody.before-made" "An event before the blade was made" OWN;
    "custody.after-lost" "An event after the loss, without a find" OWN;
    "custody.dropped" "An event of a sealed record is no longer on the sheet" OWN;
    "custody.gap" "Nobody is named for a time, or names are withheld" OWN;
    "custody.break" "The chain passes from one person to another without an event" OWN;
    "custody.overlap" "Two events claim the blade at once" OWN;
    "custody.not-returned" "Left for work or lent, and no return" OWN;
    "custody.return-without-leaving" "A return without anything that left" OWN;
    "custody.not-the-owner" "Passed on by somebody who held it only for a time" PRACTICE;
    "custody.border-papers" "A border crossed without its paper" BORDER;
    "custody.border-pair" "Out of one country and into none, or the other way" BORDER;
    "custody.card-and-border" "A registration card and an export" CARD;
    "custody.no-paper" "Changes of owner without any paper" PRACTICE;
    "custody.paper-date" "The date of a paper does not fit its event" OWN;
    "custody.card-before-blade" "A paper older than the blade" CARD;
    "custody.card-no-number" "A registration without number or date" CARD;
    "custody.cards-several" "More than one registration card" CARD;
    "custody.cards-disagree" "Papers that contradict each other" CARD;
    "custody.card-inscription" "The inscription on a paper against the tang" CARD;
    "custody.card-transfer" "A change of owner since the registration" CARD;
}
