//! A curve through noisy readings, as smooth as they allow: local parabolas whose width the readings choose.
//!
//! At each place the widest window of a ladder is taken whose residuals stay white: no mean of residuals over a short
//! stretch beside the place may exceed what noise makes of it. Where the curve bends sharply a wide window leaves
//! residuals of one sign, and a narrower one is taken. Of the width found a share is used, so that the bias which the test
//! just does not hear is small beside the noise. The width then changes by no more than three quarters of a
//! millimetre a millimetre, so that the curve never jumps. The test of residuals is the idea of O. V. Lepski (1991) turned from
//! differences of estimates to the residuals themselves, which wiggle less on smooth stretches.
//!
//! Where the readings show a corner, two parabolas that meet there may take the curve's place ([`keep_corners`]).
//!
//! At a step the curve is held between the means of the readings beside it, so that it does not swing over.
//!
//! Limits: at an edge rounder than the readings' spacing times the noise allows, the narrowest window rounds it off.

use super::grid::Grid;
use super::kink;
use super::local::{LocalFit, Moments};
use super::order::running_sums;
use rayon::prelude::*;

/// The curve over the places of a grid.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Curve {
    /// Height at each place; not a number where no window carries a parabola.
    pub value: Vec<f64>,
    /// Slope.
    pub slope: Vec<f64>,
    /// Standard error of the height.
    pub error: Vec<f64>,
    /// Half-width of the window.
    pub half_width: Vec<f64>,
}

/// Parabolas are laid on several processors in shares of no fewer than this: a share takes as long as handing it over.
const SIDE_BY_SIDE: usize = 128;
/// The narrowest window's half-width, millimetres: some twenty readings of three lines.
const NARROWEST: f64 = 0.25;
/// From one window of the ladder to the next.
const RUNG: f64 = 1.4;
/// Windows in the ladder: the widest reaches 10 mm, beyond which a face's own shape leaves nothing to gain.
const RUNGS: usize = 12;
/// A mean of residuals beyond so many standard errors is no noise. √(2·ln n) of some three thousand places is 4, which lets a
/// bias of the size of the error pass; at 3 plain stretches begin to be cut short by chance.
const WHITE: f64 = 3.3;
/// The stretches, millimetres, over which residuals are averaged on either side of a place.
const STRETCHES: [f64; 5] = [0.2, 0.4, 0.8, 1.6, 3.2];
/// Share of the widest white window that is taken. The test first hears a bias of about the size of the error. A
/// parabola's bias goes with the fourth power of the width where the window lies level, its variance with the inverse of the
/// width (Fan and Gijbels 1996, 3.2): at this share four tenths of the bias are left for an eighth more of standard error.
const WITHIN_WHITE: f64 = 0.8;
/// How fast the half-width may change along the curve. Below 1 a window never reaches past an edge beside which a narrow one
/// stands; at 0.5 the smooth face within some millimetres of an edge is known a tenth less well, and no edge better.
const STEEPEST: f64 = 0.75;
/// Bins of a window's half-width: more change nothing that shows.
const BINS_A_HALF: f64 = 6.0;

/// The curve through readings of standard deviation `sigma` at weight one.
#[must_use]
pub fn curve(moments: &Moments, sigma: f64) -> Curve {
    let pyramid = Pyramid::new(moments);
    let widths = smooth_widths(&moments.grid, widths(&pyramid, sigma));
    let widths = smooth_widths(&moments.grid, narrowed(&pyramid, widths, sigma));
    let mut curve = evaluate(&pyramid, &widths, sigma);
    hold_within(moments, &mut curve, sigma);
    curve
}

/// Lays the corners that the readings show over the curve through them, which rounds them off: two parabolas that meet take its place.
pub fn keep_corners(moments: &Moments, curve: &mut Curve, sigma: f64) {
    kink::laid_over(moments, curve, sigma);
    hold_within(moments, curve, sigma);
}

/// A window no wider than this, millimetres, stands at an edge, where a parabola may swing beyond the readings.
const EDGE: f64 = 1.0;
/// Bins on either side of a place whose mean it may not leave: with itself three of a usual grid, a few readings.
const BESIDE: usize = 1;

/// At a step a local parabola swings over: some 3 % of the step's height. There the curve is held between the lowest and the
/// highest of the readings' means within its window, each wider by its standard error.
fn hold_within(moments: &Moments, curve: &mut Curve, sigma: f64) {
    let grid = moments.grid;
    let heights = running_sums((0..grid.len).map(|i| moments.residual(i, 0.0, 0.0)));
    let weights = running_sums((0..grid.len).map(|i| moments.weight(i)));
    let mean = |i: usize| {
        let (from, to) = (i.saturating_sub(BESIDE), (i + BESIDE + 1).min(grid.len));
        let over = |of: &[f64]| Some(of.get(to)? - of.get(from)?);
        let (height, weight) = (over(&heights)?, over(&weights)?);
        (weight > 0.5).then(|| (height / weight, sigma / weight.sqrt()))
    };
    for (i, (value, half_width)) in curve.value.iter_mut().zip(&curve.half_width).enumerate() {
        if !value.is_finite() || *half_width > EDGE {
            continue;
        }
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few places")]
        let reach = (half_width / grid.step).ceil() as usize;
        let bounds = |places: std::ops::Range<usize>| {
            let means = places.filter_map(mean);
            let found = means.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (mean, error)| {
                (low.min(mean - error), high.max(mean + error))
            });
            (found.0 <= found.1).then_some(found)
        };
        // Means on one side alone hold nothing between them: on a slope the curve runs on beyond them.
        let before = bounds(i.saturating_sub(reach)..i + 1);
        let after = bounds(i..(i + reach + 1).min(grid.len));
        if let (Some(before), Some(after)) = (before, after) {
            *value = value.clamp(before.0.min(after.0), before.1.max(after.1));
        }
    }
}

/// Heights and slopes through the same readings at one width everywhere, without their errors; not numbers where no
/// window carries a parabola.
#[must_use]
pub fn at_one_width(moments: &Moments, half_width: f64) -> (Vec<f64>, Vec<f64>) {
    let grid = moments.grid;
    let coarse;
    let moments = if grid.step * 2.0 * LEAST_BINS_A_HALF <= half_width {
        coarse = moments.coarser();
        &coarse
    } else {
        moments
    };
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few places")]
    let places = ((half_width / NODES_A_HALF / grid.step).round() as usize).max(1);
    // Too few readings for the window: the next wider that has enough, or a wild reading there would be judged by nothing.
    let wider = || std::iter::successors(Some(half_width), |h| (h * RUNG < widest()).then_some(h * RUNG));
    let node = |i: usize| wider().find_map(|h| moments.fit(grid.at(i * places), h));
    let (mut values, mut slopes) = (Vec::with_capacity(grid.len), Vec::with_capacity(grid.len));
    let step = grid.step * places as f64;
    let count = grid.len.div_ceil(places);
    let nodes: Vec<Option<LocalFit>> =
        (0..count + 1).into_par_iter().with_min_len(SIDE_BY_SIDE).map(node).collect();
    for (i, pair) in nodes.windows(2).enumerate() {
        let &[here, next] = pair else { continue };
        for n in 0..places.min(grid.len - i * places) {
            let u = n as f64 / places as f64;
            let (value, slope) = between(here, next, u, step);
            values.push(value);
            slopes.push(slope);
        }
    }
    (values, slopes)
}

/// Parabolas of one width are laid this share of it apart: between them the cubic is off by far less than they are.
const NODES_A_HALF: f64 = 2.5;
/// Bins of the half of a window that weighs single readings only.
const LEAST_BINS_A_HALF: f64 = 3.0;

/// The same readings in ever wider bins.
struct Pyramid {
    levels: Vec<Moments>,
}

impl Pyramid {
    fn new(moments: &Moments) -> Self {
        let mut levels = vec![moments.clone()];
        while let Some(last) = levels.last().filter(|l| l.grid.step * 2.0 * BINS_A_HALF <= widest()) {
            let next = last.coarser();
            levels.push(next);
        }
        Self { levels }
    }

    /// The coarsest bins that are fine enough for a window.
    fn level(&self, half_width: f64) -> Option<&Moments> {
        let fine = self.levels.iter().take_while(|l| l.grid.step * BINS_A_HALF <= half_width).count();
        self.levels.get(fine.saturating_sub(1))
    }
}

fn half_width(rung: usize) -> f64 {
    (0..rung).fold(NARROWEST, |h, _| h * RUNG)
}

fn widest() -> f64 {
    half_width(RUNGS - 1)
}

/// The widest window at each place whose residuals stay white.
fn widths(pyramid: &Pyramid, sigma: f64) -> Vec<f64> {
    let Some(fine) = pyramid.levels.first() else { return Vec::new() };
    let n = fine.grid.len;
    let mut widths = vec![f64::NAN; n];
    // Weights summed up to each place, for the means below.
    let weights = running_sums((0..n).map(|i| fine.weight(i)));
    let mut open: Vec<bool> = vec![true; n];
    let stretches = stretches(fine.grid.step);
    for rung in (0..RUNGS).rev() {
        let h = half_width(rung);
        let Some(level) = pyramid.level(h) else { continue };
        let near = near_open(&open, fine.grid.step, level.grid.step);
        let nodes: Vec<Option<LocalFit>> = (0..level.grid.len)
            .into_par_iter()
            .with_min_len(SIDE_BY_SIDE)
            .map(|i| near.get(i).copied().unwrap_or(false).then(|| level.fit(level.grid.at(i), h)).flatten())
            .collect();
        let at: Vec<(f64, f64)> = (0..n).map(between_nodes(&fine.grid, &level.grid, &nodes)).collect();
        let left = running_sums(at.iter().enumerate().map(|(i, &(value, slope))| {
            if value.is_finite() { fine.residual(i, value, slope) } else { 0.0 }
        }));
        for ((i, (value, _)), (open, width)) in at.iter().enumerate().zip(open.iter_mut().zip(&mut widths)) {
            if *open && value.is_finite() && is_white(&left, &weights, i, &stretches, sigma) {
                (*open, *width) = (false, (WITHIN_WHITE * h).max(NARROWEST));
            }
        }
        if !open.contains(&true) {
            break;
        }
    }
    // Where not even the narrowest window leaves white residuals, the narrowest it is.
    widths.iter_mut().filter(|w| w.is_nan()).for_each(|w| *w = NARROWEST);
    widths
}

/// Which nodes of a coarse grid lie near an open place: the tests look as far as the longest stretch.
fn near_open(open: &[bool], fine: f64, coarse: f64) -> Vec<bool> {
    let reach = STRETCHES.iter().copied().fold(0.0, f64::max) + 2.0 * coarse;
    let count = running_sums(open.iter().map(|&o| f64::from(u8::from(o))));
    let nodes = (open.len() as f64 * fine / coarse).ceil();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "places of a grid, clamped to it"
    )]
    let index = |x: f64| (x / fine).max(0.0) as usize;
    (0..index(nodes * fine))
        .map(|i| (i as f64 + 0.5) * coarse)
        .map(|x| {
            let (from, to) = (index(x - reach).min(open.len()), index(x + reach).min(open.len()));
            count.get(to) != count.get(from)
        })
        .collect()
}

/// Value and slope at the fine places by cubics between nodes.
fn between_nodes<'a>(
    fine: &'a Grid,
    coarse: &'a Grid,
    nodes: &'a [Option<LocalFit>],
) -> impl Fn(usize) -> (f64, f64) + 'a {
    move |i| {
        let t = ((fine.at(i) - coarse.start) / coarse.step).clamp(0.0, nodes.len().saturating_sub(1) as f64);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped between the ends"
        )]
        let node = t as usize;
        let u = (fine.at(i) - coarse.at(node)) / coarse.step;
        let here = nodes.get(node).copied().flatten();
        let next = nodes.get(node + 1).copied().flatten();
        between(here, next, u, coarse.step)
    }
}

/// Value and slope a share `u` of the way from one node to the next.
fn between(here: Option<LocalFit>, next: Option<LocalFit>, u: f64, step: f64) -> (f64, f64) {
    match (here, next) {
        (Some(a), Some(b)) if (0.0..=1.0).contains(&u) => hermite(&a, &b, u, step),
        // Half a bin beyond the last node, or beside a gap: straight on.
        (Some(a), _) => (a.value + a.slope * u * step, a.slope),
        _ => (f64::NAN, f64::NAN),
    }
}

fn hermite(a: &LocalFit, b: &LocalFit, u: f64, step: f64) -> (f64, f64) {
    let (m0, m1, rise) = (a.slope * step, b.slope * step, b.value - a.value);
    let (c2, c3) = (3.0 * rise - 2.0 * m0 - m1, m0 + m1 - 2.0 * rise);
    (a.value + u * (m0 + u * (c2 + u * c3)), (m0 + u * (2.0 * c2 + 3.0 * u * c3)) / step)
}

fn is_white(left: &[f64], weights: &[f64], i: usize, stretches: &[usize], sigma: f64) -> bool {
    let within = |from: usize, to: usize| {
        let difference = |of: &[f64]| Some(of.get(to)? - of.get(from)?);
        let (Some(sum), Some(weight)) = (difference(left), difference(weights)) else { return true };
        // |mean| ≤ WHITE·σ/√weight, multiplied out.
        sum * sum <= WHITE * WHITE * sigma * sigma * weight
    };
    let end = left.len().saturating_sub(1);
    stretches
        .iter()
        .all(|bins| within(i.saturating_sub(*bins), (i + 1).min(end)) && within(i, (i + 1 + bins).min(end)))
}

/// The stretches over which residuals are averaged, in places.
fn stretches(step: f64) -> [usize; STRETCHES.len()] {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few places")]
    STRETCHES.map(|stretch| (stretch / step).round() as usize)
}

/// At an edge a window is narrowed where one narrower by [`NARROWER`] says something else beyond so many standard errors of what
/// they differ by: the test of the residuals hears a corner only where it reaches far, and at one the curvature jumps, so that the
/// bias goes with the square of the width alone. One in a hundred places is narrowed by chance, for a quarter more of noise.
const CORNER: f64 = 2.5;

/// The widths with windows at edges narrowed to what corners allow (Lepski's comparison, 1991).
fn narrowed(pyramid: &Pyramid, mut widths: Vec<f64>, sigma: f64) -> Vec<f64> {
    let Some(fine) = pyramid.levels.first() else { return widths };
    let least = LEAST_BINS_A_HALF * fine.grid.step;
    let narrow = |(i, width): (usize, &mut f64)| {
        let fit = |h: f64| pyramid.level(h).and_then(|level| level.fit(fine.grid.at(i), h));
        while let (Some(wide), Some(narrow)) = (fit(*width), fit(*width / NARROWER)) {
            let noise = sigma * sigma * (narrow.variance - wide.variance).max(0.0);
            let differs = (wide.value - narrow.value).powi(2) > CORNER * CORNER * noise;
            if !differs || *width / NARROWER < least {
                break;
            }
            *width /= NARROWER;
        }
    };
    let all = widths.par_iter_mut().enumerate().with_min_len(SIDE_BY_SIDE);
    all.filter(|(_, width)| **width < EDGE).for_each(narrow);
    widths
}

/// The largest widths below the given ones that change no faster than allowed.
fn smooth_widths(grid: &Grid, mut widths: Vec<f64>) -> Vec<f64> {
    let most = STEEPEST * grid.step;
    let mut last = f64::INFINITY;
    for w in &mut widths {
        *w = w.min(last + most);
        last = *w;
    }
    last = f64::INFINITY;
    for w in widths.iter_mut().rev() {
        *w = w.min(last + most);
        last = *w;
    }
    widths
}

/// Local parabolas are laid at stations a share of their width apart; between stations the curve is a cubic.
const STATIONS_A_HALF: f64 = 4.0;

/// A window narrower by this factor has a quarter of the bias, by which the bias of the wide one is told: of the third
/// order in the width, and 1.6³ = 4.
const NARROWER: f64 = 1.6;
/// The mean square of so many differences on either side tells the bias at a station: one alone is mostly noise.
const BIAS_STATIONS: usize = 6;

/// A local parabola, its width, and what a narrower one says.
#[derive(Clone, Copy)]
struct Station {
    place: usize,
    half_width: f64,
    fit: Option<LocalFit>,
    /// Square of the difference to a narrower window, less what noise makes of it.
    excess: f64,
}

fn evaluate(pyramid: &Pyramid, widths: &[f64], sigma: f64) -> Curve {
    let Some(fine) = pyramid.levels.first() else { return Curve::default() };
    let stations = stations(pyramid, fine.grid, widths, sigma);
    let bias: Vec<f64> = (0..stations.len())
        .map(|i| {
            let near =
                stations.get(i.saturating_sub(BIAS_STATIONS)..(i + BIAS_STATIONS + 1).min(stations.len()));
            let near = near.unwrap_or(&[]);
            let mean = near.iter().map(|s| s.excess).sum::<f64>() / near.len().max(1) as f64;
            mean.max(0.0) * (NARROWER.powi(3) / (NARROWER.powi(3) - 1.0)).powi(2)
        })
        .collect();
    let mut curve = Curve::default();
    for (i, here) in stations.iter().enumerate() {
        let after = stations.get(i + 1);
        let next = after.map_or(fine.grid.len, |s| s.place);
        let (bias_here, bias_after) =
            (bias.get(i).copied().unwrap_or(0.0), bias.get(i + 1).copied().unwrap_or(0.0));
        for n in 0..next - here.place {
            let u = n as f64 / (next - here.place) as f64;
            let step = (next - here.place) as f64 * fine.grid.step;
            let between = |a: f64, b: f64| a + (b - a) * u;
            let (value, slope, variance) = match (here.fit, after.and_then(|s| s.fit)) {
                (Some(a), _) if n == 0 => (a.value, a.slope, sigma * sigma * a.variance + bias_here),
                (Some(a), Some(b)) => {
                    let (value, slope) = hermite(&a, &b, u, step);
                    let noise = sigma * sigma * between(a.variance, b.variance);
                    (value, slope, noise + between(bias_here, bias_after))
                }
                _ => (f64::NAN, f64::NAN, f64::NAN),
            };
            curve.value.push(value);
            curve.slope.push(slope);
            curve.error.push(variance.sqrt());
            curve.half_width.push(after.map_or(here.half_width, |s| between(here.half_width, s.half_width)));
        }
    }
    curve
}

/// Local parabolas a share of their width apart, from the first place to the last.
fn stations(pyramid: &Pyramid, grid: Grid, widths: &[f64], sigma: f64) -> Vec<Station> {
    let fit = |place: usize, h: f64| pyramid.level(h).and_then(|level| level.fit(grid.at(place), h));
    let station = |place: usize| {
        // Too few readings for the window that would be right: the next wider that has enough.
        let mut h = widths.get(place).copied().unwrap_or(NARROWEST);
        let mut found = fit(place, h);
        while found.is_none() && h < widest() {
            h *= RUNG;
            found = fit(place, h);
        }
        let excess = match (found, fit(place, h / NARROWER)) {
            (Some(wide), Some(narrow)) => {
                let noise = sigma * sigma * (narrow.variance - wide.variance).max(0.0);
                (wide.value - narrow.value).powi(2) - noise
            }
            _ => 0.0,
        };
        Station { place, half_width: h, fit: found, excess }
    };
    let mut out = vec![station(0)];
    while let Some(here) = out.last().copied() {
        let reach = |w: f64| w / STATIONS_A_HALF / grid.step;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few places")]
        let most = reach(here.half_width) as usize;
        // Narrowing widths hold the next station nearer.
        let near = |n: usize| widths.get(here.place + n).is_some_and(|w| n as f64 <= reach(*w));
        let next = here.place + (1..=most).rev().find(|&n| near(n)).unwrap_or(1);
        if next >= grid.len {
            // The last place has a station of its own, so that the curve reaches the end.
            if here.place + 1 < grid.len {
                out.push(station(grid.len - 1));
            }
            break;
        }
        out.push(station(next));
    }
    out
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// Noise without a random generator's crate: sums of twelve steps of a Weyl sequence's fractions, near enough normal.
    pub fn noise(i: usize) -> f64 {
        let mut state = (i as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15).wrapping_add(0x1234_5678_9ABC_DEF1);
        let mut sum = -6.0;
        for _ in 0..12 {
            state ^= state >> 30;
            state = state.wrapping_mul(0xBF58_476D_1CE4_E5B9);
            state ^= state >> 27;
            state = state.wrapping_mul(0x94D0_49BB_1331_11EB);
            state ^= state >> 31;
            sum += (state >> 11) as f64 / (1_u64 << 53) as f64;
        }
        sum
    }

    fn readings(of: impl Fn(f64) -> f64, sigma: f64) -> Moments {
        let grid = Grid { start: 60.0, step: 0.05, len: 2000 };
        let mut moments = Moments::new(grid);
        for i in 0..5000 {
            let x = 60.0 + 99.9 * i as f64 / 5000.0;
            moments.add(x, of(x) + sigma * noise(i), 1.0);
        }
        moments
    }

    #[test]
    fn a_smooth_dish_is_known_to_a_tenth_of_the_noise_and_the_stated_error_is_the_true_one() {
        let dish = |x: f64| {
            -12.0 * (1.0 - (x - 60.0) / 150.0).powf(1.7) + 1.5 * (-((x - 120.0) / 18.0).powi(2)).exp()
        };
        let curve = curve(&readings(dish, 0.01), 0.01);
        let grid = Grid { start: 60.0, step: 0.05, len: 2000 };
        let inner = 40..1960;
        let error = |i: usize| curve.value[i] - dish(grid.at(i));
        let rms = (inner.clone().map(|i| error(i).powi(2)).sum::<f64>() / inner.len() as f64).sqrt();
        let stated = (inner.clone().map(|i| curve.error[i].powi(2)).sum::<f64>() / inner.len() as f64).sqrt();
        assert!(rms < 0.001, "{rms}");
        assert!((0.6..1.5).contains(&(rms / stated)), "{rms} and stated {stated}");
    }

    /// Where a wall 2.7 mm high and 1 mm wide ends, its curvature jumps by 16/mm. The mean over many readings of it tells how the curve is
    /// biased there: by no more than half the standard error of one.
    #[test]
    fn a_corner_is_rounded_by_less_than_the_noise() {
        let wall = |x: f64| {
            let u = (x - 110.0).clamp(0.0, 1.0);
            2.7 * u * u * (3.0 - 2.0 * u)
        };
        let (sigma, trials) = (0.006, 20);
        let grid = Grid { start: 100.0, step: 0.05, len: 400 };
        let mut sums = vec![0.0; grid.len];
        let mut errors = 0.0;
        for trial in 0..trials {
            let mut moments = Moments::new(grid);
            for i in 0..1400 {
                let x = 100.0 + 19.9 * i as f64 / 1400.0;
                moments.add(x, wall(x) + sigma * noise(10_000 * trial + i), 1.0);
            }
            let curve = curve(&moments, sigma);
            for (i, sum) in sums.iter_mut().enumerate() {
                *sum += (curve.value[i] - wall(grid.at(i))) / curve.slope[i].hypot(1.0);
            }
            errors += curve.error[grid.nearest(111.1)] + curve.error[grid.nearest(109.9)];
        }
        let near = |x: f64| (0..grid.len).filter(move |&i| (grid.at(i) - x).abs() < 0.4);
        let bias =
            near(110.0).chain(near(111.0)).map(|i| (sums[i] / trials as f64).abs()).fold(0.0, f64::max);
        let stated = errors / (2.0 * trials as f64);
        println!("bias {bias:.4}, stated {stated:.4}");
        assert!(bias < 0.003, "the corners are rounded by {bias:.4} mm");
    }

    /// Where readings thin out on a wall, their last mean holds nothing beyond it: the curve runs on up the wall.
    #[test]
    fn few_readings_on_a_wall_are_followed_up_it() {
        let wall = |x: f64| 1.4 * (x - 108.0).clamp(0.0, 4.0);
        let grid = Grid { start: 100.0, step: 0.05, len: 400 };
        let mut moments = Moments::new(grid);
        for i in 0..1400 {
            let x = 100.0 + 19.9 * i as f64 / 1400.0;
            let few = (108.8..111.6).contains(&x);
            if !few || i % 17 == 0 {
                moments.add(x, wall(x) + 0.005 * noise(i), if few { 0.37 } else { 1.0 });
            }
        }
        let curve = curve(&moments, 0.005);
        let along_normal = |i: usize| (curve.value[i] - wall(grid.at(i))).abs() / 1.4_f64.hypot(1.0);
        let worst = (grid.nearest(108.6)..grid.nearest(111.4)).map(along_normal).fold(0.0, f64::max);
        assert!(worst < 0.05, "the curve leaves the wall by {worst:.3} mm");
    }

    #[test]
    fn a_wall_is_followed_by_a_narrow_window_and_the_plain_beside_it_by_a_wide_one() {
        let wall = |x: f64| {
            let u = ((x - 110.0) / 1.5).clamp(0.0, 1.0);
            2.0 * u * u * (3.0 - 2.0 * u)
        };
        let curve = curve(&readings(wall, 0.005), 0.005);
        let grid = Grid { start: 60.0, step: 0.05, len: 2000 };
        let along_normal = |i: usize| (curve.value[i] - wall(grid.at(i))).abs() / curve.slope[i].hypot(1.0);
        let worst = (100..1900).map(along_normal).fold(0.0, f64::max);
        assert!(worst < 0.02, "{worst}");
        assert!(curve.half_width[grid.nearest(110.7)] < 1.0);
        assert!(curve.half_width[grid.nearest(90.0)] > 6.0);
    }
}
