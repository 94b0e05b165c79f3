//! Rows from sealed records.

use tangmark_core::record::{Level, Term as _};
use tangmark_store::Store as _;

use super::{Tables, layouts, opt};
use crate::{Workshop, WorkshopError};

impl Workshop {
    /// Writes the sealed records of a blade and their findings, oldest first.
    pub(super) fn export_records(
        &self,
        tables: &mut Tables,
        blade: &str,
    ) -> Result<(), WorkshopError> {
        for row in self.store().records(blade)? {
            let record = self.kept(&row)?.record;
            let count = |level: Level| {
                let found = record.findings.iter().filter(|one| one.level == level);
                found.count().to_string()
            };
            let decision = record.decision.as_ref();
            tables.row(
                &layouts::RECORDS,
                &[
                    blade.to_owned(),
                    row.sequence.to_string(),
                    row.purpose.clone(),
                    row.issued_at.clone(),
                    row.sealed_at.clone(),
                    row.name.to_string(),
                    opt(row.previous.as_ref()),
                    record.issuer.name.clone(),
                    row.issuer.clone(),
                    opt(row.draft_revision),
                    opt(decision.map(|one| one.verdict.key())),
                    opt(decision.map(|one| &one.by)),
                    opt(decision.map(|one| &one.reason)),
                    count(Level::Stop),
                    count(Level::Caution),
                    record.overrides.len().to_string(),
                    record.worked_under_hold.len().to_string(),
                ],
            )?;
            for finding in &record.findings {
                tables.row(
                    &layouts::FINDINGS,
                    &[
                        blade.to_owned(),
                        row.sequence.to_string(),
                        finding.plugin.to_string(),
                        finding.rule.clone(),
                        finding.level.key().to_owned(),
                        finding.message.clone(),
                        finding.source.clone(),
                    ],
                )?;
            }
        }
        Ok(())
    }
}
