//! Every key of the job file and the shop file: what may stand under it, its default, what it is for, what a wrong value does.
//!
//! This is the one table. The reader's errors, `explain`, `schema` and docs/keys.md are made from it; the types that read the
//! files are held to it by a test. Groups bear the names of the types that read them.

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

const LENGTH: Form = Form::Quantity("a length", "mm, in, um, cm, m");
const ANGLE: Form = Form::Quantity("an angle", "deg");
const RPM: Form = Form::Quantity("a spindle speed", "rpm");
const SURFACE_SPEED: Form = Form::Quantity("a surface speed", "m/min, ft/min, m/s");
const FEED: Form = Form::Quantity("a feed per revolution", "mm/rev, in/rev");

const TEXTURE: Form = Form::Or(
    &[],
    "`Rz 2.0 um`, `Ra 0.4 um`, `grooves 0.12 mm`, `25 grooves in 3 mm`, `feed 0.11 mm/rev` or a name of `textures`",
);

/// The job file.
pub static JOB: Group = Group {
    kind: "JobFile",
    place: "job file",
    keys: &[
        need(
            "job",
            Form::Text,
            "\"1042, front left\"",
            "the name of the job, as it stands on every page and in the program's head",
            "a program without a name is run on the wrong wheel",
        ),
        may(
            "shop",
            Form::File,
            ("shop.yaml", "the nearest `shop.yaml`: in the job's folder, or in one above it"),
            "the shop file with machine, control, tools and schedules",
            "another machine's limits and words",
        ),
        may(
            "schedule",
            Form::TextOr(&SCHEDULE),
            ("kerbside", "the shop's only schedule"),
            "the passes: the name of one of the shop's schedules, or one written out here",
            "passes of the wrong depth, feed or tool",
        ),
        need(
            "wheel",
            Form::Group(&WHEEL),
            "{ speed_limit: 700 rpm, allowance: { limit: 1.0 mm, taken: 0 mm } }",
            "what is known of the wheel, and what a person decides about it",
            "see its keys",
        ),
        need(
            "measured",
            Form::Group(&MEASURED),
            "{ lines: [{ file: scan-000.csv, at: 0 deg }] }",
            "the scans, and how they are read",
            "see its keys",
        ),
        may(
            "touch_off",
            Form::Group(&TOUCH_OFF),
            ("{ at: 82 mm }", "the middle of the widest zone"),
            "where the tools touch the face to set their height",
            "touched in damage or on lacquer, every cut is too deep by as much",
        ),
        may(
            "damage",
            Form::List(&DAMAGE),
            ("[{ from: 203 mm, to: 214 mm, depth: 0.35 mm, kind: scrape }]", "none: the lines alone show it"),
            "damage that a person saw; lines may miss it",
            "damage between the lines stays, or a crack is cut",
        ),
        may(
            "mend",
            Form::List(&ZONE),
            ("[{ from: 120 mm, to: 124 mm }]", "the lines decide"),
            "stretches that all lines show as dips and that are damage all the same",
            "damage all round is taken for the wheel's shape and copied",
        ),
        may(
            "leave",
            Form::List(&ZONE),
            ("[{ from: 96 mm, to: 99 mm }]", "the lines decide"),
            "stretches that are the wheel's shape, even where lines disagree",
            "a groove that belongs to the wheel is cut away",
        ),
        may(
            "no_metal",
            Form::List(&ZONE),
            ("[{ from: 110 mm, to: 118 mm }]", "the lines decide"),
            "stretches without metal on any line: bolt holes, windows",
            "what the sensor saw through a hole is taken for the face",
        ),
        may(
            "accept",
            Form::ListOf("`two-lobe bend unseen` or `raised spot`"),
            ("[raised spot]", "no doubt is accepted"),
            "doubts of the measurement that a person has looked into and accepts",
            "a bent wheel is cut to run untrue",
        ),
        may(
            "turn",
            Form::List(&TURN),
            ("[{ at: 214 mm, every: 45 deg, reads: [0.00 mm, 0.03 mm, 0.05 mm] }]", "not measured"),
            "readings round the wheel at one radius; few lines cannot show how it runs between them",
            "run-out between the lines is not known",
        ),
        need(
            "zones",
            Form::List(&ZONE),
            "[{ from: 70 mm, to: 216 mm }]",
            "the rings to cut, as radii",
            "metal is cut that was not to be, or damage beside the zone stays",
        ),
        may(
            "keep_out",
            Form::List(&KEEP_OUT),
            ("[{ name: tyre, x: [224 mm, 330 mm], z: [-90 mm, 12 mm] }]", "none; a mounted tyre needs one"),
            "places that no part of tool or holder may enter, besides those of the shop file",
            "the holder runs into the tyre",
        ),
        may(
            "trial",
            Form::List(&TRIAL),
            ("[{ name: A, from: 80 mm, to: 88 mm }]", "no rings"),
            "rings for a scrap wheel, to find a texture by eye (`write --trial`)",
            "only a scrap wheel is at stake",
        ),
        may(
            "program_number",
            Form::Or(&["none"], "O and one to four digits"),
            ("O1001", "the control's own"),
            "the O number of this job's program, where the control wants one",
            "another program of that number is overwritten",
        ),
        may(
            "measured_again",
            Form::Group(&AGAIN),
            ("{ cut: 0.30 mm, zero: same, lines: [{ file: again-000.csv, at: 0 deg }] }", "it was not"),
            "lines measured again after passes were cut: what they really took",
            "what was taken is believed to be what was planned",
        ),
        may(
            "cut_along",
            Form::Words(&["highest", "middle", "lowest"]),
            ("lowest", "the one that takes least off"),
            "the place of the turn that the face is cut along; to go on, the one that the first program followed",
            "a pass that goes on along another place takes more than its depth, by the run-out at most",
        ),
    ],
};

static WHEEL: Group = Group {
    kind: "Wheel",
    place: "job file: wheel",
    keys: &[
        may(
            "number",
            Form::Text,
            ("R-1042", "the wheel is not in the ledger"),
            "the shop's own number of this one wheel, under which its ledger knows it",
            "what was taken is entered for another wheel",
        ),
        may(
            "name",
            Form::Text,
            ("\"18 x 8, five spokes\"", "the name of the job"),
            "what the wheel is",
            "nothing: it is only shown",
        ),
        may(
            "material",
            Form::Text,
            ("cast aluminium", "not said"),
            "what it is made of",
            "nothing: it is only shown",
        ),
        may(
            "tyre",
            Form::Words(&["mounted", "removed"]),
            ("removed", "mounted, which needs a keep-out"),
            "whether the tyre is on: then a keep-out must say where",
            "called removed with the tyre on, the holder may run into it",
        ),
        decide(
            "speed_limit",
            RPM,
            "700 rpm",
            "balance and tyre decide how fast this wheel may turn",
            "the wheel comes out of the jaws",
        ),
        decide(
            "allowance",
            Form::Group(&ALLOWANCE),
            "{ limit: 1.0 mm, taken: 0.20 mm }",
            "a person decides how much metal this wheel may lose",
            "a wheel too thin to carry its load",
        ),
        decide(
            "run_out_limit",
            LENGTH,
            "0.30 mm",
            "a person decides how untrue a wheel is still cut; the shop's `limits` may say it for all wheels",
            "a bent wheel is cut, thin on one side",
        ),
        may(
            "bend_limit",
            LENGTH,
            ("0.25 mm", "the run-out limit"),
            "the most run-out that no tilt of the mounting explains and that is still cut",
            "a bent wheel is cut, thin on one side",
        ),
    ],
};

static ALLOWANCE: Group = Group {
    kind: "Allowance",
    place: "job file: wheel: allowance",
    keys: &[
        decide(
            "limit",
            LENGTH,
            "1.0 mm",
            "all the metal this wheel may ever lose",
            "a wheel too thin to carry its load",
        ),
        may(
            "taken",
            LENGTH,
            ("0.20 mm", "what the ledger holds; without a ledger it is needed"),
            "the metal that earlier jobs took",
            "the same metal is given away twice",
        ),
    ],
};

static MEASURED: Group = Group {
    kind: "Measured",
    place: "job file: measured",
    keys: &[
        need(
            "sensor",
            Form::Or(&["spot"], "`ball` and its diameter, or a name of the shop's `sensors`"),
            "spot",
            "what measured: light or a fine point, or a ball whose radius is taken off; the shop's only sensor need not be named",
            "a ball called a spot leaves grooves too narrow and edges too wide",
        ),
        need(
            "x",
            Form::Words(&["radius", "diameter"]),
            "radius",
            "what x means",
            "everything is cut at half or twice its radius",
        ),
        need(
            "unit",
            Form::Words(&["mm", "inch", "um", "cm", "m"]),
            "mm",
            "the unit of the scans' columns",
            "a face of another size",
        ),
        may(
            "z_unit",
            Form::Words(&["mm", "inch", "um", "cm", "m"]),
            ("um", "as `unit`"),
            "the unit of z, where it is not that of x",
            "a face too flat or too steep",
        ),
        need(
            "columns",
            Form::ListOf("`x`, `z`, `trace` and `other`, in the order of the file"),
            "[x, z]",
            "what each column holds; `trace` tells several traces in one file apart",
            "x and z are swapped, or another quantity is taken for a height",
        ),
        need(
            "z",
            Form::Words(&["height", "distance"]),
            "height",
            "whether z grows away from the chuck (`height`) or away from the sensor toward it (`distance`)",
            "hills are cut as valleys",
        ),
        decide(
            "x_offset",
            LENGTH,
            "0 mm",
            "where the sensor stands against the tool moves the whole face",
            "every feature is cut beside its place",
        ),
        may(
            "filter",
            Form::Or(&["none"], "a length"),
            ("0.8 mm", "0.8 mm"),
            "cut-off of the Gaussian filter for waviness (ISO 16610-21)",
            "too long, edges are rounded in the figures",
        ),
        decide(
            "longest_gap",
            LENGTH,
            "2 mm",
            "a gap that is bridged is a face that nobody measured",
            "metal is cut by a guess",
        ),
        may(
            "run_out",
            LENGTH,
            ("0.08 mm", "what the lines show"),
            "run-out that an indicator at the rim read over one turn",
            "a wheel that runs untrue is cut as if it ran true",
        ),
        need(
            "lines",
            Form::List(&LINE),
            "[{ file: scan-000.csv, at: 0 deg }]",
            "the measured lines, each at its angle; three or more show how the wheel sits",
            "see its keys",
        ),
    ],
};

static LINE: Group = Group {
    kind: "ScanLine",
    place: "job file: measured: lines",
    keys: &[
        need("file", Form::File, "scan-000.csv", "the scan", "the face of another wheel"),
        need(
            "at",
            ANGLE,
            "120 deg",
            "the angle of the wheel at which it was measured; the shop's `angles` may say it for all wheels",
            "tilt and bend are computed for another direction",
        ),
        may(
            "trace",
            Form::Text,
            ("2", "the file's only trace"),
            "which trace of a file with several: its number from 1, or what the column `trace` holds",
            "the line of another angle",
        ),
    ],
};

static AGAIN: Group = Group {
    kind: "MeasuredAgain",
    place: "job file: measured_again",
    keys: &[
        may(
            "cut",
            LENGTH,
            ("0.30 mm", "what the ledger holds; without a ledger it is needed"),
            "what the passes until then were to take",
            "what they took is held against another depth",
        ),
        decide(
            "zero",
            Form::Words(&["same", "face"]),
            "same",
            "`same` if the sensor was left as it was, `face` if it was set anew and the lines cross metal that was not cut",
            "what was taken is off by the difference",
        ),
        need("lines", Form::List(&LINE), "[{ file: again-000.csv, at: 0 deg }]", "the lines", "see its keys"),
    ],
};

static TURN: Group = Group {
    kind: "TurnFile",
    place: "job file: turn",
    keys: &[
        need(
            "at",
            LENGTH,
            "214 mm",
            "the radius of the readings",
            "run-out is taken for that of another radius",
        ),
        may(
            "every",
            ANGLE,
            ("45 deg", "as the file says"),
            "the angle between readings of a dial",
            "the bend is seen in another direction",
        ),
        may(
            "reads",
            Form::ListOf("lengths"),
            ("[0.00 mm, 0.03 mm, 0.05 mm]", "as the file says"),
            "what the dial read, from angle zero on; larger is farther from the chuck",
            "the wheel is taken to run as it does not",
        ),
        may(
            "file",
            Form::File,
            ("ring.csv", "`every` and `reads`"),
            "a file of angle in degrees and height, in place of `every` and `reads`",
            "the wheel is taken to run as it does not",
        ),
    ],
};

static TOUCH_OFF: Group = Group {
    kind: "TouchOff",
    place: "job file: touch_off",
    keys: &[
        need(
            "at",
            LENGTH,
            "82 mm",
            "the radius at which tools touch the face",
            "touched in damage, every cut is too deep",
        ),
        may(
            "shim",
            LENGTH,
            ("0.05 mm", "the shop's `touch: shim`"),
            "thickness of the shim between nose and face, for this wheel",
            "every cut is off by as much",
        ),
        may(
            "lacquer",
            LENGTH,
            ("0.06 mm", "0 mm"),
            "thickness of paint or lacquer on the metal that was measured",
            "every cut is off by as much",
        ),
    ],
};

static DAMAGE: Group = Group {
    kind: "DamageFile",
    place: "job file: damage",
    keys: &[
        need("from", LENGTH, "203 mm", "where it begins, as radius", "damage stays"),
        need("to", LENGTH, "214 mm", "where it ends, as radius", "damage stays"),
        may(
            "depth",
            LENGTH,
            ("0.35 mm", "needed for scrapes and nicks; others are never cut"),
            "its depth below the undamaged face",
            "too small, damage stays; too large, metal is wasted",
        ),
        need(
            "kind",
            Form::Words(&["scrape", "nick", "crack", "bend", "weld"]),
            "scrape",
            "what it is; a crack, a bend or a weld is never cut",
            "a cracked wheel is cut and fails",
        ),
        may(
            "at",
            ANGLE,
            ("40 deg", "all round"),
            "the angle of its middle, with `over`",
            "another place is taken for damaged",
        ),
        may(
            "over",
            ANGLE,
            ("60 deg", "all round"),
            "its whole width over the turn, with `at`",
            "another place is taken for damaged",
        ),
    ],
};

static ZONE: Group = Group {
    kind: "Zone",
    place: "job file: zones, mend, leave, no_metal",
    keys: &[
        need("from", LENGTH, "70 mm", "the inner radius", "the cut begins elsewhere"),
        need("to", LENGTH, "216 mm", "the outer radius", "the cut ends elsewhere"),
    ],
};

static KEEP_OUT: Group = Group {
    kind: "KeepOutFile",
    place: "both files: keep_out",
    keys: &[
        need("name", Form::Text, "tyre", "what it is", "nothing: it is only shown"),
        may(
            "x",
            Form::Range,
            ("[224 mm, 330 mm]", "needed without `corners`"),
            "its range of radius",
            "the holder runs into it",
        ),
        may(
            "z",
            Form::Range,
            ("[-90 mm, 12 mm]", "needed without `corners`"),
            "its range of height, from the scans' zero",
            "the holder runs into it",
        ),
        may(
            "corners",
            Form::ListOf("corners, each a radius and a height"),
            ("[[226 mm, -9 mm], [320 mm, 2 mm], [320 mm, -9 mm]]", "the box of `x` and `z`"),
            "its outline as a polygon, in place of a box",
            "the holder runs into it",
        ),
    ],
};

static TRIAL: Group = Group {
    kind: "TrialRingFile",
    place: "job file: trial",
    keys: &[
        need("name", Form::Text, "A", "the ring's name, shown before it is cut", "the wrong ring is chosen"),
        need("from", LENGTH, "100 mm", "its inner radius", "rings overlap"),
        need("to", LENGTH, "108 mm", "its outer radius", "rings overlap"),
        may(
            "depth",
            LENGTH,
            ("0.08 mm", "as the schedule's finish"),
            "how deep it is cut",
            "only a scrap wheel is at stake",
        ),
        may(
            "surface_speed",
            SURFACE_SPEED,
            ("260 m/min", "as the schedule's finish"),
            "how fast it is cut",
            "only a scrap wheel is at stake",
        ),
        may(
            "feed",
            FEED,
            ("0.11 mm/rev", "as the schedule's finish"),
            "its feed",
            "only a scrap wheel is at stake",
        ),
        may(
            "texture",
            TEXTURE,
            ("grooves 0.06 mm", "as the schedule's finish"),
            "its texture, in place of a feed",
            "only a scrap wheel is at stake",
        ),
    ],
};

/// The shop file.
pub static SHOP: Group = Group {
    kind: "ShopFile",
    place: "shop file",
    keys: &[
        need(
            "machine",
            Form::Group(&MACHINE),
            "{ spindle_limit: 1200 rpm, ... }",
            "what the lathe can do",
            "see its keys",
        ),
        need(
            "control",
            Form::Group(&CONTROL),
            "{ x_words: diameter, ... }",
            "the words that the control reads",
            "see its keys",
        ),
        need(
            "tools",
            Form::Named(&TOOL),
            "{ rounder: { number: 1, ... } }",
            "the tools, each under a name",
            "see its keys",
        ),
        may(
            "textures",
            Form::NamedTexts("a texture"),
            ("{ silk: grooves 0.06 mm }", "none are named"),
            "names for textures, to be used in schedules",
            "another texture",
        ),
        may(
            "schedules",
            Form::Named(&SCHEDULE),
            ("{ kerbside: { air: { height: 1.0 mm }, ... } }", "a job writes its own out"),
            "pass schedules, each under a name",
            "see its keys",
        ),
        may(
            "sensors",
            Form::Named(&SENSOR),
            ("{ probe: { kind: spot, unit: mm, ... } }", "a job describes its own"),
            "the sensors, each under a name; a job takes the only one, or names one",
            "see its keys",
        ),
        may(
            "limits",
            Form::Group(&LIMITS),
            ("{ run_out: 0.30 mm }", "each job says its own"),
            "the shop's limits for every wheel; a job may set its own",
            "see its keys",
        ),
        may(
            "angles",
            Form::ListOf("angles"),
            ("[0 deg, 120 deg, 240 deg]", "each line says its own"),
            "the angles at which this shop measures; a job with as many lines need not repeat them",
            "tilt and bend are computed for other directions",
        ),
        may(
            "keep_out",
            Form::List(&KEEP_OUT),
            ("[{ name: jaws, x: [30 mm, 55 mm], z: [-60 mm, 8 mm] }]", "nothing stands near the tool"),
            "places on the machine that no part of tool or holder may enter",
            "the holder runs into a jaw",
        ),
        may(
            "touch",
            Form::Group(&TOUCH),
            ("{ shim: 0.05 mm }", "the bare nose touches the face"),
            "how tools are touched off",
            "see its keys",
        ),
        may(
            "ledger",
            Form::File,
            ("wheels.db", "none is kept"),
            "where the shop's ledger lies",
            "what wheels have lost is entered elsewhere",
        ),
    ],
};

static SENSOR: Group = Group {
    kind: "SensorFile",
    place: "shop file: sensors: a sensor",
    keys: &[
        need(
            "kind",
            Form::Or(&["spot"], "`ball` and its diameter"),
            "spot",
            "light or a fine point, or a ball whose radius is taken off",
            "a ball called a spot leaves grooves too narrow and edges too wide",
        ),
        may(
            "x",
            Form::Words(&["radius", "diameter"]),
            ("radius", "each job says it"),
            "what x means",
            "everything is cut at half or twice its radius",
        ),
        may(
            "unit",
            Form::Words(&["mm", "inch", "um", "cm", "m"]),
            ("mm", "each job says it"),
            "the unit of its columns",
            "a face of another size",
        ),
        may(
            "z_unit",
            Form::Words(&["mm", "inch", "um", "cm", "m"]),
            ("um", "as `unit`"),
            "the unit of z, where it is not that of x",
            "a face too flat or too steep",
        ),
        may(
            "columns",
            Form::ListOf("`x`, `z`, `trace` and `other`, in the order of the file"),
            ("[x, z]", "each job says it"),
            "what each column holds",
            "x and z are swapped",
        ),
        may(
            "z",
            Form::Words(&["height", "distance"]),
            ("height", "each job says it"),
            "whether z grows away from the chuck or toward it",
            "hills are cut as valleys",
        ),
        may(
            "x_offset",
            LENGTH,
            ("0 mm", "each job says it"),
            "where the sensor stands against the tool: added to every radius",
            "every feature is cut beside its place",
        ),
        may(
            "filter",
            Form::Or(&["none"], "a length"),
            ("0.8 mm", "0.8 mm"),
            "cut-off of the Gaussian filter for waviness",
            "edges are rounded in the figures",
        ),
        may(
            "longest_gap",
            LENGTH,
            ("2 mm", "each job says it"),
            "the longest gap between readings that is bridged",
            "metal is cut by a guess",
        ),
        may(
            "calibrated",
            Form::Text,
            ("2026-03-02", "not said"),
            "the day on which it was last checked against a gauge block",
            "nothing: it is only kept here",
        ),
    ],
};

static LIMITS: Group = Group {
    kind: "LimitsFile",
    place: "shop file: limits",
    keys: &[
        may(
            "run_out",
            LENGTH,
            ("0.30 mm", "each job says `run_out_limit`"),
            "how untrue a wheel is still cut",
            "a bent wheel is cut, thin on one side",
        ),
        may(
            "bend",
            LENGTH,
            ("0.25 mm", "the run-out limit"),
            "how much bend is still cut",
            "a bent wheel is cut, thin on one side",
        ),
    ],
};

static MACHINE: Group = Group {
    kind: "MachineFile",
    place: "shop file: machine",
    keys: &[
        need("spindle_limit", RPM, "1200 rpm", "fastest the spindle may turn", "a chuck that opens"),
        need(
            "feed_limit",
            Form::Quantity("a feed per minute", "mm/min, in/min, m/min"),
            "1500 mm/min",
            "fastest feed",
            "the control feeds slower than the program says, and the texture is another",
        ),
        need(
            "rapid",
            Form::Quantity("a speed", "m/min, in/min, mm/min, ft/min"),
            "6 m/min",
            "rapid traverse",
            "wrong times",
        ),
        need(
            "travel",
            Form::Group(&TRAVEL),
            "{ x: [0 mm, 420 mm], z: [-200 mm, 350 mm] }",
            "the travel of both axes, x as radius, from the scans' zero",
            "the slide runs into its stop",
        ),
        need(
            "park",
            Form::Group(&PARK),
            "{ x: 330 mm, z: 250 mm }",
            "where tools are changed and the program ends",
            "the tool meets wheel or tyre when it swings",
        ),
        need(
            "clearance",
            LENGTH,
            "3 mm",
            "rapids stay this far from anything",
            "a rapid scrapes what was measured a little wrong",
        ),
        may(
            "reference",
            Form::Group(&PARK),
            ("{ x: 400 mm, z: 350 mm }", "not known; needed for `way_home: G28`"),
            "where the tool stands at the machine's reference point",
            "the way home runs into something",
        ),
        may(
            "zero",
            Form::Group(&PARK),
            ("{ x: 0 mm, z: 0 mm }", "not known"),
            "where the machine's own zero lies, from the scans' zero",
            "a move in machine coordinates is proved elsewhere",
        ),
        may(
            "spin_first",
            RPM,
            ("60 rpm", "no slow turn"),
            "a slow turn before the first pass, to watch how the wheel runs, with a stop after it",
            "a wheel that sits badly is first seen at speed",
        ),
        may(
            "spin_up",
            Form::Quantity("a time", "s, min"),
            ("2 s", "no wait"),
            "how long the tool waits at the park after each start of the spindle",
            "the first cut begins before the spindle has its speed",
        ),
        may(
            "dwell_word",
            Form::Words(&["X", "P"]),
            ("P", "X"),
            "the letter that carries the seconds of G04",
            "the control waits another time, or stops",
        ),
    ],
};

static TRAVEL: Group = Group {
    kind: "Travel",
    place: "shop file: machine: travel",
    keys: &[
        need("x", Form::Range, "[0 mm, 420 mm]", "least and greatest radius", "the slide runs into its stop"),
        need(
            "z",
            Form::Range,
            "[-200 mm, 350 mm]",
            "least and greatest height, from the scans' zero",
            "the slide runs into its stop",
        ),
    ],
};

static PARK: Group = Group {
    kind: "Park",
    place: "shop file: machine: park",
    keys: &[
        need("x", LENGTH, "330 mm", "its radius", "the tool meets wheel or tyre"),
        need("z", LENGTH, "250 mm", "its height, from the scans' zero", "the tool meets wheel or tyre"),
    ],
};

static TOOL: Group = Group {
    kind: "ToolFile",
    place: "shop file: tools: a tool",
    keys: &[
        need(
            "number",
            Form::Count(1, 99),
            "1",
            "the number under which the control knows it",
            "another tool is called, with another offset",
        ),
        need(
            "nose_radius",
            LENGTH,
            "1.2 mm",
            "the radius of the nose; corner code 12 is 1.2 mm (ISO 1832)",
            "slopes are gouged or left standing",
        ),
        need(
            "inner_edge",
            ANGLE,
            "30 deg",
            "angle of the edge toward the axis, from the spindle axis",
            "the edge cuts where the nose was meant to",
        ),
        need(
            "outer_edge",
            ANGLE,
            "30 deg",
            "angle of the edge toward the rim, from the spindle axis",
            "the edge cuts where the nose was meant to",
        ),
        need("edge_length", LENGTH, "8 mm", "length of the straight edges", "the holder rubs on a deep face"),
        may(
            "cutting_edge_radius",
            LENGTH,
            ("10 um", "0.010 mm, a ground and polished insert for aluminium"),
            "rounding of the cutting edge: it bounds how fine a face can be",
            "a finer face is promised than the edge can leave",
        ),
        may(
            "holder",
            Form::Group(&HOLDER),
            ("{ inner: 4 mm, outer: 25 mm }", "the edges have no end, which is safe"),
            "reach of the holder on either side of the nose",
            "the holder meets the wheel",
        ),
        need(
            "point",
            Form::Words(&["front", "centre", "inner", "outer"]),
            "front",
            "the point that the program names: front (nose centre in X, lowest point in Z), nose centre, inner or outer sharp corner",
            "every cut is off by the nose radius",
        ),
    ],
};

static HOLDER: Group = Group {
    kind: "HolderFile",
    place: "shop file: tools: a tool: holder",
    keys: &[
        need(
            "inner",
            LENGTH,
            "4 mm",
            "reach toward the axis from the nose centre",
            "the holder meets the wheel",
        ),
        need(
            "outer",
            LENGTH,
            "25 mm",
            "reach toward the rim from the nose centre",
            "the holder meets the wheel",
        ),
    ],
};

static TOUCH: Group = Group {
    kind: "TouchFile",
    place: "shop file: touch",
    keys: &[
        may(
            "setter",
            Form::Group(&SETTER),
            ("{ x: 290 mm, z: 40 mm }", "tools touch the face"),
            "a flat on the machine on which tools are touched instead",
            "every cut is off by its error",
        ),
        may(
            "shim",
            LENGTH,
            ("0.05 mm", "0 mm"),
            "thickness of the shim that the nose touches",
            "every cut is off by as much",
        ),
        may(
            "into",
            Form::Words(&["tool", "work"]),
            ("tool", "tool"),
            "the offset that a touch-off sets: the tool's own, or the work offset, which moves every tool",
            "the second tool is moved by the first",
        ),
        may(
            "repeats",
            LENGTH,
            ("0.005 mm", "0.010 mm"),
            "how well a touch repeats: one standard deviation",
            "too small, a bad touch is believed",
        ),
        may(
            "limit",
            LENGTH,
            ("0.03 mm", "0.05 mm"),
            "the most that a tool may cut off its plan and go on",
            "too large, a tool set wrong goes on",
        ),
    ],
};

static SETTER: Group = Group {
    kind: "Setter",
    place: "shop file: touch: setter",
    keys: &[
        need("x", LENGTH, "290 mm", "radius of its middle", "the tool is touched beside it"),
        need(
            "z",
            LENGTH,
            "40 mm",
            "height of its top, from the scans' zero",
            "every cut is off by its error",
        ),
    ],
};

static CONTROL: Group = Group {
    kind: "ControlFile",
    place: "shop file: control",
    keys: &[
        need(
            "x_words",
            Form::Words(&["diameter", "radius"]),
            "diameter",
            "what X words mean",
            "everything is cut at half or twice its radius",
        ),
        need(
            "units",
            Form::Words(&["mm", "inch"]),
            "mm",
            "the unit of the program",
            "a move 25 times too long or too short",
        ),
        need(
            "unit_word",
            Form::Words(&["G20", "G21", "G70", "G71"]),
            "G71",
            "the word that sets the unit",
            "the control refuses the word or reads another unit",
        ),
        need("resolution", LENGTH, "0.001 mm", "smallest step of a coordinate word", "digits are cut off"),
        need(
            "arcs",
            Form::Words(&["centre", "radius", "none"]),
            "centre",
            "how arcs are written: I and K, R, or lines only",
            "the control refuses the arc or runs another",
        ),
        may(
            "arc_tolerance",
            LENGTH,
            ("0.002 mm", "0.002 mm (NISTIR 6556, 3.5.3)"),
            "the most that an arc's start and end radius may differ",
            "the control stops at an arc",
        ),
        need(
            "surface_speed",
            Form::Flag,
            "true",
            "whether the control holds a surface speed (G96)",
            "the spindle speed does not follow the radius",
        ),
        may(
            "spindle_limit_word",
            Form::Words(&["G92", "G50", "D", "none"]),
            ("G92", "needed with `surface_speed: true`"),
            "how the spindle's limit under G96 is written",
            "the spindle turns without bound toward the axis",
        ),
        need(
            "feed_words",
            Form::ListOf("`[G94, G95]` or `[G98, G99]`"),
            "[G94, G95]",
            "the words for feed per minute and per revolution",
            "a feed per revolution is run as one per minute",
        ),
        may(
            "bare_numbers",
            Form::Words(&["units", "steps"]),
            ("steps", "units"),
            "what a coordinate word without a point counts, in programs that are read",
            "a program is proved at another size",
        ),
        may(
            "sequence",
            Form::Or(&["none"], "steps from 1 to 1000, or such steps `at passes`"),
            ("10", "none"),
            "N words, in steps of this",
            "no place to start again at",
        ),
        may(
            "program_number",
            Form::Or(&["none"], "O and one to four digits"),
            ("O1001", "none"),
            "the O number, where the control wants one",
            "another program of that number is overwritten",
        ),
        may(
            "tape_marks",
            Form::Flag,
            ("true", "false"),
            "whether the first and the last line are %",
            "the control does not take the file in",
        ),
        may(
            "line_end",
            Form::Words(&["crlf", "lf"]),
            ("lf", "crlf"),
            "the line end",
            "the control reads one long line",
        ),
        may(
            "longest_line",
            Form::Count(40, 256),
            ("80", "80"),
            "longest line in characters",
            "lines are cut off",
        ),
        need(
            "largest_program",
            Form::Quantity("a size", "kB, B, KiB, MB"),
            "64 kB",
            "largest program that the control holds; a longer one is split at passes",
            "the end of the program is missing",
        ),
        need(
            "blocks_per_second",
            Form::Count(1, 100_000),
            "100",
            "blocks that the control executes in a second",
            "the tool stutters, and the face shows it",
        ),
        need(
            "tool_word",
            Form::Words(&["T0101", "T1", "T1 M06"]),
            "T0101",
            "how a tool is called, for tool 1",
            "no tool or no offset is called",
        ),
        may(
            "work_offset",
            Form::Words(&["none", "G54", "G55", "G56", "G57", "G58", "G59"]),
            ("G54", "none"),
            "the work offset in force",
            "everything is cut at another height",
        ),
        need(
            "spindle_turns",
            Form::Words(&["M03", "M04"]),
            "M03",
            "which way the spindle turns while cutting",
            "the edge rubs with its back",
        ),
        may(
            "coolant",
            Form::Words(&["none", "M07", "M08"]),
            ("M08", "none"),
            "coolant while cutting",
            "a built-up edge tears the face",
        ),
        may(
            "stops",
            Form::Words(&["optional", "program"]),
            ("program", "optional"),
            "the stop between passes: M01 or M00",
            "with the control's switch off, M01 does not stop",
        ),
        may(
            "comments",
            Form::Words(&["brackets", "semicolon", "none"]),
            ("semicolon", "brackets"),
            "how comments are written, or that the control reads none",
            "the control stops at a comment",
        ),
        may(
            "comment_columns",
            Form::Count(40, 256),
            ("64", "as wide as the line"),
            "widest comment that the control's screen shows",
            "the end of a caution is not seen",
        ),
        may(
            "trailing_zeros",
            Form::Words(&["needed", "all"]),
            ("all", "needed"),
            "whether every decimal place is written",
            "the control reads another number",
        ),
        may(
            "leading_zero",
            Form::Flag,
            ("false", "true"),
            "whether the zero before the point is written",
            "the control refuses the number",
        ),
        may(
            "largest_sequence",
            Form::Count(99, 99_999_999),
            ("9999", "99999 (NISTIR 6556, 3.3.1)"),
            "greatest sequence number",
            "the control refuses the number",
        ),
        may(
            "longest_arc",
            ANGLE,
            ("90 deg", "no limit"),
            "the most that one arc may turn",
            "the control refuses the arc",
        ),
        may(
            "quadrants",
            Form::Words(&["crossed", "split"]),
            ("split", "crossed"),
            "whether an arc may run from one quadrant into the next",
            "the control runs another arc",
        ),
        may(
            "length_offset",
            Form::Words(&["none", "G43"]),
            ("G43", "none"),
            "the word that takes up a tool's offset, where the tool word does not",
            "the tool cuts at another height",
        ),
        may(
            "way_home",
            Form::Words(&["park", "G28"]),
            ("G28", "park"),
            "where a tool goes before it is changed and at the end",
            "the tool meets something when it swings",
        ),
        may(
            "gears",
            Form::List(&GEAR),
            ("[{ word: M41, to: 350 rpm }, { word: M42, to: 1400 rpm }]", "the spindle has none"),
            "gear ranges, the slowest first",
            "the spindle does not reach its speed",
        ),
        may(
            "extra_lines",
            Form::Group(&EXTRA_LINES),
            ("{ start: [M64] }", "none"),
            "lines of the shop's own, at the park while the spindle stands",
            "something is switched at the wrong time",
        ),
        may(
            "speed_steps",
            Form::Count(2, 100),
            ("6", "as few as keep the surface speed"),
            "most different spindle speeds in a pass, on a control without G96",
            "faint rings, or a surface speed that falls off",
        ),
    ],
};

static GEAR: Group = Group {
    kind: "GearFile",
    place: "shop file: control: gears",
    keys: &[
        need("word", Form::Text, "M41", "the word that sets the gear: M40 to M45", "another gear is set"),
        need(
            "to",
            RPM,
            "350 rpm",
            "the fastest that the spindle turns in it",
            "the spindle is driven too fast in a low gear",
        ),
    ],
};

static EXTRA_LINES: Group = Group {
    kind: "ExtraLinesFile",
    place: "shop file: control: extra_lines",
    keys: &[
        may(
            "start",
            Form::ListOf("lines"),
            ("[M64]", "none"),
            "lines before the first pass",
            "something is switched at the wrong time",
        ),
        may(
            "between",
            Form::ListOf("lines"),
            ("[M64]", "none"),
            "lines after every stop, before the next pass",
            "something is switched at the wrong time",
        ),
        may(
            "end",
            Form::ListOf("lines"),
            ("[M65]", "none"),
            "lines after the last pass",
            "something is left on",
        ),
    ],
};

/// A schedule.
static SCHEDULE: Group = Group {
    kind: "ScheduleFile",
    place: "shop file: schedules: a schedule",
    keys: &[
        need(
            "air",
            Form::Group(&AIR),
            "{ height: 1.0 mm }",
            "the air pass above the face that each tool begins with",
            "see its keys",
        ),
        may(
            "rough",
            Form::Group(&ROUGH),
            ("{ tool: rounder, depth: 0.10 mm, passes: auto, ... }", "no rough passes"),
            "the passes that take the metal off",
            "see its keys",
        ),
        may(
            "finish",
            Form::Group(&FINISH),
            ("{ tool: brightener, depth: 0.05 mm, passes: 1, ... }", "no finish passes"),
            "the passes that leave the texture",
            "see its keys",
        ),
        need(
            "step",
            Form::Words(&["axial", "normal"]),
            "axial",
            "in which direction depths are measured: along the spindle or along the face's normal",
            "slopes lose more or less than meant",
        ),
        need(
            "direction",
            Form::Words(&["outward", "inward"]),
            "outward",
            "which way the tool runs",
            "the edge meets a flank that it cannot cut",
        ),
        may(
            "tolerance",
            LENGTH,
            ("0.005 mm", "0.005 mm; it only ever leaves metal on"),
            "how far the written path may lie above the exact one",
            "a face of facets",
        ),
        may(
            "tangent_jump",
            ANGLE,
            ("1 deg", "1 deg"),
            "most angle at which two written pieces may meet where the face is smooth",
            "rings that show",
        ),
        may(
            "rest_limit",
            LENGTH,
            ("0.05 mm", "0.05 mm"),
            "more metal than this out of the tool's reach is a warning",
            "corners stay uncut without a word",
        ),
        may(
            "waviness",
            LENGTH,
            ("6 um", "no limit"),
            "waviness of the finished face beyond which there is a warning",
            "rings that show on a bright face",
        ),
    ],
};

static AIR: Group = Group {
    kind: "AirPass",
    place: "shop file: schedules: a schedule: air",
    keys: &[
        need(
            "height",
            LENGTH,
            "1.0 mm",
            "how far above its first cut a tool runs first",
            "too little, a tool set too low cuts at once",
        ),
        may(
            "feed",
            FEED,
            ("0.40 mm/rev", "that of the first pass"),
            "its feed",
            "a tool that cuts in it is overloaded",
        ),
    ],
};

static ROUGH: Group = Group {
    kind: "RoughFile",
    place: "shop file: schedules: a schedule: rough",
    keys: &[
        need("tool", Form::Text, "rounder", "the name of the tool", "another nose"),
        need("depth", LENGTH, "0.10 mm", "depth of one pass", "the edge breaks, or many passes"),
        need(
            "passes",
            Form::Or(&["auto"], "a whole number from 1 to 100"),
            "auto",
            "how many; `auto` for as many as the deepest damage needs",
            "damage stays, or metal is wasted",
        ),
        need(
            "surface_speed",
            SURFACE_SPEED,
            "280 m/min",
            "the cutting speed",
            "a built-up edge, or a burnt one",
        ),
        may(
            "feed",
            FEED,
            ("0.20 mm/rev", "by `texture`"),
            "the feed; one of feed and texture is needed",
            "a rough face or a broken edge",
        ),
        may(
            "texture",
            TEXTURE,
            ("Rz 6 um", "by `feed`"),
            "the texture that it leaves, in place of a feed",
            "another face",
        ),
    ],
};

static FINISH: Group = Group {
    kind: "FinishFile",
    place: "shop file: schedules: a schedule: finish",
    keys: &[
        need("tool", Form::Text, "brightener", "the name of the tool", "another nose"),
        need(
            "depth",
            LENGTH,
            "0.05 mm",
            "depth of one pass; zero makes it a spring pass",
            "the edge rubs, or tears",
        ),
        need("passes", Form::Count(1, 100), "1", "how many", "metal is wasted"),
        may(
            "spring_passes",
            Form::Count(0, 100),
            ("1", "0"),
            "passes over the finished path without going deeper",
            "time is lost",
        ),
        may(
            "speed_changes",
            Form::ListOf("radii"),
            ("[100 mm, 150 mm]", "wherever they must be"),
            "radii at which the spindle speed changes on a control without G96",
            "faint rings where they show",
        ),
        need("surface_speed", SURFACE_SPEED, "220 m/min", "the cutting speed", "a torn face"),
        may(
            "feed",
            FEED,
            ("0.11 mm/rev", "by `texture`"),
            "the feed; one of feed and texture is needed",
            "another texture",
        ),
        may(
            "texture",
            TEXTURE,
            ("Rz 2.0 um", "by `feed`"),
            "the texture that it leaves, in place of a feed",
            "another texture",
        ),
    ],
};

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
    List { key: "angles", of: "angles", may_be_empty: false },
    List { key: "columns", of: "columns", may_be_empty: false },
    List { key: "corners", of: "corners", may_be_empty: false },
    List { key: "damage", of: "stretches of damage", may_be_empty: true },
    List { key: "feed_words", of: "two words", may_be_empty: false },
    List { key: "between", of: "lines of the shop's own", may_be_empty: true },
    List { key: "end", of: "lines of the shop's own", may_be_empty: true },
    List { key: "gears", of: "gear ranges", may_be_empty: false },
    List { key: "start", of: "lines of the shop's own", may_be_empty: true },
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
