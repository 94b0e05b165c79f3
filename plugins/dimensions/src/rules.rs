//! Every rule of this plugin, with its source.

use tangmark_author::rules;

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
