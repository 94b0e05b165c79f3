//! Where the records of a CSV start.

use super::ImportError;

/// Returns the line of each record, from 1; blank lines are no records.
///
/// Follows the quoting rules of the CSV reader, so that a quote that is never closed is an error:
/// the reader would take the rest of the file for one cell.
pub(super) fn record_starts(bytes: &[u8], separator: u8) -> Result<Vec<u64>, ImportError> {
    #[derive(PartialEq)]
    enum State {
        RecordStart,
        CellStart,
        Plain,
        Quoted,
        /// A quote inside a quoted cell: its end, or half of a doubled one.
        QuoteInQuoted,
    }
    let mut starts = Vec::new();
    let mut state = State::RecordStart;
    let (mut line, mut opened) = (1, 1);
    let mut before = 0;
    for &byte in bytes {
        let line_end = matches!(byte, b'\n' | b'\r');
        if state == State::RecordStart && !line_end {
            starts.push(line);
            state = State::CellStart;
        }
        state = match (&state, byte) {
            (State::CellStart, b'"') => {
                opened = line;
                State::Quoted
            }
            (State::Quoted, b'"') => State::QuoteInQuoted,
            (State::Quoted, _) | (State::QuoteInQuoted, b'"') => State::Quoted,
            _ if byte == separator => State::CellStart,
            _ if line_end => State::RecordStart,
            _ => State::Plain,
        };
        // A carriage return and a line feed end one line.
        if byte == b'\r' || (byte == b'\n' && before != b'\r') {
            line += 1;
        }
        before = byte;
    }
    if state == State::Quoted {
        Err(ImportError::OpenQuote { line: opened })
    } else {
        Ok(starts)
    }
}
