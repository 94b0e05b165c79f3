//! Every rule of this plugin.

use tangmark_author::rules;

/// Source of the robust fit.
pub(crate) const ROBUST: &str = "log-price regression, Huber's M-estimate with t = 1.345 and the scale from the median absolute deviation \
    (Huber 1981, from memory); prediction interval from leave-one-out errors, this tool's own, its coverage held by simulation";
const OWN: &str = "this tool's own rule";
const LEVERAGE: &str = "leverage beyond the greatest of the comparables, or a feature outside their range: common practice of regression, from memory";
const ECONOMICS: &str = "this tool's own rule: the fitted difference of price between two conditions, less hours, consumables and the risk as \
    the workshop states them";

rules! {
    "price.no-comparables" "No comparables to go by" OWN;
    "price.too-few" "Too few comparables" "this tool's own rule: a stated least number, and four for each coefficient";
    "price.currency" "Comparables in several currencies" OWN;
    "price.missing" "The sheet lacks what an estimate needs" OWN;
    "price.cannot-tell" "The comparables cannot tell the features apart" OWN;
    "price.estimate" "What the comparables say of the price" ROBUST;
    "price.leave-one-out" "How well the comparables predict each other" ROBUST;
    "price.odd" "Comparables that the fit counts less" ROBUST;
    "price.extrapolates" "The blade lies outside the comparables" LEVERAGE;
    "price.old" "Old comparables" OWN;
    "price.bases" "Comparables on different bases" OWN;
    "price.left-out" "Rows that were left out" OWN;
    "price.noted-differs" "The value noted on the sheet against the comparables" OWN;
    "price.noted-old" "The value noted on the sheet has run out" OWN;
    "price.work" "Whether the work would pay" ECONOMICS;
    "price.over-ceiling" "The work costs more than was agreed" OWN;
    "price.ceiling-near" "Little is left of the agreed price" OWN;
    "price.ceiling-unknown" "What is missing to hold the work against the agreed price" OWN;
    "price.work-unknown" "What is missing to say whether the work would pay" ECONOMICS;
}
