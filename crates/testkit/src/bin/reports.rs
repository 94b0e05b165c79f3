//! Renders the reports of the committed records into a folder, for checks by other people's programs: the same files on
//! every machine, since nothing in them is of now.
#![forbid(unsafe_code)]
#![allow(clippy::print_stdout, clippy::print_stderr)]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Parser;
use tangmark_report::{Kind, PageSize, Speech, render};
use tangmark_testkit::cases::{Case, SPEECHES, golden, photos};
use tangmark_testkit::sealed::{MakeError, fault};

/// Render the reports of the committed records, unsigned.
#[derive(Debug, Parser)]
struct Arguments {
    /// Folder to write to; it may exist
    out: PathBuf,
}

/// Whether the pages of this report are looked at one by one: each record once, and one record in all kinds and
/// languages.
fn is_looked_at(case: &Case, kind: Kind, speech: Speech) -> bool {
    match (kind, speech) {
        (Kind::Condition, Speech::English) => true,
        (Kind::Referral, Speech::English) => case.name.starts_with("lantern"),
        _ => case.name.starts_with("reed-02"),
    }
}

fn write(out: &Path) -> Result<usize, MakeError> {
    fs::create_dir_all(out).map_err(fault("folder"))?;
    let photos = photos();
    let mut written = 0;
    for case in golden()? {
        for kind in case.kinds() {
            for speech in SPEECHES {
                if !is_looked_at(&case, kind, speech) {
                    continue;
                }
                let input = case.input(&photos, PageSize::A4, kind, speech);
                let made = render(&case.record, &input).map_err(fault("report"))?;
                let kind = format!("{kind:?}").to_lowercase();
                let language = match speech {
                    Speech::English => "en",
                    Speech::Japanese => "ja",
                    Speech::Both => "both",
                };
                let file = out.join(format!("{}-{kind}-{language}.pdf", case.name));
                fs::write(&file, made.pdf).map_err(fault("file"))?;
                written += 1;
            }
        }
    }
    Ok(written)
}

fn main() -> ExitCode {
    match write(&Arguments::parse().out) {
        Ok(written) => {
            println!("{}", tangmark_core::counted(written, "report"));
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("error: {error}");
            ExitCode::FAILURE
        }
    }
}
