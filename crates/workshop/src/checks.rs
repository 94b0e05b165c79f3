//! Running the plugins on a sheet and turning what they say into findings.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::{Value, json};
use tangmark_core::Digest;
use tangmark_core::hold::{self, Answered, HoldInput, Limits, Stop};
use tangmark_core::record::withhold::{speaks_of_money, touches_withholdable};
use tangmark_core::record::{
    Artefact, ArtefactKind, Column, Finding, Key, Level, Number, Override, Record, Run, Sheet,
    Term as _, Verdict,
};
use tangmark_core::units::{Decimal, Unit};
use tangmark_host::{Given, PluginOutcome, discover};
use tangmark_plugin as plugin;
use tangmark_store::{Derived, Store as _, StoreError};

use crate::carried::carried;
use crate::journal::{happened, today};
use crate::try_plugin::about;
use crate::{Surroundings, Workshop, WorkshopError, given, plugins};

/// What a check found.
#[derive(Clone, Debug, Serialize)]
pub struct CheckReport {
    /// Blade.
    pub blade: String,
    /// Revision of the sheet that was checked.
    pub revision: u64,
    /// Runs of plugins.
    pub runs: Vec<Run>,
    /// Findings, stops first.
    pub findings: Vec<Finding>,
    /// Findings on values that are withheld by default.
    pub private_findings: Vec<Finding>,
    /// What plugins derived that speaks of money; shown here and sealed nowhere.
    pub private_results: Vec<PrivateResults>,
    /// Stops that stand unanswered, and who may answer them.
    #[serde(serialize_with = "named_answers")]
    pub stops: Vec<(Stop, &'static str)>,
    /// Stops among the findings that something answered.
    pub answered: Vec<AnsweredStop>,
    /// What the stops leave open.
    pub suggestion: Verdict,
}

/// A stop that was found and answered.
#[derive(Clone, Debug, Serialize)]
pub struct AnsweredStop {
    /// Plugin and rule.
    pub rule: String,
    /// What answered it.
    pub answer: Answered,
}

/// Numbers, tables and series of one plugin that speak of money.
#[derive(Clone, Debug, Serialize)]
pub struct PrivateResults {
    /// Plugin.
    pub plugin: Key,
    /// Numbers.
    pub quantities: Vec<Number>,
    /// Tables and series.
    pub artefacts: Vec<Artefact>,
}

/// Writes each stop with the words on who may answer it as `answered_by`.
pub(crate) fn named_answers<S: serde::Serializer>(
    stops: &[(Stop, &'static str)],
    serializer: S,
) -> Result<S::Ok, S::Error> {
    #[derive(Serialize)]
    struct Held<'a> {
        #[serde(flatten)]
        stop: &'a Stop,
        answered_by: &'a str,
    }
    serializer.collect_seq(
        stops
            .iter()
            .map(|(stop, answered_by)| Held { stop, answered_by }),
    )
}

/// What came of judging a sheet, with what the hold rests on.
pub(crate) struct Judged {
    pub(crate) report: CheckReport,
    /// Overrides in force.
    pub(crate) overrides: Vec<Override>,
    /// Sealed records of the blade, oldest first.
    pub(crate) records: Vec<Record>,
    /// Name of the newest.
    pub(crate) tip: Option<Digest>,
}

/// What the plugins said, before it is bound to a record.
pub(crate) struct Found {
    pub(crate) runs: Vec<Run>,
    pub(crate) public: Vec<Finding>,
    pub(crate) private: Vec<Finding>,
    pub(crate) private_results: Vec<PrivateResults>,
}

/// What plugins are asked, apart from the sheet.
pub(crate) struct Question<'a> {
    pub(crate) sheet: &'a Sheet,
    pub(crate) history: &'a [Value],
    /// Digest of what was asked, withheld values replaced by digests; zero where nothing is sealed.
    pub(crate) input: Digest,
}

impl Workshop {
    /// Checks the newest sheet of a blade. Nothing is written but how many stops stand, for the lists.
    ///
    /// # Errors
    /// When there is no sheet. A plugin that fails is a finding, not an error.
    pub fn check(
        &self,
        blade: &str,
        around: &Surroundings<'_>,
    ) -> Result<CheckReport, WorkshopError> {
        let (sheet, revision) = self.sheet(blade)?;
        Ok(self.judge_kept(&sheet, revision, around)?.report)
    }

    /// Checks the newest sheet of a blade as it is kept, and notes for the lists how many stops stand.
    pub(crate) fn judge_kept(
        &self,
        sheet: &Sheet,
        revision: u64,
        around: &Surroundings<'_>,
    ) -> Result<Judged, WorkshopError> {
        let judged = self.judge_sheet(sheet, revision, around)?;
        let blade = sheet.blade.id.as_str();
        self.note_judged(
            blade,
            revision,
            judged.tip,
            judged.report.stops.len(),
            around,
        );
        Ok(judged)
    }

    /// Notes for the lists how many stops a judgement of the newest sheet left standing. The hold is derived without it, so
    /// where it cannot be written nothing else fails: the lists then say that the sheet was not judged.
    pub(crate) fn note_judged(
        &self,
        blade: &str,
        revision: u64,
        tip: Option<Digest>,
        stops: usize,
        around: &Surroundings<'_>,
    ) {
        let _ = self.store().note_derived(&Derived {
            blade,
            revision,
            tip,
            stops: u64::try_from(stops).unwrap_or(u64::MAX),
            at: around.now.as_str(),
        });
    }

    /// Checks a sheet of a blade, kept or not, against the sealed records of the blade.
    pub(crate) fn judge_sheet(
        &self,
        sheet: &Sheet,
        revision: u64,
        around: &Surroundings<'_>,
    ) -> Result<Judged, WorkshopError> {
        looks_happened(sheet, around)?;
        let blade = sheet.blade.id.as_str();
        let history = match self.history(blade) {
            // A first sheet is looked at before its blade is entered.
            Err(WorkshopError::Store(StoreError::UnknownBlade(_))) => Vec::new(),
            history => history?,
        };
        let tip = history.last().map(|kept| kept.row.name);
        let values: Vec<Value> = history.iter().map(|kept| kept.value.clone()).collect();
        let records: Vec<Record> = history.into_iter().map(|kept| kept.record).collect();
        let input = Digest::from_bytes([0; 32]);
        let mut found = self.run_plugins(
            &Question {
                sheet,
                history: &values,
                input,
            },
            around,
        )?;
        let overrides = hold::overrides_in_force(&records, None);
        let stays = carried(&records, sheet, &overrides, &found.public);
        found.public.extend(stays);
        let hold = HoldInput {
            findings: &found.public,
            overrides: &overrides,
            history: &records,
            limits: Limits::of(sheet.plan.as_ref(), sheet.agreement.as_ref()),
        };
        let stops = hold::standing(hold);
        let answered = found
            .public
            .iter()
            .filter(|finding| finding.level == Level::Stop)
            .filter_map(|finding| {
                Some(AnsweredStop {
                    rule: hold::name(finding),
                    answer: hold::answer_of(finding, hold)?,
                })
            })
            .collect();
        let mut findings = found.public;
        findings.sort_by_key(|finding| std::cmp::Reverse(finding.level));
        let report = CheckReport {
            blade: blade.to_owned(),
            revision,
            runs: found.runs,
            findings,
            private_findings: found.private,
            private_results: found.private_results,
            answered,
            suggestion: suggestion(&stops),
            stops: stops
                .into_iter()
                .map(|stop| {
                    let by = stop.kind.answered_by();
                    (stop, by)
                })
                .collect(),
        };
        Ok(Judged {
            report,
            overrides,
            records,
            tip,
        })
    }

    pub(crate) fn run_plugins(
        &self,
        question: &Question<'_>,
        around: &Surroundings<'_>,
    ) -> Result<Found, WorkshopError> {
        let approvals = self.approvals()?;
        let libraries = discover(&around.plugin_folders);
        let sheet = question
            .sheet
            .to_json()
            .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
        let request = plugin::CheckRequest {
            history: question.history.to_vec(),
            ..about(sheet, around)?
        };
        let given = self.given(libraries.iter().map(|library| library.name.as_str()))?;
        let outcomes = plugins::host(around).check(&libraries, &approvals, &request, &given);
        let mut all = Found {
            runs: Vec::new(),
            public: Vec::new(),
            private: Vec::new(),
            private_results: Vec::new(),
        };
        for outcome in &outcomes {
            merge(outcome, &given, question.input, &mut all);
        }
        if !all
            .runs
            .iter()
            .any(|run| run.plugin.as_str() == "triage" && run.fault.is_none())
        {
            let why = all
                .runs
                .iter()
                .find(|run| run.plugin.as_str() == "triage")
                .and_then(|run| run.fault.clone())
                .or_else(|| failed_triage(&outcomes))
                .unwrap_or_else(|| "it was not found".to_owned());
            all.public.push(own_finding(
                "triage-not-run",
                Level::Stop,
                format!("triage did not run: {why}"),
            ));
        }
        Ok(all)
    }
}

fn failed_triage(outcomes: &[PluginOutcome]) -> Option<String> {
    outcomes.iter().find_map(|outcome| match outcome {
        PluginOutcome::Failed(failed) if failed.name == "triage" => Some(failed.fault.clone()),
        _ => None,
    })
}

/// What the stops leave open: a fatal flaw sets aside, any other stop asks for a specialist.
pub(crate) fn suggestion(stops: &[Stop]) -> Verdict {
    match stops.first() {
        None => Verdict::Work,
        Some(_)
            if stops
                .iter()
                .any(|stop| stop.kind == hold::StopKind::FatalFlaw) =>
        {
            Verdict::SetAside
        }
        Some(_) => Verdict::Refer,
    }
}

/// A finding of the program itself.
pub(crate) fn own_finding(rule: &str, level: Level, message: String) -> Finding {
    Finding {
        plugin: own_key("tangmark"),
        rule: rule.to_owned(),
        level,
        message,
        evidence: Vec::new(),
        numbers: Vec::new(),
        source: "this program's own rule".to_owned(),
    }
}

/// Makes a key of a plugin name: names are lower case with `_`, keys have `-`.
fn own_key(name: &str) -> Key {
    Key::from_name(name)
}

fn merge(outcome: &PluginOutcome, given: &BTreeMap<String, Given>, input: Digest, all: &mut Found) {
    let key = own_key(outcome.name());
    let settings = settings_lines(outcome, given);
    match outcome {
        PluginOutcome::Failed(failed) => {
            if let Some(digest) = failed.digest {
                all.runs.push(Run {
                    plugin: key,
                    version: "unknown".to_owned(),
                    digest,
                    input,
                    settings,
                    fault: Some(failed.fault.chars().take(400).collect()),
                    quantities: Vec::new(),
                    artefacts: Vec::new(),
                });
            }
            if failed.name != "triage" {
                let message = format!("plugin `{}` gave no answer: {}", failed.name, failed.fault);
                all.public
                    .push(own_finding("plugin-failed", Level::Caution, message));
            }
        }
        PluginOutcome::Replied(replied) => match convert(replied, &key, input) {
            Ok((run, hidden, findings)) => {
                all.runs.push(Run { settings, ..run });
                if !hidden.quantities.is_empty() || !hidden.artefacts.is_empty() {
                    all.private_results.push(hidden);
                }
                for finding in findings {
                    if is_private(&finding) {
                        all.private.push(finding);
                    } else {
                        all.public.push(finding);
                    }
                }
            }
            Err(fault) => {
                all.runs.push(Run {
                    plugin: key,
                    version: replied.description.version.clone(),
                    digest: replied.digest,
                    input,
                    settings,
                    fault: Some(fault.clone()),
                    quantities: Vec::new(),
                    artefacts: Vec::new(),
                });
                let message = format!(
                    "plugin `{}` gave an answer that does not fit a record: {fault}",
                    outcome.name()
                );
                all.public
                    .push(own_finding("plugin-failed", Level::Caution, message));
            }
        },
    }
}

/// Tells whether a finding stays private: it speaks of money, or rests on a value that may be withheld.
pub(crate) fn is_private(finding: &Finding) -> bool {
    speaks_of_money(&finding.rule)
        || finding
            .evidence
            .iter()
            .any(|pointer| touches_withholdable(pointer))
}

/// Longest line on a setting that a record holds, in characters, and most lines.
const SETTING_LENGTH: usize = 300;
const SETTING_LINES: usize = 100;

/// What was set for a plugin, as the record says it. A plugin all of whose rules speak of money shows names only.
fn settings_lines(outcome: &PluginOutcome, given: &BTreeMap<String, Given>) -> Vec<String> {
    let Some(own) = given.get(outcome.name()) else {
        return Vec::new();
    };
    let private = match outcome {
        PluginOutcome::Replied(replied) => replied
            .description
            .rules
            .iter()
            .all(|rule| speaks_of_money(&rule.id)),
        PluginOutcome::Failed(_) => true,
    };
    given::lines(own, private)
        .into_iter()
        .take(SETTING_LINES)
        .map(|line| {
            if line.chars().count() <= SETTING_LENGTH {
                return line;
            }
            let mut short: String = line.chars().take(SETTING_LENGTH - 1).collect();
            short.push('…');
            short
        })
        .collect()
}

/// Turns an answer into what a record holds; `Err` says what does not fit.
pub(crate) fn convert(
    replied: &tangmark_host::Replied,
    key: &Key,
    input: Digest,
) -> Result<(Run, PrivateResults, Vec<Finding>), String> {
    let reply = &replied.reply;
    let mut hidden = PrivateResults {
        plugin: key.clone(),
        quantities: Vec::new(),
        artefacts: Vec::new(),
    };
    let mut quantities = Vec::new();
    for quantity in &reply.quantities {
        let number = number(
            &quantity.name,
            &quantity.value,
            &quantity.unit,
            quantity.standard_uncertainty.as_deref(),
        )?;
        if speaks_of_money(&quantity.name) {
            hidden.quantities.push(number);
        } else {
            quantities.push(number);
        }
    }
    let mut artefacts = Vec::new();
    for given in &reply.artefacts {
        let artefact = artefact(given)?;
        let columns = artefact.columns.iter().map(|column| column.name.as_str());
        let private = columns
            .chain([given.id(), artefact.title.as_str()])
            .any(speaks_of_money);
        if private {
            hidden.artefacts.push(artefact);
        } else {
            artefacts.push(artefact);
        }
    }
    let findings = reply
        .findings
        .iter()
        .map(|draft| finding(draft, key))
        .collect::<Result<_, _>>()?;
    let run = Run {
        plugin: key.clone(),
        version: replied.description.version.clone(),
        digest: replied.digest,
        input,
        settings: Vec::new(),
        fault: None,
        quantities,
        artefacts,
    };
    Ok((run, hidden, findings))
}

fn finding(draft: &plugin::FindingDraft, key: &Key) -> Result<Finding, String> {
    let numbers = draft
        .numbers
        .iter()
        .map(|given| {
            number(
                &given.name,
                &given.value,
                &given.unit,
                given.standard_uncertainty.as_deref(),
            )
        })
        .collect::<Result<_, _>>()?;
    Ok(Finding {
        plugin: key.clone(),
        rule: draft.rule.clone(),
        level: match draft.level {
            plugin::Level::Info => Level::Info,
            plugin::Level::Caution => Level::Caution,
            plugin::Level::Stop => Level::Stop,
        },
        message: draft.message.clone(),
        evidence: draft.evidence.clone(),
        numbers,
        source: draft.source.clone(),
    })
}

fn number(
    name: &str,
    value: &str,
    unit: &str,
    uncertainty: Option<&str>,
) -> Result<Number, String> {
    let decimal = |text: &str| {
        text.parse::<Decimal>()
            .map_err(|error| format!("{name}: {error}"))
    };
    Ok(Number {
        name: name.to_owned(),
        value: decimal(value)?,
        unit: unit_of(unit)?,
        standard_uncertainty: uncertainty.map(decimal).transpose()?,
    })
}

fn unit_of(code: &str) -> Result<Unit, String> {
    serde_json::from_value(json!(code))
        .map_err(|_| format!("the unit `{code}` is none that a record holds"))
}

fn artefact(given: &plugin::Artefact) -> Result<Artefact, String> {
    match given {
        plugin::Artefact::Table(table) => {
            let columns = table.columns.iter().enumerate().map(|(index, column)| {
                Ok(Column {
                    name: column.name.clone(),
                    unit: column.unit.as_deref().map(unit_of).transpose()?,
                    cells: table
                        .rows
                        .iter()
                        .map(|row| row.get(index).cloned().unwrap_or_default())
                        .collect(),
                })
            });
            Ok(Artefact {
                kind: ArtefactKind::Table,
                title: table.title.clone(),
                columns: columns.collect::<Result<_, String>>()?,
            })
        }
        plugin::Artefact::Series(series) => {
            let column = |axis: &plugin::Axis, cells: Vec<String>| {
                Ok::<_, String>(Column {
                    name: axis.name.clone(),
                    unit: Some(unit_of(&axis.unit)?),
                    cells,
                })
            };
            let points = &series.points;
            let mut columns = vec![
                column(
                    &series.x,
                    points.iter().map(|point| point.x.clone()).collect(),
                )?,
                column(
                    &series.y,
                    points.iter().map(|point| point.y.clone()).collect(),
                )?,
            ];
            if points
                .iter()
                .any(|point| point.standard_uncertainty.is_some())
            {
                let cells = points
                    .iter()
                    .map(|point| point.standard_uncertainty.clone().unwrap_or_default())
                    .collect();
                let mut uncertainty = column(&series.y, cells)?;
                uncertainty.name = format!("standard uncertainty of {}", series.y.name);
                columns.push(uncertainty);
            }
            Ok(Artefact {
                kind: ArtefactKind::Series,
                title: series.title.clone(),
                columns,
            })
        }
    }
}

/// Names a verdict for a message.
pub(crate) fn named(verdict: Verdict) -> &'static str {
    verdict.gloss()
}

/// Refuses a sheet with a look at a flaw on a day that has not come: two such looks would lift a stop.
pub(crate) fn looks_happened(
    sheet: &Sheet,
    around: &Surroundings<'_>,
) -> Result<(), WorkshopError> {
    let looks = sheet.flaws.iter().flat_map(|flaw| &flaw.sightings);
    for look in looks {
        happened(
            "the day of a look in `sightings`",
            &look.on.first_day(),
            today(around),
        )?;
    }
    Ok(())
}
