#![allow(clippy::unwrap_used, clippy::expect_used)]
use super::*;
use crate::{render, sample};

#[test]
fn writes_preview() {
    if let Some(folder) = std::env::var_os("REPORT_PREVIEW") {
        let folder = std::path::PathBuf::from(folder);
        for (name, sample) in [("sword", sample::sword()), ("many", sample::many_flaws(60)), ("spear", sample::spear()), ("bare", sample::Sample::of(&sample::bare()))] {
            let rendered = render(&sample.record, &sample.input()).unwrap();
            std::fs::write(folder.join(format!("{name}.pdf")), rendered.pdf).unwrap();
        }
    }
}
