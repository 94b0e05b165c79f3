//! Tag files of a bag: `bagit.txt` and manifests. Source: RFC 8493, 2.1.

use std::collections::BTreeMap;

use tangmark_core::Digest;

use crate::open::{Refusal, Rule};

/// The declaration.
pub const DECLARATION: &str = "bagit.txt";
/// Digests of the files in `data/`.
pub const PAYLOAD_MANIFEST: &str = "manifest-sha256.txt";
/// Digests of the files outside.
pub const TAG_MANIFEST: &str = "tagmanifest-sha256.txt";
/// Names files to be fetched over a network, which no package has.
pub const FETCH: &str = "fetch.txt";

/// Path and digest of each line of a manifest.
pub type Manifest = BTreeMap<String, Digest>;

/// Checks `bagit.txt`.
///
/// # Errors
/// When it is not the two lines of version 1.0 in UTF-8.
pub fn check_declaration(bytes: &[u8]) -> Result<(), Refusal> {
    let text = String::from_utf8_lossy(bytes).replace("\r\n", "\n");
    if text == "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n" {
        return Ok(());
    }
    let start: String = text.chars().take(80).flat_map(char::escape_debug).collect();
    Err(Refusal::new(
        Rule::Declaration,
        DECLARATION,
        format!("begins `{start}`"),
    ))
}

/// Reads `manifest-sha256.txt` or `tagmanifest-sha256.txt`, which `name` says.
///
/// # Errors
/// The first line that is not as the package page has it.
pub fn read_manifest(name: &str, bytes: &[u8]) -> Result<Manifest, Refusal> {
    let refused =
        |line: usize, what: &str| Refusal::new(Rule::Manifest, name, format!("line {line} {what}"));
    let text = std::str::from_utf8(bytes).map_err(|_| refused(1, "or a later one is no UTF-8"))?;
    let mut manifest = Manifest::new();
    for (index, line) in text.split_inclusive('\n').enumerate() {
        let number = index + 1;
        let line = line
            .strip_suffix('\n')
            .ok_or_else(|| refused(number, "does not end in LF or CRLF"))?;
        let line = line.strip_suffix('\r').unwrap_or(line);
        let (digest, rest) = line
            .split_once(' ')
            .ok_or_else(|| refused(number, "has no space"))?;
        let digest = digest.parse().map_err(|_| {
            refused(
                number,
                "does not begin with 64 lower-case hexadecimal digits",
            )
        })?;
        let path = decoded(rest.strip_prefix(' ').unwrap_or(rest))
            .ok_or_else(|| refused(number, "has a `%` that is none of %0A, %0D, %25"))?;
        // Checked before it is compared, so that nothing unchecked is ever shown.
        crate::path::check(&path)?;
        if path.starts_with("data/") != (name == PAYLOAD_MANIFEST) {
            return Err(refused(number, "lists a file of the other manifest"));
        }
        if manifest.insert(path, digest).is_some() {
            return Err(refused(number, "lists a path a second time"));
        }
    }
    Ok(manifest)
}

/// Takes the percent codes out. Source: RFC 8493, 2.1.3.
fn decoded(text: &str) -> Option<String> {
    let mut parts = text.split('%');
    let mut path = parts.next()?.to_owned();
    for part in parts {
        let (sign, rest) = [("0A", '\n'), ("0D", '\r'), ("25", '%')]
            .iter()
            .find_map(|(code, sign)| Some((sign, part.strip_prefix(code)?)))?;
        path.push(*sign);
        path.push_str(rest);
    }
    Some(path)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const DIGITS: &str = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";

    fn read(text: &str) -> Result<Manifest, Refusal> {
        read_manifest(PAYLOAD_MANIFEST, text.as_bytes())
    }

    #[test]
    fn the_declaration_is_two_lines() {
        let good = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";
        assert_eq!(check_declaration(good.as_bytes()), Ok(()));
        assert_eq!(
            check_declaration(good.replace('\n', "\r\n").as_bytes()),
            Ok(())
        );
        for bad in [
            good.replace("1.0", "0.97"),
            good.replace("UTF-8", "UTF-16"),
            good.trim_end().to_owned(),
            format!("{good}More: 1\n"),
            format!("\u{feff}{good}"),
            String::new(),
        ] {
            let refusal = check_declaration(bad.as_bytes()).unwrap_err();
            assert_eq!(refusal.rule, Rule::Declaration, "{bad:?}");
        }
    }

    #[test]
    fn lines_may_end_in_crlf_and_have_one_space_or_two() {
        let text = format!("{DIGITS}  data/a b\r\n{DIGITS} data/100%25\n");
        let manifest = read(&text).unwrap();
        let paths: Vec<&str> = manifest.keys().map(String::as_str).collect();
        assert_eq!(paths, ["data/100%", "data/a b"]);
        assert_eq!(manifest["data/a b"], Digest::of(b"abc"));
        assert!(read("").unwrap().is_empty());
    }

    #[test]
    fn lines_of_another_form_are_refused() {
        for (text, words) in [
            (
                format!("{DIGITS}  data/a"),
                "line 1 does not end in LF or CRLF",
            ),
            (format!("{DIGITS}\tdata/a\n"), "line 1 has no space"),
            (format!("{DIGITS}  data/a\n\n"), "line 2 has no space"),
            (
                format!("{}  data/a\n", DIGITS.to_uppercase()),
                "line 1 does not begin with 64 lower-case hexadecimal digits",
            ),
            (
                format!("{}  data/a\n", &DIGITS[1..]),
                "line 1 does not begin with 64 lower-case hexadecimal digits",
            ),
            (
                format!("\u{feff}{DIGITS}  data/a\n"),
                "line 1 does not begin with 64 lower-case hexadecimal digits",
            ),
            (
                format!("{DIGITS}  data/a%2e\n"),
                "line 1 has a `%` that is none of %0A, %0D, %25",
            ),
            (
                format!("{DIGITS}  data/a%\n"),
                "line 1 has a `%` that is none of %0A, %0D, %25",
            ),
            (
                format!("{DIGITS}  bagit.txt\n"),
                "line 1 lists a file of the other manifest",
            ),
            (
                format!("{DIGITS}  data/a\n{DIGITS}  data/a\n"),
                "line 2 lists a path a second time",
            ),
        ] {
            let refusal = read(&text).unwrap_err();
            assert_eq!(
                (refusal.rule, refusal.found.as_str()),
                (Rule::Manifest, words),
                "{text:?}"
            );
        }
        let other = format!("{DIGITS}  data/a\n");
        assert!(read_manifest(TAG_MANIFEST, other.as_bytes()).is_err());
        assert!(read_manifest(TAG_MANIFEST, b"\xff\n").is_err());
    }

    #[test]
    fn case_50_listed_paths_follow_the_rules_of_paths() {
        for (path, rule) in [
            ("data/../x", Rule::PathForm),
            ("/data/x", Rule::PathForm),
            ("   data/x", Rule::PathForm),
            ("data/a%0Ab", Rule::PathSigns),
            ("data/a\rb", Rule::PathSigns),
            ("*data/x", Rule::PathSigns),
            ("data/nul", Rule::PathDevice),
        ] {
            let refusal = read(&format!("{DIGITS}  {path}\n")).unwrap_err();
            let expected = if path.starts_with(' ') {
                Rule::Manifest
            } else {
                rule
            };
            assert_eq!(refusal.rule, expected, "{path}");
        }
    }
}
