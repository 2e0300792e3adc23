//! Zones that run off at a window between them: a tool leaves the metal at either edge, and meets nothing of it on the other side.

// Counts of steps: small, and not negative.
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]

use crate::fixtures::face as made_up;
use crate::fixtures::job as made;
use facewright::face::Face;
use facewright::gcode;
use facewright::job::{Arcs, Control, Direction, Job, MetalEnd, RunsOff, Step, Zone};
use facewright::pipeline::{self, Loaded, PipelineError, circumstances};
use facewright::plan::{Only, Options, PassKind, Plan, PlanError, Role, TouchOff, plan};
use facewright::proof::{self, Rank};
use facewright::units::{Angle, Length};
use std::path::Path;

/// The ends of the made-up face, and its window.
const FACE: [f64; 2] = [60.0, 200.0];
const WINDOW: [f64; 2] = [100.0, 150.0];

/// A job of two zones over the whole face, with a window between them.
fn job([from, to]: [f64; 2]) -> Job {
    let mut job = made::job(2, 1, FACE[0], from);
    let mm = Length::mm;
    job.zones.push(Zone { from: mm(to), to: mm(FACE[1]) });
    job.runs_off = RunsOff {
        inner: Some(MetalEnd::LastReading),
        outer: Some(MetalEnd::LastReading),
        windows: vec![[from, to].map(mm)],
    };
    job
}

/// A face that leans by a slope up to each edge of the window over its last 10 mm, and stands higher behind it by `step`. In the window lies a recess.
fn face([from, to]: [f64; 2], [before, behind]: [f64; 2], step: f64) -> Face {
    let middle = f64::midpoint(from, to);
    let metal = made_up::face(&[
        (FACE[0], 0.0),
        (from - 10.0, 0.0),
        (from, 10.0 * before),
        (middle, -40.0),
        (to, step + 10.0 * behind),
        (to + 10.0, step),
        (FACE[1], step),
    ]);
    metal.with_windows(&[[from, to]]).expect("a face")
}

/// Where the pieces that cut end, rounded to a millionth of a millimetre, in the order in which they are run.
fn cuts(plan: &Plan, kind: PassKind, over: [f64; 2]) -> Vec<[i64; 4]> {
    let passes = plan.operations.iter().flat_map(|o| &o.passes).filter(|p| p.kind == kind);
    let cuts = passes.flat_map(|p| &p.motions).filter(|m| m.role == Role::Cut).map(|m| m.piece);
    let within = cuts.filter(|p| over[0] < p.from().x.min(p.to().x) && p.from().x.max(p.to().x) < over[1]);
    let whole = |x: f64| (x * 1e6).round() as i64;
    within.map(|p| [p.from().x, p.from().z, p.to().x, p.to().z].map(whole)).collect()
}

/// That the programs of a plan are sound by their proof, to the last warning that is not of the shop.
fn is_sound(job: &Job, face: &Face, options: Options, what: &str) {
    let plan = plan(job, face, options).unwrap_or_else(|refused| panic!("{what}: {refused}"));
    let parts = gcode::write(job, &plan).expect("a program");
    for (part, among) in parts.iter().zip(circumstances(&parts, options.only)) {
        let report = proof::read_back(part.text.as_bytes(), job, face, &among).report;
        let said: Vec<_> = report.findings().iter().filter(|f| f.rank > Rank::Note).collect();
        assert!(said.is_empty(), "{what}: {said:#?}");
    }
}

/// Each zone alone on its own face, as a job of its own would have it.
fn alone(whole: &Job, face: &Face, index: usize) -> (Job, Face) {
    let mut job = whole.clone();
    let zone = whole.zones[index];
    job.zones = vec![zone];
    job.runs_off.windows.clear();
    let [from, to] = [zone.from, zone.to].map(Length::as_mm);
    let inside = face.highest.points().iter().filter(|p| (from..=to).contains(&p.x)).map(|p| (p.x, p.z));
    (job, made_up::face(&inside.collect::<Vec<_>>()))
}

fn each_way() -> impl Iterator<Item = (Step, Direction)> {
    [Step::Axial, Step::Normal]
        .into_iter()
        .flat_map(|step| [Direction::Outward, Direction::Inward].map(|direction| (step, direction)))
}

/// Beside a wide window nothing of the one zone has a say in the other: what is cut is what two jobs would cut.
#[test]
fn either_side_of_a_window_is_cut_as_by_a_job_of_its_own() {
    for (slopes, step) in [([0.0, 0.0], 0.0), ([0.4, -0.4], 3.0), ([-0.4, 0.4], -3.0)] {
        for (along, direction) in each_way() {
            let (mut job, face) = (job(WINDOW), face(WINDOW, slopes, step));
            (job.schedule.step, job.schedule.direction) = (along, direction);
            let whole = plan(&job, &face, Options::default()).expect("nothing is in the way");
            for (index, over) in [(0, [0.0, 125.0]), (1, [125.0, 400.0])] {
                let (own, metal) = alone(&job, &face, index);
                let own = plan(&own, &metal, Options::default()).expect("nothing is in the way");
                for kind in [PassKind::Rough, PassKind::Finish, PassKind::Rest] {
                    let [here, there] = [&whole, &own].map(|p| cuts(p, kind, over));
                    assert!(kind == PassKind::Rest || !here.is_empty());
                    assert_eq!(here, there, "{slopes:?}, {along:?}, {direction:?}, {kind:?}, zone {index}");
                }
            }
        }
    }
}

/// As at a rim: past each edge the nose is clear of it by its radius and half a millimetre before the way off begins.
#[test]
fn the_nose_is_clear_of_both_edges_before_it_lifts() {
    for (step, direction) in each_way() {
        let (mut job, face) = (job(WINDOW), face(WINDOW, [0.2, -0.2], 1.0));
        (job.schedule.step, job.schedule.direction) = (step, direction);
        let plan = plan(&job, &face, Options::default()).expect("nothing is in the way");
        for (operation, pass) in plan.operations.iter().flat_map(|o| o.passes.iter().map(move |p| (o, p))) {
            let nose = operation.tool.nose_radius.as_mm();
            let cuts = pass.motions.iter().filter(|m| m.role == Role::Cut);
            let ends = cuts.flat_map(|m| [m.piece.from().x, m.piece.to().x]);
            let [off, on] =
                ends.fold(
                    [0.0_f64, 400.0_f64],
                    |[off, on], x| {
                        if x < 125.0 { [off.max(x), on] } else { [off, on.min(x)] }
                    },
                );
            assert!((WINDOW[0] + nose + 0.4..WINDOW[0] + nose + 0.6).contains(&off), "{off}");
            assert!((WINDOW[1] - nose - 0.6..WINDOW[1] - nose - 0.4).contains(&on), "{on}");
        }
    }
}

/// Steps, directions, slopes, holders, controls, follow-ons: each program passes its proof without a word.
#[test]
fn programs_past_a_window_are_sound() {
    let controls: [fn() -> Control; 3] = [
        made::control,
        || Control { arcs: Arcs::None, ..made::control() },
        || Control {
            surface_speed: false,
            spindle_limit_word: facewright::job::SpindleLimitWord::None,
            largest_program: 9_000,
            resolution: Length::mm(0.01),
            decimals: 2,
            arc_tolerance: Length::mm(0.02),
            ..made::control()
        },
    ];
    for (k, (slopes, step)) in
        [([0.0, 0.0], 0.0), ([0.3, -0.3], 6.0), ([-0.3, 0.3], -6.0)].into_iter().enumerate()
    {
        for (along, direction) in each_way() {
            let (mut job, face) = (job(WINDOW), face(WINDOW, slopes, step));
            (job.schedule.step, job.schedule.direction) = (along, direction);
            job.control = controls[k]();
            job.schedule.tolerance = Length::mm(0.02);
            let holder = (k == 2).then_some([6.0, 20.0].map(Length::mm));
            job.tools.iter_mut().for_each(|tool| tool.holder = holder);
            for already in [0.0, 0.07, 0.2] {
                for only in [Only::default(), Only::Rough] {
                    let options = Options { only, already: Length::mm(already), ..Options::default() };
                    if only == Only::Rough && already > 0.1 {
                        continue;
                    }
                    let what = format!("{slopes:?}, {along:?}, {direction:?}, {already}, {only:?}");
                    is_sound(&job, &face, options, &what);
                }
            }
        }
    }
}

/// What a blunt rough tool leaves beside an edge of a window is rest like any other.
#[test]
fn rest_at_an_edge_of_a_window_is_taken_before_the_finish() {
    for step in [Step::Axial, Step::Normal] {
        let mut job = job(WINDOW);
        job.schedule.step = step;
        job.tools[0].nose_radius = Length::mm(3.0);
        (job.tools[1].inner_edge, job.tools[1].outer_edge) = (Angle::deg(5.0), Angle::deg(5.0));
        let face = made_up::face(&[
            (60.0, 0.0),
            (99.2, 0.0),
            (100.0, 0.5),
            (125.0, -9.0),
            (150.0, 0.5),
            (150.8, 0.0),
            (200.0, 0.0),
        ]);
        let face = face.with_windows(&[WINDOW]).expect("a face");
        let planned = plan(&job, &face, Options::default()).expect("nothing is in the way");
        let rest = planned.operations.iter().flat_map(|o| &o.passes).filter(|p| p.kind == PassKind::Rest);
        assert!(rest.count() > 0);
        is_sound(&job, &face, Options::default(), "rest");
    }
}

/// The narrower a window, the later a tool finds no room in it; what is refused names the window, and what is not is sound.
#[test]
fn a_window_too_narrow_for_the_tool_is_the_reason() {
    let mut served = Vec::new();
    let sides = [
        (Step::Axial, 0.0, 0.0),
        (Step::Normal, 0.0, 0.0),
        (Step::Axial, 0.0, 8.0),
        (Step::Normal, 0.0, -8.0),
        // A ridge: past either edge the way climbs over the other side.
        (Step::Axial, 0.8, 0.0),
    ];
    for width in [0.1, 0.5, 2.0, 3.0, 4.0, 4.5, 5.0, 6.0, 8.0, 12.0] {
        for (step, lean, higher) in sides {
            let window = [100.0, 100.0 + width];
            let (mut job, face) = (job(window), face(window, [lean, lean], higher));
            job.schedule.step = step;
            match plan(&job, &face, Options::default()) {
                Ok(_) => {
                    is_sound(&job, &face, Options::default(), &format!("{width} mm, {step:?}, {higher}"));
                    served.push(width);
                }
                Err(PlanError::NarrowWindow { window: told, .. }) => {
                    assert_eq!(told, window.map(Length::mm));
                    assert!(width < 12.0, "{width} mm, {higher}");
                }
                Err(refused) => panic!("{width} mm: {refused}"),
            }
        }
    }
    // Clear of its edge a nose of 1.2 mm has its middle 1.7 mm past it, and that lies in the window. Up a ridge it lifts itself, and needs little more.
    assert!(served.iter().all(|width| *width > 1.2 + 0.5), "{served:?}");
    assert_eq!(served.iter().filter(|width| **width >= 12.0).count(), sides.len());
}

/// The holder may stand over the other side of a window, but not in it.
#[test]
fn a_holder_that_meets_the_other_side_is_the_reason() {
    let window = [100.0, 112.0];
    for (higher, refused) in [(0.0, false), (20.0, true)] {
        let (mut job, face) = (job(window), face(window, [0.0, 0.0], higher));
        job.tools.iter_mut().for_each(|tool| tool.holder = Some([6.0, 9.0].map(Length::mm)));
        let planned = plan(&job, &face, Options::default());
        assert_eq!(matches!(planned, Err(PlanError::NarrowWindow { .. })), refused, "{higher}: {planned:?}");
    }
}

#[test]
fn no_tool_is_touched_off_in_a_window() {
    let (mut job, face) = (job(WINDOW), face(WINDOW, [0.0, 0.0], 0.0));
    let touches = |job: &Job| -> Vec<TouchOff> {
        let plan = plan(job, &face, Options::default()).expect("nothing is in the way");
        plan.operations.iter().map(|o| o.touch_off).collect()
    };
    // Where no radius is said, the middle of the widest zone.
    assert!(
        touches(&job).iter().all(|t| (t.at.as_mm() - 175.0).abs() < 1.0 || (t.at.as_mm() - 80.0).abs() < 1.0)
    );
    job.touch_off = Some(Length::mm(120.0));
    let refused = plan(&job, &face, Options::default()).expect_err("no metal is there");
    assert!(matches!(refused, PlanError::TouchOffInWindow { .. }), "{refused}");
    job.touching.lacquer = Length::mm(0.05);
    job.touching.shim = Length::mm(0.1);
    job.touch_off = Some(Length::mm(99.5));
    for t in touches(&job) {
        assert!(t.contact.as_mm() <= 100.0 && t.z.as_mm() > -0.2, "{t:?}");
    }
    is_sound(&job, &face, Options::default(), "lacquer");
}

/// The demo with what every line reads within some radii lowered, or left out.
fn demo_with_window(zones: &str, hole: [f64; 2], lower: Option<f64>) -> Result<Loaded, PipelineError> {
    demo_with_window_and(zones, hole, lower, (0.0, 76.0))
}

/// The same, with all that lies behind the window higher, touched off at another radius.
fn demo_with_window_and(
    zones: &str,
    [from, to]: [f64; 2],
    lower: Option<f64>,
    (higher_behind, touch_off): (f64, f64),
) -> Result<Loaded, PipelineError> {
    let folder = tempfile::tempdir().expect("a folder");
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data");
    for name in ["shop.yaml", "scan-000.csv", "scan-120.csv", "scan-240.csv"] {
        let text = std::fs::read_to_string(demo.join(name)).expect("a file of the demo");
        let line = |line: &str| {
            let read = line
                .split_once(',')
                .and_then(|(x, z)| Some((x.parse::<f64>().ok()?, z.parse::<f64>().ok()?)));
            match (read, lower) {
                (Some((x, _)), None) if from < x && x < to => None,
                (Some((x, z)), _) if x >= to && higher_behind != 0.0 => {
                    Some(format!("{x},{:.4}", z + higher_behind))
                }
                (Some((x, z)), Some(by)) if from < x && x < to => Some(format!("{x},{:.4}", z - by)),
                _ => Some(line.to_owned()),
            }
        };
        let text: Vec<String> = text.lines().filter_map(line).collect();
        std::fs::write(folder.path().join(name), text.join("\n") + "\n").expect("written");
    }
    let job = std::fs::read_to_string(demo.join("job.yaml")).expect("the demo's job");
    let job = job.replace("  - { from: 70 mm, to: 216 mm }", &format!("  {zones}"));
    let job = job.replace("at: 76 mm", &format!("at: {touch_off} mm"));
    std::fs::write(folder.path().join("job.yaml"), job).expect("written");
    let loaded = pipeline::load(&folder.path().join("job.yaml"))?;
    // The scans are read again when the wheel is measured.
    std::mem::forget(folder);
    Ok(loaded)
}

const TWO: &str = "[{ from: 70 mm, to: edge 120 mm }, { from: edge 150 mm, to: 216 mm }]";

/// From the files: where the lines read a recess in the window, and where they read nothing there.
#[test]
fn a_window_from_the_files_is_cut_past_both_its_edges() {
    for lower in [Some(30.0), None] {
        let loaded = demo_with_window(TWO, [120.0, 150.0], lower).expect("a job");
        let surveyed = loaded.measure().expect("the scans").survey().expect("a face");
        let planned =
            surveyed.plan(Options::default()).unwrap_or_else(|refused| panic!("{lower:?}: {refused}"));
        for pass in planned.plan().operations.iter().flat_map(|o| &o.passes) {
            let cuts = pass.motions.iter().filter(|m| m.role == Role::Cut).map(|m| m.piece);
            let ends = cuts.flat_map(|p| [p.from().x, p.to().x]);
            let [off, on] =
                ends.fold(
                    [0.0_f64, 400.0_f64],
                    |[off, on], x| {
                        if x < 135.0 { [off.max(x), on] } else { [off, on.min(x)] }
                    },
                );
            assert!(pass.kind == PassKind::Rest || (off > 120.5 && on < 149.5), "{lower:?}: {off} to {on}");
        }
        for operation in &planned.plan().operations {
            let touch = operation.touch_off.contact.as_mm();
            let places = operation.check.iter().flat_map(|c| &c.points).map(|p| p.contact);
            assert!(places.chain([touch]).all(|at| !(117.0..153.0).contains(&at)));
        }
        let proved = planned.write().expect("a program").prove().expect("sound");
        for part in proved.parts() {
            let over = part.report().findings().iter().filter(|f| f.rank > Rank::Note);
            let said: Vec<String> = over.map(|f| f.what.clone()).collect();
            assert!(said.iter().all(|s| !s.contains("window")), "{said:?}");
        }
    }
}

/// Metal in what is called a window, on either side of it, and an edge far from the readings.
#[test]
fn a_window_that_the_readings_contradict_is_refused() {
    for (hole, told) in [
        ([130.0, 150.0], "beyond the edge at 120.0 mm stand as high as the face"),
        ([120.0, 140.0], "beyond the edge at 150.0 mm stand as high as the face"),
        ([115.0, 150.0], "measured"),
        ([120.0, 155.0], "measured"),
    ] {
        let plan = demo_with_window(TWO, hole, None).and_then(|loaded| {
            let surveyed = loaded.measure()?.survey()?;
            let planned = surveyed.plan(Options::default());
            planned.map(|planned| planned.plan().clone())
        });
        match plan {
            Err(refused) => assert!(refused.to_string().contains(told), "{hole:?}: {refused}"),
            Ok(_) => panic!("{hole:?} is taken for a window"),
        }
    }
}

/// Where readings stop a little short of an edge, nobody knows the face there: what lies behind the window has no say in how deep it is cut.
#[test]
fn the_face_beside_a_window_does_not_lean_toward_its_other_side() {
    // Where the tool stands at the end of a finish, 1 mm before the edge at 120 mm.
    let at_the_edge = |hole: [f64; 2], behind: f64| {
        let loaded = demo_with_window_and(TWO, hole, None, (behind, 76.0)).expect("a job");
        let surveyed = loaded.measure().expect("the scans").survey().expect("a face");
        let planned = surveyed.plan(Options::default()).unwrap_or_else(|refused| panic!("{refused}"));
        let last = planned.plan().operations.last().and_then(|o| o.passes.last()).expect("a pass");
        let cuts = last.motions.iter().filter(|m| m.role == Role::Cut).map(|m| m.piece);
        let mut over =
            cuts.filter(|p| p.from().x.min(p.to().x) <= 119.5 && 119.5 <= p.from().x.max(p.to().x));
        over.next().expect("a cut").at(119.5)
    };
    let whole = at_the_edge([120.0, 150.0], 0.0);
    for (hole, behind) in [([118.5, 150.0], 8.0), ([118.5, 150.0], 0.0), ([120.0, 150.0], 8.0)] {
        let off = at_the_edge(hole, behind) - whole;
        assert!(off.abs() < 0.03, "{hole:?}, {behind}: {off} mm");
    }
}

/// What is wrong with the edges between two zones, as a person reads it.
#[test]
fn edges_between_zones_that_make_no_window_are_refused() {
    let cases = [
        "[{ from: 70 mm, to: edge }, { from: edge 150 mm, to: 216 mm }]",
        "[{ from: 70 mm, to: edge 120 mm }, { from: edge, to: 216 mm }]",
        "[{ from: 70 mm, to: edge 120 mm }, { from: 150 mm, to: 216 mm }]",
        "[{ from: 70 mm, to: 120 mm }, { from: edge 150 mm, to: 216 mm }]",
        "[{ from: 70 mm, to: edge 120 mm }, { from: edge 120 mm, to: 216 mm }]",
        "[{ from: edge 130 mm, to: 216 mm }, { from: 70 mm, to: edge 140 mm }]",
    ];
    let told = cases.map(|zones| match demo_with_window(zones, [120.0, 150.0], None) {
        Err(refused) => {
            refused.to_string().lines().filter(|l| l.starts_with("  ")).collect::<Vec<_>>().join("\n")
        }
        Ok(_) => panic!("{zones} is a window"),
    });
    insta::assert_snapshot!(told.join("\n\n"));
    let touched = demo_with_window_and(TWO, [120.0, 150.0], None, (0.0, 130.0));
    let refused = touched.expect_err("touched off where there is no metal").to_string();
    assert!(refused.contains("a touch-off at 130 mm, in the window from 120 mm to 150 mm"), "{refused}");
    // Zones may stand in any order.
    let other = "[{ from: edge 150 mm, to: 216 mm }, { from: 70 mm, to: edge 120 mm }]";
    let loaded = demo_with_window(other, [120.0, 150.0], None).expect("a job");
    assert_eq!(
        [loaded.job().zone_runs_off(0), loaded.job().zone_runs_off(1)],
        [[false, true], [true, false]]
    );
    assert_eq!(loaded.job().runs_off.windows_mm().next().expect("a window"), [120.0, 150.0]);
}
