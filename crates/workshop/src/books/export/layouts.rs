//! The tables of an export: names, columns, units.

use super::table::Holds::{Number, Text};
use super::table::Layout;

const BLADE: super::table::Column = ("blade", Text, "key of the blade");

pub(super) static BLADES: Layout = Layout {
    file: "blades.csv",
    about: "one blade: where it stands",
    columns: &[
        BLADE,
        ("title", Text, "title"),
        ("kind_by_make", Text, "kind by make"),
        ("stage", Text, "stage of the work"),
        ("stage_since", Text, "day of that stage"),
        ("ended", Text, "yes once it left the workshop"),
        ("sheet_revision", Number, "revision of the newest sheet"),
        ("sheet_saved_at", Text, "when that was saved, UTC"),
        ("records", Number, "sealed records"),
        ("newest_record", Text, "SHA-256 name of the newest"),
        ("newest_purpose", Text, "its purpose"),
        ("newest_verdict", Text, "its decision"),
        ("stops", Number, "stops on it that nothing answers"),
        (
            "passes",
            Number,
            "passes of its sealed records and its newest sheet, each once",
        ),
        ("pass_time_min", Number, "sum of their times, minutes"),
        ("mass_first_g", Number, "first mass, grams"),
        ("mass_last_g", Number, "last mass, grams"),
        ("return_by", Text, "day of return agreed with the owner"),
    ],
};

pub(super) static PASSES: Layout = Layout {
    file: "passes.csv",
    about: "one pass of the newest sheets",
    columns: &[
        BLADE,
        ("pass", Text, "key of the pass"),
        (
            "number",
            Number,
            "place among the passes of the blade, from 1",
        ),
        ("on", Text, "day"),
        ("operation", Text, "what was done"),
        ("zones", Text, "zones worked, divided by `; `"),
        ("faces", Text, "faces worked; empty: both"),
        ("abrasive", Text, "name of the abrasive"),
        ("stone_stage", Text, "its stage"),
        ("origin", Text, "natural or synthetic"),
        ("grit", Number, "grit number"),
        ("grit_system", Text, "its grading system"),
        ("strokes", Number, "strokes"),
        ("time_min", Number, "time, minutes"),
        ("mass_before_g", Number, "mass before, grams"),
        ("mass_after_g", Number, "mass after, grams"),
        ("etch_agent", Text, "what was etched with"),
        (
            "etch_concentration_percent",
            Number,
            "its concentration, per cent",
        ),
        ("etch_time_min", Number, "time of the etch, minutes"),
        ("neutralised", Text, "yes or no, after an etch"),
        ("rinsed", Text, "yes or no, after an etch"),
        ("dried", Text, "yes or no, after an etch"),
        ("note", Text, "remarks"),
        ("photos", Text, "keys of photos, divided by `; `"),
    ],
};

pub(super) static READINGS: Layout = Layout {
    file: "readings.csv",
    about: "one measured value of the newest sheets",
    columns: &[
        BLADE,
        ("place", Text, "where it stands on the sheet"),
        ("value", Number, "value, in the unit of the next column"),
        ("unit", Text, "UCUM code: mm, g, deg, min, mm2, Cel, %"),
        (
            "standard_uncertainty",
            Number,
            "standard uncertainty (k = 1), in the same unit",
        ),
        ("uncertainty_from", Text, "where the uncertainty comes from"),
        ("as_read", Text, "readings as written, divided by `; `"),
        ("instrument", Text, "key of the instrument"),
        ("method", Text, "how it was measured"),
    ],
};

pub(super) static SHEETS: Layout = Layout {
    file: "sheets.csv",
    about: "one text or number of the newest sheets that is no measured value: everything else on them",
    columns: &[
        BLADE,
        ("place", Text, "where it stands on the sheet"),
        ("value", Text, "as it stands there"),
    ],
};

pub(super) static FLAWS: Layout = Layout {
    file: "flaws.csv",
    about: "one flaw of the newest sheets",
    columns: &[
        BLADE,
        ("flaw", Text, "key of the flaw"),
        ("kind", Text, "kind"),
        ("zone", Text, "zone"),
        ("faces", Text, "faces, divided by `; `"),
        ("at_mm", Number, "distance from the datum, mm"),
        ("from_edge_mm", Number, "distance from the edge, mm"),
        ("length_mm", Number, "extent along, mm"),
        ("width_mm", Number, "extent across, mm"),
        ("depth_mm", Number, "depth, mm"),
        ("area_mm2", Number, "area, mm2"),
        ("count", Number, "number, where it is a field of many"),
        ("through_temper", Text, "yes or no: through the temper line"),
        ("progress", Text, "whether it goes on"),
        ("standing", Text, "how far it is established"),
        ("sightings", Number, "looks at it"),
        ("cause", Text, "cause, as an opinion"),
        ("note", Text, "remarks"),
        ("photos", Text, "keys of photos, divided by `; `"),
    ],
};

pub(super) static FITTINGS: Layout = Layout {
    file: "fittings.csv",
    about: "one fitting: those on the newest sheets, then those of the inventory that are with no blade; every move stands in journal.csv",
    columns: &[
        BLADE,
        ("fitting", Text, "key of the fitting"),
        ("place", Text, "where it is, when it is with no blade"),
        ("part", Text, "part of the mounting"),
        ("description", Text, "description"),
        ("materials", Text, "materials, divided by `; `"),
        ("material_evidence", Text, "how they were told"),
        ("matched", Text, "whether it belongs to the blade"),
        ("origin", Text, "how it came"),
        ("kept", Text, "where it is kept"),
        ("condition", Text, "condition"),
        (
            "protected",
            Text,
            "look at lists of protected materials; never a clearance",
        ),
        ("protected_as_of", Text, "date of that list"),
        ("photos", Text, "keys of photos, divided by `; `"),
    ],
};

pub(super) static CUSTODY: Layout = Layout {
    file: "custody.csv",
    about: "one event of custody on the newest sheets",
    columns: &[
        BLADE,
        (
            "number",
            Number,
            "place among the events of the blade, from 1",
        ),
        ("kind", Text, "kind of event"),
        ("earliest", Text, "not before"),
        ("latest", Text, "not after"),
        ("from_role", Text, "part played by the one it came from"),
        ("from_name", Text, "name"),
        ("to_role", Text, "part played by the one it went to"),
        ("to_name", Text, "name"),
        ("place", Text, "place"),
        ("price", Number, "price, in the currency of the next column"),
        ("currency", Text, "ISO 4217"),
        ("documents", Text, "kinds of papers, divided by `; `"),
        ("note", Text, "remarks"),
    ],
};

pub(super) static SALES: Layout = Layout {
    file: "sales.csv",
    about: "money that came in: what the workshop sold a blade for, but where the record of it was withdrawn; and entries of income",
    columns: &[
        BLADE,
        (
            "kind",
            Text,
            "sold (from the sheet) or income (from the journal)",
        ),
        ("entry", Number, "number in the journal, of an income"),
        ("on", Text, "day, of a sale the last it may have been"),
        ("what", Text, "for what"),
        ("party", Text, "from whom"),
        (
            "amount",
            Number,
            "amount, in the currency of the next column",
        ),
        ("currency", Text, "ISO 4217"),
        ("by", Text, "who entered it"),
    ],
};

pub(super) static COSTS: Layout = Layout {
    file: "costs.csv",
    about: "money that went out or was used up: what the workshop bought a blade for, and entries of cost, use and stock; \
            stock is paid when it comes and used up on blades later, so never add the two",
    columns: &[
        BLADE,
        (
            "kind",
            Text,
            "bought (from the sheet), cost, use or stock (from the journal)",
        ),
        ("entry", Number, "number in the journal"),
        ("on", Text, "day, of a purchase the last it may have been"),
        ("what", Text, "for what, or which consumable"),
        ("party", Text, "to whom"),
        (
            "amount",
            Number,
            "amount, in the currency of the next column",
        ),
        ("currency", Text, "ISO 4217"),
        (
            "quantity",
            Number,
            "amount of the consumable, in the unit of the next column",
        ),
        ("quantity_unit", Text, "g, mm3, mm, mm2, or 1 for pieces"),
        ("note", Text, "remarks"),
        ("by", Text, "who entered it"),
    ],
};

pub(super) static STOCK: Layout = Layout {
    file: "stock.csv",
    about: "one consumable",
    columns: &[
        ("item", Text, "consumable"),
        (
            "unit",
            Text,
            "unit of the amounts: g, mm3, mm, mm2, or 1 for pieces",
        ),
        ("came", Number, "what came in"),
        ("used", Number, "what was used"),
        ("left", Number, "what is left by the books"),
    ],
};

pub(super) static HOURS: Layout = Layout {
    file: "hours.csv",
    about: "time of one pass or entry of hours",
    columns: &[
        BLADE,
        (
            "kind",
            Text,
            "pass (from the sheet) or hours (from the journal)",
        ),
        ("entry", Number, "number in the journal, of hours"),
        ("pass", Text, "key of the pass"),
        ("on", Text, "day"),
        ("time_min", Number, "time, minutes"),
        ("what", Text, "what was done"),
        ("by", Text, "who entered it"),
    ],
};

pub(super) static STAGES: Layout = Layout {
    file: "stages.csv",
    about: "one move to a stage of the work",
    columns: &[
        BLADE,
        ("entry", Number, "number in the journal"),
        ("on", Text, "day"),
        ("stage", Text, "stage"),
        ("ended", Text, "yes when the work ended with it"),
        ("note", Text, "remarks"),
        ("at", Text, "when it was entered, UTC"),
        ("by", Text, "who entered it"),
    ],
};

pub(super) static JOURNAL: Layout = Layout {
    file: "journal.csv",
    about: "one entry of the journal, also those that were replaced or struck out",
    columns: &[
        ("entry", Number, "number"),
        ("kind", Text, "kind"),
        BLADE,
        (
            "about",
            Text,
            "what else it is about; of a strike-out its reason",
        ),
        ("on", Text, "day"),
        ("at", Text, "when it was entered, UTC"),
        ("by", Text, "who entered it"),
        ("replaces", Number, "the entry it took the place of"),
        ("replaced_by", Number, "the entry that took its place"),
        ("content", Text, "content as JSON; empty for a strike-out"),
    ],
};

pub(super) static RECORDS: Layout = Layout {
    file: "records.csv",
    about: "one sealed record",
    columns: &[
        BLADE,
        ("record", Number, "number in the chain of the blade"),
        ("purpose", Text, "purpose"),
        ("issued_at", Text, "when it says it was issued, UTC"),
        ("kept_at", Text, "when the workshop took it in, UTC"),
        ("name", Text, "SHA-256 over it without its proof"),
        ("previous", Text, "name of the record before it"),
        ("issuer", Text, "name of the workshop that sealed it"),
        ("issuer_key", Text, "did:key of its key"),
        (
            "sheet_revision",
            Number,
            "revision of the sheet it was sealed from",
        ),
        ("verdict", Text, "decision"),
        ("decided_by", Text, "by whom"),
        ("reason", Text, "why"),
        ("stops", Number, "findings that stop"),
        ("cautions", Number, "findings that caution"),
        ("overrides", Number, "overrides"),
        ("worked_under_hold", Number, "passes worked under hold"),
    ],
};

pub(super) static PHOTOS: Layout = Layout {
    file: "photos.csv",
    about: "one photo of the newest sheets; the pictures themselves lie in objects/ of the workshop under their SHA-256",
    columns: &[
        BLADE,
        ("photo", Text, "key of the photo"),
        ("shows", Text, "what it shows"),
        ("caption", Text, "caption"),
        ("taken_on", Text, "day"),
        ("sha256", Text, "SHA-256 over the file"),
        ("media_type", Text, "media type"),
        ("length_bytes", Number, "length, bytes"),
        ("width_px", Number, "width, pixels"),
        ("height_px", Number, "height, pixels"),
        ("field_width_mm", Number, "width of what it shows, mm"),
        ("original_kept_private", Text, "yes or no"),
    ],
};

pub(super) static FINDINGS: Layout = Layout {
    file: "findings.csv",
    about: "one finding of a sealed record; those that speak of money are withheld in records and are not listed",
    columns: &[
        BLADE,
        ("record", Number, "number in the chain of the blade"),
        ("plugin", Text, "plugin"),
        ("rule", Text, "rule"),
        ("level", Text, "info, caution or stop"),
        ("message", Text, "what it says"),
        ("source", Text, "source of the rule"),
    ],
};

pub(super) static AGREEMENTS: Layout = Layout {
    file: "agreements.csv",
    about: "what was agreed with the owner of a blade",
    columns: &[
        BLADE,
        ("on", Text, "day of the agreement"),
        ("owner_role", Text, "part played by the owner"),
        ("owner_name", Text, "name"),
        ("work", Text, "what is to be done"),
        ("steel_limit_g", Number, "most steel that may go, grams"),
        ("etch_allowed", Text, "yes or no"),
        ("stop_and_ask", Text, "points to ask at, divided by `; `"),
        ("consent", Text, "what the owner agreed to in writing"),
        ("return_by", Text, "day of return"),
        (
            "price_ceiling",
            Number,
            "price ceiling, in the currency of the next column",
        ),
        ("price_ceiling_currency", Text, "ISO 4217"),
        (
            "insured_value",
            Number,
            "insured value, in the currency of the next column",
        ),
        ("insured_value_currency", Text, "ISO 4217"),
    ],
};

/// Every table in the order of the README.
pub(super) static ALL: [&Layout; 17] = [
    &BLADES,
    &PASSES,
    &READINGS,
    &SHEETS,
    &FLAWS,
    &FITTINGS,
    &CUSTODY,
    &SALES,
    &COSTS,
    &STOCK,
    &HOURS,
    &STAGES,
    &JOURNAL,
    &RECORDS,
    &PHOTOS,
    &FINDINGS,
    &AGREEMENTS,
];

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::ALL;

    #[test]
    fn names_are_unique_and_say_their_unit() {
        let files: BTreeSet<_> = ALL.iter().map(|layout| layout.file).collect();
        assert_eq!(files.len(), ALL.len());
        for layout in ALL {
            let names: BTreeSet<_> = layout.columns.iter().map(|(name, ..)| *name).collect();
            assert_eq!(names.len(), layout.columns.len(), "{}", layout.file);
            for (name, _, about) in layout.columns {
                for (unit, ending) in [
                    (", mm", "_mm"),
                    (", mm2", "_mm2"),
                    (", grams", "_g"),
                    (", minutes", "_min"),
                    (", per cent", "_percent"),
                    (", bytes", "_bytes"),
                    (", pixels", "_px"),
                ] {
                    assert_eq!(
                        about.ends_with(unit),
                        name.ends_with(ending),
                        "{} {name}",
                        layout.file
                    );
                }
            }
        }
    }
}
