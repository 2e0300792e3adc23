//! A face that several programs cut stands as one program would have left it, and each program's proof begins with the metal that the others left.
//!
//! Every pass is swept over the metal point by point, without any envelope.

use super::rest::{SLACK, bite, metal, passes, proved, swept};
use crate::fixtures::face as made_up;
use crate::fixtures::job as made;
use facewright::diagnostics::SweepRule;
use facewright::face::Face;
use facewright::gcode;
use facewright::geometry::Point;
use facewright::job::{Direction, Job, Only, PassCount, Step, Zone};
use facewright::plan::{Options, PassKind, plan};
use facewright::proof::{self, Circumstances, Rank, Report};
use facewright::units::{Angle, Length};

/// The fillet at the end of a zone is no wider than the widest nose, and what its edge reaches beside that, millimetres.
const FILLET: f64 = 2.6;

/// A groove with walls of 60 degrees round radius 95, and a lip as steep at radius 130.
fn face() -> Face {
    let climb = 3f64.sqrt();
    let corners = [
        (60.0, 0.0),
        (88.0, 0.0),
        (90.0, -2.0 * climb),
        (100.0, -2.0 * climb),
        (101.0, -climb),
        (130.0, -climb),
        (131.0, 0.0),
        (150.0, 0.0),
    ];
    made_up::face(&corners)
}

/// So many rough passes with a nose of 1.2 mm, and a finish with one of 0.4 mm.
fn job(rough: u32) -> Job {
    let mut job = made::job(rough, 1, 66.0, 140.0);
    job.tools[1].nose_radius = Length::mm(0.4);
    for tool in &mut job.tools {
        (tool.inner_edge, tool.outer_edge) = (Angle::deg(20.0), Angle::deg(20.0));
    }
    job
}

/// What is asked for of a schedule of so many rough passes from the measured face on.
type Asked = (u32, Only, f64);

/// What programs one after the other do to the metal.
struct Done {
    metal: Vec<Point>,
    /// Kind and greatest bite of every pass.
    bites: Vec<(PassKind, f64)>,
    /// The proof of the last program.
    last: Report,
}

fn done(job: &Job, face: &Face, programs: &[Asked]) -> Done {
    let mut stands = metal(face);
    let (mut bites, mut last) = (Vec::new(), None);
    for &(count, only, already) in programs {
        let mut job = job.clone();
        job.schedule.rough.as_mut().expect("rough passes").passes = PassCount::Count(count);
        let options = Options { only, already: Length::mm(already), ..Options::default() };
        let plan = plan(&job, face, options).expect("nothing is in the way");
        for (pass, tool) in passes(&plan).filter(|(p, _)| p.kind != PassKind::Air) {
            let after = swept(&stands, pass, &tool);
            bites.push((pass.kind, bite(&stands, &after)));
            stands = after;
        }
        let reports = proved(&job, face, &plan, options);
        let stops = reports.iter().flat_map(Report::findings).filter(|f| f.rank == Rank::Stop);
        assert_eq!(stops.count(), 0, "{reports:#?}");
        last = reports.into_iter().last();
    }
    Done { metal: stands, bites, last: last.expect("a program at least") }
}

/// The depth that a proof tells at a radius.
fn told(report: &Report, radius: f64) -> f64 {
    let depths = &report.sweep.total;
    let i = depths.partition_point(|d| d.radius < radius).clamp(1, depths.len() - 1);
    let (a, b) = (&depths[i - 1], &depths[i]);
    a.depth + (b.depth - a.depth) * (radius - a.radius) / (b.radius - a.radius)
}

/// One program, or the same passes in several: rough passes alone, a finish that comes later, each by itself.
#[test]
fn several_programs_leave_what_one_does() {
    let face = face();
    let two = vec![
        Zone { from: Length::mm(66.0), to: Length::mm(105.0) },
        Zone { from: Length::mm(108.0), to: Length::mm(140.0) },
    ];
    let rough = (vec![(5, Only::Rough, 0.0)], vec![(3, Only::Rough, 0.0), (5, Only::Rough, 0.3)]);
    let finish = (vec![(3, Only::All, 0.0)], vec![(3, Only::Rough, 0.0), (3, Only::Finish, 0.3)]);
    let each = (
        vec![(5, Only::All, 0.0)],
        vec![(3, Only::Rough, 0.0), (4, Only::Rough, 0.3), (5, Only::Rough, 0.4), (5, Only::Finish, 0.5)],
    );
    for (step, direction, zones) in [
        (Step::Axial, Direction::Outward, None),
        (Step::Normal, Direction::Outward, None),
        (Step::Axial, Direction::Inward, Some(&two)),
        (Step::Normal, Direction::Inward, Some(&two)),
    ] {
        let mut job = job(5);
        (job.schedule.step, job.schedule.direction) = (step, direction);
        job.zones = zones.cloned().unwrap_or(job.zones);
        for (i, (one, several)) in [&rough, &finish, &each].into_iter().enumerate() {
            let [a, b] = [one, several].map(|programs| done(&job, &face, programs));
            let named = format!("{step:?} {direction:?} {i}");
            // Each written path lies within its tolerance above the same exact one.
            let most = job.schedule.tolerance.as_mm() + job.control.resolution.as_mm();
            let apart = bite(&a.metal, &b.metal).max(bite(&b.metal, &a.metal));
            assert!(apart <= most, "{named}: {apart} apart");
            assert_eq!(a.bites.len(), b.bites.len(), "{named}");
            for (a, b) in a.bites.iter().zip(&b.bites) {
                assert!(a.0 == b.0 && (a.1 - b.1).abs() <= most + SLACK, "{named}: {a:?} and {b:?}");
            }
            // Nor does the proof of the last program tell another depth than that of the whole, but for the fillets at the zones' ends.
            let depths = a
                .metal
                .iter()
                .filter(|p| {
                    job.zones.iter().any(|z| z.from.as_mm() + FILLET < p.x && p.x < z.to.as_mm() - FILLET)
                })
                .map(|p| (p.x, told(&a.last, p.x) - told(&b.last, p.x)));
            let worst = depths.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs())).expect("points");
            // Beside a wall of 60 degrees a depth along the axis is twice that along the normal; the lines drawn leave out a little.
            assert!(worst.1.abs() <= 2.0 * (most + SLACK), "{named}: the proofs tell {worst:?} apart");
        }
    }
}

/// A finish that was written for a face without the fillets of an earlier, blunter tool: the proof stops it where it meets them.
#[test]
fn a_finish_that_knows_nothing_of_earlier_fillets_is_stopped() {
    let face = face();
    for (zone, at) in [([80.0, 110.0], [89.0, 101.0]), ([120.0, 136.0], [129.0, 132.0])] {
        let mut job = job(3);
        job.zones = vec![Zone { from: Length::mm(zone[0]), to: Length::mm(zone[1]) }];
        let options = Options { only: Only::Finish, already: Length::mm(0.3), ..Options::default() };
        let mut sharp = job.clone();
        sharp.tools[0].nose_radius = Length::mm(0.4);
        let plan = plan(&sharp, &face, options).expect("nothing is in the way");
        assert!(passes(&plan).all(|(p, _)| p.kind != PassKind::Rest));
        let parts = gcode::write(&sharp, &plan).expect("a program");
        let circumstances =
            Circumstances { already: options.already, goes_on: false, ..Circumstances::default() };
        let report = proof::read_back(parts[0].text.as_bytes(), &job, &face, &circumstances).report;
        // What really happens to the metal that the rough program has left.
        let left = done(&job, &face, &[(3, Only::Rough, 0.0)]).metal;
        let (finish, tool) = passes(&plan).last().expect("a finish");
        let after = swept(&left, finish, &tool);
        let near = |p: &&Point| at[0] - 1.0 <= p.x && p.x <= at[1] + 1.0;
        let [left, after] = [&left, &after].map(|m| m.iter().filter(near).copied().collect::<Vec<_>>());
        let taken = bite(&left, &after);
        assert!(taken > 0.05 + 0.03, "between {at:?} the finish takes {taken}");
        let seen: Vec<_> =
            report.findings().iter().filter(|f| f.rule == SweepRule::PassBite.into()).collect();
        assert!(!seen.is_empty(), "between {at:?} the finish takes {taken}: {:#?}", report.findings());
    }
}
