//! Laws of a plan, held against a search over every point of the face: nothing deeper than asked, rapids clear,
//! motions that join, on the control's grid, both ways over the face.

use crate::fixtures::demo;
use facewright::face::Face;
use facewright::gcode;
use facewright::geometry::{Curve, Outline, Piece, Point, Profile, envelope};
use facewright::job::PassDepth;
use facewright::job::{self, Arcs, Direction, Job, KeepOut, ScheduleError, Step, Zone};
use facewright::plan::{Motion, Operation, Options, PassKind, Plan, PlanError, Role, plan, surface};
use facewright::proof::{self, Circumstances};
use facewright::units::Length;
use proptest::prelude::*;

/// How far below a zone's aim the search may find a tool: the step in which it looks along an arc, and rounding.
const SLACK: f64 = 1e-6;

/// How much a nose of 0.8 mm seems to leave when it is looked at every 0.05 mm only, on a slope of 1 in 2: h²/(8·r) and its share.
const SAMPLED: f64 = 1e-3;

/// A face with a dish, a ripple, a bump and a step, with room around the zone.
fn face(points: usize, dish: f64, ripple: f64, step_at: f64, step: f64) -> Face {
    let at = |i: usize| 60.0 + 50.0 * i as f64 / (points - 1) as f64;
    let highest: Vec<Point> = (0..points)
        .map(|i| {
            let x = at(i);
            let fall = dish * ((x - 85.0) / 25.0).powi(2);
            let climb = step / (1.0 + ((step_at - x) * 4.0).exp());
            Point::new(x, fall + ripple * (x * 1.7).sin() + climb)
        })
        .collect();
    let highest = Profile::new(highest).expect("x increases");
    let lowest = highest.raised(-0.03);
    let damage = highest.map(|p| if (90.0..95.0).contains(&p.x) { 0.2 } else { 0.0 });
    Face { highest, lowest, damage, errors: None, followed: None, taken: None }
}

/// The demo's job on a zone of the small face.
fn small_job() -> Job {
    let mut job = demo::job();
    job.zones = vec![Zone { from: Length::mm(68.0), to: Length::mm(102.0) }];
    job.keep_out.clear();
    job.touch_off = None;
    job.damage.clear();
    job
}

/// Points along a motion, at most 0.05 mm apart.
fn places(piece: &Piece) -> Vec<Point> {
    let (a, b) = (piece.from(), piece.to());
    let steps = (piece.length() / 0.05).ceil().max(1.0);
    std::iter::successors(Some(0.0), |i| (*i < steps).then_some(i + 1.0))
        .map(|i| {
            let t = i / steps;
            let x = a.x + (b.x - a.x) * t;
            let z = if a.x == b.x { a.z + (b.z - a.z) * t } else { piece.at(x) };
            Point::new(x, z)
        })
        .collect()
}

/// How far the tool at a place reaches below a surface at its points, by looking at all of them.
fn depth_below(surface: &[Point], tool: &Outline, at: Point) -> f64 {
    let under = tool.heights();
    surface.iter().map(|p| p.z - (at.z + under(p.x - at.x))).fold(f64::NEG_INFINITY, f64::max)
}

fn motions(plan: &Plan) -> impl Iterator<Item = (&Operation, PassKind, f64, &Motion)> {
    plan.operations.iter().flat_map(|o| {
        o.passes.iter().flat_map(move |p| p.motions.iter().map(move |m| (o, p.kind, p.total.as_mm(), m)))
    })
}

/// The surface no pass may cut below once `total` is off: the face lowered inside the zones, the face as it is outside.
fn floor(face: &Face, zones: &[Zone], total: f64) -> Vec<Point> {
    let inside = |x: f64| zones.iter().any(|z| (z.from.as_mm()..=z.to.as_mm()).contains(&x));
    let points = face.highest.points().iter();
    let edges = zones.iter().flat_map(|z| [z.from.as_mm() - 1e-6, z.to.as_mm() + 1e-6]);
    let mut all: Vec<Point> =
        points.copied().chain(edges.map(|x| Point::new(x, face.highest.at(x)))).collect();
    all.sort_by(|a, b| a.x.total_cmp(&b.x));
    all.iter().map(|p| p.shifted(0.0, if inside(p.x) { -total } else { 0.0 })).collect()
}

fn holds(job: &Job, face: &Face, plan: &Plan) -> Result<(), TestCaseError> {
    for (operation, kind, total, motion) in motions(plan) {
        let tool = operation.tool.outline();
        let grid = job.control.grid(&operation.tool);
        let lift = if kind == PassKind::Air { job.schedule.air.height.as_mm() } else { 0.0 };
        let surface = floor(face, &job.zones, total);
        let wall = floor(face, &job.zones, 0.0);
        for place in places(&motion.piece) {
            match motion.role {
                Role::Rapid => {
                    let up = place.shifted(0.0, -job.machine.clearance.as_mm());
                    prop_assert!(depth_below(&wall, &tool, up) <= SLACK, "a rapid comes near at {place:?}");
                }
                _ if kind == PassKind::Air => {
                    let up = place.shifted(0.0, -lift + 0.2);
                    prop_assert!(
                        depth_below(&surface, &tool, up) <= SLACK,
                        "the air pass comes near at {place:?}"
                    );
                }
                _ => prop_assert!(
                    depth_below(&surface, &tool, place) <= SLACK,
                    "{kind:?} {:?} cuts {} too deep at {place:?}",
                    motion.role,
                    depth_below(&surface, &tool, place)
                ),
            }
        }
        let to = motion.piece.to();
        prop_assert!((grid.nearest(to).x - to.x).abs() < 1e-9 && (grid.nearest(to).z - to.z).abs() < 1e-9);
        if motion.role == Role::Rapid {
            let from = motion.piece.from();
            prop_assert!(from.x == to.x || from.z == to.z, "a rapid in both axes");
        }
    }
    for pass in plan.operations.iter().flat_map(|o| &o.passes) {
        let joined = pass.motions.windows(2).all(|w| w[0].piece.to().distance(w[1].piece.from()) < 1e-9);
        prop_assert!(joined, "motions that do not join");
        let ends = (pass.motions.first(), pass.motions.last());
        let (Some(first), Some(last)) = ends else {
            return Err(TestCaseError::fail("a pass without motions"));
        };
        prop_assert_eq!(first.piece.from(), last.piece.to(), "a pass that does not come home");
    }
    Ok(())
}

/// Every place of the floor between the zone's ends, less what the nose leaves in its corners, is brought down.
fn reached(job: &Job, face: &Face, plan: &Plan) -> Result<(), TestCaseError> {
    let Some(last) = plan.operations.last() else { return Ok(()) };
    let Some(pass) = last.passes.last() else { return Ok(()) };
    let under = last.tool.outline().heights();
    let path: Vec<Point> =
        pass.motions.iter().filter(|m| m.role == Role::Cut).flat_map(|m| places(&m.piece)).collect();
    let zone = job.zones[0];
    for p in
        face.highest.points().iter().filter(|p| p.x > zone.from.as_mm() + 2.0 && p.x < zone.to.as_mm() - 2.0)
    {
        let left = path.iter().map(|at| at.z + under(p.x - at.x)).fold(f64::INFINITY, f64::min);
        let over = left - (p.z - pass.total.as_mm());
        // The tolerance lies along the normal, what stands here along the axis.
        let slope = (face.highest.at(p.x + 0.1) - face.highest.at(p.x - 0.1)) / 0.2;
        let most = plan.rest.amount.as_mm() + job.schedule.tolerance.as_mm() * slope.hypot(1.0) + SAMPLED;
        prop_assert!(over <= most, "{over} mm stand at {} where {most} mm are owned to", p.x);
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_plan_cuts_what_it_says_and_nothing_else(
        dish in -4f64..4.0,
        ripple in 0f64..0.05,
        step_at in 75f64..95.0,
        step in -1.5f64..1.5,
        inward in any::<bool>(),
        normal in any::<bool>(),
        arcs in prop::sample::select(vec![Arcs::Centre, Arcs::Radius, Arcs::None]),
    ) {
        let mut job = small_job();
        job.schedule.direction = if inward { Direction::Inward } else { Direction::Outward };
        job.schedule.step = if normal { Step::Normal } else { Step::Axial };
        job.control.arcs = arcs;
        let face = face(251, dish, ripple, step_at, step);
        let plan = match plan(&job, &face, Options::default()) {
            Ok(plan) => plan,
            Err(refusal) => return Err(TestCaseError::fail(format!("{refusal}"))),
        };
        if !normal {
            // Along the normal a wall loses more along the axis than the depth says.
            holds(&job, &face, &plan)?;
        }
        reached(&job, &face, &plan)?;
    }
}

/// On the flank of a step the written path may stand by more above the exact one along the axis than along its normal.
#[test]
fn on_a_flank_the_tolerance_lies_along_the_normal() {
    let mut job = small_job();
    job.schedule.direction = Direction::Inward;
    job.schedule.step = Step::Axial;
    job.control.arcs = Arcs::Centre;
    let face = face(
        251,
        1.445_267_994_634_529_3,
        0.032_638_423_852_698_12,
        81.377_594_299_983_88,
        1.443_516_026_025_635_2,
    );
    let plan = plan(&job, &face, Options::default()).unwrap_or_else(|e| panic!("{e}"));
    holds(&job, &face, &plan).unwrap_or_else(|e| panic!("{e}"));
    reached(&job, &face, &plan).unwrap_or_else(|e| panic!("{e}"));
}

/// Two zones: the ring between them is left alone, and the tool hops over it.
#[test]
fn two_zones_leave_the_ring_between() {
    let mut job = small_job();
    job.zones = vec![
        Zone { from: Length::mm(66.0), to: Length::mm(80.0) },
        Zone { from: Length::mm(86.0), to: Length::mm(104.0) },
    ];
    for direction in [Direction::Outward, Direction::Inward] {
        job.schedule.direction = direction;
        let face = face(251, 1.0, 0.01, 70.0, 0.0);
        let plan = plan(&job, &face, Options::default()).expect("nothing is in the way");
        holds(&job, &face, &plan).expect("the laws hold");
        let cuts: Vec<f64> =
            motions(&plan).filter(|(.., m)| m.role == Role::Cut).map(|(.., m)| m.piece.to().x).collect();
        assert!(cuts.iter().all(|x| !(80.5..85.5).contains(x)));
        assert!(cuts.iter().any(|&x| x < 80.0) && cuts.iter().any(|&x| x > 86.0));
    }
}

/// The path of a deeper pass of one tool, reckoned from the path before it, is that over the surface between them.
#[test]
fn a_deeper_pass_is_the_path_moved_down_between_the_walls() {
    let zone = |from, to| Zone { from: Length::mm(from), to: Length::mm(to) };
    let demo = demo::job();
    let mut tools: Vec<Outline> = demo.tools.iter().map(job::Tool::outline).collect();
    let holder = facewright::geometry::Holder { inner: 6.0, outer: 11.0 };
    tools.push(Outline { holder: Some(holder), edge_length: 3.0, ..tools[0] });
    let depth = |mm| PassDepth { kind: PassKind::Rough, depth: Length::mm(mm) };
    for (i, tool) in tools.iter().enumerate() {
        for zones in
            [vec![zone(68.0, 102.0)], vec![zone(60.0, 80.0), zone(80.5, 104.0)], vec![zone(60.0, 110.0)]]
        {
            let face = Curve::from(&face(400, 1.0, 0.05, 90.0, 1.5).highest);
            let aim = surface::Aim { step: Step::Axial, zones: &zones, windows: &[] };
            let path =
                |face: &Curve, mm| surface::path(face, depth(mm), aim, tool, 8.0).expect("the tool meets it");
            let first = path(&face, 0.1);
            let left = surface::left(&first, tool, &face).expect("it leaves a face");
            let swept = path(&left, 0.07);
            let deeper = surface::deeper(&first, 0.07, aim, tool, &face).expect("the tool meets it");
            for (above, below) in [(&swept, &deeper), (&deeper, &swept)] {
                let most = envelope::greatest_excess(above, below).map_or(0.0, |e| e.height);
                assert!(most < 1e-9, "tool {i}, {} zones: {most}", zones.len());
            }
        }
    }
}

/// What a nose cannot reach does not depend on which zone is cut first, also after an earlier program.
#[test]
fn the_rest_of_two_zones_is_told_both_ways() {
    let mut job = small_job();
    let zone = |from, to| Zone { from: Length::mm(from), to: Length::mm(to) };
    job.zones = vec![zone(66.0, 80.0), zone(88.0, 104.0)];
    // A ripple too tight for a nose of 0.8 mm.
    let points = (0..=4000).map(|i| 60.0 + 0.0125 * f64::from(i));
    let highest = Profile::new(points.map(|x| Point::new(x, 0.1 * (x * 6.0).cos())).collect());
    let highest = highest.expect("x increases");
    let face = Face {
        lowest: highest.clone(),
        damage: highest.map(|_| 0.0),
        highest,
        errors: None,
        followed: None,
        taken: None,
    };
    let [outward, inward] = [Direction::Outward, Direction::Inward].map(|direction| {
        job.schedule.direction = direction;
        let options = Options { already: Length::mm(0.1), ..Options::default() };
        let plan = plan(&job, &face, options).expect("a sound job");
        plan.rest.amount.as_mm()
    });
    assert!(outward > 0.01 && (outward - inward).abs() < 1e-6, "{outward}, {inward}");
}

/// A tyre whose shoulder slopes away from the lip leaves room where the box around it would not; four corners are a box.
#[test]
fn a_keep_out_keeps_its_shape() {
    let face = face(251, 1.0, 0.01, 70.0, 0.0);
    let planned = |keep_out: KeepOut| {
        let mut job = small_job();
        job.keep_out = vec![keep_out];
        plan(&job, &face, Options::default())
    };
    let [x, z] = [[103.0, 140.0], [-50.0, 10.0]].map(|range| range.map(Length::mm));
    let around = planned(KeepOut::rectangle("tyre", x, z));
    assert!(matches!(around, Err(PlanError::KeepOut { .. })), "{around:?}");
    let corners = |corners: &[[f64; 2]]| {
        let corners: Vec<_> = corners.iter().map(|corner| corner.map(Length::mm)).collect();
        KeepOut::polygon("tyre", &corners).expect("an outline")
    };
    planned(corners(&[[103.0, -50.0], [140.0, -50.0], [140.0, 10.0]])).expect("room beside the shoulder");
    let turned_off = planned(corners(&[[103.0, -50.0], [103.0, 10.0], [140.0, -50.0]]));
    assert!(matches!(turned_off, Err(PlanError::KeepOut { .. })), "{turned_off:?}");
    let far = [[106.0, 140.0], [-50.0, -9.0]];
    let [x, z] = far.map(|range| range.map(Length::mm));
    let [[a, b], [low, high]] = far;
    let as_box = planned(KeepOut::rectangle("tyre", x, z)).expect("clear");
    assert_eq!(as_box, planned(corners(&[[a, high], [a, low], [b, low], [b, high]])).expect("clear"));
}

/// Wherever a tyre stands beside the zone and under the holder, the way there is as far from it as the proof wants.
#[test]
fn a_holder_comes_no_nearer_to_a_keep_out_than_the_clearance() {
    let face = face(251, 1.0, 0.01, 70.0, 0.0);
    let mut planned = 0;
    for (k, top) in (0..24).flat_map(|k| [4.0, 5.0, 6.0, 7.0].map(|top| (k, top))) {
        let mut job = small_job();
        for tool in &mut job.tools {
            tool.edge_length = Length::mm(5.0);
            tool.holder = Some([8.0, 25.0].map(Length::mm));
        }
        // The rapid down to the cut is beside the tyre.
        job.schedule.direction = Direction::Inward;
        let from = 127.0 + 0.25 * f64::from(k);
        let [x, z] = [[from, from + 40.0], [-80.0, top]].map(|range| range.map(Length::mm));
        job.keep_out = vec![KeepOut::rectangle("tyre", x, z)];
        // What the holder would run into at feed is the job's own.
        let Ok(plan) = plan(&job, &face, Options::default()) else { continue };
        planned += 1;
        for part in gcode::write(&job, &plan).expect("a program") {
            let circumstances = Circumstances {
                already: part.before,
                goes_on: part.part < part.of,
                ..Circumstances::default()
            };
            let report = proof::read_back(part.text.as_bytes(), &job, &face, &circumstances).report;
            let stops: Vec<_> = report.findings().iter().filter(|f| f.rank == proof::Rank::Stop).collect();
            assert!(stops.is_empty(), "a tyre from {from}, up to {top}: {stops:#?}");
        }
    }
    assert!(planned > 20, "{planned} planned");
}

#[test]
fn what_is_not_safe_is_refused_with_its_numbers() {
    let face = face(251, 1.0, 0.01, 70.0, 0.0);
    let refusal = |change: &dyn Fn(&mut Job)| {
        let mut job = small_job();
        change(&mut job);
        plan(&job, &face, Options::default()).expect_err("this must not be planned")
    };
    assert!(matches!(
        refusal(&|j| j.wheel.allowance.taken = Length::mm(0.9)),
        PlanError::Schedule(ScheduleError::Allowance { .. })
    ));
    assert!(matches!(refusal(&|j| j.zones[0].to = Length::mm(130.0)), PlanError::NotMeasured { .. }));
    assert!(matches!(refusal(&|j| j.machine.park_z = Length::mm(2.0)), PlanError::ParkTooLow { .. }));
    assert!(matches!(
        refusal(&|j| j.keep_out = vec![job::KeepOut::rectangle(
            "tyre",
            [Length::mm(101.0), Length::mm(140.0)],
            [Length::mm(-50.0), Length::mm(10.0)],
        )]),
        PlanError::KeepOut { .. }
    ));
    assert!(matches!(
        refusal(&|j| j.machine.travel_z = [Length::mm(0.5), Length::mm(400.0)]),
        PlanError::Travel { .. }
    ));
    assert!(matches!(refusal(&|j| j.touch_off = Some(Length::mm(130.0))), PlanError::TouchOff { .. }));
    assert!(matches!(refusal(&|j| j.schedule.air.height = Length::mm(300.0)), PlanError::ParkTooLow { .. }));
    let rub = job::Feed::PerRev(facewright::units::FeedPerRev::mm_per_rev(0.0001));
    assert!(matches!(
        refusal(&|j| {
            if let Some(rough) = &mut j.schedule.rough {
                rough.feed = rub;
            }
        }),
        PlanError::FeedRange { .. }
    ));
    let slow = facewright::units::FeedPerMinute::mm_per_min(5.0);
    assert!(matches!(refusal(&|j| j.machine.feed_limit = slow), PlanError::FeedLimit { .. }));
}

/// Counted passes after an earlier program of the job: the plan goes on where that one stopped, and the proof agrees.
#[test]
fn counted_passes_after_an_earlier_program_pass_their_proof() {
    let mut job = small_job();
    if let Some(rough) = &mut job.schedule.rough {
        rough.passes = job::PassCount::Count(3);
    }
    let face = face(251, 1.0, 0.01, 70.0, 0.0);
    let already = Length::mm(0.1);
    let plan = plan(&job, &face, Options { already, ..Options::default() }).expect("a sound job");
    assert!((plan.removed.as_mm() - 0.25).abs() < 1e-9, "two rough passes and the finish: {}", plan.removed);
    let programs = facewright::gcode::write(&job, &plan).expect("a program");
    let circumstances = Circumstances { already, goes_on: false, ..Circumstances::default() };
    let report = facewright::proof::prove_in(programs[0].text.as_bytes(), &job, &face, &circumstances);
    let heavy: Vec<_> = report
        .findings()
        .iter()
        .filter(|f| f.rank > facewright::proof::Rank::Note)
        .map(|f| &f.what)
        .collect();
    assert!(heavy.is_empty(), "{heavy:?}");
}

/// A zone that begins where the measurement begins leads the tool beside it, where nobody knows what stands: refused, not left to the proof.
#[test]
fn a_zone_from_the_first_measured_radius_is_refused() {
    let (job, face) = crate::fixtures::demo::job_and_face();
    let mut job = job.clone();
    job.zones[0].from = Length::mm(face.highest.start());
    let refused = plan(&job, face, Options::default()).expect_err("the tool would go beside the measurement");
    assert!(matches!(refused, PlanError::BesideMeasured { .. }), "{refused}");
    job.zones[0].from = Length::mm(face.highest.start() - 1e-5);
    let refused = plan(&job, face, Options::default()).expect_err("the zone is not measured");
    assert!(refused.to_string().contains("61.99999 mm"), "{refused}");
}
