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
use super::damage::Run;
use super::global::{Fitted, Problem};
use super::model::{Contested, FitError, Measurement, SetAside, Shape, Unexplained, WheelModel, Withheld};
use super::narrow;
use super::withheld;
use crate::numeric::adaptive::{self, Curve};
use crate::numeric::cholesky::Symmetric;
use crate::numeric::grid::Grid;
use crate::numeric::local::Moments;
use crate::numeric::order::{median, sigma_about_zero};
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
/// An eccentricity that moved less stands still, millimetres: less than a micrometre on a wall.
const SHIFTED: f64 = 0.0005;

/// How a reading stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Standing {
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
        let before = fit.standing.clone();
        fit.fit_terms(round < CHOOSING_ROUNDS);
        if round == 0 {
            fit.set_jumps_aside();
        }
        fit.settle_contested();
        fit.fit_face(if round == 0 { 1 } else { NARROW_ROUNDS });
        fit.judge_readings();
        // The start was rough; from the second round on, readings that stand as they stood change nothing any more.
        if round > 0 && fit.standing == before {
            fit.keep_corners();
            return Ok(fit.account());
        }
    }
    fit.fit_face(NARROW_ROUNDS);
    fit.judge_readings();
    fit.keep_corners();
    Ok(fit.account())
}

/// The fit as it stands.
pub(super) struct Fit<'a> {
    pub(super) given: &'a Measurement<'a>,
    pub(super) lines: &'a [MeasuredLine],
    pub(super) grid: Grid,
    pub(super) curve: Curve,
    /// What the curve was laid through.
    moments: Moments,
    pub(super) layout: Layout,
    pub(super) terms: Terms,
    pub(super) values: Values,
    /// The inverse of the unknowns' covariance.
    pub(super) precision: Symmetric,
    /// By how much more than the noise the cells scatter.
    pub(super) scale: f64,
    /// Of each line, by how much more than the noise of single readings its cells scatter: texture runs on from reading to
    /// reading, and only the differences between the lines tell it.
    pub(super) scatter: Vec<f64>,
    /// Of each line and reading.
    pub(super) standing: Vec<Vec<Standing>>,
    /// Of each line, its readings in rising radius.
    pub(super) order: Vec<Vec<usize>>,
    /// Of each line and sweep, which way it ran.
    pub(super) directions: Vec<Vec<f64>>,
    pub(super) contested: Vec<Settled>,
    /// Runs of damage found on each line.
    pub(super) runs: Vec<Vec<Run>>,
    pub(super) set_aside: Vec<SetAside>,
    pub(super) unexplained: Vec<Unexplained>,
    /// Corrections that are known too badly to be applied.
    pub(super) withheld: Vec<Withheld>,
    /// Noise of one reading over all lines.
    pub(super) noise: f64,
}

/// A contested stretch, settled.
#[derive(Debug, Clone)]
pub(super) struct Settled {
    pub(super) account: Contested,
    /// Lines that are damaged in it.
    pub(super) damaged: Vec<usize>,
    /// Lines that stand over it.
    pub(super) raised: Vec<usize>,
    /// What the sound face is where all lines are damaged: radius, height, and variance over that of a reading.
    pub(super) replaced: Vec<(f64, f64, f64)>,
    /// Whether a line stands over that face, which no line can.
    pub(super) contradicted: bool,
}

impl<'a> Fit<'a> {
    pub(super) fn new(given: &'a Measurement<'a>) -> Result<Self, FitError> {
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
        // Where a person says that there is no metal, readings are of what lies behind.
        let metal = |x: f64| !given.no_metal.iter().any(|s| s.holds(x));
        let standing = lines
            .iter()
            .map(|l| {
                l.readings
                    .iter()
                    .map(|r| {
                        if r.suspect || !(r.x >= from && r.x <= to && r.z.is_finite() && metal(r.x)) {
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
                        let r = &l.readings[i];
                        r.x >= from && r.x <= to && r.z.is_finite() && metal(r.x)
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
            moments: Moments::new(grid),
            terms: Terms { shapes: vec![Shape::Proportional], ..Terms::default() },
            values: Values {
                amplitudes: vec![vec![0.0; lines.len()]],
                eccentricity: [0.0; 2],
                sensor: vec![[0.0; 3]; lines.len()],
            },
            precision: Symmetric::zeros(layout.per_shape()),
            layout,
            scale: 1.0,
            scatter: vec![1.0; lines.len()],
            standing,
            order,
            directions: lines.iter().map(directions).collect(),
            contested: Vec::new(),
            runs: vec![Vec::new(); lines.len()],
            set_aside: Vec::new(),
            unexplained: Vec::new(),
            withheld: Vec::new(),
            noise,
        };
        fit.curve = fit.start();
        Ok(fit)
    }

    /// The median over the lines of their medians in narrow bins.
    pub(super) fn start(&self) -> Curve {
        let coarse = Grid::covering(self.grid.start, self.grid.end(), START_BIN);
        let bins = coarse.len;
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

    pub(super) fn shifts(&self) -> Vec<f64> {
        self.layout.shifts(self.values.eccentricity)
    }

    /// What tilt, bend and sensor add to a reading.
    pub(super) fn added(&self, line: usize, x: f64, time: f64, sweep: usize) -> f64 {
        let bend: f64 = self
            .terms
            .shapes
            .iter()
            .zip(&self.values.amplitudes)
            .map(|(s, a)| s.at(x, self.layout.outermost) * a[line])
            .sum();
        let [drift, hysteresis, zero] = self.values.sensor[line];
        bend + zero + drift * time + hysteresis * self.directions[line].get(sweep).copied().unwrap_or(0.0)
    }

    pub(super) fn fit_terms(&mut self, choose: bool) {
        self.fit_terms_once(choose);
        for _ in 1..SHIFTS {
            let before = self.values.eccentricity;
            if !self.terms.eccentric {
                break;
            }
            self.fit_terms_once(false);
            let moved = before.iter().zip(self.values.eccentricity).any(|(a, b)| (a - b).abs() > SHIFTED);
            if !moved {
                break;
            }
        }
    }

    pub(super) fn fit_terms_once(&mut self, choose: bool) {
        let standing = &self.standing;
        let counts = |k: usize, i: usize| standing[k][i] == Standing::Sound;
        let cells = gather(self.lines, &self.grid, &self.curve, &self.shifts(), &counts);
        let problem = self.problem(&cells);
        let found = if choose {
            let start = Terms { shapes: vec![Shape::Proportional], ..self.terms.clone() };
            let start = Terms { sensor: Vec::new(), zeros: Vec::new(), ..start };
            problem.choose(start)
        } else {
            problem.fit(&self.terms, self.scale, None, &|_| true).map(|f| (self.terms.clone(), f, self.scale))
        };
        let Some((mut terms, mut fitted, scale)) = found else { return };
        let mut left_out = Vec::new();
        let badly_known = |terms: &Terms, fitted: &Fitted| {
            let tolerated = self.given.tolerated?;
            withheld::worst(&self.layout, terms, &fitted.precision, self.given.zones, tolerated)
        };
        while let Some((worst, fewer)) = badly_known(&terms, &fitted) {
            let Some(without) = problem.fit(&fewer, scale, None, &|_| true) else { break };
            left_out.push(worst);
            (terms, fitted) = (fewer, without);
        }
        let mut values = self.layout.values(&terms, &fitted.solution);
        // The cells were taken with the lines already moved.
        let before = self.values.eccentricity;
        if terms.eccentric {
            values.eccentricity = [before[0] + values.eccentricity[0], before[1] + values.eccentricity[1]];
        }
        let moved = !terms.eccentric && before.iter().any(|e| *e != 0.0);
        self.terms = terms;
        self.values = values;
        if choose {
            self.withheld.clear();
        }
        self.withheld.extend(left_out);
        self.scatter = (0..self.lines.len()).map(|k| scatter(&cells, &fitted.left, k, scale)).collect();
        self.precision = fitted.precision;
        self.scale = scale;
        if moved {
            // The cells were taken with the lines moved by an eccentricity that was withheld since.
            self.fit_terms_once(false);
        }
    }

    pub(super) fn problem<'c>(&'c self, cells: &'c [Cell]) -> Problem<'c> {
        let swept_twice = (0..self.lines.len()).filter(|&k| self.lines[k].sweeps >= 2).collect();
        Problem { cells, layout: &self.layout, innermost: self.grid.start, swept_twice }
    }

    /// The curve through all sound readings, each weighed in so many rounds against narrow curves.
    pub(super) fn fit_face(&mut self, narrow_rounds: usize) {
        let shifts = self.shifts();
        let fit = &*self;
        let levelled: Vec<(f64, f64, f64)> = fit
            .lines
            .iter()
            .enumerate()
            .flat_map(|(k, line)| {
                let noise = line.noise.max(1e-4) * fit.scatter[k];
                let (worth, shift) = ((fit.noise / noise).powi(2), shifts[k]);
                let sound =
                    line.readings.iter().zip(&fit.standing[k]).filter(|(_, s)| **s == Standing::Sound);
                sound.map(move |(r, _)| {
                    (r.x - shift, r.z - fit.added(k, r.x, r.time, r.sweep), r.weight * worth)
                })
            })
            .collect();
        let replaced = |moments: &mut Moments| self.add_replaced(moments);
        let moments = narrow::weighed(&levelled, self.grid, self.noise, narrow_rounds, &replaced);
        let curve = adaptive::curve(&moments, self.noise);
        self.moments = moments;
        self.take(curve);
    }

    /// Keeps the corners of the face, which the curve rounds off.
    fn keep_corners(&mut self) {
        let mut curve = self.curve.clone();
        // What was drawn over a gap is no curve through readings, beside a corner as elsewhere.
        for (value, error) in curve.value.iter_mut().zip(&curve.error) {
            if *error >= BRIDGED_ERROR {
                *value = f64::NAN;
            }
        }
        adaptive::keep_corners(&self.moments, &mut curve, self.noise);
        self.take(curve);
    }

    /// Takes a curve for the face, drawn straight over its gaps.
    fn take(&mut self, mut curve: Curve) {
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

    pub(super) fn add_replaced(&self, moments: &mut Moments) {
        for settled in &self.contested {
            for &(x, z, variance) in &settled.replaced {
                moments.add(x, z, variance.recip());
            }
        }
    }
}

/// Rounds of narrow fits that weigh single readings; at the rough start one will do.
const NARROW_ROUNDS: usize = 2;
/// The error stated where the face is bridged over a gap, millimetres: unknown.
const BRIDGED_ERROR: f64 = 1.0;

/// By how many of their own standard deviations the cells of a line scatter, from what a fit at a scale leaves of them.
fn scatter(cells: &[Cell], left: &[f64], line: usize, scale: f64) -> f64 {
    // A cell alone in its bin leaves nothing.
    let mut own: Vec<f64> = cells
        .iter()
        .zip(left)
        .filter(|(c, t)| c.line == line && **t != 0.0)
        .map(|(_, t)| t * scale)
        .collect();
    if own.len() < ENOUGH_CELLS {
        return 1.0;
    }
    sigma_about_zero(&mut own).unwrap_or(1.0).clamp(1.0, MOST_SCATTER)
}

/// Fewer cells tell no scatter: of fifty it is known within a sixth.
const ENOUGH_CELLS: usize = 50;
/// More than this is no texture but a part that the model lacks.
const MOST_SCATTER: f64 = 4.0;

/// Whether two stretches share a radius.
pub(super) fn overlap(a: Stretch, b: Stretch) -> bool {
    a.from <= b.to && b.from <= a.to
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
    draw_between(values, usize::MAX);
}

/// Values that are no numbers are drawn straight between those that are, where these lie no more than so many places apart.
pub(super) fn draw_between(values: &mut [f64], most: usize) {
    let known: Vec<usize> = (0..values.len()).filter(|&i| values[i].is_finite()).collect();
    for pair in known.windows(2).filter(|pair| pair[1] - pair[0] <= most) {
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
