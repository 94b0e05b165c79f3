//! Charts of what plugins derived, as files.

use std::fs;
use std::path::{Path, PathBuf};

use tangmark_core::record::Artefact;
use tangmark_report::chart_svg;

use crate::{CheckReport, WorkshopError};

/// Width of a chart, mm.
const WIDTH: f64 = 160.0;
/// What every chart of ours says of itself, so that an older one may be replaced.
const OWN: &str = "aria-label=\"Chart: ";

impl CheckReport {
    /// Keeps what the named plugins said; the stops stay as they are.
    #[must_use]
    pub fn only(mut self, plugins: &[&str]) -> Self {
        let wanted = |plugin: &str| plugins.contains(&plugin);
        self.runs.retain(|run| wanted(run.plugin.as_str()));
        self.findings.retain(|one| wanted(one.plugin.as_str()));
        self.private_findings
            .retain(|one| wanted(one.plugin.as_str()));
        self.private_results
            .retain(|one| wanted(one.plugin.as_str()));
        self
    }

    /// The tables and series of every plugin, those that speak of money last.
    pub fn artefacts(&self) -> impl Iterator<Item = (&str, &Artefact)> {
        let public = self
            .runs
            .iter()
            .map(|run| (run.plugin.as_str(), &run.artefacts));
        let private = self
            .private_results
            .iter()
            .map(|one| (one.plugin.as_str(), &one.artefacts));
        public
            .chain(private)
            .flat_map(|(plugin, all)| all.iter().map(move |one| (plugin, one)))
    }

    /// Writes the series as charts into a folder, which is made; returns the files. A chart that an earlier call wrote is
    /// replaced, any other file is not.
    ///
    /// # Errors
    /// When a file of that name is no chart of ours, or cannot be written.
    pub fn write_charts(&self, folder: &Path) -> Result<Vec<PathBuf>, WorkshopError> {
        let charts: Vec<(PathBuf, String)> = self
            .artefacts()
            .filter_map(|(plugin, artefact)| {
                let name = format!("{}-{plugin}-{}.svg", self.blade, slug(&artefact.title));
                Some((folder.join(name), chart_svg(artefact, WIDTH)?))
            })
            .collect();
        for (path, _) in &charts {
            let foreign = match fs::read_to_string(path) {
                Ok(text) => !text.contains(OWN),
                Err(error) => error.kind() != std::io::ErrorKind::NotFound,
            };
            if foreign {
                return Err(WorkshopError::Exists(path.clone()));
            }
        }
        fs::create_dir_all(folder)
            .map_err(|error| WorkshopError::file("make the folder", folder, error))?;
        for (path, svg) in &charts {
            fs::write(path, svg).map_err(|error| WorkshopError::file("write", path, error))?;
        }
        Ok(charts.into_iter().map(|(path, _)| path).collect())
    }
}

/// Longest part of a file name that comes from a title.
const LONGEST_SLUG: usize = 48;

/// Makes a part of a file name of a title: small letters, digits and hyphens, at most 48, cut between words.
fn slug(title: &str) -> String {
    let mut slug = String::new();
    for letter in title.chars().flat_map(char::to_lowercase) {
        if letter.is_ascii_alphanumeric() {
            slug.push(letter);
        } else if !slug.is_empty() && !slug.ends_with('-') {
            slug.push('-');
        }
    }
    if slug.len() > LONGEST_SLUG {
        slug.truncate(LONGEST_SLUG + 1);
        // No half words.
        let end = slug.rfind('-').unwrap_or(LONGEST_SLUG);
        slug.truncate(end);
    }
    slug.trim_end_matches('-').to_owned()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use tangmark_core::Digest;
    use tangmark_core::record::{ArtefactKind, Column, Run, Verdict};
    use tangmark_core::units::Unit;

    fn report() -> CheckReport {
        let column = |name: &str, cells: [&str; 2]| Column {
            name: name.to_owned(),
            unit: Some(Unit::Gram),
            cells: cells.map(str::to_owned).to_vec(),
        };
        let run = |plugin: &str| Run {
            plugin: plugin.parse().unwrap(),
            version: "1".to_owned(),
            digest: Digest::of(b"file"),
            input: Digest::of(b"input"),
            settings: Vec::new(),
            fault: None,
            quantities: Vec::new(),
            artefacts: vec![Artefact {
                kind: ArtefactKind::Series,
                title: "Steel gone, and pits left".to_owned(),
                columns: vec![column("gone", ["1", "2"]), column("left", ["3", "1"])],
            }],
        };
        CheckReport {
            blade: "reed".to_owned(),
            revision: 1,
            runs: vec![run("abrasives"), run("removal")],
            findings: Vec::new(),
            private_findings: Vec::new(),
            private_results: Vec::new(),
            stops: Vec::new(),
            answered: Vec::new(),
            suggestion: Verdict::Work,
        }
    }

    #[test]
    fn charts_are_written_and_replaced_but_strangers_files_are_not() {
        let folder = tempfile::tempdir().unwrap();
        let target = folder.path().join("charts");
        let report = report().only(&["abrasives"]);
        let written = report.write_charts(&target).unwrap();
        assert_eq!(
            written,
            [target.join("reed-abrasives-steel-gone-and-pits-left.svg")]
        );
        assert_eq!(report.write_charts(&target).unwrap(), written);
        fs::write(&written[0], "<svg>mine</svg>").unwrap();
        let error = report.write_charts(&target).unwrap_err();
        assert!(matches!(error, WorkshopError::Exists(_)), "{error}");
        assert_eq!(fs::read_to_string(&written[0]).unwrap(), "<svg>mine</svg>");
    }

    #[test]
    fn titles_become_names() {
        assert_eq!(
            slug("Loss, mm — along the blade!"),
            "loss-mm-along-the-blade"
        );
        assert_eq!(slug("研ぎ"), "");
        assert_eq!(slug(&"long ".repeat(40)), ["long"; 9].join("-"));
        assert_eq!(slug(&"l".repeat(60)), "l".repeat(48));
    }
}
