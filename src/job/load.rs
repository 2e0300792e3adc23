//! From two files to one checked job, and the checks that need both.

use super::source::{self, Node};
use super::{Job, Mending, Schedule, Tool, Tyre};
use super::{read_schedule, read_shop, read_shop::Shop, read_wheel};
use crate::diagnostics::InputError;
use crate::units::{FeedPerRev, Length, SpindleSpeed, SurfaceSpeed};
use std::path::{Path, PathBuf};

/// Why a job could not be loaded.
#[derive(Debug, thiserror::Error)]
pub enum JobError {
    /// One of the files holds a fault.
    #[error(transparent)]
    Input(#[from] InputError),
    /// One of the files could not be read.
    #[error("{}: cannot be read: {source}", path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
}

const KEYS: [&str; 11] = [
    "job",
    "shop",
    "schedule",
    "wheel",
    "measured",
    "touch_off",
    "damage",
    "mend",
    "leave",
    "zones",
    "keep_out",
];

/// Reads a job file and the shop file it names, and checks both.
///
/// Paths in the job file are relative to it.
///
/// # Errors
/// [`JobError::Io`] where a file cannot be read; [`JobError::Input`] at the first fault, with its
/// file, line and column and the way to mend it.
pub fn load(path: &Path) -> Result<Job, JobError> {
    let root = source::open(path)?;
    let group = root.group(&KEYS)?;
    let folder = path.parent().unwrap_or(Path::new(""));
    let shop_file = folder.join(group.need("shop", "shop.yaml")?.text()?);
    let shop_root = source::open(&shop_file)?;
    let shop = read_shop::shop(&shop_root)?;

    let wheel = read_wheel::wheel(group.need("wheel", "{ name: ..., speed_limit: 700 rpm, ... }")?)?;
    let keep_out = group.get("keep_out").map(read_wheel::keep_outs).transpose()?.unwrap_or_default();
    let (schedule, schedule_node) = schedule(group.need("schedule", "kerbside")?, &shop)?;
    let job = Job {
        title: group.need("job", "\"1042, front left\"")?.text()?.to_owned(),
        file: path.to_owned(),
        shop_file: shop_file.clone(),
        tools: tools(&schedule, &shop.tools),
        schedule,
        wheel,
        measured: read_wheel::measured(group.need("measured", "{ sensor: spot, ... }")?, folder)?,
        touch_off: group.get("touch_off").map(touch_off).transpose()?,
        damage: group.get("damage").map(read_wheel::damage).transpose()?.unwrap_or_default(),
        mending: Mending {
            mend: group.get("mend").map(read_wheel::stretches).transpose()?.unwrap_or_default(),
            leave: group.get("leave").map(read_wheel::stretches).transpose()?.unwrap_or_default(),
            no_metal: Vec::new(),
        },
        accept: Vec::new(),
        zones: read_wheel::zones(group.need("zones", "[{ from: 70 mm, to: 216 mm }]")?)?,
        keep_out,
        machine: shop.machine.clone(),
        control: shop.control.clone(),
    };
    check_tyre(&job, &root)?;
    check_touch_off(&job, &root)?;
    check_travel(&job, &root)?;
    check_resolution(&job, &shop, schedule_node)?;
    check_feeds(&job, &shop, schedule_node)?;
    Ok(job)
}

/// The schedule that stands at a node by name or written out, and where it is written.
fn schedule<'a>(node: &'a Node, shop: &'a Shop<'a>) -> Result<(Schedule, &'a Node), InputError> {
    if node.entries().is_ok() {
        return Ok((Schedule { name: None, ..read_schedule::schedule(node, &shop.tools)? }, node));
    }
    shop.schedule(node).map(|(schedule, at)| (schedule.clone(), at))
}

/// The tools a schedule uses, the rough one first.
fn tools(schedule: &Schedule, tools: &[Tool]) -> Vec<Tool> {
    let rough = schedule.rough.as_ref().map(|p| p.tool.as_str());
    let finish = schedule.finish.as_ref().map(|p| p.tool.as_str()).filter(|&name| Some(name) != rough);
    [rough, finish]
        .into_iter()
        .flatten()
        .filter_map(|name| tools.iter().find(|t| t.name == name))
        .cloned()
        .collect()
}

fn touch_off(node: &Node) -> Result<Length, InputError> {
    node.group(&["at"])?.need("at", "82 mm")?.above_zero()
}

/// A mounted tyre stands beside the lip: without its keep-out nothing would hold the holder off it.
fn check_tyre(job: &Job, root: &Node) -> Result<(), InputError> {
    if job.wheel.tyre == Tyre::Removed || !job.keep_out.is_empty() {
        return Ok(());
    }
    Err(root.at("wheel").at("tyre").fault_found(
        "`tyre: mounted` without a `keep_out`",
        "a keep-out that says where the tyre stands",
        "measure it and add for example `keep_out: [{ name: tyre, x: [224 mm, 330 mm], z: [-90 mm, 12 mm] }]`",
    ))
}

/// A tool touched off in damage stands too low, and every pass after it cuts too deep.
fn check_touch_off(job: &Job, root: &Node) -> Result<(), InputError> {
    let Some(at) = job.touch_off else { return Ok(()) };
    let Some(damage) = job.damage.iter().find(|d| d.from <= at && at <= d.to) else { return Ok(()) };
    Err(root.at("touch_off").at("at").fault_found(
        format!("a touch-off at {at}, in the damage from {} to {}", damage.from, damage.to),
        "a place on sound metal: touched in damage, every cut would be too deep",
        "name a radius on the undamaged face",
    ))
}

fn check_travel(job: &Job, root: &Node) -> Result<(), InputError> {
    let [least, greatest] = job.machine.travel_x;
    let Some(zone) = job.zones.iter().find(|z| z.from < least || z.to > greatest) else { return Ok(()) };
    let zones = root.at("zones");
    let items = zones.list("zones")?;
    let node = items.iter().find(|n| n.at("to").quantity::<Length>().is_ok_and(|to| to == zone.to));
    Err(node.unwrap_or(zones).fault_found(
        format!("a zone from {} to {}", zone.from, zone.to),
        format!("a zone within the machine's travel of radius, {least} to {greatest}"),
        "make the zone smaller, or correct `travel` in the shop file (x is a radius)",
    ))
}

/// Coordinates can be no finer than the control names them, so neither can the tolerance.
fn check_resolution(job: &Job, shop: &Shop<'_>, schedule: &Node) -> Result<(), InputError> {
    let (tolerance, resolution) = (job.schedule.tolerance, job.control.resolution);
    if tolerance >= resolution {
        return Ok(());
    }
    let node = match schedule.at("tolerance") {
        node if std::ptr::eq(node, schedule) => shop.control_node.at("resolution"),
        node => node,
    };
    Err(node.fault_found(
        format!("a tolerance of {tolerance} on a control that names steps of {resolution}"),
        format!("a tolerance of {resolution} at least"),
        "raise the schedule's `tolerance`, or correct the control's `resolution`",
    ))
}

/// The fastest the spindle turns in a pass gives the fastest feed per minute, which the machine must be able to drive.
fn check_feeds(job: &Job, shop: &Shop<'_>, schedule: &Node) -> Result<(), InputError> {
    let given = |feed: super::Feed| if let super::Feed::PerRev(feed) = feed { Some(feed) } else { None };
    let rough = job.schedule.rough.as_ref().map(|p| ("rough", given(p.feed), p.surface_speed));
    let finish = job.schedule.finish.as_ref().map(|p| ("finish", given(p.feed), p.surface_speed));
    let air = rough.or(finish).map(|(_, _, speed)| ("air", job.schedule.air.feed, speed));
    for (pass, feed, speed) in [air, rough, finish].into_iter().flatten() {
        if let Some(feed) = feed {
            check_feed(job, shop, schedule.at(pass).at("feed"), feed, speed)?;
        }
    }
    Ok(())
}

fn check_feed(
    job: &Job,
    shop: &Shop<'_>,
    node: &Node,
    feed: FeedPerRev,
    speed: SurfaceSpeed,
) -> Result<(), InputError> {
    let fastest = fastest(job, speed);
    let per_minute = feed.at_speed(fastest);
    if per_minute <= job.machine.feed_limit {
        return Ok(());
    }
    let line = shop.machine_node.at("feed_limit").place.line;
    Err(node.fault_found(
        format!("`{}`, which is {per_minute:.0} at {fastest:.0}", node.written),
        format!(
            "no more than the machine's `feed_limit`, {} (shop file, line {line})",
            job.machine.feed_limit
        ),
        "lessen the feed or the surface speed",
    ))
}

/// The fastest the spindle turns at a surface speed: where the innermost zone begins, or its limit.
fn fastest(job: &Job, speed: SurfaceSpeed) -> SpindleSpeed {
    let wanted = job.zones.first().map(|zone| speed.at_radius(zone.from).as_rpm());
    let limits = job.machine.spindle_limit.as_rpm().min(job.wheel.speed_limit.as_rpm());
    SpindleSpeed::rpm(wanted.map_or(limits, |wanted| wanted.min(limits)))
}
