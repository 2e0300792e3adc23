//! Spikes, alone and in clusters: the places that no smooth chain through the trace needs.
//!
//! Every place is kept or skipped. Skipping costs [`SKIP`] a place, and up to [`HOP`] more if the trace does not go on
//! at the same height behind what was skipped; a kept place costs up to [`KINK`] by how far it lies off the line
//! between the kept places before and after it, beyond what noise and bends explain. The cheapest chain is found exactly by dynamic programming over pairs of neighbouring kept places (Bellman 1957), in
//! time linear in the number of places: at most [`CLUSTER`] places are skipped at a time, and only near kinks.
//!
//! The costs say what a spike is. A plateau with a jump up and a jump down has four kinks, so it is skipped if it
//! has six places or fewer and kept if it has more: a feature. A cluster of wild heights has a kink
//! at every place and is skipped at any length. A step has two kinks, a lip's corner one: they are kept, since skipping cannot mend them.

use super::robust::{median, off_line};
use crate::geometry::Point;

/// Cost of skipping a place.
const SKIP: f64 = 1.0;

/// Cost of skipping a place at an end of the trace: half, since a cluster there has half the kinks. Nothing behind it
/// tells a cluster from a step, so up to six places beyond a jump go either way, and the trace ends before them.
const SKIP_END: f64 = SKIP / 2.0;

/// Cost of a full kink. A step has two, a plateau four: one of seven places and more is kept as a feature, and six are
/// skipped without a tie.
const KINK: f64 = 1.6;

/// Cost of a skip behind which the trace goes on at another height: a cluster is left as it was entered, and
/// a step cannot be skipped along with a place or two beside it.
const HOP: f64 = 2.5;

/// What is skipped may hide this slope against that of the face around, as rise over run.
const HIDDEN_BEND: f64 = 0.5;

/// Links of neighbouring places whose median slope is taken for that of the face around.
const AROUND: usize = 50;

/// The most places skipped at a time.
const CLUSTER: usize = 20;

/// Offsets up to this many standard deviations are noise: of 10,000 places fewer than one lies farther (normal law).
const NOISE: f64 = 4.0;

/// Change of slope that a face may make from one place to the next, as rise over run: a corner of some 30°.
const BEND: f64 = 0.25;

/// Places farther apart than this, in millimetres, are too sparse to tell a spike from a corner. It takes a dense
/// neighbourhood: a profile drawn by hand has walls of two places close together.
const SPARSE: f64 = 0.6;

/// Links on either side that tell whether a neighbourhood is dense; more than half must be.
const NEIGHBOURS: usize = 5;

/// A kept run this short between two skipped clusters, of which one is longer, is part of what surrounds it.
const LONELY: usize = 3;

/// For each place whether it is a spike. `sigma` is the noise of one place.
pub(super) fn spikes(points: &[Point], sigma: f64) -> Vec<bool> {
    let kink = Kink::new(points, sigma);
    let mut loose = loose_places(points.len(), &kink);
    if !loose.contains(&true) {
        return loose;
    }
    let kept = cheapest_chain(points.len(), &loose, &kink);
    for (i, skipped) in loose.iter_mut().enumerate() {
        *skipped &= kept.binary_search(&i).is_err();
    }
    join_over_lonely(&mut loose);
    loose
}

struct Kink<'a> {
    points: &'a [Point],
    /// For each place the distance to the nearer of its neighbours, where they are dense enough to tell: skipping others
    /// must not soften its kink.
    near: Vec<Option<f64>>,
    /// The slope of the face around, by stretches of [`AROUND`] places.
    slopes: Vec<f64>,
    sigma: f64,
}

impl<'a> Kink<'a> {
    fn new(points: &'a [Point], sigma: f64) -> Self {
        let steps: Vec<f64> = points.windows(2).map(|w| w[1].x - w[0].x).collect();
        let step = |i: usize| steps.get(i).copied().unwrap_or(f64::INFINITY);
        let near = (0..points.len())
            .map(|i| {
                let around = steps.get(i.saturating_sub(NEIGHBOURS)..(i + NEIGHBOURS).min(steps.len()));
                let links = around.unwrap_or_default();
                let dense = 2 * links.iter().filter(|&&s| s <= SPARSE).count() > links.len();
                dense.then(|| i.checked_sub(1).map_or(f64::INFINITY, step).min(step(i)))
            })
            .collect();
        let slopes = points
            .chunks(AROUND)
            .map(|part| {
                let mut all: Vec<f64> =
                    part.windows(2).map(|w| (w[1].z - w[0].z) / (w[1].x - w[0].x)).collect();
                median(&mut all).unwrap_or(0.0)
            })
            .collect();
        Self { points, near, slopes, sigma }
    }

    /// What skipping all places between `i` and `j` costs.
    fn hop(&self, i: usize, j: usize) -> f64 {
        let skipped = j - i - 1;
        let (Some(a), Some(b)) = (self.points.get(i), self.points.get(j)) else { return 0.0 };
        if skipped == 0 {
            return 0.0;
        }
        let slope = self.slopes.get(i / AROUND).copied().unwrap_or(0.0);
        let dx = b.x - a.x;
        let off = (b.z - a.z - slope * dx).abs();
        SKIP * skipped as f64
            + HOP * over(off, NOISE * std::f64::consts::SQRT_2 * self.sigma + HIDDEN_BEND * dx)
    }

    /// What keeping `j` costs between the kept places `i` and `k`.
    fn cost(&self, i: usize, j: usize, k: usize) -> f64 {
        let (Some(&a), Some(&b), Some(&c), Some(&Some(near))) =
            (self.points.get(i), self.points.get(j), self.points.get(k), self.near.get(j))
        else {
            return 0.0;
        };
        let (off, factor) = off_line(a, b, c);
        let allowed = NOISE * factor * self.sigma + BEND * near;
        KINK * over(off.abs(), allowed)
    }
}

/// How far a value exceeds what is allowed: nothing up to it, one from twice as much.
fn over(value: f64, allowed: f64) -> f64 {
    ((value - allowed) / allowed).clamp(0.0, 1.0)
}

/// The places that may be skipped: those within half a cluster of a kink.
fn loose_places(n: usize, kink: &Kink) -> Vec<bool> {
    let mut loose = vec![false; n];
    for j in 1..n.saturating_sub(1) {
        if kink.cost(j - 1, j, j + 1) > 0.0 {
            let to = (j + CLUSTER / 2 + 1).min(n);
            if let Some(around) = loose.get_mut(j.saturating_sub(CLUSTER / 2)..to) {
                around.fill(true);
            }
        }
    }
    loose
}

/// One way to have come to a place: the kept place before it, and the cheapest chain that ends with the two.
#[derive(Clone, Copy)]
struct Way {
    /// The kept place before; the place itself at the start of the chain.
    before: usize,
    cost: f64,
    /// Which of the ways to `before` it goes on from.
    from: usize,
}

/// The kept places of the cheapest chain.
fn cheapest_chain(n: usize, loose: &[bool], kink: &Kink) -> Vec<usize> {
    // How many loose places stand directly before each place: no more can be skipped.
    let mut run = 0;
    let skippable: Vec<usize> = loose
        .iter()
        .map(|&l| {
            let before = run;
            run = if l { run + 1 } else { 0 };
            before.min(CLUSTER)
        })
        .collect();
    let mut ways: Vec<Vec<Way>> = Vec::with_capacity(n);
    for (j, &most) in skippable.iter().enumerate() {
        let mut here = Vec::with_capacity(most + 1);
        if most >= j {
            here.push(Way { before: j, cost: SKIP_END * j as f64, from: 0 });
        }
        for i in (j.saturating_sub(most + 1)..j).rev() {
            let hop = kink.hop(i, j);
            let best = ways.get(i).into_iter().flatten().enumerate().map(|(w, way)| {
                let bend = if way.before == i { 0.0 } else { kink.cost(way.before, i, j) };
                (way.cost + bend + hop, w)
            });
            if let Some((cost, from)) = best.min_by(|a, b| a.0.total_cmp(&b.0)) {
                here.push(Way { before: i, cost, from });
            }
        }
        ways.push(here);
    }
    read_back(&ways, run.min(CLUSTER))
}

/// Follows the cheapest chain back from the end, where at most `most` places are skipped.
fn read_back(ways: &[Vec<Way>], most: usize) -> Vec<usize> {
    let n = ways.len();
    let ends = (n.saturating_sub(most + 1)..n).rev().flat_map(|j| {
        let skipped = SKIP_END * (n - 1 - j) as f64;
        let of_end = move |(w, way): (usize, &Way)| (way.cost + skipped, j, w);
        ways.get(j).into_iter().flatten().enumerate().map(of_end)
    });
    let mut kept = Vec::new();
    let mut at = ends.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, j, w)| (j, w));
    while let Some((j, w)) = at {
        kept.push(j);
        at = ways
            .get(j)
            .and_then(|ways| ways.get(w))
            .filter(|way| way.before != j)
            .map(|way| (way.before, way.from));
    }
    kept.reverse();
    kept
}

/// Skips short kept runs between clusters that are longer: what is left of a stretch that the sensor saw nothing of.
fn join_over_lonely(skipped: &mut [bool]) {
    let mut runs: Vec<(bool, usize, usize)> = Vec::new();
    for (i, &s) in skipped.iter().enumerate() {
        match runs.last_mut() {
            Some((kind, _, to)) if *kind == s => *to = i + 1,
            _ => runs.push((s, i, i + 1)),
        }
    }
    for w in runs.windows(3) {
        let [(true, a, b), (false, from, to), (true, c, d)] = *w else { continue };
        if to - from <= LONELY
            && (b - a > LONELY || d - c > LONELY)
            && let Some(lonely) = skipped.get_mut(from..to)
        {
            lonely.fill(true);
        }
    }
}
