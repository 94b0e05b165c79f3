//! A comparison in one line.

use tangmark_core::units::Unit;
use tangmark_measure::Against;

use super::{
    Comparison,
    account::{Account, Went},
    flaws::Fate,
    quantities::{Count, stated, told},
    state,
};
use crate::{
    pages::words,
    speech::{Pair, pair},
};

/// Says in one line how much steel went, how many measures changed, and what became of the flaws.
pub(crate) fn summary(comparison: &Comparison<'_>) -> Pair {
    let parts = parts(comparison);
    let (en, ja): (Vec<&str>, Vec<&str>) = parts
        .iter()
        .map(|part| (part.en.as_ref(), part.ja.as_ref()))
        .unzip();
    pair(
        format!("{}.", words::capital(&en.join("; "))),
        format!("{}。", ja.join("。")),
    )
}

/// The parts of the line: mass, measures, flaws.
fn parts(comparison: &Comparison<'_>) -> [Pair; 3] {
    let rows: Vec<_> = comparison.all_rows().collect();
    let measures = Count::of(rows.iter().copied()).said();
    [mass(comparison), measures, flaws(comparison)]
}

/// As [`summary`], each part a sentence of its own.
pub(crate) fn sentences(comparison: &Comparison<'_>) -> [Pair; 3] {
    parts(comparison).map(|part| {
        pair(
            format!("{}.", words::capital(&part.en)),
            format!("{}。", part.ja),
        )
    })
}

/// What went, without sign: `4.20 ± 0.33 g`.
fn grams(account: &Account<'_>, gone: tangmark_measure::Estimate) -> String {
    stated(gone, account.digits(), Unit::Gram)
        .trim_start_matches(['+', '−'])
        .to_owned()
}

fn mass(comparison: &Comparison<'_>) -> Pair {
    let since = state::in_text(comparison.before);
    let Some(account) = &comparison.account else {
        return pair(
            "the blade was not weighed both times",
            "質量は二度とも計測していない",
        );
    };
    let (gone, what) = match (account.steel(), account.of_kind(Went::Mixed)) {
        (Some(steel), None) => (steel, pair("steel", "鋼")),
        (_, Some(_)) => (account.all(), pair("steel and rust", "鋼と錆")),
        (None, None) => (account.all(), pair("mass", "質量")),
    };
    let amount = grams(account, gone);
    match told(gone) {
        Against::Above => pair(
            format!("{amount} of {} gone since {}", what.en, since.en),
            format!("{}以降に{}の減少 {amount}", since.ja, what.ja),
        ),
        Against::Below => pair(
            format!(
                "the blade is {amount} heavier than {} has it, which no pass can do",
                since.en
            ),
            format!("{}より {amount} 重い。作業では生じ得ない", since.ja),
        ),
        Against::Undecided => pair(
            format!(
                "whether {} is gone since {} the scale cannot tell ({})",
                what.en,
                since.en,
                stated(gone, account.digits(), Unit::Gram).trim_start_matches('+')
            ),
            format!(
                "{}以降の{}の減少は秤では判別できない（{}）",
                since.ja,
                what.ja,
                stated(gone, account.digits(), Unit::Gram).trim_start_matches('+')
            ),
        ),
    }
}

fn flaws(comparison: &Comparison<'_>) -> Pair {
    let counts: Vec<(Fate, usize)> = Fate::ALL
        .into_iter()
        .map(|fate| {
            let of = comparison.flaws.iter().filter(|flaw| flaw.fate == fate);
            (fate, of.count())
        })
        .filter(|(_, count)| *count > 0)
        .collect();
    let Some((_, first)) = counts.first() else {
        return pair("no flaw on either side", "どちらにも疵の記載はない");
    };
    let first = *first;
    let mut en = Vec::new();
    let mut ja = Vec::new();
    for (index, (fate, count)) in counts.into_iter().enumerate() {
        let said = fate.said();
        let noun = match index {
            0 if first == 1 => " flaw",
            0 => " flaws",
            _ => "",
        };
        en.push(format!("{count}{noun} {}", said.en));
        ja.push(format!("{} {count}", said.ja));
    }
    pair(en.join(", "), format!("疵：{}", ja.join("、")))
}
