//! The fit given account of: everything that the readings add up to, in the model's own terms.

use super::damage::{Residual, Run};
use super::estimate::{Fit, Standing, overlap};
use super::model::{
    Decision, Dent, Eccentricity, Sector, SensorTerms, Shape, Term, Tilt, Turn, Unwitnessed, WheelModel,
    WhyUnwitnessed, Witness,
};
use super::revolution::Revolution;
use crate::numeric::cholesky::Symmetric;
use crate::numeric::grid::Grid;
use crate::scan::line::Stretch;

/// Width over which the floor of a dent is averaged, millimetres: of furrows 1.3 mm apart it keeps 91 % of their height, and
/// a usual scan has four readings in it.
const FURROW: f64 = 0.3;

impl Fit<'_> {
    /// The whole account.
    pub(super) fn account(self) -> WheelModel {
        let shifts = self.shifts();
        let mut dents = Vec::new();
        for (k, &shift) in shifts.iter().enumerate() {
            let all = self.residuals(k, shift);
            let noise = self.lines[k].noise.max(1e-4);
            let kept: Vec<Residual> =
                all.iter().copied().filter(|r| self.standing[k][r.index] != Standing::Aside).collect();
            for run in &self.runs[k] {
                dents.push(self.dent(k, run, &kept, noise));
            }
        }
        let face_error = self.face_error();
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
            no_metal: self.lines.iter().map(|l| l.no_metal.clone()).collect(),
            unwitnessed: self.unwitnessed(),
            contested: self.contested.iter().map(|c| c.account).collect(),
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

    fn dent(&self, line: usize, run: &Run, kept: &[Residual], noise: f64) -> Dent {
        let inside = kept.get(run.first..=run.last).unwrap_or(&[]);
        // A scrape is furrowed: its floor is told over a width that keeps a furrow's tip.
        let width = (run.stretch.to - run.stretch.from).max(FURROW);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held to a few readings")]
        let window = (inside.len() as f64 * FURROW / width).clamp(3.0, 16.0) as usize;
        let window = window.min(inside.len().max(1));
        let mut profile = vec![(run.stretch.from, 0.0)];
        for part in inside.windows(window).step_by((window / 2).max(1)) {
            let weight: f64 = part.iter().map(|r| r.weight).sum();
            let x = part.iter().map(|r| r.weight * r.x).sum::<f64>() / weight;
            let depth = -part.iter().map(|r| r.weight * r.left).sum::<f64>() / weight;
            if profile.last().is_some_and(|p| x > p.0) && x < run.stretch.to {
                profile.push((x, depth.max(0.0)));
            }
        }
        profile.push((run.stretch.to, 0.0));
        let depth = profile.iter().map(|p| p.1).fold(run.depth, f64::max);
        let middle = f64::midpoint(run.stretch.from, run.stretch.to);
        let face = self.grid.interpolate(&self.curve.error, middle);
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
        let uncertain = contested.map_or(0.0, |c| c.account.uncertainty);
        Dent {
            line: Some(line),
            sector: Some(Sector { at: self.layout.angles[line], width: 0.0 }),
            stretch: run.stretch,
            depth,
            error: (noise / (window as f64).sqrt()).hypot(face).hypot(uncertain),
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
            let [drift, hysteresis] = self.values.sensor[k];
            let fitted = self.terms.sensor.contains(&k);
            SensorTerms { drift: fitted.then_some(drift), hysteresis: fitted.then_some(hysteresis) }
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
        let why = |i: usize| match (metal[i], sound[i]) {
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
