//! Whether the ledger is whole: the file's pages, the rows that others name, and the sums.

use super::statements::LAWS;
use super::{Ledger, LedgerError};
use crate::units::Length;
use std::collections::BTreeMap;

impl Ledger {
    /// What is wrong with the ledger; nothing where it is whole.
    ///
    /// Beyond the checks that `SQLite` itself makes of pages and references, the laws that no constraint states, and the metal that each wheel has lost,
    /// added up anew from its cuts.
    ///
    /// # Errors
    /// Where the ledger cannot be read.
    pub fn check(&self) -> Result<Vec<String>, LedgerError> {
        let mut wrong: Vec<String> = self.read(|t| {
            let pages: Vec<String> = t
                .prepare("PRAGMA integrity_check")?
                .query_map([], |r| r.get(0))?
                .collect::<Result<_, _>>()?;
            let mut wrong: Vec<String> = pages.into_iter().filter(|found| found != "ok").collect();
            let lost: Vec<String> = t
                .prepare("PRAGMA foreign_key_check")?
                .query_map([], |r| {
                    Ok((r.get::<_, String>(0)?, r.get::<_, Option<i64>>(1)?, r.get::<_, String>(2)?))
                })?
                .map(|row| {
                    row.map(|(table, id, parent)| {
                        let id = id.map_or_else(String::new, |id| format!(" {id}"));
                        format!("{table}{id} names a row of {parent} that is not there")
                    })
                })
                .collect::<Result<_, _>>()?;
            wrong.extend(lost);
            for (law, breaches) in LAWS {
                let found: Vec<String> =
                    t.prepare(breaches)?.query_map([], |r| r.get(0))?.collect::<Result<_, _>>()?;
                wrong.extend(found.into_iter().map(|place| format!("{law}: {place}")));
            }
            Ok(wrong)
        })?;
        for number in self.wheels()? {
            wrong.extend(self.check_sum(&number)?);
        }
        Ok(wrong)
    }

    /// The sum that the ledger answers with, against the cuts added up one by one: a correction takes its forerunner's place.
    fn check_sum(&self, number: &str) -> Result<Option<String>, LedgerError> {
        let Some(wheel) = self.wheel(number)? else { return Ok(None) };
        let mut standing: BTreeMap<i64, Length> = BTreeMap::new();
        for cut in &wheel.cuts {
            if let Some(old) = cut.corrects {
                standing.remove(&old);
            }
            standing.insert(cut.entry, cut.taken);
        }
        let nanometres = |l: &Length| super::store::nm(*l);
        let sum: i64 = standing.values().map(nanometres).sum();
        let held = nanometres(&wheel.taken);
        Ok((sum != held)
            .then(|| format!("wheel {number}: its cuts add up to {sum} nm, and {held} nm is held as taken")))
    }
}
