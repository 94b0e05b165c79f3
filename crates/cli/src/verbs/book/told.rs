//! The books as text.

use tangmark_workshop::books::{
    Account, AccountLine, BookLine, BookList, BookNoted, CurrencyAccount, ExportedBooks,
    ImportOutcome, RowFate, StockLine, StockState, YearBook, hours_and_minutes,
};

use crate::show::{self, add};

/// Longest words in a cell, in characters.
const LONGEST: usize = 60;

fn or_dash(text: Option<&str>) -> String {
    text.map_or_else(|| "-".to_owned(), |text| show::cut(text, LONGEST))
}

/// What kind of line it is, as a person says it.
fn kind(line: &BookLine) -> &str {
    match line.kind.as_str() {
        "use" => "used up",
        "stock" => "into stock",
        kind => kind,
    }
}

/// Time, or amount of a consumable.
fn amount(line: &BookLine) -> Option<&str> {
    line.amount.as_ref().map(|amount| amount.text.as_str())
}

/// An entry that was made.
pub(super) fn noted(noted: &BookNoted) -> String {
    let line = &noted.line;
    let mut text = format!("entry {}: {}, ", line.number, kind(line));
    let of = line.blade.as_deref().unwrap_or("the workshop");
    add!(text, "{of}, {}", line.on);
    let money = line.money.as_ref().map(ToString::to_string);
    for part in [amount(line), money.as_deref(), Some(line.what.as_str())]
        .into_iter()
        .flatten()
    {
        add!(text, ", {}", show::plain(part));
    }
    if let Some(old) = noted.replaces {
        add!(text, "; in the place of entry {old}");
    }
    text.push('\n');
    text
}

fn rows(lines: &[BookLine]) -> String {
    let heading = [
        "entry",
        "day",
        "kind",
        "blade",
        "money",
        "amount",
        "what",
        "to or from",
    ];
    let heading = heading.map(str::to_owned).to_vec();
    let rows = lines.iter().map(|line| {
        let money = line.money.as_ref().map(ToString::to_string);
        vec![
            line.number.to_string(),
            line.on.clone(),
            kind(line).to_owned(),
            or_dash(line.blade.as_deref()),
            or_dash(money.as_deref()),
            or_dash(amount(line)),
            show::cut(&line.what, LONGEST),
            or_dash(line.party.as_deref()),
        ]
    });
    show::table(&std::iter::once(heading).chain(rows).collect::<Vec<_>>())
}

/// The list of entries.
pub(super) fn list(list: &BookList) -> String {
    if list.lines.is_empty() {
        return "no entries\n".to_owned();
    }
    let mut text = rows(&list.lines);
    text.push('\n');
    let sums = [
        ("costs:", list.costs.shown()),
        ("income:", list.income.shown()),
        ("used up:", list.used.shown()),
        ("into stock:", list.stocked.shown()),
        ("hours outside passes:", hours_and_minutes(list.minutes)),
    ];
    text.push_str(&show::table(
        &sums.map(|(name, sum)| vec![name.to_owned(), sum]),
    ));
    text
}

/// The stock of consumables.
pub(super) fn stock(lines: &[StockLine]) -> String {
    if lines.is_empty() {
        return String::new();
    }
    let heading = ["consumable", "left by the books", "cost", "standing"];
    let heading = heading.map(str::to_owned).to_vec();
    let rows = lines.iter().map(|line| {
        let standing = match line.state {
            StockState::There => "there",
            StockState::UsedUp => "used up",
            StockState::BelowNothing => "more used than came in: count what is there",
        };
        vec![
            show::cut(&line.item, LONGEST),
            line.left_shown.clone(),
            line.cost.shown(),
            standing.to_owned(),
        ]
    });
    show::table(&std::iter::once(heading).chain(rows).collect::<Vec<_>>())
}

fn trade(line: &AccountLine) -> Vec<String> {
    let word = if line.kind == "bought" { "from" } else { "to" };
    let party = line
        .party
        .as_deref()
        .map(|party| format!("{word} {}", show::cut(party, LONGEST)));
    let price = line.price.as_ref().map(ToString::to_string);
    vec![
        line.on.clone(),
        line.kind.clone(),
        or_dash(price.as_deref()),
        or_dash(party.as_deref()),
    ]
}

/// The account of a blade.
pub(super) fn account(account: &Account) -> String {
    let mut text = format!("{}: {}\n", account.blade, show::plain(&account.title));
    if !account.trades.is_empty() {
        text.push('\n');
        let trades: Vec<_> = account.trades.iter().map(trade).collect();
        text.push_str(&show::table(&trades));
    }
    if !account.lines.is_empty() {
        text.push('\n');
        text.push_str(&rows(&account.lines));
    }
    text.push('\n');
    let mut hours = vec![
        vec![
            "passes:".to_owned(),
            format!(
                "{}, {}",
                account.passes,
                hours_and_minutes(account.pass_minutes)
            ),
        ],
        vec![
            "other hours:".to_owned(),
            hours_and_minutes(account.other_minutes),
        ],
        vec![
            "hours in all:".to_owned(),
            hours_and_minutes(account.minutes),
        ],
    ];
    if let (Some(rate), Some(labour)) = (&account.rate, &account.labour) {
        hours.push(vec![
            "hours at the rate:".to_owned(),
            format!(
                "{labour} at {} an hour ({})",
                rate.hour,
                show::plain(&rate.from)
            ),
        ]);
    }
    text.push_str(&show::table(&hours));
    for one in &account.currencies {
        text.push('\n');
        text.push_str(&currency(one));
    }
    for remark in &account.remarks {
        add!(text, "\nnote: {}\n", show::plain(remark));
    }
    text
}

fn currency(one: &CurrencyAccount) -> String {
    let lines = [
        ("bought for", one.bought),
        ("consumables", one.consumables),
        ("other costs", one.costs),
        ("sold for", one.sold),
        ("other income", one.income),
        ("left (margin)", one.margin),
        ("hours at the rate", one.labour),
        ("left once the hours are paid", one.after_labour),
    ];
    let rows = lines
        .map(|(name, amount)| vec![one.currency.clone(), format!("{name}:"), amount.to_string()]);
    show::table(&rows)
}

/// The books of a year.
pub(super) fn year(book: &YearBook) -> String {
    let mut text = String::new();
    let heading = ["month", "came in", "went out", "passes", "hours"];
    let heading = heading.map(str::to_owned).to_vec();
    let minutes = |one: tangmark_workshop::books::MonthLine| {
        let all = one.pass_minutes.checked_add(one.other_minutes);
        all.map_or_else(|| "-".to_owned(), hours_and_minutes)
    };
    let months = book.months.iter().map(|month| {
        vec![
            month.month.clone(),
            month.came.shown(),
            month.went.shown(),
            month.passes.to_string(),
            minutes(month.clone()),
        ]
    });
    let total = vec![
        book.year.clone(),
        book.came.shown(),
        book.went.shown(),
        book.passes.to_string(),
        hours_and_minutes(book.minutes),
    ];
    let all: Vec<_> = std::iter::once(heading)
        .chain(months)
        .chain([total])
        .collect();
    text.push_str(&show::table(&all));
    add!(text, "\nleft of {}: {}\n", book.year, book.left.shown());
    for remark in &book.remarks {
        add!(text, "note: {}\n", show::plain(remark));
    }
    if book.blades.is_empty() {
        return text;
    }
    let heading = [
        "blade",
        "currency",
        "bought",
        "consumables",
        "costs",
        "sold",
        "income",
        "margin",
        "hours",
    ];
    let mut rows = vec![heading.map(str::to_owned).to_vec()];
    for one in &book.blades {
        let blade = one.blade.as_deref().unwrap_or("(workshop)").to_owned();
        let hours = hours_and_minutes(one.minutes);
        if one.currencies.is_empty() {
            let dash = || "-".to_owned();
            rows.push(vec![
                blade.clone(),
                dash(),
                dash(),
                dash(),
                dash(),
                dash(),
                dash(),
                dash(),
                hours.clone(),
            ]);
        }
        for (index, sums) in one.currencies.iter().enumerate() {
            rows.push(vec![
                blade.clone(),
                sums.currency.clone(),
                sums.bought.to_string(),
                sums.consumables.to_string(),
                sums.costs.to_string(),
                sums.sold.to_string(),
                sums.income.to_string(),
                sums.margin.to_string(),
                // The hours are those of the blade, whatever the currency.
                if index == 0 {
                    hours.clone()
                } else {
                    String::new()
                },
            ]);
        }
    }
    text.push('\n');
    text.push_str(&show::table(&rows));
    text.push_str(
        "\nConsumables go out when they are bought, and count against a blade when they are used up.\n",
    );
    text
}

/// What an export wrote.
pub(super) fn exported(exported: &ExportedBooks) -> String {
    let rows: Vec<Vec<String>> = exported
        .tables
        .iter()
        .map(|table| {
            vec![
                exported.folder.join(&table.file).display().to_string(),
                show::counted(table.rows, "row"),
            ]
        })
        .collect();
    show::table(&rows)
}

/// `1 row is` or `3 rows are`.
pub(super) fn rows_are(count: usize) -> String {
    let is = if count == 1 { "is" } else { "are" };
    format!("{} {is}", show::counted(count, "row"))
}

/// What came of an import, row by row.
pub(super) fn imported(outcome: &ImportOutcome) -> String {
    let separator = match outcome.separator {
        '\t' => "tab".to_owned(),
        other => format!("`{other}`"),
    };
    let mut text = format!(
        "{}: {}, cells divided by {separator}\n\n",
        outcome.file.display(),
        outcome.encoding
    );
    for row in &outcome.rows {
        let blade = row.blade.as_deref().unwrap_or("-");
        let line = row.line;
        match row.fate {
            RowFate::Sound if outcome.dry_run => add!(text, "line {line}: would enter {blade}\n"),
            RowFate::Sound => add!(text, "line {line}: {blade} is sound, not entered\n"),
            RowFate::Entered => add!(text, "line {line}: entered {blade}\n"),
            RowFate::ThereAlready => {
                add!(
                    text,
                    "line {line}: skipped, an earlier import entered {blade}\n"
                );
            }
            RowFate::Bad => add!(text, "line {line}: not sound\n"),
        }
        if outcome.dry_run {
            for one in &row.values {
                add!(
                    text,
                    "  {} = {}\n",
                    show::plain(&one.place),
                    show::cut(&one.value, 80)
                );
            }
        }
        for problem in outcome.problems.iter().filter(|one| one.line == line) {
            let mut at = String::new();
            if let Some(column) = &problem.column {
                add!(at, "column `{}`, ", show::plain(column));
            }
            if let Some(place) = &problem.place {
                add!(at, "{}, ", show::plain(place));
            }
            let at = at.trim_end_matches(", ");
            let at = if at.is_empty() {
                String::new()
            } else {
                format!("{at}: ")
            };
            add!(
                text,
                "  {at}{}\n    hint: {}\n",
                show::plain(&problem.what),
                show::plain(&problem.hint)
            );
        }
    }
    let sound = outcome.rows.len() - outcome.bad - outcome.there;
    let done = if outcome.dry_run {
        format!("{} would be entered", show::counted(sound, "blade"))
    } else {
        format!("{} entered", show::counted(outcome.entered, "blade"))
    };
    add!(
        text,
        "\n{} read, {done}, {} skipped, {} not sound\n",
        show::counted(outcome.rows.len(), "row"),
        outcome.there,
        outcome.bad
    );
    text
}
