//! Stones in use: what each has worked over all blades, how it wears, and a new one in the list.

use std::collections::BTreeMap;
use std::fs::{self, File, OpenOptions};
use std::io::Write as _;
use std::path::Path;

use serde::{Deserialize, Serialize};
use tangmark_core::record::{AbrasiveOrigin, Mass, Number, Pass, Quantity};
use tangmark_core::sheet::{self, SheetFormat};
use tangmark_core::units::{Dimension, Unit};
use tangmark_host::{PluginOutcome, discover};
use tangmark_measure::{Estimate, print};
use tangmark_plugin as plugin;
use tangmark_store::{StandingFilter, Store as _};

use super::error::PassError;
use super::stones::{FILE, PLUGIN, Stone, read};
use crate::journal::{Matter, Who};
use crate::try_plugin::about;
use crate::{Surroundings, TEMPLATE, Workshop, WorkshopError, given, plugins};

/// A weighing of a stone as the journal keeps it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct StoneWear {
    mass: Mass,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    note: Option<String>,
}

impl Matter for StoneWear {
    const KIND: &'static str = "stone_wear";
}

/// A stone with what it has worked so far.
#[derive(Clone, Debug, Serialize)]
pub struct StoneLine {
    /// The stone.
    #[serde(flatten)]
    pub stone: Stone,
    /// Passes over all blades.
    pub passes: usize,
    /// Blades it was used on.
    pub blades: usize,
    /// Time of those passes, min.
    pub minutes: Option<Number>,
    /// Steel of those passes that were weighed on both sides, g.
    pub steel: Option<Number>,
    /// Last weighing of the stone, g, and its day.
    pub mass: Option<(Number, String)>,
}

/// What a stone lost between two weighings.
#[derive(Clone, Debug, Serialize)]
pub struct Wear {
    /// Stone.
    pub stone: String,
    /// Number of the entry.
    pub entry: u64,
    /// The weighing.
    pub mass: Quantity,
    /// Day of the weighing before; none at the first.
    pub since: Option<String>,
    /// What went of the stone since then, g.
    pub worn: Option<Number>,
    /// Steel that it took since then, g, as far as its passes were weighed.
    pub steel: Option<Number>,
    /// Grams of stone per gram of steel, the column `wear_g_per_g` of the list.
    pub wear: Option<Number>,
    /// What the list has for it now.
    pub listed: Option<String>,
    /// Its passes since then, and those of them that were weighed on both sides.
    pub passes: (usize, usize),
}

/// A stone that was added.
#[derive(Clone, Debug, Serialize)]
pub struct StoneAdded {
    /// The stone.
    pub stone: Stone,
    /// The list.
    pub file: std::path::PathBuf,
    /// Copy of the list as it was before; none where there was no list.
    pub before: Option<std::path::PathBuf>,
    /// The usual cautions for a stone of its kind.
    pub cautions: Vec<&'static str>,
    /// What was not tried, and why.
    pub remarks: Vec<String>,
}

/// What stones worked.
#[derive(Default)]
struct Use {
    passes: usize,
    weighed: usize,
    blades: usize,
    minutes: Option<Estimate>,
    steel: Option<Estimate>,
}

impl Use {
    fn add(&mut self, pass: &Pass) {
        self.passes += 1;
        let plus = |sum: Option<Estimate>, one: Estimate| Some(sum.map_or(one, |sum| sum + one));
        if let Some(time) = &pass.time {
            self.minutes = plus(self.minutes, Estimate::from(&time.0));
        }
        let mass = |readings: &Option<tangmark_core::record::PassReadings>| {
            let mass = readings.as_ref()?.mass.as_ref()?;
            Some(Estimate::from(&mass.0))
        };
        if let (Some(before), Some(after)) = (mass(&pass.before), mass(&pass.after)) {
            self.weighed += 1;
            self.steel = plus(self.steel, before - after);
        }
    }
}

fn number(name: &str, estimate: Option<Estimate>, unit: Unit) -> Option<Number> {
    let printed = print::printed(estimate?, 3).ok()?;
    Some(Number {
        name: name.to_owned(),
        value: printed.value,
        unit,
        standard_uncertainty: printed.standard_uncertainty,
    })
}

impl Workshop {
    /// The stones with what each has worked so far, over all blades.
    ///
    /// # Errors
    /// When the list is none, or a sheet cannot be read.
    pub fn stone_lines(&self) -> Result<Vec<StoneLine>, WorkshopError> {
        let table = self.stones()?;
        let mut uses = self.uses(&|_| true)?;
        let mut masses = BTreeMap::new();
        for noted in self.noted::<StoneWear>(None, None)? {
            masses.insert(noted.subject.to_lowercase(), (noted.matter.mass, noted.on));
        }
        let lines = table.stones.into_iter().map(|stone| {
            let key = stone.name.to_lowercase();
            let used = uses.remove(&key).unwrap_or_default();
            StoneLine {
                passes: used.passes,
                blades: used.blades,
                minutes: number("time", used.minutes, Unit::Minute),
                steel: number("steel", used.steel, Unit::Gram),
                mass: masses.get(&key).and_then(|(mass, on)| {
                    let mass = number("mass", Some(Estimate::from(&mass.0)), Unit::Gram)?;
                    Some((mass, on.clone()))
                }),
                stone,
            }
        });
        Ok(lines.collect())
    }

    /// What each stone worked in the passes that `counts` takes, by its name in small letters.
    fn uses(&self, counts: &dyn Fn(&Pass) -> bool) -> Result<BTreeMap<String, Use>, WorkshopError> {
        let mut uses: BTreeMap<String, Use> = BTreeMap::new();
        for standing in self.store().standings(&StandingFilter::default())? {
            // A sheet without passes is not opened; one that a record was sealed from may have had some before.
            if standing.passes == 0 && standing.records == 0 {
                continue;
            }
            let Some(draft) = self.store().draft(&standing.blade)? else {
                continue;
            };
            let mut passes: Vec<Pass> = serde_json::from_value(
                draft.body.get("passes").cloned().unwrap_or_else(|| serde_json::json!([])),
            )
            .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
            // Passes of an earlier piece of work stand in the newest records only.
            if let Some(row) = self.store().tip(&standing.blade)? {
                for sealed in self.kept(&row)?.record.passes {
                    if !passes.iter().any(|pass| pass.id == sealed.id) {
                        passes.push(sealed);
                    }
                }
            }
            let mut here = std::collections::BTreeSet::new();
            for pass in passes.iter().filter(|pass| counts(pass)) {
                let Some(abrasive) = &pass.abrasive else {
                    continue;
                };
                let key = abrasive.name.to_lowercase();
                let used = uses.entry(key.clone()).or_default();
                used.add(pass);
                used.blades += usize::from(here.insert(key));
            }
        }
        Ok(uses)
    }

    /// Notes a weighing of a stone and tells what it lost since the last one, against the steel it took.
    ///
    /// # Errors
    /// When the list has no such stone, or the mass cannot be understood.
    pub fn weigh_stone(
        &self,
        name: &str,
        mass: &str,
        note: Option<&str>,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<Wear, WorkshopError> {
        let table = self.stones()?;
        let stone = table.find(name)?.clone();
        let readings: Vec<String> = mass.split(';').map(|one| one.trim().to_owned()).collect();
        let quantity = Quantity::from_readings(&readings, Dimension::Mass, None, None).map_err(
            |error| PassError::Reading {
                found: mass.chars().take(80).collect(),
                what: error.to_string(),
            },
        )?;
        let own = |subject: &str| subject.to_lowercase() == stone.name.to_lowercase();
        let before = self
            .noted::<StoneWear>(None, None)?
            .into_iter()
            .rfind(|noted| own(&noted.subject));
        let matter = StoneWear {
            mass: Mass(quantity.clone()),
            note: note.map(str::to_owned),
        };
        let entry = self.note(None, &stone.name, &matter, who, around)?;
        let until = who.on.unwrap_or(&around.now.as_str()[..10]).to_owned();
        let mut wear = Wear {
            stone: stone.name.clone(),
            entry,
            mass: quantity,
            since: None,
            worn: None,
            steel: None,
            wear: None,
            listed: stone.wear_g_per_g.clone(),
            passes: (0, 0),
        };
        if let Some(before) = before {
            let worn = Estimate::from(&before.matter.mass.0) - Estimate::from(&wear.mass);
            let within = |pass: &Pass| {
                pass.on.first_day() >= before.on && pass.on.last_day() <= until
            };
            let used = self
                .uses(&within)?
                .remove(&stone.name.to_lowercase())
                .unwrap_or_default();
            wear.since = Some(before.on);
            wear.worn = number("worn", Some(worn), Unit::Gram);
            wear.steel = number("steel", used.steel, Unit::Gram);
            wear.passes = (used.passes, used.weighed);
            // Where a pass was not weighed the steel is too little, and the ratio too great.
            if used.passes == used.weighed {
                let ratio = used.steel.filter(|steel| steel.value > 0.0).and_then(|steel| worn.ratio(steel));
                wear.wear = number("wear", ratio, Unit::One);
            }
        }
        Ok(wear)
    }

    /// Adds a stone to the list, the rest of which stays as it is; the list as it was is kept beside it as `.1`.
    ///
    /// `cells` are columns of the list with what stands in them. The planner tries the list with the new stone first.
    ///
    /// # Errors
    /// When a stone of that name is there, a cell says what no stone is, or the planner refuses the list.
    pub fn add_stone(
        &self,
        cells: &[(&str, String)],
        around: &Surroundings<'_>,
    ) -> Result<StoneAdded, WorkshopError> {
        let folder = self.plugin_folder(PLUGIN);
        let file = folder.join(FILE);
        fs::create_dir_all(&folder)
            .map_err(|error| WorkshopError::file("make the folder", &folder, error))?;
        let _lock = lock(&folder.join(".stones.lock"))?;
        let old = match fs::read(&file) {
            Ok(bytes) => Some(bytes),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => None,
            Err(error) => return Err(WorkshopError::file("read", &file, error)),
        };
        if old.is_some() {
            let name = cells.iter().find(|(column, _)| *column == "name");
            let there = read(&file)?;
            if let Some((_, name)) = name
                && there.iter().any(|stone| stone.name.to_lowercase() == name.trim().to_lowercase())
            {
                return Err(PassError::StoneThere { name: name.clone(), file }.into());
            }
        }
        let text = match &old {
            Some(bytes) => {
                // What reads it refuses what is not UTF-8.
                given::read_table(&file)?;
                longer(&String::from_utf8_lossy(bytes), cells)
            }
            None => first(cells),
        };
        let staged = stage(&folder, text.as_bytes())?;
        let stone = read(staged.path())?
            .pop()
            .ok_or_else(|| PassError::StoneRefused("the row is empty".to_owned()))?;
        let mut remarks = Vec::new();
        if let Some(remark) = self.planner_takes(staged.path(), around)? {
            remarks.push(remark);
        }
        let before = match &old {
            Some(bytes) => {
                let copy = folder.join(format!("{FILE}.1"));
                stage(&folder, bytes)?
                    .persist(&copy)
                    .map_err(|error| WorkshopError::file("write", &copy, error.error))?;
                Some(copy)
            }
            None => None,
        };
        staged
            .persist(&file)
            .map_err(|error| WorkshopError::file("write", &file, error.error))?;
        File::open(&folder)
            .and_then(|folder| folder.sync_all())
            .map_err(|error| WorkshopError::file("flush", &folder, error))?;
        let mut cautions = Vec::new();
        if stone.origin == AbrasiveOrigin::Natural {
            cautions.push(super::SILICA);
        }
        Ok(StoneAdded {
            stone,
            file,
            before,
            cautions,
            remarks,
        })
    }

    /// Asks the planner about the list on an empty sheet; a refusal is an error, a planner that is not there a remark.
    fn planner_takes(
        &self,
        list: &Path,
        around: &Surroundings<'_>,
    ) -> Result<Option<String>, WorkshopError> {
        let libraries: Vec<_> = discover(&around.plugin_folders)
            .into_iter()
            .filter(|library| library.name == PLUGIN)
            .collect();
        let not_asked = |why: &str| {
            Some(format!(
                "the planner was not asked whether it takes the list: {why}; `tangmark plan BLADE` will say"
            ))
        };
        if libraries.is_empty() {
            return Ok(not_asked("the plugin `abrasives` was not found"));
        }
        let blank = sheet::read(TEMPLATE.as_bytes(), SheetFormat::Toml, &mut |name| {
            Err(name.to_owned())
        })
        .map_err(|error| WorkshopError::Canonical(error.to_string()))?
        .to_json()
        .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
        let request: plugin::CheckRequest = about(blank, around)?;
        let mut own = self.given(std::iter::once(PLUGIN))?;
        if let Some(tables) = own
            .get_mut(PLUGIN)
            .and_then(|given| given.tables.as_object_mut())
        {
            tables.insert("stones".to_owned(), given::read_table(list)?);
        }
        let outcomes =
            plugins::host(around).check(&libraries, &self.approvals()?, &request, &own);
        match outcomes.first() {
            Some(PluginOutcome::Failed(failed))
                if failed.kind == tangmark_host::FaultKind::Refused =>
            {
                Err(PassError::StoneRefused(failed.fault.clone()).into())
            }
            Some(PluginOutcome::Failed(failed)) => Ok(not_asked(&failed.fault)),
            _ => Ok(None),
        }
    }
}

/// Waits until nobody else changes the list; let go when the file is closed, also by a crash.
fn lock(path: &Path) -> Result<File, WorkshopError> {
    let lock = || -> std::io::Result<File> {
        let file = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(path)?;
        file.lock()?;
        Ok(file)
    };
    lock().map_err(|error| WorkshopError::file("lock", path, error))
}

fn stage(folder: &Path, bytes: &[u8]) -> Result<tempfile::NamedTempFile, WorkshopError> {
    use std::os::unix::fs::PermissionsExt as _;
    let fail = |error| WorkshopError::file("write in", folder, error);
    let mut file = tempfile::Builder::new()
        .prefix(".tangmark-")
        .permissions(fs::Permissions::from_mode(0o666))
        .tempfile_in(folder)
        .map_err(fail)?;
    file.write_all(bytes)
        .and_then(|()| file.as_file().sync_all())
        .map_err(fail)?;
    Ok(file)
}

/// A cell as RFC 4180 writes it.
fn cell(text: &str) -> String {
    let text = text.trim();
    if text.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

/// A list with one stone.
fn first(cells: &[(&str, String)]) -> String {
    let heads: Vec<&str> = cells.iter().map(|(column, _)| *column).collect();
    let row: Vec<String> = cells.iter().map(|(_, text)| cell(text)).collect();
    format!("{}\n{}\n", heads.join(","), row.join(","))
}

/// A list with one row more. Every byte that is there stays; columns that it lacks come at the end of each row.
fn longer(text: &str, cells: &[(&str, String)]) -> String {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_bytes());
    let mut starts = Vec::new();
    let mut heads: Vec<String> = Vec::new();
    // What cannot be read was refused before.
    for record in reader.records().flatten() {
        let start = record
            .position()
            .and_then(|position| usize::try_from(position.byte()).ok())
            .unwrap_or(0);
        if starts.is_empty() {
            let plain = |head: &str| head.trim().trim_start_matches('\u{feff}').to_owned();
            heads = record.iter().map(plain).collect();
        }
        starts.push(start.min(text.len()));
    }
    let lacking: Vec<&str> = cells
        .iter()
        .map(|(column, _)| *column)
        .filter(|column| !heads.iter().any(|head| head == column))
        .collect();
    let newline = if text.contains("\r\n") { "\r\n" } else { "\n" };
    let mut longer = String::with_capacity(text.len() + 200);
    for (index, start) in starts.iter().enumerate() {
        let end = starts.get(index + 1).copied().unwrap_or(text.len());
        let row = &text[*start..end];
        let body = row.trim_end_matches(['\r', '\n']);
        longer.push_str(body);
        for column in &lacking {
            longer.push(',');
            if index == 0 {
                longer.push_str(column);
            }
        }
        longer.push_str(&row[body.len()..]);
    }
    if !longer.ends_with('\n') {
        longer.push_str(newline);
    }
    let of = |head: &str| {
        let found = cells.iter().find(|(column, _)| *column == head);
        found.map(|(_, text)| cell(text)).unwrap_or_default()
    };
    let row: Vec<String> = heads.iter().map(String::as_str).chain(lacking).map(of).collect();
    longer.push_str(&row.join(","));
    longer.push_str(newline);
    longer
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells() -> Vec<(&'static str, String)> {
        vec![
            ("name", "hard, grey slate".to_owned()),
            ("origin", "natural".to_owned()),
            ("stage", "koma_nagura".to_owned()),
        ]
    }

    #[test]
    fn a_row_more_leaves_every_byte_that_is_there() {
        let list = "\u{feff}name , origin,stage,d50_um\r\n\"a \"\"soft\"\"\r\none\",natural,,3\r\n\r\nb,synthetic,arato, 57 ";
        assert_eq!(
            longer(list, &cells()),
            format!("{list}\r\n\"hard, grey slate\",natural,koma_nagura,\r\n")
        );
    }

    #[test]
    fn columns_that_lack_come_at_the_end() {
        assert_eq!(
            longer("name,origin\na,natural\n\"b\nc\",synthetic\n", &cells()),
            "name,origin,stage\na,natural,\n\"b\nc\",synthetic,\n\"hard, grey slate\",natural,koma_nagura\n"
        );
    }

    #[test]
    fn a_first_stone_makes_the_list() {
        assert_eq!(
            first(&cells()),
            "name,origin,stage\n\"hard, grey slate\",natural,koma_nagura\n"
        );
    }
}
