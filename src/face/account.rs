//! The fit given account of: everything that the readings add up to, in the model's own terms.

use super::damage::{Residual, Run};
use super::estimate::{Fit, Standing, overlap};
use super::model::{
    Decision, Dent, Eccentricity, Sector, SensorTerms, Shape, Term, Tilt, Turn, Unwitnessed, WheelModel,
    WhyUnwitnessed, Witness,
};
use super::narrow;
use super::revolution::Revolution;
use crate::numeric::adaptive;
use crate::numeric::cholesky::Symmetric;
use crate::numeric::grid::Grid;
use crate::scan::line::Stretch;

/// So far beyond its feet the readings of a dent's line are looked at, millimetres: the curve through its floor is held by the
/// face on both sides.
const BESIDE: f64 = 3.0;
/// Rounds in which wild readings in a dent lose their weight.
const ROUNDS: usize = 1;

impl Fit<'_> {
    /// The whole account.
    pub(super) fn account(self) -> WheelModel {
        let shifts = self.shifts();
        let face_error = self.face_error();
        let mut dents = Vec::new();
        for (k, &shift) in shifts.iter().enumerate() {
            let all = self.residuals(k, shift);
            let noise = self.lines[k].noise.max(1e-4);
            let kept: Vec<Residual> =
                all.iter().copied().filter(|r| self.standing[k][r.index] != Standing::Aside).collect();
            for run in &self.runs[k] {
                dents.push(self.dent(k, run, &kept, noise, &face_error));
            }
        }
        let turn = self.turn();
        let eccentricity = self.eccentricity();
        let tilt = tilt(&turn, &self.terms.shapes, self.given.zones, &self.grid, self.layout.outermost);
        let mut model = WheelModel {
            grid: self.grid,
            angles: self.layout.angles.clone(),
            noise: self.lines.iter().map(|l| l.noise).collect(),
            eccentricity,
            tilt,
            terms: self
                .terms
                .shapes
                .iter()
                .zip(&self.values.amplitudes)
                .map(|(s, a)| Term { shape: *s, amplitudes: a.clone() })
                .collect(),
            outermost: self.layout.outermost,
            turn,
            damage: dents,
            sensor: self.sensor(),
            withheld: self.withheld.clone(),
            no_metal: self.lines.iter().map(|l| l.no_metal.clone()).collect(),
            unwitnessed: self.unwitnessed(),
            contested: self.contested.iter().map(|c| c.account).collect(),
            left_over: self.left_over(),
            face: self.curve.value,
            face_error,
            half_width: self.curve.half_width,
            set_aside: self.set_aside,
            unexplained: self.unexplained,
        };
        model.add_listed(self.given.listed);
        model
    }

    /// The face's standard error, with what its contested stretches leave open.
    fn face_error(&self) -> Vec<f64> {
        let mut error = self.curve.error.clone();
        for contested in self.contested.iter().map(|c| &c.account) {
            let (from, to) =
                (self.grid.nearest(contested.stretch.from), self.grid.nearest(contested.stretch.to));
            for e in error.iter_mut().take(to + 1).skip(from) {
                *e = e.hypot(contested.uncertainty);
            }
        }
        error
    }

    /// A dent: its floor is the curve through its own line's readings, as smooth as they allow, so that a furrowed floor keeps
    /// its furrows and a plain one is averaged over its width.
    fn dent(&self, line: usize, run: &Run, kept: &[Residual], noise: f64, face_error: &[f64]) -> Dent {
        let Stretch { from, to } = run.stretch;
        let grid = Grid::covering(from - BESIDE, to + BESIDE, self.grid.step);
        let first = kept.partition_point(|r| r.x < grid.start);
        let near: Vec<(f64, f64, f64)> = kept
            .iter()
            .skip(first)
            .take_while(|r| r.x <= grid.end())
            .map(|r| (r.x, -r.left, r.weight))
            .collect();
        let floor = adaptive::curve(&narrow::weighed(&near, grid, noise, ROUNDS, &|_| ()), noise);
        let places = (0..grid.len)
            .filter(|&i| (from..to).contains(&grid.at(i)) && grid.at(i) > from)
            .filter(|&i| floor.value[i].is_finite());
        let deepest = places.clone().max_by(|&a, &b| floor.value[a].total_cmp(&floor.value[b]));
        let mut profile = vec![(from, 0.0)];
        profile.extend(places.map(|i| (grid.at(i), floor.value[i].max(0.0))));
        profile.push((to, 0.0));
        let depth = deepest.map_or(run.depth, |i| floor.value[i]);
        let at = deepest.map_or(f64::midpoint(from, to), |i| grid.at(i));
        let own = deepest.map_or(noise, |i| floor.error[i]);
        let face = self.grid.interpolate(face_error, at);
        let contested = self.contested.iter().find(|c| overlap(c.account.stretch, run.stretch));
        let witness = match contested.map(|c| (c.account.decided, c.damaged.len())) {
            Some((Decision::DamageAllRound, _)) => Witness::DamageAllRound,
            Some((Decision::Bridged, _)) => Witness::Continuation,
            Some((_, damaged)) if damaged + 1 >= self.lines.len() && self.lines.len() > 1 => {
                Witness::OneLineAndContinuation
            }
            _ if self.lines.len() == 1 => Witness::OneLine,
            _ => Witness::TwoLines,
        };
        Dent {
            line: Some(line),
            sector: Some(Sector { at: self.layout.angles[line], width: 0.0 }),
            stretch: run.stretch,
            depth,
            error: own.hypot(face),
            profile,
            witness,
        }
    }

    fn turn(&self) -> Turn {
        let per = self.layout.per_shape();
        let unknowns = self.terms.shapes.len() * per;
        let covariance = self.precision.inverse().unwrap_or_default();
        let mut of_shapes = Symmetric::zeros(unknowns);
        for i in 0..unknowns {
            for j in 0..=i {
                of_shapes.set(i, j, covariance.get(i, j));
            }
        }
        let contrasts: Vec<f64> = self
            .values
            .amplitudes
            .iter()
            .flat_map(|a| {
                (0..per).map(move |c| self.layout.contrasts().iter().zip(a).map(|(row, a)| row[c] * a).sum())
            })
            .collect();
        let [c, s] = self.values.eccentricity;
        let eccentric = |r: f64, angle: f64| {
            let shift = c * angle.cos() + s * angle.sin();
            self.grid.interpolate(&self.curve.value, r - shift) - self.grid.interpolate(&self.curve.value, r)
        };
        let compared: Vec<f64> = self
            .given
            .zones
            .iter()
            .flat_map(|z| [z.from, f64::midpoint(z.from, z.to), z.to])
            .map(|r| r.clamp(self.grid.start, self.grid.end()))
            .collect();
        Revolution {
            layout: &self.layout,
            shapes: &self.terms.shapes,
            contrasts: &contrasts,
            covariance: &of_shapes,
            rings: self.given.rings,
            eccentric: &eccentric,
            compared: &compared,
        }
        .solve()
    }

    fn eccentricity(&self) -> Option<Eccentricity> {
        self.terms.eccentric.then(|| {
            let [c, s] = self.values.eccentricity;
            let at = self.terms.shapes.len() * self.layout.per_shape();
            let covariance = self.precision.inverse().unwrap_or_default();
            let error = covariance.get(at, at).max(covariance.get(at + 1, at + 1)).sqrt();
            Eccentricity { distance: c.hypot(s), toward: s.atan2(c).rem_euclid(std::f64::consts::TAU), error }
        })
    }

    fn sensor(&self) -> Vec<SensorTerms> {
        let of = |k: usize| {
            let [drift, hysteresis, zero] = self.values.sensor[k];
            let fitted = self.terms.sensor.contains(&k);
            SensorTerms {
                drift: fitted.then_some(drift),
                hysteresis: fitted.then_some(hysteresis),
                zero: self.terms.zeros.contains(&k).then_some(zero),
            }
        };
        (0..self.lines.len()).map(of).collect()
    }

    /// Where in the zones the sound face rests on fewer than two lines.
    fn unwitnessed(&self) -> Vec<Unwitnessed> {
        let step = 0.5;
        let coarse = Grid::covering(self.grid.start, self.grid.end(), step);
        let mut metal = vec![0_usize; coarse.len];
        let mut sound = vec![0_usize; coarse.len];
        for (k, line) in self.lines.iter().enumerate() {
            let mut here = vec![(0_usize, 0_usize); coarse.len];
            for (r, s) in line.readings.iter().zip(&self.standing[k]) {
                if *s != Standing::Aside && r.x.is_finite() {
                    let cell = &mut here[coarse.nearest(r.x)];
                    cell.0 += 1;
                    cell.1 += usize::from(*s == Standing::Sound);
                }
            }
            for (i, (all, good)) in here.into_iter().enumerate() {
                metal[i] += usize::from(all > 0);
                sound[i] += usize::from(2 * good > all);
            }
        }
        // That there is nothing to see was said.
        let said = |r: f64| self.given.no_metal.iter().any(|s| s.from - step <= r && r <= s.to + step);
        let why = |i: usize| match (metal[i], sound[i]) {
            (0, _) if said(coarse.at(i)) => None,
            (0, _) => Some(WhyUnwitnessed::NoLine),
            (1, _) => Some(WhyUnwitnessed::OneLine),
            (_, 0) => Some(WhyUnwitnessed::AllDamaged),
            _ => None,
        };
        let mut out: Vec<Unwitnessed> = Vec::new();
        for i in 0..coarse.len {
            let r = coarse.at(i);
            if !self.given.zones.iter().any(|z| (z.from..=z.to).contains(&r)) {
                continue;
            }
            let Some(why) = why(i) else { continue };
            let stretch = Stretch { from: r - step / 2.0, to: r + step / 2.0 };
            match out.last_mut() {
                Some(last) if last.why == why && stretch.from <= last.stretch.to + 1e-9 => {
                    last.stretch.to = stretch.to;
                }
                _ => out.push(Unwitnessed { stretch, why }),
            }
        }
        out
    }
}

/// The tilt that takes most off the departures over the zones: least squares of their first harmonic on the radius. A bend
/// that begins somewhere has a first harmonic too, and an indicator takes what of it grows with the radius for tilt.
fn tilt(turn: &Turn, shapes: &[Shape], zones: &[Stretch], grid: &Grid, outermost: f64) -> Tilt {
    let (mut squares, mut sums) = (0.0, [0.0; 2]);
    for i in 0..grid.len {
        let r = grid.at(i);
        if !zones.is_empty() && !zones.iter().any(|z| z.holds(r)) {
            continue;
        }
        let mut first = [0.0; 2];
        for (row, shape) in turn.coefficients.iter().zip(shapes) {
            let height = shape.at(r, outermost);
            if let Some(&[_, c, s, ..]) = Some(row.as_slice()) {
                first = [first[0] + c * height, first[1] + s * height];
            }
        }
        squares += r * r;
        sums = [sums[0] + r * first[0], sums[1] + r * first[1]];
    }
    if squares <= 0.0 {
        return Tilt::default();
    }
    let [c, s] = sums.map(|sum| sum / squares);
    Tilt { slope: c.hypot(s), high_side: s.atan2(c).rem_euclid(std::f64::consts::TAU) }
}
