//! Drawing a report again from the record in it: do the pages show what the record says?
//!
//! A signature holds pages and record together and says nothing of whether they agree: the workshop signed both. The
//! same renderer gives the same bytes for the same record, so drawing it again settles that. Where it cannot be drawn
//! again, the words on the pages are compared with the main facts of the record.

mod again;
mod differences;
mod facts;

use std::fmt;

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_core::json::{self, Limits};
use tangmark_core::record::Record;
use tangmark_core::record::withhold::RULES;
use tangmark_report::{Kind, Speech, renderer, title_of};
use tangmark_trust::pdf::{self, PdfExamination, PdfJudgement, PdfView};
use tangmark_trust::verdict::Weight;
use tangmark_trust::{proof, withhold};

/// All kinds of reports with the words for them.
const KINDS: [(Kind, &str); 9] = [
    (Kind::Condition, "condition"),
    (Kind::Comparison, "comparison"),
    (Kind::Buyer, "buyer"),
    (Kind::Referral, "referral"),
    (Kind::Identification, "identification"),
    (Kind::Labels, "labels"),
    (Kind::Care, "care"),
    (Kind::Customs, "customs"),
    (Kind::Receipt, "receipt"),
];
/// All languages with the words for them.
const SPEECHES: [(Speech, &str); 3] = [
    (Speech::English, "en"),
    (Speech::Japanese, "ja"),
    (Speech::Both, "both"),
];

/// Whether the pages of an unaltered report are those of the record in it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum Pages {
    /// Drawn again, they are the same, byte for byte.
    SamePages {
        /// What the report is for, in the words of `tangmark report --kind`.
        kind: &'static str,
        /// Its language, in the words of `tangmark report --language`.
        language: &'static str,
    },
    /// By the renderer that the report names, the record has other pages.
    OtherPages {
        /// Where they differ, the first page first.
        differences: Vec<String>,
    },
    /// They cannot be drawn again here, or not with all that they show.
    NotCompared {
        /// Why not.
        reason: String,
        /// Pictures on them that no record names: whatever they show, no digest speaks for it.
        pictures_not_named: usize,
        /// What is open: main facts of the record that were not found among the words of the pages, or where these differ.
        differences: Vec<String>,
    },
}

impl Pages {
    /// How much it weighs: other pages are altered, and what is open is to be confirmed.
    pub fn weight(&self) -> Weight {
        match self {
            Self::OtherPages { .. } => Weight::Rejected,
            Self::NotCompared { differences, .. } if !differences.is_empty() => {
                Weight::ToBeConfirmed
            }
            Self::SamePages { .. } | Self::NotCompared { .. } => Weight::Accepted,
        }
    }

    /// The exit code with the one that follows from the verdict.
    pub fn exit_code(&self, verdict: u8) -> u8 {
        match self.weight() {
            Weight::Rejected => 1,
            Weight::ToBeConfirmed if verdict == 0 => 2,
            _ => verdict,
        }
    }

    /// The word of the state.
    pub const fn word(&self) -> &'static str {
        match self {
            Self::SamePages { .. } => "same_pages",
            Self::OtherPages { .. } => "other_pages",
            Self::NotCompared { .. } => "not_compared",
        }
    }

    /// What the reader does next.
    pub fn next_step(&self) -> Option<&'static str> {
        match self {
            Self::OtherPages { .. } => Some(
                "do not rely on the pages: take the record out of the report (it is attached as record.json) and read that; ask the workshop why it signed other pages",
            ),
            Self::NotCompared { differences, .. } if !differences.is_empty() => Some(
                "take the record out of the report (it is attached as record.json) and compare what is open",
            ),
            Self::NotCompared {
                pictures_not_named: 1..,
                ..
            } => Some(
                "hold the pictures of the report against the photos that the record names, or against the blade",
            ),
            Self::SamePages { .. } | Self::NotCompared { .. } => None,
        }
    }
}

impl fmt::Display for Pages {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::SamePages { kind, language } => write!(
                f,
                "the same: drawn again from the embedded record, every byte is equal (kind {kind}, language {language})"
            ),
            Self::OtherPages { differences } => write!(
                f,
                "altered: the embedded record has other pages; {}",
                differences.join("; ")
            ),
            Self::NotCompared {
                reason,
                pictures_not_named,
                differences,
            } => match (*pictures_not_named, differences.is_empty()) {
                (0, true) => write!(
                    f,
                    "not drawn again: {reason}; the main facts of the record stand among their words"
                ),
                (0, false) => write!(
                    f,
                    "to be confirmed: not drawn again, {reason}; not found among their words: {}",
                    differences.join(", ")
                ),
                (_, true) => write!(f, "not compared as a whole: {reason}"),
                (_, false) => write!(f, "to be confirmed: {reason}; {}", differences.join("; ")),
            },
        }
    }
}

/// What the title of a report says of it.
#[derive(Clone, Copy)]
struct Titled {
    kind: (Kind, &'static str),
    speech: (Speech, &'static str),
    /// Number of the record that a comparison goes back to, where it was asked for.
    against: Option<u32>,
}

/// A report taken apart.
struct Received<'a> {
    pdf: &'a [u8],
    /// Its pages; without any where they are of another form than those of reports.
    view: PdfView,
    /// The pages are of the form that reports have.
    readable: bool,
    examined: PdfExamination,
    record_bytes: &'a [u8],
    record: Record,
    /// The record with the values that the report discloses.
    shown: Record,
    /// Earlier records of the blade that were handed in, the oldest first.
    earlier: Vec<Record>,
}

/// Compares the pages of a report with the record in it. `others` are files that were handed in beside it: earlier records
/// of the blade are needed for what some pages show. Nothing when the file is no unaltered report.
pub fn pages(pdf: &[u8], others: &[Vec<u8>]) -> Option<Pages> {
    let examined = pdf::examine(pdf);
    (examined.judgement == PdfJudgement::Unaltered).then(|| {
        compared(pdf, examined, others).unwrap_or_else(|| Pages::NotCompared {
            reason: "the record in it, or a value beside it, cannot be read here".to_owned(),
            pictures_not_named: 0,
            differences: vec!["the whole record".to_owned()],
        })
    })
}

/// None where the record cannot be read with the values that the report discloses.
fn compared(pdf: &[u8], mut examined: PdfExamination, others: &[Vec<u8>]) -> Option<Pages> {
    let record_bytes = examined.record_bytes.take()?;
    let value = json::read_value(&record_bytes, &Limits::default()).ok()?;
    let record = Record::from_json(&value).ok()?;
    let shown = match &examined.disclosures_bytes {
        None => record.clone(),
        Some(bytes) => {
            let disclosures = withhold::parse_file(bytes).ok()?;
            let shown = withhold::reveal_in_place(&value, &disclosures, RULES).ok()?;
            Record::from_json(&shown).ok()?
        }
    };
    let view = pdf::view(pdf);
    let received = Received {
        pdf,
        readable: view.is_some(),
        view: view.unwrap_or_else(|| pdf::heading(pdf)),
        examined,
        record_bytes: &record_bytes,
        earlier: before(&record, others),
        record,
        shown,
    };
    Some(received.judged())
}

/// The records before `record` that are among the files: each is the one that the later one names.
fn before(record: &Record, others: &[Vec<u8>]) -> Vec<Record> {
    let named: Vec<(Digest, Record)> = others
        .iter()
        .filter_map(|bytes| {
            let value = json::read_value(bytes, &Limits::default()).ok()?;
            let name = proof::record_digest(&value).ok()?;
            Some((name, Record::from_json(&value).ok()?))
        })
        .collect();
    let mut found: Vec<Record> = Vec::new();
    let mut wanted = record.previous;
    // A record cannot name a later one, so the walk ends; the bound is for files that say otherwise.
    while let Some(name) = wanted
        && found.len() < named.len()
    {
        let Some((_, earlier)) = named.iter().find(|(other, _)| *other == name) else {
            break;
        };
        wanted = earlier.previous;
        found.push(earlier.clone());
    }
    found.reverse();
    found
}

impl Received<'_> {
    fn judged(&self) -> Pages {
        let ours = renderer().to_string();
        let producer = self.view.producer.as_deref().unwrap_or("nothing");
        if producer != ours {
            let form = if self.readable {
                ""
            } else {
                ", and are not of the form in which they can be read here"
            };
            return self.not_compared(format!(
                "the pages were set by `{}`, this program is `{ours}`{form}",
                shortened(producer)
            ));
        }
        if !self.readable {
            return Pages::OtherPages {
                differences: vec![
                    "they are not of the form in which the renderer that they name writes them"
                        .to_owned(),
                ],
            };
        }
        self.drawn_again()
    }

    /// Where nothing can be drawn: of pages that cannot be read no fact is found either.
    fn not_compared(&self, reason: String) -> Pages {
        Pages::NotCompared {
            reason,
            pictures_not_named: 0,
            differences: facts::not_found(self),
        }
    }

    /// The kinds and languages whose title is the one of the report, with the record that a comparison goes back to.
    fn titled(&self) -> impl Iterator<Item = Titled> {
        let title = self.view.title.as_deref().unwrap_or_default();
        let against = numbers_in(title, self.record.sequence);
        KINDS
            .into_iter()
            .flat_map(move |kind| {
                let comparison = kind.0 == Kind::Comparison;
                let numbers = if comparison {
                    against.clone()
                } else {
                    Vec::new()
                };
                std::iter::once(None)
                    .chain(numbers.into_iter().map(Some))
                    .flat_map(move |against| {
                        SPEECHES.map(|speech| Titled {
                            kind,
                            speech,
                            against,
                        })
                    })
            })
            .filter(move |one| {
                title_of(&self.shown, one.kind.0, one.speech.0, one.against) == title
            })
    }

    /// The words of all pages, without spaces and line ends.
    fn words(&self) -> String {
        let pages = self.view.pages.iter();
        pages.map(|page| squeezed(&page.words)).collect()
    }

    /// How many of the records before this one were not handed in.
    fn missing(&self) -> usize {
        let sequence = usize::try_from(self.record.sequence).unwrap_or(usize::MAX);
        sequence.saturating_sub(1 + self.earlier.len())
    }
}

/// The whole numbers in a title, each once, as far as they can be those of records before this one: the title of a blade
/// may hold numbers too.
fn numbers_in(title: &str, sequence: u32) -> Vec<u32> {
    let digits = title.split(|letter: char| !letter.is_ascii_digit());
    let mut numbers: Vec<u32> = digits
        .filter_map(|digits| digits.parse().ok())
        .filter(|number| (1..sequence).contains(number))
        .collect();
    numbers.sort_unstable();
    numbers.dedup();
    numbers
}

fn squeezed(words: &str) -> String {
    words
        .chars()
        .filter(|character| !character.is_whitespace())
        .collect()
}

/// Words that somebody else wrote: shown, but not without bounds.
fn shortened(words: &str) -> String {
    let mut short: String = words
        .chars()
        .take(60)
        .flat_map(char::escape_debug)
        .collect();
    if words.chars().count() > 60 {
        short.push('…');
    }
    short
}
