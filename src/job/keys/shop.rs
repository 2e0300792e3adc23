//! The keys of the shop file: sensors, limits, machine, tools, touching off.

use super::control::CONTROL;
use super::job::KEEP_OUT;
use super::schedule::SCHEDULE;
use super::{ANGLE, Form, Group, LENGTH, RPM, may, need};

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
            "places on the machine that no part of tool or holder may enter, as radii and as heights from the scans' zero",
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

pub(super) static SENSOR: Group = Group {
    kind: "SensorFile",
    place: "shop file: sensors: a sensor",
    keys: &[
        need(
            "kind",
            Form::Or(&["spot"], "`ball` and its diameter"),
            "spot",
            "`spot` for light or a fine point, and also where the control has taken the ball's radius off already; else `ball` and its diameter, such as `ball 3 mm` or `ball 1/8 in`, and its radius is taken off here",
            "a ball called a spot leaves grooves too narrow and edges too wide; called a ball where the control has taken it off, the other way",
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
            Form::Words(&["mm", "inch", "mil", "um", "cm", "m"]),
            ("mm", "each job says it"),
            "the unit of its columns",
            "a face of another size",
        ),
        may(
            "z_unit",
            Form::Words(&["mm", "inch", "mil", "um", "cm", "m"]),
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

pub(super) static LIMITS: Group = Group {
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

pub(super) static MACHINE: Group = Group {
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
            "the travel of both axes: x as radius from the axis, z from the scans' zero (not the machine's)",
            "the slide runs into its stop",
        ),
        need(
            "park",
            Form::Group(&PARK),
            "{ x: 330 mm, z: 250 mm }",
            "where tools are changed and the program ends: from the scans' zero (not the machine's), farther out than the whole face",
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
            Form::Words(&["X", "P", "P ms"]),
            ("P", "X"),
            "the letter that carries the seconds of G04; `P ms`: P carries thousandths of a second",
            "the control waits another time, or stops",
        ),
    ],
};

pub(super) static TRAVEL: Group = Group {
    kind: "Travel",
    place: "shop file: machine: travel",
    keys: &[
        need(
            "x",
            Form::Range,
            "[0 mm, 420 mm]",
            "least and greatest radius, from the spindle's axis",
            "the slide runs into its stop",
        ),
        need(
            "z",
            Form::Range,
            "[-200 mm, 350 mm]",
            "least and greatest height, from the scans' zero: every height of the face lies between",
            "the slide runs into its stop",
        ),
    ],
};

pub(super) static PARK: Group = Group {
    kind: "Park",
    place: "shop file: machine: park",
    keys: &[
        need("x", LENGTH, "330 mm", "its radius, from the spindle's axis", "the tool meets wheel or tyre"),
        need("z", LENGTH, "250 mm", "its height, from the scans' zero", "the tool meets wheel or tyre"),
    ],
};

pub(super) static TOOL: Group = Group {
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

pub(super) static HOLDER: Group = Group {
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

pub(super) static TOUCH: Group = Group {
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

pub(super) static SETTER: Group = Group {
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
