//! The search: round by round the furthest few states go on, each by one piece.

use super::band::Band;
use super::control::{Laid, lay_arc, lay_line};
use super::fan::{Fan, Ray, bend_to, ending_in};
use super::{ArcRule, Tube, TubeFault, smooth};
use crate::geometry::{Curve, Piece, Point};

/// How many states go on from a round.
const BREADTH: usize = 6;

/// How many of them may share a column of the grid.
const PER_COLUMN: usize = 3;

/// How many heights of a column are tried as ends.
const HEIGHTS: usize = 7;

/// The steepest tangent that is tried, as a slope: 89.4°, beyond what any edge follows.
const STEEPEST: f64 = 100.0;

/// A place reached, and the piece that reached it.
#[derive(Debug, Clone, Copy)]
struct State {
    at: Point,
    /// The tangent's angle there, and none at the start.
    heading: Option<f64>,
    piece: Option<Piece>,
    parent: usize,
    /// Sum of the squares of all changes of direction so far.
    bent: f64,
}

/// Whether the limit on changes of direction holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Joints {
    Smooth,
    Free,
}

pub(super) struct Search<'a> {
    tube: &'a Tube,
    band: Band,
    /// First and last column of the grid on the path.
    start: f64,
    end: f64,
    states: Vec<State>,
    fan: Fan,
    /// The polygons after each pin, one after the other, and where each stands.
    history: Vec<Ray>,
    marks: Vec<(usize, usize)>,
}

impl<'a> Search<'a> {
    pub(super) fn new(path: &Curve, tube: &'a Tube) -> Result<Self, TubeFault> {
        let (start, end) = (tube.grid.column_from(path.start()), tube.grid.column_to(path.end()));
        if end - start < tube.grid.dx / 2.0 {
            return Err(TubeFault::TooShort);
        }
        Ok(Self {
            tube,
            band: Band::new(path, tube.tolerance),
            start,
            end,
            states: Vec::new(),
            fan: Fan::default(),
            history: Vec::new(),
            marks: Vec::new(),
        })
    }

    /// The pieces of the best way from the first column to the last.
    pub(super) fn run(mut self) -> Result<Vec<Piece>, TubeFault> {
        for z in self.heights(self.start) {
            self.states.push(State {
                at: Point::new(self.start, z),
                heading: None,
                piece: None,
                parent: 0,
                bent: 0.0,
            });
        }
        let mut front: Vec<usize> = (0..self.states.len()).collect();
        loop {
            let mut next = self.round(&front, Joints::Smooth);
            if next.is_empty() {
                next = self.round(&front, Joints::Free);
            }
            if next.is_empty() {
                let x = front.iter().map(|&i| self.states[i].at.x).fold(self.start, f64::max);
                return Err(TubeFault::Narrow { x });
            }
            let first = self.states.len();
            self.states.extend(select(next));
            front = (first..self.states.len()).collect();
            if let Some(&last) = front
                .iter()
                .filter(|&&i| self.states[i].at.x == self.end)
                .min_by(|&&a, &&b| self.states[a].bent.total_cmp(&self.states[b].bent))
            {
                return Ok(self.way_to(last));
            }
        }
    }

    fn way_to(&self, last: usize) -> Vec<Piece> {
        let mut way = Vec::new();
        let mut i = last;
        while let Some(piece) = self.states[i].piece {
            way.push(piece);
            i = self.states[i].parent;
        }
        way.reverse();
        way
    }

    fn round(&mut self, front: &[usize], joints: Joints) -> Vec<State> {
        let mut next = Vec::new();
        for &i in front {
            self.expand(i, joints, &mut next);
        }
        next
    }

    /// All states that one piece from a state reaches and that are worth going on from.
    fn expand(&mut self, from: usize, joints: Joints, next: &mut Vec<State>) {
        let state = self.states[from];
        let turn = match joints {
            Joints::Smooth => {
                smooth::allowed(&self.band, state.at.x, self.tube.tolerance, self.tube.tangent_jump)
            }
            Joints::Free => std::f64::consts::PI,
        };
        let reach = self.sweep(&state, turn);
        let dx = self.tube.grid.dx;
        let columns = ((reach - state.at.x) / dx).round();
        if columns < 1.0 {
            return;
        }
        let before = next.len();
        let mut tried = |me: &mut Self, n: f64| {
            let x = if n == columns { reach } else { me.tube.grid.nearest_x(state.at.x + n * dx) };
            me.end_in_column(from, &state, x, turn, next)
        };
        // Back from the furthest column in growing strides until one holds, then forward by halves.
        let mut stride = (columns / 64.0).floor().max(1.0);
        let (mut good, mut bad) = (columns, columns + 1.0);
        while !tried(self, good) {
            bad = good;
            if good == 1.0 {
                return;
            }
            good = (good - stride).max(1.0);
            stride *= 2.0;
        }
        let fine = (columns / 256.0).floor().max(1.0);
        while bad - good > fine {
            let middle = f64::midpoint(good, bad).floor();
            if tried(self, middle) { good = middle } else { bad = middle }
        }
        for share in [1.0 / 16.0, 1.0 / 6.0] {
            let n = (good * (1.0 - share)).floor();
            if n >= 1.0 && n < good {
                tried(self, n);
            }
        }
        debug_assert!(next.len() >= before);
    }

    /// Clips the fan of a state until it is empty, keeping the polygons; the last column that may be reached.
    fn sweep(&mut self, state: &State, turn: f64) -> f64 {
        let slopes = state.heading.map_or((-STEEPEST, STEEPEST), |h| {
            let steepest = STEEPEST.atan();
            ((h - turn).max(-steepest).tan(), (h + turn).min(steepest).tan())
        });
        let bends = match self.tube.arcs {
            ArcRule::None => (0.0, 0.0),
            ArcRule::Allowed(limits) => {
                let most = (1.0 + slopes.0.powi(2).max(slopes.1.powi(2))).sqrt() / limits.min_radius;
                (-most, most)
            }
        };
        self.fan.open(slopes, bends);
        self.history.clear();
        self.marks.clear();
        self.history.extend_from_slice(self.fan.corners());
        let mut mark = (0, self.history.len());
        self.marks.push(mark);
        let first = self.first_pin(state.at.x);
        for pin in self.band.pins.get(first..).unwrap_or_default() {
            if pin.at.x >= self.end {
                break;
            }
            if self.fan.clip(pin.at.shifted(-state.at.x, -state.at.z), pin.side) {
                if self.fan.corners().is_empty() {
                    return self.tube.grid.column_to(pin.at.x);
                }
                mark = (self.history.len(), self.fan.corners().len());
                self.history.extend_from_slice(self.fan.corners());
            }
            self.marks.push(mark);
        }
        self.end
    }

    /// The first pin beyond x.
    fn first_pin(&self, x: f64) -> usize {
        self.band.pins.partition_point(|p| p.at.x <= x)
    }

    /// Tries ends in a column; true if a piece could be laid to one.
    fn end_in_column(
        &mut self,
        parent: usize,
        state: &State,
        x: f64,
        turn: f64,
        next: &mut Vec<State>,
    ) -> bool {
        let passed =
            self.band.pins.partition_point(|p| p.at.x < x).saturating_sub(self.first_pin(state.at.x));
        let Some(&(start, len)) = self.marks.get(passed.min(self.marks.len() - 1)) else { return false };
        let corners = &self.history[start..start + len];
        let mut ends: Vec<(f64, (f64, f64))> = self
            .heights(x)
            .into_iter()
            .filter_map(|z| Some((z, ending_in(corners, Point::new(x - state.at.x, z - state.at.z))?)))
            .collect();
        ends.sort_by(|a, b| (b.1.1 - b.1.0).total_cmp(&(a.1.1 - a.1.0)));
        let mut found = 0;
        for (z, range) in ends {
            let to = Point::new(x, z);
            let Some(laid) = self.lay(state, to, range, turn) else { continue };
            let bend = state.heading.map_or(0.0, |h| laid.leaves - h);
            next.push(State {
                at: to,
                heading: Some(laid.arrives),
                piece: Some(laid.piece),
                parent,
                bent: state.bent + bend * bend,
            });
            found += 1;
            if found == PER_COLUMN {
                break;
            }
        }
        found > 0
    }

    /// A piece from a state to a place, a line where one holds.
    fn lay(&self, state: &State, to: Point, range: (f64, f64), turn: f64) -> Option<Laid> {
        let smooth = |laid: &Laid| state.heading.is_none_or(|h| (laid.leaves - h).abs() <= turn);
        if range.0 <= 0.0
            && range.1 >= 0.0
            && let Some(line) = lay_line(&self.band, state.at, to).filter(smooth)
        {
            return Some(line);
        }
        let middle = f64::midpoint(range.0, range.1);
        let wish = state.heading.map_or(middle, |h| {
            let inner = 0.4 * (range.1 - range.0);
            bend_to(to.shifted(-state.at.x, -state.at.z), h.tan()).clamp(middle - inner, middle + inner)
        });
        lay_arc(&self.band, &self.tube.arcs, (state.at, to), range, wish).filter(smooth)
    }

    /// Heights of the grid inside the band in a column, all of them or an even choice.
    fn heights(&self, x: f64) -> Vec<f64> {
        let grid = &self.tube.grid;
        let low = grid.z_not_below(self.band.floor_at(x));
        let count = ((self.band.roof_at(x) - low) / grid.dz + super::NOISE / grid.dz).floor() + 1.0;
        if count < 1.0 {
            return Vec::new();
        }
        let stride = (count / HEIGHTS as f64).max(1.0);
        (0..HEIGHTS)
            .map(|i| (i as f64 * stride).floor())
            .filter(|&i| i < count)
            .map(|i| grid.nearest_z(low + i * grid.dz))
            .collect()
    }
}

/// The states that go on: the furthest, not too many in one column.
fn select(mut all: Vec<State>) -> Vec<State> {
    all.sort_by(|a, b| {
        b.at.x.total_cmp(&a.at.x).then(a.at.z.total_cmp(&b.at.z)).then(a.bent.total_cmp(&b.bent))
    });
    all.dedup_by(|b, a| a.at == b.at);
    let mut kept: Vec<State> = Vec::with_capacity(BREADTH);
    for s in all {
        if kept.len() == BREADTH {
            break;
        }
        if kept.iter().filter(|k| k.at.x == s.at.x).count() < PER_COLUMN {
            kept.push(s);
        }
    }
    kept
}

impl super::Grid {
    /// The first radius of the grid that is not before x.
    fn column_from(&self, x: f64) -> f64 {
        self.nearest_x(x + self.dx * (0.5 - ON_COLUMN))
    }

    /// The last radius of the grid that is not beyond x.
    fn column_to(&self, x: f64) -> f64 {
        self.nearest_x(x - self.dx * (0.5 - ON_COLUMN))
    }
}

/// Share of a step by which a radius may miss a column and still count as on it: room for rounding, no more.
const ON_COLUMN: f64 = 1e-6;
