//! The sound face laid across a stretch in which every line is damaged alike.
//!
//! A cubic through the sound readings on both sides carries the face over. It is laid where a person asks for it
//! (`mend`), and where the job lists damage that no line shows against the others while all of them dip together.
//!
//! Limits: 30 mm at most; where the margins lie on a corner of the face the cubic does not fit them, and nothing is
//! laid.

use super::estimate::{Fit, Settled, Standing, overlap};
use super::model::{Contested, Decision};
use crate::numeric::cholesky::{Symmetric, dot};
use crate::scan::line::Stretch;

/// The longest stretch that is bridged, millimetres: beyond it the wheel's shape is a guess.
const LONGEST: f64 = 30.0;
/// Margins are as long as the stretch on either side, but within these, millimetres.
const MARGIN: [f64; 2] = [3.0, 10.0];
/// Margins that leave more than this many times the noise are no cubic.
const MARGIN_FITS: f64 = 2.0;
/// Listed damage is bridged where all lines dip by this share of its listed depth at least.
const DIP: f64 = 0.3;
/// What a cubic leaves of a plain face over such a stretch, millimetres.
const SHAPE: f64 = 0.004;
/// A mean of a quarter of the margins off the cubic by so many standard errors is no noise.
const WHITE: f64 = 4.0;
/// Margins that hold a feature further off are cut short to these shares.
const SHORTER: [[f64; 2]; 4] = [[1.0, 1.0], [1.0, 0.5], [0.5, 1.0], [0.5, 0.5]];
/// Places at which the bridge carries the face, millimetres apart.
const PLACES: f64 = 0.1;

/// A cubic over a stretch.
pub(super) struct Bridge {
    /// The stretch that it is carried over.
    pub(super) stretch: Stretch,
    middle: f64,
    half: f64,
    terms: Vec<f64>,
    covariance: Symmetric,
    /// What the face may be off it by its own shape.
    shape: f64,
}

impl Bridge {
    fn basis(&self, x: f64) -> [f64; 4] {
        let t = (x - self.middle) / self.half;
        [1.0, t, t * t, t * t * t]
    }

    pub(super) fn at(&self, x: f64) -> f64 {
        dot(&self.terms, &self.basis(x))
    }

    /// The greatest error within a stretch, as far as it has one.
    pub(super) fn error_in(&self, stretch: Stretch) -> f64 {
        let at = |share: f64| self.error(stretch.from + share * stretch.length());
        [0.25, 0.5, 0.75].map(at).into_iter().fold(0.0, f64::max)
    }

    fn error(&self, x: f64) -> f64 {
        self.noise_error(x).hypot(self.shape)
    }

    /// What noise in the margins makes of it.
    fn noise_error(&self, x: f64) -> f64 {
        self.covariance.quadratic(&self.basis(x)).max(0.0).sqrt()
    }
}

impl Fit<'_> {
    /// Stretches that are bridged: those to be mended, and listed damage in which all lines dip together.
    pub(super) fn bridged(&self) -> Vec<Settled> {
        let mend = self.given.mend.iter().filter_map(|s| self.bridge(*s).map(|b| self.laid(*s, &b)));
        let listed = self.given.listed.iter().filter_map(|l| {
            let known = self.contested.iter().any(|c| overlap(c.account.stretch, l.stretch))
                || self.given.mend.iter().chain(self.given.leave).any(|m| overlap(*m, l.stretch));
            let bridge = self.bridge(l.stretch).filter(|_| !known)?;
            let dip = self.dip(l.stretch, &bridge);
            let middle = f64::midpoint(l.stretch.from, l.stretch.to);
            (dip > DIP * l.depth && dip > 4.0 * bridge.error(middle)).then(|| self.laid(l.stretch, &bridge))
        });
        mend.chain(listed).collect()
    }

    pub(super) fn laid(&self, stretch: Stretch, bridge: &Bridge) -> Settled {
        let middle = f64::midpoint(stretch.from, stretch.to);
        let uncertainty = bridge.error(middle);
        let mut replaced = Vec::new();
        let mut x = stretch.from;
        while x <= stretch.to {
            replaced.push((x, bridge.at(x), 1.0));
            x += PLACES;
        }
        let decided = Decision::Bridged;
        Settled {
            account: Contested { stretch, decided, least_depth: None, uncertainty },
            damaged: (0..self.lines.len()).collect(),
            raised: Vec::new(),
            replaced,
            contradicted: false,
        }
    }

    /// Where the job lists damage and what the differences between lines tell cannot be, the face is carried over the whole
    /// listed stretch, if what then is missing is what the job lists.
    pub(super) fn lay_over_contradicted(&mut self) {
        for l in self.given.listed {
            let here = |c: &Settled| overlap(c.account.stretch, l.stretch);
            if !self.contested.iter().any(|c| c.contradicted && here(c)) {
                continue;
            }
            let Some(bridge) = self.bridge(l.stretch) else { continue };
            let missing = self.dip(l.stretch, &bridge);
            if missing > DIP * l.depth && missing < l.depth + 3.0 * self.noise {
                let laid = self.laid(l.stretch, &bridge);
                self.contested.retain(|c| !here(c));
                self.contested.push(laid);
            }
        }
    }

    /// The readings of all lines in a stretch, free of tilt, bend and sensor: radius and height.
    fn levelled(&self, stretch: Stretch) -> impl Iterator<Item = (f64, f64)> + '_ {
        let shifts = self.shifts();
        (0..self.lines.len()).flat_map(move |k| {
            let shift = shifts[k];
            let of = &self.lines[k].readings;
            let order = &self.order[k];
            let first = order.partition_point(|&i| of[i].x - shift < stretch.from);
            order
                .iter()
                .skip(first)
                .take_while(move |&&i| of[i].x - shift <= stretch.to)
                .filter(move |&&i| self.standing[k][i] != Standing::Aside)
                .map(move |&i| {
                    let r = &of[i];
                    (r.x - shift, r.z - self.added(k, r.x, r.time, r.sweep))
                })
        })
    }

    /// The cubic through the margins of a stretch, if they carry one: the longest margins that do.
    pub(super) fn bridge(&self, stretch: Stretch) -> Option<Bridge> {
        let length = stretch.to - stretch.from;
        if !(length > 0.0 && length <= LONGEST) {
            return None;
        }
        let margin = length.clamp(MARGIN[0], MARGIN[1]);
        let carried = |shares: [f64; 2]| self.cubic(stretch, shares.map(|s| (s * margin).max(MARGIN[0])));
        let (at, mut bridge) =
            SHORTER.into_iter().enumerate().find_map(|(i, shares)| carried(shares).map(|b| (i, b)))?;
        // A face that bends on beyond its margins shows in shorter ones (as Lepski compares widths).
        if let Some(shorter) = SHORTER.last().filter(|_| at + 1 < SHORTER.len()).and_then(|s| carried(*s)) {
            bridge.shape = [0.25, 0.5, 0.75]
                .into_iter()
                .map(|share| stretch.from + share * length)
                .map(|x| (bridge.at(x) - shorter.at(x)).abs() - 2.0 * shorter.noise_error(x))
                .fold(SHAPE, f64::max);
        }
        Some(bridge)
    }

    /// The cubic through margins of these lengths, if it fits them.
    fn cubic(&self, stretch: Stretch, [before, after]: [f64; 2]) -> Option<Bridge> {
        let sides = [
            Stretch { from: stretch.from - before, to: stretch.from },
            Stretch { from: stretch.to, to: stretch.to + after },
        ];
        let mut bridge = Bridge {
            stretch,
            middle: f64::midpoint(stretch.from, stretch.to),
            half: stretch.length() / 2.0 + before.max(after),
            terms: vec![0.0; 4],
            covariance: Symmetric::zeros(4),
            shape: SHAPE,
        };
        let mut normal = Symmetric::zeros(4);
        let mut right = vec![0.0; 4];
        for side in sides {
            let mut count = 0;
            for (x, z) in self.levelled(side) {
                let row = bridge.basis(x);
                normal.add_outer(1.0, &row);
                right.iter_mut().zip(row).for_each(|(r, b)| *r += b * z);
                count += 1;
            }
            if count < 6 {
                return None;
            }
        }
        normal.mirror();
        bridge.terms = normal.factor()?.solve(right);
        let (mut squares, mut count) = (0.0, 0.0);
        let mut quarters = [[(0.0, 0.0_f64); 4]; 2];
        for (side, quarters) in sides.into_iter().zip(&mut quarters) {
            for (x, z) in self.levelled(side) {
                let left = z - bridge.at(x);
                squares += left * left;
                count += 1.0;
                #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a quarter")]
                let which = (4.0 * (x - side.from) / side.length()).clamp(0.0, 3.0) as usize;
                if let Some(quarter) = quarters.get_mut(which) {
                    *quarter = (quarter.0 + left, quarter.1 + 1.0);
                }
            }
        }
        let square: f64 = squares / count;
        let white = |(sum, n): &(f64, f64)| sum.abs() <= WHITE * (n * square).sqrt() + SHAPE * n;
        if square.sqrt() > MARGIN_FITS * self.noise || !quarters.iter().flatten().all(white) {
            return None;
        }
        let inverse = normal.inverse()?;
        for i in 0..4 {
            for j in 0..=i {
                bridge.covariance.set(i, j, inverse.get(i, j) * square);
            }
        }
        Some(bridge)
    }

    /// How far the readings lie below a bridge in the middle half of a stretch.
    fn dip(&self, stretch: Stretch, bridge: &Bridge) -> f64 {
        let quarter = (stretch.to - stretch.from) / 4.0;
        let inner = Stretch { from: stretch.from + quarter, to: stretch.to - quarter };
        let (sum, count) =
            self.levelled(inner).fold((0.0, 0.0), |(sum, n), (x, z)| (sum + bridge.at(x) - z, n + 1.0));
        if count > 0.0 { sum / count } else { 0.0 }
    }
}
