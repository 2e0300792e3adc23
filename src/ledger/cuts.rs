//! Cuts: a person confirms that passes have run, or puts an earlier entry right.
//!
//! Passes of a program are confirmed in their order, each once. What they are planned to take counts from the depth at which the wheel
//! stands, since what has gone cannot go again; where earlier passes of the same program were measured to go deeper than planned, an
//! error of the touch-off, the passes after them do so too.

use super::records::{Confirmation, Correction, Cut, Run, Stamp};
use super::statements as sql;
use super::store::{enter, length, nm};
use super::wheels::stamp_at;
use super::{Ledger, LedgerError};
use rusqlite::{OptionalExtension, Row, Transaction, params};

/// A cut to be entered.
pub(super) struct NewCut {
    pub entry: i64,
    pub wheel: i64,
    pub root: i64,
    pub corrects: Option<i64>,
    pub run: Option<NewRun>,
    pub taken: i64,
    pub measured: bool,
    pub note: String,
}

/// Passes of a program that have run.
#[derive(Clone, Copy)]
pub(super) struct NewRun {
    program: i64,
    first: i64,
    passes: i64,
    planned: i64,
}

pub(super) fn add_cut(t: &Transaction<'_>, cut: &NewCut) -> rusqlite::Result<()> {
    let run = cut.run;
    t.execute(
        sql::ADD_CUT,
        params![
            cut.entry,
            cut.wheel,
            cut.root,
            cut.corrects,
            run.map(|r| r.program),
            run.map(|r| r.first),
            run.map(|r| r.passes),
            run.map(|r| r.planned),
            cut.taken,
            cut.measured,
            cut.note
        ],
    )?;
    Ok(())
}

pub(super) fn read_cut(row: &Row<'_>) -> rusqlite::Result<Cut> {
    let program: Option<i64> = row.get(5)?;
    let run = match program {
        Some(program) => Some(Run {
            program,
            hash: row.get(6)?,
            first: row.get(7)?,
            passes: row.get(8)?,
            planned: length(row.get(9)?),
        }),
        None => None,
    };
    Ok(Cut {
        entry: row.get(0)?,
        corrects: row.get(1)?,
        corrected_by: row.get(2)?,
        stamp: stamp_at(row, 3)?,
        run,
        taken: length(row.get(10)?),
        measured: row.get(11)?,
        note: row.get(12)?,
    })
}

/// A program of the ledger: its entry, its wheel's, its survey's, and the wheel's number.
type Found = (i64, i64, i64, String);

impl Ledger {
    /// Enters that passes of a program have run, and gives back the wheel's number and the entry.
    ///
    /// # Errors
    /// Where the program or so many passes of it are not known, all have been confirmed, or the ledger cannot be written.
    pub fn confirm(&mut self, stamp: &Stamp, confirmed: &Confirmation) -> Result<(String, Cut), LedgerError> {
        self.write(|t, _| {
            let found: Vec<Found> = t
                .prepare_cached(sql::PROGRAMS_BY_HASH)?
                .query_map(params![confirmed.hash, confirmed.wheel], |r| {
                    Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?))
                })?
                .collect::<Result<_, _>>()?;
            let (program, wheel, survey, number) = match only(found) {
                Ok(found) => found,
                Err(refused) => return Ok(Err(refused)),
            };
            let all: i64 = t.query_row(sql::COUNT_PASSES, [program], |r| r.get(0))?;
            let run: i64 = t.query_row(sql::LAST_PASS_RUN, [program], |r| r.get(0))?;
            let passes = confirmed.passes.map_or(all - run, i64::from);
            if passes < 1 || passes > all - run {
                return Ok(Err(LedgerError::Asked(format!(
                    "{run} of the program's {all} passes are confirmed already; {} remain\n  to mend it: give --passes no more than remain, or put the earlier entry right with `facewright ledger correct`",
                    all - run
                ))));
            }
            let last = run + passes;
            let from = depth_before(t, wheel, survey, program)?;
            let to: i64 = t.query_row(sql::DEPTH_AFTER, params![program, last], |r| r.get(0))?;
            let planned = (to - from).max(0);
            let entry = enter(t, stamp)?;
            add_cut(
                t,
                &NewCut {
                    entry,
                    wheel,
                    root: entry,
                    corrects: None,
                    run: Some(NewRun { program, first: run + 1, passes, planned }),
                    taken: confirmed.taken.map_or(planned, nm),
                    measured: confirmed.taken.is_some(),
                    note: confirmed.note.clone(),
                },
            )?;
            Ok(Ok((number, cut(t, entry)?)))
        })
    }

    /// Puts a cut right by a new entry that names it. The old one stays and counts no more.
    ///
    /// # Errors
    /// Where there is no such cut, it has been corrected already, it has no such passes, or the ledger cannot be written.
    pub fn correct(&mut self, stamp: &Stamp, correction: &Correction) -> Result<Cut, LedgerError> {
        self.write(|t, _| {
            let old = match old_cut(t, correction.entry)? {
                Ok(old) => old,
                Err(refused) => return Ok(Err(refused)),
            };
            let run = match (old.run, correction.passes) {
                (Some(run), Some(passes)) => match with_passes(t, run, i64::from(passes))? {
                    Ok(run) => Some(run),
                    Err(refused) => return Ok(Err(refused)),
                },
                (None, Some(_)) => {
                    return Ok(Err(LedgerError::Asked(format!(
                        "entry {} is what a job states, not passes of a program",
                        correction.entry
                    ))));
                }
                (run, None) => run,
            };
            let entry = enter(t, stamp)?;
            add_cut(
                t,
                &NewCut {
                    entry,
                    wheel: old.wheel,
                    root: old.root,
                    corrects: Some(correction.entry),
                    run,
                    taken: nm(correction.taken),
                    measured: true,
                    note: correction.note.clone(),
                },
            )?;
            Ok(Ok(cut(t, entry)?))
        })
    }
}

/// The one program of a hash.
fn only(found: Vec<Found>) -> Result<Found, LedgerError> {
    let several = found.len() > 1;
    let numbers: Vec<String> = found.iter().map(|(.., number)| number.clone()).collect();
    match found.into_iter().next() {
        Some(found) if !several => Ok(found),
        Some(_) => Err(LedgerError::Asked(format!(
            "this program was entered more than once, for wheels {}\n  to mend it: name the wheel with --wheel",
            numbers.join(", ")
        ))),
        None => Err(LedgerError::Asked(
            "the ledger does not know this program: it holds those that `write` wrote, byte for byte\n  to mend it: name the file that was run, and the ledger of its shop".to_owned(),
        )),
    }
}

/// The depth at which the next pass of a program begins to take metal, as its plan counts depth, nanometres: what has gone, less what
/// its own passes went deeper than planned.
fn depth_before(t: &Transaction<'_>, wheel: i64, survey: i64, program: i64) -> rusqlite::Result<i64> {
    let gone: i64 = t.query_row(sql::TAKEN_ON_SURVEY, params![wheel, survey], |r| r.get(0))?;
    let deeper: i64 = t.query_row(sql::DEEPER_THAN_PLANNED, [program], |r| r.get(0))?;
    Ok(gone.saturating_sub(deeper))
}

fn cut(t: &Transaction<'_>, entry: i64) -> rusqlite::Result<Cut> {
    t.query_row(&format!("{}{}", sql::CUT_COLUMNS, sql::OF_ENTRY), [entry], read_cut)
}

/// A cut that is to be put right.
struct OldCut {
    wheel: i64,
    root: i64,
    run: Option<NewRun>,
}

fn old_cut(t: &Transaction<'_>, entry: i64) -> rusqlite::Result<Result<OldCut, LedgerError>> {
    let row = t
        .query_row(sql::CUT_TO_CORRECT, [entry], |r| {
            let program: Option<i64> = r.get(2)?;
            let run = match program {
                Some(program) => {
                    Some(NewRun { program, first: r.get(3)?, passes: r.get(4)?, planned: r.get(5)? })
                }
                None => None,
            };
            let newer: Option<i64> = r.get(6)?;
            Ok((OldCut { wheel: r.get(0)?, root: r.get(1)?, run }, newer))
        })
        .optional()?;
    Ok(match row {
        None => Err(LedgerError::Asked(format!(
            "entry {entry} is no cut; `facewright ledger show` names the entries of a wheel"
        ))),
        Some((_, Some(newer))) => Err(LedgerError::Asked(format!(
            "entry {entry} was put right by entry {newer} already\n  to mend it: correct entry {newer}"
        ))),
        Some((old, None)) => Ok(old),
    })
}

/// The same run with another number of passes.
fn with_passes(
    t: &Transaction<'_>,
    run: NewRun,
    passes: i64,
) -> rusqlite::Result<Result<NewRun, LedgerError>> {
    let NewRun { program, first, passes: before, planned } = run;
    let all: i64 = t.query_row(sql::COUNT_PASSES, [program], |r| r.get(0))?;
    let last: i64 = t.query_row(sql::LAST_PASS_RUN, [program], |r| r.get(0))?;
    if first + passes - 1 > all {
        return Ok(Err(LedgerError::Asked(format!(
            "the program has {all} passes, and the entry begins at pass {first}"
        ))));
    }
    if last > first + before - 1 && passes != before {
        return Ok(Err(LedgerError::Asked(
            "later passes of this program are confirmed; correct the later entries first".to_owned(),
        )));
    }
    let after = |number: i64| t.query_row(sql::DEPTH_AFTER, params![program, number], |r| r.get::<_, i64>(0));
    let step = after(first + passes - 1)? - after(first + before - 1)?;
    Ok(Ok(NewRun { passes, planned: (planned + step).max(0), ..run }))
}
