//! The commands of one block: its words sorted into modal groups and values, before the block is executed.
//!
//! A block may hold one word of each modal group (NISTIR 6556, 3.4, from memory) and one of each other letter (3.3.5).
//! Which G words exist, and of which of two families, follows from the control's description.

use super::interpreter::Setup;
use super::modal::{
    Compensation, CoolantWord, Distance, FeedMode, LengthWord, Motion, NonModal, PathControl, Plane,
    SpindleMode, Stop, Turning, Unit,
};
use super::reader::{Block, Word};
use crate::diagnostics::{FindingCollector, Place, ProgramRule};
use crate::job::{Control, FeedWords, MWords, SpindleLimitWord, UnitWord};

/// The commands of one block.
#[derive(Debug, Clone, Default)]
pub(crate) struct BlockCommands {
    pub motion: Option<Motion>,
    pub plane: Option<Plane>,
    pub distance: Option<Distance>,
    pub feed_mode: Option<FeedMode>,
    pub unit: Option<Unit>,
    pub compensation: Option<Compensation>,
    pub spindle_mode: Option<SpindleMode>,
    pub work_offset: Option<u32>,
    pub length: Option<LengthWord>,
    pub gear: Option<u32>,
    pub path: Option<PathControl>,
    pub once: Option<NonModal>,
    pub turning: Option<Turning>,
    pub mist: Option<CoolantWord>,
    pub flood: Option<CoolantWord>,
    pub coolant_off: Option<CoolantWord>,
    pub stop: Option<Stop>,
    pub change: Option<()>,
    pub x: Option<Word>,
    pub z: Option<Word>,
    pub u: Option<Word>,
    pub w: Option<Word>,
    pub i: Option<Word>,
    pub k: Option<Word>,
    pub r: Option<Word>,
    pub f: Option<Word>,
    pub s: Option<Word>,
    pub t: Option<Word>,
    pub p: Option<Word>,
    pub d: Option<Word>,
    pub h: Option<Word>,
    /// Whether U or W stands in it at a control that does not count steps so.
    pub steps_unread: bool,
}

/// What a G word means.
enum Preparatory {
    Motion(Motion),
    Plane(Plane),
    Distance(Distance),
    FeedMode(FeedMode),
    Unit(Unit),
    Compensation(Compensation),
    SpindleMode(SpindleMode),
    WorkOffset(u32),
    Length(LengthWord),
    Path(PathControl),
    NonModal(NonModal),
}

/// The meaning of a G word at a control, by its code (ten times its number), or the rule that it breaks there.
fn preparatory(code: u32, control: &Control) -> Result<Preparatory, ProgramRule> {
    use Preparatory as P;
    let first_units = matches!(control.unit_word, UnitWord::G20 | UnitWord::G21);
    let minutes = control.feed_words == FeedWords::G94G95;
    let limit = control.spindle_limit_word;
    let meaning = match code {
        0 => P::Motion(Motion::Rapid),
        10 => P::Motion(Motion::Line),
        20 => P::Motion(Motion::Clockwise),
        30 => P::Motion(Motion::CounterClockwise),
        40 => P::NonModal(NonModal::Dwell),
        170 => P::Plane(Plane::Xy),
        180 => P::Plane(Plane::Zx),
        190 => P::Plane(Plane::Yz),
        200 if first_units => P::Unit(Unit::Inch),
        210 if first_units => P::Unit(Unit::Millimetre),
        700 if !first_units => P::Unit(Unit::Inch),
        710 if !first_units => P::Unit(Unit::Millimetre),
        280 => P::NonModal(NonModal::Home),
        300 => P::NonModal(NonModal::SecondHome),
        430 => P::Length(LengthWord::On),
        490 => P::Length(LengthWord::Off),
        400 => P::Compensation(Compensation::Off),
        410 => P::Compensation(Compensation::Left),
        420 => P::Compensation(Compensation::Right),
        500 if limit == SpindleLimitWord::G50 => P::NonModal(NonModal::Limit),
        920 if limit == SpindleLimitWord::G92 => P::NonModal(NonModal::Limit),
        530 => P::NonModal(NonModal::MachineFrame),
        540 | 550 | 560 | 570 | 580 | 590 => P::WorkOffset(code / 10),
        610 => P::Path(PathControl::Exact),
        640 => P::Path(PathControl::Continuous),
        800 => P::Motion(Motion::None),
        900 if minutes => P::Distance(Distance::Absolute),
        910 if minutes => P::Distance(Distance::Increments),
        940 if minutes => P::FeedMode(FeedMode::PerMinute),
        950 if minutes => P::FeedMode(FeedMode::PerRev),
        980 if !minutes => P::FeedMode(FeedMode::PerMinute),
        990 if !minutes => P::FeedMode(FeedMode::PerRev),
        960 => P::SpindleMode(SpindleMode::Surface),
        970 => P::SpindleMode(SpindleMode::Revolutions),
        200 | 210 | 700 | 710 | 500 | 900 | 910 | 920 | 940 | 950 | 980 | 990 => {
            return Err(ProgramRule::OtherMeaning);
        }
        _ => return Err(ProgramRule::UnknownWord),
    };
    Ok(meaning)
}

/// The most M words in one block (NISTIR 6556, 3.3.5).
const MOST_M_WORDS: usize = 4;

/// Sorts the words of a block.
pub(crate) fn commands(
    block: &Block,
    setup: Setup<'_>,
    text: impl Fn(&Word) -> String,
    notes: &mut FindingCollector,
) -> BlockCommands {
    let mut sorter =
        CommandSorter { out: BlockCommands::default(), place: block.place(), text, repeated: false, notes };
    for word in &block.words {
        match word.letter {
            'G' => sorter.preparatory(word, setup.control),
            'M' => sorter.miscellaneous(word, setup.control),
            _ => sorter.value(word, setup.increments_uw()),
        }
    }
    let m_words: Vec<String> =
        block.words.iter().filter(|w| w.letter == 'M').map(|w| (sorter.text)(w)).collect();
    if m_words.len() > MOST_M_WORDS {
        sorter.notes.add(ProgramRule::ManyMWords, sorter.place, "more than four M words".into());
    } else if m_words.len() > 1 && !sorter.repeated && setup.control.traits.m_words == MWords::One {
        sorter.notes.add(ProgramRule::TwoMWords, sorter.place, m_words.join(" beside "));
    }
    sorter.out
}

/// A block of which some words have been sorted.
struct CommandSorter<'n, F> {
    out: BlockCommands,
    place: Place,
    text: F,
    /// Whether two M words of one group were told.
    repeated: bool,
    notes: &'n mut FindingCollector,
}

/// Puts a value into an empty slot; returns whether it was empty.
fn put<T>(slot: &mut Option<T>, value: T) -> bool {
    let free = slot.is_none();
    if free {
        *slot = Some(value);
    }
    free
}

impl<F: Fn(&Word) -> String> CommandSorter<'_, F> {
    fn preparatory(&mut self, word: &Word, control: &Control) {
        let meaning = match word.code().map_or(Err(ProgramRule::UnknownWord), |c| preparatory(c, control)) {
            Ok(meaning) => meaning,
            Err(rule) => {
                self.notes.add(rule, self.place, (self.text)(word));
                return;
            }
        };
        let out = &mut self.out;
        let free = match meaning {
            Preparatory::Motion(m) => put(&mut out.motion, m),
            Preparatory::Plane(p) => put(&mut out.plane, p),
            Preparatory::Distance(d) => put(&mut out.distance, d),
            Preparatory::FeedMode(m) => put(&mut out.feed_mode, m),
            Preparatory::Unit(u) => put(&mut out.unit, u),
            Preparatory::Compensation(c) => put(&mut out.compensation, c),
            Preparatory::SpindleMode(m) => put(&mut out.spindle_mode, m),
            Preparatory::WorkOffset(n) => put(&mut out.work_offset, n),
            Preparatory::Length(l) => put(&mut out.length, l),
            Preparatory::Path(p) => put(&mut out.path, p),
            Preparatory::NonModal(o) => put(&mut out.once, o),
        };
        self.one_of_group(free, word);
    }

    fn miscellaneous(&mut self, word: &Word, control: &Control) {
        let out = &mut self.out;
        let gear = |code: u32| control.traits.gears.iter().find(|g| g.word * 10 == code);
        let free = match word.code() {
            Some(code) if gear(code).is_some() => put(&mut out.gear, code / 10),
            Some(0) => put(&mut out.stop, Stop::Stop),
            Some(10) => put(&mut out.stop, Stop::Optional),
            Some(20) => put(&mut out.stop, Stop::End),
            Some(300) => put(&mut out.stop, Stop::EndRewind),
            Some(30) => put(&mut out.turning, Turning::Clockwise),
            Some(40) => put(&mut out.turning, Turning::CounterClockwise),
            Some(50) => put(&mut out.turning, Turning::Off),
            Some(60) => put(&mut out.change, ()),
            // Mist and flood may be in one block, off with neither (NISTIR 6556, table 4).
            Some(70) => out.coolant_off.is_none() && put(&mut out.mist, CoolantWord::Mist),
            Some(80) => out.coolant_off.is_none() && put(&mut out.flood, CoolantWord::Flood),
            Some(90) => {
                out.mist.is_none() && out.flood.is_none() && put(&mut out.coolant_off, CoolantWord::Off)
            }
            _ => {
                self.notes.add(ProgramRule::UnknownWord, self.place, (self.text)(word));
                return;
            }
        };
        self.one_of_group(free, word);
    }

    fn one_of_group(&mut self, free: bool, word: &Word) {
        if !free {
            self.repeated |= word.letter == 'M';
            let what = format!("{} beside another word of its modal group", (self.text)(word));
            self.notes.add(ProgramRule::SameGroup, self.place, what);
        }
    }

    fn value(&mut self, word: &Word, increments_uw: bool) {
        let out = &mut self.out;
        let slot = match word.letter {
            'X' => &mut out.x,
            'Z' => &mut out.z,
            'U' if increments_uw => &mut out.u,
            'W' if increments_uw => &mut out.w,
            'I' => &mut out.i,
            'K' => &mut out.k,
            'R' => &mut out.r,
            'F' => &mut out.f,
            'S' => &mut out.s,
            'T' => &mut out.t,
            'P' => &mut out.p,
            'D' => &mut out.d,
            'H' => &mut out.h,
            'U' | 'W' => {
                let what = format!("{}: with G94 and G95 steps are counted under G91", (self.text)(word));
                self.notes.add(ProgramRule::UnknownWord, self.place, what);
                out.steps_unread = true;
                return;
            }
            _ => {
                self.notes.add(ProgramRule::UnknownWord, self.place, (self.text)(word));
                return;
            }
        };
        if !put(slot, *word) {
            let what = format!("{} is the second {} word of its block", (self.text)(word), word.letter);
            self.notes.add(ProgramRule::RepeatedWord, self.place, what);
        }
    }
}
