//! Arcs: which way G02 and G03 run, and the I K or R words.
//!
//! **Sense.** ISO 841 has Z along the spindle and positive away from the chuck, X across it and
//! positive away from the axis, and Y so that X, Y, Z are right-handed: Y = Z × X. ISO 6983-1 and
//! NISTIR 6556 (section 3.5.3) have G02 clockwise and G03 counter-clockwise as seen from the
//! positive end of the axis across the plane (from memory). In the plane G18 that is seen from +Y
//! looking along −Y: Z to the right and X up, as on a lathe with its tool behind the axis. There a
//! turn from +Z toward +X is counter-clockwise. The pictures of this house lay x to the right and z
//! up: the mirror image, so that clockwise there is counter-clockwise here. An arc over a ridge
//! (bulging to +Z) that is run outward is therefore **G03**, run inward G02; through a valley G02
//! outward, G03 inward. Where the tool stands (behind or before the axis) changes the picture that
//! the operator sees, not the words, as +Y then points the other way.
//!
//! **Words.** I (along X) and K (along Z) lead from the start point to the centre; both are radius
//! values, also where X words are diameters, rounded to the nearest step. The control takes the
//! distance of the start from that rounded centre as the radius and wants the end on the same
//! circle; the difference is checked here as the control will find it. R is positive (less than half
//! a turn) and rounded to the side that keeps the arc from falling below the path: down over a
//! ridge, up through a valley; what that moves in the middle of the arc is checked too.

use super::GcodeError;
use super::scale::{Place, Scale};
use super::word::Word;
use crate::geometry::{Arc, Turn};
use crate::job::{Arcs, Control};

/// The number of the G word for a turn as this house sees it, x to the right and z up.
pub(super) const fn sense(turn: Turn) -> u32 {
    match turn {
        Turn::Clockwise => 3,
        Turn::CounterClockwise => 2,
    }
}

/// The words that say where an arc's centre is: I and K, or R.
pub(super) fn centre_words(
    arc: &Arc,
    places: [Place; 2],
    control: &Control,
    scale: &Scale,
    at: &str,
) -> Result<Vec<Word>, GcodeError> {
    check_sweep(arc, places, at)?;
    match control.arcs {
        Arcs::Centre => i_and_k(arc, places, control, scale, at),
        Arcs::Radius => radius(arc, places, control, scale, at),
        Arcs::None => Err(GcodeError::ArcForbidden { at: at.to_owned() }),
    }
}

/// Refuses an arc of no length, or of half a turn or more.
fn check_sweep(arc: &Arc, [from, to]: [Place; 2], at: &str) -> Result<(), GcodeError> {
    let chord = (arc.to.x - arc.from.x, arc.to.z - arc.from.z);
    let centre = (arc.centre.x - arc.from.x, arc.centre.z - arc.from.z);
    let side = chord.0 * centre.1 - chord.1 * centre.0;
    // Of an arc of less than half a turn the centre lies to the right of the chord where it runs clockwise, else to the left.
    let short = match arc.turn {
        Turn::Clockwise => side < 0.0,
        Turn::CounterClockwise => side > 0.0,
    };
    if from != to && short { Ok(()) } else { Err(GcodeError::ArcSweep { at: at.to_owned() }) }
}

fn i_and_k(
    arc: &Arc,
    [from, to]: [Place; 2],
    control: &Control,
    scale: &Scale,
    at: &str,
) -> Result<Vec<Word>, GcodeError> {
    let count = |value: f64| {
        scale.nearest(value).ok_or_else(|| GcodeError::Number {
            what: format!("{at}: an arc's centre at a distance"),
            value: format!("{value} mm"),
            keys: "the control's `resolution`, or `arcs`",
        })
    };
    let i = count(arc.centre.x - arc.from.x)?;
    let k = count(arc.centre.z - arc.from.z)?;
    // As the control reckons, from the words alone.
    let to_centre = (i as f64 * scale.step(), k as f64 * scale.step());
    let start_mm = to_centre.0.hypot(to_centre.1);
    let end_mm = (scale.radius(from.x) + to_centre.0 - scale.radius(to.x))
        .hypot(scale.height(from.z) + to_centre.1 - scale.height(to.z));
    let tolerance_mm = control.arc_tolerance.as_mm();
    if (start_mm - end_mm).abs() <= tolerance_mm {
        Ok(vec![scale.word('I', i), scale.word('K', k)])
    } else {
        Err(GcodeError::ArcRadii { at: at.to_owned(), start_mm, end_mm, tolerance_mm })
    }
}

fn radius(
    arc: &Arc,
    [from, to]: [Place; 2],
    control: &Control,
    scale: &Scale,
    at: &str,
) -> Result<Vec<Word>, GcodeError> {
    let exact = arc.radius();
    let ridge = (arc.turn == Turn::Clockwise) == (arc.to.x >= arc.from.x);
    let steps = if ridge { scale.not_above(exact) } else { scale.not_below(exact) };
    let tolerance_mm = control.arc_tolerance.as_mm();
    let refused = || GcodeError::ArcRadiusWord { at: at.to_owned(), radius_mm: exact, tolerance_mm };
    let steps = steps.filter(|&n| n > 0).ok_or_else(refused)?;
    let half_chord =
        (scale.radius(to.x) - scale.radius(from.x)).hypot(scale.height(to.z) - scale.height(from.z)) / 2.0;
    // How far the middle of an arc of less than half a turn stands out from its chord; not a number where the radius is too short for the chord.
    let rise = |r: f64| r - (r * r - half_chord * half_chord).sqrt();
    let moved = (rise(steps as f64 * scale.step()) - rise(exact)).abs();
    if moved <= tolerance_mm { Ok(vec![scale.word('R', steps)]) } else { Err(refused()) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{Piece, Point};

    /// Which G word an arc needs, reckoned in space: the turn about +Y by the right-hand rule, with
    /// Y = Z × X (ISO 841) and G03 counter-clockwise seen from +Y (ISO 6983-1, NISTIR 6556, 3.5.3; from memory).
    fn by_right_hand(from: Point, middle: Point, to: Point) -> u32 {
        let cross = |a: [f64; 3], b: [f64; 3]| {
            [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
        };
        let (x_axis, z_axis) = ([1.0, 0.0, 0.0], [0.0, 0.0, 1.0]);
        let y_axis = cross(z_axis, x_axis);
        let step = |a: Point, b: Point| [b.x - a.x, 0.0, b.z - a.z];
        let turn = cross(step(from, middle), step(middle, to));
        let about_y: f64 = turn.iter().zip(y_axis).map(|(a, b)| a * b).sum();
        if about_y > 0.0 { 3 } else { 2 }
    }

    #[test]
    fn a_ridge_run_outward_is_g03_and_the_words_follow_the_right_hand_rule() {
        let ridge = (Point::new(70.0, 0.0), Point::new(74.0, 2.0), Point::new(78.0, 0.0));
        let valley = (Point::new(70.0, 0.0), Point::new(74.0, -2.0), Point::new(78.0, 0.0));
        assert_eq!(by_right_hand(ridge.0, ridge.1, ridge.2), 3);
        for (figure, turn) in [(ridge, Turn::Clockwise), (valley, Turn::CounterClockwise)] {
            assert_eq!(sense(turn), by_right_hand(figure.0, figure.1, figure.2));
            assert_eq!(sense(turn.reversed()), by_right_hand(figure.2, figure.1, figure.0));
        }
        // The turn of the shared type means what this file takes it to mean: a clockwise arc run outward bulges up.
        let arc = Piece::Arc(Arc {
            from: ridge.0,
            to: ridge.2,
            centre: Point::new(74.0, -3.0),
            turn: Turn::Clockwise,
        });
        assert_eq!(arc.at(74.0), 2.0);
    }

    /// A control as the shop file would have it, with R words.
    fn by_radius() -> Control {
        use crate::job::{
            Coolant, FeedWords, LineEnd, Sequence, SpindleLimitWord, SpindleTurns, ToolWord, UnitWord, XWords,
        };
        use crate::units::Length;
        Control {
            x_words: XWords::Radius,
            unit_word: UnitWord::G71,
            resolution: Length::mm(0.001),
            decimals: 3,
            arcs: Arcs::Radius,
            arc_tolerance: Length::mm(0.002),
            surface_speed: true,
            spindle_limit_word: SpindleLimitWord::G92,
            feed_words: FeedWords::G94G95,
            bare_numbers: crate::job::BareNumbers::Units,
            sequence: Sequence::None,
            program_number: None,
            tape_marks: false,
            line_end: LineEnd::Lf,
            longest_line: 80,
            largest_program: 65_536,
            blocks_per_second: 100.0,
            tool_word: ToolWord::Number,
            work_offset: None,
            spindle_turns: SpindleTurns::M03,
            coolant: Coolant::None,
            stops: crate::job::Stops::Optional,
            traits: crate::job::Traits::default(),
        }
    }

    /// The R word for an arc from (70, 0) over a chord of 8 mm, with its centre `depth` below or above.
    fn r_word(depth: f64, turn: Turn, inward: bool) -> Result<f64, GcodeError> {
        let control = by_radius();
        let scale = Scale::new(&control)?;
        let (a, b) = (Point::new(70.0, 0.0), Point::new(78.0, 0.0));
        let centre = Point::new(74.0, if turn == Turn::Clockwise { -depth } else { depth });
        let outward = Arc { from: a, to: b, centre, turn };
        let (pa, pb) = (Place { x: 70_000, z: 0 }, Place { x: 78_000, z: 0 });
        let (arc, places) = if inward {
            (Arc { from: b, to: a, centre, turn: turn.reversed() }, [pb, pa])
        } else {
            (outward, [pa, pb])
        };
        let words = centre_words(&arc, places, &control, &scale, "here")?;
        Ok(words.first().map_or(f64::NAN, Word::value))
    }

    #[test]
    fn an_r_word_is_rounded_to_the_side_that_keeps_the_arc_up() {
        // Centre 2.9 mm from the chord: R = sqrt(16 + 8.41) = 4.94065...
        for inward in [false, true] {
            assert_eq!(r_word(2.9, Turn::Clockwise, inward), Ok(4.940));
            assert_eq!(r_word(2.9, Turn::CounterClockwise, inward), Ok(4.941));
            assert_eq!(r_word(3.0, Turn::Clockwise, inward), Ok(5.0));
        }
    }

    #[test]
    fn an_arc_near_half_a_turn_is_more_than_an_r_word_can_hold() {
        // R = 4.00020..., of which 0.0002 mm decides where the centre is.
        let refused = r_word(0.04, Turn::CounterClockwise, false);
        assert!(matches!(refused, Err(GcodeError::ArcRadiusWord { .. })), "{refused:?}");
    }
}
