//! The commands that make trouble: failure cases, mutants, fuzzing.

use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Duration;

use clap::{Args, ValueEnum};
use tangmark_core::counted;
use tangmark_testkit::failures::{self, MakeError};
use tangmark_testkit::fuzz::{self, Target};
use tangmark_testkit::mutate::{self, Form, Mutant, Slip};

/// Order of `testkit failures`.
#[derive(Args)]
pub(crate) struct Failures {
    /// Folder to write the files and `index.json` into (made when missing)
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
}

/// Order of `testkit mutants`.
#[derive(Args)]
pub(crate) struct Mutants {
    /// How many packages
    #[arg(long, default_value_t = 1000, value_name = "N")]
    count: u64,
    /// Number of the first one
    #[arg(long, default_value_t = 0, value_name = "N")]
    from: u64,
    /// Where the chances start
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Write one package as a file (of several files: as a folder) and its line to the terminal, instead of all to standard
    /// output
    #[arg(long, value_name = "FILE")]
    only: Option<PathBuf>,
    /// Turn one verdict round in the lines, so that whoever compares must find it
    #[arg(long, value_enum)]
    slip: Option<SlipWord>,
}

/// A slip by its name.
#[derive(Clone, Copy, ValueEnum)]
enum SlipWord {
    Photo,
    LateKey,
    Misnamed,
}

impl SlipWord {
    const fn slip(self) -> Slip {
        match self {
            Self::Photo => Slip::Photo,
            Self::LateKey => Slip::LateKey,
            Self::Misnamed => Slip::Misnamed,
        }
    }
}

/// Order of `testkit fuzz`.
#[derive(Args)]
pub(crate) struct Fuzz {
    /// Seconds in all, shared by the targets
    #[arg(long, default_value_t = 60, value_name = "S")]
    seconds: u64,
    /// One target alone
    #[arg(long, value_enum)]
    target: Option<Word>,
    /// Where the chances start
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Threads
    #[arg(long, default_value_t = 2, value_name = "N")]
    threads: usize,
    /// Folder for inputs that break a rule
    #[arg(long, default_value = "target/fuzz-broken", value_name = "DIR")]
    keep: PathBuf,
    /// Write the seeds below this folder and run nothing
    #[arg(long, value_name = "DIR")]
    seeds: Option<PathBuf>,
    /// Read one file as the target instead of running
    #[arg(long, value_name = "FILE", requires = "target")]
    file: Option<PathBuf>,
}

/// A target by its name.
#[derive(Clone, Copy, ValueEnum)]
enum Word {
    Record,
    Pdf,
    Package,
    History,
    Proof,
}

impl Word {
    const fn target(self) -> Target {
        match self {
            Self::Record => Target::Record,
            Self::Pdf => Target::Pdf,
            Self::Package => Target::Package,
            Self::History => Target::History,
            Self::Proof => Target::Proof,
        }
    }
}

fn failed(error: &dyn std::fmt::Display) -> ExitCode {
    eprintln!("error: {error}");
    ExitCode::FAILURE
}

pub(crate) fn failures(order: &Failures) -> ExitCode {
    match failures::write(&order.out) {
        Ok(count) => {
            println!(
                "{}, listed in {}",
                counted(count, "case"),
                order.out.join("index.json").display()
            );
            ExitCode::SUCCESS
        }
        Err(error) => failed(&error),
    }
}

pub(crate) fn mutants(order: &Mutants) -> ExitCode {
    match make_mutants(order) {
        Ok(()) => ExitCode::SUCCESS,
        // Whoever reads them has seen enough.
        Err(Unmade::Written(error)) if error.kind() == io::ErrorKind::BrokenPipe => {
            ExitCode::SUCCESS
        }
        Err(Unmade::Written(error)) => failed(&error),
        Err(Unmade::Made(error)) => failed(&error),
    }
}

/// Why there are no more mutants.
enum Unmade {
    Made(MakeError),
    Written(io::Error),
}

impl From<MakeError> for Unmade {
    fn from(error: MakeError) -> Self {
        Self::Made(error)
    }
}

impl From<io::Error> for Unmade {
    fn from(error: io::Error) -> Self {
        Self::Written(error)
    }
}

/// For each mutant one line of JSON, then as many bytes as it says.
fn make_mutants(order: &Mutants) -> Result<(), Unmade> {
    let maker = mutate::Maker::new()?;
    let mut out = io::BufWriter::with_capacity(1 << 20, io::stdout().lock());
    for number in order.from..order.from.saturating_add(order.count) {
        let mutant = maker.make(order.seed, number)?;
        let line = mutate::judged(number, &mutant, order.slip.map(SlipWord::slip))?;
        writeln!(out, "{line}")?;
        if let Some(place) = &order.only {
            write_mutant(place, &mutant)?;
            break;
        }
        for (_, bytes) in &mutant.files {
            out.write_all(bytes)?;
        }
    }
    Ok(out.flush()?)
}

fn write_mutant(place: &Path, mutant: &Mutant) -> io::Result<()> {
    for (path, bytes) in &mutant.files {
        let file = match mutant.form {
            Form::Zip => place.to_owned(),
            Form::Folder | Form::Loose => place.join(path),
        };
        if let Some(folder) = file.parent() {
            std::fs::create_dir_all(folder)?;
        }
        std::fs::write(file, bytes)?;
    }
    Ok(())
}

pub(crate) fn fuzz(order: &Fuzz) -> ExitCode {
    if let Some(folder) = &order.seeds {
        return match fuzz::write(folder) {
            Ok(count) => {
                println!("{} below {}", counted(count, "seed"), folder.display());
                ExitCode::SUCCESS
            }
            Err(error) => failed(&error),
        };
    }
    if let (Some(file), Some(word)) = (&order.file, order.target) {
        return one(file, word.target());
    }
    let targets = order
        .target
        .map_or_else(|| Target::ALL.to_vec(), |word| vec![word.target()]);
    let share = u32::try_from(targets.len()).unwrap_or(1).max(1);
    let outcomes = fuzz::run(
        &fuzz::Order {
            each: Duration::from_secs(order.seconds) / share,
            targets,
            seed: order.seed,
            threads: order.threads,
            keep: order.keep.clone(),
        },
        &mut |outcome| {
            println!(
                "{:<8} {:>10} inputs, the slowest took {:.1} ms, {} broke a rule",
                outcome.target.name(),
                outcome.runs,
                outcome.slowest.as_secs_f64() * 1e3,
                outcome.broken.len()
            );
            for broken in &outcome.broken {
                println!("error: {}: {}", broken.file.display(), broken.what);
                println!(
                    "hint: testkit fuzz --target {} --file {}",
                    outcome.target.name(),
                    broken.file.display()
                );
            }
        },
    );
    let outcomes = match outcomes {
        Ok(outcomes) => outcomes,
        Err(error) => return failed(&error),
    };
    // The least of all targets: a quick one must not hide one that no longer runs.
    let least = outcomes.iter().map(|outcome| outcome.runs).min();
    let broken: usize = outcomes.iter().map(|outcome| outcome.broken.len()).sum();
    let memory = tangmark_testkit::bench::peak_memory_kb();
    if let Some(peak) = memory {
        println!(
            "most memory held: {peak} kB, {} kB allowed",
            fuzz::MEMORY_KB
        );
    }
    println!("count fuzz {}", least.unwrap_or(0));
    if broken == 0 && memory.is_none_or(|peak| peak <= fuzz::MEMORY_KB) {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}

fn one(file: &Path, target: Target) -> ExitCode {
    let read = std::fs::read(file).map_err(|error| MakeError {
        what: "input",
        why: format!("{}: {error}", file.display()),
    });
    let checked = read.and_then(|bytes| Ok((fuzz::Seeds::new()?, bytes)));
    match checked {
        Ok((seeds, bytes)) => match fuzz::check(target, &bytes, seeds.known()) {
            Ok(()) => {
                println!("no rule of `{}` is broken", target.name());
                ExitCode::SUCCESS
            }
            Err(what) => failed(&what),
        },
        Err(error) => failed(&error),
    }
}
