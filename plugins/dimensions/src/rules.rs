//! Every rule of this plugin, with its source.

/// A rule of this plugin.
pub(crate) struct Rule {
    /// Identifier.
    pub(crate) id: &'static str,
    /// One line for people.
    pub(crate) title: &'static str,
    /// Where it comes from.
    pub(crate) source: &'static str,
}

const CLASSES: &str = "length classes in use by the trade and by registration: limits at 1 and 2 shaku; texts differ on whether 2 shaku \
    itself is long, and 2 shaku or more is taken here; 1 shaku = 10/33 m";
const THIRDS: &str = "that the depth is placed in a third or the centre is common practice; the numbers are this tool's own rule";
const OWN: &str = "this tool's own rule";
const SMALL_SAMPLE: &str = "a table of classes from a study site, or a small sample of published museum blades (9 to 12 a kind, most from one \
    museum): a prior, not a limit";
const MEMORY: &str = "common practice of the trade, from memory: a prior, not a limit";
const CARD: &str =
    "this tool's own rule: a paper belongs to one blade, and what it states can be measured";
const MODEL: &str = "own section model (plane geometry between stations) with density 7.82 ± 0.05 g/cm3, from memory: plausibility only";

macro_rules! rules {
    ($($id:literal $title:literal $source:ident;)+) => {
        /// Every rule.
        pub(crate) const RULES: &[Rule] = &[$(Rule { id: $id, title: $title, source: $source }),+];
    };
}

rules! {
    "dimensions.length-class" "Class by length" CLASSES;
    "dimensions.length-class-differs" "The class on the sheet is not the one by length" CLASSES;
    "dimensions.curvature-kind" "Kind of curvature" THIRDS;
    "dimensions.curvature-kind-differs" "The examiner's view of the curvature is not what the numbers say" THIRDS;
    "dimensions.curvature-differs" "Curvature and line of the back disagree" OWN;
    "dimensions.width-taper" "Taper of the width" MEMORY;
    "dimensions.thickness-taper" "Taper of the thickness" MEMORY;
    "dimensions.point-ratio" "Point against width" OWN;
    "dimensions.point-class-differs" "The examiner's view of the point is not what the numbers say" OWN;
    "dimensions.tang-ratio" "Tang against blade" OWN;
    "dimensions.overall-differs" "Blade and tang do not add up to the whole" OWN;
    "dimensions.unusual" "A measure unusual for its kind" SMALL_SAMPLE;
    "dimensions.card-length" "Length on a paper against the blade" CARD;
    "dimensions.card-curvature" "Curvature on a paper against the blade" CARD;
    "dimensions.card-holes" "Peg holes on a paper against the tang" CARD;
    "dimensions.card-agrees" "A paper agrees with the blade" CARD;
    "dimensions.mass-model" "Mass against the sections" MODEL;
}

/// Finds the source of a rule.
pub(crate) fn source(id: &str) -> &'static str {
    RULES
        .iter()
        .find(|rule| rule.id == id)
        .map_or(OWN, |rule| rule.source)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_description_is_sound() {
        assert_eq!(crate::describe().audit("dimensions"), Ok(()));
        assert!(
            RULES.iter().all(|rule| rule.source.len() <= 400),
            "the record holds 400 characters"
        );
    }
}
