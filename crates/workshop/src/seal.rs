//! Sealing: from the newest sheet to a signed record in the store.

use std::fs;
use std::path::{Path, PathBuf};

use serde::Serialize;
use serde_json::{Map, Value, json};
use tangmark_core::hold::{self, HoldInput, Limits, Stop, StopKind};
use tangmark_core::record::withhold::{RULES, WithholdRule};
use tangmark_core::record::{
    AnswerKind, Decision, Finding, Header, Issuer, Judgement, Level, Override, Purpose, Record,
    RecordId, RefersTo, SCHEMA_ID, SCHEMA_VERSION, SchemaRef, Sheet, Term as _, Verdict,
};
use tangmark_core::{Digest, check, input, json as core_json, schema, sheet};
use tangmark_store::{NewRecord, Store as _};
use tangmark_trust::withhold::{self, Disclosure};
use tangmark_trust::{PrivateKey, proof};

use crate::carried::carried;
use crate::checks::{Found, Question, looks_happened, named};
use crate::contrary::against_replies;
use crate::journal::Noted;
use crate::pass::{StopGone, UnderHold};
use crate::setup::{stage, write};
use crate::taken_over::{TakenOver, taken_over};
use crate::{Surroundings, Workshop, WorkshopError};

/// Order to seal a record.
#[derive(Clone, Debug)]
pub struct Order<'a> {
    /// Blade.
    pub blade: &'a str,
    /// Purpose.
    pub purpose: Purpose,
    /// Decision; needed for intake, work and referral records.
    pub decision: Option<Decision>,
    /// New overrides of stops.
    pub overrides: Vec<Override>,
    /// The earlier record that this one speaks of, in place of what the sheet says; the sheet stays as it is, so that
    /// the records after this one do not speak of it again.
    pub refers_to: Option<RefersTo>,
    /// Passphrase of the signing key.
    pub passphrase: &'a [u8],
    /// File for a copy of the record; left out: in `out/`.
    pub out: Option<&'a Path>,
}

/// A sealed record.
#[derive(Clone, Debug, Serialize)]
pub struct Sealed {
    /// Blade.
    pub blade: String,
    /// The record's name.
    pub record: Digest,
    /// Number in the blade's chain.
    pub sequence: u32,
    /// Purpose.
    pub purpose: Purpose,
    /// Decision.
    pub decision: Option<Verdict>,
    /// Copy of the record for people.
    pub file: Option<PathBuf>,
    /// Why there is none; the record is sealed all the same, and [`Workshop::export_record`] writes one.
    pub no_file: Option<String>,
    /// Values withheld by default.
    pub withheld: usize,
    /// Passes under hold that the record names.
    pub under_hold: usize,
    /// Stops that went from the sheet unanswered since the record before this one.
    pub stops_gone: Vec<Noted<StopGone>>,
    /// Passes that came onto the sheet under a stop since the last record, and are not on it any more.
    pub passes_gone: Vec<Noted<UnderHold>>,
    /// What a person should read before they rely on it.
    pub cautions: Vec<String>,
    /// Quantities that are those of an earlier record to the last digit.
    pub taken_over: Option<TakenOver>,
}

/// A record that was written out again.
#[derive(Clone, Debug, Serialize)]
pub struct Exported {
    /// Blade.
    pub blade: String,
    /// The record's name.
    pub record: Digest,
    /// Number in the blade's chain.
    pub sequence: u32,
    /// Purpose.
    pub purpose: Purpose,
    /// File with the sealed bytes.
    pub file: PathBuf,
}

impl Workshop {
    /// Seals the newest sheet of a blade.
    ///
    /// # Errors
    /// When a stop bars it, a section is missing, or the passphrase does not open the key. Nothing is kept then.
    pub fn seal(
        &self,
        order: &Order<'_>,
        around: &mut Surroundings<'_>,
    ) -> Result<Sealed, WorkshopError> {
        let (sheet, revision) = self.sheet(order.blade)?;
        let sheet = speaking_of(sheet, order.refers_to.as_ref())?;
        needed_sections(order, &sheet)?;
        looks_happened(&sheet, around)?;
        // Held until the record is there: no other key may take over in between.
        let _keys = self.lock_keys()?;
        let (key, _) = self.signing_key(order.passphrase)?;
        self.signs_at(around.now.as_str())?;
        let history = self.history(order.blade)?;
        let values: Vec<Value> = history.iter().map(|kept| kept.value.clone()).collect();
        let tip = history.last().map(|kept| kept.row.name);
        let sealed_up_to = history
            .iter()
            .filter_map(|kept| kept.row.draft_revision)
            .max();
        let withdrawing = self.may_speak_of(order, sheet.refers_to.as_ref(), &history)?;
        let records: Vec<Record> = history.into_iter().map(|kept| kept.record).collect();

        let (public, mut disclosures) = withhold_sheet(&sheet, around.random)?;
        let input = input_digest(&public, &values, around.now.as_str())?;
        let found = self.run_plugins(
            &Question {
                sheet: &sheet,
                history: &values,
                input,
            },
            around,
        )?;
        let (mut judgement, cautions) = judge(order, &sheet, &records, withdrawing, found)?;
        self.add_under_hold(&sheet, records.last(), &mut judgement.worked_under_hold)?;
        let stops_gone = self.stops_gone(order.blade, sealed_up_to, &judgement.findings)?;
        let passes_gone = self.passes_gone(&sheet, sealed_up_to)?;

        // These say the same numbers again on purpose: they are about papers and hands, and measure nothing.
        let restates = matches!(
            order.purpose,
            Purpose::Correction | Purpose::Withdrawal | Purpose::Receipt | Purpose::Reply
        );
        let taken_over = if restates {
            None
        } else {
            taken_over(sheet.dimensions.as_ref(), &records)
                .map_err(|error| WorkshopError::Canonical(error.to_string()))?
        };
        let header = self.header(order, &records, tip, &key, around)?;
        let sequence = header.sequence;
        let under_hold = judgement.worked_under_hold.len();
        let unsigned = compose(
            header,
            &sheet,
            judgement,
            public,
            &mut disclosures,
            around.random,
        )?;
        let signed = proof::sign(&unsigned, &key, around.now.as_str())?;
        check::to_seal(&signed).map_err(|problems| WorkshopError::Record { problems })?;
        let bytes = core_json::canonical_bytes(&signed)
            .map_err(|error| WorkshopError::Canonical(error.to_string()))?;

        // The copy is written before the record is kept, so that a folder that cannot be written seals nothing.
        let copy = stage(&self.record_file(order, sequence)?, &bytes)?;
        if self.sheet(order.blade)?.1 != revision {
            return Err(WorkshopError::SheetChanged(order.blade.to_owned()));
        }
        let withheld = disclosures_file(&disclosures)?;
        let row = self.store().append_record(&NewRecord {
            bytes: &bytes,
            sealed_at: around.now.as_str(),
            draft_revision: Some(revision),
            disclosures: withheld.as_deref().map(str::as_bytes),
        })?;
        // From here on it is sealed, whatever becomes of the copy.
        if let Ok(sealed) = Record::from_json(&signed) {
            let mut history = records;
            history.push(sealed.clone());
            let stops = hold::standing(HoldInput {
                findings: &sealed.findings,
                overrides: &sealed.overrides,
                history: &history,
                limits: Limits::of(sealed.plan.as_ref(), sealed.agreement.as_ref()),
            });
            self.note_judged(order.blade, revision, Some(row.name), stops.len(), around);
        }
        let (file, no_file) = match copy.place() {
            Ok(file) => (Some(file), None),
            Err(error) => (None, Some(error.to_string())),
        };
        Ok(Sealed {
            blade: order.blade.to_owned(),
            record: row.name,
            sequence,
            purpose: order.purpose,
            decision: order.decision.as_ref().map(|decision| decision.verdict),
            file,
            no_file,
            withheld: disclosures.len(),
            under_hold,
            stops_gone,
            passes_gone,
            cautions,
            taken_over,
        })
    }

    fn header(
        &self,
        order: &Order<'_>,
        records: &[Record],
        tip: Option<Digest>,
        key: &PrivateKey,
        around: &mut Surroundings<'_>,
    ) -> Result<Header, WorkshopError> {
        let mut id = [0; 16];
        (around.random)(&mut id);
        let record_id: RecordId = format!("{:032x}", u128::from_be_bytes(id)).parse()?;
        Ok(Header {
            schema: SchemaRef {
                id: SCHEMA_ID.to_owned(),
                version: SCHEMA_VERSION,
                digest: schema::record_digest(),
            },
            record_id,
            sequence: records.last().map_or(1, |record| record.sequence + 1),
            previous: tip,
            issuer: Issuer {
                id: key.public_key().did_key(),
                name: self.name()?,
                demo: self.is_demo()?,
            },
            purpose: order.purpose,
            issued_at: around.now.clone(),
        })
    }

    fn record_file(&self, order: &Order<'_>, sequence: u32) -> Result<PathBuf, WorkshopError> {
        if let Some(out) = order.out {
            return Ok(out.to_owned());
        }
        let folder = self.out_folder();
        fs::create_dir_all(&folder)
            .map_err(|error| WorkshopError::file("make the folder", &folder, error))?;
        Ok(folder.join(format!(
            "{}-{sequence:02}-{}.json",
            order.blade,
            order.purpose.key()
        )))
    }

    /// Returns the name of a blade's record by its number.
    ///
    /// # Errors
    /// When there is no such record.
    pub fn record_name(&self, blade: &str, sequence: u32) -> Result<Digest, WorkshopError> {
        Ok(self.row(blade, Some(sequence))?.name)
    }

    /// Writes the sealed bytes of a blade's record to a new file, the newest one unless `sequence` is given.
    ///
    /// # Errors
    /// When there is no such record, its bytes are rotten, or the file exists.
    pub fn export_record(
        &self,
        blade: &str,
        sequence: Option<u32>,
        out: &Path,
    ) -> Result<Exported, WorkshopError> {
        let kept = self.pick(blade, sequence)?;
        write(out, &kept.bytes)?;
        Ok(Exported {
            blade: blade.to_owned(),
            record: kept.row.name,
            sequence: kept.record.sequence,
            purpose: kept.record.purpose,
            file: out.to_owned(),
        })
    }
}

/// The sheet with the earlier record it is to speak of, checked as any other sheet.
fn speaking_of(sheet: Sheet, of: Option<&RefersTo>) -> Result<Sheet, WorkshopError> {
    let Some(of) = of else { return Ok(sheet) };
    let blade = sheet.blade.id.to_string();
    let whole = Sheet {
        refers_to: Some(of.clone()),
        ..sheet
    };
    let body = whole
        .to_json()
        .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
    sheet::from_value(body).map_err(|error| WorkshopError::Sheet {
        file: format!("what is to be sealed of `{blade}`"),
        error,
    })
}

/// A record says what it is for; these sections it cannot do without.
fn needed_sections(order: &Order<'_>, sheet: &Sheet) -> Result<(), WorkshopError> {
    let purpose = order.purpose;
    let decides = matches!(
        purpose,
        Purpose::Intake
            | Purpose::BeforeWork
            | Purpose::InWork
            | Purpose::AfterWork
            | Purpose::Referral
    );
    if decides && order.decision.is_none() {
        return Err(WorkshopError::NoDecision {
            purpose: purpose.key(),
        });
    }
    let present = [
        (
            "examination",
            sheet.examination.is_some(),
            matches!(
                purpose,
                Purpose::BeforeWork | Purpose::InWork | Purpose::AfterWork
            ),
        ),
        (
            "dimensions",
            sheet.dimensions.is_some(),
            matches!(purpose, Purpose::BeforeWork | Purpose::AfterWork),
        ),
        (
            "passes",
            !sheet.passes.is_empty(),
            matches!(purpose, Purpose::AfterWork),
        ),
        (
            "referral",
            sheet.referral.is_some(),
            matches!(purpose, Purpose::Referral),
        ),
        (
            "custody",
            !sheet.custody.is_empty(),
            matches!(purpose, Purpose::Transfer),
        ),
        (
            "key_change",
            sheet.key_change.is_some(),
            matches!(purpose, Purpose::KeyChange),
        ),
        (
            "refers_to",
            sheet.refers_to.is_some(),
            matches!(
                purpose,
                Purpose::Correction
                    | Purpose::Withdrawal
                    | Purpose::Reply
                    | Purpose::Receipt
                    | Purpose::Override
            ),
        ),
    ];
    match present
        .into_iter()
        .find(|(_, there, needed)| *needed && !there)
    {
        Some((section, ..)) => Err(WorkshopError::NeedsSection {
            purpose: purpose.key(),
            section,
        }),
        None => Ok(()),
    }
}

/// Applies the hold: what may be sealed, which overrides count, which passes were worked under a stop.
fn judge(
    order: &Order<'_>,
    sheet: &Sheet,
    records: &[Record],
    withdrawing: Option<u32>,
    mut found: Found,
) -> Result<(Judgement, Vec<String>), WorkshopError> {
    let mut overrides = hold::overrides_in_force(records, withdrawing);
    let stays = carried(records, sheet, &overrides, &found.public);
    found.public.extend(stays);
    hold::check_overrides(&order.overrides, &found.public)?;
    check_answers(order.decision.as_ref(), &found.public)?;
    let (added, cautions) = against_replies(&order.overrides, records, &found.public);
    overrides.extend(added);
    let stops = hold::standing(HoldInput {
        findings: &found.public,
        overrides: &overrides,
        history: records,
        limits: Limits::of(sheet.plan.as_ref(), sheet.agreement.as_ref()),
    });
    hold::may_seal(order.purpose, order.decision.as_ref(), &stops)?;
    // Which pass came after the budget was spent is told by the last record and by the journal: the pass that spent it, and
    // those before it, were made while nothing held the blade.
    let stood: Vec<Stop> = stops
        .iter()
        .filter(|stop| stop.kind != StopKind::Budget)
        .cloned()
        .collect();
    let standing_on = |day: &str| hold::stood_on(&stood, &found.public, sheet, day);
    let worked_under_hold = hold::worked_under_hold(sheet, standing_on, &overrides, records);
    // The line names the pass for good, so the pass has to be there to be read.
    let gone = worked_under_hold
        .iter()
        .find(|line| !sheet.passes.iter().any(|pass| pass.id == line.pass));
    if let Some(line) = gone {
        return Err(WorkshopError::PassGone {
            pass: line.pass.to_string(),
            rule: line.rule.clone(),
        });
    }
    let judgement = Judgement {
        runs: found.runs,
        findings: found.public,
        private_findings: found.private,
        decision: order.decision.clone(),
        overrides,
        worked_under_hold,
    };
    Ok((judgement, cautions))
}

/// Checks that a specialist's answers name stops that were found and that a reply may lift.
fn check_answers(decision: Option<&Decision>, findings: &[Finding]) -> Result<(), WorkshopError> {
    let answers = decision.iter().flat_map(|decision| &decision.answers);
    for answer in answers.filter(|answer| answer.kind == AnswerKind::SpecialistReply) {
        let stop = findings
            .iter()
            .filter(|finding| finding.level == Level::Stop)
            .find(|finding| hold::name(finding) == answer.rule);
        match stop.map(StopKind::of) {
            Some(StopKind::Importance) => {}
            Some(kind) => {
                return Err(WorkshopError::NotAnswerable {
                    rule: answer.rule.clone(),
                    kind,
                });
            }
            None => return Err(WorkshopError::NothingToAnswer(answer.rule.clone())),
        }
    }
    Ok(())
}

/// Takes the withholdable values out of a sheet, apart from those of the record itself (see [`compose`]).
fn withhold_sheet(
    sheet: &Sheet,
    random: &mut dyn FnMut(&mut [u8]),
) -> Result<(Map<String, Value>, Vec<Disclosure>), WorkshopError> {
    if let Some(photo) = sheet
        .photos
        .iter()
        .find(|photo| photo.original_kept_private && photo.derivatives.is_empty())
    {
        return Err(WorkshopError::PrivatePhoto(photo.id.to_string()));
    }
    let mut value = sheet
        .to_json()
        .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
    // Only photos marked private keep their original back: the others are set aside and put back.
    let any_private = sheet.photos.iter().any(|photo| photo.original_kept_private);
    let rules: Vec<WithholdRule> = RULES
        .iter()
        .copied()
        .filter(|rule| !rule.object.is_empty() && (any_private || rule.object != "/photos/*"))
        .collect();
    let mut shown: Vec<Option<Value>> = Vec::new();
    if any_private {
        for photo in value["photos"].as_array_mut().into_iter().flatten() {
            let private = photo["original_kept_private"] == json!(true);
            shown.push(if private {
                None
            } else {
                photo
                    .as_object_mut()
                    .and_then(|photo| photo.remove("original"))
            });
        }
    }
    if let Some(sheet) = value.as_object_mut() {
        sheet.remove("valuation");
    }
    let (mut public, disclosures) = withhold::withhold(&value, &rules, random)?;
    for (index, original) in shown.into_iter().enumerate() {
        if let Some(original) = original {
            public["photos"][index]["original"] = original;
        }
    }
    let mut public = match public {
        Value::Object(public) => public,
        _ => Map::new(),
    };
    public.remove("_sd_alg");
    Ok((public, disclosures))
}

/// The file of the withheld values, when there are any.
fn disclosures_file(disclosures: &[Disclosure]) -> Result<Option<String>, WorkshopError> {
    if disclosures.is_empty() {
        return Ok(None);
    }
    withhold::print_file(disclosures)
        .map(Some)
        .map_err(|error| WorkshopError::Canonical(error.to_string()))
}

/// Digest of what the plugins were asked, as anyone can compute it again from the sealed record: the sheet's sections
/// as sealed (without `_sd` of the record itself), the names of earlier records, and the time.
fn input_digest(
    public: &Map<String, Value>,
    history: &[Value],
    now: &str,
) -> Result<Digest, WorkshopError> {
    let names: Vec<Digest> = history
        .iter()
        .map(|value| Ok(proof::record_digest(value)?))
        .collect::<Result<_, WorkshopError>>()?;
    input::digest(public.clone(), &names, now)
        .map_err(|error| WorkshopError::Canonical(error.to_string()))
}

/// Puts the record together: header and judgement in clear, sheet sections as withheld, the record's own digests.
fn compose(
    header: Header,
    sheet: &Sheet,
    judgement: Judgement,
    public: Map<String, Value>,
    disclosures: &mut Vec<Disclosure>,
    random: &mut dyn FnMut(&mut [u8]),
) -> Result<Value, WorkshopError> {
    let canonical = |error: serde_json::Error| WorkshopError::Canonical(error.to_string());
    let mut root = Map::new();
    if let Some(valuation) = &sheet.valuation {
        root.insert(
            "valuation".to_owned(),
            serde_json::to_value(valuation).map_err(canonical)?,
        );
    }
    if !judgement.private_findings.is_empty() {
        root.insert(
            "private_findings".to_owned(),
            serde_json::to_value(&judgement.private_findings).map_err(canonical)?,
        );
    }
    let root_rules: Vec<WithholdRule> = RULES
        .iter()
        .copied()
        .filter(|rule| rule.object.is_empty())
        .collect();
    let (root, own) = withhold::withhold(&Value::Object(root), &root_rules, random)?;
    disclosures.extend(own);

    let blank = Judgement {
        private_findings: Vec::new(),
        ..judgement
    };
    let record = Record::assemble(header, Sheet::of(sheet.blade.clone()), blank);
    let Value::Object(mut value) = record.to_json().map_err(canonical)? else {
        return Err(WorkshopError::Canonical("a record is an object".to_owned()));
    };
    value.extend(public);
    if let Value::Object(root) = root {
        value.extend(root);
    }
    Ok(Value::Object(value))
}

impl Sealed {
    /// Says in one line what was sealed.
    pub fn line(&self) -> String {
        let decision = self
            .decision
            .map(|verdict| format!(", decision: {}", named(verdict)))
            .unwrap_or_default();
        format!(
            "{} record {} ({}){decision}",
            self.blade,
            self.sequence,
            self.purpose.key()
        )
    }
}
