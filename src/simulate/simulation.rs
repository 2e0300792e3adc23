//! The simulation of a program: its text read and run once, in one value.
//!
//! Proof, explanation, comparison and page all borrow a [`Simulation`], so the page that is signed shows the motions that were
//! proved. How the control reads numbers (a missing decimal point, increments by U and W) depends on the control's description
//! alone and is decided in one place, [`Setup`], so one text at one control cannot be run in two ways. A program with
//! block-skip marks is executed twice, once for each position of the switch.

use super::execution::{Execution, SkipSwitch};
use super::interpreter::Setup;
use super::modal::Unit;
use super::reader::{ProgramRead, read};
use super::structure;
use crate::diagnostics::{Finding, FindingCollector, ProgramRule, collector};
use crate::job::Comments;
use std::collections::BTreeSet;

/// A program as it was read, and what the machine would do.
#[derive(Debug, Clone, PartialEq)]
pub struct Simulation {
    /// The program.
    pub program: ProgramRead,
    /// What the machine does with the block-skip switch off.
    pub skip_off: Execution,
    /// What it does with the switch on; none where the program has no block-skip marks.
    pub skip_on: Option<Execution>,
    /// Everything found that needs no face, in the order of the lines.
    pub findings: Vec<Finding>,
    /// The unit the control works in, which holds where the program sets none.
    pub unit: Unit,
}

/// Reads a program and runs it on a machine with its control and tools, such as those of a job. Never fails: what cannot be
/// read or executed is a finding.
#[must_use]
pub fn simulate<'a>(text: &[u8], setup: impl Into<Setup<'a>>) -> Simulation {
    let setup = setup.into();
    let program = read(text);
    let mut findings = program.findings.clone();
    if setup.control.traits.comments == Comments::Semicolon {
        findings.retain(|f| f.rule != ProgramRule::Semicolon.into());
    }
    findings.extend(structure::check(&program, setup.control));
    let (skip_off, found_off) = Execution::new(&program, setup, SkipSwitch::Off);
    let skip_on = if program.has_skips() {
        let (skip_on, found_on) = Execution::new(&program, setup, SkipSwitch::On);
        findings.extend(merge(found_off, found_on));
        Some(skip_on)
    } else {
        findings.extend(found_off);
        None
    };
    collector::sort(&mut findings);
    Simulation { program, skip_off, skip_on, findings, unit: setup.unit() }
}

impl Simulation {
    /// Every execution, the one with the switch off first.
    pub fn executions(&self) -> impl Iterator<Item = &Execution> {
        std::iter::once(&self.skip_off).chain(&self.skip_on)
    }
}

/// The findings of both executions: one that both have is kept once, any other names the position of the switch.
pub(crate) fn merge(off: Vec<Finding>, on: Vec<Finding>) -> Vec<Finding> {
    let key = |f: &Finding| (f.line(), f.rule, f.what.clone());
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

/// The findings that a function adds to a collector.
pub(super) fn collect_findings(note: impl FnOnce(&mut FindingCollector)) -> Vec<Finding> {
    let mut notes = FindingCollector::default();
    note(&mut notes);
    notes.into_findings()
}
