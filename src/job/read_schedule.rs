//! A pass schedule, from the shop file or written out in the job file.
//!
//! Defaults: no spring passes; `tolerance` 0.005 mm (a tenth of a thin finish cut; it only ever
//! leaves metal on); `tangent_jump` 1 deg; `rest_limit` 0.05 mm (one finish cut), beyond which
//! metal out of the tool's reach is warned of. All other keys a person decides.

use super::node::{Group, nearest};
use super::read_shop::quoted;
use super::source::Node;
use super::{AirPass, Direction, Feed, FinishPass, PassCount, RoughPass, Schedule, Step, Tool};
use crate::diagnostics::InputError;
use crate::units::{Angle, FeedPerRev, Length};

const TOLERANCE: Length = Length::mm(0.005);
const TANGENT_JUMP: Angle = Angle::deg(1.0);
const REST_LIMIT: Length = Length::mm(0.05);

/// The greatest tangent jump that still says anything about smoothness.
const GREATEST_JUMP: Angle = Angle::deg(45.0);

/// Most passes of one kind: more than a wheel has metal for.
const MOST_PASSES: u32 = 100;

pub(super) fn schedule(node: &Node, tools: &[Tool]) -> Result<Schedule, InputError> {
    let group = node.group(&[
        "air",
        "rough",
        "finish",
        "step",
        "direction",
        "tolerance",
        "tangent_jump",
        "rest_limit",
    ])?;
    let rough = group.get("rough").map(|n| rough(n, tools)).transpose()?;
    let finish = group.get("finish").map(|n| finish(n, tools)).transpose()?;
    if rough.is_none() && finish.is_none() {
        return Err(node.fault_found(
            "a schedule without passes",
            "`rough`, `finish` or both",
            "describe the passes, for example `rough: { tool: rounder, depth: 0.10 mm, ... }`",
        ));
    }
    let schedule = Schedule {
        name: node.key.as_ref().map(|key| key.text.clone()),
        air: air(group.need("air", "{ height: 1.0 mm }")?)?,
        step: group.need("step", "axial")?.choice(&[("axial", Step::Axial), ("normal", Step::Normal)])?,
        direction: group
            .need("direction", "outward")?
            .choice(&[("outward", Direction::Outward), ("inward", Direction::Inward)])?,
        tolerance: group.get("tolerance").map_or(Ok(TOLERANCE), Node::above_zero)?,
        tangent_jump: group.get("tangent_jump").map_or(Ok(TANGENT_JUMP), tangent_jump)?,
        rest_limit: group.get("rest_limit").map_or(Ok(REST_LIMIT), Node::not_negative)?,
        rough,
        finish,
    };
    check_tolerance(node, &schedule)?;
    Ok(schedule)
}

/// The tolerance must be small against the thinnest cut, or a pass may take nothing.
fn check_tolerance(node: &Node, schedule: &Schedule) -> Result<(), InputError> {
    let depths = [schedule.rough.as_ref().map(|p| p.depth), schedule.finish.as_ref().map(|p| p.depth)];
    let thinnest = depths
        .into_iter()
        .flatten()
        .filter(|d| d.as_mm() > 0.0)
        .min_by(|a, b| a.as_mm().total_cmp(&b.as_mm()));
    match thinnest {
        Some(thinnest) if schedule.tolerance > thinnest * 0.5 => Err(node.at("tolerance").fault_found(
            format!("a tolerance of {} against a cut of {thinnest}", schedule.tolerance),
            format!("at most half the thinnest cut, {}", thinnest * 0.5),
            "lessen `tolerance`, or take deeper cuts",
        )),
        _ => Ok(()),
    }
}

fn tangent_jump(node: &Node) -> Result<Angle, InputError> {
    let angle: Angle = node.above_zero()?;
    if angle <= GREATEST_JUMP {
        return Ok(angle);
    }
    Err(node.fault(format!("`tangent_jump` of {GREATEST_JUMP} at most"), "write for example `1 deg`"))
}

fn air(node: &Node) -> Result<AirPass, InputError> {
    let group = node.group(&["height", "feed"])?;
    Ok(AirPass {
        height: group.need("height", "1.0 mm")?.above_zero()?,
        feed: group.get("feed").map(Node::above_zero).transpose()?,
    })
}

fn rough(node: &Node, tools: &[Tool]) -> Result<RoughPass, InputError> {
    let group = node.group(&["tool", "depth", "passes", "surface_speed", "feed", "texture"])?;
    let tool = tool(group.need("tool", "rounder")?, tools)?;
    let passes = group.need("passes", "auto")?;
    Ok(RoughPass {
        tool: tool.name.clone(),
        depth: group.need("depth", "0.10 mm")?.above_zero()?,
        passes: if passes.is_word("auto") {
            PassCount::Auto
        } else {
            PassCount::Count(passes.count(1..=MOST_PASSES).map_err(|_| {
                passes.fault(
                    format!("`passes` as `auto` or a whole number from 1 to {MOST_PASSES}"),
                    "write `auto` for as many as the deepest damage needs",
                )
            })?)
        },
        surface_speed: group.need("surface_speed", "280 m/min")?.above_zero()?,
        feed: feed(&group, tool)?,
    })
}

fn finish(node: &Node, tools: &[Tool]) -> Result<FinishPass, InputError> {
    let group =
        node.group(&["tool", "depth", "passes", "spring_passes", "surface_speed", "feed", "texture"])?;
    let tool = tool(group.need("tool", "brightener")?, tools)?;
    Ok(FinishPass {
        tool: tool.name.clone(),
        depth: group.need("depth", "0.05 mm")?.not_negative()?,
        passes: group.need("passes", "1")?.count(1..=MOST_PASSES)?,
        spring_passes: group.get("spring_passes").map_or(Ok(0), |n| n.count(0..=MOST_PASSES))?,
        surface_speed: group.need("surface_speed", "220 m/min")?.above_zero()?,
        feed: feed(&group, tool)?,
    })
}

fn tool<'t>(node: &Node, tools: &'t [Tool]) -> Result<&'t Tool, InputError> {
    let name = node.text()?;
    if let Some(tool) = tools.iter().find(|t| t.name == name) {
        return Ok(tool);
    }
    let names: Vec<&str> = tools.iter().map(|t| t.name.as_str()).collect();
    let fix = nearest(name, names.iter().copied()).map_or_else(
        || "name one of those, or describe the tool in the shop file".to_owned(),
        |n| format!("write `{n}`, if that is meant"),
    );
    Err(node.fault_found(
        format!("{}, a tool that is not known", node.found()),
        format!("a tool of the shop file: {}", quoted(&names)),
        fix,
    ))
}

/// The feed, or the texture it must leave: exactly one.
fn feed(group: &Group<'_>, tool: &Tool) -> Result<Feed, InputError> {
    match (group.get("feed"), group.get("texture")) {
        (Some(node), None) => given_feed(node, tool).map(Feed::PerRev),
        (None, Some(node)) => texture(node, tool),
        (Some(_), Some(node)) => Err(node.fault_found(
            "both `feed` and `texture`",
            "one of them: the texture decides the feed",
            "delete the one that is not meant",
        )),
        (None, None) => group
            .need("feed", "0.20 mm/rev")
            .map_err(|fault| InputError {
                expected: "`feed`, or the `texture` it must leave".to_owned(),
                fix: "add one, for example `feed: 0.20 mm/rev` or `texture: Rz 2.0 um`".to_owned(),
                ..fault
            })
            .and_then(|node| given_feed(node, tool).map(Feed::PerRev)),
    }
}

/// A feed of two nose radii or more leaves metal standing between the turns.
fn given_feed(node: &Node, tool: &Tool) -> Result<FeedPerRev, InputError> {
    let feed: FeedPerRev = node.above_zero()?;
    if feed.as_mm_per_rev() < 2.0 * tool.nose_radius.as_mm() {
        return Ok(feed);
    }
    Err(node.fault(
        format!("`feed` below twice the nose radius of `{}`, {}", tool.name, tool.nose_radius),
        "lessen the feed; check its unit",
    ))
}

fn texture(node: &Node, tool: &Tool) -> Result<Feed, InputError> {
    const EXAMPLE: &str = "write for example `Rz 2.0 um` or `Ra 0.4 um`";
    let refused = |expected: String| node.fault(expected, EXAMPLE);
    let words = node.text()?.split_once(' ');
    let (is_rz, height) = match words {
        Some(("Rz", height)) => (true, height),
        Some(("Ra", height)) => (false, height),
        _ => return Err(refused("`texture` as `Rz` or `Ra` and a height".to_owned())),
    };
    let height: Length =
        node.quantity_in(height).map_err(|fault| InputError { fix: EXAMPLE.to_owned(), ..fault })?;
    if height.as_mm() <= 0.0 || height >= tool.nose_radius {
        return Err(refused(format!(
            "`texture` with a height above zero and below the nose radius of `{}`, {}",
            tool.name, tool.nose_radius
        )));
    }
    Ok(if is_rz { Feed::Rz(height) } else { Feed::Ra(height) })
}
