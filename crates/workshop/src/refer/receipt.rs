//! How the specialist signed for the blade: a receipt record, a signature beside the list of files, or paper.

use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_core::record::{Purpose, Record};
use tangmark_store::{Attachment, NewRecord, ObjectKind, Role, Store as _};
use tangmark_trust::detached;
use tangmark_trust::memory::{self, Assessment};
use tangmark_trust::verdict::{BytesLine, SignerLine, Weight};

use super::case::{ReferralCase, subject};
use super::chain::{BESIDE, Place};
use super::error::ReferError;
use super::note::{PacketNote, ReceiptNote, ReceiptWay};
use crate::journal::Who;
use crate::verify::{Verified, Verify, verify};
use crate::{Surroundings, Workshop, WorkshopError, input};

/// Longest paper that is kept, in bytes.
const LONGEST_PAPER: u64 = 64 << 20;

/// What the specialist signed with.
#[derive(Clone, Copy, Debug)]
pub enum ReceiptSource<'a> {
    /// A receipt record of their own workshop.
    Record {
        /// The file.
        file: &'a Path,
        /// Fingerprint from their card, as typed.
        fingerprint: Option<&'a str>,
    },
    /// A key or certificate, and a signature over the list of the packet's files.
    Signature {
        /// Key or certificate, PEM.
        key: &'a Path,
        /// The signature.
        signature: Option<&'a Path>,
    },
    /// Paper.
    Paper {
        /// Who signed, and when.
        words: &'a str,
        /// A scan of it.
        scan: Option<&'a Path>,
    },
}

/// Order to take a receipt.
#[derive(Clone, Debug)]
pub struct ReceiptOrder<'a> {
    /// Blade.
    pub blade: &'a str,
    /// What it was signed with.
    pub source: ReceiptSource<'a>,
    /// Folder with the memory of keys seen before.
    pub memory: Option<&'a Path>,
    /// Who enters it, and when.
    pub who: Who<'a>,
}

/// What came of it.
#[derive(Clone, Debug, Serialize)]
pub struct ReceiptTaken {
    /// Blade.
    pub blade: String,
    /// Number of the referral record.
    pub referral: u32,
    /// Number of the entry in the journal.
    pub entry: u64,
    /// The receipt record was taken into the chain, under this number.
    pub in_chain: Option<u32>,
    /// What a person should read.
    pub remarks: Vec<String>,
    /// What is noted of it.
    #[serde(flatten)]
    pub receipt: ReceiptNote,
}

/// A receipt that was judged and not noted yet.
struct Judged {
    note: ReceiptNote,
    /// Sealed bytes that continue the chain here.
    next: Option<(Vec<u8>, u32)>,
    remarks: Vec<String>,
}

/// Whether bytes are a PDF or a picture by their first ones, whatever the file is called: PDF (ISO 32000-1, 7.5.2), JPEG
/// (ISO/IEC 10918-1, B.1.1.3), PNG (ISO/IEC 15948, 5.2), TIFF (TIFF 6.0, section 2).
fn is_scan(bytes: &[u8]) -> bool {
    let starts: [&[u8]; 5] = [
        b"%PDF-",
        b"\xFF\xD8\xFF",
        b"\x89PNG\r\n\x1A\n",
        b"II*\0",
        b"MM\0*",
    ];
    starts.iter().any(|start| bytes.starts_with(start))
}

/// Whether a file is a key or certificate by its first words, and no record.
///
/// # Errors
/// When it cannot be read.
pub fn is_pem(file: &Path) -> Result<bool, WorkshopError> {
    let start = input::up_to(file, 4096)?;
    Ok(String::from_utf8_lossy(&start).contains("-----BEGIN "))
}

/// Reads a letter or a scan.
pub(super) fn paper_file(file: &Path) -> Result<Vec<u8>, WorkshopError> {
    input::whole(file, LONGEST_PAPER)
}

impl Workshop {
    /// Takes the specialist's receipt: what can be checked is checked, and what was not is said. A receipt record that
    /// follows the newest record here is taken into the chain where its signer's key was compared with a card.
    ///
    /// # Errors
    /// When there is no referral, the blade was not sent, a scan is no PDF or picture, or the record or signature is none of this referral. Nothing is kept then.
    pub fn take_receipt(
        &self,
        order: &ReceiptOrder<'_>,
        around: &Surroundings<'_>,
    ) -> Result<ReceiptTaken, WorkshopError> {
        let case = self.case_on_the_way(order.blade)?;
        if case.sent_on.is_none() {
            return Err(ReferError::NotSentYet(order.blade.to_owned()).into());
        }
        let judged = match order.source {
            ReceiptSource::Record { file, fingerprint } => {
                self.receipt_record(order, &case, file, fingerprint, around)?
            }
            ReceiptSource::Signature { key, signature } => {
                self.receipt_signature(order.blade, &case, key, signature)?
            }
            ReceiptSource::Paper { words, scan } => self.receipt_paper(&case, words, scan)?,
        };
        let mut in_chain = None;
        if let Some((bytes, sequence)) = &judged.next {
            self.store().append_record(&NewRecord {
                bytes,
                sealed_at: around.now.as_str(),
                draft_revision: None,
                disclosures: None,
            })?;
            in_chain = Some(*sequence);
        }
        let entry = self.note_receipt(order, &case, &judged.note, around)?;
        Ok(ReceiptTaken {
            blade: order.blade.to_owned(),
            referral: case.sequence,
            entry,
            in_chain,
            remarks: judged.remarks,
            receipt: judged.note,
        })
    }

    /// Notes a receipt. The same once more changes nothing; a receipt record of which more was checked now takes the place
    /// of what was noted of it.
    fn note_receipt(
        &self,
        order: &ReceiptOrder<'_>,
        case: &ReferralCase,
        note: &ReceiptNote,
        around: &Surroundings<'_>,
    ) -> Result<u64, WorkshopError> {
        let noted = self.noted::<ReceiptNote>(Some(order.blade), None)?;
        let same = noted.iter().find(|one| {
            let same_record = note.receipt.is_some() && one.matter.receipt == note.receipt;
            one.matter == *note || same_record
        });
        match same {
            Some(one) if note.checked.len() > one.matter.checked.len() => {
                self.renote(one.number, note, &order.who, around)
            }
            Some(one) => Ok(one.number),
            None => self.note(
                Some(order.blade),
                &subject(case.sequence),
                note,
                &order.who,
                around,
            ),
        }
    }

    /// Keeps a letter or a scan with a record.
    pub(super) fn keep_paper(&self, record: Digest, bytes: &[u8]) -> Result<Digest, WorkshopError> {
        let object = self.store().put_object(bytes, ObjectKind::Document)?;
        self.store().attach(&Attachment {
            record,
            object,
            role: Role::Document,
        })?;
        Ok(object)
    }

    fn receipt_paper(
        &self,
        case: &ReferralCase,
        words: &str,
        scan: Option<&Path>,
    ) -> Result<Judged, WorkshopError> {
        let scan = scan
            .map(|file| {
                let bytes = paper_file(file)?;
                if !is_scan(&bytes) {
                    let file = file.to_owned();
                    return Err(ReferError::NoScan { file }.into());
                }
                self.keep_paper(case.record, &bytes)
            })
            .transpose()?;
        Ok(Judged {
            note: ReceiptNote {
                record: case.record,
                way: ReceiptWay::Paper,
                receipt: None,
                signer: words.to_owned(),
                fingerprint: None,
                checked: Vec::new(),
                not_checked: vec![
                    "who signed the paper, and that it names this referral: this program reads no handwriting"
                        .to_owned(),
                ],
                kept: scan.into_iter().collect(),
            },
            next: None,
            remarks: Vec::new(),
        })
    }

    fn receipt_signature(
        &self,
        blade: &str,
        case: &ReferralCase,
        key_file: &Path,
        signature_file: Option<&Path>,
    ) -> Result<Judged, WorkshopError> {
        let Some(signature_file) = signature_file else {
            let key = key_file.to_owned();
            return Err(ReferError::NoSignature { key }.into());
        };
        let refused = |file: &Path| {
            let file: PathBuf = file.to_owned();
            move |error| WorkshopError::from(ReferError::Signature { file, error })
        };
        let pem = input::whole(key_file, detached::LONGEST_KEY)?;
        let outside = detached::read_key(&pem).map_err(refused(key_file))?;
        let signature = input::whole(signature_file, detached::LONGEST_SIGNATURE)?;
        let packets = self.noted::<PacketNote>(Some(blade), None)?;
        let mut lists = Vec::new();
        for packet in packets
            .iter()
            .rev()
            .filter(|one| one.matter.record == case.record)
        {
            lists.push(self.store().object(&packet.matter.list)?);
        }
        let Some(newest) = lists.first() else {
            return Err(ReferError::NoPacket {
                blade: blade.to_owned(),
                record: case.sequence,
            }
            .into());
        };
        let holds = |list: &&Vec<u8>| detached::verify(&outside.key, list, &signature).is_ok();
        let list = if let Some(list) = lists.iter().find(holds) {
            Digest::of(list)
        } else {
            detached::verify(&outside.key, newest, &signature).map_err(refused(signature_file))?;
            Digest::of(newest)
        };
        let fingerprint = outside.key.fingerprint().to_string();
        let mut not_checked = Vec::new();
        let signer = match outside.name {
            Some(name) => {
                not_checked.push(
                    "the certificate: who issued it, whether it holds, its dates; the name is the one written in it"
                        .to_owned(),
                );
                name
            }
            None => format!("holder of the key {fingerprint}"),
        };
        not_checked.push(
            "whose key it is: compare the fingerprint with the specialist by another way"
                .to_owned(),
        );
        not_checked.push("when it was signed".to_owned());
        let kept = vec![
            self.keep_paper(case.record, &pem)?,
            self.keep_paper(case.record, &signature)?,
        ];
        Ok(Judged {
            note: ReceiptNote {
                record: case.record,
                way: ReceiptWay::Signature,
                receipt: None,
                signer,
                fingerprint: Some(fingerprint),
                checked: vec![format!(
                    "ECDSA P-256 with SHA-256 over the list of the packet's files, {list}: the signature holds"
                )],
                not_checked,
                kept,
            },
            next: None,
            remarks: Vec::new(),
        })
    }

    fn receipt_record(
        &self,
        order: &ReceiptOrder<'_>,
        case: &ReferralCase,
        file: &Path,
        fingerprint: Option<&str>,
        around: &Surroundings<'_>,
    ) -> Result<Judged, WorkshopError> {
        let refused = |what: String| {
            WorkshopError::from(ReferError::NoReceipt {
                file: file.to_owned(),
                what,
            })
        };
        let bytes = input::whole(file, LONGEST_PAPER)?;
        let verified = verify(&Verify {
            file,
            others: &[],
            keys: &[],
            timestamps: &[],
            authorities: &[],
            fingerprint,
            memory: order.memory,
            workshop: Some(self),
            remember: fingerprint.is_some(),
            now: &around.now,
        })?;
        let record = sound_receipt(&verified, case).map_err(refused)?;
        let line = verified.judged.verdict.signer.to_string();
        let compared = was_compared(order, &verified, fingerprint)?;
        let mut checked = vec![
            "the record is as it was sealed, and its proof holds".to_owned(),
            format!(
                "it is about this blade, and names the referral record {}",
                case.sequence
            ),
        ];
        let mut not_checked =
            vec!["when it was sealed: the time is the signer's own word".to_owned()];
        if compared {
            checked.push(format!("its key was compared with a card: {line}"));
        } else {
            not_checked.push(format!(
                "whose key it is: {line}; give the fingerprint from the specialist's card with `--fingerprint`"
            ));
        }
        let mut remarks = Vec::new();
        let (next, kept) = match self.place_in_chain(order.blade, record, compared, &mut remarks)? {
            Place::There => (None, Vec::new()),
            Place::Next => (Some((bytes, record.sequence)), Vec::new()),
            Place::Beside => {
                let beside = [BESIDE, &bytes].concat();
                (None, vec![self.keep_paper(case.record, &beside)?])
            }
        };
        Ok(Judged {
            note: ReceiptNote {
                record: case.record,
                way: ReceiptWay::Record,
                receipt: verified.judged.verdict.record,
                signer: record.issuer.name.clone(),
                fingerprint: verified.judged.verdict.fingerprint.clone(),
                checked,
                not_checked,
                kept,
            },
            next,
            remarks,
        })
    }
}

/// Whether the key was held against a card, now or before; one that was met and no more is not.
fn was_compared(
    order: &ReceiptOrder<'_>,
    verified: &Verified,
    fingerprint: Option<&str>,
) -> Result<bool, WorkshopError> {
    if fingerprint.is_some() {
        // Another than the signer's was refused.
        return Ok(verified.judged.verdict.signer.weight() == Weight::Accepted);
    }
    let (Some(folder), Some(key), Some(name)) = (
        order.memory,
        &verified.judged.key,
        &verified.judged.verdict.issuer,
    ) else {
        return Ok(false);
    };
    let cards = memory::load(folder)?.compared();
    Ok(matches!(cards.assess(name, key), Assessment::Known { .. }))
}

/// The record in the file, where it is a receipt for this referral in the bytes that another sealed.
fn sound_receipt<'v>(verified: &'v Verified, case: &ReferralCase) -> Result<&'v Record, String> {
    let verdict = &verified.judged.verdict;
    if !matches!(verdict.bytes, BytesLine::Intact) {
        return Err(format!("its bytes: {}", verdict.bytes));
    }
    let Some(record) = &verified.judged.record else {
        return Err("it holds no record".to_owned());
    };
    if verdict.kind != tangmark_trust::verdict::FileKind::Record {
        return Err("it is a report; the record itself is needed".to_owned());
    }
    if record.purpose != Purpose::Receipt {
        return Err(ReferError::purpose(record.purpose, Purpose::Receipt));
    }
    if record.blade.id.as_str() != case.blade {
        return Err(format!(
            "it is about blade `{}`, `{}` was asked for",
            record.blade.id, case.blade
        ));
    }
    if record.refers_to.as_ref().map(|said| said.record) != Some(case.record) {
        return Err(format!(
            "it does not name the referral record {}",
            case.sequence
        ));
    }
    match &verdict.signer {
        SignerLine::Own => {
            Err("this workshop sealed it; it cannot sign for the specialist".to_owned())
        }
        line if line.weight() == Weight::Rejected => Err(line.to_string()),
        _ => Ok(record),
    }
}
