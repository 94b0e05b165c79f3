#![allow(clippy::unwrap_used)]

use std::{
    collections::{BTreeMap, BTreeSet},
    path::Path,
    process::Command,
};

use super::{
    BEFORE_DIGEST, DIGITS, Known, RELEASED, VERSION, bundle::MODULES, digest, known, page,
};

/// Names that a line at the start of a module declares.
fn declared(line: &str) -> Vec<&str> {
    let line = line.strip_prefix("export ").unwrap_or(line);
    let line = line.strip_prefix("async ").unwrap_or(line);
    let rest = ["function* ", "function ", "const ", "let ", "class "]
        .iter()
        .find_map(|word| line.strip_prefix(word));
    let Some(rest) = rest else { return Vec::new() };
    if let Some(list) = rest.strip_prefix('{').or(rest.strip_prefix('[')) {
        let list = list.split(['}', ']']).next().unwrap();
        return list.split(',').map(str::trim).collect();
    }
    let end = rest.find(|c: char| !(c.is_alphanumeric() || c == '_' || c == '$'));
    vec![&rest[..end.unwrap_or(rest.len())]]
}

/// Names and module of an import, `import { a, b } from './x.js';`.
fn imported(line: &str) -> Option<(Vec<&str>, &str)> {
    let rest = line.strip_prefix("import { ")?.strip_suffix("';")?;
    let (names, module) = rest.split_once(" } from '")?;
    Some((names.split(", ").collect(), module))
}

/// `words/x.js` as seen from `ui/y.js` is `../words/x.js`.
fn resolved(from: &str, module: &str) -> String {
    let folder = from.rsplit_once('/').map_or("", |(folder, _)| folder);
    match (module.strip_prefix("./"), module.strip_prefix("../")) {
        (Some(name), _) => format!("{folder}/{name}"),
        (_, Some(name)) => name.to_owned(),
        _ => module.to_owned(),
    }
}

#[test]
fn names_are_unique_and_every_import_stands_earlier() {
    let mut owners: BTreeMap<&str, &str> = BTreeMap::new();
    let mut exports: BTreeSet<(String, &str)> = BTreeSet::new();
    for (path, text) in MODULES {
        for line in text.lines() {
            if line.starts_with("import") {
                let (names, module) =
                    imported(line).unwrap_or_else(|| panic!("{path}: form not known: {line}"));
                for name in names {
                    let wanted = (resolved(path, module), name);
                    assert!(
                        exports.contains(&wanted),
                        "{path}: {wanted:?} is not exported earlier"
                    );
                }
            }
            let is_list = line.starts_with("export {");
            for name in declared(line).into_iter().filter(|_| !is_list) {
                if let Some(owner) = owners.insert(name, path) {
                    panic!("`{name}` is declared in {owner} and in {path}");
                }
                if line.starts_with("export ") {
                    exports.insert(((*path).to_owned(), name));
                }
            }
            if let Some(list) = line.strip_prefix("export { ") {
                let list = list
                    .strip_suffix(" };")
                    .unwrap_or_else(|| panic!("{path}: {line}"));
                exports.extend(list.split(", ").map(|name| ((*path).to_owned(), name)));
                continue;
            }
            let known_form = !line.starts_with("export ") || !declared(line).is_empty();
            assert!(known_form, "{path}: form of export not known: {line}");
        }
    }
    assert!(owners.len() > 10);
}

#[test]
fn every_module_of_the_folder_is_in_the_page() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("page");
    let mut found = BTreeSet::new();
    for folder in ["core", "ui", "words"] {
        for entry in std::fs::read_dir(root.join(folder)).unwrap() {
            let name = entry.unwrap().file_name().into_string().unwrap();
            found.insert(format!("{folder}/{name}"));
        }
    }
    let listed: BTreeSet<String> = MODULES.iter().map(|(path, _)| (*path).to_owned()).collect();
    assert_eq!(found, listed);
}

#[test]
fn nothing_put_in_ends_its_element() {
    let page = page();
    // Four scripts: three of data, one of code; one style. Anything in them that ends them shows in these counts.
    assert_eq!(page.matches("<script").count(), 4);
    assert_eq!(page.matches("</script").count(), 4);
    assert_eq!(page.matches("</style").count(), 1);
    assert_eq!(page.matches("<!--").count(), 0);
    assert!(!page.contains("@@"));
    assert!(!page.contains('\r'));
}

#[test]
fn the_page_asks_nothing_of_the_network() {
    let page = page();
    assert!(page.contains("default-src 'none'"));
    for word in [
        "fetch(",
        "XMLHttpRequest",
        "WebSocket",
        "sendBeacon",
        "EventSource",
        "eval(",
        "localStorage",
    ] {
        assert!(!page.contains(word), "{word}");
    }
    for scheme in ["src=\"http", "href=\"http", "url(http", "@import"] {
        assert!(!page.contains(scheme), "{scheme}");
    }
}

#[test]
fn the_page_is_released() {
    assert_eq!(RELEASED.last().map(|(version, _)| *version), Some(VERSION));
    if std::env::var_os("BLESS").is_some() {
        #[allow(clippy::print_stderr)]
        {
            eprintln!("put into RELEASED: ({VERSION}, \"{}\")", digest());
        }
    }
    assert_eq!(
        known(page().as_bytes()),
        Known::Released { version: VERSION },
        "the page changed; its digest is {}; BLESS=1 prints the line for RELEASED",
        digest()
    );
}

#[test]
fn a_page_with_one_changed_byte_is_another() {
    let bytes = page().as_bytes();
    let place = page().find(BEFORE_DIGEST).unwrap() + BEFORE_DIGEST.len();
    for at in [
        0,
        200,
        place - 1,
        place,
        place + DIGITS - 1,
        place + DIGITS,
        bytes.len() - 1,
    ] {
        let mut changed = bytes.to_vec();
        changed[at] ^= 1;
        assert_eq!(known(&changed), Known::Other, "byte {at}");
    }
    assert_eq!(known(b""), Known::Other);
    assert_eq!(known(BEFORE_DIGEST.as_bytes()), Known::Other);
    // A second place for a digest would leave open which of the two counts.
    let twice = format!("{}{BEFORE_DIGEST}", page());
    assert_eq!(known(twice.as_bytes()), Known::Other);
}

#[test]
fn the_script_without_rust_makes_the_same_page() {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../.ci/page/bundle.mjs");
    let output = Command::new("node").arg(script).output().unwrap();
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    assert!(
        output.stdout == page().as_bytes(),
        "bundle.mjs makes other bytes than page.rs"
    );
}
