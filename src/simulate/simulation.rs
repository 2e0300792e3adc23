//! A whole program run: every way the block-skip switch can stand, and what each would do.

use super::interpreter::{Event, Interpreter, Setup};
use super::movement::Movement;
use super::reader::ProgramRead;
use super::structure;
use super::time::time;
use crate::diagnostics::catalog;
use crate::diagnostics::collector::{self, FindingCollector, Place};
use crate::diagnostics::finding::Finding;
use crate::job::Job;
use crate::units::Time;
use std::collections::BTreeSet;

/// How the block-skip switch stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum SkipSwitch {
    /// Off: blocks with a `/` are carried out.
    Off,
    /// On: they are left out.
    On,
}

/// What the machine would do, the switch standing one way.
#[derive(Debug, Clone, PartialEq)]
pub struct Execution {
    /// How the switch stands.
    pub switch: SkipSwitch,
    /// Motions in order.
    pub movements: Vec<Movement>,
    /// What happens between them, in order.
    pub events: Vec<Event>,
    /// Whether M02 or M30 was reached.
    pub ended: bool,
    /// How long the motions take; none where speed or feed is missing. Stops and dwells not counted.
    pub time: Option<Time>,
}

/// What the machine would do.
#[derive(Debug, Clone, PartialEq)]
pub struct Simulation {
    /// One way; two where the program has block-skip marks, the switch off first.
    pub executions: Vec<Execution>,
    /// Everything found that needs no face, in the order of the lines.
    pub findings: Vec<Finding>,
}

/// Runs a program against a job.
#[must_use]
pub fn run(read: &ProgramRead, job: &Job) -> Simulation {
    run_at(read, Setup::from(job))
}

/// Runs a program against a machine, its control and tools.
#[must_use]
pub fn run_at(read: &ProgramRead, setting: Setup<'_>) -> Simulation {
    let mut findings = read.findings.clone();
    findings.extend(structure::check(read, setting.control));
    let (off, found_off) = one_way(read, setting, SkipSwitch::Off);
    let mut executions = vec![off];
    if read.has_skips() {
        let (on, found_on) = one_way(read, setting, SkipSwitch::On);
        executions.push(on);
        findings.extend(merge(found_off, found_on));
    } else {
        findings.extend(found_off);
    }
    collector::sort(&mut findings);
    Simulation { executions, findings }
}

fn one_way(read: &ProgramRead, setting: Setup<'_>, switch: SkipSwitch) -> (Execution, Vec<Finding>) {
    let mut interpreter = Interpreter::new(read, setting);
    for (index, block) in read.blocks.iter().enumerate() {
        if switch == SkipSwitch::On && block.skip.is_some() {
            continue;
        }
        if interpreter.state.ended {
            if !block.words.is_empty() {
                interpreter.notes.add(
                    &catalog::AFTER_END,
                    block.place(),
                    "blocks after the end of the program".into(),
                );
                break;
            }
            continue;
        }
        interpreter.step(index, block);
    }
    if !interpreter.state.ended {
        let last = read.blocks.iter().rev().find(|b| !b.words.is_empty());
        let place = last.map_or(Place::WHOLE, super::reader::Block::place);
        interpreter.notes.add(&catalog::NO_END, place, "the program ends without M02 or M30".into());
    }
    let rapid = setting.machine.rapid;
    let total = interpreter.movements.iter().map(|m| time(m, rapid).map(Time::as_s)).sum::<Option<f64>>();
    let Interpreter { state, notes, movements, events, .. } = interpreter;
    let way = Execution { switch, movements, events, ended: state.ended, time: total.map(Time::s) };
    (way, notes.into_findings())
}

/// The findings of both ways: one that both have is said once, any other says in which way it is found.
pub(crate) fn merge(off: Vec<Finding>, on: Vec<Finding>) -> Vec<Finding> {
    let key = |f: &Finding| (f.line, f.kind, f.what.clone());
    let in_off: BTreeSet<_> = off.iter().map(key).collect();
    let in_on: BTreeSet<_> = on.iter().map(key).collect();
    let said = |way: &str, mut finding: Finding, both: bool| {
        if !both {
            finding.what = format!("with the `/` blocks {way}: {}", finding.what);
        }
        finding
    };
    let carried_out = off.into_iter().map(|f| {
        let both = in_on.contains(&key(&f));
        said("carried out", f, both)
    });
    let left_out = on.into_iter().filter(|f| !in_off.contains(&key(f))).map(|f| said("left out", f, false));
    carried_out.chain(left_out).collect()
}

/// Findings noted as one goes through a text.
pub(super) fn noted(note: impl FnOnce(&mut FindingCollector)) -> Vec<Finding> {
    let mut notes = FindingCollector::default();
    note(&mut notes);
    notes.into_findings()
}
