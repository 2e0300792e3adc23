//! The head of a program that facewright wrote: whose wheel it is, and whether what it tells people was changed.
//!
//! An operator acts on the comments: touches where they say, enters what they say. The words are proved by what they do; the comments
//! can only be held against the checksum that stands with them, and against the job. A program from elsewhere has no such head
//! and is not judged here.

use super::sweep::{HeadSays, PartTakes, PassesBefore, TouchSaid};
use crate::diagnostics::checksum::Checksum;
use crate::diagnostics::text::{self, GOES_ON};
use crate::diagnostics::{Finding, Place, ProgramRule, Unit};
use crate::job::{Comments, Coolant, Job, XWords};
use crate::simulate::reader::Word;
use crate::simulate::{Block, ProgramRead};
use crate::units::{Length, MM_PER_INCH};

/// What is gone is said to so much, millimetres: half a step of a ten-thousandth of an inch, and as much for whoever types it again.
const GONE_ROUNDED: f64 = 0.003;

/// Judges the head; nothing for a program without one. `already` is what earlier programs took off the measured face.
#[must_use]
pub(super) fn judge(program: &ProgramRead, job: &Job, already: Length) -> Vec<Finding> {
    let mut findings = Vec::new();
    let title = text::for_comment(&job.title);
    if let Some((place, theirs)) = statement(&program.blocks, "JOB ")
        && packed(&theirs) != packed(&title)
    {
        let said = format!("the program is for the job `{theirs}`; this is `{title}`");
        findings.push(Finding::new(ProgramRule::OtherWheel, place, said));
    }
    if let Some((place, theirs)) = statement(&program.blocks, "WHEEL ")
        && !is_wheel_of(&packed(&theirs), job)
    {
        let ours: Vec<&str> = job.wheel.said_beside(&job.title).collect();
        let ours = if ours.is_empty() { title } else { text::for_comment(&ours.join(", ")) };
        let said = format!("the program is for the wheel `{theirs}`; this is `{ours}`");
        findings.push(Finding::new(ProgramRule::OtherWheel, place, said));
    }
    findings.extend(changed(program));
    findings.extend(gone_before(program, job, already));
    findings.extend(left_by_others(program, job));
    findings.extend(without_comments(program, job));
    findings.extend(up_and_across(program));
    findings
}

/// How much is gone when the program begins, as its head says: its touch-offs on the face count from there. On a setter nothing hangs on it.
fn gone_before(program: &ProgramRead, job: &Job, already: Length) -> Option<Finding> {
    if !is_ours(program) || job.touching.setter.is_some() {
        return None;
    }
    let (touched, _) = statement(&program.blocks, "TOUCH-OFF ")?;
    let said = statement(&program.blocks, "GONE ");
    let depth = |text: &str| depth_behind(text, "BEFORE THIS PROGRAM ");
    let gone = said.as_ref().map_or(Some(0.0), |(_, text)| depth(text))?;
    let off = (gone - already.as_mm()).abs();
    let what =
        format!("its head is for a face of which {gone:.3} mm are gone, and {:.3} mm are", already.as_mm());
    let place = said.map_or(touched, |(place, _)| place);
    let found = Finding::new(ProgramRule::GoneBefore, place, what);
    (off > GONE_ROUNDED).then(|| found.measured(already.as_mm(), Some(gone), Unit::Mm))
}

/// A first motion in both axes at once in a program of ours, which went up first: whoever joined the two blocks trusts that the tool stood at the park.
fn up_and_across(program: &ProgramRead) -> Option<Finding> {
    if !is_ours(program) {
        return None;
    }
    let moves = |letters: [char; 2]| {
        move |b: &&Block| {
            b.words.iter().any(|w| letters.contains(&w.letter) && (w.value != 0.0 || w.letter < 'U'))
        }
    };
    let (across, along) = (moves(['X', 'U']), moves(['Z', 'W']));
    let home = |b: &&Block| b.words.iter().any(|w| w.letter == 'G' && w.code() == Some(280));
    let first = program.blocks.iter().find(|b| across(b) || along(b))?;
    let both = across(&first) && along(&first) && !home(&first);
    let what = "the first motion goes up and across at once; the program was written with the way up first";
    both.then(|| Finding::new(ProgramRule::NotUpFirst, first.place(), what))
}

/// What the program before may have left on, where the first blocks of a program of ours no longer say that it is off before the spindle starts; at a
/// control without comments nothing tells ours from another. A block that may be skipped does not count.
fn left_by_others(program: &ProgramRead, job: &Job) -> Vec<Finding> {
    if !is_ours(program) && job.control.traits.comments != Comments::None {
        return Vec::new();
    }
    let says = |block: &Block, codes: &[u32]| {
        let code = |w: &Word| w.code().filter(|_| w.letter == 'M');
        block.words.iter().filter_map(code).any(|c| codes.contains(&c))
    };
    let starts = |b: &Block| says(b, &[30, 40]);
    let Some(first) = program.blocks.iter().position(starts) else { return Vec::new() };
    let before = program.blocks.iter().take(first).filter(|b| b.skip.is_none());
    let said = |code: u32| before.clone().any(|b| says(b, &[code]));
    let place = program.blocks.get(first).map_or(Place::Whole, Block::place);
    let coolant = job.control.coolant != Coolant::None;
    let asked = [
        (!said(50), ProgramRule::SpindleUnset, "the spindle starts, and M05 does not stand before it"),
        (
            coolant && !said(90),
            ProgramRule::CoolantUnset,
            "the spindle starts, and M09 does not stand before it",
        ),
    ];
    asked.into_iter().filter(|a| a.0).map(|(_, rule, what)| Finding::new(rule, place, what)).collect()
}

/// Whether what a head says of its wheel, without blanks, is said of the job's. It ends with the tyre, which may be off by now.
fn is_wheel_of(theirs: &str, job: &Job) -> bool {
    let ours: Vec<&str> = job.wheel.said_beside(&job.title).collect();
    let is =
        |tyre: &&str| theirs == packed(&text::for_comment(&[ours.as_slice(), &[*tyre]].concat().join(", ")));
    // Heads up to version 0.1.0 named the wheel also where its name is the job's, and said which material is not said.
    let material = if job.wheel.material.trim().is_empty() { "not said" } else { &job.wheel.material };
    let before = packed(&text::for_comment(&format!("{}, {material},", job.wheel.name)));
    ["tyre mounted", "tyre removed"].iter().any(is) || theirs.starts_with(&before)
}

/// A program without any comment: rightly at a control that reads none, else somebody or some transfer took them out. What one from elsewhere tells
/// people is not held against anything, and it may be ours with its comments taken out and others put in.
fn without_comments(program: &ProgramRead, job: &Job) -> Option<Finding> {
    let (rule, what) = if program.blocks.iter().any(|b| !b.comments.is_empty()) {
        if is_ours(program) {
            return None;
        }
        (
            ProgramRule::OtherHead,
            "its comments are not those of a program written here: nothing in them is proved",
        )
    } else if job.control.traits.comments == Comments::None {
        (ProgramRule::NoComments, "the control reads no comments, and the program has none")
    } else {
        (ProgramRule::NoHead, "the program has no comment at all")
    };
    Some(Finding::new(rule, Place::Whole, what))
}

/// What only our own programs say: where it stands without a checksum, somebody took that out.
const OURS: [&str; 6] = [
    "TOUCH-OFF ",
    "TOUCH CHECK ",
    "AIR PASS 1 OF ",
    "ROUGH PASS 1 OF ",
    "FINISH PASS 1 OF ",
    "STOP. TOUCH OFF THIS TOOL",
];

/// The first statement of a label, with the lines on which it goes on.
fn statement(blocks: &[Block], label: &str) -> Option<(Place, String)> {
    let comments = || blocks.iter().flat_map(|b| b.comments.iter().map(move |c| (b.place(), c.as_str())));
    let at = comments().position(|(_, c)| c.starts_with(label))?;
    let mut all = comments().skip(at);
    let (place, first) = all.next()?;
    let mut whole = first.strip_prefix(label)?.to_owned();
    for more in all.map_while(|(_, c)| c.strip_prefix(GOES_ON)) {
        whole.push(' ');
        whole.push_str(more);
    }
    Some((place, whole))
}

fn packed(text: &str) -> String {
    text.split_whitespace().collect()
}

/// Which part of a divided program the head says this is; none where it says none.
pub(super) fn part(program: &ProgramRead) -> Option<usize> {
    statement(&program.blocks, "PART ")?.1.split_whitespace().next()?.parse().ok()
}

/// How many rough, rest and finish passes of a divided program the parts before this one made, by what the comments of its own passes say; none in
/// a program that is whole or its first part.
fn passes_before(program: &ProgramRead) -> PassesBefore {
    if part(program).is_none_or(|part| part <= 1) {
        return PassesBefore::default();
    }
    let before = |label: &str| -> u32 {
        let number = statement(&program.blocks, label)
            .and_then(|(_, said)| said.split_whitespace().next()?.parse::<u32>().ok());
        number.map_or(0, |number| number.saturating_sub(1))
    };
    let says = |label: &str| statement(&program.blocks, label).is_some();
    let rest = match (says("REST PASS "), says("ROUGH PASS ")) {
        (true, false) => before("REST PASS "),
        // Rest passes come before the finish: those that were asked for are made.
        (false, false) => u32::MAX,
        (_, true) => 0,
    };
    // Spring passes come last.
    let finish =
        if says("SPRING PASS ") && !says("FINISH PASS ") { u32::MAX } else { before("FINISH PASS ") };
    PassesBefore { rough: before("ROUGH PASS "), finish, rest }
}

/// What the head of a part says of it and of the parts before it; nothing where the program is none.
pub(super) fn says(program: &ProgramRead, job: &Job) -> HeadSays {
    HeadSays {
        before: passes_before(program),
        takes: part(program).and_then(|_| takes(program)),
        touches: touches(program, job),
    }
}

/// Where the tools are to be touched off, by the comments.
fn touches(program: &ProgramRead, job: &Job) -> Vec<TouchSaid> {
    let unit = if job.control.unit_word.is_inch() { MM_PER_INCH } else { 1.0 };
    let across = if job.control.x_words == XWords::Diameter { unit / 2.0 } else { unit };
    let said = |(place, text): (Place, String)| {
        let (_, behind) = text.split_once("STAND TOOL ")?;
        let (tool, behind) = behind.split_once(' ')?;
        let number = |label: &str| {
            let (_, behind) = behind.split_once(label)?;
            let number = behind.split(|c: char| c == ',' || c.is_whitespace()).next()?;
            number.parse::<f64>().ok().filter(|number| number.is_finite())
        };
        let at = [number("AT X")? * across, number("ENTER Z")? * unit];
        Some(TouchSaid { place, tool: tool.parse().ok()?, at })
    };
    statements(&program.blocks).into_iter().filter_map(said).collect()
}

/// What the passes that a head names take together, and the least of them; none where it names none that takes anything.
fn takes(program: &ProgramRead) -> Option<PartTakes> {
    let mut named: Vec<String> = Vec::new();
    let mut depths = Vec::new();
    for (_, said) in statements(&program.blocks) {
        let mut words = said.split_whitespace();
        let (Some("ROUGH" | "FINISH"), Some("PASS")) = (words.next(), words.next()) else { continue };
        // Each is named again where it begins.
        if named.contains(&said) {
            continue;
        }
        depths.extend(depth_said(&said).filter(|depth| *depth > 0.0));
        named.push(said);
    }
    let least = depths.iter().copied().reduce(f64::min)?;
    Some(PartTakes { depth: depths.iter().sum(), least, by_head: true })
}

/// The depth that a pass is said to have, millimetres.
fn depth_said(pass: &str) -> Option<f64> {
    depth_behind(pass, "DEPTH ")
}

/// The depth that stands behind a label, millimetres.
fn depth_behind(text: &str, label: &str) -> Option<f64> {
    let mut words = text.split_once(label)?.1.split(|c: char| c.is_whitespace() || c == ',');
    let number: f64 = words.next()?.parse().ok()?;
    let unit = if words.next()? == "IN" { MM_PER_INCH } else { 1.0 };
    Some(number * unit)
}

/// The comments, each at its place and with the lines on which it goes on.
fn statements(blocks: &[Block]) -> Vec<(Place, String)> {
    let mut all: Vec<(Place, String)> = Vec::new();
    for (place, comment) in blocks.iter().flat_map(|b| b.comments.iter().map(|c| (b.place(), c))) {
        match (comment.strip_prefix(GOES_ON), all.last_mut()) {
            (Some(more), Some((_, last))) => {
                last.push(' ');
                last.push_str(more);
            }
            _ => all.push((place, comment.clone())),
        }
    }
    all
}

/// Whether the head is one of ours: job and wheel together stand in no other.
pub(super) fn is_ours(program: &ProgramRead) -> bool {
    ["JOB ", "WHEEL "].iter().all(|label| statement(&program.blocks, label).is_some())
}

/// What changed since the program was written.
fn changed(program: &ProgramRead) -> Option<Finding> {
    let comments = || program.blocks.iter().flat_map(|b| b.comments.iter().map(move |c| (b.place(), c)));
    let written = comments().find_map(|(place, c)| Some((place, Checksum::read(c)?)));
    let now = Checksum::of(program.text());
    match written {
        Some((_, written)) if written == now => None,
        Some((place, written)) if written.comments == now.comments => {
            Some(Finding::new(ProgramRule::WordsChanged, place, "its words are not those that were written"))
        }
        Some((place, _)) => Some(Finding::new(
            ProgramRule::TextChanged,
            place,
            "its comments, or the blocks that they stand before, are not those that were written: touch-off, depths and stops may have been edited",
        )),
        None => {
            let says = |label: &str| comments().find(|(_, c)| c.starts_with(label));
            // Job and wheel together stand in no head but ours.
            let both = says("JOB ").filter(|_| says("WHEEL ").is_some());
            both.or_else(|| OURS.iter().find_map(|label| says(label))).map(|(place, _)| {
                Finding::new(
                    ProgramRule::TextChanged,
                    place,
                    "it tells people what to do as our programs do, and its checksum is missing",
                )
            })
        }
    }
}
