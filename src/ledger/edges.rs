//! The edges of the tools: what each has cut since it was put in.

use super::records::Stamp;
use super::statements as sql;
use super::store::enter;
use super::{Ledger, LedgerError};
use crate::units::Length;
use rusqlite::params;

/// What one edge of a tool has done: all confirmed passes from its entry to that of the next edge.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeUse {
    /// Its entry; none for the edge that was in the tool before any was entered.
    pub entry: Option<i64>,
    /// Day on which it was put in, and by whom; empty for that first one.
    pub since: [String; 2],
    /// In the person's own words.
    pub note: String,
    /// Length of the spirals that it has cut.
    pub spiral: Length,
    /// Metal that it has cut, cubic millimetres.
    pub chips: f64,
    /// Passes.
    pub passes: u32,
    /// Wheels.
    pub wheels: u32,
}

impl Ledger {
    /// Enters that a tool was given a new edge: its insert turned or changed.
    ///
    /// # Errors
    /// Where the ledger cannot be written.
    pub fn new_edge(&mut self, stamp: &Stamp, tool: &str, note: &str) -> Result<i64, LedgerError> {
        self.write(|t, _| {
            let id = enter(t, stamp)?;
            t.execute(sql::ADD_EDGE, params![id, tool, note])?;
            Ok(Ok(id))
        })
    }

    /// What the edges of a tool have done, the oldest first; none where the ledger does not know the tool.
    ///
    /// # Errors
    /// Where the ledger cannot be read.
    pub fn edges(&self, tool: &str) -> Result<Option<Vec<EdgeUse>>, LedgerError> {
        self.read(|t| {
            let known: bool = t.query_row(sql::TOOL_IS_KNOWN, [tool], |r| r.get(0))?;
            if !known {
                return Ok(None);
            }
            let edges: Vec<EdgeUse> = t
                .prepare(sql::EDGES_OF_TOOL)?
                .query_map([tool], |r| {
                    let entry: i64 = r.get(0)?;
                    let at: String = r.get(1)?;
                    Ok(EdgeUse {
                        entry: (entry > 0).then_some(entry),
                        since: [at.chars().take(10).collect(), r.get(2)?],
                        note: r.get(3)?,
                        spiral: Length::mm(r.get(4)?),
                        chips: r.get(5)?,
                        passes: r.get(6)?,
                        wheels: r.get(7)?,
                    })
                })?
                .collect::<Result<_, _>>()?;
            // Of the time before the first edge that was entered there is a line only where it has cut.
            Ok(Some(edges.into_iter().filter(|e| e.entry.is_some() || e.passes > 0).collect()))
        })
    }
}
