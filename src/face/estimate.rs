//! The model of the wheel fitted: rounds of terms, face and damage in turn.
//!
//! 1. *Start*: the median over the lines in narrow bins.
//! 2. *Terms* of the turn and the sensor, from differences between the lines alone ([`super::global`]).
//! 3. *Contested stretches*, where lines disagree: which are sound ([`super::contested`]).
//! 4. *Face*: a curve through all sound readings, as smooth as they allow ([`crate::numeric::adaptive`]).
//! 5. *Readings judged anew*: suspects that lie on the face come back; runs below it are damage ([`super::damage`]).
//!
//! Steps 2 to 5 are repeated; each time the terms stand on what was found sound. At the end the lines' amplitudes are
//! decomposed over the turn ([`super::revolution`]). Work is linear in the readings but for sorting.

use super::cells::{Cell, directions, gather};
use super::columns::{Layout, Terms, Values};
use super::contested::{self, CommonShape, Fine, Levels};
use super::damage::{self, Residual, Run};
use super::global::Problem;
use super::model::{
    Contested, Decision, Dent, Eccentricity, FitError, Measurement, Reason, Sector, SensorTerms, SetAside,
    Shape, Term, Tilt, Turn, Unexplained, Unwitnessed, WheelModel, WhyUnwitnessed, Witness,
};
use super::revolution::Revolution;
use crate::numeric::adaptive::{self, Curve};
use crate::numeric::cholesky::Symmetric;
use crate::numeric::grid::Grid;
use crate::numeric::local::Moments;
use crate::numeric::order::median;
use crate::numeric::robust::tukey_weight;
use crate::scan::line::{MeasuredLine, Stretch};

/// From one place of the face to the next, millimetres: half the spacing of a usual scan.
const STEP: f64 = 0.05;
/// More places than this are no wheel but a slip of units; the step then grows.
const MOST_PLACES: f64 = 40_000.0;
/// A line with fewer readings crosses no face.
const LEAST_READINGS: usize = 30;
/// Width of the bins of the start, millimetres.
const START_BIN: f64 = 0.2;
/// Rounds of terms, face and damage; they stand still after three.
const ROUNDS: usize = 3;
/// The first rounds choose the terms anew; later ones keep them.
const CHOOSING_ROUNDS: usize = 2;
/// An eccentricity moves the lines along the radius, which is no linear term: so many fits in turn settle it.
const SHIFTS: usize = 3;

/// How a reading stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Standing {
    /// On the sound face.
    Sound,
    /// In damage.
    Damaged,
    /// Set aside.
    Aside,
}

/// Fits the model of the wheel to all that was measured.
///
/// # Errors
/// If there is no line, or a line has too few readings.
pub fn fit(measurement: &Measurement<'_>) -> Result<WheelModel, FitError> {
    let mut fit = Fit::new(measurement)?;
    for round in 0..ROUNDS {
        fit.fit_terms(round < CHOOSING_ROUNDS);
        fit.settle_contested();
        fit.fit_face();
        fit.judge_readings();
    }
    fit.fit_face();
    Ok(fit.account())
}

/// The fit as it stands.
struct Fit<'a> {
    given: &'a Measurement<'a>,
    lines: &'a [MeasuredLine],
    grid: Grid,
    curve: Curve,
    layout: Layout,
    terms: Terms,
    values: Values,
    /// The inverse of the unknowns' covariance.
    precision: Symmetric,
    /// By how much more than the noise the cells scatter.
    scale: f64,
    /// Of each line and reading.
    standing: Vec<Vec<Standing>>,
    /// Of each line, its readings in rising radius.
    order: Vec<Vec<usize>>,
    /// Of each line and sweep, which way it ran.
    directions: Vec<Vec<f64>>,
    contested: Vec<Settled>,
    /// Runs of damage found on each line.
    runs: Vec<Vec<Run>>,
    set_aside: Vec<SetAside>,
    unexplained: Vec<Unexplained>,
    /// Noise of one reading over all lines.
    noise: f64,
}

/// A contested stretch, settled.
#[derive(Debug, Clone)]
struct Settled {
    account: Contested,
    /// Lines that are damaged in it.
    damaged: Vec<usize>,
    /// Lines that stand over it.
    raised: Vec<usize>,
    /// What the sound face is where all lines are damaged: radius, height, and variance over that of a reading.
    replaced: Vec<(f64, f64, f64)>,
}

impl<'a> Fit<'a> {
    fn new(given: &'a Measurement<'a>) -> Result<Self, FitError> {
        let lines = given.lines;
        if lines.is_empty() {
            return Err(FitError::NoLines);
        }
        let usable = |l: &MeasuredLine| {
            l.readings.iter().filter(|r| !r.suspect && r.x.is_finite() && r.z.is_finite()).count()
        };
        if let Some(line) = lines.iter().position(|l| usable(l) < LEAST_READINGS) {
            return Err(FitError::TooFewReadings { line });
        }
        let radii = || {
            lines
                .iter()
                .flat_map(|l| &l.readings)
                .filter(|r| !r.suspect)
                .map(|r| r.x)
                .filter(|x| x.is_finite())
        };
        let (from, to) = radii().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(x), b.max(x)));
        let step = STEP.max((to - from) / MOST_PLACES);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most MOST_PLACES")]
        let len = ((to - from) / step).floor() as usize + 2;
        let grid = Grid { start: from, step, len };
        let standing = lines
            .iter()
            .map(|l| {
                l.readings
                    .iter()
                    .map(|r| {
                        if r.suspect || !(r.x >= from && r.x <= to && r.z.is_finite()) {
                            Standing::Aside
                        } else {
                            Standing::Sound
                        }
                    })
                    .collect()
            })
            .collect();
        let order = lines
            .iter()
            .map(|l| {
                let mut order: Vec<usize> = (0..l.readings.len())
                    .filter(|&i| {
                        l.readings[i].x >= from && l.readings[i].x <= to && l.readings[i].z.is_finite()
                    })
                    .collect();
                order.sort_by(|&a, &b| l.readings[a].x.total_cmp(&l.readings[b].x));
                order
            })
            .collect();
        let layout = Layout::new(lines.iter().map(|l| l.at).collect(), to);
        let mut noises: Vec<f64> = lines.iter().map(|l| l.noise).collect();
        let noise = median(&mut noises).unwrap_or(0.0).max(1e-4);
        let mut fit = Self {
            given,
            lines,
            grid,
            curve: Curve::default(),
            terms: Terms { shapes: vec![Shape::Proportional], ..Terms::default() },
            values: Values {
                amplitudes: vec![vec![0.0; lines.len()]],
                eccentricity: [0.0; 2],
                sensor: vec![[0.0; 2]; lines.len()],
            },
            precision: Symmetric::zeros(layout.per_shape()),
            layout,
            scale: 1.0,
            standing,
            order,
            directions: lines.iter().map(directions).collect(),
            contested: Vec::new(),
            runs: vec![Vec::new(); lines.len()],
            set_aside: Vec::new(),
            unexplained: Vec::new(),
            noise,
        };
        fit.curve = fit.start();
        Ok(fit)
    }

    /// The median over the lines of their medians in narrow bins.
    fn start(&self) -> Curve {
        let bins = ((self.grid.end() - self.grid.start) / START_BIN).ceil() as usize + 1;
        let coarse = Grid { start: self.grid.start, step: START_BIN, len: bins };
        let mut by_bin: Vec<Vec<f64>> = vec![Vec::new(); bins];
        for (line, standing) in self.lines.iter().zip(&self.standing) {
            let mut of_line: Vec<Vec<f64>> = vec![Vec::new(); bins];
            for (r, _) in line.readings.iter().zip(standing).filter(|(_, s)| **s == Standing::Sound) {
                of_line[coarse.nearest(r.x)].push(r.z);
            }
            for (bin, values) in by_bin.iter_mut().zip(&mut of_line) {
                bin.extend(median(values));
            }
        }
        let mut middle: Vec<f64> = by_bin.iter_mut().map(|v| median(v).unwrap_or(f64::NAN)).collect();
        fill_gaps(&mut middle);
        let value: Vec<f64> =
            (0..self.grid.len).map(|i| coarse.interpolate(&middle, self.grid.at(i))).collect();
        let slope = slopes(&value, self.grid.step);
        Curve {
            value,
            slope,
            error: vec![self.noise; self.grid.len],
            half_width: vec![START_BIN; self.grid.len],
        }
    }

    fn shifts(&self) -> Vec<f64> {
        self.layout.shifts(self.values.eccentricity)
    }

    /// What tilt, bend and sensor add to a reading.
    fn added(&self, line: usize, x: f64, time: f64, sweep: usize) -> f64 {
        let bend: f64 = self
            .terms
            .shapes
            .iter()
            .zip(&self.values.amplitudes)
            .map(|(s, a)| s.at(x, self.layout.outermost) * a[line])
            .sum();
        let [drift, hysteresis] = self.values.sensor[line];
        bend + drift * time + hysteresis * self.directions[line].get(sweep).copied().unwrap_or(0.0)
    }

    fn fit_terms(&mut self, choose: bool) {
        let rounds = if self.terms.eccentric { SHIFTS } else { 1 };
        for _ in 0..rounds.max(1) {
            self.fit_terms_once(choose);
        }
    }

    fn fit_terms_once(&mut self, choose: bool) {
        let standing = &self.standing;
        let counts = |k: usize, i: usize| standing[k][i] == Standing::Sound;
        let cells = gather(self.lines, &self.grid, &self.curve, &self.shifts(), &counts);
        let problem = self.problem(&cells);
        let found = if choose {
            let start = Terms { shapes: vec![Shape::Proportional], ..self.terms.clone() };
            let start = Terms { sensor: Vec::new(), ..start };
            problem.choose(start)
        } else {
            problem.fit(&self.terms, self.scale, &|_| true).map(|f| (self.terms.clone(), f, self.scale))
        };
        let Some((terms, fitted, scale)) = found else { return };
        let mut values = self.layout.values(&terms, &fitted.solution);
        // The cells were taken with the lines already moved.
        let before = self.values.eccentricity;
        if terms.eccentric {
            values.eccentricity = [before[0] + values.eccentricity[0], before[1] + values.eccentricity[1]];
        }
        self.terms = terms;
        self.values = values;
        self.precision = fitted.precision;
        self.scale = scale;
    }

    fn problem<'c>(&'c self, cells: &'c [Cell]) -> Problem<'c> {
        let swept_twice = (0..self.lines.len()).filter(|&k| self.lines[k].sweeps >= 2).collect();
        Problem { cells, layout: &self.layout, innermost: self.grid.start, swept_twice }
    }

    /// Finds where lines disagree, and settles who is sound.
    fn settle_contested(&mut self) {
        let lines = self.lines;
        // Damaged readings speak here; what was set aside does not.
        let standing = &self.standing;
        let counts = |k: usize, i: usize| standing[k][i] != Standing::Aside;
        let cells = gather(lines, &self.grid, &self.curve, &self.shifts(), &counts);
        let left: Vec<f64> = cells
            .iter()
            .map(|c| {
                let bend: f64 = self
                    .terms
                    .shapes
                    .iter()
                    .zip(&self.values.amplitudes)
                    .map(|(s, a)| s.at(c.x, self.layout.outermost) * a[c.line])
                    .sum();
                let [drift, hysteresis] = self.values.sensor[c.line];
                c.value - bend - drift * c.time - hysteresis * c.inward
            })
            .collect();
        let levels = Levels::new(&self.grid, &cells, &left, lines.len());
        let stretches = levels.disagreements();
        self.contested = stretches.into_iter().map(|s| self.settle(s, &levels)).collect();
        // What was damaged before stands or falls with the settling.
        for standing in self.standing.iter_mut().flatten().filter(|s| **s == Standing::Damaged) {
            *standing = Standing::Sound;
        }
        for settled in &self.contested {
            for &k in settled.damaged.iter().chain(&settled.raised) {
                let within =
                    |x: f64| (settled.account.stretch.from..=settled.account.stretch.to).contains(&x);
                for (r, s) in lines[k].readings.iter().zip(&mut self.standing[k]) {
                    if *s == Standing::Sound && within(r.x) {
                        *s = Standing::Damaged;
                    }
                }
            }
        }
        for (k, runs) in self.runs.iter().enumerate() {
            for run in runs {
                let within = |x: f64| (run.stretch.from..=run.stretch.to).contains(&x);
                let settled = self.contested.iter().any(|c| {
                    c.account.stretch.from <= run.stretch.to && run.stretch.from <= c.account.stretch.to
                });
                if settled {
                    continue;
                }
                for (r, s) in lines[k].readings.iter().zip(&mut self.standing[k]) {
                    if *s == Standing::Sound && within(r.x) {
                        *s = Standing::Damaged;
                    }
                }
            }
        }
    }

    fn settle(&self, stretch: Stretch, levels: &Levels) -> Settled {
        let account =
            |decided, least_depth, uncertainty| Contested { stretch, decided, least_depth, uncertainty };
        let plain = |decided, damaged, raised, least, uncertainty| Settled {
            account: account(decided, least, uncertainty),
            damaged,
            raised,
            replaced: Vec::new(),
        };
        let middle = f64::midpoint(stretch.from, stretch.to);
        if self.given.leave.iter().any(|s| (s.from..=s.to).contains(&middle)) {
            return plain(Decision::AsTold, Vec::new(), Vec::new(), None, 0.0);
        }
        // The bins' places must not decide: the mean over a few.
        let views: Vec<(Fine, CommonShape)> = (0..PHASES)
            .filter_map(|phase| {
                let fine = self.fine(stretch, f64::from(phase) / f64::from(PHASES));
                CommonShape::of(&fine, stretch).map(|shape| (fine, shape))
            })
            .collect();
        let common = mean_depth(views.iter().filter_map(|v| v.1.common));
        let Some((fine, mut shape)) = views.into_iter().next() else {
            return plain(Decision::Undecided, Vec::new(), Vec::new(), None, 0.0);
        };
        shape.common = common;
        let upper = self.upper_lines(stretch, levels, &shape);
        let all = &shape.lines;
        let others = |sound: &[usize]| all.iter().copied().filter(|k| !sound.contains(k)).collect::<Vec<_>>();
        let top = upper.len();
        let least = shape.least();
        let by_feet = least.filter(|l| {
            (l.1 < LEAST_CERTAIN || l.0.abs() > FEET_BEYOND * l.1) && shape.explained > EXPLAINED
        });
        if let Some((depth, error)) = by_feet {
            let beyond = (FEET_BEYOND * error).max(FEET_LEAST);
            let majority = top >= 3 && 2 * top > all.len();
            if depth > beyond && !majority {
                return self.all_round(
                    stretch,
                    &fine,
                    &shape,
                    account(Decision::DamageAllRound, least, error),
                );
            }
            if depth < -beyond && top == 1 {
                return plain(Decision::OneLineRaised, Vec::new(), upper, least, error);
            }
            return plain(Decision::UpperLinesSound, others(&upper), Vec::new(), least, 0.0);
        }
        let majority = top >= 3 && 2 * top > all.len();
        if let Some((depth, error)) = self.listed_depth(stretch, &shape).filter(|l| l.0 > 0.0 && !majority) {
            shape.common = Some((depth, error));
            let least = shape.least();
            return self.all_round(stretch, &fine, &shape, account(Decision::DamageAllRound, least, error));
        }
        if top >= 2 {
            return plain(Decision::UpperLinesSound, others(&upper), Vec::new(), least, 0.0);
        }
        // One line above: most of the others agree, and it is raised; or nothing decides, and the upper one is kept.
        let rest: Vec<f64> = shape.relative.clone();
        let mut sorted = rest;
        sorted.sort_by(f64::total_cmp);
        let near = sorted.iter().skip(1).filter(|g| (*g - sorted[1]).abs() < AGREE).count();
        if near >= 3 && 2 * near > all.len() {
            return plain(Decision::OneLineRaised, Vec::new(), upper, least, 0.0);
        }
        let apart = sorted.get(1).map_or(0.0, |b| b - sorted[0]);
        plain(Decision::Undecided, others(&upper), Vec::new(), least, apart)
    }

    /// The common depth that listed damage tells where the feet tell none: no line is deeper than what was listed, and the
    /// deepest line seldom much less deep.
    fn listed_depth(&self, stretch: Stretch, shape: &CommonShape) -> Option<(f64, f64)> {
        let middle = f64::midpoint(stretch.from, stretch.to);
        let listed = self.given.listed.iter().find(|l| (l.stretch.from..=l.stretch.to).contains(&middle))?;
        let most = shape.relative.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let least = shape.relative.iter().copied().fold(f64::INFINITY, f64::min);
        let common = DEEPEST_OF_LISTED * listed.depth - most;
        (common + least > 0.0).then_some((common, (1.0 - DEEPEST_OF_LISTED) * listed.depth))
    }

    /// The lines that agree with the uppermost over a stretch.
    fn upper_lines(&self, stretch: Stretch, levels: &Levels, shape: &CommonShape) -> Vec<usize> {
        let (from, to) = (levels.grid.nearest(stretch.from), levels.grid.nearest(stretch.to));
        let lines = &shape.lines;
        // Each line's mean height below the highest line of each bin, by what it is worth.
        let mut damaged = vec![false; lines.len()];
        for window in [1_usize, 4] {
            for start in from..=(to + 1).saturating_sub(window).max(from) {
                let mean = |k: usize| {
                    let values: Vec<f64> = (start..(start + window).min(to + 1))
                        .map(|b| levels.height[k][b])
                        .filter(|z| z.is_finite())
                        .collect();
                    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
                };
                let sigma = |k: usize| levels.sigma[k][start] / (window as f64).sqrt();
                let slope = levels.slope[start];
                let mut here: Vec<(usize, f64)> =
                    lines.iter().enumerate().filter_map(|(i, &k)| mean(k).map(|m| (i, m))).collect();
                here.sort_by(|a, b| b.1.total_cmp(&a.1));
                let Some(&(first, top)) = here.first() else { continue };
                for &(i, m) in &here {
                    let allowed = 4.0 * (sigma(lines[i]).powi(2) + sigma(lines[first]).powi(2)).sqrt()
                        + AGREE
                        + 0.02 * slope;
                    if top - m > allowed {
                        damaged[i] = true;
                    }
                }
            }
        }
        let upper: Vec<usize> = lines.iter().zip(&damaged).filter(|(_, d)| !**d).map(|(k, _)| *k).collect();
        if upper.is_empty() {
            let least =
                shape.relative.iter().enumerate().min_by(|a, b| a.1.total_cmp(b.1)).map_or(0, |m| m.0);
            return lines.get(least).copied().into_iter().collect();
        }
        upper
    }

    /// The face where all lines are damaged: the mix of the lines in which the common shape falls out.
    fn all_round(&self, stretch: Stretch, fine: &Fine, shape: &CommonShape, account: Contested) -> Settled {
        let common = shape.common.map_or(0.0, |c| c.0);
        let squares: f64 = shape.relative.iter().map(|d| d * d).sum();
        let lines = shape.lines.len() as f64;
        let mix: Vec<f64> = shape.relative.iter().map(|d| lines.recip() - common * d / squares).collect();
        let gain: f64 = mix.iter().map(|a| a * a).sum();
        let readings = contested::FINE_READINGS;
        let replaced = (0..fine.grid.len)
            .filter(|&j| (stretch.from..=stretch.to).contains(&fine.grid.at(j)))
            .filter_map(|j| {
                let height: f64 = shape.lines.iter().zip(&mix).map(|(&k, a)| a * fine.all[k][j]).sum();
                height.is_finite().then(|| (fine.grid.at(j), height + fine.face[j], gain / readings))
            })
            .collect();
        Settled { account, damaged: shape.lines.clone(), raised: Vec::new(), replaced }
    }

    /// Heights of all lines over a stretch and beside it, in fine bins.
    fn fine(&self, stretch: Stretch, phase: f64) -> Fine {
        let first = ((stretch.from - contested::BESIDE - self.grid.start) / contested::FINE).floor().max(0.0);
        let from = self.grid.start + (first + phase) * contested::FINE;
        let to = (stretch.to + contested::BESIDE).min(self.grid.end());
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a stretch within the grid"
        )]
        let len = ((to - from) / contested::FINE).floor().max(1.0) as usize;
        let grid = Grid { start: from + contested::FINE / 2.0, step: contested::FINE, len };
        let shifts = self.shifts();
        let mut halves = [(); 2].map(|()| vec![vec![(0.0, 0.0); len]; self.lines.len()]);
        for (k, line) in self.lines.iter().enumerate() {
            let order = &self.order[k];
            let first = order.partition_point(|&i| line.readings[i].x < from);
            let mut turn = 0_usize;
            for &i in order
                .iter()
                .skip(first)
                .take_while(|&&i| line.readings[i].x < from + len as f64 * contested::FINE)
            {
                let r = &line.readings[i];
                if self.standing[k][i] == Standing::Aside {
                    continue;
                }
                let left = r.z
                    - self.added(k, r.x, r.time, r.sweep)
                    - self.grid.interpolate(&self.curve.value, r.x - shifts[k]);
                turn += 1;
                let cell = &mut halves[turn % 2][k][grid.nearest(r.x)];
                *cell = (cell.0 + r.weight * left, cell.1 + r.weight);
            }
        }
        let mean = |sums: &[(f64, f64)]| -> Vec<f64> {
            sums.iter().map(|(a, b)| if *b > 0.0 { a / b } else { f64::NAN }).collect()
        };
        let [even, odd] = &halves;
        let both = |k: usize| -> Vec<f64> {
            let together: Vec<(f64, f64)> =
                even[k].iter().zip(&odd[k]).map(|(a, b)| (a.0 + b.0, a.1 + b.1)).collect();
            mean(&together)
        };
        Fine {
            all: (0..self.lines.len()).map(both).collect(),
            odd: odd.iter().map(|row| mean(row)).collect(),
            even: even.iter().map(|row| mean(row)).collect(),
            face: (0..len).map(|j| self.grid.interpolate(&self.curve.value, grid.at(j))).collect(),
            noise: self.noise,
            grid,
        }
    }

    /// The curve through all sound readings.
    fn fit_face(&mut self) {
        let shifts = self.shifts();
        let levelled: Vec<Vec<(f64, f64, f64)>> = self
            .lines
            .iter()
            .enumerate()
            .map(|(k, line)| {
                let worth = (self.noise / line.noise.max(1e-4)).powi(2);
                line.readings
                    .iter()
                    .zip(&self.standing[k])
                    .filter(|(_, s)| **s == Standing::Sound)
                    .map(|(r, _)| {
                        (r.x - shifts[k], r.z - self.added(k, r.x, r.time, r.sweep), r.weight * worth)
                    })
                    .collect()
            })
            .collect();
        let mut moments = Moments::new(self.grid);
        for &(x, z, weight) in levelled.iter().flatten() {
            moments.add(x, z, weight);
        }
        self.add_replaced(&mut moments);
        for _ in 0..NARROW_ROUNDS {
            let narrow = NARROW_WIDTHS.map(|h| adaptive::curve_of_width(&moments, self.noise, h));
            let [narrowest, narrower] = &narrow;
            moments = Moments::new(self.grid);
            for &(x, z, weight) in levelled.iter().flatten() {
                let at = |of: &[f64]| self.grid.interpolate(of, x);
                let (value, other) = (at(&narrowest.value), at(&narrower.value));
                // Where two widths differ the narrow curve itself is off.
                let allowed = self.noise + 0.6 * (value - other).abs() + 0.005 * at(&narrowest.slope).abs();
                let t = (z - value) / allowed;
                moments.add(x, z, weight * if t.is_finite() { tukey_weight(t) } else { 1.0 });
            }
            self.add_replaced(&mut moments);
        }
        let mut curve = adaptive::curve(&moments, self.noise);
        let known: Vec<bool> = curve.value.iter().map(|v| v.is_finite()).collect();
        fill_gaps(&mut curve.value);
        curve.slope = slopes(&curve.value, self.grid.step);
        for (e, known) in curve.error.iter_mut().zip(known) {
            if !known {
                *e = BRIDGED_ERROR;
            }
        }
        self.curve = curve;
    }

    fn add_replaced(&self, moments: &mut Moments) {
        for settled in &self.contested {
            for &(x, z, variance) in &settled.replaced {
                moments.add(x, z, variance.recip());
            }
        }
    }

    /// What a line's readings leave of the model, in rising radius.
    fn residuals(&self, line: usize, shift: f64) -> Vec<Residual> {
        let of = &self.lines[line];
        self.order[line]
            .iter()
            .map(|&index| {
                let r = &of.readings[index];
                let x = r.x - shift;
                let slope = self.grid.interpolate(&self.curve.slope, x).abs();
                let error = self.grid.interpolate(&self.curve.error, x);
                let left = r.z
                    - self.added(line, r.x, r.time, r.sweep)
                    - self.grid.interpolate(&self.curve.value, x);
                Residual {
                    index,
                    x: r.x,
                    left,
                    weight: r.weight,
                    allowed: ALLOWED_ALONG * slope + 2.0 * error,
                }
            })
            .collect()
    }

    /// Suspects that lie on the face come back; runs below it are damage; what cannot be is set aside.
    fn judge_readings(&mut self) {
        let shifts = self.shifts();
        self.set_aside.clear();
        self.unexplained.clear();
        for k in 0..self.lines.len() {
            let all = self.residuals(k, shifts[k]);
            let noise = self.lines[k].noise.max(1e-4);
            // Suspects first.
            let on_face = |r: &Residual| r.left.abs() < BACK * noise + r.allowed;
            for r in &all {
                let reading = &self.lines[k].readings[r.index];
                if reading.suspect {
                    self.standing[k][r.index] = if on_face(r) { Standing::Sound } else { Standing::Aside };
                } else if self.standing[k][r.index] == Standing::Aside {
                    self.standing[k][r.index] = Standing::Sound;
                }
            }
            self.judge_line(k, &all, noise);
        }
    }

    fn judge_line(&mut self, k: usize, all: &[Residual], noise: f64) {
        let kept: Vec<Residual> =
            all.iter().copied().filter(|r| self.standing[k][r.index] != Standing::Aside).collect();
        let mut runs = Vec::new();
        for run in damage::runs(&kept, noise, -1.0) {
            let width = run.stretch.to - run.stretch.from;
            let inside = kept.get(run.first..=run.last).unwrap_or(&[]);
            if run.depth > STEEPEST_SCRAPE * width + 4.0 * noise {
                for r in inside {
                    self.standing[k][r.index] = Standing::Aside;
                }
                self.set_aside.push(SetAside {
                    line: k,
                    stretch: run.stretch,
                    readings: inside.len(),
                    off: -run.depth,
                    reason: Reason::DeepForItsWidth,
                });
            } else if run.two_feet {
                runs.push(run);
            } else {
                self.unexplained.push(Unexplained { line: k, stretch: run.stretch, size: -run.depth });
            }
        }
        for run in damage::runs(&kept, noise, 1.0) {
            let inside = kept.get(run.first..=run.last).unwrap_or(&[]);
            let width = run.stretch.to - run.stretch.from;
            let in_contested = self.contested.iter().any(|c| overlap(c.account.stretch, run.stretch));
            if run.depth > STEEPEST_SCRAPE * width + 4.0 * noise
                || (inside.len() <= SHORT_RUN && run.depth > FALSE_ABOVE && !in_contested)
            {
                for r in inside {
                    self.standing[k][r.index] = Standing::Aside;
                }
                self.set_aside.push(SetAside {
                    line: k,
                    stretch: run.stretch,
                    readings: inside.len(),
                    off: run.depth,
                    reason: Reason::FalseReading,
                });
            } else {
                let raised = self
                    .contested
                    .iter()
                    .any(|c| c.raised.contains(&k) && overlap(c.account.stretch, run.stretch));
                if raised {
                    self.set_aside.push(SetAside {
                        line: k,
                        stretch: run.stretch,
                        readings: inside.len(),
                        off: run.depth,
                        reason: Reason::StandsOver,
                    });
                } else {
                    self.unexplained.push(Unexplained { line: k, stretch: run.stretch, size: run.depth });
                }
            }
        }
        let suspects: Vec<Residual> = all
            .iter()
            .copied()
            .filter(|r| {
                self.lines[k].readings[r.index].suspect && self.standing[k][r.index] == Standing::Aside
            })
            .collect();
        for group in suspects.chunk_by(|a, b| b.x - a.x < 0.5) {
            let (Some(first), Some(last)) = (group.first(), group.last()) else { continue };
            let off = group.iter().map(|r| r.left).max_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap_or(0.0);
            self.set_aside.push(SetAside {
                line: k,
                stretch: Stretch { from: first.x, to: last.x },
                readings: group.len(),
                off,
                reason: Reason::FalseReading,
            });
        }
        for run in &runs {
            for r in kept.get(run.first..=run.last).unwrap_or(&[]) {
                self.standing[k][r.index] = Standing::Damaged;
            }
        }
        self.runs[k] = runs;
    }

    /// The whole account.
    fn account(mut self) -> WheelModel {
        let shifts = self.shifts();
        let mut dents = Vec::new();
        for k in 0..self.lines.len() {
            let all = self.residuals(k, shifts[k]);
            let noise = self.lines[k].noise.max(1e-4);
            self.judge_line(k, &all, noise);
            let kept: Vec<Residual> =
                all.iter().copied().filter(|r| self.standing[k][r.index] != Standing::Aside).collect();
            for run in &self.runs[k] {
                dents.push(self.dent(k, run, &kept, noise));
            }
        }
        let turn = self.turn();
        let eccentricity = self.eccentricity();
        let tilt = tilt(&turn, self.layout.outermost);
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
            face_error: self.curve.error,
            half_width: self.curve.half_width,
            set_aside: self.set_aside,
            unexplained: self.unexplained,
        };
        model.add_listed(self.given.listed);
        model
    }

    fn dent(&self, line: usize, run: &Run, kept: &[Residual], noise: f64) -> Dent {
        let inside = kept.get(run.first..=run.last).unwrap_or(&[]);
        let window = (inside.len() / 8).clamp(3, 16).min(inside.len().max(1));
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
            depth: run.depth,
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
        let bins = ((self.grid.end() - self.grid.start) / step).ceil().max(1.0) as usize;
        let coarse = Grid { start: self.grid.start, step, len: bins + 1 };
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
                    last.stretch.to = stretch.to
                }
                _ => out.push(Unwitnessed { stretch, why }),
            }
        }
        out
    }
}

/// The two narrow widths against which single readings are judged, millimetres.
const NARROW_WIDTHS: [f64; 2] = [0.3, 0.5];
/// Rounds of narrow fits that weigh single readings.
const NARROW_ROUNDS: usize = 2;
/// The error stated where the face is bridged over a gap, millimetres: unknown.
const BRIDGED_ERROR: f64 = 1.0;
/// A line follows a slope within this along the radius, millimetres.
const ALLOWED_ALONG: f64 = 0.05;
/// A suspect within so many standard deviations of the face comes back.
const BACK: f64 = 5.0;
/// A scrape's flanks are no steeper than this on average: deeper than half its width it is a hole or a false reading.
const STEEPEST_SCRAPE: f64 = 0.5;
/// So few readings above the face stand for no metal.
const SHORT_RUN: usize = 15;
/// And only where they stand this far above it, millimetres: less may be the face's own error.
const FALSE_ABOVE: f64 = 0.05;
/// Lines nearer than this always agree, millimetres.
const AGREE: f64 = 0.006;
/// Feet that know the least depth no better than this decide nothing, millimetres.
const LEAST_CERTAIN: f64 = 0.03;
/// A least depth this many standard errors from nothing is a depth.
const FEET_BEYOND: f64 = 3.0;
/// And no less than this, millimetres.
const FEET_LEAST: f64 = 0.012;
/// One shape must explain this share of the differences for the feet to speak of it.
const EXPLAINED: f64 = 0.85;
/// The mean of depths weighted by what each is worth, with their mean error: they stand on the same readings.
fn mean_depth(depths: impl Iterator<Item = (f64, f64)>) -> Option<(f64, f64)> {
    let (mut weights, mut sum, mut errors, mut count) = (0.0, 0.0, 0.0, 0.0);
    for (depth, error) in depths {
        let weight = error.powi(-2);
        weights += weight;
        sum += weight * depth;
        errors += error;
        count += 1.0;
    }
    (count > 0.0).then(|| (sum / weights, errors / count))
}

/// A contested stretch is looked at with its fine bins in so many places.
const PHASES: u32 = 3;
/// The deepest line has commonly this share of the depth that a person listed for the whole turn.
const DEEPEST_OF_LISTED: f64 = 0.85;

fn overlap(a: Stretch, b: Stretch) -> bool {
    a.from <= b.to && b.from <= a.to
}

fn tilt(turn: &Turn, outermost: f64) -> Tilt {
    match turn.coefficients.first().map(Vec::as_slice) {
        Some(&[_, c, s, ..]) => {
            Tilt { slope: c.hypot(s) / outermost, high_side: s.atan2(c).rem_euclid(std::f64::consts::TAU) }
        }
        _ => Tilt::default(),
    }
}

/// Values that are no numbers are drawn straight between their neighbours.
fn fill_gaps(values: &mut [f64]) {
    let known: Vec<usize> = (0..values.len()).filter(|&i| values[i].is_finite()).collect();
    let (Some(&first), Some(&last)) = (known.first(), known.last()) else { return };
    for i in 0..first {
        values[i] = values[first];
    }
    for i in last + 1..values.len() {
        values[i] = values[last];
    }
    for pair in known.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        for i in a + 1..b {
            values[i] = values[a] + (values[b] - values[a]) * (i - a) as f64 / (b - a) as f64;
        }
    }
}

fn slopes(values: &[f64], step: f64) -> Vec<f64> {
    (0..values.len())
        .map(|i| {
            let (a, b) = (i.saturating_sub(1), (i + 1).min(values.len() - 1));
            if b > a { (values[b] - values[a]) / ((b - a) as f64 * step) } else { 0.0 }
        })
        .collect()
}
