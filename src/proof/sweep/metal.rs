//! The metal: its height over the radius, and how each group of motions lowers it.
//!
//! The height at a radius is the highest of the turn, so every depth is the metal removed there. Heights are stored at
//! the radii of the measured face and at radii between. Between two radii h apart on a slope θ, a nose of radius r can leave undetected at most
//! `h² / (8·r·cos² θ)` along the normal (the sagitta of the nose's arc); the radii between are chosen so that this
//! stays under [`MOST_HIDDEN`]. Nothing is known outside the measured radii; `hazard` says what is assumed there.

use super::cut::{Contact, LEAST_CUT};
use super::segment::LowestPoint;
use super::tool_shape::{Part, ToolShape};
use super::tree::Tree;
use crate::face::Face;
use crate::geometry::{Point, Profile};
use crate::job::{Job, Step, Zone};

/// The greatest depth that can be missed between neighbouring radii, millimetres: a seventh of the depth beyond which a cut is a gouge.
pub const MOST_HIDDEN: f64 = 0.0005;

/// Distance outside a zone at which its uncut neighbour is checked, millimetres: under the steepest edge in use, 10°, this is 0.006 mm of height.
const BESIDE_ZONE: f64 = 0.001;

/// A tool this far below the metal touches it, millimetres: the rounding of a coordinate computed in f64, and no more.
const ROUNDING: f64 = 1e-6;

/// A pass that lies deeper than was allowed before it by no more than this goes no deeper, millimetres: what coordinates are rounded by on the
/// way through a program's words, and far less than the thinnest pass.
const NO_DEEPER: f64 = 1e-4;

/// The metal at every radius that is checked.
#[derive(Debug)]
pub struct Metal {
    /// The radii, rising.
    pub radii: Vec<f64>,
    /// The measured face: the highest of the turn.
    pub face: Vec<f64>,
    /// The present height.
    pub now: Vec<f64>,
    /// How much more may stand than is taken for sure where a program goes on after others: nothing where it is the first, or the wheel was measured again.
    pub may_stand: Vec<f64>,
    /// Index of the movement that cut the present height; `usize::MAX` where nothing was cut.
    pub by: Vec<usize>,
    /// Depth below the face that is allowed after the passes so far: the sum of the scheduled depths of those that covered this radius.
    pub allowed: Vec<f64>,
    /// The last pass counted in `allowed`.
    counted: Vec<usize>,
    /// Cosine of the steepest slope within the nose's reach.
    pub cosine: Vec<f64>,
    /// Whether the radius lies in a zone.
    pub in_zone: Vec<bool>,
    /// The windows between zones, where no metal is.
    windows: Vec<[f64; 2]>,
    /// In which direction depth is measured.
    pub step: Step,
    /// The pass that cut last, and the deepest that any cut below the face before it, and with it.
    reached: (usize, [f64; 2]),
    /// How far a written path may stand above the exact one.
    tolerance: f64,
}

/// The radii over which the lowest points of a tool are computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RadiusRange {
    /// All that the tool crosses, and all where it reaches below the top of the metal.
    WholeRun,
    /// Only those where it may reach below the top of the metal.
    Metal,
}

/// The lowest points of a tool over neighbouring radii.
#[derive(Debug)]
pub struct LowestPoints {
    /// Index of the first radius.
    pub first: usize,
    /// One point for each radius.
    pub points: Vec<LowestPoint>,
}

impl LowestPoints {
    /// The points with the index of their radius.
    pub fn each(&self) -> impl Iterator<Item = (usize, &LowestPoint)> {
        self.points.iter().enumerate().map(|(i, p)| (self.first + i, p))
    }

    /// The point over the radius of this index; none outside the range.
    #[must_use]
    pub fn at(&self, index: usize) -> Option<&LowestPoint> {
        self.points.get(index.checked_sub(self.first)?)
    }
}

impl Metal {
    /// The metal of a face from which a depth has already been removed.
    #[must_use]
    pub fn new(face: &Face, job: &Job, already: f64) -> Self {
        let finest = job.tools.iter().map(|t| t.nose_radius.as_mm()).fold(f64::INFINITY, f64::min);
        let widest = job.tools.iter().map(|t| t.nose_radius.as_mm()).fold(0.0, f64::max);
        let finest = if finest.is_finite() { finest } else { 1.0 };
        let windows: Vec<[f64; 2]> = job.runs_off.windows_mm().collect();
        let radii = radii(face.follows(), (&job.zones, &windows), finest);
        let heights: Vec<f64> = face.follows().at_each(&radii).collect();
        let step = job.schedule.step;
        let in_zone: Vec<bool> = radii.iter().map(|&u| in_zone(&job.zones, u)).collect();
        let allowed = in_zone.iter().map(|&inside| if inside { already } else { 0.0 }).collect();
        let cosine = cosines(&radii, &heights, &windows, 2.0 * widest);
        let (by, counted) = (vec![usize::MAX; radii.len()], vec![0; radii.len()]);
        let mut metal = Self {
            may_stand: vec![0.0; radii.len()],
            allowed,
            by,
            counted,
            now: Vec::new(),
            face: heights,
            radii,
            cosine,
            in_zone,
            windows,
            step,
            reached: (0, [already; 2]),
            tolerance: job.schedule.tolerance.as_mm(),
        };
        metal.now = metal.lowered(face, &|_| already);
        metal.stand_as_measured(face);
        metal
    }

    /// Lowers the metal to what was really taken, where that was measured and is more: as deep as it stands, a pass may go on.
    fn stand_as_measured(&mut self, face: &Face) {
        let Some(taken) = &face.taken else { return };
        let depths: Vec<f64> = taken.depth.at_each(&self.radii).collect();
        for (i, depth) in depths.into_iter().enumerate().filter(|(i, _)| self.in_zone[*i]) {
            self.now[i] = self.now[i].min(self.face[i] - depth);
            self.allowed[i] = self.allowed[i].max(depth);
            let deepest = self.reached.1[1].max(depth);
            self.reached.1 = [deepest; 2];
        }
    }

    /// The measured face lowered by a depth, which may depend on the radius, everywhere in the zones.
    #[must_use]
    pub fn lowered(&self, face: &Face, depth: &dyn Fn(f64) -> f64) -> Vec<f64> {
        let points = face.follows().points();
        let gone = |i: usize| if self.in_zone[i] { depth(self.radii[i]) } else { 0.0 };
        let low = |i: usize| self.lowered_at(points, (self.radii[i], self.face[i]), gone(i));
        (0..self.len()).map(low).collect()
    }

    /// Heights over all radii lowered by a depth, which may depend on the radius, everywhere in the zones.
    #[must_use]
    pub fn lowered_by(&self, heights: &[f64], depth: &dyn Fn(f64) -> f64) -> Vec<f64> {
        let points: Vec<Point> = self.radii.iter().zip(heights).map(|(&u, &z)| Point::new(u, z)).collect();
        let gone = |i: usize| if self.in_zone[i] { depth(self.radii[i]) } else { 0.0 };
        let low = |(i, p): (usize, &Point)| self.lowered_at(&points, (p.x, p.z), gone(i));
        points.iter().enumerate().map(low).collect()
    }

    /// The most that may stand before the passes of a program so far, over all radii, where these are what its groups have met.
    #[must_use]
    pub fn most_before<'c>(&self, found: &[f64], earlier: impl Iterator<Item = &'c Contact>) -> Vec<f64> {
        Self::after(found.iter().zip(&self.may_stand).map(|(z, more)| z + more).collect(), earlier)
    }

    /// What groups leave of heights over all radii.
    #[must_use]
    pub fn after<'c>(mut heights: Vec<f64>, groups: impl Iterator<Item = &'c Contact>) -> Vec<f64> {
        for (i, point) in groups.flat_map(|contact| contact.lowest.each()) {
            heights[i] = heights[i].min(point.z);
        }
        heights
    }

    /// Whether motions may take what earlier programs may have left.
    #[must_use]
    pub fn may_be_cut(&self, contact: &Contact) -> bool {
        let mut under = contact.lowest.each().zip(&contact.before);
        under.any(|((i, point), before)| before + self.may_stand[i] - point.z > LEAST_CUT)
    }

    /// Number of radii.
    #[must_use]
    pub fn len(&self) -> usize {
        self.radii.len()
    }

    /// The lowest points of a tool that runs along the segments: over all radii it crosses, and wherever it reaches below the top of the metal.
    #[must_use]
    pub fn under(&self, shape: &ToolShape, tree: &Tree, over: RadiusRange) -> LowestPoints {
        let Some((x0, x1, z)) = tree.extent() else { return LowestPoints { first: 0, points: Vec::new() } };
        let top = self.now.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let lowest = z + shape.height(0.0);
        let height = match over {
            // A run above the metal is known wherever the next one may cut, were it with the tool's edge high up a wall.
            RadiusRange::WholeRun => {
                (top - z).max(top - self.now.iter().copied().fold(f64::INFINITY, f64::min))
            }
            RadiusRange::Metal if top > lowest => top - z,
            RadiusRange::Metal => return LowestPoints { first: 0, points: Vec::new() },
        };
        let (inner, outer) = shape.reach_below(height);
        let (mut from, mut to) = (x0 - inner, x1 + outer);
        if over == RadiusRange::WholeRun {
            // The nose's whole width at least.
            from = from.min(x0 - shape.nose_radius());
            to = to.max(x1 + shape.nose_radius());
        }
        let first = self.radii.partition_point(|&u| u < from);
        let last = self.radii.partition_point(|&u| u <= to);
        let points = tree.lowest_each(shape, self.radii.get(first..last).unwrap_or_default());
        LowestPoints { first, points }
    }

    /// Depth of a height below the measured face: along the axis, or the shortest distance where passes are stepped along the normal.
    #[must_use]
    pub fn depth_at(&self, index: usize, z: f64) -> f64 {
        self.depth_below(&self.face, index, z)
    }

    /// How deep a height lies below a surface, of which the heights over all radii are given: along the axis, or the nearest way where passes go down along the normal.
    #[must_use]
    pub fn depth_below(&self, heights: &[f64], index: usize, z: f64) -> f64 {
        let down = heights[index] - z;
        match self.step {
            Step::Normal if down > 0.0 => self.nearest(heights, index, z, down),
            _ => down,
        }
    }

    /// Removes the metal above the points.
    pub fn cut(&mut self, left: &LowestPoints) {
        for (i, point) in left.each() {
            if let Some(now) = self.now.get_mut(i).filter(|now| point.z < **now) {
                *now = point.z;
                self.by[i] = point.movement;
            }
        }
    }

    /// Counts the scheduled depth of a pass that cuts: at every radius that its nose centre crossed within `near` above the metal, where its nose
    /// or edge stood beside that no further above than its depth, and where it removed anything. So a fillet at a zone's end is counted: there
    /// many passes may each remove less than counts as a cut, and the next tool lowers the fillet that they left.
    ///
    /// At the foot of a wall, or over a narrow groove, a nose stands as far above the face as its roundness holds it up, `held_up` at each radius,
    /// and runs there all the same: it counts as high above the metal as that, and a sharper tool may go as deep there as it did elsewhere.
    ///
    /// A group that lies nowhere deeper than was allowed before it, nor than the passes before it reached, counts nothing: it takes what
    /// other noses have left standing. Returns whether it counts.
    pub fn count_pass(
        &mut self,
        contact: &Contact,
        (tool, held_up): (&ToolShape, &[f64]),
        extent: Option<(f64, f64, f64)>,
        pass: usize,
        depth: &dyn Fn(f64) -> f64,
        near: f64,
    ) -> bool {
        let Some((x0, x1, _)) = extent else { return false };
        if self.reached.0 != pass {
            self.reached = (pass, [self.reached.1[1]; 2]);
        }
        let [before, mut now] = self.reached.1;
        let mut deeper = false;
        for (i, point, _) in contact.taken().filter(|t| self.in_zone[t.0]) {
            let depth = self.depth_at(i, point.z);
            now = now.max(depth);
            deeper |= depth > self.allowed[i] + NO_DEEPER || depth > before + self.tolerance;
        }
        self.reached.1 = [before, now];
        if !deeper {
            return false;
        }
        // Beside the ends of its way the nose stands too.
        let (x0, x1) = (x0 - tool.nose_radius(), x1 + tool.nose_radius());
        let covers = |((i, point), before): ((usize, &LowestPoint), &f64)| {
            let above = point.z - before - held_up.get(i).copied().unwrap_or(0.0);
            let beside = tool.part(point.w) != Part::Holder && above <= depth(self.radii[i]);
            let over = x0 <= self.radii[i] && self.radii[i] <= x1 && above <= near || beside;
            let touches = before - point.z > ROUNDING;
            (self.in_zone[i] && (over || touches)).then_some(i)
        };
        let covered: Vec<usize> = contact.lowest.each().zip(&contact.before).filter_map(covers).collect();
        for i in covered {
            for i in self.beside(i, depth) {
                if self.in_zone[i] && self.counted[i] != pass {
                    self.counted[i] = pass;
                    self.allowed[i] += depth(self.radii[i]);
                }
            }
        }
        true
    }

    /// The radii over which a pass at one of them takes metal: along the normal, from the side of what stands beside it too, where the end of an edge
    /// has left a step.
    fn beside(&self, index: usize, depth: &dyn Fn(f64) -> f64) -> std::ops::Range<usize> {
        let u = self.radii[index];
        match self.step {
            Step::Axial => index..index + 1,
            Step::Normal => {
                let reach = depth(u);
                self.radii.partition_point(|&r| r < u - reach)
                    ..self.radii.partition_point(|&r| r <= u + reach)
            }
        }
    }

    /// The height of a surface at `u` lowered by `depth`: moved down, or its lower parallel curve. The walls of windows stay where they are.
    fn lowered_at(&self, surface: &[Point], (u, height): (f64, f64), depth: f64) -> f64 {
        if depth <= 0.0 || self.step == Step::Axial {
            return height - depth;
        }
        let first = surface.partition_point(|p| p.x < u - depth).saturating_sub(1);
        surface
            .windows(2)
            .skip(first)
            .take_while(|pair| pair[0].x <= u + depth)
            .filter(|pair| !in_a_window(&self.windows, [pair[0].x, pair[1].x]))
            .map(|pair| disk_under(pair[0], pair[1], u, depth))
            .fold(height - depth, f64::min)
    }

    /// Whether the radius of this index lies in a window, and not at an edge of it.
    #[must_use]
    pub fn in_window(&self, index: usize) -> bool {
        let inside = |u: &f64| self.windows.iter().any(|[from, to]| from < u && u < to);
        self.radii.get(index).is_some_and(inside)
    }

    /// Distance from a point below a surface, of which the heights are given, to that surface, at most `most`.
    fn nearest(&self, heights: &[f64], index: usize, z: f64, most: f64) -> f64 {
        let point = |i: usize| Point::new(self.radii[i], heights[i]);
        let p = Point::new(self.radii[index], z);
        let mut best = most;
        for step in [-1_isize, 1] {
            let mut i = index;
            while let Some(j) = i.checked_add_signed(step).filter(|&j| j < self.len()) {
                if in_a_window(&self.windows, [self.radii[i], self.radii[j]]) {
                    break;
                }
                best = best.min(to_segment(p, point(i), point(j)));
                if (self.radii[j] - p.x).abs() >= best {
                    break;
                }
                i = j;
            }
        }
        best
    }
}

fn in_zone(zones: &[Zone], u: f64) -> bool {
    zones.iter().any(|zone| zone.from.as_mm() <= u && u <= zone.to.as_mm())
}

/// Whether both radii lie in one window or at its edges.
fn in_a_window(windows: &[[f64; 2]], [a, b]: [f64; 2]) -> bool {
    windows.iter().any(|[from, to]| *from <= a.min(b) && a.max(b) <= *to)
}

/// The radii of the face, the ends of the zones with a neighbour outside each, and radii between.
fn radii(face: &Profile, (zones, windows): (&[Zone], &[[f64; 2]]), nose_radius: f64) -> Vec<f64> {
    let longest = (8.0 * nose_radius * MOST_HIDDEN).sqrt();
    let mut all = vec![face.start()];
    for pair in face.points().windows(2) {
        let [a, b] = pair else { continue };
        // A step of `longest·cos θ` along the radius is one of `longest` along the face.
        let width = b.x - a.x;
        // What falls in a window is no face.
        let length = if in_a_window(windows, [a.x, b.x]) { width } else { a.distance(*b) };
        let parts = (length / longest).ceil().max(1.0);
        let mut k = 1.0;
        while k < parts {
            all.push(a.x + width * (k / parts));
            k += 1.0;
        }
        all.push(b.x);
    }
    for zone in zones {
        let (from, to) = (zone.from.as_mm(), zone.to.as_mm());
        all.extend([from - BESIDE_ZONE, from, to, to + BESIDE_ZONE]);
    }
    all.retain(|&u| face.start() <= u && u <= face.end());
    all.sort_by(f64::total_cmp);
    all.dedup();
    all
}

/// For each radius the cosine of the steepest slope of the face within `reach`.
fn cosines(radii: &[f64], heights: &[f64], windows: &[[f64; 2]], reach: f64) -> Vec<f64> {
    let slope = |(u, z): (&[f64], &[f64])| {
        let wall = in_a_window(windows, [u[0], u[1]]);
        if wall { 0.0 } else { ((z[1] - z[0]) / (u[1] - u[0])).abs() }
    };
    let slopes: Vec<f64> = radii.windows(2).zip(heights.windows(2)).map(slope).collect();
    // Maximum of a sliding window: a queue of falling slopes; a slope is dropped when it leaves the window or a greater one enters.
    let mut queue = std::collections::VecDeque::new();
    let mut entered = 0;
    radii
        .iter()
        .map(|&u| {
            while entered < slopes.len() && radii[entered] <= u + reach {
                while queue.back().is_some_and(|&k: &usize| slopes[k] <= slopes[entered]) {
                    queue.pop_back();
                }
                queue.push_back(entered);
                entered += 1;
            }
            while queue.front().is_some_and(|&k| radii[k + 1] < u - reach) {
                queue.pop_front();
            }
            let steepest = queue.front().map_or(0.0, |&k| slopes[k]);
            1.0 / steepest.hypot(1.0)
        })
        .collect()
}

/// The lowest that a disk of radius `d` reaches over `u` when its centre runs along a segment; infinite where it does not reach `u`.
fn disk_under(a: Point, b: Point, u: f64, d: f64) -> f64 {
    let slope = (b.z - a.z) / (b.x - a.x);
    let under = |v: f64| {
        let v = v.clamp(a.x, b.x);
        let w = v - u;
        if w.abs() > d { f64::INFINITY } else { a.z + slope * (v - a.x) - (d * d - w * w).sqrt() }
    };
    under(u - d * slope / slope.hypot(1.0))
        .min(under(a.x))
        .min(under(b.x))
        .min(under(u - d))
        .min(under(u + d))
}

fn to_segment(p: Point, a: Point, b: Point) -> f64 {
    let (dx, dz) = (b.x - a.x, b.z - a.z);
    let length = dx * dx + dz * dz;
    let t = if length > 0.0 { (((p.x - a.x) * dx + (p.z - a.z) * dz) / length).clamp(0.0, 1.0) } else { 0.0 };
    p.distance(Point::new(a.x + t * dx, a.z + t * dz))
}
