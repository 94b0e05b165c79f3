//! Words on what takes several steps.

use tangmark_workshop::steps::Step;

use crate::outcome::{Failure, print};
use crate::show::{self, add, say};

/// Tells a step as soon as it is done.
pub(crate) fn tell(step: &Step) {
    let done = if step.was_done {
        "there already"
    } else {
        "done"
    };
    say(&format!(
        "{done}: {}: {}",
        step.step,
        show::plain(&step.what)
    ));
}

/// Prints the files that came of the steps, one line each.
pub(crate) fn print_files(steps: &[Step]) -> Result<(), Failure> {
    let files = steps.iter().filter_map(|step| step.file.as_ref());
    let mut lines = String::new();
    for file in files {
        add!(lines, "{}\n", file.display());
    }
    print(&lines)
}
