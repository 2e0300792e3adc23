//! Cuts: a person confirms that passes have run, or puts an earlier entry right.
//!
//! Passes of a program are confirmed in their order, each once. What they take counts from the depth at which the face stands
//! ([`super::reckoning`]).

use super::reckoning::{Counted, Reckoning, Zero, counted, reckon_anew};
use super::records::{
    Confirmation, Corrected, Correction, Cut, GaugeReading, MeasuredAgain, Run, Stamp, Taken,
};
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
    pub again: Option<i64>,
    pub taken: i64,
    pub measured: bool,
    pub gauge: Option<Gauge>,
    pub note: String,
}

/// What a gauge showed, nanometres.
#[derive(Clone, Copy)]
pub(super) struct Gauge {
    pub depth: i64,
    pub within: Option<i64>,
}

impl Gauge {
    fn of(reading: GaugeReading) -> Self {
        Self { depth: nm(reading.depth), within: reading.within.map(nm) }
    }

    /// By how much what was entered before adds up to more than it shows, where that is more than it is known within.
    pub fn shows_less_than(self, gone: i64) -> Option<i64> {
        let more = gone.saturating_sub(self.depth);
        (more > self.within.unwrap_or_default()).then_some(more)
    }
}

/// Passes of a program that have run.
#[derive(Clone, Copy)]
pub(super) struct NewRun {
    pub program: i64,
    pub first: i64,
    pub passes: i64,
    pub planned: i64,
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
            cut.note,
            cut.again,
            cut.gauge.map(|g| g.depth),
            cut.gauge.and_then(|g| g.within)
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
    let gauge: Option<i64> = row.get(13)?;
    let within: Option<i64> = row.get(14)?;
    let again: Option<i64> = row.get(15)?;
    let again = match again {
        Some(survey) => Some(MeasuredAgain {
            survey,
            entered: length(row.get(16)?),
            most: length(row.get(17)?),
            uncertainty: length(row.get(18)?),
        }),
        None => None,
    };
    Ok(Cut {
        entry: row.get(0)?,
        corrects: row.get(1)?,
        corrected_by: row.get(2)?,
        stamp: stamp_at(row, 3)?,
        run,
        again,
        gauge: gauge.map(|depth| GaugeReading { depth: length(depth), within: within.map(length) }),
        taken: length(row.get(10)?),
        measured: row.get(11)?,
        note: row.get(12)?,
    })
}

/// A program of the ledger: its entry, its wheel's, the first lines of its face, the depth from which its passes count, and the
/// wheel's number.
type Found = (i64, i64, String, i64, String);

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
                    Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?, r.get(4)?))
                })?
                .collect::<Result<_, _>>()?;
            let (program, wheel, first_lines, begins, number) = match only(found) {
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
            let face = Reckoning::after(&counted(t, wheel, &first_lines)?, Zero::FirstLines);
            let run = NewRun { program, first: run + 1, passes, planned: 0 };
            let run = NewRun { planned: planned(t, run, &face, begins)?, ..run };
            let (taken, gauge) = match confirmed.taken {
                None => (run.planned, None),
                Some(taken) => match really_taken(taken, face.gone) {
                    Ok(taken) => taken,
                    Err(refused) => return Ok(Err(refused)),
                },
            };
            let entry = enter(t, stamp)?;
            add_cut(
                t,
                &NewCut {
                    entry,
                    wheel,
                    root: entry,
                    corrects: None,
                    run: Some(run),
                    again: None,
                    taken,
                    measured: confirmed.taken.is_some(),
                    gauge,
                    note: confirmed.note.clone(),
                },
            )?;
            Ok(Ok((number, cut(t, entry)?)))
        })
    }

    /// Puts a cut right by a new entry that names it. The old one stays and counts no more. What was reckoned from it and not measured is
    /// reckoned anew.
    ///
    /// # Errors
    /// Where there is no such cut, it has been corrected already, it has no such passes, a gauge contradicts it, or the ledger cannot be
    /// written.
    pub fn correct(&mut self, stamp: &Stamp, correction: &Correction) -> Result<Corrected, LedgerError> {
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
                        "entry {} is not of passes of a program",
                        correction.entry
                    ))));
                }
                (run, None) => run,
            };
            let cuts = match &old.face {
                Some(first) => counted(t, old.wheel, first)?,
                None => Vec::new(),
            };
            let before = Reckoning::after(cuts.iter().filter(|c: &&Counted| c.root < old.root), Zero::FirstLines);
            if matches!(correction.taken, Taken::Stands(_)) && run.is_none() {
                return Ok(Err(LedgerError::Asked(format!(
                    "entry {} is not of passes of a program, after which a gauge could show the depth\n  to mend it: give --taken",
                    correction.entry
                ))));
            }
            let (taken, gauge) = match really_taken(correction.taken, before.gone) {
                Ok(taken) => taken,
                Err(refused) => return Ok(Err(refused)),
            };
            let run = match run {
                Some(run) => Some(NewRun { planned: planned(t, run, &before, old.begins)?, ..run }),
                None => None,
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
                    again: old.again,
                    taken,
                    measured: true,
                    gauge,
                    note: correction.note.clone(),
                },
            )?;
            let reckoned = match &old.face {
                Some(first) => {
                    if let Some((later, gone)) = Reckoning::contradicted(&counted(t, old.wheel, first)?) {
                        return Ok(Err(LedgerError::Asked(format!(
                            "a gauge showed less in entry {later} than the {:.3} that the entries before it would add up to\n  to mend it: put entry {later} right first with `facewright ledger correct`",
                            length(gone)
                        ))));
                    }
                    reckon_anew(t, stamp, old.wheel, first, entry)?
                }
                None => Vec::new(),
            };
            let reckoned = reckoned.into_iter().map(|entry| cut(t, entry)).collect::<Result<_, _>>()?;
            Ok(Ok(Corrected { wheel: old.number, cut: cut(t, entry)?, reckoned }))
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

/// The deepest that is believed to have been taken, or to stand below the face, nanometres: 0.1 m, more than any face is thick. Beyond
/// it a figure is mistyped, and the sums of a ledger are to stay whole numbers.
const DEEPEST: i64 = 100_000_000;

/// What was taken, nanometres, with the reading of a gauge that says so; the entries before it add up to `gone`.
fn really_taken(taken: Taken, gone: i64) -> Result<(i64, Option<Gauge>), LedgerError> {
    let (Taken::Off(said) | Taken::Stands(GaugeReading { depth: said, .. })) = taken;
    if !(0..=DEEPEST).contains(&nm(said)) {
        return Err(LedgerError::Asked(format!(
            "{said:.3} cannot have come off a face\n  to mend it: give a depth between none and {:.0}",
            length(DEEPEST)
        )));
    }
    let reading = match taken {
        Taken::Off(taken) => return Ok((nm(taken), None)),
        Taken::Stands(reading) => reading,
    };
    let gauge = Gauge::of(reading);
    if let Some(more) = gauge.shows_less_than(gone) {
        return Err(LedgerError::Asked(format!(
            "the gauge shows the face {:.3} deep, and the entries before this one add up to {:.3} already, {:.3} more\n  to mend it: put those entries right first with `facewright ledger correct`",
            reading.depth,
            length(gone),
            length(more)
        )));
    }
    Ok((gauge.depth.saturating_sub(gone).max(0), Some(gauge)))
}

fn cut(t: &Transaction<'_>, entry: i64) -> rusqlite::Result<Cut> {
    t.query_row(&format!("{}{}", sql::CUT_COLUMNS, sql::OF_ENTRY), [entry], read_cut)
}

/// A cut that is to be put right.
struct OldCut {
    wheel: i64,
    root: i64,
    run: Option<NewRun>,
    again: Option<i64>,
    /// The first lines of its face.
    face: Option<String>,
    number: String,
    /// The depth from which its passes count, nanometres.
    begins: i64,
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
            let old = OldCut {
                wheel: r.get(0)?,
                root: r.get(1)?,
                run,
                again: r.get(7)?,
                face: r.get(8)?,
                number: r.get(9)?,
                begins: r.get(10)?,
            };
            Ok((old, newer))
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
    let NewRun { program, first, passes: before, .. } = run;
    let all: i64 = t.query_row(sql::COUNT_PASSES, [program], |r| r.get(0))?;
    let last: i64 = t.query_row(sql::LAST_PASS_RUN, [program], |r| r.get(0))?;
    if last_of(first, passes) > all {
        return Ok(Err(LedgerError::Asked(format!(
            "the program has {all} passes, and the entry begins at pass {first}"
        ))));
    }
    if last > last_of(first, before) && passes != before {
        return Ok(Err(LedgerError::Asked(
            "later passes of this program are confirmed; correct the later entries first".to_owned(),
        )));
    }
    Ok(Ok(NewRun { passes, ..run }))
}

/// The last of so many passes.
const fn last_of(first: i64, passes: i64) -> i64 {
    first.saturating_add(passes).saturating_sub(1)
}

/// What passes are planned to take from a face that stands so; nothing where none has run.
fn planned(t: &Transaction<'_>, run: NewRun, face: &Reckoning, begins: i64) -> rusqlite::Result<i64> {
    if run.passes == 0 {
        return Ok(0);
    }
    let to: i64 =
        t.query_row(sql::DEPTH_AFTER, params![run.program, last_of(run.first, run.passes)], |r| r.get(0))?;
    Ok(face.planned(run.program, to.saturating_add(begins)))
}
