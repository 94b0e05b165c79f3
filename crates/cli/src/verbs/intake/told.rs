//! What is told of an arrival.

use tangmark_workshop::Edited;
use tangmark_workshop::intake::{Intake, IntakeShown, Prompt, Spent};

use crate::outcome::{Outcome, code, print, print_json};
use crate::show::{self, add, say};

/// Says what to ask, each with what it rests on.
pub(super) fn tell_prompts(prompts: &[&Prompt], json: bool) -> Outcome {
    if json {
        print_json(&prompts)?;
        return Ok(code::GOOD);
    }
    let mut text = String::new();
    for prompt in prompts {
        add!(
            text,
            "{}: {}\n  source: {}\n",
            prompt.topic,
            prompt.text,
            prompt.source
        );
    }
    print(&text)?;
    Ok(code::GOOD)
}

/// Says what a person should read.
pub(super) fn tell_remarks(remarks: &[String]) {
    for remark in remarks {
        say(&format!("note: {}", show::plain(remark)));
    }
}

/// Says what was entered, what to ask and what comes next.
pub(super) fn tell_intake(done: &Intake) -> Outcome {
    tell_remarks(&done.remarks);
    print(&format!(
        "blade {}: entered as {}, sheet revision {}, {} kept\n",
        done.blade,
        done.came_as.word(),
        done.revision,
        show::counted(done.photos, "photo")
    ))?;
    say("to ask, in general words; what is allowed is for the authorities to say:");
    for prompt in &done.prompts {
        say(&format!("  {}: {}", prompt.topic, prompt.text));
    }
    say(&format!(
        "next: print its label with `tangmark label {} --out FILE.pdf`, then examine it: `tangmark examine new {}` writes its sheet to go on with",
        done.blade, done.blade
    ));
    Ok(code::GOOD)
}

/// Says what was noted, and which points are open.
pub(super) fn tell_asked(edited: &Edited, shown: &IntakeShown) -> Outcome {
    print(&format!(
        "blade {}: noted, sheet revision {}\n",
        edited.blade, edited.revision
    ))?;
    tell_remarks(&edited.remarks);
    let open: Vec<String> = shown
        .points
        .iter()
        .filter(|point| point.answers.is_empty())
        .map(|point| format!("{} \"{}\"", point.number, show::plain(&point.point)))
        .collect();
    if open.is_empty() {
        say(&format!(
            "no point to ask at is open; go on with `tangmark pass add {}`",
            edited.blade
        ));
    } else {
        say(&format!("still open: {}", open.join("; ")));
    }
    Ok(code::GOOD)
}

fn spent(spent: &Spent) -> String {
    let over = if spent.over {
        ", above what was agreed: ask the owner before going on"
    } else {
        ""
    };
    let hours = if spent.without_hours {
        "; hours are not in it, since they have no price in this currency"
    } else {
        ""
    };
    format!("{} of {}{over}{hours}", spent.cost, spent.ceiling)
}

/// How a blade came and what is agreed, in lines.
pub(super) fn shown(shown: &IntakeShown) -> String {
    let mut rows = vec![
        vec!["blade:".to_owned(), shown.blade.clone()],
        vec!["title:".to_owned(), show::plain(&shown.title)],
    ];
    let mut row = |name: &str, value: Option<String>| {
        if let Some(value) = value.filter(|value| !value.is_empty()) {
            rows.push(vec![name.to_owned(), show::plain(&value)]);
        }
    };
    match &shown.arrival {
        None => row(
            "came:",
            Some("not told; it was entered as a sheet".to_owned()),
        ),
        Some(entry) => {
            let note = &entry.matter;
            row(
                "came:",
                Some(format!(
                    "as {} on {}, entered by {}",
                    note.came_as.word(),
                    entry.on,
                    entry.by
                )),
            );
            row("carrier:", note.carrier.clone());
            row("parcel:", Some(note.came.join("; ")));
            row("hidden:", Some(note.hid.join("; ")));
            row("countries:", Some(note.countries.join(", ")));
            row(
                "shown:",
                Some(format!(
                    "{} on papers and borders",
                    show::counted(note.prompts_shown.len(), "prompt")
                )),
            );
        }
    }
    if let Some(agreement) = &shown.agreement {
        row("owner:", agreement.owner.name.clone());
        row("work:", Some(agreement.work.clone()));
        row("agreed on:", Some(agreement.on.to_string()));
        row(
            "back by:",
            agreement.return_by.as_ref().map(ToString::to_string),
        );
        row(
            "steel:",
            agreement
                .steel_limit
                .as_ref()
                .map(|limit| format!("{} g at most", limit.0.value)),
        );
        row(
            "etch:",
            Some(
                if agreement.etch_allowed {
                    "allowed"
                } else {
                    "not allowed"
                }
                .to_owned(),
            ),
        );
        row(
            "price:",
            agreement
                .price_ceiling
                .as_ref()
                .map(|price| format!("{price} at most")),
        );
        row("cost so far:", shown.spent.as_ref().map(spent));
        row(
            "insured:",
            agreement.insured_value.as_ref().map(ToString::to_string),
        );
        row("consent:", agreement.consent.clone());
    }
    let mut text = show::table(&rows);
    for point in &shown.points {
        add!(
            text,
            "\nstop and ask {}: {}\n",
            point.number,
            show::plain(&point.point)
        );
        if point.answers.is_empty() {
            add!(text, "  open: nothing says what came of it\n");
        }
        for (on, answer) in &point.answers {
            add!(text, "  {on}: {}\n", show::plain(answer));
        }
    }
    text
}
