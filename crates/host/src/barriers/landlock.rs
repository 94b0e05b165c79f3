//! Files, network and signals (landlock).
//!
//! Source: Linux kernel documentation, "Landlock: unprivileged access control".

use landlock::{
    ABI, Access as _, AccessFs, AccessNet, Ruleset, RulesetAttr as _, RulesetCreatedAttr as _,
    RulesetError, RulesetStatus, Scope, path_beneath_rules,
};

use super::{Barrier, BarrierError, BarrierState};

/// The newest rules asked for: files since 1, network ports since 4, devices since 5, signals and
/// abstract sockets since 6 (Linux 6.12). An older kernel puts up its part.
const RULES: ABI = ABI::V6;

/// What the system's loader reads when a library asks for another one. The plugin itself comes as
/// a memory file, which landlock does not know.
const LIBRARY_PLACES: [&str; 9] = [
    "/lib",
    "/lib32",
    "/lib64",
    "/usr/lib",
    "/usr/lib32",
    "/usr/lib64",
    "/usr/local/lib",
    "/etc/ld.so.cache",
    "/etc/ld.so.conf",
];

/// Forbids everything landlock can forbid but reading files in [`LIBRARY_PLACES`].
pub(super) fn raise() -> Result<BarrierState, BarrierError> {
    let status = restrict().map_err(|error| BarrierError::new(Barrier::Landlock.name(), error))?;
    Ok(match status {
        RulesetStatus::FullyEnforced => BarrierState::Full,
        RulesetStatus::PartiallyEnforced => BarrierState::Partial,
        RulesetStatus::NotEnforced => BarrierState::Absent,
    })
}

fn restrict() -> Result<RulesetStatus, RulesetError> {
    let rules = path_beneath_rules(LIBRARY_PLACES, AccessFs::ReadFile);
    let status = Ruleset::default()
        .handle_access(AccessFs::from_all(RULES))?
        .handle_access(AccessNet::from_all(RULES))?
        .scope(Scope::from_all(RULES))?
        .create()?
        .add_rules(rules)?
        .restrict_self()?;
    Ok(status.ruleset)
}
