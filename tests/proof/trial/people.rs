//! The other judges of a program: the hand at the machine, what its comments tell, and the transfer.
//!
//! A second small reading of the words, which shares nothing with proof but the job's data types. It follows what the oracle of the wheel does not:
//! when the spindle turns and the coolant runs, where the tool stands when the program stops, ends or changes tools, which stops and waits
//! stand between two starts of the spindle, and the block behind each comment.

use super::walk::words;
use facewright::job::{Comments, DwellWord, Job, SpindleTurns, Stops, ToolWord, UnitWord, WayHome, XWords};
use std::collections::BTreeSet;

/// How far before the park, or the reference point, a tool may stand: programmed points lie beside it.
const NEAR: f64 = 5.0;

/// What may come to harm, and the findings that bear on it.
pub const BEARING: &[(&str, &[&str])] = &[
    ("turning at a stop", &["stop-while-turning", "spindle-left-on"]),
    ("turning at a change", &["change-while-turning"]),
    ("coolant at a stop", &["stop-with-coolant", "coolant-left-on"]),
    ("stop over the wheel", &["stop-away-from-park", "end-away-from-park", "end-away-from-home"]),
    ("change over the wheel", &["change-away-from-park", "change-away-from-home"]),
    (
        "stop lost",
        // A stop of the spindle that moved into a pass ends it there, as these words are read here.
        &[
            "no-stop-between",
            "no-stop-after-air",
            "tool-not-touched-off",
            "first-turn",
            "no-air-pass",
            "spindle-off",
            "second-program",
        ],
    ),
    (
        "not touched off",
        // Behind an end that is read as one nothing is proved.
        &["tool-not-touched-off", "no-air-pass", "no-stop-after-air", "other-tool", "tool-form", "after-end"],
    ),
    ("first turn", &["first-turn", "no-first-turn", "no-speed"]),
    ("no wait", &["no-wait", "other-dwell"]),
    (
        "told otherwise",
        &[
            "text-changed",
            "no-head",
            "other-wheel",
            "open-comment",
            "comment-form",
            // Comments of a second program behind the first, or lost with the end.
            "after-end",
            "second-program",
            "no-end",
        ],
    ),
    ("cut short", &["no-end"]),
    ("two programs", &["after-end", "second-program"]),
    ("garbled", &["unreadable", "unknown-word", "comment-character", "open-comment", "missing-word"]),
];

/// The findings that bear on a harm.
pub fn bearing(harm: &str) -> &'static [&'static str] {
    BEARING.iter().find(|(h, _)| *h == harm).map_or(&[], |(_, rules)| rules)
}

/// What a program would do to people, a fault or two away from the sound one.
pub fn harms(text: &str, sound: &str, job: &Job, later_part: bool) -> Vec<&'static str> {
    let mut harms = BTreeSet::new();
    for left_out in [false, true] {
        let mut follower = Follower::new(job, later_part);
        let mut begun = false;
        for line in text.lines().map(clean) {
            // The second mark ends the tape: what stands behind it is not read.
            let reads = !words(code(line, job)).is_empty();
            if line == "%" && begun && job.control.tape_marks && !follower.ended {
                follower.harms.insert("cut short");
                follower.ended = true;
            }
            begun |= reads;
            let skips = line.trim_start().starts_with('/');
            if !(follower.ended || skips && left_out) {
                follower.line(line);
            } else if follower.ended && reads {
                follower.harms.insert("two programs");
            }
        }
        if !follower.ended {
            follower.harms.insert("cut short");
        }
        harms.append(&mut follower.harms);
    }
    let strange = |c: char| !c.is_ascii() || c.is_ascii_control() && c != '\t';
    if text.lines().any(|l| code(clean(l), job).contains(strange)) {
        harms.insert("garbled");
    }
    // Only a head can tell that its comments were changed.
    if sound.contains("CHECKSUM") && told(text, job) != told(sound, job) {
        harms.insert("told otherwise");
    }
    harms.into_iter().collect()
}

/// The words of a line: what stands before a semicolon, where the control reads comments behind one.
fn code<'a>(line: &'a str, job: &Job) -> &'a str {
    let semicolons = job.control.traits.comments == Comments::Semicolon;
    let ends = |c: char| c == '(' || semicolons && c == ';';
    line.split(ends).next().unwrap_or_default()
}

/// A line without what stands around it: blanks, carriage returns, blank tape and end marks.
fn clean(line: &str) -> &str {
    line.trim_matches(|c: char| c.is_whitespace() || c.is_ascii_control())
}

/// The comments in their order, and the stop, end or tool of a block that stands right behind one.
fn told(text: &str, job: &Job) -> Vec<String> {
    let mut all = Vec::new();
    let mut open = false;
    for line in text.lines().map(clean) {
        let behind = code(line, job);
        let comment = line.get(behind.len()..).unwrap_or_default();
        let said: String = comment.chars().filter(|c| !c.is_whitespace() && !"();%".contains(*c)).collect();
        if !said.is_empty() && !said.starts_with("CHECKSUM") {
            all.push(said);
            open = true;
        }
        let words = words(behind);
        if words.is_empty() || !open {
            continue;
        }
        open = false;
        let optional =
            all.iter().rev().find(|c| !c.starts_with('-')).is_some_and(|c| c.starts_with("OPTIONALSTOP"));
        let number = |letter: char, n: f64| if optional && letter == 'M' && n == 0.0 { 1.0 } else { n };
        let orders = words.iter().filter(|(letter, _)| matches!(letter, 'M' | 'T'));
        let orders: String = orders.map(|&(letter, n)| format!("={letter}{}", number(letter, n))).collect();
        if !orders.is_empty() {
            all.push(orders);
        }
    }
    all
}

/// Which stop a place between two starts of the spindle needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Needs {
    Nothing,
    Any,
    Certain,
}

struct Follower<'a> {
    job: &'a Job,
    harms: BTreeSet<&'static str>,
    turning: i32,
    coolant: bool,
    place: [f64; 2],
    /// Whether the program has moved the tool.
    moved: bool,
    scale: f64,
    motion: f64,
    surface: bool,
    speed: f64,
    tool: u32,
    selected: u32,
    /// Tools that are touched off: the first that is called, and those that the program stopped for.
    touched: BTreeSet<u32>,
    /// Runs of the spindle at feed that the tool in force has made.
    runs: u32,
    /// Since the spindle started: seconds waited, whether anything moved, whether at feed.
    waited: f64,
    moves: bool,
    fed: bool,
    /// What must stand before the next start, and what stood.
    needs: Needs,
    stood: Needs,
    starts: u32,
    later_part: bool,
    ended: bool,
}

impl<'a> Follower<'a> {
    fn new(job: &'a Job, later_part: bool) -> Self {
        let inch = matches!(job.control.unit_word, UnitWord::G20 | UnitWord::G70);
        Self {
            job,
            harms: BTreeSet::new(),
            turning: 0,
            coolant: false,
            place: [job.machine.park_x.as_mm(), job.machine.park_z.as_mm()],
            moved: false,
            scale: if inch { 25.4 } else { 1.0 },
            motion: -1.0,
            surface: false,
            speed: 0.0,
            tool: 0,
            selected: 0,
            touched: BTreeSet::new(),
            runs: 0,
            waited: 0.0,
            moves: false,
            fed: false,
            needs: Needs::Nothing,
            stood: Needs::Nothing,
            starts: 0,
            later_part,
            ended: false,
        }
    }

    fn line(&mut self, line: &str) {
        let words = words(code(line, self.job).trim_start().trim_start_matches('/'));
        let has = |letter: char, n: f64| words.contains(&(letter, n));
        let value = |letter: char| words.iter().find(|w| w.0 == letter).map(|w| w.1);
        if has('G', 20.0) || has('G', 70.0) {
            self.scale = 25.4;
        }
        if has('G', 21.0) || has('G', 71.0) {
            self.scale = 1.0;
        }
        if has('G', 96.0) {
            self.surface = true;
        }
        if has('G', 97.0) {
            self.surface = false;
        }
        if let Some(s) = value('S').filter(|_| !has('G', 92.0) && !has('G', 50.0)) {
            self.speed = s;
        }
        self.tool_words(value('T'), has('M', 6.0));
        for (code, turns) in [(3.0, 1), (4.0, -1), (5.0, 0)] {
            if has('M', code) {
                self.turn(turns);
            }
        }
        if has('M', 7.0) || has('M', 8.0) {
            self.coolant = true;
        }
        if has('M', 9.0) {
            self.coolant = false;
        }
        if has('G', 4.0) {
            let letter = if self.job.machine.spin.dwell == DwellWord::P { 'P' } else { 'X' };
            self.waited += value(letter).unwrap_or(0.0);
        } else if !has('G', 92.0) && !has('G', 50.0) {
            self.motion_words(&words);
        }
        for code in [0.0, 1.0, 2.0, 30.0] {
            if has('M', code) {
                self.stop(code);
            }
        }
    }

    fn tool_words(&mut self, t: Option<f64>, changes: bool) {
        let form = self.job.control.tool_word;
        let number = match form {
            ToolWord::NumberAndOffset | ToolWord::ShortNumberAndOffset => t.map(|t| (t / 100.0) as u32),
            _ => t.map(|t| t as u32),
        };
        if form == ToolWord::NumberAndM06 {
            self.selected = number.unwrap_or(self.selected);
        }
        let called = if form == ToolWord::NumberAndM06 { changes.then_some(self.selected) } else { number };
        let Some(number) = called.filter(|n| *n != 0) else { return };
        let changed = number != self.tool;
        if changed && self.turning != 0 {
            self.harms.insert("turning at a change");
        }
        let machine = &self.job.machine;
        let home = machine
            .reference
            .filter(|_| self.job.control.traits.way_home == WayHome::G28 && changed && self.moved);
        let [x, z] = home.unwrap_or([machine.park_x, machine.park_z]).map(|l| l.as_mm() - NEAR);
        if self.place[0] < x || self.place[1] < z {
            self.harms.insert("change over the wheel");
        }
        if changed {
            self.runs = 0;
            if self.touched.is_empty() {
                self.touched.insert(number);
            }
            self.needs = Needs::Nothing;
        }
        self.tool = number;
    }

    fn turn(&mut self, turns: i32) {
        let spin = &self.job.machine.spin;
        if turns != 0 && self.turning == 0 {
            if let (0, Some(first)) = (self.starts, spin.first) {
                let right = if self.job.control.spindle_turns == SpindleTurns::M03 { 1 } else { -1 };
                if !self.later_part && (turns != right || self.surface || self.speed > first.as_rpm() * 1.01)
                {
                    self.harms.insert("first turn");
                }
            }
            self.starts += 1;
            (self.waited, self.moves) = (0.0, false);
        }
        if turns == 0 {
            let slow = spin.first.filter(|_| self.turning != 0 && self.starts == 1 && !self.later_part);
            if let Some(first) = slow {
                if self.moves || self.waited < 60.0 / first.as_rpm() - 0.05 {
                    self.harms.insert("first turn");
                }
                (self.needs, self.stood) = (Needs::Certain, Needs::Nothing);
            }
            self.end_run();
        }
        self.turning = turns;
    }

    /// A pass ends, if there was one: a stop must follow before the next.
    fn end_run(&mut self) {
        if self.fed {
            self.runs += 1;
            let certain = self.runs == 1 || self.job.control.stops == Stops::Program;
            self.needs = if certain { Needs::Certain } else { Needs::Any };
            (self.fed, self.stood) = (false, Needs::Nothing);
        }
    }

    /// The tool is fed: what had to stop the program before has stopped it.
    fn feed(&mut self) {
        let lacks = match self.needs {
            Needs::Nothing => false,
            Needs::Any => self.stood == Needs::Nothing,
            Needs::Certain => self.stood != Needs::Certain,
        };
        if lacks {
            let turn = self.runs == 0 && self.job.machine.spin.first.is_some();
            self.harms.insert(if turn { "first turn" } else { "stop lost" });
        }
        if self.tool != 0 && !self.touched.contains(&self.tool) {
            self.harms.insert("not touched off");
        }
        self.needs = Needs::Nothing;
        self.fed = true;
    }

    fn motion_words(&mut self, words: &[(char, f64)]) {
        let has = |letter: char, n: f64| words.contains(&(letter, n));
        for code in [0.0, 1.0, 2.0, 3.0] {
            if has('G', code) {
                self.motion = code;
            }
        }
        // Where no word ever said how to move, nothing moves.
        if self.motion < 0.0 && !has('G', 28.0) {
            return;
        }
        let before = self.place;
        for &(letter, n) in words {
            let across = if self.job.control.x_words == XWords::Diameter { 0.5 } else { 1.0 };
            match letter {
                'X' => self.place[0] = n * self.scale * across,
                'Z' => self.place[1] = n * self.scale,
                _ => {}
            }
        }
        if let Some(home) = self.job.machine.reference.filter(|_| has('G', 28.0)) {
            self.place = home.map(|l| l.as_mm());
        }
        if self.place == before {
            return;
        }
        self.moved = true;
        if self.turning != 0 && !self.moves {
            let wait = self.job.machine.spin.up.map_or(0.0, |t| t.as_s());
            let of_turn = self.starts == 1 && self.job.machine.spin.first.is_some() && !self.later_part;
            if self.waited < wait - 0.05 && !of_turn {
                self.harms.insert("no wait");
            }
            self.moves = true;
        }
        if self.motion != 0.0 && !has('G', 28.0) {
            self.feed();
        }
    }

    fn stop(&mut self, code: f64) {
        self.end_run();
        if self.turning != 0 {
            self.harms.insert("turning at a stop");
        }
        if self.coolant {
            self.harms.insert("coolant at a stop");
        }
        let machine = &self.job.machine;
        if self.place[0] < machine.park_x.as_mm() - NEAR || self.place[1] < machine.park_z.as_mm() - NEAR {
            self.harms.insert("stop over the wheel");
        }
        match code {
            0.0 => {
                self.stood = Needs::Certain;
                self.touched.insert(self.tool);
            }
            1.0 if self.stood == Needs::Nothing => self.stood = Needs::Any,
            1.0 => {}
            _ => self.ended = true,
        }
    }
}
