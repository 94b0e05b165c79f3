//! `tangmark compare`.

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;
use tangmark_workshop::compare::{
    AccountTold, ComparisonDrawn, FlawTold, Number, QuantityTold, StateName, StateTold, Told,
    TwoStates,
};
use tangmark_workshop::{DRAWING_WIDTHS, ReportFile, Speech, Workshop, WorkshopError};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::papers::{Language, PaperName, tell_fonts, tell_missing};
use crate::passphrase;
use crate::show::{self, add, say};
use crate::surroundings;

/// Compare two states of a blade: what changed, and whether that is more than the measurement can tell
///
/// Every quantity with its difference and the uncertainty of it (readings of one instrument share its error), the loss at
/// the stations, flaw by flaw what became of it and by which rule, and the steel account: mass as received, rust, each
/// pass, what no pass explains.
///
/// A state is the number of a sealed record, or `sheet` for the sheet as it is now. What is said of flaws is this
/// program's reading by the rule it names; it is no finding of an examiner.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark compare reed                       the first record and the newest, or the sheet
  tangmark compare reed 1 sheet               what the work has changed so far
  tangmark compare reed 1 2 --svg drawings    loss, sections, steel account, photographs
  tangmark compare reed 1 2 --pdf reed.pdf    the signed report
  tangmark compare reed 1 3 --json

Exit codes: 0 compared; 1 a state is not there, or a file could not be written; 4 the command line
is not understood.")]
pub(crate) struct Arguments {
    /// Key of the blade
    blade: String,
    /// The earlier state: number of a record [default: 1]
    #[arg(value_name = "A")]
    first: Option<StateName>,
    /// The later state: number of a record, or `sheet` [default: the newest record, or the sheet where that is A]
    #[arg(value_name = "B")]
    second: Option<StateName>,
    /// Draw both into SVG files in DIR, which is made when missing; an existing file is never overwritten
    #[arg(long, value_name = "DIR")]
    svg: Option<PathBuf>,
    #[arg(long, help = width_help(), value_name = "MM", default_value_t = 166.0, requires = "svg")]
    width: f64,
    /// Write the signed report of both to FILE; both must be sealed. An existing file is never overwritten
    #[arg(long, value_name = "FILE")]
    pdf: Option<PathBuf>,
    /// Paper of the report
    #[arg(long, value_enum, default_value_t = PaperName::A4, requires = "pdf")]
    paper: PaperName,
    /// Language of drawings and report
    #[arg(long, value_enum, default_value_t = Language::En)]
    language: Language,
    /// Print JSON
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    passphrase: passphrase::Source,
}

fn width_help() -> String {
    let [least, most] = DRAWING_WIDTHS;
    format!("Width of a drawing without its margins, {least} to {most} mm")
}

/// A comparison with the files that were made of it.
#[derive(Serialize)]
struct Made<'a> {
    #[serde(flatten)]
    told: &'a Told,
    #[serde(skip_serializing_if = "Option::is_none")]
    drawings: Option<&'a ComparisonDrawn>,
    #[serde(skip_serializing_if = "Option::is_none")]
    report: Option<&'a ReportFile>,
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    let states = workshop.two_states(&arguments.blade, arguments.first, arguments.second)?;
    let told = states.told(Speech::English);
    let report = arguments
        .pdf
        .as_deref()
        .map(|file| report(arguments, &workshop, &states, file))
        .transpose()?;
    let drawings = arguments
        .svg
        .as_deref()
        .map(|folder| draw(arguments, &workshop, &states, folder))
        .transpose()?;
    if arguments.json {
        print_json(&Made {
            told: &told,
            drawings: drawings.as_ref(),
            report: report.as_ref(),
        })?;
    } else {
        print(&text(&told))?;
    }
    if let Some(drawn) = &drawings {
        tell_drawings(drawn, arguments.json)?;
    }
    if let Some(made) = &report {
        tell_report(made, arguments.json)?;
    }
    Ok(code::GOOD)
}

fn draw(
    arguments: &Arguments,
    workshop: &Workshop,
    states: &TwoStates,
    folder: &Path,
) -> Result<ComparisonDrawn, Failure> {
    if folder.is_file() {
        return Err(Failure::new(
            format!("{}: a file, a folder is needed", folder.display()),
            "name a folder with `--svg DIR`; it is made when missing",
        ));
    }
    let speech = arguments.language.into();
    workshop
        .draw_two_states(states, arguments.width, speech, folder)
        .map_err(|error| match error {
            WorkshopError::Exists(path) => Failure::new(
                format!("{} exists already; no drawing was written", path.display()),
                "name another folder with `--svg DIR`",
            ),
            other => other.into(),
        })
}

fn report(
    arguments: &Arguments,
    workshop: &Workshop,
    states: &TwoStates,
    file: &Path,
) -> Result<ReportFile, Failure> {
    let wish =
        workshop.comparison_wish(states, arguments.paper.into(), arguments.language.into())?;
    if file.exists() {
        return Err(WorkshopError::Exists(file.to_owned()).into());
    }
    let passphrase = arguments.passphrase.existing()?;
    let mut press = workshop.press(passphrase.as_bytes())?;
    Ok(press.report(&arguments.blade, &wish, file)?)
}

fn tell_drawings(drawn: &ComparisonDrawn, json: bool) -> Result<(), Failure> {
    tell_fonts(&drawn.refused_fonts, "");
    for digest in &drawn.absent_photos {
        say(&format!(
            "note: photo {digest} is not kept here; its place on the sheet of photographs is empty"
        ));
    }
    tell_missing(
        drawn
            .files
            .iter()
            .flat_map(|file| file.missing.iter().copied()),
        "drawn",
        "",
    );
    if !json {
        for file in &drawn.files {
            print(&format!("{}\n", file.file.display()))?;
        }
    }
    Ok(())
}

fn tell_report(made: &ReportFile, json: bool) -> Result<(), Failure> {
    tell_fonts(&made.refused_fonts, "");
    tell_missing(made.missing.iter().copied(), "printed", "");
    for digest in &made.absent_photos {
        say(&format!(
            "note: photo {digest} is named by a record and not kept here; the report says so"
        ));
    }
    if !json {
        print(&format!("{}\n", made.file.display()))?;
        say(&format!("{}, signed", show::counted(made.pages, "page")));
    }
    Ok(())
}

/// All of it for a terminal: the line that says all, then tables.
fn text(told: &Told) -> String {
    let mut out = String::new();
    add!(out, "{}\n\n", show::plain(&told.summary));
    add!(
        out,
        "before: {}\nafter:  {}\n",
        state(&told.before),
        state(&told.after)
    );
    if let Some(said) = &told.not_compared {
        add!(out, "\n{}\n", show::plain(said));
    }
    quantities(&mut out, told);
    flaws(&mut out, &told.flaws);
    if let Some(account) = &told.account {
        ledger(&mut out, account);
    }
    for (title, list) in [
        ("not measured again", &told.not_measured_again),
        (
            "photographs of the same thing",
            &told
                .photos
                .iter()
                .map(|pair| format!("{} and {}", pair.before, pair.after))
                .collect(),
        ),
    ] {
        if !list.is_empty() {
            let list: Vec<String> = list.iter().map(|one| show::plain(one)).collect();
            add!(out, "\n{title}: {}\n", list.join("; "));
        }
    }
    out
}

fn state(state: &StateTold) -> String {
    let mut said = state.name.clone();
    if let Some(purpose) = state.purpose {
        add!(said, " ({purpose})");
    }
    if let Some(on) = &state.examined_on {
        add!(said, ", examined on {on}");
    }
    if let Some(surface) = state.surface {
        add!(said, ", surface {}", surface.replace('_', " "));
    }
    show::plain(&said)
}

/// A number with its uncertainty, without its unit.
fn bare(number: Option<&Number>) -> String {
    number.map_or_else(
        || "-".to_owned(),
        |number| match &number.expanded_uncertainty {
            Some(expanded) => format!("{} ± {expanded}", number.value),
            None => number.value.clone(),
        },
    )
}

/// A difference with its sign.
fn signed(number: Option<&Number>) -> String {
    let text = bare(number);
    match number {
        Some(number)
            if number
                .value
                .bytes()
                .any(|byte| (b'1'..=b'9').contains(&byte))
                && !number.value.starts_with('-') =>
        {
            format!("+{text}")
        }
        _ => text,
    }
}

fn quantities(out: &mut String, told: &Told) {
    let head = ["measure", "before", "after", "difference", "unit", "told"].map(str::to_owned);
    let row = |name: String, one: &QuantityTold| {
        let unit = one.before.as_ref().or(one.after.as_ref());
        vec![
            name,
            bare(one.before.as_ref()),
            bare(one.after.as_ref()),
            signed(one.difference.as_ref()),
            unit.map_or_else(String::new, |one| one.unit.code().to_owned()),
            one.said.clone(),
        ]
    };
    let mut rows = vec![head.to_vec()];
    rows.extend(
        told.quantities
            .iter()
            .map(|one| row(show::plain(&one.name), one)),
    );
    for station in &told.stations {
        for one in &station.measures {
            let name = format!(
                "{} at {} {}",
                one.name,
                station.at.value,
                station.at.unit.code()
            );
            rows.push(row(name, one));
        }
    }
    if rows.len() > 1 {
        add!(out, "\n{}", show::table(&rows));
        add!(
            out,
            "± is the expanded uncertainty (k = 2); `cannot be told`: the difference is no larger than its uncertainty\n"
        );
    }
}

fn flaws(out: &mut String, flaws: &[FlawTold]) {
    if flaws.is_empty() {
        return;
    }
    let head = ["flaw", "kind", "zone", "at, mm", "became"].map(str::to_owned);
    let mut rows = vec![head.to_vec()];
    let mut why = String::new();
    for flaw in flaws {
        rows.push(vec![
            flaw.id.clone(),
            flaw.kind_said.clone(),
            flaw.zone.to_owned(),
            flaw.at.value.clone(),
            flaw.fate_said.clone(),
        ]);
        let sizes: Vec<String> = flaw.sizes.iter().map(|size| size.said.clone()).collect();
        let sizes = if sizes.is_empty() {
            String::new()
        } else {
            format!(" [{}]", sizes.join(", "))
        };
        add!(
            why,
            "  {}: {}{sizes} (rule {})\n",
            flaw.id,
            show::plain(&flaw.why),
            flaw.rule
        );
    }
    add!(out, "\n{}", show::table(&rows));
    add!(
        out,
        "by this program's reading, no finding of an examiner:\n{why}"
    );
}

fn ledger(out: &mut String, account: &AccountTold) {
    let head = [
        "steel account",
        "until",
        "what went",
        "before, g",
        "after, g",
        "gone, g",
    ]
    .map(str::to_owned);
    let mut rows = vec![head.to_vec()];
    for step in &account.steps {
        rows.push(vec![
            show::plain(&step.said),
            step.on.clone().unwrap_or_else(|| "-".to_owned()),
            step.went.replace('_', " "),
            step.before.value.clone(),
            step.after.value.clone(),
            bare(Some(&step.gone)),
        ]);
    }
    for total in &account.totals {
        let mut row = vec![String::new(); 5];
        row[0] = format!("sum: {}", total.said);
        row.push(format!(
            "{}{}",
            bare(Some(&total.gone)),
            if total.told { "" } else { ", cannot be told" }
        ));
        rows.push(row);
    }
    add!(out, "\n{}", show::table(&rows));
    for etch in &account.etches {
        let gone = etch
            .gone
            .as_ref()
            .map_or_else(String::new, |gone| format!("; {} g gone", bare(Some(gone))));
        let on = etch.on.as_deref().unwrap_or("day not recorded");
        add!(out, "etch, {on}: {}{gone}\n", show::plain(&etch.said));
    }
    if !account.not_weighed.is_empty() {
        add!(
            out,
            "outside of the account, before the first weighing or after the last: {}\n",
            account.not_weighed.join(", ")
        );
    }
    if !account.left_out.is_empty() {
        add!(
            out,
            "weighed with something else on the scale, and left out: {}\n",
            account.left_out.join(", ")
        );
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn numbers_keep_their_sign_and_uncertainty() {
        let number = |value: &str, expanded: Option<&str>| Number {
            value: value.to_owned(),
            expanded_uncertainty: expanded.map(str::to_owned),
            unit: tangmark_workshop::compare::Unit::Gram,
        };
        assert_eq!(bare(None), "-");
        assert_eq!(signed(Some(&number("-5.70", Some("0.34")))), "-5.70 ± 0.34");
        assert_eq!(signed(Some(&number("0.25", Some("0.04")))), "+0.25 ± 0.04");
        assert_eq!(signed(Some(&number("0.00", Some("0.04")))), "0.00 ± 0.04");
        assert_eq!(signed(Some(&number("2", None))), "+2");
    }
}
