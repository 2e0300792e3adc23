//! The required keys of both files with an example for each, and what their lists contain.
//!
//! Groups are named by the type that reads them. A test checks that this table and the types agree.

/// A required key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Needed {
    /// The key.
    pub(super) key: &'static str,
    /// An example of the line.
    pub(super) example: &'static str,
    /// Why only a person can decide it, where that is so.
    pub(super) why: Option<&'static str>,
}

impl Needed {
    /// A key without an example.
    pub(super) const fn plain(key: &'static str) -> Self {
        needed_as(key, "...")
    }
}

const fn needed_as(key: &'static str, example: &'static str) -> Needed {
    Needed { key, example, why: None }
}

const fn decided(key: &'static str, example: &'static str, why: &'static str) -> Needed {
    Needed { key, example, why: Some(why) }
}

/// What earlier jobs took: needed unless the shop's ledger says it.
pub(super) const TAKEN: Needed =
    decided("taken", "0 mm", "the metal earlier jobs took; `0 mm` for a wheel never cut");

/// What was cut before a wheel was measured again: needed unless the shop's ledger says it.
pub(super) const CUT: Needed = decided(
    "cut",
    "0.30 mm",
    "what the passes until then were to take: what they really took is held against it",
);

/// The required keys of a group of a type.
pub(super) fn needed(kind: &str) -> &'static [Needed] {
    GROUPS.iter().find(|(name, _)| *name == kind).map_or(&[], |(_, keys)| keys)
}

const GROUPS: &[(&str, &[Needed])] = &[
    (
        "JobFile",
        &[
            needed_as("job", "\"1042, front left\""),
            needed_as("shop", "shop.yaml"),
            needed_as("schedule", "kerbside"),
            needed_as("wheel", "{ name: ..., speed_limit: 700 rpm, ... }"),
            needed_as("measured", "{ sensor: spot, ... }"),
            needed_as("zones", "[{ from: 70 mm, to: 216 mm }]"),
        ],
    ),
    (
        "Wheel",
        &[
            needed_as("name", "\"18 x 8, five spokes\""),
            needed_as("material", "cast aluminium"),
            needed_as("tyre", "mounted"),
            decided("speed_limit", "700 rpm", "balance and tyre decide how fast this wheel may turn"),
            decided(
                "allowance",
                "{ limit: 1.0 mm, taken: 0.20 mm }",
                "a person decides how much metal this wheel may lose",
            ),
            decided("run_out_limit", "0.30 mm", "a person decides how untrue a wheel is still cut"),
        ],
    ),
    ("Allowance", &[decided("limit", "1.0 mm", "all the metal this wheel may ever lose")]),
    (
        "Measured",
        &[
            needed_as("sensor", "spot"),
            needed_as("x", "radius"),
            needed_as("unit", "mm"),
            needed_as("columns", "[x, z]"),
            needed_as("z", "height"),
            decided("x_offset", "0 mm", "where the sensor stands against the tool moves the whole face"),
            needed_as("filter", "0.8 mm"),
            decided("longest_gap", "2 mm", "a gap that is bridged is a face that nobody measured"),
            needed_as("lines", "[{ file: scan-000.csv, at: 0 deg }]"),
        ],
    ),
    (
        "MeasuredAgain",
        &[
            decided(
                "zero",
                "same",
                "`same` if the sensor was left as it was, `face` if it was set anew and the lines cross metal that was not cut",
            ),
            needed_as("lines", "[{ file: again-000.csv, at: 0 deg }]"),
        ],
    ),
    ("ScanLine", &[needed_as("file", "scan-000.csv"), needed_as("at", "120 deg")]),
    ("TurnFile", &[needed_as("at", "214 mm")]),
    ("TouchOff", &[needed_as("at", "82 mm")]),
    ("DamageFile", &[needed_as("from", "203 mm"), needed_as("to", "214 mm"), needed_as("kind", "scrape")]),
    ("Zone", &[needed_as("from", "70 mm"), needed_as("to", "216 mm")]),
    ("TrialRingFile", &[needed_as("name", "A"), needed_as("from", "100 mm"), needed_as("to", "108 mm")]),
    ("KeepOutFile", &[needed_as("name", "tyre")]),
    (
        "ShopFile",
        &[
            needed_as("machine", "{ spindle_limit: 1200 rpm, ... }"),
            needed_as("control", "{ x_words: diameter, ... }"),
            needed_as("tools", "{ rounder: { number: 1, ... } }"),
        ],
    ),
    (
        "MachineFile",
        &[
            needed_as("spindle_limit", "1200 rpm"),
            needed_as("feed_limit", "1500 mm/min"),
            needed_as("rapid", "6 m/min"),
            needed_as("travel", "{ x: [0 mm, 420 mm], z: [-200 mm, 350 mm] }"),
            needed_as("park", "{ x: 330 mm, z: 250 mm }"),
            needed_as("clearance", "3 mm"),
        ],
    ),
    ("Travel", &[needed_as("x", "[0 mm, 420 mm]"), needed_as("z", "[-200 mm, 350 mm]")]),
    ("Park", &[needed_as("x", "330 mm"), needed_as("z", "250 mm")]),
    (
        "ToolFile",
        &[
            needed_as("number", "1"),
            needed_as("nose_radius", "1.2 mm"),
            needed_as("inner_edge", "30 deg"),
            needed_as("outer_edge", "30 deg"),
            needed_as("edge_length", "8 mm"),
            needed_as("point", "front"),
        ],
    ),
    ("Setter", &[needed_as("x", "290 mm"), needed_as("z", "40 mm")]),
    ("HolderFile", &[needed_as("inner", "4 mm"), needed_as("outer", "25 mm")]),
    (
        "ControlFile",
        &[
            needed_as("x_words", "diameter"),
            needed_as("units", "mm"),
            needed_as("unit_word", "G71"),
            needed_as("resolution", "0.001 mm"),
            needed_as("arcs", "centre"),
            needed_as("surface_speed", "true"),
            needed_as("feed_words", "[G94, G95]"),
            needed_as("largest_program", "64 kB"),
            needed_as("blocks_per_second", "100"),
            needed_as("tool_word", "T0101"),
            needed_as("spindle_turns", "M03"),
        ],
    ),
    (
        "ScheduleFile",
        &[
            needed_as("air", "{ height: 1.0 mm }"),
            needed_as("step", "axial"),
            needed_as("direction", "outward"),
        ],
    ),
    ("AirPass", &[needed_as("height", "1.0 mm")]),
    (
        "RoughFile",
        &[
            needed_as("tool", "rounder"),
            needed_as("depth", "0.10 mm"),
            needed_as("passes", "auto"),
            needed_as("surface_speed", "280 m/min"),
        ],
    ),
    (
        "FinishFile",
        &[
            needed_as("tool", "brightener"),
            needed_as("depth", "0.05 mm"),
            needed_as("passes", "1"),
            needed_as("surface_speed", "220 m/min"),
        ],
    ),
];

/// What a list contains, for messages.
#[derive(Debug, Clone, Copy)]
pub(super) struct List {
    /// Its key.
    key: &'static str,
    /// What it contains.
    pub(super) of: &'static str,
    /// Whether the list may be empty.
    pub(super) may_be_empty: bool,
}

/// What the list under a key contains.
pub(super) fn list(key: &str) -> List {
    let unknown = List { key: "", of: "values", may_be_empty: false };
    LISTS.iter().find(|list| list.key == key).copied().unwrap_or(unknown)
}

const LISTS: &[List] = &[
    List { key: "accept", of: "things accepted", may_be_empty: true },
    List { key: "columns", of: "columns", may_be_empty: false },
    List { key: "corners", of: "corners", may_be_empty: false },
    List { key: "damage", of: "stretches of damage", may_be_empty: true },
    List { key: "feed_words", of: "two words", may_be_empty: false },
    List { key: "keep_out", of: "places to keep out of", may_be_empty: true },
    List { key: "leave", of: "stretches", may_be_empty: true },
    List { key: "lines", of: "scans", may_be_empty: false },
    List { key: "mend", of: "stretches", may_be_empty: true },
    List { key: "no_metal", of: "stretches", may_be_empty: true },
    List { key: "reads", of: "lengths", may_be_empty: false },
    List { key: "speed_changes", of: "radii", may_be_empty: false },
    List { key: "trial", of: "rings", may_be_empty: true },
    List { key: "turn", of: "readings round the wheel", may_be_empty: true },
    List { key: "zones", of: "zones", may_be_empty: false },
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::source;
    use crate::job::{control::ControlFile, file::JobFile, schedule_file::ScheduleFile, shop_file::ShopFile};
    use crate::job::{reader, wheel::Wheel};
    use std::path::Path;

    /// For an empty group, every group type of both files reports exactly the keys in the table.
    #[test]
    fn the_table_names_what_the_types_need() {
        let node = source::parse(Path::new("any"), "{}").unwrap();
        let missing = |read: fn(&source::Node) -> Vec<crate::diagnostics::InputError>| read(&node).len();
        macro_rules! count {
            ($kind:ty) => {
                missing(|node| {
                    let mut errors = Vec::new();
                    let _: Option<$kind> = reader::read(node, &mut errors);
                    // A key that serde requires but the table lacks has no example.
                    assert!(errors.iter().all(|f| !f.fix.contains("...`")), "{errors:?}");
                    errors
                })
            };
        }
        assert_eq!(count!(JobFile), needed("JobFile").len());
        assert_eq!(count!(Wheel), needed("Wheel").len());
        assert_eq!(count!(ShopFile), needed("ShopFile").len());
        assert_eq!(count!(ControlFile), needed("ControlFile").len());
        assert_eq!(count!(ScheduleFile), needed("ScheduleFile").len());
    }
}
