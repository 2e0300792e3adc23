//! How deep a face stands below the one first measured, reckoned from its entries one after the other.
//!
//! Metal that has gone cannot go again. Passes go down to a depth: what they take is what still stood above it. Where earlier passes of the
//! same program were measured to go deeper than planned, an error of the touch-off, the passes after them do so too. What a person
//! measured counts as said: what passes took, or how deep a gauge showed the face to stand. Lines measured again are an account of
//! what was taken and no further cut: they add only what they show to be gone beyond all that was entered, and only where that is
//! more than their uncertainty. They take nothing back: a person does that, by a correction.
//!
//! A correction changes what lay above the entries after it. Those that were reckoned and not measured are then reckoned anew, each by a
//! new entry that names the old, so that the sum is the same as if the entry had been right at once.

use super::cuts::{Gauge, NewCut, NewRun, add_cut};
use super::records::Stamp;
use super::statements as sql;
use super::store::enter;
use rusqlite::{Row, Transaction, params};
use std::collections::BTreeMap;

/// A cut that counts, on one face.
#[derive(Clone)]
pub(super) struct Counted {
    pub entry: i64,
    pub root: i64,
    /// As stored, nanometres.
    pub taken: i64,
    measured: bool,
    gauge: Option<Gauge>,
    what: What,
}

/// What an entry is of.
#[derive(Clone, Copy)]
enum What {
    /// Passes of a program, down to a depth below the zero of its own survey, which lies at `begins`.
    Passes { run: NewRun, survey: i64, to: i64, begins: i64 },
    /// Lines measured again: the most that is gone, and how well that is known.
    Again { again: i64, most: i64, uncertainty: i64 },
}

impl Counted {
    /// Whether these are passes of a program that was written on this survey.
    pub fn is_on(&self, on: i64) -> bool {
        matches!(self.what, What::Passes { survey, .. } if survey == on)
    }
}

/// The cuts that count on the face of these first lines, in their order.
pub(super) fn counted(t: &Transaction<'_>, wheel: i64, first: &str) -> rusqlite::Result<Vec<Counted>> {
    t.prepare_cached(sql::COUNTED_ON_FACE)?.query_map(params![wheel, first], read)?.collect()
}

fn read(row: &Row<'_>) -> rusqlite::Result<Counted> {
    let program: Option<i64> = row.get(4)?;
    let what = match program {
        Some(program) => What::Passes {
            run: NewRun { program, first: row.get(5)?, passes: row.get(6)?, planned: row.get(7)? },
            survey: row.get(8)?,
            to: row.get(9)?,
            begins: row.get(10)?,
        },
        None => What::Again { again: row.get(11)?, most: row.get(12)?, uncertainty: row.get(13)? },
    };
    let gauge: Option<i64> = row.get(14)?;
    let within: Option<i64> = row.get(15)?;
    Ok(Counted {
        entry: row.get(0)?,
        root: row.get(1)?,
        taken: row.get(2)?,
        measured: row.get(3)?,
        gauge: gauge.map(|depth| Gauge { depth, within }),
        what,
    })
}

/// Where depths count from.
#[derive(Clone, Copy)]
pub(super) enum Zero {
    /// The face as first measured.
    FirstLines,
    /// Where the passes of one survey begin.
    OwnSurvey,
}

/// A face after some of its entries, nanometres.
#[derive(Default)]
pub(super) struct Reckoning {
    /// Below the zero.
    pub gone: i64,
    /// How much deeper than planned the passes of each program went.
    deeper: BTreeMap<i64, i64>,
    last_program: Option<i64>,
}

/// What one entry takes, nanometres.
struct Step {
    planned: i64,
    taken: i64,
}

impl Reckoning {
    /// The face after these entries.
    pub fn after<'c>(cuts: impl IntoIterator<Item = &'c Counted>, zero: Zero) -> Self {
        let mut reckoning = Self::default();
        for cut in cuts {
            reckoning.step(cut, zero);
        }
        reckoning
    }

    /// The first entry whose gauge shows less than the entries before it add up to, and what these do, nanometres.
    pub fn contradicted(cuts: &[Counted]) -> Option<(i64, i64)> {
        let mut face = Self::default();
        cuts.iter().find_map(|cut| {
            let gone = face.gone;
            face.step(cut, Zero::FirstLines);
            cut.gauge?.shows_less_than(gone).map(|_| (cut.entry, gone))
        })
    }

    /// What passes of a program down to a depth take from here.
    pub fn planned(&self, program: i64, to: i64) -> i64 {
        let deeper = self.deeper.get(&program).copied().unwrap_or_default();
        to.saturating_sub(self.gone.saturating_sub(deeper)).max(0)
    }

    fn step(&mut self, cut: &Counted, zero: Zero) -> Step {
        let step = match cut.what {
            What::Passes { run, to, begins, .. } => {
                let begins_here = match zero {
                    Zero::FirstLines => begins,
                    Zero::OwnSurvey => 0,
                };
                let to = to.saturating_add(begins_here);
                let planned = if run.passes == 0 { 0 } else { self.planned(run.program, to) };
                let taken = match cut.gauge {
                    Some(gauge) => {
                        let depth = gauge.depth.saturating_sub(begins).saturating_add(begins_here);
                        depth.saturating_sub(self.gone).max(0)
                    }
                    None if cut.measured => cut.taken,
                    None => planned,
                };
                self.last_program = Some(run.program);
                Step { planned, taken }
            }
            What::Again { .. } if cut.measured => Step { planned: 0, taken: cut.taken },
            What::Again { most, uncertainty, .. } => {
                Step { planned: 0, taken: shown_beyond(self.gone, most, uncertainty) }
            }
        };
        self.gone = self.gone.saturating_add(step.taken);
        if let Some(program) = self.last_program {
            let deeper = self.deeper.entry(program).or_default();
            *deeper = deeper.saturating_add(step.taken.saturating_sub(step.planned));
        }
        step
    }
}

/// What lines measured again show to be gone beyond what was entered.
pub(super) const fn shown_beyond(entered: i64, most: i64, uncertainty: i64) -> i64 {
    let beyond = most.saturating_sub(entered);
    if beyond > uncertainty { beyond } else { 0 }
}

/// Reckons anew what was not measured, where an entry before it has changed; gives back the new entries.
pub(super) fn reckon_anew(
    t: &Transaction<'_>,
    stamp: &Stamp,
    wheel: i64,
    first: &str,
    why: i64,
) -> rusqlite::Result<Vec<i64>> {
    let mut reckoning = Reckoning::default();
    let mut entries = Vec::new();
    for cut in counted(t, wheel, first)? {
        let Step { planned, taken } = reckoning.step(&cut, Zero::FirstLines);
        if taken == cut.taken {
            continue;
        }
        let (run, again) = match cut.what {
            What::Passes { run, .. } => (Some(NewRun { planned, ..run }), None),
            What::Again { again, .. } => (None, Some(again)),
        };
        let entry = enter(t, stamp)?;
        let new = NewCut {
            entry,
            wheel,
            root: cut.root,
            corrects: Some(cut.entry),
            run,
            again,
            taken,
            measured: cut.measured,
            gauge: cut.gauge,
            note: format!("reckoned anew after entry {why}"),
        };
        add_cut(t, &new)?;
        entries.push(entry);
    }
    Ok(entries)
}
