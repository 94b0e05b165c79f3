//! `tangmark time authority`.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use serde::Serialize;
use tangmark_workshop::time::{NewAuthority, TimeAuthority};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::show::{self, say};
use crate::surroundings;

/// Add, list or remove the time authorities that you trust or ask
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark time authority add harbour --certificate harbour.pem --url http://tsa.example/stamp
  tangmark time authority add cellar --certificate cellar.pem --own
  tangmark time authority list
  tangmark time authority remove harbour")]
pub(super) struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Add a time authority: whom you trust to say when
    ///
    /// Take the certificate from the authority itself: it is what every timestamp of it is held against.
    #[command(after_help = "Examples:
  tangmark time authority add harbour --certificate harbour.pem
  tangmark time authority add harbour --certificate harbour.pem --url http://tsa.example/stamp
  tangmark time authority add cellar --certificate cellar.pem --own

Exit codes: 0 added, 1 not.")]
    Add {
        /// Name by which you call it: lower-case letters, digits and hyphens
        name: String,
        /// Its certificate, or that of the root above it, PEM
        #[arg(long, value_name = "PEM")]
        certificate: PathBuf,
        /// Where `tangmark time fetch` asks it; nothing is sent there otherwise
        #[arg(long, value_name = "URL")]
        url: Option<String>,
        /// You run it yourself: its timestamps are the workshop's own word and never count as outside evidence
        #[arg(long)]
        own: bool,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// List the time authorities
    #[command(after_help = "Examples:
  tangmark time authority list
  tangmark time authority list --json")]
    List {
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Remove a time authority; timestamps of it stay and are then by an unknown one
    #[command(after_help = "Examples:
  tangmark time authority remove harbour

Exit codes: 0 removed, 1 not.")]
    Remove {
        /// Its name
        name: String,
    },
}

/// One certificate of an authority.
#[derive(Serialize)]
struct CertificateLine {
    holder: String,
    sha256: String,
    valid_from: String,
    valid_until: String,
}

/// One authority.
#[derive(Serialize)]
struct Line<'a> {
    name: &'a str,
    own: bool,
    url: Option<&'a str>,
    added_at: &'a str,
    certificates: Vec<CertificateLine>,
}

pub(super) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    match &arguments.what {
        What::Add {
            name,
            certificate,
            url,
            own,
            json,
        } => {
            let order = NewAuthority {
                name,
                certificate,
                url: url.as_deref(),
                own: *own,
            };
            let added =
                surroundings::with(|around| Ok(workshop.add_time_authority(&order, around)?))?;
            tell(&[added], *json)?;
            if *own {
                say(
                    "note: its timestamps are the workshop's own word, and are shown as that everywhere",
                );
            } else {
                say("next step: compare the SHA-256 above with what the authority publishes");
            }
        }
        What::List { json } => {
            let all = workshop.time_authorities()?;
            if all.is_empty() && !json {
                say(
                    "no time authority yet; add one with `tangmark time authority add NAME --certificate PEM`",
                );
            } else {
                tell(&all, *json)?;
            }
        }
        What::Remove { name } => {
            workshop.remove_time_authority(name)?;
            say(&format!("time authority {name} removed"));
        }
    }
    Ok(code::GOOD)
}

fn tell(authorities: &[TimeAuthority], json: bool) -> Result<(), Failure> {
    let lines = authorities
        .iter()
        .map(line)
        .collect::<Result<Vec<_>, _>>()?;
    if json {
        return print_json(&lines);
    }
    let mut rows = Vec::new();
    for line in &lines {
        let kind = if line.own {
            "run by the workshop itself"
        } else {
            "trusted"
        };
        let url = line.url.unwrap_or("no address");
        rows.push(vec![line.name.to_owned(), kind.to_owned(), url.to_owned()]);
        for one in &line.certificates {
            rows.push(vec![
                String::new(),
                show::cut(&one.holder, 80),
                format!("valid {} to {}", one.valid_from, one.valid_until),
            ]);
            rows.push(vec![
                String::new(),
                "SHA-256".to_owned(),
                one.sha256.clone(),
            ]);
        }
    }
    print(&show::table(&rows))
}

fn line(authority: &TimeAuthority) -> Result<Line<'_>, Failure> {
    let certificates = authority.read()?;
    let certificates = certificates.iter().map(|one| {
        let (valid_from, valid_until) = one.validity();
        CertificateLine {
            holder: one.name(),
            sha256: one.digest().to_string(),
            valid_from,
            valid_until,
        }
    });
    Ok(Line {
        name: &authority.name,
        own: authority.own,
        url: authority.url.as_deref(),
        added_at: &authority.added_at,
        certificates: certificates.collect(),
    })
}
