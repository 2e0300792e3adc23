//! The proof of a dry program: one that runs with an empty chuck, to see what a control makes of its words.
//!
//! No face is known and none is cut. What is proved is the text and its run, as for any program, and that every motion stays beside
//! the park: no nearer to wheel and axis than [`ROOM`], and above all keep-outs there. So it is safe also where a chuck still holds a wheel
//! that is nowhere higher than that.

use crate::diagnostics::{Finding, Place, ProgramRule, Rank, collector};
use crate::geometry::{Piece, Point};
use crate::job::Job;
use crate::simulate::{Movement, Simulation, simulate};

/// How far from the park a dry program may go toward wheel and axis, millimetres.
pub const ROOM: f64 = 30.0;

/// A dry program read and run, and all that was found.
#[derive(Debug, Clone, PartialEq)]
pub struct DryReport {
    /// What the machine would do.
    pub simulation: Simulation,
    /// All findings, the most serious first.
    pub findings: Vec<Finding>,
}

impl DryReport {
    /// Whether a finding stops the program.
    #[must_use]
    pub fn stops(&self) -> bool {
        self.findings.iter().any(|f| f.rank == Rank::Stop)
    }
}

/// Proves a dry program on a job's machine, control and tools.
#[must_use]
pub fn prove_dry(text: &[u8], job: &Job) -> DryReport {
    let simulation = simulate(text, job);
    let mut findings = simulation.findings.clone();
    // It is run block by block, and each start is one that its operator makes.
    findings.retain(|f| f.rule != ProgramRule::StartsAgain.into());
    let park = Point::new(job.machine.park_x.as_mm(), job.machine.park_z.as_mm());
    for execution in simulation.executions() {
        findings.extend(execution.movements.iter().filter_map(|m| leaves(m, park)));
    }
    let inside = |k: &&crate::job::KeepOut| k.radii()[1] > park.x - ROOM && k.top() > park.z - ROOM;
    findings.extend(job.keep_out.iter().filter(inside).map(|k| {
        let what = format!("the keep-out `{}` reaches up to where the dry program runs", k.name());
        Finding::new(ProgramRule::LeavesPark, Place::Whole, what)
    }));
    collector::sort(&mut findings);
    findings.sort_by_key(|f| std::cmp::Reverse(f.rank));
    findings.dedup();
    DryReport { simulation, findings }
}

/// The finding of a motion that leaves the room beside the park.
fn leaves(movement: &Movement, park: Point) -> Option<Finding> {
    let piece = &movement.piece;
    let ends = [piece.from(), piece.to()];
    // An arc reaches no further from its ends than its own length.
    let bulge = if matches!(piece, Piece::Arc(_)) { piece.length() / 2.0 } else { 0.0 };
    let x = ends.iter().map(|p| p.x).fold(f64::INFINITY, f64::min) - bulge;
    let z = ends.iter().map(|p| p.z).fold(f64::INFINITY, f64::min) - bulge;
    (x < park.x - ROOM || z < park.z - ROOM).then(|| {
        let place = Place::Program { line: movement.line, block: movement.sequence };
        let what = format!(
            "a motion to radius {:.1} mm, height {:.1} mm, further than {ROOM} mm from the park",
            piece.to().x,
            piece.to().z
        );
        Finding::new(ProgramRule::LeavesPark, place, what)
    })
}
