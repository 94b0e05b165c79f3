//! Paths inside a package: which are taken, and what each of them is.

mod place;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use unicode_normalization::{UnicodeNormalization as _, is_nfc};

pub use place::{Place, number_of};

use crate::open::{Refusal, Rule};

/// Longest path, in bytes.
pub const LONGEST_PATH: usize = 240;
/// Longest part of a path, in bytes.
pub const LONGEST_PART: usize = 120;

/// Checks one path from the top of the bag, such as `data/records/01-intake.json`.
///
/// # Errors
/// The rule of the package page that it breaks.
pub fn check(path: &str) -> Result<(), Refusal> {
    if path.len() > LONGEST_PATH {
        let found = format!("{} bytes", path.len());
        return Err(Refusal::new(Rule::PathLength, path, found));
    }
    path.split('/').try_for_each(|part| check_part(path, part))
}

/// Checks one part of `path`.
///
/// # Errors
/// As [`check`].
pub fn check_part(path: &str, part: &str) -> Result<(), Refusal> {
    let refused = |rule, found: String| Err(Refusal::new(rule, path, found));
    if part.len() > LONGEST_PART {
        return refused(
            Rule::PathLength,
            format!("{} bytes in one part", part.len()),
        );
    }
    if matches!(part, "" | "." | "..") || part.ends_with(['.', ' ']) {
        return refused(Rule::PathForm, format!("the part `{}`", shown(part)));
    }
    if let Some(sign) = part.chars().find(|sign| is_barred(*sign)) {
        return refused(
            Rule::PathSigns,
            format!("the sign `{}`", sign.escape_default()),
        );
    }
    if !is_nfc(part) {
        return refused(Rule::PathNormal, format!("the part `{}`", shown(part)));
    }
    let stem = part.split('.').next().unwrap_or_default();
    if is_device(&stem.trim_end_matches(' ').to_lowercase()) {
        return refused(Rule::PathDevice, format!("the part `{}`", shown(part)));
    }
    Ok(())
}

/// Control characters (categories C0, C1 and delete) and what some systems give a meaning to.
fn is_barred(sign: char) -> bool {
    sign.is_control() || matches!(sign, '\\' | ':' | '*' | '?' | '"' | '<' | '>' | '|')
}

/// Names that some systems keep for devices, in small letters.
fn is_device(stem: &str) -> bool {
    let numbered = |name: &str| {
        stem.strip_prefix(name)
            .is_some_and(|rest| matches!(rest.as_bytes(), [digit] if digit.is_ascii_digit()))
    };
    matches!(stem, "con" | "prn" | "aux" | "nul") || numbered("com") || numbered("lpt")
}

/// A path as it may be shown: bounded, nothing in it that moves the cursor or turns the writing.
pub(crate) fn shown(path: &str) -> String {
    let mut text: String = path
        .chars()
        .take(LONGEST_PATH)
        .flat_map(|sign| {
            let plain = !sign.is_control() && !is_format(sign);
            let escaped = (!plain).then(|| sign.escape_unicode());
            escaped.into_iter().flatten().chain(plain.then_some(sign))
        })
        .collect();
    if path.chars().nth(LONGEST_PATH).is_some() {
        text.push('…');
    }
    text
}

/// Marks of direction and width, which nobody sees. Source: Unicode, general category Cf (from memory, the usual ones).
fn is_format(sign: char) -> bool {
    matches!(sign, '\u{ad}' | '\u{61c}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')
}

/// What a path is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    File,
    Folder,
}

/// All paths of a package, with those of the folders above them: no two may be one on some system.
#[derive(Debug)]
pub(crate) struct Paths {
    /// By the path in small letters and form C.
    folded: BTreeMap<String, (String, Kind)>,
    most: usize,
}

impl Paths {
    pub(crate) fn new(most: usize) -> Self {
        Self {
            folded: BTreeMap::new(),
            most,
        }
    }

    /// Adds a file, there or listed, and the folders above it.
    pub(crate) fn file(&mut self, path: &str) -> Result<(), Refusal> {
        check(path)?;
        if let Some((above, _)) = path.rsplit_once('/') {
            self.add_folders(above)?;
        }
        self.add(path, Kind::File)
    }

    /// Whether so many more paths can be taken; asked before they are held.
    pub(crate) fn room_for(&self, above: &str, more: usize) -> Result<(), Refusal> {
        if more <= self.most {
            return Ok(());
        }
        let found = format!("more than {}", self.most);
        Err(Refusal::new(Rule::TooManyPaths, above, found))
    }

    /// Adds a folder, and those above it.
    pub(crate) fn folder(&mut self, path: &str) -> Result<(), Refusal> {
        check(path)?;
        self.add_folders(path)
    }

    fn add_folders(&mut self, path: &str) -> Result<(), Refusal> {
        let ends = path.match_indices('/').map(|(at, _)| at);
        for end in ends.chain([path.len()]) {
            self.add(&path[..end], Kind::Folder)?;
        }
        Ok(())
    }

    fn add(&mut self, path: &str, kind: Kind) -> Result<(), Refusal> {
        let folded: String = path.to_lowercase().nfc().collect();
        if let Some((other, other_kind)) = self.folded.get(&folded) {
            return if other != path {
                let found = format!("`{}` too", shown(other));
                Err(Refusal::new(Rule::SamePath, path, found))
            } else if *other_kind != kind {
                let found = "a folder and a file of this path".to_owned();
                Err(Refusal::new(Rule::SamePath, path, found))
            } else {
                Ok(())
            };
        }
        if self.folded.len() >= self.most {
            let found = format!("more than {}", self.most);
            return Err(Refusal::new(Rule::TooManyPaths, path, found));
        }
        self.folded.insert(folded, (path.to_owned(), kind));
        Ok(())
    }
}
