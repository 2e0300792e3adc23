//! A pass schedule, from the shop file or written out in the job file.
//!
//! Defaults: no spring passes; `speed_changes` wherever the surface speed has fallen by the allowed fraction; `tolerance` 0.005 mm
//! (a tenth of a thin finish cut; it only ever leaves metal on); `tangent_jump` 1 deg; `rest_limit` 0.05 mm (one finish cut): more metal
//! than that out of the tool's reach is a warning; `rest_passes` auto: of that the finish tool takes what it can reach; no `waviness` limit. No other key has a default.

use super::fields;
use super::keys::Needed;
use super::node::{nearest, quoted};
use super::passes::Counted;
use super::schedule::{
    AirPass, Direction, Feed, FinishPass, LEAST_AIR_GAP, MOST_PASSES, MOST_SPRING, PassCount, RestPasses,
    RoughPass, Schedule, Step,
};
use super::shop::Tool;
use super::source::Node;
use super::texture::Texture;
use crate::diagnostics::InputError;
use crate::units::{Angle, FeedPerRev, Length, SurfaceSpeed};
use serde::Deserialize;

/// What sums of decimal numbers are rounded by, millimetres.
const ROUNDING: f64 = 1e-9;

const TOLERANCE: Length = Length::mm(0.005);
const TANGENT_JUMP: Angle = Angle::deg(1.0);
const REST_LIMIT: Length = Length::mm(0.05);

/// The largest tangent jump accepted; beyond it the key no longer means smoothness.
const GREATEST_JUMP: Angle = Angle::deg(45.0);

/// A schedule as written in the file.
#[derive(Debug, Deserialize)]
pub(super) struct ScheduleFile {
    air: AirPass,
    rough: Option<RoughFile>,
    finish: Option<FinishFile>,
    step: Step,
    direction: Direction,
    #[serde(default = "tolerance", deserialize_with = "fields::above_zero")]
    tolerance: Length,
    #[serde(default = "tangent_jump", deserialize_with = "fields::above_zero")]
    tangent_jump: Angle,
    #[serde(default = "rest_limit", deserialize_with = "fields::length_between::<_, 0, 10_000>")]
    rest_limit: Length,
    #[serde(default)]
    rest_passes: RestPasses,
    #[serde(default, deserialize_with = "fields::some_above_zero")]
    waviness: Option<Length>,
}

#[derive(Debug, Deserialize)]
pub(super) struct RoughFile {
    tool: String,
    #[serde(deserialize_with = "fields::length_between::<_, 1, 10_000>")]
    depth: Length,
    passes: PassCount,
    #[serde(deserialize_with = "fields::above_zero")]
    surface_speed: SurfaceSpeed,
    #[serde(default, deserialize_with = "fields::some_above_zero")]
    feed: Option<FeedPerRev>,
    texture: Option<Texture>,
}

#[derive(Debug, Deserialize)]
pub(super) struct FinishFile {
    tool: String,
    #[serde(deserialize_with = "fields::length_between::<_, 0, 10_000>")]
    depth: Length,
    #[serde(deserialize_with = "fields::count::<_, _, 1, MOST_PASSES>")]
    passes: u32,
    #[serde(default, deserialize_with = "fields::count::<_, _, 0, MOST_SPRING>")]
    spring_passes: u32,
    #[serde(default)]
    speed_changes: Vec<Length>,
    #[serde(deserialize_with = "fields::above_zero")]
    surface_speed: SurfaceSpeed,
    #[serde(default, deserialize_with = "fields::some_above_zero")]
    feed: Option<FeedPerRev>,
    texture: Option<Texture>,
}

const fn tolerance() -> Length {
    TOLERANCE
}

const fn tangent_jump() -> Angle {
    TANGENT_JUMP
}

const fn rest_limit() -> Length {
    REST_LIMIT
}

/// Feed below which an edge only rubs; the finest finishing feeds are about ten times as large (common practice, no source).
const FINEST_FEED: FeedPerRev = FeedPerRev::mm_per_rev(0.005);

/// The tools and textures of the shop file that a schedule may name.
#[derive(Debug, Clone, Copy)]
pub(super) struct Known<'s> {
    /// Its tools.
    pub(super) tools: &'s [Tool],
    /// Its textures.
    pub(super) textures: &'s [(String, Texture)],
}

/// The schedule, if it is consistent in itself and with the tools; every error is added to `errors`.
pub(super) fn check(
    file: ScheduleFile,
    name: Option<String>,
    known: &Known<'_>,
    node: &Node,
    errors: &mut Vec<InputError>,
) -> Option<Schedule> {
    let before = errors.len();
    if file.rough.is_none() && file.finish.is_none() {
        errors.push(node.error_with_found(
            "a schedule without passes",
            "`rough`, `finish` or both",
            "describe the passes, for example `rough: { tool: rounder, depth: 0.10 mm, ... }`",
        ));
    }
    if file.tangent_jump > GREATEST_JUMP {
        errors.push(
            node.at("tangent_jump")
                .error(format!("`tangent_jump` of {GREATEST_JUMP} at most"), "write for example `1 deg`"),
        );
    }
    let rough = file.rough.and_then(|pass| {
        let feed = feed(&pass.tool, (pass.feed, pass.texture.as_ref()), known, node.at("rough"), errors)?;
        let RoughFile { tool, depth, passes, surface_speed, .. } = pass;
        Some(RoughPass { tool, depth, passes, surface_speed, feed })
    });
    let finish = file.finish.and_then(|pass| {
        let feed = feed(&pass.tool, (pass.feed, pass.texture.as_ref()), known, node.at("finish"), errors)?;
        let FinishFile { tool, depth, passes, spring_passes, speed_changes, surface_speed, .. } = pass;
        Some(FinishPass { tool, depth, passes, spring_passes, speed_changes, surface_speed, feed })
    });
    let schedule = Schedule {
        name,
        counted: Counted::FromMeasured,
        air: file.air,
        rough,
        finish,
        step: file.step,
        direction: file.direction,
        tolerance: file.tolerance,
        tangent_jump: file.tangent_jump,
        rest_limit: file.rest_limit,
        rest_passes: file.rest_passes,
        waviness: file.waviness,
    };
    errors.extend(check_tolerance(&schedule, node));
    errors.extend(check_air_height(&schedule, node));
    errors.extend(check_air_feed(&schedule, known.tools, node));
    (errors.len() == before).then_some(schedule)
}

/// The tolerance must be small compared with the thinnest cut, or a pass may remove nothing.
fn check_tolerance(schedule: &Schedule, node: &Node) -> Option<InputError> {
    let depths = [schedule.rough.as_ref().map(|p| p.depth), schedule.finish.as_ref().map(|p| p.depth)];
    let thinnest = depths
        .into_iter()
        .flatten()
        .filter(|d| d.as_mm() > 0.0)
        .min_by(|a, b| a.as_mm().total_cmp(&b.as_mm()))?;
    (schedule.tolerance > thinnest * 0.5).then(|| {
        node.at("tolerance").error_with_found(
            format!("a tolerance of {} against a cut of {thinnest}", schedule.tolerance),
            format!("at most half the thinnest cut, {}", thinnest * 0.5),
            "lessen `tolerance`, or take deeper cuts",
        )
    })
}

/// The feed of a pass, given or by the texture it must leave, where its tool is known.
pub(super) fn feed(
    name: &str,
    (feed, texture): (Option<FeedPerRev>, Option<&Texture>),
    known: &Known<'_>,
    pass: &Node,
    errors: &mut Vec<InputError>,
) -> Option<Feed> {
    let checked = tool(name, known.tools, pass.at("tool")).and_then(|tool| match (feed, texture) {
        (Some(feed), None) => given_feed(feed, tool, pass.at("feed")),
        (None, Some(texture)) => texture.feed(tool, known.textures, pass.at("texture")),
        (Some(_), Some(_)) => Err(pass.at("texture").error_with_found(
            "both `feed` and `texture`",
            "one of them: the texture decides the feed",
            "delete the one that is not meant",
        )),
        (None, None) => Err(InputError {
            expected: "`feed`, or the `texture` it must leave".to_owned(),
            fix: "add one, for example `feed: 0.20 mm/rev` or `texture: Rz 2.0 um`".to_owned(),
            ..pass.missing(&Needed::plain("feed"))
        }),
    });
    checked.map_err(|error| errors.push(error)).ok()
}

fn tool<'t>(name: &str, tools: &'t [Tool], node: &Node) -> Result<&'t Tool, InputError> {
    if let Some(tool) = tools.iter().find(|t| t.name == name) {
        return Ok(tool);
    }
    let names = || tools.iter().map(|t| t.name.as_str());
    let fix = nearest(name, names()).map_or_else(
        || "name one of those, or describe the tool in the shop file".to_owned(),
        |n| format!("write `{n}`, if that is meant"),
    );
    Err(node.error_with_found(
        format!("{}, a tool that is not known", node.found()),
        format!("a tool of the shop file: {}", quoted(names())),
        fix,
    ))
}

/// A feed beyond the nose radius leaves ridges of a seventh of it, and soon uncut metal between the turns: the plan and the proof refuse it too.
///
/// Below the finest feed an edge rubs and does not cut; an air pass shows nothing then, and takes hours.
pub(super) fn given_feed(feed: FeedPerRev, tool: &Tool, node: &Node) -> Result<Feed, InputError> {
    if feed < FINEST_FEED {
        return Err(node.error(
            format!("`feed` of {FINEST_FEED} at least: below that an edge only rubs"),
            "write the feed for each revolution; check its unit",
        ));
    }
    if feed.as_mm_per_rev() <= tool.nose_radius.as_mm() {
        return Ok(Feed::PerRev(feed));
    }
    Err(node.error(
        format!("`feed` no greater than the nose radius of `{}`, {}", tool.name, tool.nose_radius),
        "lessen the feed; check its unit",
    ))
}

/// The air pass runs above the first pass of each tool, not above the metal that it takes: nearer than that is high, it would cut.
fn check_air_height(schedule: &Schedule, node: &Node) -> Option<InputError> {
    let rough = schedule.rough.as_ref().map(|p| ("rough", p.depth));
    let finish = schedule.finish.as_ref().map(|p| ("finish", p.depth));
    // With one tool the finish has no air pass of its own, but where it runs alone.
    let passes = [rough, finish].into_iter().flatten();
    let (pass, depth) = passes.max_by(|a, b| a.1.as_mm().total_cmp(&b.1.as_mm()))?;
    let height = schedule.air.height;
    // What is written as the least that is taken is not less by what decimal numbers are rounded by.
    let least = depth + LEAST_AIR_GAP;
    (height.as_mm() < least.as_mm() - ROUNDING).then(|| {
        let line = node.at(pass).at("depth").place.line;
        node.at("air").at("height").error_with_found(
            format!("an air pass {height} above a first pass that goes {depth} deep"),
            format!(
                "a `height` of {least} at least: the `depth` under `{pass}` (line {line}), and {LEAST_AIR_GAP} that stay between tool and metal"
            ),
            format!("raise `height` under `air`, or lessen `depth` under `{pass}`"),
        )
    })
}

/// The air pass is run with each tool, and a tool that was touched off too low would cut in it.
fn check_air_feed(schedule: &Schedule, tools: &[Tool], node: &Node) -> Option<InputError> {
    let names = [schedule.rough.as_ref().map(|p| &p.tool), schedule.finish.as_ref().map(|p| &p.tool)];
    let used = tools.iter().filter(|t| names.contains(&Some(&t.name)));
    let sharpest = used.min_by(|a, b| a.nose_radius.as_mm().total_cmp(&b.nose_radius.as_mm()))?;
    given_feed(schedule.air.feed?, sharpest, node.at("air").at("feed")).err()
}

/// The schedule that a node names.
pub(super) fn by_name(node: &Node, schedules: &[Schedule]) -> Result<Schedule, InputError> {
    let wanted = node.text()?;
    if let Some(schedule) = schedules.iter().find(|s| s.name.as_deref() == Some(wanted)) {
        return Ok(schedule.clone());
    }
    let names = || schedules.iter().filter_map(|s| s.name.as_deref());
    let known = if schedules.is_empty() {
        "a schedule written out here: the shop file has none".to_owned()
    } else {
        format!("a schedule of the shop file: {}", quoted(names()))
    };
    let fix = nearest(wanted, names()).map_or_else(
        || "name one of those, or write the schedule out here".to_owned(),
        |n| format!("write `{n}`, if that is meant"),
    );
    Err(node.error_with_found(format!("{}, a schedule that is not known", node.found()), known, fix))
}
