//! Wheels: entering what was measured and written, and reading a wheel's history.

use super::cuts::{add_cut, read_cut};
use super::reckoning::{Counted, Reckoning, Zero, counted, reckon_anew, shown_beyond};
use super::records::{
    AgainRecord, Cut, KeptProgram, KeptSurvey, KeptTouch, Lines, ProgramRecord, Stamp, Standing,
    SurveyRecord, Touch, WheelHistory,
};
use super::statements as sql;
use super::store::{enter, length, nm};
use super::{FaceProfile, Ledger, LedgerError, Moment};
use crate::units::Length;
use rusqlite::{OptionalExtension, Row, Transaction, params};

impl Ledger {
    /// What has gone off a wheel, seen from one measurement of it; none where the ledger does not know the wheel.
    ///
    /// # Errors
    /// Where the wheel was cut on a later measurement, or the ledger cannot be read.
    pub fn standing(&self, number: &str, lines: Lines<'_>) -> Result<Option<Standing>, LedgerError> {
        let (seen, later) = self.read(|t| {
            let Some((wheel, _)) = wheel(t, number)? else { return Ok((None, None)) };
            let survey: Option<i64> =
                t.query_row(sql::SURVEY, params![wheel, lines.all], |r| r.get(0)).optional()?;
            let later: Option<i64> = match survey {
                Some(survey) => t.query_row(sql::CUT_SINCE, params![wheel, survey], |r| r.get(0))?,
                None => None,
            };
            Ok((Some(standing(t, wheel, survey, lines)?), later))
        })?;
        match later {
            Some(entry) => Err(LedgerError::Outdated { wheel: number.to_owned(), entry }),
            None => Ok(seen),
        }
    }

    /// Enters a measured wheel and the programs written for it; nothing of it counts as cut. What is there already is not entered again.
    ///
    /// What the job says was taken and the ledger does not hold is entered as stated.
    ///
    /// # Errors
    /// Where the job claims less than the ledger holds, leaves it to a ledger that does not know the wheel, or the ledger cannot be
    /// written.
    pub fn record(
        &mut self,
        stamp: &Stamp,
        survey: &SurveyRecord,
        programs: &[ProgramRecord],
    ) -> Result<(), LedgerError> {
        self.write(|t, _| {
            let number = &survey.number;
            let known = wheel(t, number)?;
            if known.is_none() && survey.claims.is_none() {
                return Ok(Err(LedgerError::TakenNotKnown { wheel: number.clone() }));
            }
            let wheel = if let Some((wheel, _)) = known {
                wheel
            } else {
                let id = enter(t, stamp)?;
                t.execute(sql::ADD_WHEEL, params![id, number, survey.name])?;
                id
            };
            let kept: Option<i64> =
                t.query_row(sql::SURVEY, params![wheel, survey.measurement], |r| r.get(0)).optional()?;
            let first = survey.again.as_ref().map_or(&survey.measurement, |again| &again.first);
            let held = standing(t, wheel, kept, Lines { all: &survey.measurement, first })?.taken;
            if let Some(claimed) = survey.claims {
                let more = nm(claimed).saturating_sub(nm(held));
                if more < 0 {
                    return Ok(Err(LedgerError::ClaimsLess { wheel: number.clone(), claimed, held }));
                }
                if more > 0 {
                    let id = enter(t, stamp)?;
                    add_cut(t, &stated(id, wheel, more, &survey.job))?;
                }
            }
            let kept = match kept {
                Some(kept) => kept,
                None => add_survey(t, stamp, wheel, survey)?,
            };
            let moved = match &survey.again {
                Some(again) => nm(again.begins).saturating_sub(add_again(t, stamp, wheel, kept, again)?),
                None => 0,
            };
            for program in programs {
                add_program(t, stamp, kept, program, moved)?;
            }
            Ok(Ok(()))
        })
    }

    /// Enters a touch check on a measured wheel.
    ///
    /// # Errors
    /// Where the ledger does not know the measurement, or cannot be written.
    pub fn record_touch(
        &mut self,
        stamp: &Stamp,
        number: &str,
        measurement: &str,
        touch: &Touch,
    ) -> Result<(), LedgerError> {
        self.write(|t, _| {
            let survey: Option<i64> = match wheel(t, number)? {
                Some((wheel, _)) => {
                    t.query_row(sql::SURVEY, params![wheel, measurement], |r| r.get(0)).optional()?
                }
                None => None,
            };
            let Some(survey) = survey else {
                return Ok(Err(LedgerError::Asked(format!(
                    "the ledger does not know this measurement of wheel {number}; `write` enters it"
                ))));
            };
            let [x, x_uncertainty] = touch.error_x.map_or([None; 2], |both| both.map(|l| Some(nm(l))));
            let [z, z_uncertainty] = touch.error_z.map(nm);
            let id = enter(t, stamp)?;
            let row = params![id, survey, touch.tool, x, z, x_uncertainty, z_uncertainty, touch.note];
            t.execute(sql::ADD_TOUCH, row)?;
            Ok(Ok(()))
        })
    }

    /// Whether the shop of the last job reads inches.
    ///
    /// # Errors
    /// Where the ledger cannot be read.
    pub fn reads_inches(&self) -> Result<bool, LedgerError> {
        self.read(|t| {
            let unit: Option<String> = t.query_row(sql::UNIT, [], |r| r.get(0)).optional()?;
            Ok(unit.as_deref() == Some("in"))
        })
    }

    /// The numbers of all wheels, in their order.
    ///
    /// # Errors
    /// Where the ledger cannot be read.
    pub fn wheels(&self) -> Result<Vec<String>, LedgerError> {
        self.read(|t| t.prepare(sql::WHEELS)?.query_map([], |r| r.get(0))?.collect())
    }

    /// A wheel with all that was entered of it; none where the ledger does not know it.
    ///
    /// # Errors
    /// Where the ledger cannot be read.
    pub fn wheel(&self, number: &str) -> Result<Option<WheelHistory>, LedgerError> {
        self.read(|t| {
            let Some((id, name)) = wheel(t, number)? else { return Ok(None) };
            let surveys: Vec<KeptSurvey> =
                t.prepare(sql::SURVEYS_OF_WHEEL)?.query_map([id], survey_row)?.collect::<Result<_, _>>()?;
            let surveys =
                surveys.into_iter().map(|survey| with_programs(t, survey)).collect::<Result<_, _>>()?;
            let cuts: Vec<Cut> = t
                .prepare(&format!("{}{}", sql::CUT_COLUMNS, sql::OF_WHEEL))?
                .query_map([id], read_cut)?
                .collect::<Result<_, _>>()?;
            let taken = length(t.query_row(sql::TAKEN, [id], |r| r.get(0))?);
            Ok(Some(WheelHistory { number: number.to_owned(), name, surveys, cuts, taken }))
        })
    }

    /// The face of a wheel as one survey kept it, or, without an entry, as the last survey of another measurement did; with its entry.
    ///
    /// # Errors
    /// Where there is none, or the ledger cannot be read.
    pub fn face(
        &self,
        number: &str,
        entry: Option<i64>,
        measurement: &str,
    ) -> Result<(i64, FaceProfile), LedgerError> {
        let found: Option<(i64, String)> = self.read(|t| {
            let Some((wheel, _)) = wheel(t, number)? else { return Ok(None) };
            match entry {
                Some(entry) => t
                    .query_row(sql::FACE_OF_SURVEY, params![entry, wheel], |r| Ok((entry, r.get(0)?)))
                    .optional(),
                None => t
                    .query_row(sql::FACES_OF_WHEEL, params![wheel, measurement], |r| {
                        Ok((r.get(0)?, r.get(1)?))
                    })
                    .optional(),
            }
        })?;
        let Some((entry, text)) = found else {
            return Err(LedgerError::Asked(format!("the ledger holds no other face of wheel {number}")));
        };
        let face = serde_json::from_str(&text)
            .map_err(|e| self.damaged(format!("the face of entry {entry}: {e}")))?;
        Ok((entry, face))
    }
}

/// A wheel's row and its name.
pub(super) fn wheel(t: &Transaction<'_>, number: &str) -> rusqlite::Result<Option<(i64, String)>> {
    t.query_row(sql::WHEEL, [number], |r| Ok((r.get(0)?, r.get(1)?))).optional()
}

/// Seen from a measurement that is not in the ledger, all went before it: off the face of its first lines, or before these.
fn standing(
    t: &Transaction<'_>,
    wheel: i64,
    survey: Option<i64>,
    lines: Lines<'_>,
) -> rusqlite::Result<Standing> {
    let all: i64 = t.query_row(sql::TAKEN, [wheel], |r| r.get(0))?;
    let mut cuts = counted(t, wheel, lines.first)?;
    let again: Option<i64> = match survey {
        Some(survey) => t.query_row(sql::AGAIN, [survey], |r| r.get(0)).optional()?,
        None => None,
    };
    if lines.all != lines.first && again.is_none() {
        // A ledger of before version 3 does not say that what was cut on these lines is on the face of the first ones.
        cuts.extend(counted(t, wheel, lines.all)?);
    }
    let sum = |of: &dyn Fn(&Counted) -> bool| -> i64 { cuts.iter().filter(|c| of(c)).map(|c| c.taken).sum() };
    let on_face = sum(&|_| true);
    let (told, already) = if lines.all == lines.first {
        (0, on_face)
    } else {
        let on_these = |c: &Counted| survey.is_some_and(|survey| c.is_on(survey));
        let told = sum(&|c| !on_these(c) && again.is_none_or(|again| c.root < again));
        // What stands was measured: what was entered before moves no pass that comes after.
        let since = survey.map_or(0, |survey| {
            Reckoning::after(cuts.iter().filter(|c| c.is_on(survey)), Zero::OwnSurvey).gone
        });
        (told, since)
    };
    Ok(Standing { taken: length(all.saturating_sub(on_face)), told: length(told), already: length(already) })
}

/// Enters what lines measured again show, once, and gives back the depth from which the passes on their survey are counted.
fn add_again(
    t: &Transaction<'_>,
    stamp: &Stamp,
    wheel: i64,
    survey: i64,
    again: &AgainRecord,
) -> rusqlite::Result<i64> {
    let kept: Option<i64> = t.query_row(sql::AGAIN, [survey], |r| r.get(1)).optional()?;
    if let Some(begins) = kept {
        return Ok(begins);
    }
    let (begins, most, uncertainty) = (nm(again.begins), nm(again.most), nm(again.uncertainty));
    let entered: i64 = counted(t, wheel, &again.first)?.iter().map(|c| c.taken).sum();
    let id = enter(t, stamp)?;
    t.execute(sql::ADD_AGAIN, params![id, survey, again.first, entered, begins, most, uncertainty])?;
    let entry = enter(t, stamp)?;
    let shown = super::cuts::NewCut {
        entry,
        wheel,
        root: entry,
        corrects: None,
        run: None,
        again: Some(id),
        taken: shown_beyond(entered, most, uncertainty),
        measured: false,
        gauge: None,
        note: String::new(),
    };
    add_cut(t, &shown)?;
    // Passes on these lines may have been confirmed before it was kept that the lines belong to the face of others.
    reckon_anew(t, stamp, wheel, &again.first, id)?;
    Ok(begins)
}

/// What a job says went before.
fn stated(entry: i64, wheel: i64, taken: i64, job: &str) -> super::cuts::NewCut {
    super::cuts::NewCut {
        entry,
        wheel,
        root: entry,
        corrects: None,
        run: None,
        again: None,
        taken,
        measured: false,
        gauge: None,
        note: format!("stated in the job: {job}"),
    }
}

fn add_survey(
    t: &Transaction<'_>,
    stamp: &Stamp,
    wheel: i64,
    survey: &SurveyRecord,
) -> rusqlite::Result<i64> {
    let face =
        serde_json::to_string(&survey.face).map_err(|e| rusqlite::Error::ToSqlConversionFailure(e.into()))?;
    let id = enter(t, stamp)?;
    t.execute(
        sql::ADD_SURVEY,
        params![
            id,
            wheel,
            survey.measurement,
            survey.job,
            survey.verdict,
            nm(survey.clean_up),
            nm(survey.limit),
            face,
            if survey.inches { "in" } else { "mm" }
        ],
    )?;
    Ok(id)
}

fn add_program(
    t: &Transaction<'_>,
    stamp: &Stamp,
    survey: i64,
    program: &ProgramRecord,
    moved: i64,
) -> rusqlite::Result<()> {
    let kept: Option<i64> =
        t.query_row(sql::PROGRAM, params![survey, program.hash], |r| r.get(0)).optional()?;
    if kept.is_some() {
        return Ok(());
    }
    let findings = serde_json::to_string(&program.findings)
        .map_err(|e| rusqlite::Error::ToSqlConversionFailure(e.into()))?;
    let id = enter(t, stamp)?;
    let [part, of] = program.part;
    // Another job on the same lines may count from another depth than the one that was kept.
    let kept = |depth: Length| nm(depth).saturating_add(moved).max(0);
    let mut before = kept(program.before);
    t.execute(
        sql::ADD_PROGRAM,
        params![id, survey, program.hash, part, of, before, program.verdict, findings],
    )?;
    // The whole steps add up to the whole depth: what each pass is deeper is told from the depths it runs at.
    for (number, pass) in (1_i64..).zip(&program.passes) {
        let total = kept(pass.total);
        let depth = total.saturating_sub(before);
        t.execute(
            sql::ADD_PASS,
            params![id, number, pass.kind, pass.tool, depth, total, pass.spiral.as_mm(), pass.chips],
        )?;
        before = total;
    }
    Ok(())
}

/// Columns from `at` on: when and by whom.
pub(super) fn stamp_at(row: &Row<'_>, column: usize) -> rusqlite::Result<Stamp> {
    let at: String = row.get(column)?;
    let at: Moment = at.parse().map_err(|e| {
        rusqlite::Error::FromSqlConversionFailure(column, rusqlite::types::Type::Text, Box::new(e))
    })?;
    Ok(Stamp { at, by: row.get(column + 1)? })
}

fn survey_row(row: &Row<'_>) -> rusqlite::Result<KeptSurvey> {
    Ok(KeptSurvey {
        entry: row.get(0)?,
        stamp: stamp_at(row, 1)?,
        job: row.get(3)?,
        verdict: row.get(4)?,
        clean_up: length(row.get(5)?),
        limit: length(row.get(6)?),
        begins: length(row.get(7)?),
        touches: Vec::new(),
        programs: Vec::new(),
    })
}

fn with_programs(t: &Transaction<'_>, mut survey: KeptSurvey) -> rusqlite::Result<KeptSurvey> {
    let begins = nm(survey.begins);
    let below_first = |depth: i64| length(depth.saturating_add(begins));
    let program = |row: &Row<'_>| {
        Ok(KeptProgram {
            entry: row.get(0)?,
            hash: row.get(1)?,
            part: [row.get(2)?, row.get(3)?],
            passes: row.get(6)?,
            depth: [below_first(row.get(4)?), below_first(row.get(7)?)],
            verdict: row.get(5)?,
        })
    };
    let touch = |row: &Row<'_>| {
        let x: Option<i64> = row.get(1)?;
        let x_uncertainty: Option<i64> = row.get(2)?;
        let pair = |x: i64, uncertainty: i64| -> [Length; 2] { [length(x), length(uncertainty)] };
        let touch = Touch {
            tool: row.get(0)?,
            error_x: x.zip(x_uncertainty).map(|(x, u)| pair(x, u)),
            error_z: pair(row.get(3)?, row.get(4)?),
            note: row.get(5)?,
        };
        Ok(KeptTouch { stamp: stamp_at(row, 6)?, touch })
    };
    survey.programs =
        t.prepare(sql::PROGRAMS_OF_SURVEY)?.query_map([survey.entry], program)?.collect::<Result<_, _>>()?;
    survey.touches =
        t.prepare(sql::TOUCHES_OF_SURVEY)?.query_map([survey.entry], touch)?.collect::<Result<_, _>>()?;
    Ok(survey)
}
