//! `tangmark plugin new` and `tangmark plugin try`: for the author of a plugin.

use std::path::{Path, PathBuf};

use clap::Args;
use tangmark_workshop::{Scaffold, TriedPlugin, TryPlugin, scaffold, try_plugin};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::results;
use crate::show::{self, add};
use crate::surroundings;
use crate::verbs::check::finding_text;

/// Most lines of the question that are shown.
const QUESTION_LINES: usize = 24;
/// Longest line of it that is shown, in characters.
const QUESTION_WIDTH: usize = 160;

/// Start a plugin in Rust: a crate that builds and whose tests pass
///
/// It holds one working rule to put yours in the place of, settings, tests on the demo sheets, and a README with the
/// headings a plugin needs. Inside a clone of this program's source it becomes `plugins/NAME` there, elsewhere a crate of
/// its own. An existing folder is left alone.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark plugin new marker
  tangmark plugin new marker --folder ../marker --source ~/tangmark")]
pub(crate) struct New {
    /// Name of the plugin: lower-case letters, digits and `_`, a letter first
    name: String,
    /// Folder for the crate [default: `plugins/NAME` in the clone around you, else `NAME` here]
    #[arg(long, value_name = "DIR")]
    folder: Option<PathBuf>,
    /// A clone of this program's source [default: the one around you, else the one this program was built from]
    #[arg(long, value_name = "DIR")]
    source: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

/// Try one plugin file on one sheet, behind the barriers
///
/// No workshop is needed and nothing is approved: the file runs this once. Shown are the question, the answer, what the
/// plugin wrote to its streams, what it used, and which barriers were up.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark plugin try ./libtangmark_hardness.so --on sheet.toml
  tangmark plugin try ./libtangmark_hardness.so --on sheet.toml --settings s.toml
      --table stones.csv --json

Exit codes: 0 it answered, 1 it did not, or something could not be read.")]
pub(crate) struct Try {
    /// The library, `libtangmark_NAME.so`
    file: PathBuf,
    /// A sheet, TOML or JSON; its photos lie beside it
    #[arg(long, value_name = "SHEET")]
    on: PathBuf,
    /// Settings for the plugin, TOML
    #[arg(long, value_name = "FILE")]
    settings: Option<PathBuf>,
    /// A table for the plugin, CSV, named as its file (can be given several times)
    #[arg(long = "table", value_name = "FILE")]
    tables: Vec<PathBuf>,
    /// Write the question to a new file, byte for byte as the plugin gets it
    #[arg(long, value_name = "FILE")]
    input: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

pub(crate) fn new(arguments: &New) -> Outcome {
    let here = std::env::current_dir().map_err(|error| {
        Failure::new(
            format!("the current folder cannot be found: {error}"),
            "go into a folder that exists",
        )
    })?;
    let made = scaffold(&Scaffold {
        name: arguments.name.clone(),
        folder: arguments.folder.clone(),
        source: arguments.source.clone(),
        here,
        built_from: Path::new(env!("CARGO_MANIFEST_DIR"))
            .ancestors()
            .nth(2)
            .map(Path::to_owned),
    })?;
    if arguments.json {
        print_json(&made)?;
        return Ok(code::GOOD);
    }
    let mut text = format!("made {}\n", show::plain(&made.folder.display().to_string()));
    for file in &made.files {
        add!(text, "  {file}\n");
    }
    let next = if made.inside {
        format!("cargo test -p tangmark-plugin-{}", made.name)
    } else {
        format!("cd {}; cargo test", made.folder.display())
    };
    add!(text, "next: {}\n", show::plain(&next));
    print(&text)?;
    Ok(code::GOOD)
}

pub(crate) fn attempt(arguments: &Try) -> Outcome {
    let order = TryPlugin {
        library: arguments.file.clone(),
        sheet: arguments.on.clone(),
        settings: arguments.settings.clone(),
        tables: arguments.tables.clone(),
    };
    let tried = surroundings::with(|around| Ok(try_plugin(&order, around)?))?;
    if let Some(path) = &arguments.input {
        let question = String::from_utf8_lossy(&tried.request_bytes);
        surroundings::write_new(path, &question)?;
    }
    if arguments.json {
        print_json(&tried)?;
    } else {
        print(&report(&tried)?)?;
    }
    match (&tried.fault, &tried.hint) {
        (None, _) => Ok(code::GOOD),
        (Some(fault), hint) => Err(Failure::new(
            fault.clone(),
            hint.clone().unwrap_or_default(),
        )),
    }
}

fn report(tried: &TriedPlugin) -> Result<String, Failure> {
    let version = tried
        .version
        .as_ref()
        .map(|version| format!(" {}", show::plain(version)))
        .unwrap_or_default();
    let mut text = format!("plugin {}{version}\n", show::plain(&tried.plugin));
    if let Some(digest) = tried.digest {
        add!(text, "SHA-256: {digest}\n");
    }
    text.push_str(&question(tried)?);
    if !tried.stderr.is_empty() {
        text.push_str("\nwritten to its streams:\n");
        for line in tried.stderr.lines() {
            add!(text, "  {}\n", show::plain(line));
        }
    }
    if tried.fault.is_none() {
        let public = tried.findings.iter().map(|finding| (finding, false));
        let private = tried.private_findings.iter().map(|finding| (finding, true));
        for (finding, private) in public.chain(private) {
            text.push('\n');
            text.push_str(&finding_text(finding, private));
        }
        let hidden = &tried.private_results;
        for (numbers, note) in [
            (&tried.quantities, ""),
            (&hidden.quantities, " (shown here, sealed nowhere)"),
        ] {
            if !numbers.is_empty() {
                add!(text, "\nnumbers{note}\n");
            }
            for one in numbers {
                add!(text, "  {}\n", results::number(one));
            }
        }
        let kept = tried.artefacts.iter().map(|artefact| (artefact, ""));
        let shown = hidden
            .artefacts
            .iter()
            .map(|artefact| (artefact, " (shown here, sealed nowhere)"));
        for (artefact, note) in kept.chain(shown) {
            add!(text, "\n{}{note}\n", show::plain(&artefact.title));
            text.push_str(&results::table(artefact));
        }
    }
    text.push_str(&usage(tried));
    Ok(text)
}

/// The question, indented and shortened.
fn question(tried: &TriedPlugin) -> Result<String, Failure> {
    let pretty = serde_json::to_string_pretty(&tried.request).map_err(|error| {
        Failure::new(
            format!("the question cannot be shown: {error}"),
            "report this",
        )
    })?;
    let lines: Vec<&str> = pretty.lines().collect();
    let mut text = format!(
        "\nasked, {}:\n",
        show::counted(tried.request_bytes.len(), "byte")
    );
    for line in lines.iter().take(QUESTION_LINES) {
        add!(text, "  {}\n", show::cut(line, QUESTION_WIDTH));
    }
    if lines.len() > QUESTION_LINES {
        let more = lines.len() - QUESTION_LINES;
        add!(
            text,
            "  … {} more; `--input FILE` has the whole\n",
            show::counted(more, "line")
        );
    }
    Ok(text)
}

fn usage(tried: &TriedPlugin) -> String {
    let Some(wall) = tried.wall_ms else {
        return "\nit did not come to run\n".to_owned();
    };
    let allowed = tried.wall_allowed_ms;
    let mut text = format!("\ntime: {wall:.0} ms of {allowed:.0} ms");
    if let Some(processor) = tried.processor_ms {
        add!(text, ", {processor:.1} ms of it on the processor");
    }
    let mebibytes = |bytes: u64| bytes as f64 / 1_048_576.0;
    match (tried.memory_bytes, tried.address_space_bytes) {
        (Some(memory), Some(space)) => add!(
            text,
            "\nmemory: {:.1} MiB in use, {:.1} MiB of {:.0} MiB address space, this program's own included\n",
            mebibytes(memory),
            mebibytes(space),
            mebibytes(tried.address_space_allowed)
        ),
        _ => text.push_str("\nmemory: not known, it ended before it could be looked at\n"),
    }
    let barriers: Vec<String> = tried
        .barriers
        .iter()
        .map(|(name, state)| format!("{name} {state}"))
        .collect();
    add!(
        text,
        "barriers: {}\n",
        if barriers.is_empty() {
            "none told".to_owned()
        } else {
            barriers.join(", ")
        }
    );
    text
}
