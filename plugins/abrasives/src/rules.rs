//! Every rule of the plugin, as data.

use tangmark_author::rules;

rules! {
    "abrasives.plan" "The sequence of stones" "this tool's own rule: least steel first, least time second, by dynamic programming over the workshop's stones; see the README of the plugin";
    "abrasives.trade-off" "Steel removed against pits left" "this tool's own rule: a place is lowered to the pit's depth with 1.645 u and led back over the fairing; JCGM 106:2012 for the guard, from memory";
    "abrasives.assumptions" "What the plan takes for granted" "working rules of metallography on scratch and damage depth, from memory; every number is a setting";
    "abrasives.skipped" "Stones that the plan leaves out, and why" "this tool's own rule";
    "abrasives.order" "Stones whose order is undecided" "this tool's own rule: grits are compared by D50 alone, never by number; ranges that overlap leave the order open";
    "abrasives.ratio" "A step between stones outside the preferred ratios" "common practice, no source: successive D50 stand 1.5 to 2.5 to 1";
    "abrasives.missing" "What is missing for a plan" "this tool's own rule";
    "abrasives.held" "The plan is for when a hold is answered" "this tool's own rule; triage judges the signs";
    "abrasives.tang" "The tang is in no plan" "common practice, no source: the tang is never cleaned or ground";
    "abrasives.zone-limit" "Deeper than a zone may go" "the limits that the user set for zones";
    "abrasives.over-budget" "The plan takes more than may go" "JCGM 106:2012, guarded rejection, from memory: value + 1.645 u against the limit, since removal is final";
    "abrasives.budget-guard" "Stop: what may go is gone, with the guard" "JCGM 106:2012, guarded rejection, from memory: value + 1.645 u against the limit, since removal is final";
    "abrasives.gauge" "Where to stop by gauge and scale" "JCGM 106:2012, guard of 1.645 u, from memory; plane geometry of the section";
    "abrasives.rates" "Rates of the stones, learned from the log" "Bayes' rule with a normal log rate, drift and scatter; the model is this tool's own, see the README of the plugin";
    "abrasives.forecast" "Mass to expect when stages are worked by the clock" "Bayes' rule with a normal log rate, drift and scatter; the model is this tool's own, see the README of the plugin";
    "abrasives.finished" "No plan for a finished blade" "this tool's own rule";
    "abrasives.care" "Cautions for work on stones" "common practice, no source; silica in the mud of natural stones from memory; local codes decide";
    "price.consumables" "What the stones wear costs" "steel of each stage times wear times price, as the workshop's table states them";
}
