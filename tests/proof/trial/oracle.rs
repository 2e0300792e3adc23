//! The oracle: says by brute force whether a program would do harm. It shares nothing with proof but the job's data types.
//!
//! A small interpreter of its own runs the text; each motion is walked in small steps, and at each step the
//! tool's outline is held against a height field of the wheel on a fine grid of radii. Plain, and
//! hard to get wrong. It judges only what hurts: metal that should have stayed, a rapid in metal, a
//! collision, too deep a bite, too fast a wheel, a cut with the spindle standing or the wrong way round, a cut with a tool
//! that did not pass above the place, followed by a look, before.
//!
//! Two things make it quick and change no verdict. A faulty program runs as the sound one does up to the fault, so it
//! begins at a mark left shortly before it. And once the control's state is that of the sound
//! program again and the same lines are still to come, only the stretch of radii where the wheel differs can come out
//! otherwise: the tool is pressed into that alone.

use super::walk::{centre_of, in_fillet, in_zone, round, steep, straight, words};
use facewright::face::Face;
use facewright::geometry::Outline;
use facewright::job::{Job, SpindleTurns, UnitWord, XWords};
use std::collections::BTreeMap;
use std::f64::consts::TAU;
use std::sync::Arc;

/// Step of radii, millimetres: a nose of 0.8 mm hides 0.0016 mm of a groove between them, the same in every run.
const GRID: f64 = 0.1;

/// Step of the table of the tool's outline, millimetres: straight between its points, it is off by 0.0002 mm at most.
const TABLE: f64 = 0.01;

/// How far from the nose centre the tool's outline is looked at, millimetres.
const REACH: f64 = 60.0;

/// Deeper than what was said by more than this is a gouge (the figure that the tool promises).
const GOUGE: f64 = 0.01;

/// What is found of a fillet at the end of a zone of which more goes than the sound program takes: no harm, and counted beside the harms.
pub const FILLET_LOWER: &str = "only a fillet in a zone lower, above the depth of the passes: no harm";

/// A bite deeper than the deepest of the schedule by more than this is a harm of its own.
const BITE: f64 = 0.05;

/// A place that lies this much lower than the sound program leaves it after the same pass is a groove, though a later pass may take it
/// away: half of what a pass may be off by its tolerance.
const GROOVE: f64 = 0.0025;

/// What stands higher than the sound program leaves it by more than this is left standing: a finish pass, which the next program takes beside its own.
const LEFT: f64 = 0.05;

/// A bite deeper than the tool's own pass by more than this is deeper than the schedule.
const OVER: f64 = 0.008;

/// A rapid nearer than the clearance by more than this is near: the steps of walks and radii.
const NEARER: f64 = 0.02;

/// A touch shallower than this is no cut.
const TOUCH: f64 = 0.005;

/// A coarser feed than this, millimetres a turn, is a thread: five of the feeds that anybody turns an aluminium face with.
const COARSE: f64 = 1.0;

/// Lines between the marks at which a run may be taken up.
const EVERY: usize = 8;

/// What the sound program did.
pub struct Sound {
    lines: Vec<String>,
    marks: Vec<Mark>,
    /// What each pass leaves, and the line after it.
    passes: Vec<(usize, Arc<Vec<f64>>)>,
    end: Wheel,
    /// The surface that was said to be left; a sound program may stand above it by its tolerance.
    said: Arc<Vec<f64>>,
    /// How deep it goes in the zones, clear of the fillets at their ends; along the normal where its passes do.
    deepest: f64,
}

impl Sound {
    /// The same, with what was said taken from another program of the same passes that keeps closer to them. Where that one stands higher
    /// the sound one is the nearer.
    pub fn said_by(self, closer: &Self) -> Self {
        let nearer = self.end.surface.iter().zip(closer.end.surface.iter()).map(|(a, b)| a.min(*b));
        Self { said: Arc::new(nearer.collect()), ..self }
    }

    /// Harm it did; a trial begins with a program that does none.
    pub fn harm(&self) -> &[&'static str] {
        &self.end.harm
    }

    /// What stands after the pass that a line belongs to.
    fn left_after(&self, line: usize) -> Option<Arc<Vec<f64>>> {
        self.passes.get(self.passes.partition_point(|p| p.0 <= line)).map(|p| Arc::clone(&p.1))
    }
}

/// What the oracle saw of a program.
pub struct Seen {
    /// What would do harm.
    pub harm: Vec<&'static str>,
    /// Rules of the tool that are broken though nothing comes to harm.
    pub broken: Vec<&'static str>,
}

struct Mark {
    state: State,
    wheel: Wheel,
}

/// A tool as the oracle sees it.
struct Shape {
    number: u32,
    nose: f64,
    offset: (f64, f64),
    /// Heights of the outline from -REACH on.
    heights: Vec<f64>,
}

impl Shape {
    fn height(&self, w: f64) -> f64 {
        let at = ((w + REACH) / TABLE).max(0.0);
        let k = (at as usize).min(self.heights.len() - 2);
        let (a, b) = (self.heights[k], self.heights[k + 1]);
        a + (b - a) * (at - k as f64).min(1.0)
    }
}

/// The oracle for one job.
pub struct Oracle<'a> {
    job: &'a Job,
    start: f64,
    heights: Vec<f64>,
    /// How much higher than along the normal a depth is along the axis, where passes go down along the normal; one where not.
    steep: Vec<f64>,
    /// What stands when the program begins.
    begins: Vec<f64>,
    /// The highest of the face up to a radius, and from it on.
    highest_inside: Vec<f64>,
    highest_outside: Vec<f64>,
    top: f64,
    bite: f64,
    /// Nearer than this the tool must have passed for the air pass to show anything.
    air: f64,
    shapes: Vec<Shape>,
}

#[derive(Debug, Clone, PartialEq)]
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
        let count = ((face.highest.end() - start) / GRID).floor() as usize;
        let heights: Vec<f64> = (0..=count).map(|k| face.highest.at(start + GRID * k as f64)).collect();
        let running = |all: &mut dyn Iterator<Item = &f64>| -> Vec<f64> {
            all.scan(f64::MIN, |top, &h| {
                *top = top.max(h);
                Some(*top)
            })
            .collect()
        };
        let highest_inside = running(&mut heights.iter());
        let mut highest_outside = running(&mut heights.iter().rev());
        highest_outside.reverse();
        let top = heights.iter().copied().fold(f64::MIN, f64::max);
        let rough = job.schedule.rough.as_ref().map_or(0.0, |r| r.depth.as_mm());
        let finish = job.schedule.finish.as_ref().map_or(0.0, |r| r.depth.as_mm());
        let table = |outline: &Outline| {
            let n = (2.0 * REACH / TABLE) as usize;
            (0..=n).map(|k| outline.height(TABLE * k as f64 - REACH)).collect()
        };
        let shapes = job.tools.iter().map(|t| Shape {
            number: t.number,
            nose: t.nose_radius.as_mm(),
            offset: t.point_offset(),
            heights: table(&t.outline()),
        });
        Self {
            job,
            start,
            highest_inside,
            highest_outside,
            steep: steep(job, &heights, GRID),
            begins: heights.clone(),
            heights,
            top,
            bite: rough.max(finish) + BITE,
            air: 2.0 * job.schedule.air.height.as_mm() + 1.0,
            shapes: shapes.collect(),
        }
    }

    /// Lets the program begin with what an earlier part leaves.
    pub fn goes_on_after(&mut self, part: &str) {
        self.begins = self.sound(part).end.surface;
    }

    /// Runs the sound program and keeps what faulty ones begin with.
    pub fn sound(&self, text: &str) -> Sound {
        let lines: Vec<String> = text.lines().map(str::to_owned).collect();
        let (mut s, mut wheel) = self.begin();
        let mut marks = Vec::new();
        let mut passes = Vec::new();
        for (i, line) in lines.iter().enumerate() {
            if words(line).contains(&('G', 0.0)) {
                passes.push((i, Arc::new(wheel.surface.clone())));
            }
            if i % EVERY == 0 {
                marks.push(Mark { state: s.clone(), wheel: wheel.clone() });
            }
            if self.block(&words(line), &mut s, &mut wheel) {
                break;
            }
        }
        passes.push((usize::MAX, Arc::new(wheel.surface.clone())));
        let said = Arc::new(wheel.surface.clone());
        let inside = |k: &usize| in_zone(self.job, self.start + GRID * *k as f64);
        let depth = |k: usize| (self.heights[k] - wheel.surface[k]) / self.steep[k];
        let deepest = (0..self.heights.len()).filter(inside).map(depth).fold(0.0, f64::max);
        Sound { lines, marks, passes, end: wheel, said, deepest }
    }

    /// What a program does, a fault away from the sound one.
    pub fn judge(&self, text: &str, sound: &Sound) -> Seen {
        let lines: Vec<&str> = text.lines().collect();
        let shorter = lines.len().min(sound.lines.len());
        let head = lines.iter().zip(&sound.lines).take_while(|(a, b)| **a == b.as_str()).count();
        let tail =
            lines.iter().rev().zip(sound.lines.iter().rev()).take_while(|(a, b)| **a == b.as_str()).count();
        let tail = tail.min(shorter - head);
        let first = (head / EVERY).min(sound.marks.len() - 1);
        let Mark { state, wheel } = &sound.marks[first];
        let (mut s, mut wheel) = (state.clone(), wheel.clone());
        for (i, line) in lines.iter().enumerate().skip(first * EVERY) {
            let follows = i + tail >= lines.len();
            let twin = if follows { i + sound.lines.len() - lines.len() } else { i.min(head) };
            wheel.due = sound.left_after(twin);
            if wheel.window.is_none() && follows {
                let mark =
                    sound.marks.get(twin / EVERY).filter(|m| twin.is_multiple_of(EVERY) && m.state == s);
                if let Some(mark) = mark {
                    let Some(window) = wheel.differs(&mark.wheel) else { return wheel.seen() };
                    wheel.window = Some(window);
                }
            }
            if self.block(&words(line), &mut s, &mut wheel) {
                break;
            }
        }
        let (low, high) = wheel.window.unwrap_or((0, self.heights.len() - 1));
        let lower = |&k: &usize| wheel.surface[k] < sound.said[k] - GOUGE;
        let (fillet, gouge): (Vec<usize>, Vec<usize>) =
            (low..=high).filter(lower).partition(|&k| self.was_to_go(k, wheel.surface[k], sound));
        if !gouge.is_empty() {
            wheel.harm.push("gouge");
        }
        if !fillet.is_empty() {
            wheel.broken.push(FILLET_LOWER);
        }
        let inside = |k: usize| in_zone(self.job, self.start + GRID * k as f64);
        if (low..=high).any(|k| inside(k) && wheel.surface[k] > sound.end.surface[k] + LEFT) {
            wheel.broken.push("left standing");
        }
        wheel.seen()
    }

    /// Whether what stood over a height was to go: at the ends of a zone the nose leaves a fillet of what the passes go down to, and nobody is told how
    /// high it stands. Where more of it goes, and nothing below the depth of the passes or beside the zone, nothing is gone that should have stayed.
    fn was_to_go(&self, k: usize, height: f64, sound: &Sound) -> bool {
        in_fillet(self.job, self.start + GRID * k as f64)
            && height >= self.heights[k] - sound.deepest * self.steep[k]
    }

    fn begin(&self) -> (State, Wheel) {
        let machine = &self.job.machine;
        let inch = matches!(self.job.control.unit_word, UnitWord::G20 | UnitWord::G70);
        let state = State {
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
        let wheel = Wheel {
            surface: self.begins.clone(),
            dry: vec![u32::MAX; self.heights.len()],
            harm: Vec::new(),
            broken: Vec::new(),
            before: Arc::new(self.begins.clone()),
            due: None,
            window: None,
        };
        (state, wheel)
    }

    /// Carries out a block; true at the program's end.
    fn block(&self, words: &[(char, f64)], s: &mut State, wheel: &mut Wheel) -> bool {
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
        if let Some(&d) = values.get(&'D').filter(|_| has('G', 96.0)) {
            s.limit = d;
        }
        if let Some(t) = values.get(&'T') {
            let tool = if *t >= 100.0 { (t / 100.0).floor() as u32 } else { *t as u32 };
            if tool != s.tool {
                // Another tool is touched off anew, and what the last one showed says nothing of it.
                wheel.dry.fill(u32::MAX);
            }
            s.tool = tool;
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
        // X of a dwell is a time.
        if !limits && !has('G', 4.0) {
            self.motion(&values, s, wheel);
        }
        if has('M', 0.0) {
            s.looks += 1;
        }
        any('M', &[2.0, 30.0])
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
            if *wheel.before != wheel.surface {
                wheel.before = Arc::new(wheel.surface.clone());
            }
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
        let tool = self.shapes.iter().find(|t| t.number == s.tool);
        let Some(shape) = tool.or(self.shapes.first()) else { return };
        let fast = self.job.wheel.speed_limit.as_rpm().min(self.job.machine.spindle_limit.as_rpm());
        let right = if self.job.control.spindle_turns == SpindleTurns::M03 { 1 } else { -1 };
        let mut deepest = 0.0_f64;
        for &(px, pz) in way {
            let rpm = self.rpm(s, px);
            if rpm > fast * 1.01 {
                wheel.harm.push("over-speed");
            }
            let (x, z) = (px - shape.offset.0, pz - shape.offset.1);
            for keep in &self.job.keep_out {
                let [a, b] = keep.radii();
                if z + shape.height(x.clamp(a, b) - x) < keep.top() - GOUGE {
                    wheel.harm.push("collision");
                }
            }
            // Off the measured part and clearly below it: a collision with what nobody measured.
            let end = self.start + GRID * (self.heights.len() - 1) as f64;
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
            if s.motion == 0 && !wheel.broken.contains(&"near") && self.near(shape, x, z, wheel) {
                wheel.broken.push("near");
            }
            self.press(shape, x, z, s, wheel, &mut deepest);
        }
        if deepest > TOUCH {
            self.judge_cut(deepest, s, right, tool.is_some(), way, wheel);
        }
    }

    /// Whether the nose comes nearer to anything than the clearance.
    fn near(&self, shape: &Shape, x: f64, z: f64, wheel: &Wheel) -> bool {
        let least = shape.nose + self.job.machine.clearance.as_mm() - NEARER;
        let centre = (x, z + shape.nose);
        let from_box = |[a, b]: [f64; 2], top: f64| {
            (centre.0 - centre.0.clamp(a, b)).hypot((centre.1 - top).max(0.0)) < least
        };
        let end = self.start + GRID * (self.heights.len() - 1) as f64;
        let beside = |h: Option<&f64>, ring: [f64; 2]| h.is_some_and(|&h| from_box(ring, h));
        if self.job.keep_out.iter().any(|k| from_box(k.radii(), k.top()))
            || beside(self.heights.first(), [f64::NEG_INFINITY, self.start])
            || beside(self.heights.last(), [end, f64::INFINITY])
        {
            return true;
        }
        if centre.1 > self.top + least {
            return false;
        }
        let radius = |k: usize| self.start + GRID * k as f64;
        let first = ((x - least - self.start) / GRID).max(0.0) as usize;
        let ring = (first..wheel.surface.len()).take_while(|&k| radius(k) <= x + least);
        ring.into_iter().any(|k| (radius(k) - centre.0).hypot(wheel.surface[k] - centre.1) < least)
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
        let schedule = &self.job.schedule;
        let rough = schedule.rough.as_ref().map(|p| (&p.tool, p.depth));
        let finish = schedule.finish.as_ref().map(|p| (&p.tool, p.depth));
        let of_tool = |name: &str| self.job.tools.iter().any(|t| t.name == name && t.number == s.tool);
        let own = rough.into_iter().chain(finish).filter(|p| of_tool(p.0)).map(|p| p.1.as_mm());
        if bite > own.fold(0.0, f64::max) + OVER {
            wheel.broken.push("deep bite");
        }
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
        if s.motion != 0 && feed > COARSE {
            harm.push("feed");
        }
    }

    /// Presses the tool into the wheel at one place.
    fn press(&self, shape: &Shape, x: f64, z: f64, s: &State, wheel: &mut Wheel, deepest: &mut f64) {
        if z > self.top + self.air {
            return;
        }
        let (low, high) = wheel.window.unwrap_or((0, self.heights.len() - 1));
        let nearest = ((x - self.start) / GRID).round().clamp(-1e6, 1e6) as isize;
        let reach = shape.nose + 0.5;
        // True while the tool may still meet what lies further out than this radius.
        let mut at = |k: usize, highest: f64| {
            let w = self.start + GRID * k as f64 - x;
            let under = z + shape.height(w);
            let near = w.abs() < reach;
            if !near && (under > highest || w.abs() > REACH) {
                return false;
            }
            if s.motion != 0 && near && under > wheel.surface[k] && under < wheel.surface[k] + self.air {
                wheel.dry[k] = wheel.dry[k].min(s.looks);
            }
            let bite = wheel.surface[k] - under;
            if bite > 0.0 {
                if bite > TOUCH && wheel.dry[k] >= s.looks {
                    wheel.harm.push("no-look");
                }
                *deepest = deepest.max((wheel.before[k] - under) / self.steep[k]);
                if wheel.due.as_ref().is_some_and(|due| under < due[k] - GROOVE)
                    && wheel.broken.last() != Some(&"groove")
                {
                    wheel.broken.push("groove");
                }
                wheel.surface[k] = under;
            }
            true
        };
        let mut k = nearest.min(high as isize);
        while k >= low as isize && at(k as usize, self.highest_inside[k as usize]) {
            k -= 1;
        }
        let mut k = (nearest + 1).max(low as isize);
        while k <= high as isize && at(k as usize, self.highest_outside[k as usize]) {
            k += 1;
        }
    }
}

#[derive(Debug, Clone)]
struct Wheel {
    surface: Vec<f64>,
    /// How many looks (M00) came before the tool in force first passed above, by radius.
    dry: Vec<u32>,
    harm: Vec<&'static str>,
    broken: Vec<&'static str>,
    /// What stood when the tool was last at rapid: a bite is what goes since, however small the steps.
    before: Arc<Vec<f64>>,
    /// What the sound program leaves after the pass that is being cut.
    due: Option<Arc<Vec<f64>>>,
    /// The radii that are still followed; all where none is said.
    window: Option<(usize, usize)>,
}

impl Wheel {
    /// The first and the last radius at which another wheel is not the same.
    fn differs(&self, other: &Self) -> Option<(usize, usize)> {
        let differs = |&k: &usize| {
            self.surface[k] != other.surface[k]
                || self.dry[k] != other.dry[k]
                || self.before[k] != other.before[k]
        };
        let all = 0..self.surface.len();
        Some((all.clone().find(differs)?, all.rev().find(differs)?))
    }

    fn seen(self) -> Seen {
        let sorted = |mut all: Vec<&'static str>| {
            all.sort_unstable();
            all.dedup();
            all
        };
        Seen { harm: sorted(self.harm), broken: sorted(self.broken) }
    }
}
