//! Contested stretches settled: who is sound, and what the face is there.
//!
//! [`super::contested`] tells what the differences between the lines say; here it is decided. Lines that agree with the
//! uppermost are sound unless the feet show that they are damaged too; where the feet tell nothing, listed damage does;
//! where nothing does, the uppermost line is kept, so that the tool stays too high and never too low, and that is told.

use super::cells::gather;
use super::contested::{self, CommonShape, Fine, Levels};
use super::estimate::{Fit, Settled, Standing, overlap};
use super::model::{Contested, Decision};
use crate::numeric::grid::Grid;
use crate::scan::line::Stretch;

/// Lines nearer than this always agree, millimetres.
const AGREE: f64 = 0.006;
/// Feet that know the least depth no better than this decide nothing, millimetres.
const LEAST_CERTAIN: f64 = 0.03;
/// A least depth this many standard errors from nothing is a depth.
const FEET_BEYOND: f64 = 3.0;
/// The same where one line alone stands above the others.
const FEET_BEYOND_ALONE: f64 = 2.0;
/// And no less than this, millimetres.
const FEET_LEAST: f64 = 0.012;
/// Share of the deepest line's depth by which the feet may be off: a scrape is not one shape on all lines.
const FEET_OF_DEEPEST: f64 = 0.02;
/// One shape must explain this share of the differences for the feet to speak of it.
const EXPLAINED: f64 = 0.85;
/// A contested stretch is looked at with its fine bins in so many places.
const PHASES: u32 = 3;
/// The deepest line has commonly this share of the depth that a person listed for the whole turn.
const DEEPEST_OF_LISTED: f64 = 0.85;
/// A person finds the deepest place of damage within this share of its depth.
const MORE_THAN_LISTED: f64 = 1.1;
/// A sound face that so lies below a line is none, millimetres: metal does not grow.
const BELOW_A_LINE: f64 = 0.02;
/// Fine bins over whose mean a line is held against the face: a millimetre.
const BELOW_OVER: usize = 4;
/// Fine bins over whose mean a line that is left as it is is held against the face.
const LEFT_OVER: usize = 3;

impl Fit<'_> {
    /// Finds where lines disagree, and settles who is sound.
    pub(super) fn settle_contested(&mut self) {
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
        // What cannot be mended as a person asks stays in question.
        let mended =
            |s: &Stretch| self.given.mend.iter().any(|m| overlap(*m, *s) && self.bridge(*m).is_some());
        self.contested =
            stretches.into_iter().filter(|s| !mended(s)).map(|s| self.settle(s, &levels)).collect();
        self.lay_over_contradicted();
        let bridged = self.bridged();
        self.contested.extend(bridged);
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
                let settled = self.contested.iter().any(|c| overlap(c.account.stretch, run.stretch));
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
            contradicted: false,
        };
        if self.is_left(stretch) {
            return self.as_told(stretch);
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
        let upper = Self::upper_lines(stretch, levels, &shape);
        let all = &shape.lines;
        let others = |sound: &[usize]| all.iter().copied().filter(|k| !sound.contains(k)).collect::<Vec<_>>();
        let top = upper.len();
        if let (Some(feet), Some(listed)) = (shape.common, self.listed_depth(stretch, &shape)) {
            // What a person measured counts beside what the feet say.
            let (v, w) = (feet.1.powi(-2), listed.1.powi(-2));
            shape.common = Some(((v * feet.0 + w * listed.0) / (v + w), (v + w).recip().sqrt()));
        }
        let least = shape.least();
        // A line alone above all others that differ is seldom the sound one: less certainty will do.
        let beyond_errors = if top == 1 { FEET_BEYOND_ALONE } else { FEET_BEYOND };
        let by_feet = least.filter(|l| {
            (l.1 < LEAST_CERTAIN || l.0.abs() > beyond_errors * l.1) && shape.explained > EXPLAINED
        });
        if let Some((depth, error)) = by_feet {
            // What one shape does not explain, the mix of the lines follows.
            let misfit = depth.abs() * (1.0 - shape.explained).max(0.0).sqrt();
            let uncertainty = error.hypot(misfit);
            let majority = top >= 3 && 2 * top > all.len();
            let deepest = shape.relative.iter().copied().fold(f64::NEG_INFINITY, f64::max)
                - shape.relative.iter().copied().fold(f64::INFINITY, f64::min)
                + depth;
            // Lines that agree witness each other against a foot that is a little off.
            let of_deepest = if top >= 2 { FEET_OF_DEEPEST * deepest } else { 0.0 };
            let beyond = (beyond_errors * error.hypot(of_deepest)).max(FEET_LEAST);
            // Lines that agree are believed where their damage would make the deepest line deeper than a person measured.
            let too_deep = top >= 2 && self.deeper_than_listed(stretch, deepest - 2.0 * error);
            if depth > beyond && !majority && !too_deep {
                return Self::all_round(
                    stretch,
                    &fine,
                    &shape,
                    account(Decision::DamageAllRound, least, uncertainty),
                );
            }
            // A line that stands over a sound face stands over it by as much as over the next line.
            let mut levels = shape.relative.clone();
            levels.sort_by(f64::total_cmp);
            let over_next = match levels.as_slice() {
                [least, next, ..] => next - least,
                _ => 0.0,
            };
            if depth < -beyond && top == 1 && -depth > over_next / 2.0 {
                return plain(Decision::OneLineRaised, Vec::new(), upper, least, error);
            }
            return plain(Decision::UpperLinesSound, others(&upper), Vec::new(), least, 0.0);
        }
        let majority = top >= 3 && 2 * top > all.len();
        if let Some((depth, error)) = self.listed_depth(stretch, &shape).filter(|l| l.0 > 0.0 && !majority) {
            shape.common = Some((depth, error));
            let least = shape.least();
            return Self::all_round(stretch, &fine, &shape, account(Decision::DamageAllRound, least, error));
        }
        if top >= 2 {
            // Two damaged lines may agree by chance where others are damaged too and no foot tells.
            let damaged = others(&upper);
            let spread = shape.relative.iter().copied().fold(f64::NEG_INFINITY, f64::max)
                - shape.relative.iter().copied().fold(f64::INFINITY, f64::min);
            let by_chance = if majority || damaged.len() < 2 { 0.0 } else { spread / 2.0 };
            return plain(Decision::UpperLinesSound, damaged, Vec::new(), least, by_chance);
        }
        // One line above: most of the others agree, and it is raised; or nothing decides, and the upper one is kept.
        let rest: Vec<f64> = shape.relative.clone();
        let mut sorted = rest;
        sorted.sort_by(f64::total_cmp);
        let near =
            sorted.iter().skip(1).filter(|g| (*g - sorted[1]).abs() < AGREE + 4.0 * shape.error).count();
        if near >= 3 && 2 * near > all.len() {
            return plain(Decision::OneLineRaised, Vec::new(), upper, least, 0.0);
        }
        let apart = sorted.get(1).map_or(0.0, |b| b - sorted[0]);
        plain(Decision::Undecided, others(&upper), Vec::new(), least, apart)
    }

    /// Whether a person says that a stretch is sound as it is.
    pub(super) fn is_left(&self, stretch: Stretch) -> bool {
        let middle = f64::midpoint(stretch.from, stretch.to);
        self.given.leave.iter().any(|s| s.holds(middle))
    }

    /// A stretch that is left as it is: the face is the mean of the lines, in which each counts alike. What differs speaks of no
    /// turn, so that the lines' own readings are left out.
    fn as_told(&self, stretch: Stretch) -> Settled {
        let fine = self.fine(stretch, 0.0);
        let replaced = (0..fine.grid.len).filter(|&j| stretch.holds(fine.grid.at(j))).filter_map(|j| {
            let here: Vec<f64> = fine.all.iter().map(|row| row[j]).filter(|z| z.is_finite()).collect();
            let lines = here.len() as f64;
            let height = fine.face[j] + here.iter().sum::<f64>() / lines;
            height.is_finite().then(|| (fine.grid.at(j), height, (lines * contested::FINE_READINGS).recip()))
        });
        let decided = Decision::AsTold;
        Settled {
            account: Contested { stretch, decided, least_depth: None, uncertainty: 0.0 },
            replaced: replaced.collect(),
            damaged: (0..self.lines.len()).collect(),
            raised: Vec::new(),
            contradicted: false,
        }
    }

    /// Where stretches are left as they are, how far the highest line stands over the face: radius and height, in rising
    /// radius, nothing at both ends of each stretch.
    pub(super) fn left_over(&self) -> Vec<(f64, f64)> {
        let noise = self.noise / (contested::FINE_READINGS * LEFT_OVER as f64).sqrt();
        let mut over = Vec::new();
        for c in self.contested.iter().filter(|c| c.account.decided == Decision::AsTold) {
            let fine = self.fine(c.account.stretch, 0.0);
            let mean = |row: &[f64], j: usize| {
                let near = row.iter().skip(j.saturating_sub(LEFT_OVER / 2)).take(LEFT_OVER);
                let near: Vec<f64> = near.copied().filter(|z| z.is_finite()).collect();
                near.iter().sum::<f64>() / near.len() as f64
            };
            let inside: Vec<usize> =
                (0..fine.grid.len).filter(|&j| c.account.stretch.holds(fine.grid.at(j))).collect();
            let ends = [inside.first(), inside.last()].map(|j| j.map_or(f64::NAN, |&j| fine.grid.at(j)));
            over.push((ends[0] - fine.grid.step, 0.0));
            for j in inside {
                let highest = fine.all.iter().map(|row| mean(row, j)).fold(0.0, f64::max);
                over.push((fine.grid.at(j), if highest > AGREE + 3.0 * noise { highest } else { 0.0 }));
            }
            over.push((ends[1] + fine.grid.step, 0.0));
        }
        over.retain(|p| p.0.is_finite());
        over.sort_by(|a, b| a.0.total_cmp(&b.0));
        over
    }

    /// Whether a depth is more than the job lists where it lists damage.
    fn deeper_than_listed(&self, stretch: Stretch, depth: f64) -> bool {
        let middle = f64::midpoint(stretch.from, stretch.to);
        let mut here = self.given.listed.iter().filter(|l| l.stretch.holds(middle)).map(|l| l.depth);
        here.clone().count() > 0 && here.all(|listed| depth > MORE_THAN_LISTED * listed)
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
    fn upper_lines(stretch: Stretch, levels: &Levels, shape: &CommonShape) -> Vec<usize> {
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
    fn all_round(stretch: Stretch, fine: &Fine, shape: &CommonShape, account: Contested) -> Settled {
        let common = shape.common.map_or(0.0, |c| c.0);
        let squares: f64 = shape.relative.iter().map(|d| d * d).sum();
        let lines = shape.lines.len() as f64;
        let mix: Vec<f64> = shape.relative.iter().map(|d| lines.recip() - common * d / squares).collect();
        let gain: f64 = mix.iter().map(|a| a * a).sum();
        let readings = contested::FINE_READINGS;
        let replaced: Vec<(f64, f64, f64)> = (0..fine.grid.len)
            .filter(|&j| (stretch.from..=stretch.to).contains(&fine.grid.at(j)))
            .filter_map(|j| {
                let height: f64 = shape.lines.iter().zip(&mix).map(|(&k, a)| a * fine.all[k][j]).sum();
                height.is_finite().then(|| (fine.grid.at(j), height + fine.face[j], gain / readings))
            })
            .collect();
        let contradicted = below_a_line(fine, shape, &replaced);
        Settled { account, damaged: shape.lines.clone(), raised: Vec::new(), replaced, contradicted }
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
}

/// Whether a face laid over fine bins lies below a line somewhere.
fn below_a_line(fine: &Fine, shape: &CommonShape, replaced: &[(f64, f64, f64)]) -> bool {
    let noise = fine.noise / (contested::FINE_READINGS * BELOW_OVER as f64).sqrt();
    shape.lines.iter().any(|&k| {
        let over: Vec<f64> = replaced
            .iter()
            .map(|&(x, z, _)| {
                let j = fine.grid.nearest(x);
                fine.all[k][j] + fine.face[j] - z
            })
            .collect();
        over.windows(BELOW_OVER).any(|w| w.iter().sum::<f64>() / w.len() as f64 > BELOW_A_LINE + 4.0 * noise)
    })
}

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
