//! From two files to one checked job, and the checks that need both.

use super::file::{self, JobFile};
use super::schedule_file::{self, Known, ScheduleFile};
use super::shop_file::{self, Shop};
use super::source::{self, Node};
use super::trial;
use super::{Arcs, Feed, Job, Mending, Schedule, Tool, Tyre, reader};
use crate::diagnostics::InputError;
use crate::units::{FeedPerRev, SpindleSpeed, SurfaceSpeed};
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

/// Reads a job file and the shop file it names, and checks both.
///
/// Paths in the job file are relative to it.
///
/// # Errors
/// [`JobError::Io`] where a file cannot be read; [`JobError::Input`] at the first fault, with its
/// file, line and column and the way to mend it. [`load_all`] gives every fault.
pub fn load(path: &Path) -> Result<Job, JobError> {
    load_all(path).map_err(|errors| errors.first)
}

/// What stands against loading a job: at least one error.
#[derive(Debug)]
pub struct JobErrors {
    /// The first.
    pub first: JobError,
    /// The others.
    pub more: Vec<JobError>,
}

impl JobErrors {
    fn of(faults: Vec<InputError>) -> Option<Self> {
        let mut errors = faults.into_iter().map(JobError::Input);
        errors.next().map(|first| Self { first, more: errors.collect() })
    }
}

impl From<JobError> for JobErrors {
    fn from(first: JobError) -> Self {
        Self { first, more: Vec::new() }
    }
}

impl From<InputError> for JobErrors {
    fn from(fault: InputError) -> Self {
        JobError::Input(fault).into()
    }
}

/// Reads a job file and the shop file it names, and checks both, as [`load`] does; every fault of both files is told.
///
/// Checks between values wait until both files hold the values they need.
///
/// # Errors
/// Every fault, those of the shop file before the job file's own where the job file names it.
pub fn load_all(path: &Path) -> Result<Job, Box<JobErrors>> {
    let root = source::open(path).map_err(JobErrors::from)?;
    let folder = path.parent().unwrap_or(Path::new(""));
    let mut in_job = Vec::new();
    let file: Option<JobFile> = reader::read(&root, &mut in_job);
    let named = file.as_ref().map(|file| file.shop.as_str()).or_else(|| root.under("shop")?.text().ok());
    let Some(named) = named else { return Err(refused(in_job, &root)) };
    let shop_file = folder.join(named);
    let shop_root = source::open(&shop_file)
        .map_err(|first| JobErrors { first, more: in_job.iter().cloned().map(JobError::Input).collect() })?;
    let mut faults = Vec::new();
    let shop = shop_file::read(&shop_root, &mut faults);
    let (Some(mut file), Some(shop)) = (file, shop) else {
        faults.append(&mut in_job);
        return Err(refused(faults, &root));
    };
    file::check(&mut file, &root, folder, &mut faults);
    let damage = file::damage(&file.damage, root.at("damage"), &mut faults);
    file.measured.turn = file::turn(&file.turn, root.at("turn"), folder, &mut faults);
    let mut keep_out = file::keep_outs(&file.keep_out, root.at("keep_out"), &mut faults);
    let Some(schedule) = schedule(&root, &shop, &mut faults) else { return Err(refused(faults, &root)) };
    keep_out.extend_from_slice(&shop.keep_out);
    let known = Known { tools: &shop.tools, textures: &shop.textures };
    let trial = trial::rings(&file.trial, &schedule, &known, root.at("trial"), &mut faults);
    let job = Job {
        title: file.job,
        file: path.to_owned(),
        shop_file,
        tools: tools(&schedule, &shop.tools),
        schedule,
        wheel: file.wheel,
        measured: file.measured,
        touch_off: file.touch_off.map(|touch_off| touch_off.at),
        damage,
        mending: Mending { mend: file.mend, leave: file.leave, no_metal: file.no_metal },
        accept: file.accept,
        zones: file.zones,
        keep_out,
        trial,
        rings: Vec::new(),
        machine: shop.machine,
        control: shop.control,
    };
    if faults.is_empty() {
        let nodes = Nodes::new(&root, &shop_root);
        let checks = [check_tyre(&job, &root), check_touch_off(&job, &root), check_travel(&job, &root)];
        faults.extend(checks.into_iter().flatten());
        faults.extend(check_resolution(&job, &nodes));
        faults.extend(check_line(&job, &nodes));
        faults.extend(check_feeds(&job, &nodes));
        faults.extend(check_speed_changes(&job, &nodes));
    }
    match JobErrors::of(faults) {
        Some(errors) => Err(Box::new(errors)),
        None => Ok(job),
    }
}

/// The faults that were found; where none was, the file as a whole.
fn refused(faults: Vec<InputError>, root: &Node) -> Box<JobErrors> {
    Box::new(JobErrors::of(faults).unwrap_or_else(|| root.fault("a job", "write the job's groups").into()))
}

/// The nodes of both files that checks between them blame.
struct Nodes<'n> {
    shop: &'n Node,
    schedule: &'n Node,
}

impl<'n> Nodes<'n> {
    /// A schedule by name stands in the shop file.
    fn new(job: &'n Node, shop: &'n Node) -> Self {
        let here = job.at("schedule");
        let schedule = match here.text() {
            Ok(name) => shop.at("schedules").at(name),
            Err(_) => here,
        };
        Self { shop, schedule }
    }
}

/// The schedule that the job names or writes out.
fn schedule(root: &Node, shop: &Shop, faults: &mut Vec<InputError>) -> Option<Schedule> {
    let node = root.at("schedule");
    if node.entries().is_ok() {
        let file: ScheduleFile = reader::read(node, faults)?;
        return schedule_file::check(
            file,
            None,
            &Known { tools: &shop.tools, textures: &shop.textures },
            node,
            faults,
        );
    }
    schedule_file::by_name(node, &shop.schedules).map_err(|fault| faults.push(fault)).ok()
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

/// A mounted tyre stands beside the lip: without its keep-out nothing would hold the holder off it. Jaws in the shop file are no tyre.
fn check_tyre(job: &Job, root: &Node) -> Option<InputError> {
    (job.wheel.tyre == Tyre::Mounted && root.at("keep_out").items().is_empty()).then(|| {
        root.at("wheel").at("tyre").fault_found(
            "`tyre: mounted` without a `keep_out`",
            "a keep-out that says where the tyre stands",
            "measure it and add for example `keep_out: [{ name: tyre, x: [224 mm, 330 mm], z: [-90 mm, 12 mm] }]`",
        )
    })
}

/// A tool touched off in damage stands too low, and every pass after it cuts too deep.
fn check_touch_off(job: &Job, root: &Node) -> Option<InputError> {
    let at = job.touch_off?;
    let damage = job.damage.iter().find(|d| d.from <= at && at <= d.to)?;
    Some(root.at("touch_off").at("at").fault_found(
        format!("a touch-off at {at}, in the damage from {} to {}", damage.from, damage.to),
        "a place on sound metal: touched in damage, every cut would be too deep",
        "name a radius on the undamaged face",
    ))
}

fn check_travel(job: &Job, root: &Node) -> Option<InputError> {
    let [least, greatest] = job.machine.travel_x;
    let zone = job.zones.iter().find(|z| z.from < least || z.to > greatest)?;
    let zones = root.at("zones");
    let ends_there = |n: &&Node| n.at("to").written.parse() == Ok(zone.to);
    Some(zones.items().iter().find(ends_there).unwrap_or(zones).fault_found(
        format!("a zone from {} to {}", zone.from, zone.to),
        format!("a zone within the machine's travel of radius, {least} to {greatest}"),
        "make the zone smaller, or correct `travel` in the shop file (x is a radius)",
    ))
}

/// Coordinates can be no finer than the control names them, so neither can the tolerance.
fn check_resolution(job: &Job, nodes: &Nodes<'_>) -> Option<InputError> {
    let (tolerance, resolution) = (job.schedule.tolerance, job.control.resolution);
    let node = if nodes.schedule.has("tolerance") {
        nodes.schedule.at("tolerance")
    } else {
        nodes.shop.at("control").at("resolution")
    };
    (tolerance < resolution).then(|| {
        node.fault_found(
            format!("a tolerance of {tolerance} on a control that names steps of {resolution}"),
            format!("a tolerance of {resolution} at least"),
            "raise the schedule's `tolerance`, or correct the control's `resolution`",
        )
    })
}

/// An arc's block must have room in a line.
fn check_line(job: &Job, nodes: &Nodes<'_>) -> Option<InputError> {
    let control = &job.control;
    let has_room = control.arcs == Arcs::None || control.flattest_arc(job.machine.furthest()).is_some();
    (!has_room).then(|| {
        nodes.shop.at("control").at("longest_line").fault_found(
            format!("lines of {} characters with arcs", control.longest_line),
            "room in a line for the ends and the centre of an arc within the machine's travel",
            "raise `longest_line` if the control reads more, or write `arcs: none`",
        )
    })
}

/// A control that holds a surface speed has no speeds that change at a radius.
fn check_speed_changes(job: &Job, nodes: &Nodes<'_>) -> Option<InputError> {
    let asked = job.schedule.finish.as_ref().is_some_and(|f| !f.speed_changes.is_empty());
    (asked && job.control.surface_speed).then(|| {
        nodes.schedule.at("finish").at("speed_changes").fault_found(
            "`speed_changes` for a control that holds a surface speed",
            "a control with `surface_speed: false`, or none of them",
            "delete `speed_changes`: the speed changes smoothly by itself",
        )
    })
}

/// The fastest the spindle turns in a pass gives the fastest feed per minute, which the machine must be able to drive.
fn check_feeds(job: &Job, nodes: &Nodes<'_>) -> Vec<InputError> {
    let given = |feed: Feed| match feed {
        Feed::PerRev(feed) => Some(feed),
        Feed::Grooves(pitch) => Some(FeedPerRev::mm_per_rev(pitch.as_mm())),
        Feed::Rz(_) | Feed::Ra(_) => None,
    };
    let rough = job.schedule.rough.as_ref().map(|p| ("rough", given(p.feed), p.surface_speed));
    let finish = job.schedule.finish.as_ref().map(|p| ("finish", given(p.feed), p.surface_speed));
    let air = rough.or(finish).map(|(_, _, speed)| ("air", job.schedule.air.feed, speed));
    let passes = [air, rough, finish].into_iter().flatten();
    passes.filter_map(|(pass, feed, speed)| check_feed(job, nodes, pass, feed?, speed)).collect()
}

fn check_feed(
    job: &Job,
    nodes: &Nodes<'_>,
    pass: &str,
    feed: FeedPerRev,
    speed: SurfaceSpeed,
) -> Option<InputError> {
    let fastest = fastest(job, speed);
    let per_minute = feed.at_speed(fastest);
    let limit = job.machine.feed_limit;
    let keys = nodes.schedule.at(pass);
    let node = if keys.has("feed") { keys.at("feed") } else { keys.at("texture") };
    (per_minute > limit).then(|| {
        let line = nodes.shop.at("machine").at("feed_limit").place.line;
        node.fault_found(
            format!("`{}`, which is {per_minute:.0} at {fastest:.0}", node.written),
            format!("no more than the machine's `feed_limit`, {limit} (shop file, line {line})"),
            "lessen the feed or the surface speed",
        )
    })
}

/// The fastest the spindle turns at a surface speed: where the innermost zone begins, or its limit.
fn fastest(job: &Job, speed: SurfaceSpeed) -> SpindleSpeed {
    let wanted = job.zones.first().map(|zone| speed.at_radius(zone.from).as_rpm());
    let limits = job.machine.spindle_limit.as_rpm().min(job.wheel.speed_limit.as_rpm());
    SpindleSpeed::rpm(wanted.map_or(limits, |wanted| wanted.min(limits)))
}
