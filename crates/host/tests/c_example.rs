//! The example in C, `plugins/examples/heft_c`: it builds without a warning, judges real sheets
//! through the host, and stands ten thousand changed requests under the compiler's checks.
#![allow(clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::{
    collections::BTreeMap,
    ffi::OsStr,
    fs,
    path::{Path, PathBuf},
    process::Command,
};

use common::{approvals, failed, host, limits, replied};
use serde_json::{Value, json};
use tangmark_core::{
    Digest,
    record::PhotoFile,
    sheet::{self, SheetFormat},
};
use tangmark_host::{FaultKind, Given, Library, PluginOutcome};
use tangmark_plugin::{CheckRequest, Level, wire};
use tempfile::TempDir;

fn repository() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// Compiles files of the example, warnings being errors.
fn compile(output: &Path, options: &[&str], files: &[&str]) {
    let folder = repository().join("plugins/examples/heft_c");
    let compiled = Command::new("gcc")
        .args(["-std=c11", "-Wall", "-Wextra", "-Werror"])
        .args(options)
        .args([OsStr::new("-o"), output.as_os_str()])
        .args(files)
        .current_dir(folder)
        .output()
        .unwrap_or_else(|error| {
            panic!(
                "gcc cannot be started: {error}\nhint: install it (Debian: `apt-get install gcc \
                 libc6-dev`); this test is not skipped"
            )
        });
    let said = String::from_utf8_lossy(&compiled.stderr);
    assert!(compiled.status.success(), "{said}");
}

fn library(folder: &TempDir) -> Library {
    let path = folder.path().join("libtangmark_heft.so");
    compile(&path, &["-O2", "-shared", "-fPIC"], &["heft.c", "scan.c"]);
    Library::at(&path).unwrap()
}

/// A demo sheet as plugins get it.
fn demo_sheet(name: &str) -> Value {
    let path = repository().join(format!("samples/sheets/{name}.toml"));
    let mut any_photo = |path: &str| {
        Ok(PhotoFile {
            digest: Digest::of(path.as_bytes()),
            length: 1,
            media_type: "image/jpeg".to_owned(),
            width_px: 1600,
            height_px: 380,
            orientation: None,
        })
    };
    let bytes = fs::read(path).unwrap();
    let read = sheet::read(&bytes, SheetFormat::Toml, &mut any_photo).unwrap();
    serde_json::to_value(read).unwrap()
}

fn request(sheet: Value) -> CheckRequest {
    CheckRequest::new(
        "2026-01-02T03:04:05Z",
        "000102030405060708090a0b0c0d0e0f",
        sheet,
    )
}

fn ask(library: &Library, sheet: Value, settings: Value) -> PluginOutcome {
    let given = Given {
        settings,
        ..Given::default()
    };
    let given = BTreeMap::from([("heft".to_owned(), given)]);
    let all = std::slice::from_ref(library);
    host(limits())
        .check(all, &approvals(library), &request(sheet), &given)
        .remove(0)
}

/// Rules and messages of the findings.
fn said(outcome: PluginOutcome) -> Vec<(String, String)> {
    let findings = replied(outcome).reply.findings.into_iter();
    findings.map(|one| (one.rule, one.message)).collect()
}

fn pair(rule: &str, message: &str) -> (String, String) {
    (rule.to_owned(), message.to_owned())
}

#[test]
fn it_judges_sheets_through_the_host() {
    let folder = tempfile::tempdir().unwrap();
    let library = library(&folder);
    // Before work the demo blade `reed` weighs 748.30 g, read on a scale.
    let reed = demo_sheet("reed-before");
    let weighs = pair("heft.mass", "The blade weighs 748.30 g ± 0.24 g (k = 2).");
    let answer = replied(ask(&library, reed.clone(), json!({})));
    let finding = &answer.reply.findings[0];
    assert_eq!(finding.level, Level::Info);
    assert_eq!(finding.evidence, ["/dimensions/mass"]);
    assert_eq!(finding.numbers[0].value, "748.30");
    assert_eq!(
        finding.numbers[0].standard_uncertainty.as_deref(),
        reed.pointer("/dimensions/mass/standard_uncertainty")
            .and_then(Value::as_str)
    );
    assert_eq!(
        said(ask(&library, reed.clone(), json!({}))),
        std::slice::from_ref(&weighs)
    );

    let mut nameless = reed.clone();
    let mass = nameless.pointer_mut("/dimensions/mass").unwrap();
    mass.as_object_mut().unwrap().remove("instrument").unwrap();
    let all = said(ask(&library, nameless, json!({})));
    assert_eq!(all[0].0, "heft.instrument");
    assert_eq!(all[1], weighs);

    let all = said(ask(&library, reed.clone(), json!({"heavy_g": 700.5})));
    assert_eq!(
        all[0],
        pair(
            "heft.heavy",
            "748.30 g ± 0.24 g (k = 2) is more than the 700.5 g set for a bare blade. See whether \
             fittings, a rest or a wrapping lay on the scale, and weigh again."
        )
    );

    let mut without = reed;
    let dimensions = without.pointer_mut("/dimensions").unwrap();
    dimensions.as_object_mut().unwrap().remove("mass").unwrap();
    let answer = replied(ask(&library, without, json!({})));
    assert_eq!(answer.reply.findings[0].rule, "heft.missing");
    assert_eq!(answer.reply.findings[0].evidence, ["/dimensions"]);
    let answer = replied(ask(&library, json!({}), json!({})));
    assert_eq!(answer.reply.findings[0].evidence, [""]);
}

#[test]
fn every_demo_sheet_gets_an_answer() {
    let folder = tempfile::tempdir().unwrap();
    let library = library(&folder);
    for entry in fs::read_dir(repository().join("samples/sheets")).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_stem().unwrap().to_str().unwrap();
        let all = said(ask(&library, demo_sheet(name), json!({})));
        assert!(!all.is_empty(), "{name}");
    }
}

#[test]
fn what_it_cannot_judge_it_refuses() {
    let folder = tempfile::tempdir().unwrap();
    let library = library(&folder);
    let mass = |unit: &str, value: Value| json!({"dimensions": {"mass": {"unit": unit, "value": value, "standard_uncertainty": "1"}}});
    for (sheet, settings, text) in [
        (
            mass("kg", json!("0.7")),
            json!({}),
            "the mass in the sheet is not in g",
        ),
        (
            mass("g", json!("7e2")),
            json!({}),
            "the mass in the sheet has no value that is a decimal",
        ),
        (
            mass("g", json!(["700"])),
            json!({}),
            "the mass in the sheet has no value that is a decimal",
        ),
        (
            json!({}),
            json!({"heavy_g": 49}),
            "the setting `heavy_g` is not a number of grams from 50 to 5000",
        ),
        (
            json!({}),
            json!({"heavy_g": "much"}),
            "the setting `heavy_g` is not a number of grams from 50 to 5000",
        ),
    ] {
        let refused = failed(ask(&library, sheet, settings));
        assert_eq!(refused.kind, FaultKind::Refused);
        let whole = format!("plugin `heft`: it refuses to judge: {text}");
        assert_eq!(refused.fault, whole);
    }
}

#[test]
fn ten_thousand_changed_requests_do_no_harm() {
    let folder = tempfile::tempdir().unwrap();
    let (driver, file) = (
        folder.path().join("mutate"),
        folder.path().join("request.json"),
    );
    compile(
        &driver,
        &[
            "-g",
            "-O1",
            "-fsanitize=address,undefined",
            "-fno-sanitize-recover=all",
        ],
        &["mutate.c", "heft.c", "scan.c"],
    );
    let short = json!({"dimensions": {"mass": demo_sheet("reed-before")["dimensions"]["mass"]}});
    for (name, sheet) in [("whole", demo_sheet("reed-before")), ("short", short)] {
        let asked = CheckRequest {
            settings: json!({"heavy_g": 900}),
            ..request(sheet)
        };
        fs::write(&file, wire::to_bytes(&asked).unwrap()).unwrap();
        let ran = Command::new(&driver)
            .arg(&file)
            .args(["10000", "1"])
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&ran.stdout);
        let cried = String::from_utf8_lossy(&ran.stderr);
        assert!(ran.status.success(), "{name}: {said}{cried}");
        // Both happen: changes that still are JSON, and changes that are none.
        let counts: Vec<u32> = said
            .split(|letter: char| !letter.is_ascii_digit())
            .filter_map(|number| number.parse().ok())
            .collect();
        let [answered, refused, broken] = counts.try_into().expect("three counts");
        assert_eq!((answered + refused, broken), (10_001, 0), "{name}: {said}");
        assert!(answered > 500 && refused > 500, "{name}: {said}");
    }
}
