//! `testkit`: development-only commands (demo photos, golden records, benchmark).
#![forbid(unsafe_code)]
#![allow(clippy::print_stdout, clippy::print_stderr)] // a development tool talks to its terminal

mod commands;
mod tables;
mod trials;
mod year_command;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};

#[derive(Parser)]
#[command(
    name = "testkit",
    about = "Development-only tools of the workshop record-keeper"
)]
struct Arguments {
    #[command(subcommand)]
    task: Task,
}

#[derive(Subcommand)]
enum Task {
    /// Render the demo photos of invented blades, byte for byte the same each time
    Photos {
        /// Folder to write the pictures and their index into (made when missing)
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
    },
    /// Seal the golden records anew, with a fixed clock and fixed random bytes
    Golden(commands::Golden),
    /// Measure verification beside OpenSSL, reports beside ReportLab with pyHanko, checks beside direct calls, packages
    /// beside sha256sum, lists and searches among many blades
    Bench(commands::Bench),
    /// Write the failure cases that are files, with their list
    Failures(trials::Failures),
    /// Write changed packages to standard output, each with the verdict on it
    Mutants(trials::Mutants),
    /// Read bytes that nobody meant, and hold what must hold
    Fuzz(trials::Fuzz),
    /// Judge a package in a process of its own and tell time and memory as JSON
    JudgePackage(commands::JudgePackage),
    /// Make many reports in one process and tell time and memory, at the start and at the end
    Reports(commands::Reports),
    /// Live a scripted year of an invented workshop through the command, and look whether all of it is there at the end
    Year(year_command::Year),
    /// Simulate polishes and count how often the intervals of the removal plugin hold the truth
    Coverage(commands::Coverage),
}

fn main() -> ExitCode {
    if let Some(code) = commands::as_runner() {
        return code;
    }
    match Arguments::parse().task {
        Task::Golden(order) => commands::golden(&order),
        Task::Bench(order) => commands::bench(&order),
        Task::Reports(order) => commands::reports(&order),
        Task::JudgePackage(order) => commands::judge_package(&order),
        Task::Failures(order) => trials::failures(&order),
        Task::Mutants(order) => trials::mutants(&order),
        Task::Fuzz(order) => trials::fuzz(&order),
        Task::Coverage(order) => commands::coverage(&order),
        Task::Year(order) => year_command::year(&order),
        Task::Photos { out } => match tangmark_testkit::photos::write_all(&out) {
            Ok(written) => {
                let mut total = 0;
                for (name, bytes) in &written {
                    println!("{bytes:>8}  {name}");
                    total += bytes;
                }
                println!(
                    "{total:>8}  {}",
                    tangmark_core::counted(written.len(), "file")
                );
                ExitCode::SUCCESS
            }
            Err(error) => {
                eprintln!("error: {error}");
                if let Some(hint) = error.hint() {
                    eprintln!("hint: {hint}");
                }
                ExitCode::FAILURE
            }
        },
    }
}
