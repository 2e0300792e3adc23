//! Every key of the job file and the shop file: what may stand under it, its default, what it is for, what a wrong value does.
//!
//! This is the one table. The reader's errors, `explain`, `schema` and docs/keys.md are made from it; the types that read the
//! files are held to it by a test. Groups bear the names of the types that read them.

mod control;
mod job;
mod schedule;
mod shop;

pub use job::JOB;
pub use shop::SHOP;

/// Why a key may be left out, or why not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Absent {
    /// It may not: nobody can guess it.
    Needed,
    /// It may not: a person decides it.
    Decided,
    /// It may, and then this holds.
    Then(&'static str),
}

/// What may stand under a key.
#[derive(Debug, Clone, Copy)]
pub enum Form {
    /// A quantity of this kind, as a number and one of these units.
    Quantity(&'static str, &'static str),
    /// Text on one line.
    Text,
    /// The name of a file, from the folder of the file that holds it.
    File,
    /// `true` or `false`.
    Flag,
    /// A whole number in a range.
    Count(u32, u32),
    /// One of these words.
    Words(&'static [&'static str]),
    /// One of these words, or something in their place.
    Or(&'static [&'static str], &'static str),
    /// Two quantities of length in brackets, the lesser first.
    Range,
    /// A list of what is described.
    ListOf(&'static str),
    /// A group of keys.
    Group(&'static Group),
    /// A list of groups.
    List(&'static Group),
    /// Groups, each under a name that the shop chooses.
    Named(&'static Group),
    /// A text, or the group itself written out.
    TextOr(&'static Group),
    /// Texts, each under a name that the shop chooses.
    NamedTexts(&'static str),
}

impl Form {
    /// The group that stands under the key, alone, in a list or under names.
    #[must_use]
    pub const fn group(self) -> Option<&'static Group> {
        match self {
            Self::Group(g) | Self::List(g) | Self::Named(g) | Self::TextOr(g) => Some(g),
            _ => None,
        }
    }
}

/// One key.
#[derive(Debug, Clone, Copy)]
pub struct Key {
    /// The key.
    pub key: &'static str,
    /// What may stand under it.
    pub form: Form,
    /// Whether it may be left out.
    pub absent: Absent,
    /// A value as a person would write it.
    pub example: &'static str,
    /// What it is and why it matters.
    pub why: &'static str,
    /// What goes wrong where it is wrong.
    pub harm: &'static str,
}

/// A group of keys.
#[derive(Debug)]
pub struct Group {
    /// The type that reads it.
    pub kind: &'static str,
    /// Where it stands, for a person.
    pub place: &'static str,
    /// Its keys, in the order of the documents.
    pub keys: &'static [Key],
}

/// A required key, as the reader's errors name it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Needed {
    /// The key.
    pub(super) key: &'static str,
    /// An example of the value.
    pub(super) example: &'static str,
    /// Why only a person can decide it, where that is so.
    pub(super) why: Option<&'static str>,
}

impl Needed {
    /// A key without an example.
    pub(super) const fn plain(key: &'static str) -> Self {
        Self { key, example: "...", why: None }
    }
}

/// What earlier jobs took: needed unless the shop's ledger says it.
pub(super) const TAKEN: Needed = Needed {
    key: "taken",
    example: "0 mm",
    why: Some("the metal earlier jobs took; `0 mm` for a wheel never cut"),
};

/// What was cut before a wheel was measured again: needed unless the shop's ledger says it.
pub(super) const CUT: Needed = Needed {
    key: "cut",
    example: "0.30 mm",
    why: Some("what the passes until then were to take: what they really took is held against it"),
};

/// The required keys of a group of a type.
pub(super) fn needed(kind: &str) -> impl Iterator<Item = Needed> {
    let keys = group(kind).map_or(&[][..], |g| g.keys);
    keys.iter().filter_map(|k| match k.absent {
        Absent::Needed => Some(Needed { key: k.key, example: k.example, why: None }),
        Absent::Decided => Some(Needed { key: k.key, example: k.example, why: Some(k.why) }),
        Absent::Then(_) => None,
    })
}

/// The group of a type.
pub(super) fn group(kind: &str) -> Option<&'static Group> {
    groups().into_iter().find(|g| g.kind == kind)
}

/// Every group of both files, the job file's first, each before those within it.
#[must_use]
pub fn groups() -> Vec<&'static Group> {
    let mut all = Vec::new();
    for root in [&JOB, &SHOP] {
        collect(root, &mut all);
    }
    all
}

fn collect(group: &'static Group, all: &mut Vec<&'static Group>) {
    if all.iter().any(|g| std::ptr::eq(*g, group)) {
        return;
    }
    all.push(group);
    for key in group.keys {
        if let Some(g) = key.form.group() {
            collect(g, all);
        }
    }
}

const fn need(
    key: &'static str,
    form: Form,
    example: &'static str,
    why: &'static str,
    harm: &'static str,
) -> Key {
    Key { key, form, absent: Absent::Needed, example, why, harm }
}

const fn decide(
    key: &'static str,
    form: Form,
    example: &'static str,
    why: &'static str,
    harm: &'static str,
) -> Key {
    Key { key, form, absent: Absent::Decided, example, why, harm }
}

const fn may(
    key: &'static str,
    form: Form,
    (example, then): (&'static str, &'static str),
    why: &'static str,
    harm: &'static str,
) -> Key {
    Key { key, form, absent: Absent::Then(then), example, why, harm }
}

const LENGTH: Form = Form::Quantity("a length", "mm, in, um, cm, m, mil, uin");
const ANGLE: Form = Form::Quantity("an angle", "deg");
const RPM: Form = Form::Quantity("a spindle speed", "rpm");
const SURFACE_SPEED: Form = Form::Quantity("a surface speed", "m/min, ft/min, m/s");
const FEED: Form = Form::Quantity("a feed per revolution", "mm/rev, in/rev");

const TEXTURE: Form = Form::Or(
    &[],
    "`Rz 2.0 um`, `Ra 32 uin`, `grooves 0.12 mm`, `25 grooves in 3 mm`, `feed 0.11 mm/rev` or a name of `textures`",
);

/// What a list contains, for messages.
#[derive(Debug, Clone, Copy)]
pub(super) struct List {
    /// Its key.
    key: &'static str,
    /// What it contains.
    pub(super) of: &'static str,
    /// Whether the list may be empty.
    pub(super) may_be_empty: bool,
    /// How many it may contain: more is no wheel and no shop, and would take the survey minutes.
    pub(super) most: usize,
}

/// What the list under a key contains.
pub(super) fn list(key: &str) -> List {
    let unknown = List { key: "", of: "values", may_be_empty: false, most: 1000 };
    LISTS.iter().find(|list| list.key == key).copied().unwrap_or(unknown)
}

const LISTS: &[List] = &[
    List { key: "accept", of: "things accepted", may_be_empty: true, most: 10 },
    List { key: "angles", of: "angles", may_be_empty: false, most: 360 },
    List { key: "columns", of: "columns", may_be_empty: false, most: 100 },
    List { key: "corners", of: "corners", may_be_empty: false, most: 1000 },
    List { key: "damage", of: "stretches of damage", may_be_empty: true, most: 200 },
    List { key: "feed_words", of: "two words", may_be_empty: false, most: 2 },
    List { key: "between", of: "lines of the shop's own", may_be_empty: true, most: 20 },
    List { key: "end", of: "lines of the shop's own", may_be_empty: true, most: 20 },
    List { key: "gears", of: "gear ranges", may_be_empty: false, most: 20 },
    List { key: "start", of: "lines of the shop's own", may_be_empty: true, most: 20 },
    List { key: "keep_out", of: "places to keep out of", may_be_empty: true, most: 100 },
    List { key: "leave", of: "stretches", may_be_empty: true, most: 100 },
    List { key: "lines", of: "scans", may_be_empty: false, most: 360 },
    List { key: "mend", of: "stretches", may_be_empty: true, most: 100 },
    List { key: "no_metal", of: "stretches", may_be_empty: true, most: 100 },
    List { key: "reads", of: "lengths", may_be_empty: false, most: 120 },
    List { key: "speed_changes", of: "radii", may_be_empty: false, most: 100 },
    List { key: "trial", of: "rings", may_be_empty: true, most: 50 },
    List { key: "turn", of: "readings round the wheel", may_be_empty: true, most: 12 },
    List { key: "zones", of: "zones", may_be_empty: false, most: 100 },
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::source;
    use crate::job::touching::{Setter, TouchFile, TouchOff};
    use crate::job::wheel::{Allowance, Measured, ScanLine, Wheel, Zone};
    use crate::job::{control::ControlFile, file, keep_out::KeepOutFile, reader, schedule_file, shop_file};
    use std::collections::BTreeSet;
    use std::path::Path;

    /// The table has exactly the keys that each type reads, and calls needed exactly those without which it cannot be read.
    #[test]
    fn the_table_is_what_the_types_read() {
        let mut seen = BTreeSet::new();
        let unknown = source::parse(Path::new("any"), "{ no such key: 1 }").unwrap();
        macro_rules! same {
            ($kind:literal, $ty:ty) => {{
                let mut errors = Vec::new();
                let _: Option<$ty> = reader::read(&unknown, &mut errors);
                let group = group($kind).unwrap_or_else(|| panic!("no group {}", $kind));
                let quoted = |text: &str| {
                    text.split('`').skip(1).step_by(2).map(str::to_owned).collect::<BTreeSet<_>>()
                };
                let known =
                    errors.iter().find(|e| e.expected.starts_with("one of")).map(|e| quoted(&e.expected));
                let table: BTreeSet<_> = group.keys.iter().map(|k| k.key.to_owned()).collect();
                assert_eq!(known.unwrap_or_default(), table, "{}", $kind);
                let missing: BTreeSet<_> = needed($kind).map(|n| n.key.to_owned()).collect();
                let told: BTreeSet<_> = errors
                    .iter()
                    .filter(|e| e.found.starts_with("no "))
                    .flat_map(|e| quoted(&e.found))
                    .collect();
                assert_eq!(told, missing, "{}: {errors:?}", $kind);
                seen.insert($kind);
            }};
        }
        same!("JobFile", file::JobFile);
        same!("Wheel", Wheel);
        same!("Allowance", Allowance);
        same!("Measured", Measured);
        same!("ScanLine", ScanLine);
        same!("TurnFile", file::TurnFile);
        same!("TouchOff", TouchOff);
        same!("DamageFile", file::DamageFile);
        same!("Zone", Zone);
        same!("ZoneFile", crate::job::edge::ZoneFile);
        same!("KeepOutFile", KeepOutFile);
        same!("TrialRingFile", file::TrialRingFile);
        same!("ShopFile", shop_file::ShopFile);
        same!("SensorFile", shop_file::SensorFile);
        same!("LimitsFile", shop_file::LimitsFile);
        same!("MachineFile", shop_file::MachineFile);
        same!("Travel", shop_file::Travel);
        same!("Park", shop_file::Park);
        same!("ToolFile", shop_file::ToolFile);
        same!("HolderFile", shop_file::HolderFile);
        same!("TouchFile", TouchFile);
        same!("Setter", Setter);
        same!("ControlFile", ControlFile);
        same!("ScheduleFile", schedule_file::ScheduleFile);
        same!("AirPass", crate::job::AirPass);
        same!("RoughFile", schedule_file::RoughFile);
        same!("FinishFile", schedule_file::FinishFile);
        same!("GearFile", crate::job::traits::GearFile);
        same!("ExtraLinesFile", crate::job::traits::ExtraLinesFile);
        same!("MeasuredAgain", crate::job::MeasuredAgain);
        let groups: BTreeSet<_> = groups().iter().map(|g| g.kind).collect();
        assert_eq!(seen, groups);
    }

    #[test]
    fn every_key_says_all_it_should() {
        for group in groups() {
            for key in group.keys {
                let texts = [key.example, key.why, key.harm];
                assert!(
                    texts.iter().all(|t| !t.is_empty() && !t.contains('|')),
                    "{}: {}",
                    group.place,
                    key.key
                );
            }
        }
    }
}
