//! The slow part of a line's departure from the face: what a bend looks like, with damage looked through.
//!
//! The departure is first reduced to cells of radius (the median of each); then at every knot a
//! straight line is laid through the cells around by repeated medians, which holds as long as fewer
//! than half of them are disturbed: A. F. Siegel, Robust regression using repeated medians,
//! Biometrika 69 (1982); as a moving filter: Davies, Fried and Gather, Robust signal extraction for
//! on-line monitoring data (2004).
//!
//! Limit: damage that fills more than half a window is followed as if it were shape, and so counts
//! as bend. That errs toward refusing.

use super::lines::median;

/// Width of a cell. A window holds thirty of them: enough for a steady median, few enough that the
/// quadratic work of repeated medians does not show.
const CELL: f64 = 2.0;
/// Half the window: damage up to this long across the face is looked through; a bend takes longer than
/// this to show, since a wheel's flange and spokes are stiff over shorter spans.
const HALF_WINDOW: f64 = 30.0;
/// Distance of the knots between which the slow part is drawn straight.
pub const KNOT: f64 = 5.0;
/// A line needs at least this many cells.
const LEAST_CELLS: usize = 3;

/// The radii of the knots for a face from `start` to `end`.
#[must_use]
pub fn knots(start: f64, end: f64) -> Vec<f64> {
    let steps = ((end - start) / KNOT).ceil().max(1.0);
    let step = (end - start) / steps;
    // `steps` is a small whole number: a face is at most metres wide.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let steps = steps as usize;
    (0..=steps).map(|i| if i == steps { end } else { start + step * i as f64 }).collect()
}

/// How wide the windows are at the ends of a line, where half of them lies beyond it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ends {
    /// As wide as elsewhere, reaching twice as far inward: damage near the end is looked through as anywhere.
    Whole,
    /// Half as wide, which follows a bend more closely: for values with the damage left out.
    Half,
}

/// The slow part at each knot; not a number where the line has nothing near. `values` gives the departure at
/// each radius of `x`, not a number where there is none or it is to be left out.
#[must_use]
pub fn slow_part(x: &[f64], values: &[f64], knots: &[f64], ends: Ends) -> Vec<f64> {
    let cells = cells(x, values);
    let (first, last) = (cells.first().map_or(0.0, |c| c.0), cells.last().map_or(0.0, |c| c.0));
    // The windows of neighbouring knots share most of their cells: the slopes from each cell to all others, once for all knots.
    let slopes: Vec<Vec<f64>> =
        cells.iter().map(|a| cells.iter().map(|b| (b.1 - a.1) / (b.0 - a.0)).collect()).collect();
    let mut room = Vec::new();
    knots
        .iter()
        .map(|&knot| {
            let reach = match ends {
                Ends::Whole => [
                    HALF_WINDOW + (knot + HALF_WINDOW - last).max(0.0),
                    HALF_WINDOW + (first - knot + HALF_WINDOW).max(0.0),
                ],
                Ends::Half => [HALF_WINDOW; 2],
            };
            at_knot(&cells, &slopes, knot, reach, &mut room)
        })
        .collect()
}

fn cells(x: &[f64], values: &[f64]) -> Vec<(f64, f64)> {
    let mut cells = Vec::new();
    let mut held: Vec<f64> = Vec::new();
    let (mut number, mut sum) = (f64::NAN, 0.0);
    let mut close = |held: &mut Vec<f64>, sum: f64| {
        let mean = sum / held.len() as f64;
        if let Some(m) = median(held) {
            cells.push((mean, m));
        }
        held.clear();
    };
    for (&x, &v) in x.iter().zip(values).filter(|(_, v)| v.is_finite()) {
        if (x / CELL).floor() != number {
            close(&mut held, sum);
            (number, sum) = ((x / CELL).floor(), 0.0);
        }
        held.push(v);
        sum += x;
    }
    close(&mut held, sum);
    cells
}

/// The slow part at one knot, from the cells that lie within `reach` of it inward and outward and the slopes between them.
fn at_knot(
    cells: &[(f64, f64)],
    slopes: &[Vec<f64>],
    knot: f64,
    [inward, outward]: [f64; 2],
    room: &mut Vec<f64>,
) -> f64 {
    let from = cells.partition_point(|c| c.0 < knot - inward);
    let to = cells.partition_point(|c| c.0 <= knot + outward);
    let (Some(window), Some(slopes)) = (cells.get(from..to), slopes.get(from..to)) else { return f64::NAN };
    // Beyond the line's own ends there is nothing to say, except within a cell of them.
    let reached = window.first().is_some_and(|c| c.0 - CELL <= knot)
        && window.last().is_some_and(|c| knot <= c.0 + CELL);
    if window.len() < LEAST_CELLS || !reached {
        return f64::NAN;
    }
    let middle_slope = |(i, row): (usize, &Vec<f64>)| {
        room.clear();
        room.extend_from_slice(row.get(from..to)?);
        // Not that from the cell to itself.
        room.swap_remove(i);
        median(room)
    };
    let mut middles: Vec<f64> = slopes.iter().enumerate().filter_map(middle_slope).collect();
    let Some(slope) = median(&mut middles) else { return f64::NAN };
    room.clear();
    room.extend(window.iter().map(|c| c.1 - slope * (c.0 - knot)));
    median(room).unwrap_or(f64::NAN)
}

/// Values at knots drawn straight between them, for rising radii: linear time over the whole row.
#[must_use]
pub fn between_knots(knots: &[f64], values: &[f64], x: &[f64]) -> Vec<f64> {
    let mut i = 0;
    x.iter()
        .map(|&x| {
            while knots.get(i + 1).is_some_and(|&k| k < x) && i + 2 < knots.len() {
                i += 1;
            }
            match (knots.get(i), knots.get(i + 1), values.get(i), values.get(i + 1)) {
                (Some(&a), Some(&b), Some(&va), Some(&vb)) => {
                    let t = ((x - a) / (b - a)).clamp(0.0, 1.0);
                    // A knot without a value takes its neighbour's.
                    if va.is_nan() {
                        vb
                    } else if vb.is_nan() {
                        va
                    } else {
                        va + (vb - va) * t
                    }
                }
                (_, _, Some(&v), _) => v,
                _ => f64::NAN,
            }
        })
        .collect()
}
