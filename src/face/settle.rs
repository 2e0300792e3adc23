//! Contested stretches settled: who is sound, and what the face is there.
//!
//! [`super::contested`] tells what the differences between the lines say, [`super::weigh`] what is likely; here it is decided.
//! What the other answers leave open is the stretch's uncertainty. Where nothing decides, the uppermost line is kept, so
//! that the tool stays too high and never too low, and that is told.

use super::bridge::Bridge;
use super::cells::gather;
use super::contested::{self, CommonShape, Fine, Levels};
use super::estimate::{Fit, Settled, Standing, draw_between, overlap};
use super::model::{Contested, Decision};
use super::weigh::{self, Evidence};
use crate::numeric::grid::Grid;
use crate::numeric::order::sigma_about_zero;
use crate::scan::line::Stretch;
use rayon::prelude::*;

/// Lines nearer than this always agree, millimetres.
pub(super) const AGREE: f64 = 0.006;
/// One line's word is taken where all other answers together, damage of all lines or one that stands over the face, are less likely than this.
const UNDECIDED: f64 = 0.1;
/// Lines that agree but for noise are nearer than this, millimetres.
const AGREE_CLOSELY: f64 = LEAST_NOISE;
/// Feet that know the least depth no better than this do not outweigh lines that agree, millimetres.
const LEAST_CERTAIN: f64 = 0.03;
/// A line so many standard errors off the face stands over it, or lies below it.
const BEYOND: f64 = 3.0;
/// One shape explains this share of what lines differ by; the rest is places, texture and what the turn leaves.
const ONE_SHAPE: f64 = 0.92;
/// And no less than this, millimetres.
const FEET_LEAST: f64 = 0.012;
/// A contested stretch is looked at with its fine bins in so many places.
const PHASES: u32 = 3;
/// A sound face that so lies below a line is none, millimetres: metal does not grow.
const BELOW_A_LINE: f64 = 0.02;
/// Fine bins over whose mean a line is held against the face: a millimetre.
const BELOW_OVER: usize = 4;
/// Damage that fades away is seen up to this share of its width before its foot.
const FADES: f64 = 0.06;
/// Readings no more than so many fine bins apart belong to one run: 1.5 mm, and what is longer has no metal.
const MOST_BETWEEN: usize = 6;
/// Fewer bins tell no noise.
const FEW_BINS: usize = 20;
/// No mean of a few readings is known better, millimetres: texture.
const LEAST_NOISE: f64 = 0.0003;

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
                let [drift, hysteresis, zero] = self.values.sensor[c.line];
                c.value - bend - drift * c.time - hysteresis * c.inward - zero
            })
            .collect();
        let levels = Levels::new(&self.grid, &cells, &left, lines.len());
        let stretches = levels.disagreements();
        // What cannot be mended as a person asks stays in question.
        let mended =
            |s: &Stretch| self.given.mend.iter().any(|m| overlap(*m, *s) && self.bridge(*m).is_some());
        let before: Vec<Contested> = self.contested.iter().map(|c| c.account).collect();
        self.contested =
            stretches.into_par_iter().filter(|s| !mended(s)).map(|s| self.settle(s, &levels)).collect();
        for settled in &mut self.contested {
            settled.account.doubt(before.iter());
        }
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
        let Some(mut seen) = self.look(stretch, levels) else {
            return plain(Decision::Undecided, Vec::new(), Vec::new(), None, 0.0);
        };
        let (least, upper, lines) = (seen.least, seen.upper.clone(), seen.shape.lines.clone());
        let weighed = Evidence {
            least,
            lies: seen.lies,
            other: seen.other,
            spread: seen.spread,
            agree: upper.len(),
            within: AGREE + 2.0 * seen.shape.error,
            below: seen.below_upper(),
            within_below: seen.within_below(),
            lines: lines.len(),
            listed: self.listed_here(stretch),
        }
        .weigh();
        let (likely, depth, deviation) = weighed.damaged;
        if weighed.over > 0.5 {
            return plain(Decision::LinesRaised, Vec::new(), upper, least, least.map_or(0.0, |l| l.1));
        }
        if weighed.raised > 0.5 {
            let error = least.map_or(0.0, |l| l.1);
            let (raised, damaged) = seen.off_the_face(error);
            if !raised.is_empty() {
                return plain(Decision::LinesRaised, damaged, raised, least, error);
            }
        }
        if likely > 0.5 {
            let uncertainty = deviation.hypot(depth * weighed.sound.sqrt());
            let told = account(Decision::DamageAllRound, Some((depth, deviation)), uncertainty);
            let near = |dips: &[f64], b: &Bridge| {
                (least_of(dips) - depth).abs() <= BEYOND * b.error_in(stretch).hypot(deviation)
            };
            if let Some((_, bridge)) = seen.carried.as_ref().filter(|(dips, b)| near(dips, b)) {
                let account = Contested { stretch: bridge.stretch, ..told };
                return Settled { account, ..self.laid(bridge.stretch, bridge) };
            }
            seen.shape.common = Some((depth - least_of(&seen.shape.relative), deviation));
            return Self::all_round(stretch, &seen.fine, &seen.shape, told);
        }
        let others: Vec<usize> = lines.iter().copied().filter(|k| !upper.contains(k)).collect();
        let open = (likely * (depth * depth + deviation * deviation)).sqrt();
        let by_feet = least.is_some_and(|l| l.1 < LEAST_CERTAIN);
        if upper.len() >= 2 || by_feet {
            return plain(Decision::UpperLinesSound, others, Vec::new(), least, open);
        }
        // One line above: most of the others agree, and it is raised; or nothing decides, and the upper one is kept.
        let within = seen.shape.error;
        let mut sorted = seen.shape.relative;
        sorted.sort_by(f64::total_cmp);
        let near = sorted.iter().skip(1).filter(|g| (*g - sorted[1]).abs() < AGREE + 4.0 * within).count();
        if near >= 3 && 2 * near > lines.len() {
            return plain(Decision::LinesRaised, Vec::new(), upper, least, 0.0);
        }
        if least.is_some() && 1.0 - weighed.sound < UNDECIDED {
            return plain(Decision::UpperLinesSound, others, Vec::new(), least, open);
        }
        let apart = sorted.get(1).map_or(0.0, |b| b - sorted[0]);
        // A person who saw deeper damage than the lines differ by may have seen what all of them have.
        let unseen = self.listed_here(stretch).map_or(0.0, |listed| listed - seen.spread);
        // Damage that a person names, and that nothing bridges, is mended by the line that shows least of it.
        let named = self.given.mend.iter().any(|m| overlap(*m, stretch));
        let decided = if named { Decision::UpperLinesSound } else { Decision::Undecided };
        plain(decided, others, Vec::new(), least, apart.max(open).max(unseen))
    }

    /// What the lines say of a contested stretch; `None` where fewer than two cross it.
    fn look(&self, stretch: Stretch, levels: &Levels) -> Option<Seen> {
        // The bins' places must not decide: the mean over a few.
        let views: Vec<(Fine, CommonShape)> = (0..PHASES)
            .into_par_iter()
            .filter_map(|phase| {
                let fine = self.fine(stretch, f64::from(phase) / f64::from(PHASES));
                CommonShape::of(&fine, stretch).map(|shape| (fine, shape))
            })
            .collect();
        let common = mean_depth(views.iter().filter_map(|v| v.1.common));
        let (fine, mut shape) = views.into_iter().next()?;
        shape.common = common;
        let upper = Self::upper_lines(stretch, levels, &shape);
        let spread = most_of(&shape.relative) - least_of(&shape.relative);
        // What one shape does not explain the feet do not speak of.
        let misfit = spread * (ONE_SHAPE - shape.explained).max(0.0).sqrt();
        let by_feet = shape.least().map(|(depth, error)| (depth, error.hypot(misfit)));
        // The continuation from both sides speaks of the same depth. Metal does not grow: one that every line stands over
        // misses a feature of the face.
        let carried = self
            .carried_over(stretch)
            .map(|b| (dips(&fine, &shape.lines, &b, stretch), b))
            .filter(|(dips, b)| most_of(dips) > -BEYOND * b.error_in(stretch));
        let by_bridge =
            carried.as_ref().map(|(dips, b)| (least_of(dips), b.error_in(stretch).hypot(shape.error)));
        let least = either(by_feet, by_bridge);
        let surer = by_bridge.is_some_and(|b| by_feet.is_none_or(|f| b.1 < f.1));
        let carried = carried.filter(|_| surer);
        // Feet that know it and say the same confirm what is carried over.
        let same = |(feet, bridge): ((f64, f64), (f64, f64))| {
            feet.1 < LEAST_CERTAIN && (feet.0 - bridge.0).abs() <= BEYOND * feet.1.hypot(bridge.1)
        };
        let alone = carried.as_ref().filter(|_| !by_feet.zip(by_bridge).is_some_and(same));
        let lies = alone.map_or(0.0, |(_, b)| weigh::misses(b.stretch.length()));
        let spread = carried.as_ref().map_or(spread, |(dips, _)| most_of(dips) - least_of(dips));
        Some(Seen { fine, shape, upper, carried, least, lies, other: by_feet, spread })
    }

    /// The face carried over a contested stretch and the damage that the job lists there, where its margins carry it.
    fn carried_over(&self, stretch: Stretch) -> Option<Bridge> {
        let listed = self.given.listed.iter().map(|l| l.stretch).filter(|l| overlap(*l, stretch));
        let whole = listed.fold(stretch, |a, b| Stretch { from: a.from.min(b.from), to: a.to.max(b.to) });
        // Damage fades away before its feet are seen.
        let fades = FADES * stretch.length();
        let beyond =
            Stretch { from: whole.from.min(stretch.from - fades), to: whole.to.max(stretch.to + fades) };
        self.bridge(beyond)
    }

    /// The depth that the job lists where it lists damage.
    fn listed_here(&self, stretch: Stretch) -> Option<f64> {
        let middle = f64::midpoint(stretch.from, stretch.to);
        let here = self.given.listed.iter().filter(|l| l.stretch.holds(middle)).map(|l| l.depth);
        here.max_by(f64::total_cmp)
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
            // None is above everywhere; over the whole stretch some are.
            let least = least_of(&shape.relative) + AGREE + 2.0 * shape.error;
            return lines
                .iter()
                .zip(&shape.relative)
                .filter(|(_, d)| **d <= least)
                .map(|(k, _)| *k)
                .collect();
        }
        upper
    }

    /// The face where all lines are damaged: the mix of the lines in which the common shape falls out. Beyond the shape, where the
    /// lines differ by no more than noise, they are sound: on a wall, where places err, the mix would draw out what they differ by.
    fn all_round(stretch: Stretch, fine: &Fine, shape: &CommonShape, account: Contested) -> Settled {
        let inside = |j: &usize| stretch.holds(fine.grid.at(*j)) && shape.damaged.get(*j) == Some(&true);
        let places: Vec<f64> = (0..fine.grid.len).filter(inside).map(|j| fine.grid.at(j)).collect();
        let stretch = match (places.first(), places.last()) {
            (Some(from), Some(to)) => Stretch {
                from: stretch.from.max(from - contested::FINE),
                to: stretch.to.min(to + contested::FINE),
            },
            _ => stretch,
        };
        let account = Contested { stretch, ..account };
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
    pub(super) fn fine(&self, stretch: Stretch, phase: f64) -> Fine {
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
        let mut places = vec![vec![0.0; len]; self.lines.len()];
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
                let bin = grid.nearest(r.x);
                let cell = &mut halves[turn % 2][k][bin];
                *cell = (cell.0 + r.weight * left, cell.1 + r.weight);
                places[k][bin] += r.weight * (r.x - grid.at(bin));
            }
        }
        let mean = |sums: &[(f64, f64)]| -> Vec<f64> {
            sums.iter().map(|(a, b)| if *b > 0.0 { a / b } else { f64::NAN }).collect()
        };
        let [even, odd] = &halves;
        let both = |k: usize| -> Vec<f64> {
            let together: Vec<(f64, f64)> =
                even[k].iter().zip(&odd[k]).map(|(a, b)| (a.0 + b.0, a.1 + b.1)).collect();
            // Drawn straight over bins that a hurried hand left empty between its readings.
            let mut heights = mean(&together);
            draw_between(&mut heights, MOST_BETWEEN);
            // The readings' mean place is seldom the middle of the bin, and a foot is steep.
            let slope = |j: usize| {
                let at = |i: Option<usize>| i.and_then(|i| heights.get(i)).copied().unwrap_or(f64::NAN);
                (at(Some(j + 1)) - at(j.checked_sub(1))) / (2.0 * grid.step)
            };
            let moved = |(j, z): (usize, &f64)| {
                let by = slope(j) * places[k][j] / together[j].1;
                if by.is_finite() { z - by } else { *z }
            };
            heights.iter().enumerate().map(moved).collect()
        };
        let all: Vec<Vec<f64>> = (0..self.lines.len()).map(both).collect();
        let odd: Vec<Vec<f64>> = odd.iter().map(|row| mean(row)).collect();
        let even: Vec<Vec<f64>> = even.iter().map(|row| mean(row)).collect();
        // The halves of a bin differ by its noise alone: twice that of all its readings.
        let mut apart: Vec<f64> = odd
            .iter()
            .zip(&even)
            .flat_map(|(a, b)| a.iter().zip(b).map(|(a, b)| (a - b) / 2.0))
            .filter(|d| d.is_finite())
            .collect();
        // What is drawn between clumps of readings tells nothing anew: of fewer readings every bin knows less.
        let weights = || halves.iter().flatten().flatten().map(|cell| cell.1);
        let bins = (len * self.lines.len()) as f64;
        let a_bin =
            (weights().sum::<f64>() / bins).clamp(1.0 / MOST_BETWEEN as f64, contested::FINE_READINGS);
        let seen = all.iter().flatten().filter(|z| z.is_finite()).count() as f64;
        let read = bins_read(&halves) as f64;
        let usual = self.noise / a_bin.sqrt();
        let bin_noise = if apart.len() < FEW_BINS {
            usual
        } else {
            sigma_about_zero(&mut apart).map_or(usual, |noise| noise * (seen / read.max(1.0)).sqrt())
        };
        Fine {
            bin_noise: bin_noise.max(LEAST_NOISE),
            all,
            odd,
            even,
            face: (0..len).map(|j| self.grid.interpolate(&self.curve.value, grid.at(j))).collect(),
            noise: self.noise,
            grid,
        }
    }
}

/// What the lines say of a contested stretch.
struct Seen {
    fine: Fine,
    shape: CommonShape,
    /// Lines that agree with the uppermost.
    upper: Vec<usize>,
    /// The face carried over from both sides and how deep each line lies below it, where that is surer than the feet.
    carried: Option<(Vec<f64>, Bridge)>,
    /// Depth of the least damaged line, and its standard error.
    least: Option<(f64, f64)>,
    /// The chance that it is none of it, and what the feet say then.
    lies: f64,
    other: Option<(f64, f64)>,
    /// How much deeper the deepest line is.
    spread: f64,
}

impl Seen {
    /// Within how much lines agree beyond chance.
    fn within_below(&self) -> f64 {
        AGREE_CLOSELY + 2.0 * self.shape.scatter
    }

    /// Where most lines agree below the upper ones: how many they are, and how deep they lie below.
    fn below_upper(&self) -> Option<(usize, f64)> {
        let below =
            self.shape.lines.iter().zip(&self.shape.relative).filter(|(k, _)| !self.upper.contains(k));
        let below: Vec<f64> = below.map(|(_, depth)| *depth).collect();
        let agree = |g: f64| below.iter().filter(|o| (*o - g).abs() <= self.within_below()).count();
        let (count, level) = below.iter().map(|&g| (agree(g), g)).max_by_key(|found| found.0)?;
        let least = least_of(&self.shape.relative);
        let most = count >= 2 && 2 * count > self.shape.lines.len();
        (most && level - least > AGREE).then_some((count, level - least))
    }

    /// Lines that stand over the face, and those that lie below it, where its depth is known within an error.
    fn off_the_face(&self, error: f64) -> (Vec<usize>, Vec<usize>) {
        let common = self.shape.common.map_or(0.0, |c| c.0);
        let by_shape = || self.shape.relative.iter().map(|r| r + common).collect();
        let depths: Vec<f64> = self.carried.as_ref().map_or_else(by_shape, |(dips, _)| dips.clone());
        let beyond = (BEYOND * error).max(FEET_LEAST);
        let side = |s: f64| -> Vec<usize> {
            let lines = self.shape.lines.iter().zip(&depths);
            lines.filter(|(_, d)| s * **d > beyond).map(|(k, _)| *k).collect()
        };
        (side(-1.0), side(1.0))
    }
}

fn least_of(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::INFINITY, f64::min)
}

fn most_of(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
}

/// How deep each line lies below a face carried over a stretch: the mean, by how deep the lines lie there together.
fn dips(fine: &Fine, lines: &[usize], carried: &Bridge, stretch: Stretch) -> Vec<f64> {
    let mut sums = vec![(0.0, 0.0); lines.len()];
    for j in (0..fine.grid.len).filter(|&j| stretch.holds(fine.grid.at(j))) {
        let face = carried.at(fine.grid.at(j)) - fine.face[j];
        let below: Vec<f64> = lines.iter().map(|&k| face - fine.all[k][j]).collect();
        let seen = below.iter().filter(|d| d.is_finite());
        let weight = (seen.clone().sum::<f64>() / seen.count().max(1) as f64).abs();
        for (sum, d) in sums.iter_mut().zip(below).filter(|(_, d)| d.is_finite()) {
            *sum = (sum.0 + weight * d, sum.1 + weight);
        }
    }
    sums.into_iter().map(|(sum, weight)| if weight > 0.0 { sum / weight } else { 0.0 }).collect()
}

impl Contested {
    /// Damage all round that was found with the face as it was fitted before, and is not found with it as it is fitted now, stays in doubt:
    /// it is sound within that depth.
    fn doubt<'a>(&mut self, before: impl Iterator<Item = &'a Self>) {
        if self.decided != Decision::UpperLinesSound {
            return;
        }
        let found =
            before.filter(|b| b.decided == Decision::DamageAllRound && overlap(b.stretch, self.stretch));
        let depth = found.filter_map(|b| b.least_depth).map(|(depth, _)| depth).fold(0.0, f64::max);
        self.uncertainty = self.uncertainty.max(depth);
    }
}

/// Two accounts of one depth: the more certain one, but no more certain than they agree.
fn either(a: Option<(f64, f64)>, b: Option<(f64, f64)>) -> Option<(f64, f64)> {
    let (Some(a), Some(b)) = (a, b) else { return a.or(b) };
    let (sure, other) = if a.1 <= b.1 { (a, b) } else { (b, a) };
    let apart = (sure.0 - other.0).abs() / sure.1.hypot(other.1);
    // Up to two standard errors apart is chance.
    let beyond = (apart / 2.0).max(1.0);
    Some((sure.0, sure.1 * beyond))
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

/// Bins in which a line has readings.
fn bins_read(halves: &[Vec<Vec<(f64, f64)>>; 2]) -> usize {
    let [even, odd] = halves;
    even.iter().flatten().zip(odd.iter().flatten()).filter(|(a, b)| a.1 + b.1 > 0.0).count()
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Rounds of the fit that disagree tell it: sound metal that was damage all round before is known within that depth.
    #[test]
    fn what_was_damage_all_round_before_stays_in_doubt() {
        let stretch = Stretch { from: 205.0, to: 212.0 };
        let sound = Contested {
            stretch,
            decided: Decision::UpperLinesSound,
            least_depth: Some((-0.04, 0.02)),
            uncertainty: 0.004,
        };
        let before = |from: f64, decided| Contested {
            stretch: Stretch { from, to: from + 6.0 },
            decided,
            least_depth: Some((0.16, 0.05)),
            uncertainty: 0.05,
        };
        let doubted = |before: Contested| {
            let mut now = sound;
            now.doubt([&before].into_iter());
            now.uncertainty
        };
        let all_round = Decision::DamageAllRound;
        assert!((doubted(before(206.0, all_round)) - 0.16).abs() < 1e-12);
        assert!((doubted(before(150.0, all_round)) - 0.004).abs() < 1e-12);
        assert!((doubted(before(206.0, Decision::UpperLinesSound)) - 0.004).abs() < 1e-12);
    }
}
