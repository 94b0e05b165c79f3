//! Every rule of this plugin.

use tangmark_author::rules;

const SPECIES: &str = "appendices of the convention on international trade in endangered species of wild animals and plants; the table of this \
    plugin is from memory, dated, and may be replaced by a newer one of your own";
const OWN: &str = "this tool's own rule";
const PRACTICE: &str = "common practice, no source";
const MEMORY: &str =
    "usual cautions, from memory; local rules and the maker's safety sheet come first";
const HUMIDITY: &str = "a museum's conservation manual (metals below 45 %, iron below 35 %, with chlorides at most 15 %); Canadian Conservation \
    Institute, Notes 9/2 (mixed collections 35 to 55 %); 45 to 55 % for wood, lacquer and ray skin: common practice";
const CARRIAGE: &str = "general words from pages of the trade and from memory; the law of the day and the authorities decide";

rules! {
    "materials.protected" "A material of a protected species" SPECIES;
    "materials.ask-species" "A material that may be of a protected species" SPECIES;
    "materials.mentioned" "A protected material in the words of the sheet" SPECIES;
    "materials.list-old" "The list of protected species is old" OWN;
    "materials.screen-differs" "The sheet's look at the lists and the table disagree" OWN;
    "materials.not-screened" "Nobody has looked at the lists" OWN;
    "materials.not-named" "A fitting without named materials" OWN;
    "materials.care" "Cleaning cautions" PRACTICE;
    "materials.hazard-acid" "Acids" MEMORY;
    "materials.hazard-silica" "Dust of natural stones" MEMORY;
    "materials.hazard-lead" "Lead" MEMORY;
    "materials.hazard-rags" "Oily rags" MEMORY;
    "materials.hazard-edge" "The edge" PRACTICE;
    "materials.climate" "Humidity for what is here" HUMIDITY;
    "materials.climate-apart" "Blade and mounting want different air" HUMIDITY;
    "materials.climate-rust" "Rust that goes on, or salts" HUMIDITY;
    "materials.carriage" "Carriage and export" CARRIAGE;
    "materials.carriage-designated" "A designation by law, and a border" CARRIAGE;
    "materials.carriage-species" "A protected material, and a border" SPECIES;
}
