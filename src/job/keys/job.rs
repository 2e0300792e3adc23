//! The keys of the job file.

use super::schedule::SCHEDULE;
use super::{ANGLE, FEED, Form, Group, LENGTH, RPM, SURFACE_SPEED, TEXTURE, decide, may, need};

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
            Form::List(&ZONE_TO_CUT),
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
            "the O number of this job's program, where the shop's control has one: a number of its own for each wheel",
            "another program of that number is overwritten in the control, such as the wheel's before",
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

pub(super) static WHEEL: Group = Group {
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

pub(super) static ALLOWANCE: Group = Group {
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

pub(super) static MEASURED: Group = Group {
    kind: "Measured",
    place: "job file: measured",
    keys: &[
        need(
            "sensor",
            Form::Or(&["spot"], "`ball` and its diameter, or a name of the shop's `sensors`"),
            "spot",
            "what measured: the name of one of the shop's sensors, whose `kind` and all else is then taken over, or its kind itself: `spot` for light or a fine point, and also where the control has taken the ball's radius off already; else `ball` and its diameter, such as `ball 3 mm` or `ball 1/8 in`; the shop's only sensor need not be named",
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
            Form::Words(&["mm", "inch", "mil", "um", "cm", "m"]),
            "mm",
            "the unit of the scans' columns",
            "a face of another size",
        ),
        may(
            "z_unit",
            Form::Words(&["mm", "inch", "mil", "um", "cm", "m"]),
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

pub(super) static LINE: Group = Group {
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
            "which trace of a file with several: its number from 1, the name in its headings, or what the column `trace` holds",
            "the line of another angle",
        ),
    ],
};

pub(super) static AGAIN: Group = Group {
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

pub(super) static TURN: Group = Group {
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

pub(super) static TOUCH_OFF: Group = Group {
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

pub(super) static DAMAGE: Group = Group {
    kind: "DamageFile",
    place: "job file: damage",
    keys: &[
        need("from", LENGTH, "203 mm", "where it begins, as radius", "damage stays"),
        need("to", LENGTH, "214 mm", "where it ends, as radius", "damage stays"),
        may(
            "depth",
            LENGTH,
            ("0.35 mm", "needed for scrapes and nicks; others are never cut"),
            "its depth below the undamaged face, measured with a straight edge and a feeler gauge or a dial indicator; judged, rather too deep",
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

pub(super) static ZONE_TO_CUT: Group = Group {
    kind: "ZoneFile",
    place: "job file: zones",
    keys: &[
        need(
            "from",
            ZONE_END,
            "70 mm",
            "the inner radius; `edge` where the tool runs off the metal at the bore, `edge` and a radius behind a window",
            "the cut begins elsewhere",
        ),
        need(
            "to",
            ZONE_END,
            "216 mm",
            "the outer radius; `edge` where the tool runs off the metal at the rim, `edge` and a radius before a window",
            "the cut ends elsewhere, or the tool meets what stands beyond an edge",
        ),
    ],
};

/// Where a zone ends.
const ZONE_END: Form = Form::Or(&["edge"], "a length, or `edge` and a length");

pub(super) static ZONE: Group = Group {
    kind: "Zone",
    place: "job file: mend, leave, no_metal",
    keys: &[
        need("from", LENGTH, "70 mm", "the inner radius", "the cut begins elsewhere"),
        need("to", LENGTH, "216 mm", "the outer radius", "the cut ends elsewhere"),
    ],
};

pub(super) static KEEP_OUT: Group = Group {
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

pub(super) static TRIAL: Group = Group {
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
