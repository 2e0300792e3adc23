//! From a million raw points to a few thousand places: a fixed fine grid of radii, one robust point for each cell of it.
//!
//! The cells start at whole multiples of [`CELL`], whatever was measured, so every line of a wheel lives on the same
//! grid. A counting sort puts the points into their cells in linear time; within a cell the median is found by
//! selection, wild points are told by the Hampel identifier (Hampel 1974; Davies and Gather 1993), and the mean of
//! the others is the place. Order, direction, pauses and going back and forth no longer matter after it.

use super::reader::RawPoint;
use super::robust::{SIGMA_PER_MAD, median};
use crate::geometry::Point;

/// Width of a cell in millimetres. Well below the spot of a bench sensor and the filter's cut-off, and wide
/// enough that a face of 150 mm is 7,500 places. On a slope of 45° the points of a cell spread by ± 0.01 mm.
pub const CELL: f64 = 0.02;

/// A point farther than this many robust standard deviations from its cell's median is wild (common choice: three).
const WILD: f64 = 3.0;

/// The least spread that counts in a cell, millimetres: a bench sensor's last digit. Below it nothing is wild.
const LEAST_SPREAD: f64 = 0.002;

/// One place of the grid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    /// Mean radius and mean height of the points that count.
    pub point: Point,
    /// How many points were measured there.
    pub count: u32,
    /// How many of them were wild and do not count.
    pub wild: u32,
}

/// Points by cell: `starts[c]..starts[c + 1]` are those of cell `first + c`.
pub(super) struct Cells {
    starts: Vec<usize>,
    sorted: Vec<u32>,
}

impl Cells {
    /// Puts points into their cells; the radii must be finite, not negative and below those of any wheel.
    pub fn new(points: &[RawPoint]) -> Self {
        let cells: Vec<u32> = points.iter().map(|p| cell_of(p.x)).collect();
        let first = cells.iter().copied().min().unwrap_or(0);
        let last = cells.iter().copied().max().unwrap_or(0);
        let mut starts = vec![0_usize; (last - first) as usize + 2];
        for &c in &cells {
            starts[(c - first) as usize + 1] += 1;
        }
        for i in 1..starts.len() {
            starts[i] += starts[i - 1];
        }
        let mut next = starts.clone();
        let mut sorted = vec![0_u32; points.len()];
        for (i, &c) in (0_u32..).zip(&cells) {
            let slot = &mut next[(c - first) as usize];
            sorted[*slot] = i;
            *slot += 1;
        }
        Self { starts, sorted }
    }

    /// The cells that hold points, from small radius to large, each as indices of points in measured order.
    pub fn iter(&self) -> impl Iterator<Item = &[u32]> {
        self.starts.windows(2).filter(|w| w[1] > w[0]).filter_map(|w| self.sorted.get(w[0]..w[1]))
    }
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "radii are checked to lie in 0 to 1000 mm"
)]
fn cell_of(x: f64) -> u32 {
    (x / CELL).floor() as u32
}

/// The places of a scan, radius strictly rising: one for each cell, but both points of a cell that holds just two at
/// different radii, so that a profile drawn by hand keeps its walls.
pub(super) fn places(points: &[RawPoint]) -> Vec<Place> {
    let cells = Cells::new(points);
    let mut out = Vec::new();
    let mut room = Vec::new();
    for cell in cells.iter() {
        let at = |i: &u32| points.get(*i as usize).map(|p| Point::new(p.x, p.z));
        match *cell {
            [i] => out.extend(at(&i).map(single)),
            [i, j] => match (at(&i), at(&j)) {
                (Some(a), Some(b)) if a.x < b.x => out.extend([single(a), single(b)]),
                (Some(a), Some(b)) if a.x > b.x => out.extend([single(b), single(a)]),
                (Some(a), Some(b)) => {
                    out.push(Place { point: Point::new(a.x, f64::midpoint(a.z, b.z)), count: 2, wild: 0 });
                }
                _ => {}
            },
            _ => {
                let of_cell = cell.iter().filter_map(at);
                out.extend(crowd(of_cell, &mut room));
            }
        }
    }
    out
}

const fn single(point: Point) -> Place {
    Place { point, count: 1, wild: 0 }
}

/// The place of three points and more; `room` is kept between calls to spare allocations.
fn crowd(points: impl Iterator<Item = Point> + Clone, room: &mut Vec<f64>) -> Option<Place> {
    room.clear();
    room.extend(points.clone().map(|p| p.z));
    let count = room.len();
    let middle = median(room)?;
    for z in room.iter_mut() {
        *z = (*z - middle).abs();
    }
    let spread = (SIGMA_PER_MAD * median(room)?).max(LEAST_SPREAD);
    // Sums of distances from the median, so that equal values give back themselves to the bit.
    let base = points.clone().next()?.x;
    let (mut n, mut dx, mut dz) = (0_u32, 0.0, 0.0);
    for p in points.filter(|p| (p.z - middle).abs() <= WILD * spread) {
        n += 1;
        dx += p.x - base;
        dz += p.z - middle;
    }
    let n_f = f64::from(n);
    let count = u32::try_from(count).unwrap_or(u32::MAX);
    (n > 0).then(|| Place { point: Point::new(base + dx / n_f, middle + dz / n_f), count, wild: count - n })
}
