//! The tour's last stop: the first blade is handed over, and received by a second workshop.

use std::ops::ControlFlow;
use std::path::PathBuf;

use serde::Serialize;
use tangmark_trust::verdict::Verdict;

use super::{DEMO_PASSPHRASE, TourBlade};
use crate::handover::{Giver, HandOverWish, package_name};
use crate::receive::VerifyPackage;
use crate::{Setup, Surroundings, Workshop, WorkshopError, counted};

/// Name of the workshop that receives.
const RECEIVER: &str = "Bellmoor Edges (demonstration)";

/// A blade that went from one workshop to another.
#[derive(Clone, Debug, Serialize)]
pub struct TourHandOver {
    /// Blade.
    pub blade: String,
    /// The package as a folder.
    pub folder: PathBuf,
    /// The same as a zip file.
    pub zip: PathBuf,
    /// Files in it.
    pub files: usize,
    /// Places of values that stay withheld.
    pub withheld: usize,
    /// The workshop that received it.
    pub receiver: PathBuf,
    /// Numbers of the records that it has now.
    pub received: Vec<u32>,
    /// Exit code of `tangmark verify` of the package, for a stranger.
    pub exit_code: u8,
    /// The four lines of its newest record, for a stranger.
    pub verdict: Option<Verdict>,
}

/// Hands a blade over, verifies the package as a stranger, and receives it in a workshop made for it.
pub(super) fn hand_over(
    workshop: &Workshop,
    blade: &TourBlade,
    around: &mut Surroundings<'_>,
    say: &mut dyn FnMut(&str),
) -> Result<TourHandOver, WorkshopError> {
    let out = workshop.out_folder();
    let name = package_name(&blade.id);
    let (folder, zip) = (out.join(&name), out.join(format!("{name}.zip")));
    let mut press = workshop.press(DEMO_PASSPHRASE.as_bytes())?;
    let wish = HandOverWish::default();
    let giver = Giver {
        memory: None,
        now: &around.now,
    };
    let prepared = workshop.prepare_handover(&blade.id, &wish, &giver, Some(&mut press))?;
    for target in [&folder, &zip] {
        prepared.write(target, &mut |_| ControlFlow::Continue(()))?;
    }
    let summary = prepared.summary();
    let withheld: usize = summary.records.iter().map(|one| one.withheld.len()).sum();
    say(&format!(
        "{}: handed over as a package of {}, {} withheld in it",
        blade.id,
        counted(summary.files, "file"),
        counted(withheld, "value")
    ));
    let setup = Setup {
        folder: &out.join("receiver"),
        name: RECEIVER,
        passphrase: DEMO_PASSPHRASE.as_bytes(),
        demo: true,
    };
    let (receiver, made) = Workshop::setup(&setup, around)?;
    let memory = out.join("receiver-memory");
    let order = VerifyPackage {
        package: &zip,
        keys: &[],
        authorities: &[],
        fingerprint: None,
        memory: Some(&memory),
        workshop: Some(&receiver),
        now: &around.now,
    };
    let mut incoming = receiver.look_at_package(&order, &|_| ())?;
    let (exit_code, verdict) = {
        let verdict = incoming.verdict();
        let subject = verdict.subject.as_ref();
        (verdict.exit, subject.map(|one| one.verdict.clone()))
    };
    say(&format!(
        "verify the package, read by a stranger: exit code {exit_code}"
    ));
    // The fingerprint as it stands on the card of the workshop that hands over.
    let card = workshop.keys()?;
    if let Some(key) = card.last() {
        incoming.compare(&key.fingerprint().to_string())?;
    }
    let received = receiver.take_in(&incoming, Some(&memory), around)?;
    say(&format!(
        "{}: received by a second workshop, {}",
        blade.id,
        counted(received.added.len(), "record")
    ));
    Ok(TourHandOver {
        blade: blade.id.clone(),
        folder,
        zip,
        files: summary.files,
        withheld,
        receiver: made.folder,
        received: received.added,
        exit_code,
        verdict,
    })
}
