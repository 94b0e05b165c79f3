//! `tangmark examine`: sheets.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use serde_json::Value;
use tangmark_workshop::import::{Imported, column_map};
use tangmark_workshop::record::{Key, ScalarError};
use tangmark_workshop::{Workshop, template};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::show::{self, add, say};
use crate::surroundings;

/// Write, put, show, undo or import examination sheets
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark examine new reed
  tangmark examine put reed.toml
  tangmark examine show reed
  tangmark examine changes reed")]
pub(crate) struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Write a commented sheet to fill in; what the workshop has of the blade already stands in it
    #[command(after_help = "Examples:
  tangmark examine new reed                  write reed.toml
  tangmark examine new reed --out -          print it")]
    New {
        /// Key of the blade: lower-case letters, digits, hyphens
        blade: String,
        /// File to write, or `-` for standard output [default: BLADE.toml]
        #[arg(long, value_name = "FILE|-")]
        out: Option<PathBuf>,
    },
    /// Put a sheet into the workshop: read it with its photos and keep it as the newest of its blade
    ///
    /// TOML or, where the name ends in `.json`, JSON. Problems are told with line and field, and nothing is kept then.
    #[command(after_help = "Examples:
  tangmark examine put reed.toml
  tangmark examine put reed.toml --revision 3     refuse if somebody put a newer one since")]
    Put {
        /// The sheet
        sheet: PathBuf,
        /// Refuse a sheet that is about another blade
        #[arg(long, value_name = "ID")]
        blade: Option<String>,
        /// Revision your change was made on; refused when there is a newer one [default: the newest]
        #[arg(long, value_name = "N")]
        revision: Option<u64>,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Show the newest sheet of a blade
    #[command(after_help = "Examples:
  tangmark examine show reed
  tangmark examine show reed --json")]
    Show {
        /// Key of the blade
        blade: String,
        /// Print JSON, in the long form of the record
        #[arg(long)]
        json: bool,
    },
    /// Show what a change of the sheet changed: each value before and after
    #[command(after_help = "Examples:
  tangmark examine changes reed                  the last change
  tangmark examine changes reed --from 2 --to 5  from revision 2 to revision 5")]
    Changes {
        /// Key of the blade
        blade: String,
        /// Revision before [default: the one before `--to`]
        #[arg(long, value_name = "N")]
        from: Option<u64>,
        /// Revision after [default: the newest]
        #[arg(long, value_name = "N")]
        to: Option<u64>,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Take the last change of a sheet back; nothing is erased, and doing it again goes one further back
    #[command(after_help = "Examples:
  tangmark examine undo reed")]
    Undo {
        /// Key of the blade
        blade: String,
    },
    /// List the changes of a sheet
    #[command(after_help = "Examples:
  tangmark examine history reed
  tangmark examine history reed --json")]
    History {
        /// Key of the blade
        blade: String,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Import a CSV of published blades: what is sound becomes first sheets, what is not is listed row by row
    ///
    /// A value that stands both in a column and in a published line of dimensions is compared; where the two disagree
    /// both are shown and neither is taken.
    #[command(after_help = "Examples:
  tangmark examine import blades.csv --dry-run
  tangmark examine import blades.csv --map identity=no --map kind=type --map blade_length=nagasa:cm

Fields: identity, holder, kind, period, published, source, licence, note, overall_length,
blade_with_tang, blade_length, curvature, width, mass.")]
    Import {
        /// The table
        csv: PathBuf,
        /// Take a field from a column of the header (can be repeated) [default: the usual headings]
        #[arg(long, value_name = "FIELD=COLUMN[:UNIT]")]
        map: Vec<String>,
        /// List what would be imported; keep nothing
        #[arg(long)]
        dry_run: bool,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    if let What::New { blade, out } = &arguments.what {
        return new(blade, out.as_deref(), workshop);
    }
    let workshop = surroundings::open(workshop)?;
    match &arguments.what {
        What::New { .. } => {}
        What::Put {
            sheet,
            blade,
            revision,
            json,
        } => put(&workshop, sheet, blade.as_deref(), *revision, *json)?,
        What::Show { blade, json } => show_sheet(&workshop, blade, *json)?,
        What::Changes {
            blade,
            from,
            to,
            json,
        } => changes(&workshop, blade, *from, *to, *json)?,
        What::Undo { blade } => {
            let undone = surroundings::with(|around| Ok(workshop.undo_sheet(blade, around)?))?;
            for remark in &undone.remarks {
                say(&format!("note: {}", show::plain(remark)));
            }
            print(&format!(
                "blade {blade}: the last change is taken back; the sheet is revision {} now\n",
                undone.revision
            ))?;
        }
        What::History { blade, json } => history(&workshop, blade, *json)?,
        What::Import {
            csv,
            map,
            dry_run,
            json,
        } => import(&workshop, csv, map, *dry_run, *json)?,
    }
    Ok(code::GOOD)
}

fn new(blade: &str, out: Option<&Path>, workshop: Option<&Path>) -> Outcome {
    let key: Key = blade.parse().map_err(|error: ScalarError| {
        Failure::new(
            error.to_string(),
            "write for example `tangmark examine new wakizashi-3`",
        )
    })?;
    let text = match kept(&key, workshop)? {
        Some(kept) => {
            say("what the workshop has of this blade stands in it already; go on from there");
            kept
        }
        None => template(&key),
    };
    if out == Some(Path::new("-")) {
        print(&text)?;
        return Ok(code::GOOD);
    }
    let file = out.map_or_else(|| PathBuf::from(format!("{key}.toml")), Path::to_owned);
    surroundings::write_new(&file, &text)?;
    print(&format!("{}\n", file.display()))?;
    say(&format!(
        "fill it in, then `tangmark examine put {}`",
        file.display()
    ));
    Ok(code::GOOD)
}

/// The sheet of a blade that is in the workshop already, so that nothing of it is left out by the next one. A template
/// needs no workshop.
fn kept(key: &Key, workshop: Option<&Path>) -> Result<Option<String>, Failure> {
    match surroundings::find(workshop) {
        None => Ok(None),
        Some(_) => Ok(surroundings::open(workshop)?.sheet_to_fill(key)?),
    }
}

fn put(
    workshop: &Workshop,
    sheet: &Path,
    blade: Option<&str>,
    revision: Option<u64>,
    json: bool,
) -> Result<(), Failure> {
    let done =
        surroundings::with(|around| Ok(workshop.put_sheet(sheet, blade, revision, around)?))?;
    for remark in &done.remarks {
        say(&format!("note: {}", show::plain(remark)));
    }
    if json {
        return print_json(&done);
    }
    let what = match (done.new_blade, done.unchanged) {
        (true, _) => "entered, sheet",
        (false, true) => "nothing changed, sheet",
        (false, false) => "sheet",
    };
    print(&format!(
        "blade {}: {what} revision {}, {} kept\n",
        done.blade,
        done.revision,
        show::counted(done.photos, "photo")
    ))
}

fn show_sheet(workshop: &Workshop, blade: &str, json: bool) -> Result<(), Failure> {
    let (sheet, revision) = workshop.sheet(blade)?;
    if json {
        return print_json(&sheet);
    }
    let value = serde_json::to_value(&sheet).map_err(|error| {
        Failure::new(
            format!("the sheet cannot be shown: {error}"),
            "report this with the sheet",
        )
    })?;
    let mut rows = Vec::new();
    flatten("", &value, &mut rows);
    let mut text = format!("blade {blade}, sheet revision {revision}\n");
    for (field, value) in rows {
        add!(text, "{field} = {}\n", show::plain(&value));
    }
    print(&text)
}

/// Lists the values of a sheet by their dotted field; a quantity is one value.
fn flatten(field: &str, value: &Value, rows: &mut Vec<(String, String)>) {
    match value {
        Value::Object(members) => {
            if let Some(text) = quantity(value) {
                rows.push((field.to_owned(), text));
                return;
            }
            for (name, value) in members {
                let inner = if field.is_empty() {
                    name.clone()
                } else {
                    format!("{field}.{name}")
                };
                flatten(&inner, value, rows);
            }
        }
        Value::Array(items) if items.iter().all(Value::is_string) => {
            let words: Vec<&str> = items.iter().filter_map(Value::as_str).collect();
            rows.push((field.to_owned(), words.join(", ")));
        }
        Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                flatten(&format!("{field}[{index}]"), item, rows);
            }
        }
        Value::String(text) => rows.push((field.to_owned(), text.clone())),
        other => rows.push((field.to_owned(), other.to_string())),
    }
}

/// `701.5 mm ± 0.14 mm (k = 1), read as 70.15 cm`
fn quantity(value: &Value) -> Option<String> {
    let part = |name: &str| value.get(name)?.as_str();
    let (amount, unit, uncertainty) =
        (part("value")?, part("unit")?, part("standard_uncertainty")?);
    let readings = value.get("as_read")?.as_array()?;
    let readings: Vec<&str> = readings
        .iter()
        .filter_map(|reading| reading.get("text")?.as_str())
        .collect();
    let unit = if unit == "1" {
        String::new()
    } else {
        format!(" {unit}")
    };
    Some(format!(
        "{amount}{unit} ± {uncertainty}{unit} (k = 1), read as {}",
        readings.join("; ")
    ))
}

fn changes(
    workshop: &Workshop,
    blade: &str,
    from: Option<u64>,
    to: Option<u64>,
    json: bool,
) -> Result<(), Failure> {
    let changes = workshop.sheet_changes(blade, from, to)?;
    if json {
        return print_json(&changes);
    }
    let mut text = format!(
        "blade {blade}, from revision {} to revision {}: {}\n",
        changes.from,
        changes.to,
        show::counted(changes.values.len(), "value")
    );
    let side = |value: &Option<Value>| {
        let Some(value) = value else {
            return "nothing".to_owned();
        };
        let mut rows = Vec::new();
        flatten("", value, &mut rows);
        let words = rows.into_iter().map(|(field, value)| {
            if field.is_empty() {
                value
            } else {
                format!("{field} = {value}")
            }
        });
        show::plain(&words.collect::<Vec<_>>().join("; "))
    };
    for value in &changes.values {
        add!(
            text,
            "{}: {} → {}\n",
            show::plain(&value.place),
            side(&value.before),
            side(&value.after)
        );
    }
    print(&text)
}

fn history(workshop: &Workshop, blade: &str, json: bool) -> Result<(), Failure> {
    let changes = workshop.sheet_history(blade)?;
    if json {
        return print_json(&changes);
    }
    let heading = [
        "revision",
        "saved at",
        "from",
        "by",
        "bytes",
        "brings back",
        "what",
    ]
    .map(str::to_owned)
    .to_vec();
    let or_none = |text: &str, longest| {
        if text.is_empty() {
            "-".to_owned()
        } else {
            show::cut(text, longest)
        }
    };
    let rows = changes.into_iter().map(|change| {
        let restores = change
            .restores
            .map_or_else(|| "-".to_owned(), |revision| revision.to_string());
        vec![
            change.revision.to_string(),
            change.saved_at,
            change.source,
            or_none(&change.by, 40),
            change.length.to_string(),
            restores,
            or_none(&change.note, 60),
        ]
    });
    print(&show::table(
        &std::iter::once(heading).chain(rows).collect::<Vec<_>>(),
    ))
}

fn import(
    workshop: &Workshop,
    csv: &Path,
    map: &[String],
    dry_run: bool,
    json: bool,
) -> Result<(), Failure> {
    let map = column_map(map)?;
    let mut progress = show::progress("rows imported");
    let count = |number: usize| u64::try_from(number).unwrap_or(u64::MAX);
    let imported = surroundings::with(|around| {
        Ok(
            workshop.import(csv, &map, dry_run, around, &mut |done, total| {
                progress(count(done), count(total));
            })?,
        )
    })?;
    if json {
        print_json(&imported)
    } else {
        print(&imported_text(&imported))
    }
}

fn imported_text(imported: &Imported) -> String {
    let report = &imported.report;
    let mut text = String::new();
    for entered in &imported.entered {
        add!(
            text,
            "{} {} from {}\n",
            if imported.dry_run {
                "would enter"
            } else {
                "entered"
            },
            entered.blade,
            show::cut(&entered.identity, 80)
        );
    }
    let sections = [
        ("not imported", &report.faults),
        ("to look at", &report.remarks),
    ];
    for (name, remarks) in sections
        .into_iter()
        .filter(|(_, remarks)| !remarks.is_empty())
    {
        add!(text, "\n{name}:\n");
        for remark in remarks {
            add!(
                text,
                "  {}\n    hint: {}\n",
                show::plain(&remark.to_string()),
                remark.reason.hint()
            );
        }
    }
    for row in &imported.not_entered {
        add!(
            text,
            "  line {}: no sheet could be made: {}\n",
            row.line,
            show::plain(&row.reason)
        );
    }
    add!(
        text,
        "\n{} read, {} {}, {} not imported, {} to look at\n",
        show::counted(report.rows_read, "row"),
        show::counted(imported.entered.len(), "blade"),
        if imported.dry_run {
            "would be entered"
        } else {
            "entered"
        },
        show::counted(report.faults.len() + imported.not_entered.len(), "thing"),
        show::counted(report.remarks.len(), "thing")
    );
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_is_listed_field_by_field() {
        let value = serde_json::json!({
            "blade": { "id": "reed", "materials": ["steel", "gold"] },
            "flaws": [{ "depth": {
                "as_read": [{ "text": "0.4 mm", "unit": "mm" }], "value": "0.40", "unit": "mm",
                "standard_uncertainty": "0.03", "uncertainty_from": "resolution" } }],
            "holes": [{ "plugged": true }],
        });
        let mut rows = Vec::new();
        flatten("", &value, &mut rows);
        let lines: Vec<String> = rows
            .into_iter()
            .map(|(field, value)| format!("{field} = {value}"))
            .collect();
        assert_eq!(
            lines,
            [
                "blade.id = reed",
                "blade.materials = steel, gold",
                "flaws[0].depth = 0.40 mm ± 0.03 mm (k = 1), read as 0.4 mm",
                "holes[0].plugged = true",
            ]
        );
    }
}
