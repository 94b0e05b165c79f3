//! Passphrases: by prompt, or from a file, pipe or descriptor; never by argument or environment.

use std::fs::File;
use std::io::{self, IsTerminal as _, Read};
use std::path::{Path, PathBuf};

use clap::Args;
use unicode_normalization::UnicodeNormalization as _;
use zeroize::Zeroizing;

use crate::outcome::Failure;

/// Longest passphrase, in bytes.
const LONGEST: u64 = 1024;

/// Where the passphrase comes from.
#[derive(Debug, Args)]
pub(crate) struct Source {
    /// Read the passphrase from a file of one line, or from `-` (standard input); without it you are asked
    ///
    /// A descriptor can be named as `/dev/fd/3`. A passphrase is never taken from an argument or the environment,
    /// where other programs could see it.
    #[arg(long, value_name = "PATH|-")]
    passphrase_file: Option<PathBuf>,
}

impl Source {
    /// Tells whether a passphrase can be had: a file is named, or somebody sits at the terminal.
    pub(crate) fn can_be_had(&self) -> bool {
        self.passphrase_file.is_some() || io::stdin().is_terminal()
    }

    /// Returns the passphrase that opens an existing key.
    pub(crate) fn existing(&self) -> Result<Zeroizing<String>, Failure> {
        match &self.passphrase_file {
            Some(path) => from_file(path),
            None => prompt("Passphrase of the signing key: ", "--passphrase-file"),
        }
    }

    /// Returns a new passphrase; typed ones are asked for twice.
    pub(crate) fn fresh(&self) -> Result<Zeroizing<String>, Failure> {
        fresh(self.passphrase_file.as_deref(), "--passphrase-file")
    }

    /// The file that was named.
    pub(crate) fn file(&self) -> Option<&Path> {
        self.passphrase_file.as_deref()
    }
}

/// Where the passphrase of a new key comes from, beside that of the one there is.
#[derive(Debug, Args)]
pub(crate) struct New {
    /// Read the new passphrase from a file of one line, or from `-` (standard input); without it you are asked twice
    #[arg(long, value_name = "PATH|-")]
    new_passphrase_file: Option<PathBuf>,
}

impl New {
    /// Returns the new passphrase; typed ones are asked for twice.
    pub(crate) fn fresh(&self) -> Result<Zeroizing<String>, Failure> {
        fresh(self.new_passphrase_file.as_deref(), "--new-passphrase-file")
    }

    /// Refuses two secrets that are both to be read from standard input, which has one line for one of them.
    pub(crate) fn apart_from(&self, other: Option<&Path>) -> Result<(), Failure> {
        let stdin = Some(Path::new("-"));
        if self.new_passphrase_file.as_deref() == stdin && other == stdin {
            return Err(Failure::usage(
                "two secrets are to be read from standard input, one is allowed",
                "name a file or a descriptor such as `/dev/fd/3` for one of them",
            ));
        }
        Ok(())
    }
}

fn fresh(file: Option<&Path>, option: &str) -> Result<Zeroizing<String>, Failure> {
    if let Some(path) = file {
        return from_file(path);
    }
    let first = prompt("New passphrase, several words: ", option)?;
    let second = prompt("The same again: ", option)?;
    if first == second {
        Ok(first)
    } else {
        Err(Failure::new(
            "the two passphrases differ; nothing was made",
            "run the command again",
        ))
    }
}

/// Reads one secret line from a file, or asks for it without showing what is typed; `option` names the file.
pub(crate) fn secret(
    file: Option<&Path>,
    question: &str,
    option: &str,
) -> Result<Zeroizing<String>, Failure> {
    file.map_or_else(|| prompt(question, option), from_file)
}

fn prompt(question: &str, option: &str) -> Result<Zeroizing<String>, Failure> {
    let text = rpassword::prompt_password(question)
        .map(Zeroizing::new)
        .map_err(|error| nobody_to_ask(&error, option))?;
    Ok(composed(&text))
}

fn nobody_to_ask(error: &io::Error, option: &str) -> Failure {
    Failure::new(
        format!("nobody can be asked here: {error}"),
        format!("run it in a terminal, or name a file with `{option} PATH`"),
    )
}

fn from_file(path: &Path) -> Result<Zeroizing<String>, Failure> {
    let fail = |error: &io::Error| Failure::file("read the passphrase", path, error);
    let bytes = if path == Path::new("-") {
        read(io::stdin().lock())
    } else {
        File::open(path).and_then(read)
    }
    .map_err(|error| fail(&error))?;
    one_line(&bytes).map_err(|what| {
        let place = if path == Path::new("-") {
            "standard input".to_owned()
        } else {
            path.display().to_string()
        };
        Failure::new(
            format!("{place}: {what}"),
            "put the passphrase alone on one line of UTF-8 text",
        )
    })
}

fn read(source: impl Read) -> io::Result<Zeroizing<Vec<u8>>> {
    let mut bytes = Zeroizing::new(Vec::with_capacity(
        usize::try_from(LONGEST).unwrap_or(0) + 1,
    ));
    source.take(LONGEST + 1).read_to_end(&mut bytes)?;
    Ok(bytes)
}

fn one_line(bytes: &[u8]) -> Result<Zeroizing<String>, String> {
    if bytes.len() as u64 > LONGEST {
        return Err(format!("the passphrase is longer than {LONGEST} bytes"));
    }
    let text = str::from_utf8(bytes).map_err(|_| "the passphrase is not UTF-8 text".to_owned())?;
    let line = text.strip_suffix('\n').unwrap_or(text);
    let line = line.strip_suffix('\r').unwrap_or(line);
    if line.contains(['\n', '\r']) {
        return Err(format!(
            "{} lines found, one is allowed",
            line.lines().count()
        ));
    }
    if line.is_empty() {
        return Err("the passphrase is empty, at least one character is allowed".to_owned());
    }
    Ok(composed(line))
}

/// Brings a passphrase to Unicode form C, so that keyboards of two computers give the same bytes.
fn composed(text: &str) -> Zeroizing<String> {
    Zeroizing::new(text.nfc().collect())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn without_a_terminal_the_option_of_this_very_secret_is_named() {
        let error = io::Error::from(io::ErrorKind::NotFound);
        for option in [
            "--passphrase-file",
            "--new-passphrase-file",
            "--recovery-file",
        ] {
            let failure = nobody_to_ask(&error, option);
            assert!(
                failure
                    .hint()
                    .unwrap()
                    .ends_with(&format!("`{option} PATH`"))
            );
        }
    }

    #[test]
    fn a_file_holds_one_line() {
        assert_eq!(
            one_line(b"three old words\r\n").unwrap().as_str(),
            "three old words"
        );
        assert_eq!(
            one_line(b"  spaces stay ").unwrap().as_str(),
            "  spaces stay "
        );
        assert_eq!(one_line("e\u{301}".as_bytes()).unwrap().as_str(), "\u{e9}");
        assert_eq!(
            one_line(b"a\nb\n").unwrap_err(),
            "2 lines found, one is allowed"
        );
        assert_eq!(
            one_line(b"\n").unwrap_err(),
            "the passphrase is empty, at least one character is allowed"
        );
        assert_eq!(
            one_line(b"\xff").unwrap_err(),
            "the passphrase is not UTF-8 text"
        );
        assert_eq!(
            one_line(&[b'a'; 1025]).unwrap_err(),
            "the passphrase is longer than 1024 bytes"
        );
    }
}
