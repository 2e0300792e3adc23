//! The whole turn from a few lines: how far the face stands above and below its own middle at every radius.
//!
//! At each knot of radius the lines' slow departures (tilt taken off) are fitted with as many
//! harmonics of the angle as the lines can tell apart; tilt and harmonics together are then looked
//! at all round. The highest place so found may lie between the lines. Where lines are to spare,
//! what the harmonics leave of them gives the uncertainty, and no place is taken for lower than the
//! highest line or higher than the lowest.
//!
//! Run-out at a radius is the largest less the smallest height over one turn: circular axial
//! run-out, ISO 1101. Bend is what run-out stays when the tilt of the mounting is taken off.
//!
//! Limits: with three lines the harmonic uses them up, so nothing checks it between them; a wave of
//! as many lobes as there are lines is the same on all of them and cannot be seen at all.

use super::harmonic::{Direction, Harmonics, Tilt, all_round};

/// A bend has one or two lobes; waves finer than that are told from the lines alone.
const HIGHEST_ORDER: usize = 2;
/// Coverage of the uncertainty: two standard deviations, some 95 % (as the GUM's k = 2, JCGM 100).
const COVERAGE: f64 = 2.0;

/// The turn at one radius, millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ring {
    /// Radius.
    pub r: f64,
    /// How far the highest place of the turn stands above the middle.
    pub up: f64,
    /// How far the lowest place stands below the middle, zero or less.
    pub down: f64,
    /// Run-out as mounted: highest less lowest.
    pub run_out: f64,
    /// Run-out with the tilt of the mounting taken off.
    pub bend: f64,
    /// Angle of the highest place, radians.
    pub high_at: f64,
    /// Uncertainty of the highest and the lowest place (two standard deviations).
    pub uncertainty: f64,
}

/// The whole turn at every knot.
#[derive(Debug, Clone, PartialEq)]
pub struct Turn {
    /// Rings from the innermost radius to the outermost.
    pub rings: Vec<Ring>,
    /// Lines to spare beyond what the harmonics use up.
    pub spare: usize,
    /// What the harmonics leave of the lines, as a standard deviation; zero where no line is to spare.
    pub misfit: f64,
}

impl Turn {
    /// A quantity of the rings at a radius, straight between them.
    #[must_use]
    pub fn at(&self, r: f64, of: impl Fn(&Ring) -> f64) -> f64 {
        let i = self.rings.partition_point(|ring| ring.r <= r);
        match (i.checked_sub(1).and_then(|i| self.rings.get(i)), self.rings.get(i)) {
            (Some(a), Some(b)) => of(a) + (of(b) - of(a)) * ((r - a.r) / (b.r - a.r)),
            (Some(end), None) | (None, Some(end)) => of(end),
            (None, None) => 0.0,
        }
    }

    /// Where between two radii a quantity is largest, and how large.
    #[must_use]
    pub fn largest(&self, from: f64, to: f64, of: impl Fn(&Ring) -> f64) -> (f64, f64) {
        let inside = self.rings.iter().filter(|ring| ring.r > from && ring.r < to).map(|ring| ring.r);
        inside.chain([from, to]).map(|r| (r, self.at(r, &of))).fold(
            (from, f64::NEG_INFINITY),
            |best, here| {
                if here.1 > best.1 { here } else { best }
            },
        )
    }
}

/// Slow departures of the lines at one knot split into a constant, which belongs to the face, and what turns.
#[derive(Debug, Clone, PartialEq)]
pub struct Split {
    /// The constant.
    pub constant: f64,
    fit: Option<Harmonics>,
    /// Angle and departure from the constant of each line that has one.
    lines: Vec<(f64, f64)>,
}

impl Split {
    /// Splits the departures of lines at the angles, not a number where a line has none; `distinct` lines stand at different angles.
    #[must_use]
    pub fn new(angles: &[f64], departures: impl Iterator<Item = f64>, distinct: usize) -> Self {
        let (angles, values): (Vec<f64>, Vec<f64>) =
            angles.iter().copied().zip(departures).filter(|(_, d)| d.is_finite()).unzip();
        let order = Harmonics::order_for(distinct.min(angles.len()), HIGHEST_ORDER);
        // Lines that are missing here may leave too few angles for the order; then the next lower one must do.
        let fit = (0..=order).rev().find_map(|order| Harmonics::fit(&angles, &values, order));
        let constant = fit.as_ref().and_then(|f| f.terms.first().copied()).unwrap_or(0.0);
        let lines = angles.into_iter().zip(values.into_iter().map(|v| v - constant)).collect();
        Self { constant, fit, lines }
    }

    fn turning(&self, direction: &Direction) -> f64 {
        self.fit.as_ref().map_or(0.0, |f| f.toward(direction) - self.constant)
    }

    /// The part of the departure with two lobes or more at an angle: no tilt of the mounting makes one.
    #[must_use]
    pub fn lobed(&self, angle: f64) -> f64 {
        self.fit.as_ref().map_or(0.0, |f| f.at_from(angle, 2))
    }

    fn ring(&self, r: f64, tilt: Tilt, misfit: f64, directions: &[Direction]) -> Ring {
        let lines = self.lines.iter().map(|&(angle, bend)| (angle, tilt.at(r, angle), bend));
        let model = directions.iter().map(|d| (d.angle, tilt.toward(r, d.turn), self.turning(d)));
        let mut ring = Ring {
            r,
            up: f64::NEG_INFINITY,
            down: f64::INFINITY,
            run_out: 0.0,
            bend: 0.0,
            high_at: 0.0,
            uncertainty: COVERAGE * misfit * self.fit.as_ref().map_or(1.0, |f| f.spread(directions)),
        };
        let (mut high, mut low) = (f64::NEG_INFINITY, f64::INFINITY);
        for (angle, tilted, bend) in model.chain(lines) {
            let z = tilted + bend;
            if z > ring.up {
                (ring.up, ring.high_at) = (z, angle);
            }
            ring.down = ring.down.min(z);
            (high, low) = (high.max(bend), low.min(bend));
        }
        ring.run_out = ring.up - ring.down;
        ring.bend = high - low;
        ring
    }
}

/// The turn from the splits at the knots and the tilt. `repeat` is the standard deviation of one line's slow departure by noise alone.
#[must_use]
pub fn turn(knots: &[f64], splits: &[Split], tilt: Tilt, repeat: f64) -> Turn {
    let fits = || splits.iter().filter_map(|s| s.fit.as_ref());
    let spare_in_all: usize = fits().map(|f| f.spare).sum();
    let left: f64 = fits().map(|f| f.left).sum();
    let misfit = if spare_in_all > 0 { (left / spare_in_all as f64).sqrt() } else { 0.0 };
    let directions = all_round(HIGHEST_ORDER);
    let ring = |(&r, split): (_, &Split)| split.ring(r, tilt, misfit.hypot(repeat), &directions);
    let rings = knots.iter().zip(splits).map(ring).collect();
    Turn { rings, spare: fits().map(|f| f.spare).max().unwrap_or(0), misfit }
}
