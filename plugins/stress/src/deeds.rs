//! Deeds a plugin must not do. Each tells what came of it: `done: …` or `refused: …`.

use std::{
    fs::{self, File},
    io::Write as _,
    net::TcpListener,
    os::unix::process::CommandExt as _,
    process::Command,
    thread,
    time::Duration,
};

use serde_json::Value;
use tangmark_plugin::stress;

/// Performs the deed, or returns `None` when there is none of this name.
pub(crate) fn perform(deed: &str, settings: &Value) -> Option<String> {
    let path = settings
        .get("path")
        .and_then(Value::as_str)
        .unwrap_or("/etc/passwd");
    Some(match deed {
        "hang" => hang(),
        "spin" => spin(),
        "exit" => leave(),
        "abort" => std::process::abort(),
        "overflow-stack" => format!("done: {}", recurse(0)),
        "panic" => panicking(),
        "shout" => shout(),
        "allocate" => allocate(settings),
        "read-file" => told(fs::read(path).map(|bytes| format!("read {} bytes", bytes.len()))),
        "write-file" => told(write(path)),
        "remove-file" => told(fs::remove_file(path).map(|()| "removed".to_owned())),
        "open-socket" => told(TcpListener::bind("127.0.0.1:0").map(|_| "listening".to_owned())),
        "spawn" => told(
            Command::new("/bin/true")
                .status()
                .map(|status| status.to_string()),
        ),
        "fork" => told(stress::make_process().map(|()| "forked".to_owned())),
        "signal" => told(stress::signal_parent().map(|()| "could signal".to_owned())),
        "exec" => told(Err(Command::new("/bin/true").exec())),
        "thread" => told(
            thread::Builder::new()
                .spawn(|| ())
                .map(|_| "started".to_owned()),
        ),
        "say-surroundings" => surroundings(),
        _ => return None,
    })
}

fn told(outcome: std::io::Result<String>) -> String {
    match outcome {
        Ok(text) => format!("done: {text}"),
        Err(error) => format!("refused: {error}"),
    }
}

/// Sleeps for ever.
pub(crate) fn hang() -> ! {
    loop {
        thread::sleep(Duration::from_mins(1));
    }
}

fn spin() -> ! {
    loop {
        std::hint::spin_loop();
    }
}

#[allow(
    clippy::exit,
    reason = "ending the runner behind the host's back is what is tested"
)]
fn leave() -> ! {
    std::process::exit(0)
}

#[allow(
    unconditional_recursion,
    reason = "running out of stack is what is tested"
)]
fn recurse(depth: u64) -> u64 {
    let room = std::hint::black_box([depth; 64]);
    recurse(depth + 1) + room[0]
}

#[allow(clippy::panic, reason = "a panic at the border is what is tested")]
fn panicking() -> ! {
    panic!("the edge\nis dull")
}

/// Writes into the pipes meant for the program, then answers as if nothing happened.
#[allow(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "noise is what is tested"
)]
fn shout() -> String {
    for number in 0..20_000 {
        println!("noise {number}");
        eprintln!("noise {number}");
    }
    "done: shouted".to_owned()
}

fn allocate(settings: &Value) -> String {
    let mebibytes = settings
        .get("mebibytes")
        .and_then(Value::as_u64)
        .unwrap_or(1 << 20);
    let bytes = usize::try_from(mebibytes << 20).unwrap_or(usize::MAX);
    let room = std::hint::black_box(vec![0_u8; bytes]);
    format!("done: {} MiB", room.len() >> 20)
}

fn write(path: &str) -> std::io::Result<String> {
    let mut file = File::create(path)?;
    file.write_all(b"written by a plugin")?;
    Ok("written".to_owned())
}

fn surroundings() -> String {
    let variables = std::env::vars_os().count();
    let folder = std::env::current_dir();
    let entries =
        fs::read_dir(".").map_or_else(|error| error.to_string(), |list| list.count().to_string());
    let named = folder.map_or_else(|error| error.to_string(), |path| path.display().to_string());
    format!("{variables} variables; folder {named}; entries {entries}")
}
