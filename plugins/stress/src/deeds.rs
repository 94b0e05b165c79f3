//! Deeds a plugin must not do. Each tells what came of it: `done: …` or `refused: …`.

use std::{
    fs::{self, File},
    io::Write as _,
    net::{TcpListener, TcpStream, UdpSocket},
    os::{
        fd::{AsFd as _, OwnedFd},
        unix::{net::UnixListener, net::UnixStream, process::CommandExt as _},
    },
    process::Command,
    thread,
    time::{Duration, Instant, SystemTime},
};

use serde_json::Value;
use tangmark_plugin::stress;

/// Performs the deed, or returns `None` when there is none of this name.
pub(crate) fn perform(deed: &str, settings: &Value) -> Option<String> {
    let text = |name: &str| settings.get(name).and_then(Value::as_str);
    let number = |name: &str| settings.get(name).and_then(Value::as_u64);
    // Nothing that is there is ever changed by default.
    let path = text("path").unwrap_or("/nonexistent/target");
    Some(match deed {
        "hang" => hang(),
        "nap" => nap(number("milliseconds").unwrap_or(0)),
        "spin" => spin(number("milliseconds").unwrap_or(u64::MAX)),
        "exit" => leave(),
        "abort" => std::process::abort(),
        "overflow-stack" => format!("done: {}", recurse(0)),
        "panic" => panicking(),
        "shout" => shout(),
        "allocate" => allocate(number("mebibytes").unwrap_or(1 << 20)),
        "take-descriptors" => told(take_descriptors(number("count").unwrap_or(0))),
        "read-file" => told(
            fs::read(text("path").unwrap_or("/etc/passwd"))
                .map(|bytes| format!("read {} bytes", bytes.len())),
        ),
        "list-folder" => told(fs::read_dir(path).map(|list| format!("{} entries", list.count()))),
        "write-file" => told(write(path)),
        "append-file" => told(append(path)),
        "make-folder" => told(fs::create_dir(path).map(|()| "made".to_owned())),
        "rename-file" => told(fs::rename(path, format!("{path}-2")).map(|()| "renamed".to_owned())),
        "remove-file" => told(fs::remove_file(path).map(|()| "removed".to_owned())),
        "open-socket" => told(TcpListener::bind("127.0.0.1:0").map(|_| "listening".to_owned())),
        "connect" => told(connect(text("address").unwrap_or("127.0.0.1:1"))),
        "send-datagram" => told(send(text("address").unwrap_or("127.0.0.1:1"))),
        "unix-socket" => told(UnixListener::bind(path).map(|_| "listening".to_owned())),
        "socket-pair" => told(UnixStream::pair().map(|_| "paired".to_owned())),
        "spawn" => told(spawn(path)),
        "fork" => told(stress::make_process().map(|()| "forked".to_owned())),
        "signal" => {
            let process = number("process").and_then(|number| i32::try_from(number).ok());
            told(stress::signal(process.unwrap_or(0)).map(|()| "signalled".to_owned()))
        }
        "exec" => told(Err(Command::new("/usr/bin/touch").arg(path).exec())),
        "thread" => told(
            thread::Builder::new()
                .spawn(|| ())
                .map(|_| "started".to_owned()),
        ),
        "say-surroundings" => surroundings(),
        "say-clock" => clock(),
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

/// Sleeps for a while.
fn nap(milliseconds: u64) -> String {
    thread::sleep(Duration::from_millis(milliseconds));
    "done: slept".to_owned()
}

/// Keeps the processor busy for a while.
fn spin(milliseconds: u64) -> String {
    let (start, long) = (Instant::now(), Duration::from_millis(milliseconds));
    while start.elapsed() < long {
        std::hint::spin_loop();
    }
    "done: spun".to_owned()
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

fn allocate(mebibytes: u64) -> String {
    let bytes = usize::try_from(mebibytes << 20).unwrap_or(usize::MAX);
    let room = std::hint::black_box(vec![0_u8; bytes]);
    format!("done: {} MiB", room.len() >> 20)
}

fn take_descriptors(count: u64) -> std::io::Result<String> {
    let input = std::io::stdin();
    let copy = |_| input.as_fd().try_clone_to_owned();
    let taken: Vec<OwnedFd> = (0..count).map(copy).collect::<Result<_, _>>()?;
    Ok(format!("{} descriptors", taken.len()))
}

fn write(path: &str) -> std::io::Result<String> {
    let mut file = File::create(path)?;
    file.write_all(b"written by a plugin")?;
    Ok("written".to_owned())
}

fn append(path: &str) -> std::io::Result<String> {
    let mut file = File::options().append(true).open(path)?;
    file.write_all(b" and by a plugin")?;
    Ok("appended".to_owned())
}

fn connect(address: &str) -> std::io::Result<String> {
    TcpStream::connect(address)?.write_all(b"sent by a plugin")?;
    Ok("connected".to_owned())
}

fn send(address: &str) -> std::io::Result<String> {
    UdpSocket::bind("127.0.0.1:0")?.send_to(b"sent by a plugin", address)?;
    Ok("sent".to_owned())
}

/// Starts a program that makes an empty file.
fn spawn(path: &str) -> std::io::Result<String> {
    let status = Command::new("/usr/bin/touch").arg(path).status()?;
    Ok(status.to_string())
}

fn clock() -> String {
    let now = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH);
    format!(
        "done: {} s",
        now.map_or(0, |since_epoch| since_epoch.as_secs())
    )
}

fn surroundings() -> String {
    let variables = std::env::vars_os().count();
    let folder = std::env::current_dir();
    let entries =
        fs::read_dir(".").map_or_else(|error| error.to_string(), |list| list.count().to_string());
    let named = folder.map_or_else(|error| error.to_string(), |path| path.display().to_string());
    format!("{variables} variables; folder {named}; entries {entries}")
}
