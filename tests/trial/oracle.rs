//! The oracle: says by brute force whether a program would do harm. It shares nothing with proof but the job's data types.
//!
//! A small interpreter of its own runs the text; each motion is walked in small steps, and at each step the
//! tool's outline is held against a height field of the wheel on a fine grid of radii. Slow, plain, and
//! hard to get wrong. It judges only what hurts: metal that should have stayed, a rapid in metal, a
//! collision, too deep a bite, too fast a wheel, a cut with the spindle standing or the wrong way round, a cut without a look before.

use facewright::face::Face;
use facewright::geometry::Outline;
use facewright::job::{Job, SpindleTurns, UnitWord, XWords};
use std::collections::BTreeMap;
use std::f64::consts::{PI, TAU};

/// Step of radii and of walks, millimetres; the nose hides 0.0004 mm of a groove between them.
const STEP: f64 = 0.05;

/// Deeper than the sound program by more than this is a gouge (the figure that the tool promises).
const GOUGE: f64 = 0.01;

/// A bite deeper than the deepest of the schedule by more than this is a harm of its own.
const BITE: f64 = 0.05;

/// A touch shallower than this is no cut.
const TOUCH: f64 = 0.005;

/// What a program did.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// The wheel after it.
    pub surface: Vec<f64>,
    /// Harm that needs no comparison.
    pub harm: Vec<&'static str>,
}

/// The oracle for one job.
pub struct Oracle<'a> {
    job: &'a Job,
    start: f64,
    heights: Vec<f64>,
    top: f64,
    bite: f64,
    feed: f64,
}

struct State {
    x: f64,
    z: f64,
    motion: i32,
    scale: f64,
    absolute: bool,
    per_rev: bool,
    feed: f64,
    constant: bool,
    speed: f64,
    limit: f64,
    turning: i32,
    tool: u32,
    looks: u32,
}

impl<'a> Oracle<'a> {
    pub fn new(job: &'a Job, face: &Face) -> Self {
        let start = face.highest.start();
        let count = ((face.highest.end() - start) / STEP).floor() as usize;
        let heights: Vec<f64> = (0..=count).map(|k| face.highest.at(start + STEP * k as f64)).collect();
        let top = heights.iter().copied().fold(f64::MIN, f64::max);
        let rough = job.schedule.rough.as_ref().map_or(0.0, |r| r.depth.as_mm());
        let finish = job.schedule.finish.as_ref().map_or(0.0, |r| r.depth.as_mm());
        // Ten of the feeds that anybody turns an aluminium face with is a thread.
        Self { job, start, heights, top, bite: rough.max(finish) + BITE, feed: 1.0 }
    }

    /// The harm of a program whose sound version leaves `sound`.
    pub fn harm(&self, text: &str, sound: &Outcome) -> Vec<&'static str> {
        let outcome = self.run(text);
        let mut harm = outcome.harm;
        if outcome.surface.iter().zip(&sound.surface).any(|(a, b)| *a < b - GOUGE) {
            harm.push("gouge");
        }
        harm.sort_unstable();
        harm.dedup();
        harm
    }

    /// Runs a program.
    pub fn run(&self, text: &str) -> Outcome {
        let machine = &self.job.machine;
        let inch = matches!(self.job.control.unit_word, UnitWord::G20 | UnitWord::G70);
        let mut s = State {
            x: machine.park_x.as_mm(),
            z: machine.park_z.as_mm(),
            motion: 0,
            scale: if inch { 25.4 } else { 1.0 },
            absolute: true,
            per_rev: false,
            feed: 0.0,
            constant: false,
            speed: 0.0,
            limit: f64::INFINITY,
            turning: 0,
            tool: 0,
            looks: 0,
        };
        let mut wheel = Wheel {
            surface: self.heights.clone(),
            dry: vec![u32::MAX; self.heights.len()],
            harm: Vec::new(),
            cut: false,
        };
        for line in text.lines() {
            let words = words(line);
            self.block(&words, &mut s, &mut wheel);
            if words.iter().any(|&(l, v)| l == 'M' && (v == 2.0 || v == 30.0)) {
                break;
            }
        }
        Outcome { surface: wheel.surface, harm: wheel.harm }
    }

    fn block(&self, words: &[(char, f64)], s: &mut State, wheel: &mut Wheel) {
        let values: BTreeMap<char, f64> =
            words.iter().copied().filter(|w| w.0 != 'G' && w.0 != 'M').collect();
        let has = |letter: char, value: f64| words.contains(&(letter, value));
        let any = |letter: char, of: &[f64]| of.iter().any(|&v| has(letter, v));
        if any('G', &[20.0, 70.0]) {
            s.scale = 25.4;
        }
        if any('G', &[21.0, 71.0]) {
            s.scale = 1.0;
        }
        if any('G', &[94.0, 98.0]) {
            s.per_rev = false;
        }
        if any('G', &[95.0, 99.0]) {
            s.per_rev = true;
        }
        if has('G', 90.0) {
            s.absolute = true;
        }
        if has('G', 91.0) {
            s.absolute = false;
        }
        if let Some(f) = values.get(&'F') {
            s.feed = f * s.scale;
        }
        if has('G', 96.0) {
            s.constant = true;
        }
        if has('G', 97.0) {
            s.constant = false;
        }
        let limits = any('G', &[92.0, 50.0]);
        if let Some(&v) = values.get(&'S') {
            if limits {
                s.limit = v;
            } else {
                s.speed = v;
            }
        }
        if let Some(t) = values.get(&'T') {
            s.tool = if *t >= 100.0 { (t / 100.0).floor() as u32 } else { *t as u32 };
        }
        if has('M', 3.0) {
            s.turning = 1;
        }
        if has('M', 4.0) {
            s.turning = -1;
        }
        if has('M', 5.0) {
            s.turning = 0;
        }
        for k in 0..4 {
            if has('G', f64::from(k)) {
                s.motion = k;
            }
        }
        if !limits {
            self.motion(&values, s, wheel);
        }
        if has('M', 0.0) {
            s.looks += 1;
        }
    }

    fn motion(&self, values: &BTreeMap<char, f64>, s: &mut State, wheel: &mut Wheel) {
        let (x, z) = (values.get(&'X'), values.get(&'Z'));
        if x.is_none() && z.is_none() && !values.contains_key(&'I') && !values.contains_key(&'K') {
            return;
        }
        let half = if self.job.control.x_words == XWords::Diameter { 0.5 } else { 1.0 };
        let place = |now: f64, word: Option<&f64>, factor: f64| {
            word.map_or(now, |v| if s.absolute { v * factor } else { now + v * factor })
        };
        let to = (place(s.x, x, s.scale * half), place(s.z, z, s.scale));
        let from = (s.x, s.z);
        (s.x, s.z) = to;
        if s.motion == 0 {
            // Each axis may be first.
            let low = from.1.min(to.1);
            for (a, b) in [(from, (from.0, low)), ((from.0, low), (to.0, low)), ((to.0, low), to)] {
                self.walk(&straight(a, b), s, wheel);
            }
        } else if s.motion == 1 {
            self.walk(&straight(from, to), s, wheel);
        } else {
            let offset = |l: char| values.get(&l).copied().unwrap_or(0.0) * s.scale;
            // In the plane of Z and X, seen with x to the right and z upward, G03 runs with the clock (ISO 6983-1, from memory).
            let centre = match values.get(&'R') {
                Some(r) => centre_of(from, to, r * s.scale, s.motion == 3),
                None => (from.0 + offset('I'), from.1 + offset('K')),
            };
            self.walk(&round(from, to, centre, s.motion == 3), s, wheel);
        }
    }

    /// Spindle speed with the tool at x.
    fn rpm(&self, s: &State, x: f64) -> f64 {
        if s.turning == 0 {
            0.0
        } else if s.constant {
            (s.speed * 1000.0 * if s.scale > 1.0 { 0.3048 } else { 1.0 } / (TAU * x.abs())).min(s.limit)
        } else {
            s.speed
        }
    }

    fn walk(&self, way: &[(f64, f64)], s: &State, wheel: &mut Wheel) {
        let tool = self.job.tools.iter().find(|t| t.number == s.tool);
        let shape = tool.or(self.job.tools.first()).map(|t| (t.outline(), t.point_offset()));
        let Some((outline, offset)) = shape else { return };
        let fast = self.job.wheel.speed_limit.as_rpm().min(self.job.machine.spindle_limit.as_rpm());
        let right = if self.job.control.spindle_turns == SpindleTurns::M03 { 1 } else { -1 };
        let mut deepest = 0.0_f64;
        for &(px, pz) in way {
            let rpm = self.rpm(s, px);
            if rpm > fast * 1.01 {
                wheel.harm.push("over-speed");
            }
            let (x, z) = (px - offset.0, pz - offset.1);
            for keep in &self.job.keep_out {
                let [a, b] = keep.x.map(|v| v.as_mm());
                if z + outline.height(x.clamp(a, b) - x) < keep.z[1].as_mm() - GOUGE {
                    wheel.harm.push("collision");
                }
            }
            // Off the measured part and clearly below it: a collision with what nobody measured.
            let end = self.start + STEP * (self.heights.len() - 1) as f64;
            let beside = if x < self.start {
                self.heights.first()
            } else if x > end {
                self.heights.last()
            } else {
                None
            };
            if beside.is_some_and(|h| z < h - 1.0) {
                wheel.harm.push("collision");
            }
            self.press(&outline, x, z, s, wheel, &mut deepest);
        }
        if deepest > TOUCH {
            self.judge_cut(deepest, s, right, tool.is_some(), way, wheel);
        }
    }

    fn judge_cut(
        &self,
        bite: f64,
        s: &State,
        right: i32,
        known: bool,
        way: &[(f64, f64)],
        wheel: &mut Wheel,
    ) {
        let harm = &mut wheel.harm;
        if s.motion == 0 {
            harm.push("rapid-in-metal");
        }
        if bite > self.bite {
            harm.push("bite");
        }
        if s.turning == 0 || s.speed <= 0.0 {
            harm.push("spindle-standing");
        } else if s.turning != right {
            harm.push("spindle-wrong-way");
        }
        if !known {
            harm.push("wrong-tool");
        }
        let rpm = way.first().map_or(0.0, |p| self.rpm(s, p.0));
        let feed = if s.per_rev {
            s.feed
        } else if rpm > 0.0 {
            s.feed / rpm
        } else {
            0.0
        };
        if s.motion != 0 && feed > self.feed {
            harm.push("feed");
        }
    }

    /// Presses the tool into the wheel at one place.
    fn press(&self, outline: &Outline, x: f64, z: f64, s: &State, wheel: &mut Wheel, deepest: &mut f64) {
        let last = self.heights.len() as isize - 1;
        if z > self.top + 3.0 {
            return;
        }
        let nearest = ((x - self.start) / STEP).round() as isize;
        let reach = outline.nose_radius + 0.5;
        for side in [-1_isize, 1] {
            let mut k = if side < 0 { nearest } else { nearest + 1 };
            loop {
                let inside = (0..=last).contains(&k);
                let w = self.start + STEP * k as f64 - x;
                let under = z + outline.height(w);
                let near = w.abs() < reach;
                if !near && (under > self.top + 0.01 || w.abs() > 60.0) {
                    break;
                }
                if inside {
                    let i = k as usize;
                    if s.motion != 0 && near && under > wheel.surface[i] && under < wheel.surface[i] + 3.0 {
                        wheel.dry[i] = wheel.dry[i].min(s.looks);
                    }
                    let bite = wheel.surface[i] - under;
                    if bite > 0.0 {
                        if bite > TOUCH && wheel.dry[i] >= s.looks && !wheel.cut {
                            wheel.harm.push("no-look");
                        }
                        if bite > TOUCH && wheel.dry[i] < s.looks {
                            wheel.cut = true;
                        }
                        *deepest = deepest.max(bite);
                        wheel.surface[i] = under;
                    }
                }
                k += side;
            }
        }
    }
}

struct Wheel {
    surface: Vec<f64>,
    /// How many looks (M00) came before the tool first passed above, by radius.
    dry: Vec<u32>,
    harm: Vec<&'static str>,
    cut: bool,
}

/// Letters and numbers of a line, comments left out.
fn words(line: &str) -> Vec<(char, f64)> {
    let mut out = Vec::new();
    let mut chars = line.chars().peekable();
    let mut skip = false;
    while let Some(c) = chars.next() {
        match c {
            '(' => skip = true,
            ')' => skip = false,
            ';' => break,
            _ if skip => {}
            c if c.is_ascii_alphabetic() => {
                let mut number = String::new();
                while let Some(&d) = chars.peek().filter(|d| d.is_ascii_digit() || "+-. ".contains(**d)) {
                    chars.next();
                    if d != ' ' {
                        number.push(d);
                    }
                }
                if let Ok(v) = number.parse() {
                    out.push((c.to_ascii_uppercase(), v));
                }
            }
            _ => {}
        }
    }
    out
}

fn straight(a: (f64, f64), b: (f64, f64)) -> Vec<(f64, f64)> {
    let length = (b.0 - a.0).hypot(b.1 - a.1);
    // A walk from far away need not be walked where there is nothing: steps grow to a hundredth of a long way.
    let n = (length / STEP).ceil().clamp(1.0, 20_000.0);
    (0..=n as usize).map(|k| k as f64 / n).map(|t| (a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1))).collect()
}

fn round(a: (f64, f64), b: (f64, f64), c: (f64, f64), clockwise: bool) -> Vec<(f64, f64)> {
    let angle = |p: (f64, f64)| (p.1 - c.1).atan2(p.0 - c.0);
    let (r, q) = ((a.0 - c.0).hypot(a.1 - c.1), (b.0 - c.0).hypot(b.1 - c.1));
    let sign = if clockwise { -1.0 } else { 1.0 };
    let mut sweep = (sign * (angle(b) - angle(a))).rem_euclid(TAU);
    if sweep < 1e-9 {
        sweep = 2.0 * PI;
    }
    let n = (sweep * r.max(q) / STEP).ceil().clamp(1.0, 20_000.0);
    (0..=n as usize)
        .map(|k| k as f64 / n)
        .map(|t| {
            let (at, radius) = (angle(a) + sign * sweep * t, r + t * (q - r));
            (c.0 + radius * at.cos(), c.1 + radius * at.sin())
        })
        .collect()
}

fn centre_of(a: (f64, f64), b: (f64, f64), r: f64, clockwise: bool) -> (f64, f64) {
    let (dx, dz) = (b.0 - a.0, b.1 - a.1);
    let chord = dx.hypot(dz).max(1e-9);
    let off = (r * r - chord * chord / 4.0).max(0.0).sqrt() * if clockwise == (r > 0.0) { 1.0 } else { -1.0 };
    (f64::midpoint(a.0, b.0) + off * dz / chord, f64::midpoint(a.1, b.1) - off * dx / chord)
}
