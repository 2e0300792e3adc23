//! What is refused rather than guessed.

use super::sample::{Sample, control};
use facewright::gcode::{self, GcodeError};
use facewright::geometry::{Piece, Point};
use facewright::job::{Arcs, Control, Job, SpindleLimitWord, UnitWord};
use facewright::plan::{Pass, PassKind, Plan, PlanError, stepped};
use facewright::units::{FeedPerRev, Length, SpindleSpeed, SurfaceSpeed};

fn refused(change: impl FnOnce(&mut Job, &mut Plan)) -> GcodeError {
    let sample = Sample::new(control());
    let (mut job, mut plan) = (sample.job(), sample.plan());
    change(&mut job, &mut plan);
    gcode::write(&job, &plan).expect_err("must be refused")
}

fn rough(plan: &mut Plan) -> &mut Pass {
    &mut plan.operations[0].passes[1]
}

/// Moves the join of two motions of the first rough pass.
fn move_join(plan: &mut Plan, index: usize, dx: f64, dz: f64) {
    let motions = &mut rough(plan).motions;
    let moved = |p: Point| p.shifted(dx, dz);
    for (i, at_end) in [(index, true), (index + 1, false)] {
        let piece = &mut motions[i].piece;
        match piece {
            Piece::Line(line) if at_end => line.to = moved(line.to),
            Piece::Line(line) => line.from = moved(line.from),
            Piece::Arc(arc) if at_end => arc.to = moved(arc.to),
            Piece::Arc(arc) => arc.from = moved(arc.from),
        }
    }
}

#[test]
fn coordinates_off_the_grid() {
    // Diameter words of 0.001 mm name radii every 0.0005 mm.
    let off = refused(|_, plan| move_join(plan, 4, 0.00025, 0.0));
    assert!(matches!(off, GcodeError::OffGrid { axis: 'X', .. }), "{off}");
    let off = refused(|_, plan| move_join(plan, 4, 0.0, 2e-7));
    assert!(matches!(off, GcodeError::OffGrid { axis: 'Z', .. }), "{off}");
    let off = refused(|_, plan| plan.operations[0].touch_off.at = Length::mm(65.0001));
    assert!(matches!(off, GcodeError::OffGrid { axis: 'X', .. }), "{off}");
    let sample = Sample::new(control());
    let mut plan = sample.plan();
    move_join(&mut plan, 4, 0.0, 5e-8);
    assert!(gcode::write(&sample.job(), &plan).is_ok(), "rounding noise is no fault");
}

#[test]
fn arcs_that_the_control_would_refuse() {
    // The join of the ridge and the slope behind it, 0.003 mm off the circle.
    let radii = refused(|_, plan| move_join(plan, 5, 0.003, 0.0));
    assert!(matches!(radii, GcodeError::ArcRadii { .. }), "{radii}");
    let none = refused(|job, _| job.control.arcs = Arcs::None);
    assert!(matches!(none, GcodeError::ArcForbidden { .. }), "{none}");
    // The centre on the wrong side of the chord: more than half a turn.
    let wide = refused(|_, plan| {
        if let Piece::Arc(arc) = &mut rough(plan).motions[5].piece {
            arc.turn = arc.turn.reversed();
        }
    });
    assert!(matches!(wide, GcodeError::ArcSweep { .. }), "{wide}");
}

#[test]
fn plans_that_break_their_rules() {
    let rapid = refused(|_, plan| {
        let motion = &mut rough(plan).motions[5];
        motion.role = facewright::plan::Role::Rapid;
    });
    assert!(matches!(rapid, GcodeError::RapidArc { .. }), "{rapid}");
    let gap = refused(|_, plan| rough(plan).motions[4].piece = rough(plan).motions[3].piece);
    assert!(matches!(gap, GcodeError::Gap { .. }), "{gap}");
    let park = refused(|_, plan| {
        plan.operations[1].passes[1].motions.pop();
    });
    assert!(matches!(park, GcodeError::NotAtPark { .. }), "{park}");
    let air = refused(|_, plan| rough(plan).kind = PassKind::Air);
    assert_eq!(air, GcodeError::AirPass);
    let air = refused(|_, plan| {
        plan.operations[0].passes.remove(0);
    });
    assert_eq!(air, GcodeError::AirPass);
    let fast = refused(|_, plan| rough(plan).spindle_limit = SpindleSpeed::rpm(701.0));
    assert!(matches!(fast, GcodeError::SpindleLimit { .. }), "{fast}");
    for value in [0.0, -0.2, f64::NAN, f64::INFINITY] {
        let feed = refused(|_, plan| rough(plan).feed = FeedPerRev::mm_per_rev(value));
        assert!(matches!(feed, GcodeError::Number { .. }), "{feed}");
        let speed = refused(|_, plan| rough(plan).surface_speed = SurfaceSpeed::mm_per_min(value));
        assert!(matches!(speed, GcodeError::Number { .. }), "{speed}");
    }
    let nan = refused(|_, plan| move_join(plan, 4, f64::NAN, 0.0));
    assert!(matches!(nan, GcodeError::Number { .. }), "{nan}");
}

#[test]
fn controls_that_cannot_say_it() {
    let change = |change: fn(&mut Control)| refused(move |job, _| change(&mut job.control));
    let limit = change(|c| c.spindle_limit_word = SpindleLimitWord::None);
    assert_eq!(limit, GcodeError::NoLimitWord);
    let offset = change(|c| c.work_offset = Some(60));
    assert_eq!(offset, GcodeError::WorkOffset(60));
    let short = change(|c| c.longest_line = 12);
    assert!(matches!(short, GcodeError::LineTooShort { .. }), "{short}");
    let long = change(|c| c.longest_line = 26);
    assert!(matches!(long, GcodeError::LineTooLong { .. }), "{long}");
    let steps = change(|c| c.sequence = facewright::job::Sequence::StepsOf(50_000));
    assert!(matches!(steps, GcodeError::SequenceFull { .. }), "{steps}");
    let large = change(|c| c.largest_program = 1000);
    assert!(matches!(large, GcodeError::TooLarge { .. }), "{large}");
    let number = change(|c| c.program_number = Some(10_000));
    assert!(matches!(number, GcodeError::ProgramNumber { .. }), "{number}");
    let resolution = change(|c| c.unit_word = UnitWord::G70);
    assert!(matches!(resolution, GcodeError::Resolution { .. }), "{resolution}");
    let tool = refused(|_, plan| plan.operations[0].tool.number = 0);
    assert!(matches!(tool, GcodeError::ToolNumber { .. }), "{tool}");
    // A plan made for a control that holds the surface speed says no speeds for one that does not.
    let unsaid = refused(|job, _| job.control.surface_speed = false);
    assert!(matches!(unsaid, GcodeError::NoSpindleSpeed { .. }), "{unsaid}");
}

/// Below one revolution a minute there is no whole speed: 300 mm/min at a radius of 99 mm.
#[test]
fn speeds_too_slow_to_step() {
    let sample = Sample::new(Control { surface_speed: false, ..control() });
    let mut plan = sample.plan();
    let tool = plan.operations[0].tool.clone();
    let pass = rough(&mut plan);
    pass.surface_speed = SurfaceSpeed::mm_per_min(300.0);
    let slow = stepped::step_speeds(pass, &tool, &sample.control, &[]);
    assert!(matches!(slow, Err(PlanError::SpindleSteps { .. })), "{slow:?}");
}
