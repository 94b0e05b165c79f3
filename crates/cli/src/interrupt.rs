//! Signals that ask the program to end, where something half-done has to be taken away first.

use std::io;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use signal_hook::consts::{SIGINT, SIGTERM};
use signal_hook::flag;

use crate::outcome::{Failure, code};

/// From here on a signal that would end the program sets a flag instead; a second one ends it at once.
pub(crate) fn watch() -> Result<Arc<AtomicBool>, Failure> {
    let ended = Arc::new(AtomicBool::new(false));
    let fail = |error: io::Error| {
        Failure::new(
            format!("the signals that end a program cannot be watched: {error}"),
            "give the command again, outside of what keeps programs from it",
        )
    };
    for signal in [SIGINT, SIGTERM] {
        // In this order: the first signal finds the flag unset.
        flag::register_conditional_shutdown(signal, code::FAILED.into(), Arc::clone(&ended))
            .map_err(fail)?;
        flag::register(signal, Arc::clone(&ended)).map_err(fail)?;
    }
    Ok(ended)
}
