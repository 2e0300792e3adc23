//! Leads beside walls: nowhere in metal that stays, whichever way the cut ends.

use crate::fixtures::job::control;
use facewright::fit::WordRoom;
use facewright::geometry::{Arc, Curve, Grid, Piece, Point, Turn};
use facewright::plan::approach::LeadSpace;
use proptest::prelude::*;

/// What the grid may move a lead's ends by, with the rounding of its centre, millimetres.
const ROUNDED: f64 = 0.003;

/// Points along a lead, close together.
fn samples(lead: &Piece) -> Vec<Point> {
    let (from, to) = (lead.from(), lead.to());
    (0..=400)
        .map(|i| {
            let t = f64::from(i) / 400.0;
            let on_chord = Point::new(from.x + t * (to.x - from.x), from.z + t * (to.z - from.z));
            match lead {
                Piece::Line(_) => on_chord,
                Piece::Arc(arc) => {
                    let share = arc.radius() / on_chord.distance(arc.centre);
                    let out = on_chord.shifted(-arc.centre.x, -arc.centre.z);
                    arc.centre.shifted(share * out.x, share * out.z)
                }
            }
        })
        .collect()
}

/// The places of the control, and the room in its lines.
const GRID: Grid = Grid { dx: 0.0005, dz: 0.001, x0: 0.0, z0: 0.0 };

const fn room() -> WordRoom {
    WordRoom {
        characters: 80,
        places: 3,
        unit: 1.0,
        x_factor: 2.0,
        offset: Point::new(0.0, 0.0),
        moves: [0.0, 0.0],
    }
}

/// Points on both circles that an arc may be run along: about its centre through where it begins, and through where it ends.
fn on_both_circles(arc: &Arc) -> Vec<Point> {
    let radii = [arc.from, arc.to].map(|end| end.distance(arc.centre));
    let on_chord = |i: u32| {
        let t = f64::from(i) / 400.0;
        Point::new(arc.from.x + t * (arc.to.x - arc.from.x), arc.from.z + t * (arc.to.z - arc.from.z))
    };
    let out = |p: Point| p.shifted(-arc.centre.x, -arc.centre.z);
    let along = |radius: f64| {
        (1..400).map(on_chord).map(move |p| {
            let share = radius / p.distance(arc.centre);
            arc.centre.shifted(share * out(p).x, share * out(p).z)
        })
    };
    radii.into_iter().flat_map(along).collect()
}

proptest! {
    /// A hollow or a crown on which the cut ends: an arc that leads there, with its centre on the control's steps, has two radii that are not quite the
    /// same, and lies nowhere under the path with either.
    #[test]
    fn a_lead_is_above_its_path_with_the_radius_of_either_end(
        radius in 3.0..400.0_f64,
        crown in any::<bool>(),
        at in -0.4..0.4_f64,
        inward in any::<bool>(),
    ) {
        let (turn, centre) = if crown { (Turn::Clockwise, -radius) } else { (Turn::CounterClockwise, radius) };
        let (sin, cos) = (2.5f64 / radius).min(1.4).sin_cos();
        let end = |side: f64| Point::new(100.0 + side * radius * sin, centre - centre * cos);
        let path = Curve::from_pieces(vec![Piece::Arc(Arc {
            from: end(-1.0),
            to: end(1.0),
            centre: Point::new(100.0, centre),
            turn,
        })]);
        let control = control();
        let space =
            LeadSpace { path: &path, grid: GRID, control: &control, room: room(), turn: None, end_tolerance: control.arc_tolerance.as_mm() };
        let x = GRID.nearest_x(100.0 + at);
        let begins = Point::new(x, GRID.z_not_below(path.at(x)));
        let side = if inward { -1.0 } else { 1.0 };
        let along = Point::new(side, side * path.slope_at(x));
        for lead in [space.lead_out(begins, along), space.lead_in(begins, along)] {
            let Piece::Arc(arc) = lead else { continue };
            for p in on_both_circles(&arc) {
                let below = path.at(p.x) - p.z;
                prop_assert!(below <= 2e-9, "{below:.7} mm under the path at {p:?}: {arc:?}");
            }
        }
    }
}

proptest! {
    /// A floor, a rise on which the cut ends, and beyond it a wall as steep as a tool can stand beside: a lead's arc that carries on along the
    /// rise would turn back over itself and bulge into the wall.
    #[test]
    fn a_lead_beside_a_wall_stays_out_of_it(
        rise in 0.0..80.0_f64,
        beyond in 0.0..88.0_f64,
        left in 0.0..0.4_f64,
        inward in any::<bool>(),
    ) {
        let steep = |degrees: f64| degrees.to_radians().tan();
        let foot = Point::new(100.0, 0.0);
        let end = Point::new(101.0, steep(rise));
        // The wall begins a little further on than the cut ends, as steep as the rise at least.
        let wall = end.shifted(left, left * steep(rise));
        let top = wall.shifted(5.0, 5.0 * steep(rise.max(beyond)));
        let side = if inward { -1.0 } else { 1.0 };
        let seen = |p: Point| Point::new(if inward { 200.0 - p.x } else { p.x }, p.z);
        let mut points: Vec<Point> = [Point::new(90.0, 0.0), foot, end, wall, top].map(seen).to_vec();
        points.dedup();
        if inward {
            points.reverse();
        }
        let path = Curve::from_pieces(points.windows(2).map(|p| Piece::line(p[0], p[1])).collect());
        let control = control();
        let space =
            LeadSpace { path: &path, grid: GRID, control: &control, room: room(), turn: None, end_tolerance: control.arc_tolerance.as_mm() };
        let at = GRID.nearest(seen(end));
        let at = Point::new(at.x, GRID.z_not_below(path.at(at.x)));
        let along = Point::new(side, steep(rise));
        let back = Point::new(-along.x, -along.z);
        for lead in [space.lead_out(at, along), space.lead_in(at, back)] {
            for p in samples(&lead) {
                let below = path.at(p.x) - p.z;
                // How far inside, along the normal of the steepest part.
                let inside = below * rise.max(beyond).to_radians().cos();
                prop_assert!(inside <= ROUNDED, "{inside:.4} mm inside at {p:?}: {lead:?}");
            }
        }
    }
}
