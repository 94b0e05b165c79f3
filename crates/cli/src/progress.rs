//! Progress of many like things: how many, how fast, how long still. On a terminal only.

use std::io::{self, IsTerminal as _, Write as _};
use std::time::{Duration, Instant};

/// Least time between two lines.
const PAUSE: Duration = Duration::from_millis(200);

/// One line on the error stream that is written over again and again.
pub(crate) struct Progress {
    what: &'static str,
    total: usize,
    done: usize,
    start: Instant,
    told: Option<Instant>,
    shown: bool,
    quiet: bool,
}

impl Progress {
    /// Begins to count; nothing is ever shown when `quiet`, of a single thing, or where the error stream is no terminal.
    pub(crate) fn new(what: &'static str, total: usize, quiet: bool) -> Self {
        Self {
            what,
            total,
            done: 0,
            start: Instant::now(),
            told: None,
            shown: false,
            quiet: quiet || total < 2 || !io::stderr().is_terminal(),
        }
    }

    /// Counts one, and shows the line when it was taken away or stood for a while.
    pub(crate) fn step(&mut self) {
        self.done += 1;
        let now = Instant::now();
        if self.quiet || (self.shown && self.told.is_some_and(|told| now - told < PAUSE)) {
            return;
        }
        self.told = Some(now);
        self.shown = true;
        let line = line(self.what, self.done, self.total, now - self.start);
        // Carriage return, then the ANSI sequence that empties the line (ECMA-48, EL).
        let _ = write!(io::stderr().lock(), "\r\x1b[K{line}");
    }

    /// Takes the line away, so that others can be written.
    pub(crate) fn clear(&mut self) {
        if std::mem::take(&mut self.shown) {
            let _ = write!(io::stderr().lock(), "\r\x1b[K");
        }
    }
}

/// `reports: 120 of 340, 45.0 in a second, 5 s left`.
fn line(what: &str, done: usize, total: usize, passed: Duration) -> String {
    let seconds = passed.as_secs_f64();
    if done == 0 || seconds <= 0.0 {
        return format!("{what}: {done} of {total}");
    }
    let rate = done as f64 / seconds;
    let left = total.saturating_sub(done) as f64 / rate;
    let left = if left < 120.0 {
        format!("{left:.0} s")
    } else {
        format!("{:.0} min", left / 60.0)
    };
    format!("{what}: {done} of {total}, {rate:.1} in a second, {left} left")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_tells_count_rate_and_rest() {
        let at = |done, seconds| line("reports", done, 340, Duration::from_secs(seconds));
        assert_eq!(at(0, 0), "reports: 0 of 340");
        assert_eq!(
            at(120, 4),
            "reports: 120 of 340, 30.0 in a second, 7 s left"
        );
        assert_eq!(at(1, 1), "reports: 1 of 340, 1.0 in a second, 6 min left");
        assert_eq!(
            at(340, 10),
            "reports: 340 of 340, 34.0 in a second, 0 s left"
        );
    }
}
