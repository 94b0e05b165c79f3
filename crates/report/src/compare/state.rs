//! A state of a blade: a sealed record, or a sheet that is not sealed.

use tangmark_core::{
    Digest,
    record::{
        Header, Instrument, Issuer, Judgement, Purpose, Record, RecordId, ScalarError, SchemaRef,
        Sheet, UtcTime,
    },
};

use crate::speech::{Pair, pair};

/// Number of a sheet among records, which begin at 1.
const UNSEALED: u32 = 0;

/// Returns a sheet in the form of a record, to be compared and drawn as one. It has number 0, no issuer and no proof, and
/// is never written as a record.
///
/// # Errors
/// None in practice: its identifier and time are written here.
pub fn unsealed(sheet: Sheet) -> Result<Record, ScalarError> {
    let nothing = Digest::of(b"");
    let record_id: RecordId = "00000000000000000000000000000000".parse()?;
    let issued_at: UtcTime = "1970-01-01T00:00:00Z".parse()?;
    let header = Header {
        schema: SchemaRef {
            id: tangmark_core::record::SCHEMA_ID.to_owned(),
            version: tangmark_core::record::SCHEMA_VERSION,
            digest: nothing,
        },
        record_id,
        sequence: UNSEALED,
        previous: None,
        issuer: Issuer {
            id: String::new(),
            name: String::new(),
            demo: false,
        },
        purpose: Purpose::InWork,
        issued_at,
    };
    Ok(Record::assemble(header, sheet, Judgement::default()))
}

/// Whether a state is a sheet.
pub(crate) const fn is_sheet(state: &Record) -> bool {
    state.sequence == UNSEALED
}

/// How a state is called in running text: `record 2`, or `the sheet`.
pub(crate) fn name(state: &Record) -> Pair {
    if is_sheet(state) {
        return pair("the sheet", "下書き");
    }
    let number = state.sequence;
    pair(format!("record {number}"), format!("記録 {number}"))
}

/// As [`name`], with what stands between it and the word that follows: `記録 2 では`, `下書きでは`.
pub(crate) fn in_text(state: &Record) -> Pair {
    let name = name(state);
    if is_sheet(state) {
        return name;
    }
    pair(name.en, format!("{} ", name.ja))
}

/// The instruments with which a state was measured.
pub(crate) fn instruments(state: &Record) -> &[Instrument] {
    state
        .examination
        .as_ref()
        .map_or(&[], |examination| &examination.instruments)
}
