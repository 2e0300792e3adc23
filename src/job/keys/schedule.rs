//! The keys of the shop file's schedules, which a job may write out too.

use super::{ANGLE, FEED, Form, Group, LENGTH, SURFACE_SPEED, TEXTURE, may, need};

/// A schedule.
pub(super) static SCHEDULE: Group = Group {
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
            "rest_passes",
            Form::Words(&["auto", "off"]),
            ("auto", "auto"),
            "whether the finish tool takes, ahead of its finish, what the rough tool was too round to reach",
            "corners stay uncut, or passes are run that nobody needs",
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

pub(super) static AIR: Group = Group {
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

pub(super) static ROUGH: Group = Group {
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

pub(super) static FINISH: Group = Group {
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
            Form::Count(0, 10),
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
