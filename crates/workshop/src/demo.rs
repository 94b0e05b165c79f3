//! The demonstration data: five invented blades, compiled in.

/// One sheet of the demonstration.
#[derive(Clone, Copy, Debug)]
pub struct DemoSheet {
    /// Name.
    pub name: &'static str,
    /// TOML text.
    pub text: &'static str,
}

macro_rules! sheets {
    ($($name:literal),+) => {
        /// The sheets.
        pub const SHEETS: &[DemoSheet] = &[$(DemoSheet {
            name: $name,
            text: include_str!(concat!("../../../samples/sheets/", $name, ".toml")),
        }),+];
    };
}

sheets!(
    "reed-before",
    "reed-after",
    "gorge",
    "lantern",
    "heron",
    "dune"
);

macro_rules! given {
    ($($plugin:literal $file:literal $sample:literal),+ $(,)?) => {
        /// Settings and tables of the demonstration workshop: plugin, file name in its folder, text.
        pub const GIVEN: &[(&str, &str, &str)] =
            &[$(($plugin, $file, include_str!(concat!("../../../samples/", $sample)))),+];
    };
}

given!(
    "abrasives" "settings.toml" "settings/abrasives.toml",
    "abrasives" "stones.csv" "tables/abrasives/stones.csv",
    "materials" "settings.toml" "settings/materials.toml",
    "triage" "settings.toml" "settings/triage.toml",
    "valuation" "settings.toml" "settings/valuation.toml",
    "valuation" "comparables.csv" "tables/valuation/comparables.csv",
);

macro_rules! photos {
    ($($name:literal),+ $(,)?) => {
        /// The photos, drawn by our own generator, by file name.
        pub const PHOTOS: &[(&str, &[u8])] =
            &[$(($name, include_bytes!(concat!("../../../samples/photos/", $name)))),+];
    };
}

photos!(
    "dune-before.jpg",
    "dune-tang.jpg",
    "gorge-before.jpg",
    "gorge-crack.jpg",
    "gorge-tang.jpg",
    "heron-before.jpg",
    "heron-tang.jpg",
    "lantern-before.jpg",
    "lantern-tang.jpg",
    "reed-after.jpg",
    "reed-before.jpg",
    "reed-rust.jpg",
    "reed-tang.jpg",
    "reed-temper.jpg",
);
