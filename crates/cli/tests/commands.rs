//! Help, usage errors and failures, word for word. `TRYCMD=overwrite` writes them anew; read the difference.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use common::Bench;

#[test]
fn help_usage_and_failures_read_as_written() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("heron");
    bench.put("gorge");
    trycmd::TestCases::new()
        .case("tests/cmd/*.md")
        .env("TANGMARK_WORKSHOP", bench.path("w").to_str().unwrap())
        .env("TANGMARK_PLUGINS", bench.path("plugins").to_str().unwrap())
        .env("XDG_DATA_HOME", bench.path("data").to_str().unwrap())
        .env("COLUMNS", "100")
        .insert_var("[WORKSHOP]", bench.path("w").to_str().unwrap().to_owned())
        .unwrap()
        .run();
}
