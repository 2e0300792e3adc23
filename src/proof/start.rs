//! How a program starts the spindle, held against what the shop asks for: a slow turn before the first pass, with a stop after it, and a wait
//! after each start.
//!
//! Both are for people. While the wheel turns slowly somebody stands near it, and at the stop reaches in. So the turn is held to its speed, its
//! sense, once round and the stop (M00: at M01 the control runs on with its switch off). A dwell whose letter is not the shop's counts for
//! nothing: it may be thousandths of a second.
//!
//! A later part of a divided program has no slow turn of its own. Whether a program is one says its head; where metal is gone already and no
//! head says anything, none is asked for.

use super::head;
use super::report::Circumstances;
use super::sweep::spindle_at;
use crate::diagnostics::{Finding, Place, ProgramRule, Unit};
use crate::job::{Job, SpindleTurns};
use crate::simulate::{Event, EventKind, Execution, MovementKind, ProgramRead, Spindle};
use crate::units::SpindleSpeed;

/// Factor by which the slow turn may be faster than asked: rounding of its word.
const FASTER: f64 = 1.01;

/// Rounding allowed in a wait, seconds: a tenth of the last place that a dwell is written with.
const ROUNDING: f64 = 0.01;

/// How far from the park the spindle may start and still count as started there, millimetres: as far as the point that a program names.
const PARK_NEAR: f64 = 5.0;

/// From a start of the spindle to the next time that it stands.
struct Running<'a> {
    /// The start.
    start: &'a Event,
    /// The fastest that it turns before the first motion, revolutions per minute; none where no speed is known.
    fastest: Option<f64>,
    /// How long the program waits before the first motion, seconds.
    waits: f64,
    /// Whether anything moves before it stands.
    moves: bool,
    /// How many motions came before it stands; none while it turns.
    ends: Option<usize>,
    /// Whether a stop (M00) follows before the next start and before the tool is fed.
    stops: bool,
}

/// Whether a slow turn is asked of this program.
pub(super) fn first_turn_asked(
    program: &ProgramRead,
    job: &Job,
    circumstances: &Circumstances,
) -> Option<SpindleSpeed> {
    let later = head::part(program).is_some_and(|part| part > 1);
    let begins = circumstances.already.as_mm() <= 0.0 || head::is_ours(program);
    job.machine.spin.first.filter(|_| begins && !later)
}

/// A spindle that starts at less than this share of the speed at which the tool is fed runs up only then.
const RUNS_UP_LATER: f64 = 0.5;

impl Running<'_> {
    /// The speed of a start in revolutions a minute, and that at which the tool is fed next, where the first is far below the other.
    fn runs_up_later(&self, execution: &Execution) -> Option<(f64, f64)> {
        let Spindle::Fixed { .. } = self.start.spindle else { return None };
        let mut later = execution.movements.get(self.start.movements_before..)?.iter();
        let fed = later.find(|m| m.kind == MovementKind::Feed)?;
        let speeds = self.fastest.zip(spindle_at(&fed.spindle, fed.piece.from().x));
        speeds.filter(|(slow, fed)| *slow < RUNS_UP_LATER * fed)
    }
}

/// Judges every start of the spindle.
pub(super) fn judge(execution: &Execution, job: &Job, first_turn: Option<SpindleSpeed>) -> Vec<Finding> {
    let running = running(execution);
    let mut findings = Vec::new();
    let turn = running.first().filter(|r| !r.moves && job.machine.spin.first.is_some());
    match (turn, first_turn, running.first()) {
        (Some(turn), _, _) => findings.extend(judge_turn(turn, job)),
        (None, Some(asked), Some(first)) => {
            let what = format!(
                "the spindle starts for a pass; the shop file asks for a slow turn at {asked} before"
            );
            findings.push(Finding::new(ProgramRule::NoFirstTurn, place(first.start), what));
        }
        _ => {}
    }
    let Some(up) = job.machine.spin.up.map(crate::units::Time::as_s) else { return findings };
    let mut waits = Vec::new();
    for start in running.iter().skip(usize::from(turn.is_some())).filter(|r| r.moves) {
        let at = start.start.at;
        let away =
            at.x < job.machine.park_x.as_mm() - PARK_NEAR || at.z < job.machine.park_z.as_mm() - PARK_NEAR;
        let what = if away {
            format!(
                "the spindle starts with the tool at radius {:.1} mm, height {:.1} mm, not at the park",
                at.x, at.z
            )
        } else if let Some((slow, fed)) = start.runs_up_later(execution) {
            format!(
                "the spindle starts at {slow:.0} rpm, and has {fed:.0} rpm where the tool is fed: the wait lets it reach nothing"
            )
        } else if start.waits < up - ROUNDING {
            format!(
                "the tool moves {:.3} s after the start of the spindle; the shop file asks for {up} s",
                start.waits
            )
        } else {
            continue;
        };
        waits.push((place(start.start), what));
    }
    findings.extend(counted(waits));
    findings
}

/// One finding for all starts of which the same is said.
fn counted(waits: Vec<(Place, String)>) -> impl Iterator<Item = Finding> {
    let mut said: Vec<(Place, String, usize)> = Vec::new();
    for (place, what) in waits {
        match said.iter_mut().find(|(_, first, _)| *first == what) {
            Some((.., again)) => *again += 1,
            None => said.push((place, what, 0)),
        }
    }
    said.into_iter().map(|(place, what, again)| {
        let more = match again {
            0 => String::new(),
            1 => "; the same at 1 more start".into(),
            n => format!("; the same at {n} more starts"),
        };
        Finding::new(ProgramRule::NoWait, place, what + &more)
    })
}

/// Judges the slow turn.
fn judge_turn(turn: &Running<'_>, job: &Job) -> Vec<Finding> {
    let mut findings = Vec::new();
    let at = place(turn.start);
    let Some(asked) = job.machine.spin.first.map(SpindleSpeed::as_rpm) else { return findings };
    let stop = |what: String| Finding::new(ProgramRule::FirstTurn, at, what);
    let speed = turn.fastest.unwrap_or(f64::INFINITY);
    if speed > asked * FASTER {
        let what = match turn.fastest {
            Some(speed) => {
                format!("the first turn is at {speed:.0} rpm; the shop file asks for {asked:.0} rpm")
            }
            None => {
                format!("the first turn is at a speed that nobody set; the shop file asks for {asked:.0} rpm")
            }
        };
        findings.push(stop(what).measured(speed, Some(asked), Unit::Rpm));
    }
    if matches!(turn.start.spindle, Spindle::Surface { .. }) {
        findings.push(stop(
            "the first turn is at a surface speed, and the spindle runs up where the tool goes in".into(),
        ));
    }
    let clockwise = match turn.start.spindle {
        Spindle::Fixed { clockwise, .. } | Spindle::Surface { clockwise, .. } => clockwise,
        Spindle::Off => true,
    };
    if clockwise != (job.control.spindle_turns == SpindleTurns::M03) {
        findings.push(stop("the first turn goes the other way than the control's description says".into()));
    }
    if !turn.stops {
        findings.push(stop("the first turn has no stop (M00) behind it".into()));
    }
    // Once round, every place of the rim has gone by.
    let speed = if speed.is_finite() { speed } else { asked };
    if speed * (turn.waits + ROUNDING) < 60.0 {
        let what = format!(
            "the first turn lasts {:.3} s at {speed:.0} rpm; once round at {asked:.0} rpm takes {:.1} s",
            turn.waits,
            60.0 / asked
        );
        findings.push(Finding::new(ProgramRule::NoFirstTurn, at, what));
    }
    findings
}

fn place(event: &Event) -> Place {
    Place::Program { line: event.line, block: event.sequence }
}

/// Every time that the spindle turns.
fn running(execution: &Execution) -> Vec<Running<'_>> {
    let mut all: Vec<Running<'_>> = Vec::new();
    let mut turns = false;
    for event in &execution.events {
        let before_motion = |r: &Running<'_>| r.start.movements_before == event.movements_before;
        match event.kind {
            EventKind::Spindle if event.spindle == Spindle::Off => {
                if let Some(last) = all.last_mut().filter(|_| turns) {
                    last.moves |= !before_motion(last);
                    last.ends = Some(event.movements_before);
                }
                turns = false;
            }
            EventKind::Spindle => {
                let speed = spindle_at(&event.spindle, event.at.x);
                match all.last_mut().filter(|_| turns) {
                    Some(last) if before_motion(last) => {
                        last.fastest = last.fastest.zip(speed).map(|(a, b)| a.max(b));
                    }
                    Some(_) => {}
                    None => all.push(Running {
                        start: event,
                        fastest: speed,
                        waits: 0.0,
                        moves: false,
                        ends: None,
                        stops: false,
                    }),
                }
                turns = true;
            }
            EventKind::Dwell { time, by_shops_word: true } if turns => {
                if let Some(last) = all.last_mut().filter(|r| before_motion(r)) {
                    last.waits += time.as_s();
                }
            }
            EventKind::Stop => {
                if let Some(last) = all.last_mut().filter(|_| !turns) {
                    let since =
                        last.ends.and_then(|ends| execution.movements.get(ends..event.movements_before));
                    let fed = since.is_some_and(|all| all.iter().any(|m| m.kind == MovementKind::Feed));
                    last.stops |= !fed;
                }
            }
            _ => {}
        }
    }
    if let Some(last) = all.last_mut().filter(|_| turns) {
        last.moves |= last.start.movements_before < execution.movements.len();
    }
    all
}
