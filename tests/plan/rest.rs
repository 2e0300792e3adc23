//! Rest passes: what a blunt rough tool leaves in a fillet is taken by the finish tool there, in steps of its depth, and proved.
//!
//! The metal is looked at every 0.02 mm, and each pass is swept over it point by point, without any envelope.

// Counts of steps and bytes: small, and not negative.
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]

use crate::fixtures::face as made_up;
use crate::fixtures::job as made;
use facewright::diagnostics::{ProgramRule, SweepRule};
use facewright::face::{Face, Taken};
use facewright::gcode;
use facewright::geometry::{Point, Profile};
use facewright::job::{Direction, Feed, Job, Only, RestPasses, Step, Zone};
use facewright::pipeline::circumstances;
use facewright::plan::{Options, Pass, PassKind, Plan, Role, plan};
use facewright::proof::{self, Circumstances, Rank, Report, Verdict};
use facewright::units::{Angle, FeedPerRev, Length};

/// Distance of the radii looked at, millimetres.
pub(super) const APART: f64 = 0.02;

/// Distance of the places of a tool along its path, millimetres: a nose of 0.4 mm leaves 3e-5 mm between them.
const ALONG: f64 = 0.01;

/// What looking at points only, and a path inside its tolerance at the pass before, may add to a bite, millimetres.
pub(super) const SLACK: f64 = 0.002;

/// A face with two valleys, 60 degrees to one side and flat to the other: at radius 90 and, higher up, at radius 120.
fn face() -> Face {
    let climb = 3f64.sqrt();
    let corners = [
        (60.0, 0.0),
        (88.0, 0.0),
        (90.0, -2.0 * climb),
        (118.0, -2.0 * climb),
        (119.0, -3.0 * climb),
        (150.0, -3.0 * climb),
    ];
    made_up::face(&corners)
}

/// Three rough passes with a nose of 1.2 mm, and a finish with one of 0.4 mm.
fn job() -> Job {
    let mut job = made::job(3, 1, 66.0, 140.0);
    job.tools[1].nose_radius = Length::mm(0.4);
    for tool in &mut job.tools {
        (tool.inner_edge, tool.outer_edge) = (Angle::deg(20.0), Angle::deg(20.0));
    }
    job.schedule.rest_limit = Length::mm(0.08);
    job
}

pub(super) fn passes(plan: &Plan) -> impl Iterator<Item = (&Pass, facewright::geometry::Outline)> {
    plan.operations.iter().flat_map(|o| o.passes.iter().map(|p| (p, o.tool.outline())))
}

fn count(plan: &Plan, kind: PassKind) -> usize {
    passes(plan).filter(|(p, _)| p.kind == kind).count()
}

/// The face at the points that are looked at.
pub(super) fn metal(face: &Face) -> Vec<Point> {
    let steps = ((face.highest.end() - face.highest.start()) / APART) as usize;
    (0..=steps)
        .map(|i| face.highest.start() + i as f64 * APART)
        .map(|x| Point::new(x, face.highest.at(x)))
        .collect()
}

/// What a pass leaves of the metal.
pub(super) fn swept(metal: &[Point], pass: &Pass, tool: &facewright::geometry::Outline) -> Vec<Point> {
    let mut left = metal.to_vec();
    let under = tool.heights();
    for motion in pass.motions.iter().filter(|m| m.role != Role::Rapid) {
        let (a, b) = (motion.piece.from(), motion.piece.to());
        let steps = ((b.x - a.x).abs() / ALONG).ceil().max(1.0);
        for k in 0..=(steps as usize) {
            let x = a.x + (b.x - a.x) * k as f64 / steps;
            let z = if a.x == b.x { a.z.min(b.z) } else { motion.piece.at(x) };
            let near = left.partition_point(|p| p.x < x - 3.0);
            for p in left[near..].iter_mut().take_while(|p| p.x < x + 3.0) {
                p.z = p.z.min(z + under(p.x - x));
            }
        }
    }
    left
}

/// The most that lies between a surface and the one before it, by the nearest way.
pub(super) fn bite(before: &[Point], after: &[Point]) -> f64 {
    let nearest = |i: usize, p: &Point| {
        let reach = (0.6 / APART) as usize;
        let near = before[i.saturating_sub(reach)..(i + reach).min(before.len())].windows(2);
        near.map(|w| to_line(*p, w[0], w[1])).fold(f64::INFINITY, f64::min)
    };
    let lower = after.iter().enumerate().filter(|(i, p)| p.z < before[*i].z);
    lower.map(|(i, p)| nearest(i, p)).fold(0.0, f64::max)
}

fn to_line(p: Point, a: Point, b: Point) -> f64 {
    let (dx, dz) = (b.x - a.x, b.z - a.z);
    let t = (((p.x - a.x) * dx + (p.z - a.z) * dz) / (dx * dx + dz * dz)).clamp(0.0, 1.0);
    p.distance(Point::new(a.x + t * dx, a.z + t * dz))
}

pub(super) fn proved(job: &Job, face: &Face, plan: &Plan, options: Options) -> Vec<Report> {
    let parts = gcode::write(job, plan).expect("a program");
    let among = circumstances(&parts, options.only);
    let report = |(part, among): (&gcode::ProgramText, Circumstances)| {
        proof::read_back(part.text.as_bytes(), job, face, &among).report
    };
    parts.iter().zip(among).map(report).collect()
}

/// No stop, and no warning but of blocks that are short for the control: the fillet's own path has them.
pub(super) fn is_sound(reports: &[Report]) {
    for report in reports {
        let of_blocks = ProgramRule::ShortBlock.into();
        let said: Vec<_> =
            report.findings().iter().filter(|f| f.rank > Rank::Note && f.rule != of_blocks).collect();
        assert!(said.is_empty() && report.verdict != Verdict::Stop, "{said:#?}");
    }
}

/// Every way of running them: none takes more than its depth of what stands, none goes below what the finish will leave, and the program is proved.
#[test]
fn rest_goes_in_steps_of_the_finish_and_the_finish_takes_its_depth() {
    let face = face();
    let two = vec![
        Zone { from: Length::mm(66.0), to: Length::mm(105.0) },
        Zone { from: Length::mm(108.0), to: Length::mm(140.0) },
    ];
    for (step, direction, zones) in [
        (Step::Axial, Direction::Outward, None),
        (Step::Normal, Direction::Outward, None),
        (Step::Axial, Direction::Inward, Some(&two)),
        (Step::Normal, Direction::Inward, Some(&two)),
    ] {
        let mut job = job();
        (job.schedule.step, job.schedule.direction) = (step, direction);
        job.zones = zones.cloned().unwrap_or(job.zones);
        let plan = plan(&job, &face, Options::default()).expect("nothing is in the way");
        let rest = count(&plan, PassKind::Rest);
        // A nose of radius r leaves r·(1/cos 30° − 1) in a corner of 60°: 0.186 mm and 0.062 mm.
        assert!((3..=4).contains(&rest), "{step:?}: {rest} rest passes for 0.124 mm in steps of 0.05 mm");
        let mut stands = metal(&face);
        let aimed = stands.clone();
        for (pass, tool) in passes(&plan).filter(|(p, _)| p.kind != PassKind::Air) {
            let after = swept(&stands, pass, &tool);
            let most = pass.depth.as_mm() + job.schedule.tolerance.as_mm() + SLACK;
            let taken = bite(&stands, &after);
            assert!(taken <= most, "{step:?} {direction:?}: {:?} {} takes {taken}", pass.kind, pass.number);
            if pass.kind == PassKind::Rest {
                assert!(taken > 0.002, "{step:?}: a rest pass takes {taken}");
                let cuts = pass.motions.iter().filter(|m| m.role == Role::Cut);
                assert!(cuts.map(|m| m.piece.length()).sum::<f64>() < 12.0, "it runs beside its places");
                let deepest = bite(&aimed, &after);
                assert!(deepest <= pass.total.as_mm() + SLACK, "{step:?}: {deepest} below the face");
            }
            stands = after;
        }
        assert!(plan.rest.amount <= job.schedule.rest_limit, "{step:?}: {} stays", plan.rest.amount);
        assert!(plan.findings.is_empty(), "{:?}", plan.findings);
        is_sound(&proved(&job, &face, &plan, Options::default()));
    }
}

/// The foot of a wall of 80 degrees: a nose of radius r stands r − r·√(1 − tan² 40°) over it, 1.1 mm for the rough one, and the finish goes to the bottom.
#[test]
fn a_sharp_finish_goes_to_the_foot_of_a_wall_that_a_blunt_nose_bridges() {
    let top = 100.0 + 12.0 / 80f64.to_radians().tan();
    let face = made_up::face(&[(60.0, 0.0), (100.0, 0.0), (top, 12.0), (150.0, 12.0)]);
    for (step, direction) in [(Step::Axial, Direction::Outward), (Step::Normal, Direction::Inward)] {
        let mut job = job();
        (job.schedule.step, job.schedule.direction) = (step, direction);
        for (tool, nose) in job.tools.iter_mut().zip([2.4, 0.4]) {
            tool.nose_radius = Length::mm(nose);
            (tool.inner_edge, tool.outer_edge) = (Angle::deg(5.0), Angle::deg(5.0));
            tool.edge_length = Length::mm(25.0);
        }
        let plan = plan(&job, &face, Options::default()).expect("nothing is in the way");
        // What the blunt nose leaves of the foot above what the sharp one does, in steps of 0.05 mm: along the axis, or by the nearest way.
        let angle = 40f64.to_radians();
        let bridged = match step {
            Step::Axial => 1.0 - (1.0 - angle.tan().powi(2)).sqrt(),
            Step::Normal => 1.0 / angle.cos() - 1.0,
        };
        let rest = count(&plan, PassKind::Rest);
        // No more of it than the rough passes were to take: above the face as measured no metal stands.
        let passes = plan.operations.iter().flat_map(|o| &o.passes);
        let rough: f64 = passes.filter(|p| p.kind == PassKind::Rough).map(|p| p.depth.as_mm()).sum();
        let steps = (bridged * (2.4 - 0.4)).min(rough) / 0.05;
        assert!(rest as f64 >= steps - 1.0, "{step:?}: {rest} rest passes, {steps} steps");
        assert!(
            step == Step::Normal || rest as f64 <= rough / 0.05 + 1.0,
            "{step:?}: {rest} rest passes in air, {rough} mm were to go"
        );
        for report in proved(&job, &face, &plan, Options::default()) {
            let stops: Vec<_> = report.findings().iter().filter(|f| f.rank == Rank::Stop).collect();
            assert!(stops.is_empty(), "{step:?}: {stops:#?}");
        }
    }
}

/// A lip that rises by 2.92 mm over 2.0 mm, as smoothly as `u²(3 − 2u)`: 65 degrees at its steepest.
fn lip() -> Face {
    let at = |i: u32| {
        let x = 190.0 + 0.05 * f64::from(i);
        let u = ((x - 204.64) / 2.0).clamp(0.0, 1.0);
        (x, 2.92 * u * u * (3.0 - 2.0 * u))
    };
    made_up::face(&(0..600).map(at).collect::<Vec<_>>())
}

/// At the foot of a wall as steep as a tool's edge some metal stays out of its reach: passes end there, and do not cut air.
#[test]
fn no_rest_pass_cuts_air() {
    let mut run = 0;
    for rough in [2, 4, 5] {
        let face = lip();
        let mut job = made::job(rough, 1, 198.0, 214.0);
        for (tool, (nose, edge)) in job.tools.iter_mut().zip([(1.2, 25.0), (0.8, 20.0)]) {
            tool.nose_radius = Length::mm(nose);
            (tool.inner_edge, tool.outer_edge) = (Angle::deg(edge), Angle::deg(edge));
        }
        let plan = plan(&job, &face, Options::default()).expect("nothing is in the way");
        let mut stands = metal(&face);
        for (pass, tool) in passes(&plan).filter(|(p, _)| p.kind != PassKind::Air) {
            let after = swept(&stands, pass, &tool);
            if pass.kind == PassKind::Rest {
                let taken = bite(&stands, &after);
                assert!(taken > 0.002, "after {rough} rough passes rest pass {} takes {taken}", pass.number);
                run += 1;
            }
            stands = after;
        }
    }
    assert!(run > 2, "{run} rest passes");
}

/// A finish that is written later, after the rough passes' own program: the rest of those is taken as well.
#[test]
fn a_follow_on_takes_the_rest_of_earlier_programs() {
    let (job, face) = (job(), face());
    for already in [0.3, 0.3456] {
        let options = Options { only: Only::Finish, already: Length::mm(already), ..Options::default() };
        let plan = plan(&job, &face, options).expect("nothing is in the way");
        assert!(count(&plan, PassKind::Rest) >= 3);
        let reports = proved(&job, &face, &plan, options);
        is_sound(&reports);
        let kinds: Vec<_> = reports.iter().flat_map(|r| r.sweep.passes.iter().map(|p| p.kind)).collect();
        let rest = kinds.iter().filter(|k| **k == proof::sweep::PassKind::Rest).count();
        assert_eq!(rest, count(&plan, PassKind::Rest), "{kinds:?}");
    }
}

/// Divided among programs, the rest passes of a place stay together, and each program is sound.
#[test]
fn parts_keep_the_rest_passes_of_a_tool_together() {
    let (mut job, face) = (job(), face());
    let whole = plan(&job, &face, Options::default()).expect("nothing is in the way");
    let bytes = gcode::write(&job, &whole).expect("a program")[0].text.len();
    let mut most = 0;
    for share in [0.9, 0.7, 0.5] {
        job.control.largest_program = (bytes as f64 * share) as u64;
        let plan = plan(&job, &face, Options::default()).expect("nothing is in the way");
        let Ok(parts) = gcode::write(&job, &plan) else { continue };
        most = most.max(parts.len());
        let reports = proved(&job, &face, &plan, Options::default());
        for report in &reports {
            assert!(report.verdict != Verdict::Stop, "{share}: {:#?}", report.findings());
        }
    }
    assert!(most > 1, "never divided");
}

/// Without rest passes the metal stays, and is told once by the plan and once by the proof.
#[test]
fn without_rest_passes_the_rest_is_told_once() {
    let (mut job, face) = (job(), face());
    job.schedule.rest_passes = RestPasses::Off;
    let plan = plan(&job, &face, Options::default()).expect("nothing is in the way");
    assert_eq!(count(&plan, PassKind::Rest), 0);
    assert!(plan.rest.amount.as_mm() > 0.15, "{}", plan.rest.amount);
    assert_eq!(plan.findings.len(), 1, "{:?}", plan.findings);
    let reports = proved(&job, &face, &plan, Options::default());
    let said: Vec<_> = reports[0].findings().iter().filter(|f| f.rank > Rank::Note).collect();
    assert!(said.len() == 1 && said[0].rule == SweepRule::Rest.into(), "{said:#?}");
}

/// What stands in the way of the rest passes, or of the finish that goes as deep only after them, leaves the rest, and is told with it.
#[test]
fn rest_passes_that_are_refused_leave_the_rest_and_say_why() {
    // A valley of 30 degrees to both sides, in which a nose of radius r stays r·(1/cos 30° − 1) above the corner: 0.186 mm and 0.062 mm.
    let corner = -2.0 * 3f64.sqrt();
    let face = made_up::face(&[(60.0, 0.0), (94.0, 0.0), (100.0, corner), (106.0, 0.0), (150.0, 0.0)]);
    let mut job = job();
    let whole = plan(&job, &face, Options::default()).expect("nothing is in the way");
    assert!(count(&whole, PassKind::Rest) >= 3 && whole.findings.is_empty(), "{:?}", whole.findings);
    // The slide ends between where the finish goes over the rest and where it goes without it.
    job.machine.travel_z[0] = Length::mm(corner - 0.35 + 0.124);
    let plan = plan(&job, &face, Options::default()).expect("the rest stays");
    assert_eq!(count(&plan, PassKind::Rest), 0);
    assert!((plan.rest.amount.as_mm() - 0.186).abs() < 0.005, "{}", plan.rest.amount);
    let said: Vec<&str> = plan.findings.iter().map(|f| f.what.as_str()).collect();
    let [told] = said.as_slice() else { panic!("{said:?}") };
    assert!(told.contains("stays at radius 100.0 mm, where the rough tool could not reach"), "{told}");
    assert!(told.contains("and rest passes cannot be run: the tool tool 2 would have to go to x"), "{told}");
    assert!(!told.contains("the schedule has no rest passes") && !told.contains('\n'), "{told}");
    for report in proved(&job, &face, &plan, Options::default()) {
        assert!(report.verdict != Verdict::Stop, "{:#?}", report.findings());
    }
}

/// A face on which these depths were measured after passes were cut, each within 0.01 mm.
fn measured_again(mut face: Face, depth: impl Fn(Point) -> f64) -> Face {
    let points = metal(&face).into_iter().filter(|p| (66.0..=140.0).contains(&p.x));
    let depth = Profile::new(points.map(|p| Point::new(p.x, depth(p))).collect()).expect("radii rise");
    face.taken = Some(Taken { error: depth.map(|_| 0.005), depth });
    face
}

/// Measured again after the rough passes, that went as they were told, or deeper outward, or lower everywhere: the rest is taken, and each program is sound.
#[test]
fn what_was_measured_again_goes_on_to_rest_passes() {
    let job = job();
    let gone: [&dyn Fn(Point) -> f64; 3] = [&|_| 0.3, &|p| 0.3 + 0.001 * (p.x - 100.0), &|_| 0.37];
    for gone in gone {
        let again = &measured_again(face(), gone);
        let already = again.taken.as_ref().expect("measured again").begins(&job.zones, Length::mm(0.001));
        for only in [Only::All, Only::Finish] {
            let options = Options { only, already, ..Options::default() };
            let plan = plan(&job, again, options).expect("nothing is in the way");
            assert!(count(&plan, PassKind::Rest) >= 3, "{only:?} from {already}");
            for report in proved(&job, again, &plan, options) {
                let said: Vec<_> = report.findings().iter().filter(|f| f.rank > Rank::Note).collect();
                assert!(report.verdict != Verdict::Stop, "{only:?} from {already}: {said:#?}");
            }
        }
    }
}

/// Passes that follow a surface above the highest place leave and take rest there, and the proof knows it.
#[test]
fn rest_is_taken_of_the_surface_that_passes_follow() {
    let (job, mut face) = (job(), face());
    face.followed = Some(face.highest.clone());
    face.highest = face.highest.map(|p| p.z - 0.04);
    let plan = plan(&job, &face, Options::default()).expect("nothing is in the way");
    assert!(count(&plan, PassKind::Rest) >= 3);
    is_sound(&proved(&job, &face, &plan, Options::default()));
}

/// A finish that takes nothing is still the finish: with one tool for both, no rough pass is judged as one.
#[test]
fn a_finish_of_no_depth_is_the_finish() {
    let (mut job, face) = (job(), face());
    let tool = job.tools[0].name.clone();
    let finish = job.schedule.finish.as_mut().expect("a finish");
    (finish.tool, finish.depth, finish.spring_passes) = (tool, Length::mm(0.0), 1);
    finish.feed = Feed::PerRev(FeedPerRev::mm_per_rev(0.05));
    job.schedule.rest_limit = Length::mm(0.3);
    let plan = plan(&job, &face, Options::default()).expect("nothing is in the way");
    is_sound(&proved(&job, &face, &plan, Options::default()));
}

/// One tool leaves no rest that it could take itself, and a fine enough rough tool none that matters.
#[test]
fn one_tool_needs_no_rest_passes() {
    let (mut job, face) = (job(), face());
    job.tools[0].nose_radius = Length::mm(0.4);
    let plan = plan(&job, &face, Options::default()).expect("nothing is in the way");
    assert_eq!(count(&plan, PassKind::Rest), 0);
}
