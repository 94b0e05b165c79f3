//! Time evidence through the built command, with OpenSSL as a time authority on this machine.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpListener;
use std::path::Path;
use std::process::Command;
use std::thread;

use common::{Bench, text};

fn openssl(bench: &Bench, words: &str) {
    openssl_in(bench.folder.path(), words);
}

fn openssl_in(folder: &Path, words: &str) {
    let done = Command::new("openssl")
        .args(words.split_whitespace())
        .current_dir(folder)
        .output()
        .unwrap();
    assert!(
        done.status.success(),
        "{words}: {}",
        String::from_utf8_lossy(&done.stderr)
    );
}

/// A workshop with one record, and a time authority of that name beside it.
fn bench() -> Bench {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("reed-before");
    bench.seal("reed", "before_work", "work").code(0);
    authority(&bench, "harbour", "timeStamping");
    bench
}

fn authority(bench: &Bench, name: &str, usage: &str) {
    fs::write(
        bench.path("ts.cnf"),
        "[tsa]\ndefault_tsa = here\n[here]\nserial = serial\ndefault_policy = 1.2.3.4.1\ndigests = sha256\n\
         signer_digest = sha256\ness_cert_id_alg = sha256\n",
    )
    .unwrap();
    fs::write(bench.path("serial"), "01\n").unwrap();
    openssl(
        bench,
        &format!(
            "req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -days 30 -subj /CN=Office-{name} -keyout {name}.key \
             -out {name}.pem -addext basicConstraints=critical,CA:FALSE -addext extendedKeyUsage=critical,{usage} \
             -addext keyUsage=critical,digitalSignature"
        ),
    );
}

fn stamp(bench: &Bench, name: &str, question: &str, answer: &str) {
    stamp_in(bench.folder.path(), name, question, answer);
}

fn stamp_in(folder: &Path, name: &str, question: &str, answer: &str) {
    openssl_in(
        folder,
        &format!(
            "ts -reply -config ts.cnf -queryfile {question} -signer {name}.pem -inkey {name}.key -out {answer}"
        ),
    );
}

fn record(bench: &Bench) -> String {
    let found = fs::read_dir(bench.path("w/out"))
        .unwrap()
        .find_map(|entry| {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            let wanted = name.starts_with("reed-01") && !name.contains("disclosures");
            (wanted && path.extension().is_some_and(|ending| ending == "json"))
                .then(|| format!("w/out/{name}"))
        });
    found.expect("a sealed record in w/out")
}

#[test]
fn an_answer_is_kept_beside_its_record_and_verify_hears_it() {
    let bench = bench();
    let ran = bench
        .work(&["time", "request", "reed", "--out", "reed.tsq"])
        .code(0);
    assert!(
        ran.out.starts_with("reed.tsq: request to stamp record 1, "),
        "{}",
        ran.out
    );
    stamp(&bench, "harbour", "reed.tsq", "reed.tsr");
    let ran = bench
        .work(&[
            "time",
            "add",
            "reed",
            "reed.tsr",
            "--request",
            "reed.tsq",
            "--json",
        ])
        .code(0);
    let answer = ran.json();
    assert_eq!(text(&answer["evidence"], "standing"), "unknown");
    assert!(
        ran.err.contains("hint: add the authority's certificate"),
        "{}",
        ran.err
    );
    bench
        .work(&[
            "time",
            "authority",
            "add",
            "harbour",
            "--certificate",
            "harbour.pem",
        ])
        .code(0);
    let listed = bench
        .work(&["time", "list", "reed", "--json"])
        .code(0)
        .json();
    assert_eq!(text(&listed[0]["evidence"], "standing"), "trusted");
    assert_eq!(text(&listed[0]["evidence"], "authority"), "Office-harbour");
    assert_eq!(listed[0]["sequence"], 1);
    let again = bench
        .work(&["time", "add", "reed", "reed.tsr", "--record", "1"])
        .code(0);
    assert!(again.out.ends_with("kept already\n"), "{}", again.out);
    // What is kept outlives the index.
    fs::remove_file(bench.path("w/workshop.db")).unwrap();
    bench
        .work(&["store", "rebuild", "--passphrase-file", "pass.txt"])
        .code(0);
    let listed = bench
        .work(&["time", "list", "reed", "--json"])
        .code(0)
        .json();
    assert_eq!(text(&listed[0]["evidence"], "standing"), "unknown");

    // A stranger with the file and the answer.
    let record = record(&bench);
    let verdict = |words: &[&str], code: i32| {
        bench
            .run(&[&["verify", &record, "--json", "--no-remember"], words].concat())
            .code(code)
            .json()
    };
    let plain = verdict(&[], 2);
    assert_eq!(text(&plain["time"], "state"), "own_word");
    let heard = verdict(&["--timestamp", "reed.tsr"], 2);
    assert_eq!(text(&heard["time"], "state"), "not_later_than");
    assert_eq!(text(&heard["time"], "standing"), "unknown");
    let trusted = verdict(
        &["--timestamp", "reed.tsr", "--authority", "harbour.pem"],
        2,
    );
    assert_eq!(text(&trusted["time"], "standing"), "trusted");
    let by_hand = text(&plain, "record").to_owned();
    openssl(
        &bench,
        &format!("ts -verify -digest {by_hand} -in reed.tsr -CAfile harbour.pem"),
    );
}

/// Case 64.
#[test]
fn a_token_over_other_data_is_refused_and_nothing_is_kept() {
    let bench = bench();
    fs::write(bench.path("other.txt"), "another record").unwrap();
    openssl(
        &bench,
        "ts -query -data other.txt -sha256 -cert -out other.tsq",
    );
    stamp(&bench, "harbour", "other.tsq", "other.tsr");
    let ran = bench.work(&["time", "add", "reed", "other.tsr"]).code(1);
    assert!(
        ran.err
            .contains("which is the name of no record of blade `reed`"),
        "{}",
        ran.err
    );
    let ran = bench
        .work(&["time", "add", "reed", "other.tsr", "--record", "1"])
        .code(1);
    assert!(ran.err.contains("was to be stamped"), "{}", ran.err);
    assert!(ran.err.contains("\nhint: "), "{}", ran.err);
    let record = record(&bench);
    let ran = bench
        .run(&[
            "verify",
            &record,
            "--no-remember",
            "--timestamp",
            "other.tsr",
        ])
        .code(1);
    assert!(
        ran.err.contains("refused: other.tsr: timestamp: it stamps"),
        "{}",
        ran.err
    );
    // Who hands in a timestamp that is none is not remembered.
    let with_memory = ["verify", &record, "--memory", "their", "--json"];
    bench
        .run(&[&with_memory[..], &["--timestamp", "other.tsr"]].concat())
        .code(1);
    let again = bench.run(&with_memory).code(2).json();
    assert_eq!(text(&again["signer"], "state"), "new");
    let listed = bench
        .work(&["time", "list", "reed", "--json"])
        .code(0)
        .json();
    assert_eq!(listed, serde_json::json!([]));
}

/// Case 64.
#[test]
fn an_answer_that_breaks_a_rule_is_refused_by_name() {
    let bench = bench();
    bench
        .work(&["time", "request", "reed", "--out", "reed.tsq"])
        .code(0);
    stamp(&bench, "harbour", "reed.tsq", "reed.tsr");
    let ran = bench.work(&["time", "add", "reed", "reed.tsq"]).code(1);
    assert!(
        ran.err
            .contains("this is a request, not the authority's answer"),
        "{}",
        ran.err
    );
    bench
        .work(&["time", "request", "reed", "--out", "again.tsq"])
        .code(0);
    let ran = bench
        .work(&["time", "add", "reed", "reed.tsr", "--request", "again.tsq"])
        .code(1);
    assert!(
        ran.err.contains("it answers another request"),
        "{}",
        ran.err
    );
    let mut flipped = fs::read(bench.path("reed.tsr")).unwrap();
    *flipped.last_mut().unwrap() ^= 1;
    fs::write(bench.path("flipped.tsr"), &flipped).unwrap();
    let ran = bench.work(&["time", "add", "reed", "flipped.tsr"]).code(1);
    assert!(
        ran.err.contains("the signature does not fit"),
        "{}",
        ran.err
    );
    fs::write(bench.path("long.tsr"), vec![b'0'; 70_000]).unwrap();
    let ran = bench.work(&["time", "add", "reed", "long.tsr"]).code(1);
    assert!(
        ran.err.contains("at most 65536 bytes are read"),
        "{}",
        ran.err
    );
    let ran = bench
        .work(&["time", "request", "reed", "--out", "reed.tsq"])
        .code(1);
    assert!(ran.err.contains("exists already"), "{}", ran.err);
    bench.work(&["time", "add", "reed"]).code(4);
}

#[test]
fn an_authority_of_the_workshop_never_counts_as_outside() {
    let bench = bench();
    bench
        .work(&["time", "request", "reed", "--out", "reed.tsq"])
        .code(0);
    stamp(&bench, "harbour", "reed.tsq", "reed.tsr");
    let ran = bench
        .work(&[
            "time",
            "authority",
            "add",
            "cellar",
            "--certificate",
            "harbour.pem",
            "--own",
        ])
        .code(0);
    assert!(
        ran.out.contains("run by the workshop itself"),
        "{}",
        ran.out
    );
    let ran = bench.work(&["time", "add", "reed", "reed.tsr"]).code(0);
    assert!(
        ran.out.contains("its own word, no outside evidence"),
        "{}",
        ran.out
    );
    // Added once more as an outside one it stays the workshop's.
    bench
        .work(&[
            "time",
            "authority",
            "add",
            "harbour",
            "--certificate",
            "harbour.pem",
        ])
        .code(0);
    let listed = bench
        .work(&["time", "list", "reed", "--json"])
        .code(0)
        .json();
    assert_eq!(text(&listed[0]["evidence"], "standing"), "workshop");
    let names = bench
        .work(&["time", "authority", "list", "--json"])
        .code(0)
        .json();
    assert_eq!(
        (text(&names[0], "name"), text(&names[1], "name")),
        ("cellar", "harbour")
    );
    bench
        .work(&["time", "authority", "remove", "cellar"])
        .code(0);
    let listed = bench
        .work(&["time", "list", "reed", "--json"])
        .code(0)
        .json();
    assert_eq!(text(&listed[0]["evidence"], "standing"), "trusted");
    let ran = bench
        .work(&["time", "authority", "remove", "cellar"])
        .code(1);
    assert!(
        ran.err
            .contains("no time authority `cellar`; there are harbour"),
        "{}",
        ran.err
    );
    let ran = bench
        .work(&["time", "authority", "add", "x", "--certificate", "pass.txt"])
        .code(1);
    assert!(
        ran.err.contains("no block `BEGIN CERTIFICATE` was found"),
        "{}",
        ran.err
    );
}

#[test]
fn a_report_carries_its_timestamp_inside_the_signature() {
    let bench = bench();
    let report = bench.path("reed.pdf");
    bench
        .work(&[
            "report",
            "reed",
            "--out",
            report.to_str().unwrap(),
            "--passphrase-file",
            "pass.txt",
        ])
        .code(0);
    bench
        .run(&["time", "request", "--pdf", "reed.pdf", "--out", "pdf.tsq"])
        .code(0);
    stamp(&bench, "harbour", "pdf.tsq", "pdf.tsr");
    let ran = bench
        .run(&[
            "time",
            "add",
            "--pdf",
            "reed.pdf",
            "pdf.tsr",
            "--request",
            "pdf.tsq",
            "--out",
            "timed.pdf",
        ])
        .code(0);
    assert!(
        ran.out
            .starts_with("timed.pdf: the report existed not later than "),
        "{}",
        ran.out
    );
    let (before, after) = (
        fs::read(&report).unwrap(),
        fs::read(bench.path("timed.pdf")).unwrap(),
    );
    assert_eq!(before.len(), after.len());
    let ran = bench
        .run(&[
            "verify",
            "timed.pdf",
            "--json",
            "--no-remember",
            "--authority",
            "harbour.pem",
        ])
        .code(2);
    let verdict = ran.json();
    assert_eq!(text(&verdict["bytes"], "state"), "intact");
    assert_eq!(text(&verdict["time"], "state"), "not_later_than");
    assert_eq!(text(&verdict["time"], "standing"), "trusted");
    // The answer beside the report that was stamped says the same.
    let ran = bench
        .run(&[
            "verify",
            "reed.pdf",
            "--json",
            "--no-remember",
            "--timestamp",
            "pdf.tsr",
            "--authority",
            "harbour.pem",
        ])
        .code(2);
    assert_eq!(text(&ran.json()["time"], "standing"), "trusted");
    for (words, said) in [
        (
            ["time", "request", "--pdf", "timed.pdf", "--out", "x.tsq"].as_slice(),
            "carries a time token already",
        ),
        (
            ["time", "request", "--pdf", "pass.txt", "--out", "x.tsq"].as_slice(),
            "PDF to be stamped: ",
        ),
        (
            [
                "time",
                "add",
                "--pdf",
                "reed.pdf",
                "pdf.tsr",
                "--out",
                "timed.pdf",
            ]
            .as_slice(),
            "exists already",
        ),
    ] {
        let ran = bench.run(words).code(1);
        assert!(ran.err.contains(said), "{}", ran.err);
        assert!(ran.err.contains("\nhint: "), "{}", ran.err);
    }
    assert!(!bench.path("x.tsq").exists());
    bench
        .work(&["time", "request", "reed", "--out", "reed.tsq"])
        .code(0);
    stamp(&bench, "harbour", "reed.tsq", "reed.tsr");
    let ran = bench
        .run(&[
            "time",
            "add",
            "--pdf",
            "reed.pdf",
            "reed.tsr",
            "--out",
            "other.pdf",
        ])
        .code(1);
    assert!(ran.err.contains("was to be stamped"), "{}", ran.err);
    assert!(!bench.path("other.pdf").exists());
}

/// Answers one request over HTTP with what `answer` makes of its body; returns the head of the request.
fn serve(
    status: &'static str,
    kind: &'static str,
    answer: impl FnOnce(&[u8]) -> Vec<u8> + Send + 'static,
) -> (String, thread::JoinHandle<String>) {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let url = format!("http://{}/stamp", listener.local_addr().unwrap());
    let served = thread::spawn(move || {
        let (stream, _) = listener.accept().unwrap();
        let mut reader = BufReader::new(stream);
        let (mut head, mut length) = (String::new(), 0);
        loop {
            let mut line = String::new();
            reader.read_line(&mut line).unwrap();
            if let Some(number) = line.to_lowercase().strip_prefix("content-length:") {
                length = number.trim().parse().unwrap();
            }
            head.push_str(&line);
            if line == "\r\n" {
                break;
            }
        }
        let mut body = vec![0; length];
        reader.read_exact(&mut body).unwrap();
        let body = answer(&body);
        let mut stream = reader.into_inner();
        write!(
            stream,
            "HTTP/1.1 {status}\r\nContent-Type: {kind}\r\nContent-Length: {}\r\nConnection: close\r\n\r\n",
            body.len()
        )
        .unwrap();
        stream.write_all(&body).unwrap();
        head
    });
    (url, served)
}

#[test]
fn fetch_sends_the_request_alone_and_keeps_the_answer() {
    let bench = bench();
    let folder = bench.folder.path().to_owned();
    let (url, served) = serve("200 OK", "application/timestamp-reply", move |body| {
        fs::write(folder.join("asked.tsq"), body).unwrap();
        stamp_in(&folder, "harbour", "asked.tsq", "answered.tsr");
        fs::read(folder.join("answered.tsr")).unwrap()
    });
    bench
        .work(&[
            "time",
            "authority",
            "add",
            "harbour",
            "--certificate",
            "harbour.pem",
            "--url",
            &url,
        ])
        .code(0);
    let stamped = bench
        .work(&["time", "fetch", "reed", "--authority", "harbour", "--json"])
        .code(0)
        .json();
    assert_eq!(text(&stamped["evidence"], "standing"), "trusted");
    let head = served.join().unwrap();
    assert!(head.starts_with("POST /stamp HTTP/1.1\r\n"), "{head}");
    let names: Vec<String> = head
        .lines()
        .skip(1)
        .filter_map(|line| line.split_once(':').map(|(name, _)| name.to_lowercase()))
        .collect();
    for name in &names {
        assert!(
            ["host", "content-type", "content-length", "accept"].contains(&name.as_str()),
            "{head}"
        );
    }
    // A digest and a random number: nothing else of the record.
    assert!(fs::metadata(bench.path("asked.tsq")).unwrap().len() < 90);
    let left = fs::read_dir(bench.path("w/out")).unwrap();
    let endings: Vec<_> = left
        .filter_map(|entry| entry.unwrap().path().extension().map(ToOwned::to_owned))
        .collect();
    assert!(!endings.iter().any(|ending| ending == "tsq"), "{endings:?}");
    assert_eq!(endings.iter().filter(|ending| *ending == "tsr").count(), 1);
}

/// An answer may have been paid for: it is kept whatever becomes of the request.
#[test]
fn an_answer_is_kept_although_its_request_cannot_be_removed() {
    let bench = bench();
    let folder = bench.folder.path().to_owned();
    let (url, served) = serve("200 OK", "application/timestamp-reply", move |body| {
        fs::write(folder.join("asked.tsq"), body).unwrap();
        stamp_in(&folder, "harbour", "asked.tsq", "answered.tsr");
        // What no program removes as a file.
        let out = fs::read_dir(folder.join("w/out")).unwrap();
        let question = out
            .map(|entry| entry.unwrap().path())
            .find(|path| path.extension().is_some_and(|ending| ending == "tsq"))
            .unwrap();
        fs::remove_file(&question).unwrap();
        fs::create_dir(&question).unwrap();
        fs::read(folder.join("answered.tsr")).unwrap()
    });
    let words = ["time", "authority", "add", "harbour", "--url", &url];
    bench
        .work(&[&words[..], &["--certificate", "harbour.pem"]].concat())
        .code(0);
    let ran = bench
        .work(&["time", "fetch", "reed", "--authority", "harbour"])
        .code(0);
    served.join().unwrap();
    assert!(
        ran.err
            .contains("note: the request, which is of no use any more, could not be removed"),
        "{}",
        ran.err
    );
    let listed = bench
        .work(&["time", "list", "reed", "--json"])
        .code(0)
        .json();
    assert_eq!(listed.as_array().unwrap().len(), 1, "{listed}");
}

#[test]
fn an_authority_that_does_not_answer_as_it_should_is_told() {
    let bench = bench();
    let add = |name: &str, url: &str| {
        bench
            .work(&[
                "time",
                "authority",
                "add",
                name,
                "--certificate",
                "harbour.pem",
                "--url",
                url,
            ])
            .code(0);
    };
    let reply = "application/timestamp-reply";
    let cases = [
        ("a", serve("503 Busy", reply, |_| Vec::new()), "status 503"),
        (
            "b",
            serve("200 OK", "text/html", |_| b"<p>".to_vec()),
            "answered with text/html",
        ),
        (
            "c",
            serve("200 OK", reply, |_| b"rubbish".to_vec()),
            "cannot be read as DER",
        ),
        (
            "d",
            serve("200 OK", reply, |_| vec![b'0'; 70_000]),
            "could not be read whole",
        ),
        (
            "e",
            serve("302 Found\r\nLocation: http://127.0.0.1:9/", reply, |_| {
                Vec::new()
            }),
            "127.0.0.1",
        ),
    ];
    for (name, (url, served), said) in cases {
        add(name, &url);
        let ran = bench
            .work(&["time", "fetch", "reed", "--authority", name])
            .code(1);
        assert!(ran.err.contains(said), "{name}: {}", ran.err);
        assert!(ran.err.contains("\nhint: "), "{}", ran.err);
        served.join().unwrap();
    }
    add("closed", "http://127.0.0.1:9/");
    let ran = bench
        .work(&["time", "fetch", "reed", "--authority", "closed"])
        .code(1);
    assert!(
        ran.err.contains("the authority was not reached"),
        "{}",
        ran.err
    );
    add("secure", "https://tsa.example/stamp");
    let ran = bench
        .work(&["time", "fetch", "reed", "--authority", "secure"])
        .code(1);
    for said in [
        "which this program does not speak; nothing was sent",
        "hint: the request is written; run `curl ",
        "'https://tsa.example/stamp'",
    ] {
        assert!(ran.err.contains(said), "{}", ran.err);
    }
    // The request that the hint names is there.
    let question = ran
        .err
        .split("--data-binary @'")
        .nth(1)
        .unwrap()
        .split('\'')
        .next()
        .unwrap();
    assert!(bench.path(question).is_file(), "{question}");
    bench
        .work(&[
            "time",
            "authority",
            "add",
            "silent",
            "--certificate",
            "harbour.pem",
        ])
        .code(0);
    let ran = bench
        .work(&["time", "fetch", "reed", "--authority", "silent"])
        .code(1);
    assert!(
        ran.err.contains("time authority `silent` has no address"),
        "{}",
        ran.err
    );
    let listed = bench
        .work(&["time", "list", "reed", "--json"])
        .code(0)
        .json();
    assert_eq!(listed, serde_json::json!([]));
}

#[test]
fn a_package_has_the_certificates_its_evidence_leads_to_and_no_others() {
    let bench = bench();
    authority(&bench, "tower", "timeStamping");
    for name in ["harbour", "tower"] {
        let file = format!("{name}.pem");
        let line = ["time", "authority", "add", name, "--certificate", &file];
        bench.work(&line).code(0);
    }
    bench
        .work(&["time", "request", "reed", "--out", "reed.tsq"])
        .code(0);
    stamp(&bench, "tower", "reed.tsq", "reed.tsr");
    bench.work(&["time", "add", "reed", "reed.tsr"]).code(0);
    let line = ["handover", "reed", "--report", "none", "--out", "given"];
    let given = bench
        .work(&[&line[..], &["--json"]].concat())
        .code(0)
        .json();
    let certificates = "data/timestamps/authorities/tower.pem";
    assert_eq!(given["authorities"], serde_json::json!([certificates]));
    assert_eq!(given["timestamps_left_out"], serde_json::json!([]));
    let how = fs::read_to_string(bench.path("given/data/HOW-TO-CHECK.txt")).unwrap();
    let command = how
        .lines()
        .find_map(|line| line.strip_prefix("$ openssl "))
        .expect("a command for the token");
    assert!(command.ends_with(certificates), "{command}");
    let checked = Command::new("openssl")
        .args(command.split_whitespace())
        .current_dir(bench.path("given"))
        .output()
        .unwrap();
    assert!(
        checked.status.success(),
        "{}",
        String::from_utf8_lossy(&checked.stderr)
    );
}
