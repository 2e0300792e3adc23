//! Explains every block in one sentence, from the changes and motions that it made.
//!
//! The sentence is made from what the block changed and moved in the simulation, with the block-skip switch off. So it
//! says what the control does, not what the text looks like, and it names the positions that were proved: as radii and heights, in the
//! unit that is in force there, with places enough to hold the program's own words.

use crate::geometry::{Piece, Point, Turn};
use crate::simulate::Simulation;
use crate::simulate::execution::Effect;
use crate::simulate::interpreter::{Event, EventKind};
use crate::simulate::modal::{Compensation, Distance, FeedMode, Motion, Plane, SpindleMode, State, Unit};
use crate::simulate::movement::{Feed, Movement, MovementKind, Spindle};
use crate::simulate::reader::{Block, ProgramRead};

/// The explanation of one block.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Explained {
    /// Line of the program text, counted from 1.
    pub line: usize,
    /// Sequence number, where the block has one.
    pub block: Option<u64>,
    /// What it does, as one line without control characters.
    pub text: String,
}

/// The explanations of all blocks of a program, in order; empty lines are left out.
#[must_use]
pub fn explain(simulation: &Simulation) -> Vec<Explained> {
    let places = Places::of(&simulation.program);
    let blocks = simulation.program.blocks.iter().enumerate();
    let of_block = |(index, block): (usize, &Block)| {
        let effect = simulation.skip_off.effect_of(index)?;
        let text = if effect.before.ended && !block.words.is_empty() {
            "Not run: the program has ended.".to_owned()
        } else {
            let unit = effect.after.unit.unwrap_or(simulation.unit);
            sentence(block, &effect, Quantities { unit, places })
        };
        Some(Explained { line: block.line, block: block.sequence, text })
    };
    blocks.filter_map(of_block).collect()
}

/// Decimal places of a program's words, at most.
#[derive(Debug, Clone, Copy)]
struct Places {
    length: usize,
    feed: usize,
    speed: usize,
}

impl Places {
    fn of(program: &ProgramRead) -> Self {
        let words = || program.blocks.iter().flat_map(|b| &b.words);
        let most = |letters: &[char]| {
            let decimals = words().filter(|w| letters.contains(&w.letter)).map(|w| w.decimals).max();
            // No number is told with more places than a binary one holds.
            usize::try_from(decimals.unwrap_or(0)).map_or(MOST_PLACES, |d| d.min(MOST_PLACES))
        };
        // Half of a diameter has a place more.
        Self {
            length: most(&['X', 'Z', 'U', 'W', 'I', 'K', 'R']) + 1,
            feed: most(&['F']),
            speed: most(&['S']),
        }
    }
}

/// More places than this are rounding alone, in either unit.
const MOST_PLACES: usize = 9;

/// Quantities in the unit that is in force. A number has the places of the words and so many at the least, for words without a point
/// and for what is reckoned; zeros at its end are left out.
#[derive(Debug, Clone, Copy)]
struct Quantities {
    unit: Unit,
    places: Places,
}

impl Quantities {
    /// One of two things: that for millimetres or that for inches.
    const fn of<T: Copy>(self, millimetre: T, inch: T) -> T {
        match self.unit {
            Unit::Millimetre => millimetre,
            Unit::Inch => inch,
        }
    }

    fn length(self, mm: f64) -> String {
        let number = short(mm / self.unit.in_mm(), self.places.length.max(self.of(4, 5)));
        format!("{number} {}", self.of("mm", "in"))
    }

    fn place(self, p: Point) -> String {
        format!("radius {}, height {}", self.length(p.x), self.length(p.z))
    }

    fn feed(self, feed: Feed) -> Option<String> {
        let (mm, least, unit) = match feed {
            Feed::PerRev(f) => (f.as_mm_per_rev(), self.of(4, 6), self.of("mm/rev", "in/rev")),
            Feed::PerMinute(f) => (f.as_mm_per_min(), self.of(2, 3), self.of("mm/min", "in/min")),
            Feed::Missing => return None,
        };
        Some(format!("feed {} {unit}", short(mm / self.unit.in_mm(), self.places.feed.max(least))))
    }

    fn surface_speed(self, mm_per_min: f64) -> String {
        let number = short(mm_per_min / self.unit.surface_in_mm(), self.places.speed.max(1));
        format!("surface speed {number} {}", self.of("m/min", "ft/min"))
    }
}

/// The sentence for one block.
fn sentence(block: &Block, effect: &Effect<'_>, told: Quantities) -> String {
    let Effect { before, after, movements, events, .. } = *effect;
    let mut parts = Vec::new();
    if block.tape_mark {
        parts.push("tape mark: the program begins or ends here".to_owned());
    }
    if let Some(number) = block.number {
        parts.push(format!("program number {number}"));
    }
    modes(before, after, &mut parts);
    speeds(before, after, told, &mut parts);
    for event in events.iter().filter(|e| e.kind != EventKind::End && !is_stop(e)) {
        parts.push(during(event));
    }
    motion(movements, told, &mut parts);
    if movements.is_empty() && names_axes(block) {
        parts.extend(no_motion(block, effect, told));
    }
    for event in events.iter().filter(|e| e.kind == EventKind::End || is_stop(e)) {
        parts.push(during(event));
    }
    if parts.is_empty() && !block.words.is_empty() {
        parts.push("changes nothing".to_owned());
    }
    let mut text = parts.join("; ");
    if let Some(first) = text.chars().next() {
        let rest = text.split_off(first.len_utf8());
        text = first.to_uppercase().collect::<String>() + &rest;
        text.push('.');
    }
    if block.skip.is_some() {
        text.insert_str(0, "Only with the block-skip switch off: ");
    }
    for comment in &block.comments {
        if !text.is_empty() {
            text.push(' ');
        }
        // Control characters are shown, not sent to the terminal.
        text.push_str("Remark: ");
        text.extend(comment.escape_debug());
    }
    text
}

fn names_axes(block: &Block) -> bool {
    block.words.iter().any(|w| matches!(w.letter, 'X' | 'Z' | 'U' | 'W'))
}

/// The sentence for axis words that cause no motion.
fn no_motion(block: &Block, effect: &Effect<'_>, told: Quantities) -> Option<String> {
    let has = |code| block.words.iter().any(|w| w.letter == 'G' && w.code() == Some(code));
    if has(40) {
        None
    } else if has(500) || has(920) {
        Some("moves the zero".to_owned())
    } else if let Some(first) = first_motion(block, effect, told) {
        Some(first)
    } else if effect.from == effect.to && effect.after.known == (true, true) {
        Some(format!("no motion: the tool stands at {}", told.place(effect.to)))
    } else {
        Some("a motion that cannot be told from the words".to_owned())
    }
}

/// The sentence for a motion to a known end before both axes have been stated: its path is not known.
fn first_motion(block: &Block, effect: &Effect<'_>, told: Quantities) -> Option<String> {
    let named = |letter| block.words.iter().any(|w| w.letter == letter);
    let how = match effect.after.motion? {
        Motion::Rapid => "rapid",
        Motion::Line => "feed straight",
        _ => return None,
    };
    let at = effect.to;
    let ends: Vec<String> = [('X', "radius", at.x), ('Z', "height", at.z)]
        .into_iter()
        .filter(|end| named(end.0))
        .map(|(_, name, value)| format!("{name} {}", told.length(value)))
        .collect();
    let first = effect.before.known != (true, true) && !ends.is_empty();
    let ends = ends.join(", ");
    first.then(|| format!("{how} to {ends}, from wherever the tool stands; it is taken to stand at the park"))
}

const fn is_stop(event: &Event) -> bool {
    matches!(event.kind, EventKind::Stop | EventKind::OptionalStop)
}

/// Adds the new value of a mode that changed.
fn changed<T: PartialEq + Copy>(
    before: Option<T>,
    after: Option<T>,
    name: impl Fn(T) -> &'static str,
    parts: &mut Vec<String>,
) {
    if before != after
        && let Some(now) = after
    {
        parts.push(name(now).to_owned());
    }
}

fn modes(before: &State, after: &State, parts: &mut Vec<String>) {
    changed(
        before.plane,
        after.plane,
        |p| match p {
            Plane::Zx => "arcs lie in the turning plane",
            Plane::Xy | Plane::Yz => "arcs lie in a plane that a lathe does not have",
        },
        parts,
    );
    changed(
        before.unit,
        after.unit,
        |u| match u {
            Unit::Millimetre => "lengths in millimetres",
            Unit::Inch => "lengths in inches",
        },
        parts,
    );
    changed(
        before.compensation,
        after.compensation,
        |c| match c {
            Compensation::Off => "cutter compensation off",
            Compensation::Left | Compensation::Right => "cutter compensation on",
        },
        parts,
    );
    changed(
        before.distance,
        after.distance,
        |d| match d {
            Distance::Absolute => "places count from zero",
            Distance::Increments => "places count from where the tool stands",
        },
        parts,
    );
    changed(
        before.feed_mode,
        after.feed_mode,
        |f| match f {
            FeedMode::PerRev => "feed for each revolution",
            FeedMode::PerMinute => "feed for each minute",
        },
        parts,
    );
    changed(
        before.spindle_mode,
        after.spindle_mode,
        |s| match s {
            SpindleMode::Surface => "constant surface speed",
            SpindleMode::Revolutions => "speed in revolutions for each minute",
        },
        parts,
    );
    if before.work_offset != after.work_offset
        && let Some(n) = after.work_offset
    {
        parts.push(format!("work offset G{n}"));
    }
    if before.gear != after.gear
        && let Some(n) = after.gear
    {
        parts.push(format!("gear range M{n}"));
    }
    if let (Some(was), Some(now)) = (before.tool, after.tool)
        && was.number == now.number
        && was.offset != now.offset
    {
        parts.push(format!("offset of tool {} {}", now.number, if now.offset { "in force" } else { "off" }));
    }
    if before.selected != after.selected
        && let Some(n) = after.selected
    {
        parts.push(format!("tool {n} made ready"));
    }
}

fn speeds(before: &State, after: &State, told: Quantities, parts: &mut Vec<String>) {
    if before.limit != after.limit
        && let Some(n) = after.limit
    {
        parts.push(format!("the spindle never turns faster than {n} rpm"));
    }
    if before.speed != after.speed
        && let Some(n) = after.speed
    {
        parts.push(format!("speed {n} rpm"));
    }
    if before.surface != after.surface
        && let Some(v) = after.surface
    {
        parts.push(told.surface_speed(v));
    }
    if before.feed != after.feed {
        parts.extend(told.feed(after.feed()));
    }
}

fn during(event: &Event) -> String {
    match event.kind {
        EventKind::Stop => "stop until the operator goes on".to_owned(),
        EventKind::OptionalStop => "stop if the optional-stop switch is on".to_owned(),
        EventKind::Tool { number: 0 } => "no tool".to_owned(),
        EventKind::Tool { number } => format!("tool {number}"),
        EventKind::Dwell { time, .. } => format!("the tool stands still for {} s", short(time.as_s(), 3)),
        EventKind::Spindle => match event.spindle {
            Spindle::Off => "spindle stops".to_owned(),
            Spindle::Fixed { clockwise: true, .. } | Spindle::Surface { clockwise: true, .. } => {
                "spindle turns as M03".to_owned()
            }
            Spindle::Fixed { .. } | Spindle::Surface { .. } => "spindle turns as M04".to_owned(),
        },
        EventKind::CoolantOn => "coolant on".to_owned(),
        EventKind::CoolantOff => "coolant off".to_owned(),
        EventKind::End => "end of the program".to_owned(),
    }
}

fn motion(moved: &[Movement], told: Quantities, parts: &mut Vec<String>) {
    let (Some(first), Some(last)) = (moved.first(), moved.last()) else { return };
    let to = told.place(last.piece.to());
    parts.push(match (first.kind, first.piece) {
        (MovementKind::Rapid, _) => format!("rapid to {to}"),
        (MovementKind::Feed, Piece::Line(_)) => format!("feed straight to {to}"),
        (MovementKind::Feed, Piece::Arc(arc)) => {
            let outward = arc.to.x >= arc.from.x;
            // From small x to large, a clockwise arc bulges away from the chuck.
            let way = if (arc.turn == Turn::Clockwise) == outward { "away from" } else { "toward" };
            let radius = told.length(arc.radius());
            format!("feed along an arc of radius {radius}, bulging {way} the chuck, to {to}")
        }
    });
}

/// A number with at most `decimals` decimals, without zeros at the end.
fn short(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}
