//! Job and shop files with one thing wrong each: the message names the place and the way to mend it.
//!
//! Every case changes one piece of the demo's files, says where the fault must point (a piece of the
//! changed text) and keeps the whole message in one snapshot to be read.

use facewright::job::{self, JobError};
use proptest::prelude::*;
use std::fmt::Write as _;
use std::path::Path;

pub const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data");

/// What is wrong; the file; the piece that is changed; what it is changed to; where the fault must point.
type Case = (&'static str, &'static str, &'static str, &'static str, &'static str);

pub const JOB: &str = "job.yaml";
pub const SHOP: &str = "shop.yaml";

const ZONE: &str = "  - { from: 70 mm, to: 216 mm }\n";
const DAMAGE: &str = "{ from: 203 mm, to: 214 mm, depth: 0.35 mm, kind: scrape }";
const KEEP_OUT: &str = "keep_out:\n  - { name: tyre, x: [226 mm, 320 mm], z: [-120 mm, 2 mm] }\n";
const BOX: &str = "x: [226 mm, 320 mm], z: [-120 mm, 2 mm]";
const LAST_SCAN: &str = "{ file: scan-240.csv, at: 240 deg }";

#[rustfmt::skip]
const CASES: &[Case] = &[
    // Quantities.
    ("a depth without a unit", SHOP, "depth: 0.10 mm", "depth: 0.1", "0.1, passes"),
    ("a depth in the unit of a feed", SHOP, "depth: 0.10 mm", "depth: 0.10 mm/rev", "0.10 mm/rev"),
    ("a surface speed in the unit of a feed per minute", SHOP, "surface_speed: 280 m/min", "surface_speed: 280 mm/min", "280 mm/min"),
    ("a unit that nobody knows", SHOP, "nose_radius: 1.2 mm", "nose_radius: 1.2 furlong", "1.2 furlong"),
    ("a decimal comma", SHOP, "nose_radius: 1.2 mm", "nose_radius: \"1,2 mm\"", "\"1,2 mm\""),
    ("no number", SHOP, "clearance: 3 mm", "clearance: plenty", "plenty"),
    ("not a number", SHOP, "clearance: 3 mm", "clearance: .nan", ".nan"),
    ("infinite", SHOP, "clearance: 3 mm", "clearance: 1e999 mm", "1e999 mm"),
    ("a group for a length", SHOP, "clearance: 3 mm", "clearance: { x: 3 mm }", "{ x: 3 mm }"),
    ("nothing for a length", SHOP, "clearance: 3 mm ", "clearance:  ", ""),
    // Keys.
    ("a missing allowance", JOB, "  allowance: { limit: 1.0 mm, taken: 0.20 mm }\n", "", "wheel:\n"),
    ("an allowance that does not say what was taken", JOB, "{ limit: 1.0 mm, taken: 0.20 mm }", "{ limit: 1.0 mm }", "allowance:"),
    ("a missing speed limit", JOB, "  speed_limit: 650 rpm ", "  #", "wheel:\n"),
    ("a missing zone end", JOB, ZONE, "  - { from: 70 mm }\n", "{ from: 70 mm }"),
    ("no zones", JOB, ZONE, "  []\n", "[]\n\nkeep_out"),
    ("several missing keys", JOB, "  unit: mm\n  columns: [x, z]\n  z: height\n  x_offset: 0 mm\n", "", "measured:"),
    ("a blank", JOB, "speed_limit: 650 rpm", "speed_limit: ____ rpm", "____ rpm"),
    ("a blank for a name", JOB, "job: \"Demo 7, rear right\"", "job: ____", "____"),
    ("a sensor that is not known", JOB, "sensor: spot", "sensor: probe", "probe"),
    ("a sensor of no kind", SHOP, "tools:\n", "sensors: { probe: { unit: mm } }\n\ntools:\n", "probe: {"),
    ("a limit of nothing", SHOP, "tools:\n", "limits: { run_out: 0 mm }\n\ntools:\n", "0 mm }\n\ntools"),
    ("an angle of the shop beyond the turn", SHOP, "tools:\n", "angles: [0 deg, 400 deg]\n\ntools:\n", "400 deg"),
    ("a unit of height that nobody knows", JOB, "  unit: mm\n", "  unit: mm\n  z_unit: milli\n", "milli"),
    ("a key with a wrong letter", JOB, "run_out_limit", "runout_limit", "runout_limit"),
    ("a key nothing like any other", JOB, "run_out_limit: 0.30 mm", "run_out_limit: 0.30 mm\n  valve: brass", "valve: brass"),
    ("a key of another group", SHOP, "passes: 1,", "passes: 1, resolution: 0.001 mm,", "resolution: 0.001 mm,"),
    ("a key given twice", JOB, "  tyre: mounted\n", "  tyre: mounted\n  tyre: removed\n", "tyre: removed"),
    ("a run-out by an indicator without a unit", JOB, "  longest_gap: 2 mm\n", "  longest_gap: 2 mm\n  run_out: 0.08\n", "0.08\n"),
    ("a run-out by an indicator of nothing", JOB, "  longest_gap: 2 mm\n", "  longest_gap: 2 mm\n  run_out: 0 mm\n", "0 mm\n  lines"),
    ("a run-out by an indicator among the wheel's keys", JOB, "run_out_limit: 0.30 mm", "run_out_limit: 0.30 mm\n  run_out: 0.08 mm", "run_out: 0.08 mm"),
    // YAML.
    ("a bracket that never closes", JOB, "columns: [x, z]", "columns: [x, z", ": height"),
    ("an alias", JOB, "speed_limit: 650 rpm", "speed_limit: *limit", "*limit"),
    ("an anchor", JOB, "speed_limit: 650 rpm", "speed_limit: &limit 650 rpm", "&limit"),
    ("a tag", JOB, "speed_limit: 650 rpm", "speed_limit: !fast 650 rpm", "!fast"),
    ("a second document", JOB, ZONE, "  - { from: 70 mm, to: 216 mm }\n---\n", "keep_out:"),
    // The shop.
    ("a negative radius", SHOP, "nose_radius: 1.2 mm", "nose_radius: -1.2 mm", "-1.2 mm"),
    ("a nose the size of a wheel", SHOP, "nose_radius: 1.2 mm", "nose_radius: 1.2 in", "1.2 in"),
    ("an edge along the face", SHOP, "inner_edge: 30 deg", "inner_edge: 90 deg", "90 deg"),
    ("tool number 0", SHOP, "number: 2", "number: 0", "0\n    nose_radius: 0.8 mm"),
    ("two tools of one number", SHOP, "number: 2", "number: 1", "1\n    nose_radius: 0.8 mm"),
    ("a point no tool has", SHOP, "point: front\n\n", "point: tip\n\n", "tip"),
    ("travel the wrong way round", SHOP, "[0 mm, 400 mm]", "[400 mm, 0 mm]", "[400 mm, 0 mm]"),
    ("a park beyond the travel", SHOP, "park: { x: 300 mm", "park: { x: 500 mm", "500 mm"),
    ("a spindle that does not turn", SHOP, "spindle_limit: 1400 rpm", "spindle_limit: 0 rpm", "0 rpm"),
    // The control.
    ("inch words beside millimetres", SHOP, "unit_word: G71", "unit_word: G20", "G20"),
    ("a unit word of neither family", SHOP, "unit_word: G71", "unit_word: G72", "G72"),
    ("a resolution that inches cannot print", SHOP, "units: mm\n  unit_word: G71", "units: inch\n  unit_word: G70", "0.001 mm"),
    ("a resolution of a millimetre", SHOP, "resolution: 0.001 mm", "resolution: 1 mm", "1 mm\n  arcs"),
    ("surface speed without a limit word", SHOP, "spindle_limit_word: G92", "spindle_limit_word: none", "none"),
    ("surface speed as a word", SHOP, "surface_speed: true", "surface_speed: yes", "yes"),
    ("steps of zero", SHOP, "sequence: 10", "sequence: 0", "0\n  program_number"),
    ("lines too short for a block", SHOP, "longest_line: 80", "longest_line: 30", "30\n"),
    ("a program of no size", SHOP, "largest_program: 64 kB", "largest_program: 64 B", "64 B"),
    ("feed words of two families", SHOP, "[G94, G95]", "[G94, G99]", "[G94, G99]"),
    ("a program number without its letter", SHOP, "program_number: none", "program_number: 1001", "1001"),
    ("a program number of five digits", SHOP, "program_number: none", "program_number: O12345", "O12345"),
    ("surface speed without a key for the limit word", SHOP, "  spindle_limit_word: G92\n", "", "control:"),
    ("a work offset out of range", SHOP, "work_offset: none", "work_offset: G60", "G60"),
    // Schedules.
    ("a schedule that is not known", JOB, "schedule: scuffed-lip", "schedule: scuffed-rim", "scuffed-rim"),
    ("a tool that is not known", SHOP, "tool: sweeper", "tool: sweper", "sweper"),
    ("a feed beside a texture", SHOP, "texture: Rz 2.0 um", "feed: 0.1 mm/rev, texture: Rz 2.0 um", "Rz 2.0 um"),
    ("neither feed nor texture", SHOP, ", texture: Rz 2.0 um", "", "finish:"),
    ("a texture without its measure", SHOP, "texture: Rz 2.0 um", "texture: 2.0 um", "2.0 um"),
    ("rings of a trial that overlap", JOB, ZONE, "  - { from: 70 mm, to: 216 mm }\ntrial:\n  - { name: A, from: 90 mm, to: 98 mm }\n  - { name: B, from: 97 mm, to: 104 mm }\n", "97 mm"),
    ("a ring of a trial that takes nothing", JOB, ZONE, "  - { from: 70 mm, to: 216 mm }\ntrial: [{ name: A, from: 90 mm, to: 98 mm, depth: 0 mm }]\n", "0 mm }]"),
    ("two rings of one name", JOB, ZONE, "  - { from: 70 mm, to: 216 mm }\ntrial:\n  - { name: A, from: 90 mm, to: 98 mm }\n  - { name: A, from: 99 mm, to: 104 mm }\n", "A, from: 99 mm"),
    ("a texture that the shop does not name", SHOP, "texture: Rz 2.0 um", "texture: brihgt", "brihgt"),
    ("a texture that is named by another", SHOP, "schedules:\n", "textures: { bright: silk, silk: Rz 2.0 um }\nschedules:\n", "silk, silk"),
    ("grooves without a distance", SHOP, "texture: Rz 2.0 um", "texture: grooves 0 mm", "grooves 0 mm"),
    ("grooves further apart than the nose is wide", SHOP, "texture: Rz 2.0 um", "texture: grooves 2 mm", "grooves 2 mm"),
    ("grooves over nothing", SHOP, "texture: Rz 2.0 um", "texture: 25 grooves", "25 grooves"),
    ("half a groove", SHOP, "texture: Rz 2.0 um", "texture: 2.5 grooves in 3 mm", "2.5 grooves"),
    ("speeds that change on a control that holds a surface speed", SHOP, "passes: 1, surface_speed: 220 m/min", "passes: 1, speed_changes: [100 mm], surface_speed: 220 m/min", "[100 mm]"),
    ("no waviness at all", SHOP, "    tolerance: 0.005 mm\n", "    waviness: 0 um\n", "0 um\n"),
    ("a texture without its unit", SHOP, "texture: Rz 2.0 um", "texture: Rz 2.0", "Rz 2.0 }"),
    ("a feed wider than the nose", SHOP, "feed: 0.20 mm/rev", "feed: 0.20 in/rev", "0.20 in/rev"),
    ("a feed beyond the machine", SHOP, "feed_limit: 2000 mm/min", "feed_limit: 120 mm/min", "0.40 mm/rev"),
    ("a rough pass of no depth", SHOP, "depth: 0.10 mm", "depth: 0 mm", "0 mm, passes: auto"),
    ("no passes", SHOP, "passes: auto", "passes: 0", "0, surface_speed: 280"),
    ("a tolerance as thick as a cut", SHOP, "tolerance: 0.005 mm", "tolerance: 0.005 in", "0.005 in"),
    ("an air pass no higher than a pass is deep", SHOP, "height: 1.0 mm", "height: 0.15 mm", "0.15 mm, feed"),
    ("a tolerance finer than the control", SHOP, "tolerance: 0.005 mm", "tolerance: 0.5 um", "0.5 um"),
    ("a direction that is none", SHOP, "direction: outward", "direction: outwards", "outwards"),
    ("a schedule without passes", JOB, "schedule: scuffed-lip", "schedule: { air: { height: 1 mm }, step: axial, direction: outward }", "{ air"),
    // The wheel.
    ("more taken than the wheel may lose", JOB, "taken: 0.20 mm", "taken: 1.20 mm", "1.20 mm"),
    ("a wheel that may not turn", JOB, "speed_limit: 650 rpm", "speed_limit: -650 rpm", "-650 rpm"),
    ("a mounted tyre without a keep-out", JOB, KEEP_OUT, "", "mounted"),
    ("a keep-out with its range reversed", JOB, "z: [-120 mm, 2 mm]", "z: [2 mm, -120 mm]", "[2 mm, -120 mm]"),
    ("a keep-out without its heights", JOB, ", z: [-120 mm, 2 mm]", "", "{ name: tyre"),
    ("a keep-out without place", JOB, ", x: [226 mm, 320 mm], z: [-120 mm, 2 mm]", "", "{ name: tyre"),
    ("a keep-out of two corners", JOB, BOX, "corners: [[226 mm, 0 mm], [320 mm, 2 mm]]", "[[226"),
    ("a keep-out whose outline crosses itself", JOB, BOX, "corners: [[226 mm, -9 mm], [320 mm, 2 mm], [320 mm, -9 mm], [226 mm, 2 mm]]", "[[226"),
    ("a keep-out by corners and by ranges", JOB, BOX, "x: [226 mm, 320 mm], corners: [[226 mm, -9 mm], [320 mm, 2 mm], [320 mm, -9 mm]]", "[[226"),
    ("a corner without its height", JOB, BOX, "corners: [[226 mm, -9 mm], [320 mm], [320 mm, -9 mm]]", "[320 mm]"),
    ("a corner that is a word", JOB, BOX, "corners: [[226 mm, -9 mm], lip, [320 mm, -9 mm]]", "lip, [320"),
    ("a zone that ends before it begins", JOB, ZONE, "  - { from: 216 mm, to: 70 mm }\n", "70 mm }"),
    ("zones that overlap", JOB, ZONE, "  - { from: 150 mm, to: 216 mm }\n  - { from: 70 mm, to: 160 mm }\n", "70 mm, to: 160"),
    ("a zone on the axis", JOB, ZONE, "  - { from: 0 mm, to: 216 mm }\n", "0 mm, to: 216"),
    ("a zone beyond the machine", JOB, ZONE, "  - { from: 70 mm, to: 416 mm }\n", "{ from: 70"),
    ("damage the wrong way round", JOB, DAMAGE, "{ from: 214 mm, to: 203 mm, depth: 0.35 mm, kind: scrape }", "203 mm, depth"),
    ("a park beyond the travel", SHOP, "park: { x: 300 mm, z: 200 mm }", "park: { x: 300 mm, z: 600 mm }", "600 mm"),
    ("a scrape without its depth", JOB, DAMAGE, "{ from: 203 mm, to: 214 mm, kind: scrape }", "{ from: 203"),
    ("a kind of damage that is not known", JOB, "kind: scrape", "kind: dent", "dent"),
    ("a touch-off in damage", JOB, "touch_off: { at: 76 mm }", "touch_off: { at: 210 mm }", "210 mm"),
    // How tools are touched.
    ("a shim without a unit", SHOP, "tools:\n", "touch: { shim: 0.05 }\n\ntools:\n", "0.05 }"),
    ("a shim as thick as a finger", SHOP, "tools:\n", "touch: { shim: 0.5 in }\n\ntools:\n", "0.5 in"),
    ("a work offset that the control does not name", SHOP, "tools:\n", "touch: { into: work }\n\ntools:\n", "work }"),
    ("an offset of another kind", SHOP, "tools:\n", "touch: { into: wear }\n\ntools:\n", "wear }"),
    ("a setter beyond the travel", SHOP, "tools:\n", "touch: { setter: { x: 500 mm, z: 40 mm } }\n\ntools:\n", "500 mm"),
    ("a setter without its height", SHOP, "tools:\n", "touch: { setter: { x: 290 mm } }\n\ntools:\n", "setter: {"),
    ("lacquer below nothing", JOB, "touch_off: { at: 76 mm }", "touch_off: { at: 76 mm, lacquer: -0.1 mm }", "-0.1 mm"),
    ("lacquer as thick as a finger", JOB, "touch_off: { at: 76 mm }", "touch_off: { at: 76 mm, lacquer: 12 mm }", "12 mm"),
    // The measurement.
    ("a scan listed twice", JOB, LAST_SCAN, "{ file: scan-120.csv, at: 240 deg }", "scan-120.csv, at: 240"),
    ("an angle beyond the turn", JOB, "at: 240 deg", "at: 361 deg", "361 deg"),
    ("an angle without its unit", JOB, "at: 240 deg", "at: 240", "240 }"),
    ("two columns of x", JOB, "columns: [x, z]", "columns: [x, x]", "[x, x]"),
    ("a ball without its diameter", JOB, "sensor: spot", "sensor: ball", "ball"),
    ("a ball of bare size", JOB, "sensor: spot", "sensor: ball 3", "ball 3"),
    ("a missing sensor offset", JOB, "  x_offset: 0 mm\n", "", "measured:"),
];

/// The line and column, from 1, at which a piece of text stands for the first time.
fn place(text: &str, piece: &str) -> (usize, usize) {
    let before = text.find(piece).map_or_else(|| panic!("`{piece}` is not there"), |at| &text[..at]);
    let line = before.matches('\n').count() + 1;
    (line, before.rsplit('\n').next().unwrap_or_default().chars().count() + 1)
}

/// Loads the demo's job after a change to one of its files; gives the outcome and the changed text.
fn load_changed(file: &str, old: &str, new: &str) -> (Result<job::Job, JobError>, String) {
    let folder = tempfile::tempdir().unwrap();
    let mut changed = String::new();
    for name in [JOB, SHOP] {
        let mut text = std::fs::read_to_string(Path::new(DEMO).join(name)).unwrap();
        if name == file {
            assert_eq!(text.matches(old).count().min(1), 1, "`{old}` is not in {name}");
            text = text.replacen(old, new, 1);
            changed.clone_from(&text);
        }
        std::fs::write(folder.path().join(name), text).unwrap();
    }
    (job::load(&folder.path().join(JOB)), changed)
}

#[test]
fn every_fault_names_its_place_and_the_way_to_mend_it() {
    let mut all = String::new();
    let mut misplaced = String::new();
    for (what, file, old, new, at) in CASES {
        let (outcome, text) = load_changed(file, old, new);
        let mut fault = match outcome {
            Err(JobError::Input(fault)) => fault,
            other => panic!("{what}: {other:?}"),
        };
        let name = fault.file.file_name().unwrap().to_string_lossy().into_owned();
        if name != *file || (!at.is_empty() && (fault.line, fault.column) != place(&text, at)) {
            let wanted = place(&text, at);
            let _ = writeln!(misplaced, "{what}: wanted {file} {wanted:?}\n{fault}");
        }
        fault.file = name.into();
        let _ = writeln!(all, "--- {what}\n{fault}\n");
    }
    assert!(misplaced.is_empty(), "{misplaced}");
    insta::assert_snapshot!(all);
}

/// What is harmless may be left out, what is unusual may be written, and both load.
#[test]
fn what_is_right_loads() {
    for (file, old, new) in [
        (SHOP, "  coolant: none\n", ""),
        (SHOP, "  program_number: none\n", "  program_number: O1001\n"),
        (SHOP, "  sequence: 10\n", "  sequence: none\n"),
        (
            SHOP,
            "units: mm\n  unit_word: G71\n  resolution: 0.001 mm",
            "units: inch\n  unit_word: G20\n  resolution: 0.0001 in",
        ),
        (
            SHOP,
            "surface_speed: true\n  spindle_limit_word: G92",
            "surface_speed: false\n  spindle_limit_word: none",
        ),
        (SHOP, "surface_speed: true\n  spindle_limit_word: G92", "surface_speed: false"),
        (
            JOB,
            BOX,
            "corners: [[226 mm, -120 mm], [320 mm, -120 mm], [320 mm, 2 mm], [240 mm, 2 mm], [226 mm, -20 mm]]",
        ),
        (
            SHOP,
            "control:\n",
            "keep_out:\n  - { name: jaws, x: [20 mm, 60 mm], z: [-90 mm, -40 mm] }\n\ncontrol:\n",
        ),
        (SHOP, "depth: 0.05 mm, passes: 1", "depth: 0 mm, passes: 2"),
        (SHOP, "texture: Rz 2.0 um", "texture: Ra 0.4 µm"),
        (
            JOB,
            ZONE,
            "  - { from: 70 mm, to: 216 mm }\ntrial: [{ name: A, from: 90 mm, to: 98 mm, texture: Ra 0.3 um }]\n",
        ),
        (SHOP, "texture: Rz 2.0 um", "texture: grooves 0.12 mm"),
        (SHOP, "texture: Rz 2.0 um", "texture: 25 grooves in 3 mm"),
        (SHOP, "texture: Rz 2.0 um", "texture: feed 0.11 mm/rev"),
        (SHOP, "    tolerance: 0.005 mm\n", "    waviness: 6 um\n"),
        (SHOP, "    edge_length: 8 mm\n", "    edge_length: 8 mm\n    cutting_edge_radius: 5 um\n"),
        (SHOP, "    point: front\n", "    point: front\n    holder: { inner: 4 mm, outer: 25 mm }\n"),
        (JOB, "sensor: spot", "sensor: ball 3 mm"),
        (JOB, "shop: shop.yaml\n", ""),
        (JOB, "schedule: scuffed-lip\n", ""),
        (JOB, "  material: cast aluminium\n  tyre: mounted\n", ""),
        (JOB, "  filter: 0.8 mm\n", ""),
        (JOB, "filter: 0.8 mm", "filter: none"),
        (JOB, "touch_off: { at: 76 mm }", ""),
        (JOB, "touch_off: { at: 76 mm }", "touch_off: { at: 76 mm, lacquer: 0.06 mm, shim: 0 mm }"),
        (
            SHOP,
            "tools:\n",
            "touch: { shim: 0.05 mm, repeats: 0.005 mm, limit: 0.03 mm, into: tool }\n\ntools:\n",
        ),
        (SHOP, "tools:\n", "touch: { setter: { x: 290 mm, z: 40 mm } }\n\ntools:\n"),
        (JOB, "kind: scrape", "kind: crack"),
        (JOB, "depth: 0.35 mm, kind: scrape", "kind: weld"),
        (JOB, "job: \"Demo 7, rear right\"", "job: 1042"),
        (JOB, "columns: [x, z]", "columns: [other, z, x]"),
        (JOB, "# What this wheel needs.", "\u{feff}# What this wheel needs."),
    ] {
        let (outcome, _) = load_changed(file, old, new);
        assert!(outcome.is_ok(), "{new}: {}", outcome.unwrap_err());
    }
}

/// Both files are read to their end: every fault is told once, in the order of the files, and none that follows from another.
#[test]
fn all_faults_of_both_files_are_told_together() {
    let folder = tempfile::tempdir().unwrap();
    let changed = |name: &str, changes: &[(&str, &str)]| {
        let mut text = std::fs::read_to_string(Path::new(DEMO).join(name)).unwrap();
        for (old, new) in changes {
            assert!(text.contains(old), "{old}");
            text = text.replacen(old, new, 1);
        }
        std::fs::write(folder.path().join(name), &text).unwrap();
        text
    };
    let job = changed(
        JOB,
        &[
            ("  speed_limit: 650 rpm ", "  #"),
            ("run_out_limit: 0.30 mm", "run_out_limit: 0.30"),
            ("name: \"17 x 7", "valve: brass\n  name: \"17 x 7"),
            ("at: 240 deg", "at: 240"),
            ("from: 70 mm", "from: inner"),
            ("touch_off: { at: 76 mm }", "touch_off: {}"),
        ],
    );
    let shop = changed(
        SHOP,
        &[
            ("clearance: 3 mm", "clearance: plenty"),
            ("surface_speed: true", "surface_speed: yes"),
            ("point: front\n\n", "point: tip\n\n"),
            ("depth: 0.10 mm", "depth: 0.1"),
            ("direction: outward", "direction: outwards"),
        ],
    );
    let errors = job::load_all(&folder.path().join(JOB)).unwrap_err();
    let found: Vec<(String, usize, usize)> = std::iter::once(&errors.first)
        .chain(&errors.more)
        .map(|error| match error {
            JobError::Input(fault) => {
                (fault.file.file_name().unwrap().to_string_lossy().into_owned(), fault.line, fault.column)
            }
            JobError::Io { .. } => panic!("{error}"),
        })
        .collect();
    let at = |name: &str, text: &str, piece: &str| {
        let (line, column) = place(text, piece);
        (name.to_owned(), line, column)
    };
    let mut wanted: Vec<_> =
        ["plenty", "yes", "tip", "0.1, passes", "outwards"].iter().map(|p| at(SHOP, &shop, p)).collect();
    wanted.extend(
        ["wheel:", "valve", "0.30\n", "240 }", "inner", "touch_off:"].iter().map(|p| at(JOB, &job, p)),
    );
    let sorted = |mut places: Vec<(String, usize, usize)>| {
        places.sort();
        places
    };
    assert_eq!(sorted(found), sorted(wanted));
}

/// A place to keep out of keeps its outline, and what stands on the machine is added to what stands on the wheel.
#[test]
fn keep_outs_of_any_shape_come_from_both_files() {
    let corners = "corners: [[226 mm, -120 mm], [320 mm, -120 mm], [320 mm, 2 mm]]";
    let (job, _) = load_changed(JOB, BOX, corners);
    let job = job.unwrap();
    assert_eq!(geo::Area::unsigned_area(job.keep_out[0].outline()), 94.0 * 122.0 / 2.0);
    assert_eq!(job.keep_out[0].radii(), [226.0, 320.0]);
    let jaws = "keep_out: [{ name: jaws, x: [20 mm, 60 mm], z: [-90 mm, -40 mm] }]\n\ncontrol:\n";
    let (job, _) = load_changed(SHOP, "control:\n", jaws);
    let names: Vec<String> = job.unwrap().keep_out.iter().map(|k| k.name().to_owned()).collect();
    assert_eq!(names, ["tyre", "jaws"]);
}

#[test]
fn lines_may_end_as_they_do_elsewhere() {
    let folder = tempfile::tempdir().unwrap();
    for name in [JOB, SHOP] {
        let text = std::fs::read_to_string(Path::new(DEMO).join(name)).unwrap().replace('\n', "\r\n");
        std::fs::write(folder.path().join(name), text).unwrap();
    }
    assert!(job::load(&folder.path().join(JOB)).is_ok());
}

#[test]
fn a_schedule_may_be_written_out_in_the_job() {
    let shop = std::fs::read_to_string(Path::new(DEMO).join(SHOP)).unwrap();
    let (_, body) = shop.split_once("  scuffed-lip:\n").unwrap();
    let body = format!("\n{body}").replace("\n    ", "\n  ");
    let (written_out, _) = load_changed(JOB, "schedule: scuffed-lip\n", &format!("schedule:{body}"));
    let by_name = job::load(&Path::new(DEMO).join(JOB)).unwrap();
    let written_out = written_out.unwrap();
    assert_eq!(by_name.schedule.name.as_deref(), Some("scuffed-lip"));
    assert_eq!(written_out.schedule, job::Schedule { name: None, ..by_name.schedule });
}

/// A whole turn is none.
#[test]
fn a_line_at_360_degrees_is_the_one_at_0() {
    let job = load_changed("job.yaml", "at: 0 deg", "at: 360.00 deg").0.unwrap_or_else(|e| panic!("{e}"));
    assert!(job.measured.lines.iter().any(|line| line.at.as_rad() == 0.0), "{:?}", job.measured.lines);
}

#[test]
fn zones_come_in_rising_order_however_they_are_written() {
    let (job, _) =
        load_changed(JOB, ZONE, "  - { from: 200 mm, to: 216 mm }\n  - { from: 70 mm, to: 160 mm }\n");
    let from: Vec<f64> = job.unwrap().zones.iter().map(|z| z.from.as_mm()).collect();
    assert_eq!(from, [70.0, 200.0]);
}

#[test]
fn a_file_that_is_not_there_is_told_from_one_that_is_wrong() {
    let missing = job::load(&Path::new(DEMO).join("no-such.yaml"));
    assert!(matches!(missing, Err(JobError::Io { .. })), "{missing:?}");
    let (no_shop, _) = load_changed(JOB, "shop: shop.yaml", "shop: no-such.yaml");
    assert!(
        matches!(&no_shop, Err(JobError::Io { path, .. }) if path.ends_with("no-such.yaml")),
        "{no_shop:?}"
    );
}

#[test]
fn bytes_that_are_not_text_are_refused_with_their_place() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(JOB);
    std::fs::write(&path, b"job: one\nshop: caf\xe9.yaml\n").unwrap();
    match job::load(&path) {
        Err(JobError::Input(fault)) => assert_eq!((fault.line, fault.column), (2, 10), "{fault}"),
        other => panic!("{other:?}"),
    }
    std::fs::write(&path, "").unwrap();
    assert!(matches!(job::load(&path), Err(JobError::Input(_))));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// Whatever is done to the text, it loads, or it is refused at a place inside the file.
    #[test]
    fn a_mauled_file_is_read_or_refused(
        in_job in prop::bool::ANY,
        at in 0..4000_usize,
        cut in 0..12_usize,
        put in "[-{}:,&*!#|>'\"\\[\\] \n\ta-z0-9.é]{0,6}",
    ) {
        let file = if in_job { JOB } else { SHOP };
        let text: Vec<char> = std::fs::read_to_string(Path::new(DEMO).join(file)).unwrap().chars().collect();
        let start = at % text.len();
        let rest = text.iter().skip(start + cut);
        let mauled: String = text.iter().take(start).copied().chain(put.chars()).chain(rest.copied()).collect();
        let whole: String = text.iter().collect();
        if let (Err(JobError::Input(fault)), _) = load_changed(file, &whole, &mauled) {
            prop_assert!(fault.line <= mauled.lines().count() + 1, "{}", fault);
            prop_assert!(!fault.found.contains(char::is_control), "{}", fault);
        }
    }
}

/// A texture of the shop's own is the text that it names, in a schedule and in a ring of a trial; what a ring leaves out is the finish's.
#[test]
fn textures_have_names_and_rings_fill_up_from_the_finish() {
    let folder = tempfile::tempdir().unwrap();
    let shop = std::fs::read_to_string(Path::new(DEMO).join(SHOP)).unwrap();
    let shop = shop.replace("texture: Rz 2.0 um", "texture: old groove");
    let shop = shop.replace(
        "schedules:\n",
        "textures: { old groove: 25 grooves in 3 mm, silk: Ra 0.3 um }\nschedules:\n",
    );
    std::fs::write(folder.path().join(SHOP), shop).unwrap();
    let text = std::fs::read_to_string(Path::new(DEMO).join(JOB)).unwrap();
    let rings = "trial:\n  - { name: B, from: 100 mm, to: 108 mm, texture: silk, depth: 0.02 mm }\n  - { name: A, from: 88 mm, to: 96 mm }\n";
    std::fs::write(folder.path().join(JOB), format!("{text}\n{rings}")).unwrap();
    let job = job::load(&folder.path().join(JOB)).unwrap_or_else(|e| panic!("{e}"));
    let finish = job.schedule.finish.clone().unwrap();
    let job::Feed::Grooves(pitch) = finish.feed else { panic!("{:?}", finish.feed) };
    assert!((pitch.as_mm() - 0.12).abs() < 1e-12);
    let [a, b] = job.trial.as_slice() else { panic!("{:?}", job.trial) };
    assert_eq!((a.name.as_str(), b.name.as_str()), ("A", "B"));
    assert_eq!((a.finish.feed, a.finish.depth), (finish.feed, finish.depth));
    assert_eq!(b.finish.feed, job::Feed::Ra("0.3 um".parse().unwrap()));
    assert_eq!(b.finish.depth, "0.02 mm".parse().unwrap());
    let trial = job.for_trial().expect("it lists rings");
    assert_eq!(trial.zones.len(), 2);
    assert!(trial.schedule.rough.is_none() && trial.rings == job.trial);
}

/// A job of a shop that describes its sensor, its limits and its angles is short, and is the same job.
#[test]
fn what_the_shop_says_for_all_wheels_need_not_be_said_again() {
    let long = job::load(&Path::new(DEMO).join(JOB)).unwrap_or_else(|e| panic!("{e}"));
    let folder = tempfile::tempdir().unwrap();
    let shop = std::fs::read_to_string(Path::new(DEMO).join(SHOP)).unwrap();
    let more = "sensors:\n  probe: { kind: spot, x: radius, unit: mm, columns: [x, z], z: height, x_offset: 0 mm, longest_gap: 2 mm }\nlimits: { run_out: 0.30 mm }\nangles: [0 deg, 120 deg, 240 deg]\n";
    std::fs::write(folder.path().join(SHOP), shop + more).unwrap();
    let job = "job: \"Demo 7, rear right\"\nwheel: { name: \"17 x 7, ten spokes\", material: cast aluminium, speed_limit: 650 rpm, allowance: { limit: 1.0 mm, taken: 0.20 mm } }\nmeasured: { lines: [scan-000.csv, scan-120.csv, scan-240.csv] }\ntouch_off: { at: 76 mm }\ndamage:\n  - { from: 203 mm, to: 214 mm, depth: 0.35 mm, kind: scrape }\nzones: [{ from: 70 mm, to: 216 mm }]\nkeep_out:\n  - { name: tyre, x: [226 mm, 320 mm], z: [-120 mm, 2 mm] }\n";
    let path = folder.path().join(JOB);
    std::fs::write(&path, job).unwrap();
    let mut short = job::load_all(&path).unwrap_or_else(|e| panic!("{e}"));
    short.file.clone_from(&long.file);
    short.shop_file.clone_from(&long.shop_file);
    short.measured.said_in.clone_from(&long.measured.said_in);
    for (a, b) in short.measured.lines.iter_mut().zip(&long.measured.lines) {
        a.file.clone_from(&b.file);
        a.named.clone_from(&b.named);
    }
    assert_eq!(short, long);
}

/// Every blank of both files is told in one run.
#[test]
fn all_blanks_are_told_together() {
    let folder = tempfile::tempdir().unwrap();
    for (name, old, new) in [(JOB, "650 rpm", "____ rpm"), (SHOP, "clearance: 3 mm", "clearance: ____ mm")] {
        let text = std::fs::read_to_string(Path::new(DEMO).join(name)).unwrap();
        std::fs::write(folder.path().join(name), text.replacen(old, new, 1).replacen("0.20 mm", "____", 1))
            .unwrap();
    }
    let errors = job::load_all(&folder.path().join(JOB)).unwrap_err();
    assert_eq!(errors.more.len() + 1, 4, "{errors}");
    assert!(errors.more.iter().all(|e| e.to_string().contains("is a blank")), "{errors}");
}
