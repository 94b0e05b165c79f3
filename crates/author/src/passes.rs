//! Every pass logged so far: those of sealed records, then those of the sheet.

use tangmark_core::record::{Pass, Record, Sheet, in_order_of_days};

/// A logged pass and where it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Logged<'a> {
    /// The pass.
    pub pass: &'a Pass,
    /// Pointer into the sheet, where the sheet has it; else it stands in a sealed record only.
    pub pointer: Option<String>,
    /// Number of the sealed record that first has it.
    pub sequence: Option<u32>,
}

/// Collects the passes of sealed records and of the sheet, each once by its key, in the order of the work (see
/// [`in_order_of_days`]). What the sheet says of a pass stands for what an earlier record said.
pub fn logged<'a>(records: &'a [Record], sheet: &'a Sheet) -> Vec<Logged<'a>> {
    let mut all: Vec<Logged<'a>> = Vec::new();
    let sealed = records.iter().flat_map(|record| {
        record
            .passes
            .iter()
            .map(|pass| (pass, None, Some(record.sequence)))
    });
    let drafted = sheet
        .passes
        .iter()
        .enumerate()
        .map(|(index, pass)| (pass, Some(format!("/passes/{index}")), None));
    for (pass, pointer, sequence) in sealed.chain(drafted) {
        match all.iter_mut().find(|one| one.pass.id == pass.id) {
            Some(known) => {
                known.pass = pass;
                known.pointer = pointer.or_else(|| known.pointer.take());
            }
            None => all.push(Logged {
                pass,
                pointer,
                sequence,
            }),
        }
    }
    in_order_of_days(&mut all, |one| Some(one.pass.on.as_str()));
    all
}
