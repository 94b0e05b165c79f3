//! What is said of fittings.

use serde_json::json;
use tangmark_workshop::fitting::{
    Answer, DoneFitting, FitLine, Fitted, FittingLine, LimitName, Limits, Place, Screened,
    ShownFitting, Which,
};
use tangmark_workshop::record::{Quantity, Term as _};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::results;
use crate::show::{self, add, say};

/// Where a fitting is, without marks around keys.
fn place(place: &Place) -> String {
    show::plain(&place.words().replace('`', ""))
}

/// Tells what a change wrote, and what comes next.
pub(super) fn done(done: &DoneFitting, what: &str, json: bool) -> Outcome {
    if json {
        print_json(done)?;
        return Ok(code::GOOD);
    }
    print(&format!("{}\n", done.fitting))?;
    say(&format!(
        "{what}: {} is {}",
        done.fitting,
        place(&done.place)
    ));
    for sheet in &done.sheets {
        say(&format!(
            "the sheet of {} is revision {} now",
            sheet.blade, sheet.revision
        ));
    }
    for remark in &done.remarks {
        say(&format!("note: {}", show::plain(remark)));
    }
    let id = &done.fitting;
    say(&match (done.judged, done.measured, done.place.blade()) {
        (true, true, Some(blade)) => format!("next: `tangmark fitting fit {id} {blade}`"),
        (true, true, None) => format!("next: `tangmark fitting fit {id}`"),
        (true, false, _) => {
            format!("next: `tangmark fitting measure {id} --opening \"… mm x … mm\"`")
        }
        (false, ..) => format!("next: `tangmark fitting screen {id}`"),
    });
    Ok(code::GOOD)
}

pub(super) fn list(lines: &[FittingLine], which: Which<'_>) -> Result<(), Failure> {
    if lines.is_empty() {
        say(match which {
            Which::Blade(_) => "no fitting is with this blade",
            Which::Loose => "no fitting is in storage",
            Which::Here => {
                "no fittings here; enter one with `tangmark fitting add ID --part … --title …`, or list every one with --all"
            }
            Which::All => {
                "no fittings yet; enter one with `tangmark fitting add ID --part … --title …`"
            }
        });
        return Ok(());
    }
    let heading = [
        "fitting",
        "part",
        "where",
        "since",
        "materials",
        "photos",
        "title",
    ]
    .map(str::to_owned)
    .to_vec();
    let rows = lines.iter().map(|line| {
        let mut at = place(&line.place);
        if line.gone_with_blade {
            at.push_str(", gone with it");
        }
        vec![
            line.id.clone(),
            line.part.replace('_', " "),
            show::cut(&at, 60),
            line.since
                .clone()
                .unwrap_or_else(|| "in the sheet only".to_owned()),
            if line.materials.is_empty() {
                "-".to_owned()
            } else {
                line.materials.join(", ").replace('_', " ")
            },
            line.photos.to_string(),
            show::cut(&line.title, 60),
        ]
    });
    print(&show::table(
        &std::iter::once(heading).chain(rows).collect::<Vec<_>>(),
    ))?;
    if let Some(line) = lines.iter().find(|line| !line.in_inventory)
        && let Some(blade) = line.place.blade()
    {
        say(&format!(
            "{} stands in the sheet only; take it over with `tangmark fitting adopt {blade} {}`",
            line.id, line.id
        ));
    }
    Ok(())
}

/// A quantity as it was read, with U.
fn length(quantity: &Quantity) -> String {
    let readings: Vec<&str> = quantity
        .as_read
        .iter()
        .map(|one| one.text.as_str())
        .collect();
    format!(
        "{} {} ± {} {} (k = 1), read {}",
        quantity.value,
        quantity.unit,
        quantity.standard_uncertainty,
        quantity.unit,
        show::plain(&readings.join("; "))
    )
}

pub(super) fn show_one(shown: &ShownFitting, json: bool) -> Outcome {
    if json {
        print_json(shown)?;
        return Ok(code::GOOD);
    }
    let (line, fitting) = (&shown.line, &shown.fitting);
    let mut rows = vec![
        ["fitting:", &line.id].map(str::to_owned).to_vec(),
        vec!["part:".to_owned(), fitting.part.shown()],
        vec!["title:".to_owned(), show::plain(&line.title)],
    ];
    let mut row = |name: &str, text: String| rows.push(vec![format!("{name}:"), text]);
    if fitting.description != line.title {
        row("description", show::plain(&fitting.description));
    }
    let mut at = place(&line.place);
    if line.gone_with_blade {
        at.push_str(", gone with it");
    }
    row("where", at);
    if line.place.blade().is_some() {
        row("matched", fitting.matched.shown());
        if let Some(origin) = fitting.origin {
            row("origin", origin.shown());
        }
    }
    if !fitting.materials.is_empty() {
        let names: Vec<String> = fitting.materials.iter().map(|one| one.shown()).collect();
        row("materials", names.join(", "));
    }
    if let Some(evidence) = &fitting.material_evidence {
        row("told by", show::plain(evidence));
    }
    if let Some(condition) = &fitting.condition {
        row("condition", show::plain(condition));
    }
    row(
        "protected",
        match (&fitting.protected, &fitting.protected_as_of) {
            (Some(screen), Some(list)) => format!("{}, list of {list}", screen.gloss()),
            (Some(screen), None) => screen.gloss().to_owned(),
            (None, _) => "not looked up".to_owned(),
        },
    );
    if let Some(fit) = &fitting.fit {
        for (name, quantity) in [
            ("peg hole", &fit.peg_hole_at),
            ("opening, width", &fit.opening_width),
            ("opening, thickness", &fit.opening_thickness),
        ] {
            if let Some(quantity) = quantity {
                row(name, length(quantity));
            }
        }
        if let Some(on) = &fit.tried_on {
            row("tried on", on.to_string());
        }
        if let Some(note) = &fit.note {
            row("fit", show::plain(note));
        }
    }
    if let Some(stack) = &shown.stack {
        row("stack", length(stack));
    }
    for photo in &shown.photo_files {
        let digest = photo.original.as_ref().map(|it| it.digest.to_string());
        row(
            "photo",
            format!("{} {}", photo.id, digest.unwrap_or_default()),
        );
    }
    let mut text = show::table(&rows);
    text.push('\n');
    for one in &shown.moves {
        let from = one.from.as_ref().map_or_else(
            || "entered".to_owned(),
            |from| format!("was {}", place(from)),
        );
        add!(
            text,
            "{}  {from}, is {}, by {} (entry {})\n",
            one.on,
            place(&one.to),
            show::plain(&one.by),
            one.number
        );
        if let Some(note) = &one.note {
            add!(text, "            {}\n", show::plain(note));
        }
    }
    print(&text)?;
    if shown.missing_in_sheet
        && let Some(blade) = line.place.blade()
    {
        say(&format!(
            "note: the sheet of {blade} does not have it; put it back with `tangmark fitting move {} --to {blade}`, or note where it is",
            line.id
        ));
    }
    Ok(code::GOOD)
}

const fn answer(answer: Answer) -> &'static str {
    match answer {
        Answer::Fits => "fits",
        Answer::CannotTell => "cannot be told",
        Answer::DoesNotFit => "does not fit",
    }
}

fn blade(text: &mut String, line: &FitLine) {
    add!(
        text,
        "{}: {} ({})\n",
        line.blade,
        answer(line.answer),
        show::cut(&line.title, 60)
    );
    for check in &line.checks {
        add!(
            text,
            "  {}: {} mm against {} mm\n",
            check.what,
            check.fitting,
            check.blade
        );
        add!(text, "    {}\n", check.says);
    }
    for missing in &line.missing {
        add!(text, "  to measure: {missing}\n");
    }
    for note in &line.notes {
        add!(text, "  note: {note}\n");
    }
}

pub(super) fn fits(fitted: &Fitted, all: bool, json: bool) -> Outcome {
    if json {
        print_json(fitted)?;
        return Ok(code::GOOD);
    }
    let shown = fitted
        .blades
        .iter()
        .filter(|line| all || line.answer != Answer::DoesNotFit);
    let mut text = String::new();
    for line in shown {
        blade(&mut text, line);
    }
    print(&text)?;
    let count = |wanted: Answer| {
        fitted
            .blades
            .iter()
            .filter(|line| line.answer == wanted)
            .count()
    };
    let [good, open, bad] = [Answer::Fits, Answer::CannotTell, Answer::DoesNotFit].map(count);
    say(&format!(
        "{}: fits {good}, cannot be told {open}, does not fit {bad}{}; ± is U, k = 2",
        show::counted(fitted.blades.len(), "blade"),
        if bad > 0 && !all {
            " (listed with --all)"
        } else {
            ""
        }
    ));
    let limits: Vec<String> = fitted
        .limits
        .iter()
        .map(|limit| format!("{} {} mm", limit.limits, limit.mm))
        .collect();
    say(&format!(
        "{}; this tool's own rule (common practice, no source), set with `tangmark fitting limits`; try it on by hand all the same",
        limits.join(", ")
    ));
    Ok(code::GOOD)
}

pub(super) fn limits(limits: Limits, set: bool, json: bool) -> Outcome {
    let lines: Vec<_> = LimitName::ALL.map(|name| limits.line(name)).into();
    if json {
        print_json(&json!({ "limits": lines }))?;
        return Ok(code::GOOD);
    }
    let rows: Vec<Vec<String>> = lines
        .iter()
        .map(|line| {
            vec![
                line.name.to_owned(),
                format!("{} mm", line.mm),
                line.limits.to_owned(),
            ]
        })
        .collect();
    print(&show::table(&rows))?;
    say(if set {
        "set; the earlier ones stay in the journal: `tangmark journal list --kind fitting_limits --whole`"
    } else {
        "this tool's own rules: common practice, no source; set one with `tangmark fitting limits --guard MM`"
    });
    Ok(code::GOOD)
}

pub(super) fn screened(screened: &Screened, json: bool) -> Outcome {
    if json {
        print_json(screened)?;
        return Ok(code::GOOD);
    }
    let mut text = String::new();
    for finding in &screened.findings {
        add!(
            text,
            "{}: {}\n  {}/{}; source: {}\n",
            finding.level.key(),
            show::plain(&finding.message),
            finding.plugin,
            show::plain(&finding.rule),
            show::plain(&finding.source)
        );
    }
    for table in &screened.tables {
        add!(text, "\n{}\n", show::plain(&table.title));
        text.push_str(&results::table(table));
    }
    if screened.findings.is_empty() && screened.tables.is_empty() {
        add!(text, "nothing in the table speaks of these materials\n");
    }
    print(&text)?;
    say(
        "this is no clearance: lists change; ask your authority before the fitting changes hands or crosses a border",
    );
    say(&format!(
        "next: look at the official list, then `tangmark fitting screen {} --note ask_authority --list DATE`",
        screened.fitting
    ));
    Ok(code::GOOD)
}
