//! `tangmark plugin`.

use std::path::Path;

use clap::{Args, Subcommand};
use tangmark_workshop::PluginLine;

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::show::{self, add, say};
use crate::surroundings;
use crate::verbs::plugin_author;

/// List, approve or withdraw plugins; start and try your own
///
/// Plugins are files `libtangmark_NAME.so` in the folders of $TANGMARK_PLUGINS, beside this program, or in
/// `../lib/tangmark/plugins`. Finding one is not approving it: only a file whose very bytes were approved runs, in a
/// process of its own, behind barriers.
///
/// What you set for a plugin lies in the workshop folder: `plugins/NAME/settings.toml`, and its tables as
/// `plugins/NAME/TABLE.csv`. A table is given to the plugin in whose folder it lies and to no other.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark plugin list
  tangmark plugin approve --shipped
  tangmark plugin new marker")]
pub(crate) struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// List the plugins found: approved or not, version, rules, barriers this kernel lacks
    #[command(after_help = "Examples:
  tangmark plugin list
  tangmark plugin list --json")]
    List {
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Approve the file of a plugin as it is now
    #[command(after_help = "Examples:
  tangmark plugin approve --shipped                    after an update of this program
  tangmark plugin approve triage
  tangmark plugin approve ./libtangmark_hardness.so")]
    Approve {
        /// Name of a plugin that was found, or path of its file
        #[arg(
            value_name = "NAME|PATH",
            required_unless_present = "shipped",
            conflicts_with = "shipped"
        )]
        plugin: Option<String>,
        /// Approve exactly the plugins that come with this program
        #[arg(long)]
        shipped: bool,
    },
    /// Withdraw every approval of a plugin
    #[command(after_help = "Examples:
  tangmark plugin withdraw hardness")]
    Withdraw {
        /// Name of the plugin
        name: String,
    },
    New(plugin_author::New),
    Try(plugin_author::Try),
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = match &arguments.what {
        // An author needs no workshop.
        What::New(new) => return plugin_author::new(new),
        What::Try(attempt) => return plugin_author::attempt(attempt),
        _ => surroundings::open(workshop)?,
    };
    match &arguments.what {
        What::New(_) | What::Try(_) => {}
        What::List { json } => {
            let lines = surroundings::with(|around| Ok(workshop.plugins(around)?))?;
            list(&lines, *json)?;
        }
        What::Approve {
            plugin: Some(plugin),
            ..
        } => {
            let (name, digest) =
                surroundings::with(|around| Ok(workshop.approve_plugin(plugin, around)?))?;
            print(&format!("approved {name}, SHA-256 {digest}\n"))?;
        }
        What::Approve { plugin: None, .. } => {
            let names = surroundings::with(|around| Ok(workshop.approve_shipped(around)?))?;
            print(&format!("approved {}\n", names.join(", ")))?;
        }
        What::Withdraw { name } => {
            let count = workshop.withdraw_plugin(name)?;
            if count == 0 {
                return Err(Failure::new(
                    format!("plugin `{name}` is not approved"),
                    "see what is with `tangmark plugin list`",
                ));
            }
            print(&format!(
                "withdrew {} of {}\n",
                show::counted(count, "approval"),
                show::plain(name)
            ))?;
            if tangmark_workshop::SHIPPED_PLUGINS.contains(&name.as_str()) {
                say(
                    "note: it comes with this program; `tangmark plugin approve --shipped` approves it again",
                );
            }
        }
    }
    Ok(code::GOOD)
}

fn list(lines: &[PluginLine], json: bool) -> Result<(), Failure> {
    if json {
        return print_json(&lines);
    }
    if lines.is_empty() {
        say("no plugins found; see `tangmark plugin --help` for where they are looked for");
    }
    let mut text = String::new();
    for (index, line) in lines.iter().enumerate() {
        if index > 0 {
            text.push('\n');
        }
        let version = line
            .version
            .as_ref()
            .map(|version| format!(" {}", show::plain(version)))
            .unwrap_or_default();
        let approved = if line.approved {
            "approved"
        } else {
            "not approved"
        };
        add!(text, "{}{version}: {approved}\n", show::plain(&line.name));
        if let Some(title) = &line.title {
            add!(text, "  {}\n", show::plain(title));
        }
        add!(text, "  file: {}\n", show::plain(&line.path));
        if let Some(digest) = line.digest {
            add!(text, "  SHA-256: {digest}\n");
        }
        if let Some(given) = &line.given {
            let settings = match &given.settings {
                Some(path) => show::plain(&path.display().to_string()),
                None => "none".to_owned(),
            };
            add!(text, "  settings: {settings}\n");
            for (name, rows) in &given.tables {
                add!(
                    text,
                    "  table {}: {}\n",
                    show::plain(name),
                    show::counted(*rows, "row")
                );
            }
        }
        for rule in &line.rules {
            add!(
                text,
                "  rule {}: {}\n",
                show::plain(&rule.id),
                show::plain(&rule.title)
            );
        }
        for remark in &line.remarks {
            add!(text, "  note: {}\n", show::plain(remark));
        }
    }
    print(&text)
}
