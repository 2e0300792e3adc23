//! What holds for every program: the words walk the plan, nothing is relied on unsaid, no text reaches the words.

use super::reader::agrees;
use super::replay::{Move, run, words};
use super::sample::{Sample, control};
use super::snapshots::samples;
use facewright::diagnostics::{Finding, Place, PlanRule};
use facewright::gcode::{self, Block};
use facewright::geometry::{Piece, Point, Turn};
use facewright::job::{
    Arcs, Control, Direction, DwellWord, Gear, Job, LeadingZero, Machine, Spin, SpindleLimitWord, XWords,
};
use facewright::plan::{Motion, Pass, PassKind, Plan, Role};
use facewright::units::{Length, SpindleSpeed, SurfaceSpeed, Time};
use proptest::prelude::*;
use std::f64::consts::PI;

/// Sums and products of a few f64 of some hundred millimetres.
const ROUNDING: f64 = 1e-9;

fn x_factor(control: &Control) -> f64 {
    if control.x_words == XWords::Diameter { 2.0 } else { 1.0 }
}

/// A plan's motions that move, each with its pass and with the programmed point's shift from the front point.
fn moving(plan: &Plan) -> Vec<(&Pass, Motion, (f64, f64))> {
    plan.operations
        .iter()
        .flat_map(|o| {
            let offset = o.tool.point_offset();
            o.passes.iter().flat_map(move |p| p.motions.iter().map(move |m| (p, *m, offset)))
        })
        .filter(|(_, m, _)| m.piece.from() != m.piece.to())
        .collect()
}

fn same(a: (f64, f64), front: Point, offset: (f64, f64)) -> bool {
    (a.0 - front.x - offset.0).abs() < ROUNDING && (a.1 - front.z - offset.1).abs() < ROUNDING
}

#[test]
fn the_words_walk_the_plans_motions_and_rely_on_nothing_unsaid() {
    for (name, sample) in samples() {
        if !sample.control.surface_speed {
            continue;
        }
        let plan = sample.plan();
        let program = &gcode::write(&sample.job(), &plan).expect(name)[0];
        let moves = run(program, x_factor(&sample.control));
        let expected = moving(&plan);
        assert_eq!(moves.len(), expected.len(), "{name}");
        for (done, (pass, motion, offset)) in moves.iter().zip(&expected) {
            assert!(same(done.from, motion.piece.from(), *offset), "{name}: {done:?} {motion:?}");
            assert!(same(done.to, motion.piece.to(), *offset), "{name}: {done:?} {motion:?}");
            assert_eq!(done.code == 0, motion.role == Role::Rapid);
            // No coolant in the air, coolant in every cut where there is any.
            let wet = sample.control.coolant != facewright::job::Coolant::None && pass.kind != PassKind::Air;
            assert_eq!(done.coolant, wet);
            if let Piece::Arc(arc) = motion.piece {
                // G03 over a ridge run outward: see the derivation in the writer.
                assert_eq!(done.code, if arc.turn == Turn::Clockwise { 3 } else { 2 });
                match sample.control.arcs {
                    Arcs::Centre => assert!(same(done.centre.expect("I K"), arc.centre, *offset)),
                    _ => assert!((done.radius.expect("R") - arc.radius()).abs() < ROUNDING),
                }
            }
            if motion.role != Role::Rapid {
                // Rounded down, by less than a last place of an inch feed.
                let short = pass.feed.as_mm_per_rev() - done.feed;
                assert!((-ROUNDING..0.000_26).contains(&short), "{name}: feed {}", done.feed);
                assert_eq!(done.spindle.0, 96);
            }
        }
    }
}

#[test]
fn no_block_holds_two_words_of_a_group_and_no_line_is_too_long() {
    for (name, sample) in samples() {
        let program = &gcode::write(&sample.job(), &sample.plan()).expect(name)[0];
        for block in &program.blocks {
            assert!(block.to_string().len() <= sample.control.longest_line, "{name}: {block}");
            if let Block::Words(words) = block {
                let groups: std::collections::HashSet<_> =
                    words.iter().map(gcode::Word::modal_group).collect();
                assert_eq!(groups.len(), words.len(), "{name}: {block}");
            }
        }
        assert!(program.text.bytes().all(|b| b.is_ascii_graphic() || matches!(b, b' ' | b'\r' | b'\n')));
    }
}

/// Air pass, M00, rough passes with M01 between, tool change with M00, its own air pass, M00, finish.
#[test]
fn stops_stand_where_they_must() {
    let sample = Sample::new(control());
    let program = &gcode::write(&sample.job(), &sample.plan()).expect("a program")[0];
    let mut order = Vec::new();
    for block in words(program) {
        let text = Block::Words(block).to_string();
        match text.as_str() {
            "M00" | "M01" | "M30" | "T0101" | "T0202" | "T0200" => order.push(text),
            t if t.starts_with("G02") => order.push("pass".into()),
            _ => {}
        }
    }
    assert_eq!(order.join(" "), "T0101 pass M00 pass M01 pass T0202 M00 T0202 pass M00 pass T0200 M30");
}

/// Lets the first rough pass end above its last cut, and the second begin there, without a way by the park.
fn joined_above_the_face(plan: &mut Plan) {
    let passes = &mut plan.operations[0].passes;
    let motions = &mut passes[1].motions;
    motions.truncate(motions.len() - 2);
    let end = motions[motions.len() - 1].piece.to();
    let above = Point::new(end.x, 4.0);
    let rapid = |from, to| Motion::new(Role::Rapid, Piece::line(from, to));
    motions.push(rapid(end, above));
    let next = &mut passes[2].motions;
    let start = next[1].piece.to();
    next.splice(0..2, [rapid(above, Point::new(start.x, 4.0)), rapid(Point::new(start.x, 4.0), start)]);
}

/// Every part is a whole program with an air pass of its own, all parts together walk every pass once,
/// and a part begins and ends at the park.
#[test]
fn parts_stand_by_themselves() {
    let sample = Sample::new(Control { largest_program: 2950, ..control() });
    let plan = sample.plan();
    let programs = gcode::write(&sample.job(), &plan).expect("parts");
    assert_eq!(programs.len(), 3);
    let mut feeds: Vec<Move> = Vec::new();
    for program in &programs {
        agrees(program);
        let moves = run(program, 2.0);
        let park = (150.0, 100.0);
        assert_eq!((moves[0].from, moves[moves.len() - 1].to), (park, park));
        assert!(moves.iter().all(|m| m.to.1 <= park.1));
        let is_feed = |m: &&Move| m.code > 0;
        let lowest = |moves: &[Move]| moves.iter().map(|m| m.to.1).fold(f64::INFINITY, f64::min);
        // Dry moves are those of the air pass; the cut below it is the same path, one height lower.
        let (dry, wet): (Vec<Move>, Vec<Move>) =
            moves.iter().filter(is_feed).cloned().partition(|m| !m.coolant);
        assert_eq!((dry.len(), wet.len()), (7, 7));
        assert!((lowest(&dry) - lowest(&wet) - 1.0).abs() < ROUNDING);
        feeds.extend(wet);
    }
    let cuts = moving(&plan);
    let cuts: Vec<_> =
        cuts.iter().filter(|(p, m, _)| p.kind != PassKind::Air && m.role != Role::Rapid).collect();
    assert_eq!(feeds.len(), cuts.len());
    for (done, (_, motion, offset)) in feeds.iter().zip(cuts) {
        assert!(same(done.to, motion.piece.to(), *offset));
    }
}

/// A plan whose passes join above the face, not at the park, is refused: no stop leaves the tool over the wheel.
#[test]
fn passes_begin_and_end_at_the_park() {
    let sample = Sample::new(control());
    let mut plan = sample.plan();
    joined_above_the_face(&mut plan);
    let refused = gcode::write(&sample.job(), &plan);
    assert!(matches!(refused, Err(gcode::GcodeError::NotAtPark { .. })), "{refused:?}");
}

fn touch_offs(plan: &Plan, control: &Control) -> Vec<String> {
    let sample = Sample::new(control.clone());
    let programs = gcode::write(&sample.job(), plan).expect("a program");
    let text: String = programs.iter().map(|p| p.text.replace(")\r\n(- ", " ")).collect();
    let of = |line: &str| line.split("ENTER ").nth(1).and_then(|t| t.split(' ').next()).map(str::to_owned);
    text.lines().filter(|l| l.starts_with("(TOUCH-OFF")).filter_map(of).collect()
}

/// The height to enter is never above the true one, and a later part touches what is left then.
#[test]
fn touch_off_heights() {
    let mut plan = Sample::new(control()).plan();
    assert_eq!(touch_offs(&plan, &control()), ["Z0.0", "Z-0.2"]);
    plan.operations[0].touch_off.z = Length::mm(0.0009);
    plan.operations[1].touch_off.z = Length::mm(-0.2001);
    assert_eq!(touch_offs(&plan, &control()), ["Z0.0", "Z-0.201"]);
    let parted = Control { largest_program: 2950, ..control() };
    assert_eq!(touch_offs(&Sample::new(control()).plan(), &parted), ["Z0.0", "Z-0.1", "Z-0.2"]);
}

/// Holds a stepped program to its rule, and its path to the plan's.
fn check_steps(sample: &Sample, plan: &Plan) {
    let program = &gcode::write(&sample.job(), &sample.stepped(plan.clone())).expect("a program")[0];
    let factor = x_factor(&sample.control);
    let step = sample.control.resolution.as_mm();
    let mut motions = moving(plan).into_iter().filter(|(_, m, _)| m.role != Role::Rapid).peekable();
    for done in run(program, factor).iter().filter(|m| m.code > 0) {
        let (pass, motion, offset) = *motions.peek().expect("a motion of the plan");
        let front = |p: (f64, f64)| Point::new(p.0 - offset.0, p.1 - offset.1);
        let (from, to) = (front(done.from), front(done.to));
        let n = done.spindle.1;
        assert_eq!(done.spindle.0, 97);
        let v = pass.surface_speed.as_mm_per_min();
        let limit = pass.spindle_limit.as_rpm();
        for i in 0..=20 {
            let x = from.x + (to.x - from.x) * f64::from(i) / 20.0;
            let wanted = v / (2.0 * PI * x);
            assert!(n <= wanted.min(limit) * (1.0 + 1e-6), "{n} above {wanted} at {x}");
        }
        // The path runs on or above the plan's, by no more than the step of a height (and of a radius, on the slope of an arc).
        for end in [from, to] {
            let above = end.z - motion.piece.at(end.x);
            if motion.piece.from().x != motion.piece.to().x {
                assert!((-1e-6..step * 1.001).contains(&above), "{above}");
            }
        }
        if let (Piece::Arc(arc), Some(centre)) = (motion.piece, done.centre) {
            let moved = Point::new(centre.0 - offset.0, centre.1 - offset.1).distance(arc.centre);
            assert!(moved < step, "{moved}");
        }
        if same(done.to, motion.piece.to(), offset) {
            motions.next();
        }
    }
    assert!(motions.next().is_none());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// A control without surface speed never turns the face faster than the plan.
    #[test]
    fn stepped_speeds_stay_below_the_surface_speed(
        v in 60.0f64..600.0, limit in 150.0f64..700.0, inward: bool, radius_words: bool, by_radius: bool,
    ) {
        let direction = if inward { Direction::Inward } else { Direction::Outward };
        let x_words = if radius_words { XWords::Radius } else { XWords::Diameter };
        let control = Control {
            x_words,
            arcs: if by_radius { Arcs::Radius } else { Arcs::Centre },
            surface_speed: false, spindle_limit_word: SpindleLimitWord::None, ..control()
        };
        let sample = Sample { direction, ..Sample::new(control) };
        let mut plan = sample.unstepped();
        for pass in plan.operations.iter_mut().flat_map(|o| &mut o.passes) {
            pass.surface_speed = SurfaceSpeed::mm_per_min(v * 1000.0);
            pass.spindle_limit = SpindleSpeed::rpm(limit);
        }
        check_steps(&sample, &plan);
    }

    /// Whatever people write as names, the words stay the same, and another reader still agrees.
    #[test]
    fn no_text_reaches_the_words(
        title in "\\PC*|[()%;:\r\n GXM0-9]*", name in any::<String>(), material in any::<String>(), tool in any::<String>(),
    ) {
        let sample = Sample::new(control());
        let (mut job, mut plan) = (sample.job(), sample.plan());
        let plain = words(&gcode::write(&job, &plan).expect("plain")[0]);
        job.title = title;
        job.wheel.name = name.clone();
        job.wheel.material = material;
        plan.operations[0].tool.name = tool;
        plan.findings = vec![Finding::new(PlanRule::OutOfReach, Place::Whole, name)];
        job.control.largest_program = u64::MAX;
        let programs = gcode::write(&job, &plan).expect("odd names");
        prop_assert_eq!(words(&programs[0]), plain);
        agrees(&programs[0]);
    }
}

/// The same input gives the same bytes.
#[test]
fn nothing_changes_from_run_to_run() {
    let sample = Sample::new(control());
    let once = gcode::write(&sample.job(), &sample.plan());
    assert_eq!(once, gcode::write(&sample.job(), &sample.plan()));
}

/// An arc whose end is off its circle by more than the control allows never gets there by rounding alone.
#[test]
fn arcs_that_the_tolerance_holds_are_written() {
    let sample = Sample::new(Control { arc_tolerance: Length::mm(1e-6), ..control() });
    assert!(gcode::write(&sample.job(), &sample.plan()).is_ok());
}

/// A slow first turn is made once, before the first pass, and stands at its stop; the spindle is waited for after every start, at the park.
/// The proof understands both, and says of the program what it says without them.
#[test]
fn a_slow_first_turn_and_a_wait_are_at_the_park_and_sound() {
    let plain = Sample::new(control()).job();
    for (dwell, three, two) in [
        (DwellWord::X, "X3.0", "X2.0"),
        (DwellWord::P, "P3.0", "P2.0"),
        (DwellWord::PMilliseconds, "P3000", "P2000"),
    ] {
        let spin = Spin { first: Some(SpindleSpeed::rpm(60.0)), up: Some(Time::s(2.0)), dwell };
        let job = Job { machine: Machine { spin, ..plain.machine.clone() }, ..plain.clone() };
        let points: Vec<(f64, f64)> = (0..=800).map(|i| (40.0 + 0.1 * f64::from(i), 0.0)).collect();
        let face = crate::fixtures::face::face(&points);
        let plan = facewright::plan::plan(&job, &face, facewright::plan::Options::default()).expect("a plan");
        let written = facewright::gcode::write(&job, &plan).expect("a program");
        let lines: Vec<&str> = written[0].text.lines().collect();
        let slow: Vec<usize> = (0..lines.len()).filter(|&i| lines[i].contains("G97 S60 M03")).collect();
        let [slow] = slow[..] else { panic!("{slow:?} in\n{}", written[0].text) };
        let after = lines[slow..].join("\n");
        assert!(lines[slow + 1].contains(&format!("G04 {three}")), "{after}");
        assert!(lines[slow + 2].contains("M05"), "{after}");
        let stop = after.find("M00").expect("a stop after the slow turn");
        assert!(stop < after.find("AIR PASS 1").expect("an air pass"), "{after}");
        let starts = lines.iter().filter(|l| l.contains(" M03")).count();
        let waits = lines.iter().filter(|l| l.contains(&format!("G04 {two}"))).count();
        assert_eq!(waits + 1, starts, "one wait for each start but the slow one");
        let report = facewright::proof::prove(written[0].text.as_bytes(), &job, &face);
        let without = facewright::gcode::write(&plain, &plan).expect("a program");
        let plainly = facewright::proof::prove(without[0].text.as_bytes(), &plain, &face);
        assert_eq!(report.verdict, plainly.verdict, "{report}");
        assert_ne!(report.verdict, facewright::proof::Verdict::Stop, "{report}");
        if dwell == DwellWord::PMilliseconds {
            // Told in seconds a wait is over at once.
            let short = written[0].text.replace("G04 P2000", "G04 P2.0");
            let report = facewright::proof::prove(short.as_bytes(), &job, &face);
            assert!(report.findings().iter().any(|f| f.rule.id() == "no-wait"), "{report}");
        }
    }
}

/// The spindle never starts before its gear is chosen, the slow first turn included.
#[test]
fn a_slow_first_turn_has_its_gear() {
    let mut job = Sample::new(control()).job();
    job.machine.spin.first = Some(SpindleSpeed::rpm(60.0));
    let gear = |word, rpm| Gear { word, to: SpindleSpeed::rpm(rpm) };
    job.control.traits.gears = vec![gear(41, 350.0), gear(42, 1400.0)];
    let written = gcode::write(&job, &Sample::new(control()).plan()).expect("a program");
    let (before, _) = written[0].text.split_once(" M03").expect("a start");
    assert!(before.contains("M41"), "{before}");
}

/// The seconds of a wait are a number like any other of the control.
#[test]
fn a_wait_has_the_zeros_of_the_control() {
    let mut job = Sample::new(control()).job();
    job.machine.spin.up = Some(Time::s(0.5));
    job.control.traits.leading_zero = LeadingZero::LeftOut;
    let written = gcode::write(&job, &Sample::new(control()).plan()).expect("a program");
    let text = &written[0].text;
    assert!(text.contains("G04 X.5") && !text.contains("X0.5"), "{text}");
}
