//! Words on referrals.

use serde::Serialize;
use tangmark_workshop::record::{Term as _, Verdict};
use tangmark_workshop::refer::{Moved, Opened, Packet, ReceiptTaken, ReferralCase, Replied};
use tangmark_workshop::steps::Step;

use crate::outcome::{Failure, print};
use crate::show::{self, add, say};

/// What came of opening, as JSON.
#[derive(Serialize)]
pub(super) struct OpenedAnswer<'a> {
    #[serde(flatten)]
    case: &'a ReferralCase,
    packet_made: Option<&'a Packet>,
    steps: &'a [Step],
}

impl<'a> OpenedAnswer<'a> {
    pub(super) fn of(opened: &'a Opened) -> Self {
        Self {
            case: &opened.case,
            packet_made: opened.packet.as_ref(),
            steps: &opened.steps,
        }
    }
}

/// What a packet shows and lacks, and what is signed.
pub(super) fn packet(packet: &Packet) {
    if packet.shown.is_empty() {
        say("nothing that the records withhold is shown in it");
    } else {
        say(&format!(
            "note: it shows what the records withhold: {}; whoever gets it can read it",
            packet.shown.join(", ")
        ));
    }
    for (photo, why) in &packet.left_out {
        say(&format!(
            "note: photo {photo} is not in it: {}",
            show::plain(why)
        ));
    }
    say(&format!(
        "a receipt is signed over files.txt, SHA-256 {}",
        packet.list
    ));
}

/// The blade left or came.
pub(super) fn moved(moved: &Moved, way: &str) {
    for remark in &moved.remarks {
        say(&format!("note: {}", show::plain(remark)));
    }
    say(&format!(
        "{} {way} {} on {}; sheet revision {}, stage {}",
        moved.blade,
        someone(&moved.specialist),
        moved.on,
        moved.revision,
        moved.stage.key()
    ));
}

fn someone(name: &str) -> String {
    if name.is_empty() {
        "the specialist".to_owned()
    } else {
        show::quoted(name)
    }
}

/// What was checked of a receipt, and what not.
pub(super) fn receipt(taken: &ReceiptTaken) -> Result<(), Failure> {
    let note = &taken.receipt;
    let mut text = format!(
        "receipt for record {} of {}, signed by {}\n",
        taken.referral,
        taken.blade,
        show::quoted(&note.signer)
    );
    if let Some(fingerprint) = &note.fingerprint {
        add!(text, "  key          {fingerprint}\n");
    }
    for line in &note.checked {
        add!(text, "  checked      {}\n", show::plain(line));
    }
    for line in &note.not_checked {
        add!(text, "  not checked  {}\n", show::plain(line));
    }
    print(&text)?;
    for remark in &taken.remarks {
        say(&format!("note: {}", show::plain(remark)));
    }
    if let Some(number) = taken.in_chain {
        say(&format!("it is in the chain as record {number}"));
    }
    say(&format!("noted as entry {} of the journal", taken.entry));
    say(&format!(
        "next: when the blade is here again, `tangmark refer back {blade}`; when the specialist replies, `tangmark refer reply {blade}`",
        blade = taken.blade
    ));
    Ok(())
}

/// What a reply leads to.
pub(super) fn reply(replied: &Replied) {
    let blade = &replied.blade;
    for rule in &replied.answered {
        say(&format!("the reply answers {}", show::plain(rule)));
    }
    if replied.is_away {
        say(&format!(
            "the blade is still with the specialist; next: `tangmark refer back {blade}`"
        ));
        return;
    }
    say(&match replied.reply.verdict {
        Verdict::Work => {
            format!("next: `tangmark check {blade}` says what still stands, then the work goes on")
        }
        Verdict::SetAside => format!(
            "{blade} is set aside; next: `tangmark sale close {blade}` or `--return`, unworked, with the stop on page 1"
        ),
        Verdict::Refer => format!(
            "{blade} stays as it is until there is another answer; next: `tangmark refer open {blade}`"
        ),
    });
}

/// One line for each referral.
pub(super) fn table(cases: &[ReferralCase]) -> String {
    let head = [
        "blade",
        "record",
        "to",
        "opened",
        "out since",
        "days out",
        "back by",
        "stands",
    ];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    rows.extend(cases.iter().map(|case| {
        vec![
            case.blade.clone(),
            case.sequence.to_string(),
            show::cut(&case.to, 40),
            case.opened_on.clone(),
            case.sent_on.clone().unwrap_or_default(),
            case.days_out
                .map(|days| days.to_string())
                .unwrap_or_default(),
            case.return_by
                .as_ref()
                .map(ToString::to_string)
                .unwrap_or_default(),
            stands(case),
        ]
    }));
    show::table(&rows)
}

/// How far it has come, in a few words.
fn stands(case: &ReferralCase) -> String {
    let late = case
        .days_late
        .map(|days| format!(", {} late", show::counted(days, "day")))
        .unwrap_or_default();
    let what = match (&case.reply, case.is_away(), case.sent_on.is_some()) {
        (Some(reply), away, _) => {
            let verdict = reply
                .verdict
                .map_or("no verdict", |verdict| verdict.gloss());
            let away = match (away, case.sent_on.is_some()) {
                (true, _) => ", blade still out",
                (false, false) => ", blade not sent",
                (false, true) => "",
            };
            format!("replied: {verdict}{away}")
        }
        (None, true, _) if case.receipts.is_empty() => "out, not signed for".to_owned(),
        (None, true, _) => "out, signed for".to_owned(),
        (None, false, true) => "back, no reply".to_owned(),
        (None, false, false) => "to be sent".to_owned(),
    };
    format!("{what}{late}")
}

/// All that is known of one referral.
pub(super) fn case(case: &ReferralCase) -> String {
    let mut text = format!(
        "referral of {}, record {}, {}\n",
        case.blade, case.sequence, case.record
    );
    let mut line = |name: &str, value: &str| {
        add!(text, "  {name:<11}{}\n", show::plain(value));
    };
    line("to", &case.to);
    line("opened", &case.opened_on);
    if let Some(by) = &case.return_by {
        line("back by", by.as_str());
    }
    if let Some(folder) = &case.packet {
        line("packet", folder);
    }
    if let Some(on) = &case.sent_on {
        let carrier = case.carrier.as_ref().map(|carrier| format!(", {carrier}"));
        line("left", &format!("{on}{}", carrier.unwrap_or_default()));
    }
    for receipt in &case.receipts {
        line("signed for", &receipt.signer);
    }
    if let Some(on) = &case.back_on {
        line("back", on);
    }
    if let Some(days) = case.days_out {
        line("days out", &days.to_string());
    }
    if let Some(reply) = &case.reply {
        line(
            "reply",
            &format!("{}, record {}, {}", reply.on, reply.sequence, reply.from),
        );
    }
    if let Some(why) = case.reply.as_ref().and_then(|reply| reply.unsent.as_ref()) {
        line("not sent", why);
    }
    line("stands", &stands(case));
    text
}
