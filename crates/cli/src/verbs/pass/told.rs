//! What is said of passes: after one is logged, in the list, of timers.

use tangmark_workshop::pass::{Outlook, PassDone, PassLine, PassList, TimerLine};
use tangmark_workshop::record::{Level, Number, Quantity, Term as _};

use crate::results;
use crate::show::{self, add, say};
use crate::verbs::check::finding_text;

/// Longest remark in the list, in characters.
const NOTE: usize = 60;

/// `12.3 g ± 0.1 g`, the standard uncertainty with it.
fn amount(number: &Number) -> String {
    let text = results::number(number);
    let after = text.split_once(": ").map(|(_, after)| after.to_owned());
    after.unwrap_or(text)
}

fn read(quantity: &Quantity) -> String {
    let texts: Vec<&str> = quantity
        .as_read
        .iter()
        .map(|reading| reading.text.as_str())
        .collect();
    show::plain(&texts.join("; "))
}

/// What came of logging, as data.
pub(super) fn done(done: &PassDone) -> String {
    let mut text = format!(
        "blade {}: {} logged, sheet revision {}\n",
        done.blade,
        named(&done.passes),
        done.revision
    );
    for (pass, time) in done.passes.iter().zip(&done.times) {
        if let Some(time) = time {
            add!(text, "time of {pass}: {}\n", show::plain(time));
        }
    }
    if let Some(moved) = &done.stage {
        add!(text, "stage: {}\n", moved.to.key());
    }
    if let Some(outlook) = &done.outlook {
        add!(text, "{}", self::outlook(outlook));
    }
    text
}

fn named(passes: &[String]) -> String {
    match passes {
        [one] => format!("pass {one}"),
        several => format!("passes {}", several.join(", ")),
    }
}

fn outlook(outlook: &Outlook) -> String {
    let mut text = String::new();
    let lines = [
        ("mass", &outlook.mass),
        ("steel gone", &outlook.steel_gone),
        ("gone with rust, apart", &outlook.rust_gone),
    ];
    for (name, number) in lines {
        if let Some(number) = number {
            add!(text, "{name}: {}\n", amount(number));
        }
    }
    for limit in &outlook.limits {
        add!(
            text,
            "may still go by the {}: {} of {}{}\n",
            limit.by,
            amount(&limit.left),
            amount(&limit.limit),
            if limit.reached {
                "; it counts as reached, since the scale cannot say that it is not"
            } else {
                ""
            }
        );
    }
    if outlook.limits.is_empty() {
        text.push_str("may still go: not known; weigh the passes and set `plan.steel_budget`\n");
    }
    for finding in &outlook.plan {
        let name = match finding.rule.as_str() {
            "abrasives.plan" => "plan",
            "abrasives.forecast" => "forecast",
            "abrasives.gauge" => "stop at",
            _ => finding.level.key(),
        };
        add!(text, "{name}: {}\n", show::cut(&finding.message, 2000));
    }
    for finding in outlook.arisen.iter().filter(|one| one.level != Level::Stop) {
        add!(
            text,
            "\nnew since this pass: {}",
            finding_text(finding, false)
        );
    }
    for (stop, by) in &outlook.stops {
        add!(
            text,
            "\nheld: {}: {}\n  no further pass before the answer: {by}\n",
            stop.rule,
            show::cut(&stop.message, 2000)
        );
    }
    text
}

/// What is talk after a pass: what was taken as read, cautions, the next command.
pub(super) fn talk(done: &PassDone) {
    for one in &done.taken_as_read {
        say(&format!(
            "note: taken as read: {}",
            show::plain(&one.to_string())
        ));
    }
    for caution in &done.cautions {
        say(&format!("caution: {caution}"));
    }
    if let Some(why) = &done.no_outlook {
        say(&format!(
            "note: the pass is logged, but where the blade stands could not be told: {}; try `tangmark check {}`",
            show::plain(why),
            done.blade
        ));
    }
    let held = done
        .outlook
        .as_ref()
        .is_some_and(|outlook| !outlook.stops.is_empty());
    let blade = &done.blade;
    say(&if held {
        format!("next: `tangmark check {blade}`, and the answer it names; no pass is logged before")
    } else {
        format!(
            "next: `tangmark pass add {blade} …`, or when the work is done the last examination and `tangmark seal {blade} --for after_work …`"
        )
    });
}

/// A pass in a few words.
pub(super) fn summary(line: &PassLine) -> String {
    let zones: Vec<&str> = line.zones.iter().map(|zone| zone.key()).collect();
    let stone = line
        .stone
        .as_ref()
        .map(|stone| format!(" with {}", show::plain(stone)))
        .unwrap_or_default();
    let time = line
        .time
        .as_ref()
        .map(|time| format!(", {}", read(time)))
        .unwrap_or_default();
    format!(
        "{} on {} ({}){stone}{time}",
        line.operation.key(),
        line.on,
        zones.join(", ")
    )
}

/// The log as a table with running sums.
pub(super) fn list(passes: &PassList) -> String {
    let heading = [
        "pass",
        "day",
        "done",
        "zones",
        "stone",
        "time",
        "before",
        "after",
        "went",
        "time so far",
        "steel so far",
        "rust so far",
        "remarks",
    ]
    .map(str::to_owned)
    .to_vec();
    let mut rows = vec![heading];
    let bare = |number: &Option<Number>| number.as_ref().map_or_else(|| "-".to_owned(), short);
    let reading =
        |quantity: &Option<Quantity>| quantity.as_ref().map_or_else(|| "-".to_owned(), read);
    for line in &passes.passes {
        let zones: Vec<&str> = line.zones.iter().map(|zone| zone.key()).collect();
        let mut remarks = Vec::new();
        if let Some(record) = line.record {
            remarks.push(format!("in record {record}"));
        }
        for rule in &line.under_hold {
            remarks.push(format!("under hold: {rule}"));
        }
        if let Some(note) = &line.note {
            remarks.push(show::cut(note, NOTE));
        }
        rows.push(vec![
            line.id.clone(),
            line.on.clone(),
            line.operation.key().to_owned(),
            zones.join(","),
            line.stone
                .as_ref()
                .map_or_else(|| "-".to_owned(), |stone| show::cut(stone, 40)),
            reading(&line.time),
            reading(&line.before),
            reading(&line.after),
            bare(&line.went),
            bare(&line.time_so_far),
            bare(&line.steel_so_far),
            bare(&line.rust_so_far),
            remarks.join("; "),
        ]);
    }
    format!(
        "blade {}, sheet revision {}\n{}± is the standard uncertainty (k = 1)\n",
        passes.blade,
        passes.revision,
        show::table(&rows)
    )
}

/// `3.50±0.04 g`, for a column.
fn short(number: &Number) -> String {
    let doubt = number
        .standard_uncertainty
        .map(|doubt| format!("±{doubt}"))
        .unwrap_or_default();
    format!("{}{doubt} {}", number.value, number.unit)
}

/// The timers as a table.
pub(super) fn timers(lines: &[TimerLine]) -> String {
    let heading = ["blade", "stands", "so far", "since", "pass"]
        .map(str::to_owned)
        .to_vec();
    let rows = lines.iter().map(|line| {
        let said: Vec<&str> = ["operation", "stone"]
            .iter()
            .filter_map(|name| line.pass.get(*name)?.as_str())
            .collect();
        vec![
            line.blade.clone(),
            if line.running { "runs" } else { "paused" }.to_owned(),
            line.so_far
                .clone()
                .or_else(|| line.fault.clone())
                .unwrap_or_default(),
            line.since.to_string(),
            show::plain(&said.join(" with ")),
        ]
    });
    show::table(&std::iter::once(heading).chain(rows).collect::<Vec<_>>())
}
