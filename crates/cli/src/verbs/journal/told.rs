//! Entries of the journal in one line each, by kind.

use serde_json::Value;

/// Collects the parts of a line.
#[derive(Default)]
struct Line(Vec<String>);

impl Line {
    fn say(&mut self, text: impl Into<String>) {
        self.0.push(text.into());
    }

    /// Adds a text of the entry, with a word before it.
    fn text(&mut self, before: &str, value: Option<&str>) {
        if let Some(text) = value.filter(|text| !text.is_empty()) {
            self.0.push(format!("{before}{text}"));
        }
    }
}

/// Says what an entry holds; a kind that is not known is told by its names and plain values.
pub(super) fn summary(kind: &str, content: &Value) -> String {
    let mut line = Line::default();
    if tell(kind, content, &mut line).is_none() || line.0.is_empty() {
        return plain(content);
    }
    line.0.join(", ")
}

/// `None` where the entry has not what its kind should have.
fn tell(kind: &str, content: &Value, line: &mut Line) -> Option<()> {
    let text = |name: &str| content.get(name)?.as_str();
    let inner = |name: &str, part: &str| content.get(name)?.get(part)?.as_str();
    let list = |name: &str| -> Vec<&str> {
        let items = content.get(name).and_then(Value::as_array);
        items
            .into_iter()
            .flatten()
            .filter_map(Value::as_str)
            .collect()
    };
    match kind {
        "stage" => {
            line.say(text("stage")?);
            if content.get("ended").and_then(Value::as_bool) == Some(true) {
                line.say("the work ended");
            }
            line.text("", text("note"));
        }
        "under_hold" => line.say(format!(
            "pass {} came while {} stood unanswered: {}",
            text("pass")?,
            text("rule")?,
            text("message")?
        )),
        "stop_gone" => line.say(format!(
            "{} stood on revision {} and is gone from revision {}, unanswered: {}",
            text("rule")?,
            content.get("stood")?,
            content.get("gone")?,
            text("message")?
        )),
        "cost" | "income" => {
            line.say(money(content.get("amount")?)?);
            line.text("", text("for"));
            line.text("to ", text("paid_to"));
            line.text("from ", text("from"));
        }
        "use" | "stock" => {
            line.say(format!("{} of {}", inner("amount", "text")?, text("item")?));
            let cost = content.get("cost").and_then(money);
            line.text("", cost.as_deref());
            line.text("from ", text("from"));
            line.text("", text("note"));
        }
        "hours" => {
            line.say(inner("time", "text")?);
            line.text("", text("for"));
        }
        "imported" => line.say(format!(
            "line {} of {}",
            content.get("line")?,
            text("file")?
        )),
        "intake" => {
            line.say(format!("came as {}", text("as")?));
            line.text("by ", text("carrier"));
            line.text("came: ", Some(&list("came").join("; ")));
            line.text("hidden: ", Some(&list("hid").join("; ")));
        }
        "timer" => {
            let stretches = content.get("stretches")?.as_array()?;
            let first = stretches.first()?.get("from")?.as_str()?;
            line.say(format!("from {first}"));
            if stretches.len() > 1 {
                line.say(format!("{} stretches", stretches.len()));
            }
            match (
                text("logged"),
                stretches.last()?.get("to").and_then(Value::as_str),
            ) {
                (Some(pass), _) => line.say(format!("became pass {pass}")),
                (None, Some(to)) => line.say(format!("stands since {to}")),
                (None, None) => line.say("runs"),
            }
        }
        "refused_pass" => {
            let passes = content.get("passes")?.as_array()?;
            let done: Vec<&str> = passes
                .iter()
                .filter_map(|pass| {
                    pass.get("operation")
                        .or_else(|| pass.get("stone"))?
                        .as_str()
                })
                .collect();
            line.say(format!("refused: {}", done.join("; ")));
            let stops = content.get("stops").and_then(Value::as_array);
            let stops: Vec<&str> = stops
                .into_iter()
                .flatten()
                .filter_map(|stop| stop.get("rule")?.as_str())
                .collect();
            line.text("while ", Some(&stops.join("; ")));
            line.text("logged later as ", Some(&list("logged").join("; ")));
        }
        "stone_wear" => {
            line.say(inner("mass", "value").map(|mass| format!("{mass} g"))?);
            line.text("", text("note"));
        }
        "fitting" => {
            line.say(format!(
                "{} ({})",
                text("title")?,
                inner("fitting", "part")?
            ));
            line.text("", inner("fitting", "condition"));
        }
        "fitting_move" => {
            line.say(format!("to {}", place(content.get("to")?)?));
            line.text("from ", content.get("from").and_then(place).as_deref());
            line.text("", text("note"));
        }
        "sale" => {
            line.say(format!("{} to {}", text("way")?, text("to")?));
            line.text("", content.get("price").and_then(money).as_deref());
            line.text("", text("terms"));
            let closed = content.get("closed").is_some();
            line.say(if closed { "closed" } else { "begun" });
        }
        "correction" => {
            let withdraws = content.get("withdraws").and_then(Value::as_bool) == Some(true);
            let word = if withdraws { "withdraws" } else { "corrects" };
            line.say(format!(
                "record {} {word} record {}",
                content.get("sequence")?,
                content.get("of_sequence")?
            ));
            line.text("", text("statement"));
        }
        "referral" => {
            line.say(format!(
                "record {}, to {}",
                content.get("sequence")?,
                text("to")?
            ));
            line.text("back by ", text("return_by"));
        }
        "referral_packet" => line.say(format!("packet in {}", text("folder")?)),
        "referral_sent" => {
            line.say("sent");
            line.text("by ", text("carrier"));
        }
        "referral_receipt" => {
            line.say(format!(
                "signed for by {}, by {}",
                text("signer")?,
                text("way")?
            ));
        }
        "referral_back" => {
            line.say("came back");
            line.text("", text("state"));
        }
        "referral_reply" => {
            line.say("reply");
            line.text("", text("verdict"));
            line.text("from ", text("from"));
        }
        _ => return None,
    }
    Some(())
}

fn money(value: &Value) -> Option<String> {
    let part = |name: &str| value.get(name)?.as_str();
    Some(format!("{} {}", part("amount")?, part("currency")?))
}

/// Where a fitting is.
fn place(value: &Value) -> Option<String> {
    let part = |name: &str| value.get(name)?.as_str();
    Some(match part("place")? {
        "blade" => format!("blade {}", part("blade")?),
        "out" => format!("{} (out of the workshop)", part("with")?),
        other => other.to_owned(),
    })
}

/// Names and plain values.
fn plain(content: &Value) -> String {
    let Value::Object(members) = content else {
        return content.to_string();
    };
    let told = members.iter().map(|(name, value)| match value {
        Value::String(text) => format!("{name} {text}"),
        Value::Array(items) => format!("{name} ({})", items.len()),
        Value::Object(inner) => {
            let words = inner.values().filter_map(Value::as_str);
            format!("{name} {}", words.collect::<Vec<_>>().join(" "))
        }
        other => format!("{name} {other}"),
    });
    told.collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn each_kind_is_told_in_its_own_words() {
        let money = json!({ "amount": "18.40", "currency": "EUR" });
        let amount = json!({ "text": "5 ml", "value": "5000", "unit": "mm3" });
        for (kind, content, told) in [
            (
                "stage",
                json!({ "stage": "sold", "ended": true }),
                "sold, the work ended",
            ),
            (
                "cost",
                json!({ "amount": money, "for": "parcel", "paid_to": "carrier" }),
                "18.40 EUR, parcel, to carrier",
            ),
            (
                "use",
                json!({ "item": "oil", "amount": amount, "cost": money }),
                "5 ml of oil, 18.40 EUR",
            ),
            (
                "hours",
                json!({ "time": { "text": "2 h" }, "for": "packing" }),
                "2 h, packing",
            ),
            (
                "imported",
                json!({ "line": 3, "file": "list.csv" }),
                "line 3 of list.csv",
            ),
            (
                "timer",
                json!({ "stretches": [{ "from": "2026-11-25T09:00:00Z" }] }),
                "from 2026-11-25T09:00:00Z, runs",
            ),
            (
                "refused_pass",
                json!({ "passes": [{ "operation": "polish" }], "stops": [{ "rule": "triage/fatal.hagire" }] }),
                "refused: polish, while triage/fatal.hagire",
            ),
            (
                "fitting_move",
                json!({ "to": { "place": "blade", "blade": "reed" }, "from": { "place": "storage" } }),
                "to blade reed, from storage",
            ),
            (
                "sale",
                json!({ "way": "sale", "to": "A. Fenwick", "price": money }),
                "sale to A. Fenwick, 18.40 EUR, begun",
            ),
            (
                "correction",
                json!({ "sequence": 4, "of_sequence": 2, "withdraws": false, "statement": "Mass misread." }),
                "record 4 corrects record 2, Mass misread.",
            ),
        ] {
            assert_eq!(summary(kind, &content), told, "{kind}");
        }
        // What is not known, or not as it should be, is told all the same.
        assert_eq!(
            summary("new_kind", &json!({ "a": "b", "c": [1, 2] })),
            "a b, c (2)"
        );
        assert_eq!(summary("cost", &json!({ "amount": "torn" })), "amount torn");
    }
}
