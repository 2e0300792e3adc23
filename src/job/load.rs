//! Loads the job file and its shop file into one checked job, with the checks that need both.

use super::cannot_be;
use super::file::{self, JobFile};
use super::node::quoted;
use super::schedule_file::{self, Known, ScheduleFile};
use super::shared;
use super::shop_file::{self, Shop};
use super::source::{self, Node};
use super::touching;
use super::trial;
use super::{
    Control, Feed, Job, MeasuredAgain, Mending, Passport, Schedule, Tool, ToolWord, Tyre, Variation, Wheel,
    Zone, keys, reader,
};
use crate::diagnostics::InputError;
use crate::input::Input;
use crate::units::{FeedPerRev, SpindleSpeed, SurfaceSpeed};
use std::collections::HashSet;
use std::path::{Path, PathBuf};

/// Why a job could not be loaded.
#[derive(Debug, thiserror::Error)]
pub enum JobError {
    /// One of the files holds an error.
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
/// [`JobError::Io`] where a file cannot be read; [`JobError::Input`] at the first error, with its
/// file, line and column and how to correct it. [`load_all`] gives every error.
pub fn load(path: &Path) -> Result<Job, JobError> {
    load_all(path).map_err(|errors| errors.first)
}

/// The errors that prevent loading a job: at least one.
#[derive(Debug)]
pub struct JobErrors {
    /// The first.
    pub first: JobError,
    /// The others.
    pub more: Vec<JobError>,
    /// How many are not told: whoever has mended fifty reads the rest the next time.
    pub untold: usize,
    /// Whether the shop's control counts inches, where that was read.
    pub inches: bool,
}

/// Most errors that are told at once.
const MOST_TOLD: usize = 50;

impl JobErrors {
    pub(super) fn of(errors: Vec<InputError>) -> Option<Self> {
        let untold = errors.len().saturating_sub(MOST_TOLD);
        let mut errors = errors.into_iter().take(MOST_TOLD).map(JobError::Input);
        errors.next().map(|first| Self { first, more: errors.collect(), untold, inches: false })
    }
}

impl From<JobError> for JobErrors {
    fn from(first: JobError) -> Self {
        Self { first, more: Vec::new(), untold: 0, inches: false }
    }
}

impl From<InputError> for JobErrors {
    fn from(error: InputError) -> Self {
        JobError::Input(error).into()
    }
}

/// Reads a job file and the shop file it names, and checks both, as [`load`] does; every error of both files is returned.
///
/// Checks between values wait until both files hold the values they need.
///
/// # Errors
/// Every error, those of the shop file before the job file's own where the job file names it.
pub fn load_all(path: &Path) -> Result<Job, Box<JobErrors>> {
    load_varied(path, &Variation::default())
}

/// Reads a job as [`load_all`] does, varied for one program.
///
/// # Errors
/// As [`load_all`]; an error in what is varied names the option in place of a file.
pub fn load_varied(path: &Path, variation: &Variation) -> Result<Job, Box<JobErrors>> {
    load_input(&path.into(), variation)
}

/// Reads a job as [`load_varied`] does, from a file or standard input. What a job from standard input names lies in the current
/// folder, or is named from there.
///
/// # Errors
/// As [`load_varied`].
pub fn load_input(from: &Input, variation: &Variation) -> Result<Job, Box<JobErrors>> {
    let path = from.name();
    let mut root = source::open_input(from).map_err(JobErrors::from)?;
    variation.name_schedule(&mut root);
    let folder = path.parent().unwrap_or(Path::new(""));
    let mut in_job = root.file.twice.clone();
    let named = match root.under("shop") {
        Some(node) => node.text().map(|name| folder.join(name)),
        None => nearest_shop(path).ok_or_else(|| no_shop(&root)),
    };
    let opened = named.map_err(JobError::from).and_then(|file| Ok((source::open(&file)?, file)));
    let (shop_root, shop_file) = match opened {
        Ok(opened) => opened,
        Err(first) => {
            let _: Option<JobFile> = reader::read(&root, &mut in_job);
            in_job.retain(
                |e| !matches!(&first, JobError::Input(f) if (f.line, f.column) == (e.line, e.column)),
            );
            let more = in_job.into_iter().map(JobError::Input).collect();
            return Err(Box::new(JobErrors { first, more, untold: 0, inches: false }));
        }
    };
    let inches = shared::inches(&shop_root) == Some(true);
    checked((path, folder), (root, shop_root, shop_file), variation, in_job)
        .map_err(|errors| Box::new(JobErrors { inches, ..*errors }))
}

/// A job from the trees of both files.
fn checked(
    (path, folder): (&Path, &Path),
    (mut root, mut shop_root, shop_file): (Node, Node, PathBuf),
    variation: &Variation,
    mut in_job: Vec<InputError>,
) -> Result<Job, Box<JobErrors>> {
    let mut blanks = root.blanks(&keys::JOB);
    of_tyre_that_is_off(&root, &mut blanks);
    blanks.extend(shop_root.blanks(&keys::SHOP));
    if !blanks.is_empty() {
        return Err(with_blanks((&mut root, &shop_root), blanks, in_job));
    }
    let not_the_shops = shared::not_the_shops(&root, &shop_root);
    shared::complete(&mut root, &shop_root, &mut in_job);
    let file: Option<JobFile> = reader::read(&root, &mut in_job);
    let mut errors = shop_root.file.twice.clone();
    errors.extend(variation.vary_passes(&mut root, &mut shop_root).err());
    let shop = shop_file::read(&shop_root, &mut errors);
    // What the job took over from the shop is told once, where it stands.
    in_job.retain(|e| !errors.iter().any(|s| (&s.file, s.line, s.column) == (&e.file, e.line, e.column)));
    let (Some(mut file), Some(shop)) = (file, shop) else {
        errors.append(&mut in_job);
        return Err(refused(errors, &root));
    };
    errors.append(&mut in_job);
    if file.wheel.name.is_empty() {
        file.wheel.name.clone_from(&file.job);
    }
    file::check(&mut file, &root, folder, &mut errors);
    file.measured.not_the_shops = not_the_shops;
    let (zones, runs_off) = file::zones(&file.zones, root.at("zones"), &mut errors);
    let damage = file::damage(&file.damage, root.at("damage"), &mut errors);
    file.measured.turn = file::turn(&file.turn, root.at("turn"), folder, &mut errors);
    let mut keep_out = file::keep_outs(&file.keep_out, root.at("keep_out"), &mut errors);
    let Some(mut schedule) = schedule(&root, &shop, &mut errors) else { return Err(refused(errors, &root)) };
    variation.count_from_here(&mut schedule);
    keep_out.extend_from_slice(&shop.keep_out);
    let touching =
        touching::for_job(shop.touching, file.touch_off.as_ref(), root.at("touch_off"), &mut errors);
    let passport = passport(&file.wheel, shop.ledger.as_deref(), &shop_file, &root);
    errors.extend(check_taken(passport.as_ref(), &root));
    errors.extend(check_cut(passport.as_ref(), file.measured_again.as_ref(), &root));
    let known = Known { tools: &shop.tools, textures: &shop.textures };
    let trial = trial::rings(&file.trial, &schedule, &known, root.at("trial"), &mut errors);
    errors.extend(check_program_number(&file, &shop, &root));
    let job = Job {
        title: file.job,
        file: path.to_owned(),
        shop_file,
        tools: tools(&schedule, &shop.tools),
        schedule,
        wheel: file.wheel,
        measured: file.measured,
        measured_again: file.measured_again,
        touch_off: file.touch_off.map(|touch_off| touch_off.at),
        touching,
        damage,
        mending: Mending { mend: file.mend, leave: file.leave, no_metal: file.no_metal },
        cut_along: file.cut_along,
        accept: file.accept,
        zones,
        runs_off,
        keep_out,
        passport,
        trial,
        rings: Vec::new(),
        machine: shop.machine,
        control: Control {
            program_number: file.program_number.or(shop.control.program_number),
            ..shop.control
        },
    };
    if errors.is_empty() {
        let nodes = Nodes::new(&root, &shop_root);
        let checks = [check_tyre(&job, &root), check_touch_off(&job, &root), check_travel(&job, &root)];
        errors.extend(checks.into_iter().flatten());
        errors.extend(touching::check_tools(job.touching, job.tools.len(), &shop_root));
        errors.extend(check_one_tool(&job, &shop_root));
        errors.extend(check_resolution(&job, &nodes));
        errors.extend(check_feeds(&job, &nodes));
        errors.extend(check_speed_changes(&job, &nodes));
        errors.extend(cannot_be::check(&job, &root, &shop_root));
    }
    match JobErrors::of(errors) {
        Some(errors) => Err(Box::new(errors)),
        None => Ok(job),
    }
}

/// Every error of files with blanks: what stands there and is wrong, then what is left to fill in. What hangs on a blank is not judged.
fn with_blanks(
    (root, shop_root): (&mut Node, &Node),
    mut blanks: Vec<InputError>,
    mut errors: Vec<InputError>,
) -> Box<JobErrors> {
    shared::complete(root, shop_root, &mut errors);
    let _: Option<JobFile> = reader::read(root, &mut errors);
    errors.extend(shop_root.file.twice.clone());
    let _: Option<Shop> = shop_file::read(shop_root, &mut errors);
    let mut seen = HashSet::new();
    errors.retain(|e| {
        !root.is_of_blank(e) && !shop_root.is_of_blank(e) && seen.insert((e.file.clone(), e.line, e.column))
    });
    errors.append(&mut blanks);
    refused(errors, root)
}

/// The errors that a line, from 1, of a job file to be has of itself; those of its blanks are none. Its shop is the nearest, where it
/// names none.
#[must_use]
pub fn errors_in_line(text: &str, path: &Path, line: usize) -> Vec<InputError> {
    let mut errors = Vec::new();
    match source::parse(path, text) {
        Err(error) => errors.push(error),
        Ok(mut root) => {
            errors.clone_from(&root.file.twice);
            let named = root.under("shop").and_then(|n| n.text().ok());
            let folder = path.parent().unwrap_or(Path::new(""));
            let shop = named.map(|name| folder.join(name)).or_else(|| nearest_shop(path));
            if let Some(shop) = shop.and_then(|file| source::open(&file).ok()) {
                shared::complete(&mut root, &shop, &mut errors);
            }
            let _: Option<JobFile> = reader::read(&root, &mut errors);
            errors.retain(|e| !root.is_of_blank(e));
        }
    }
    // What the file lacks as a whole is told at its beginning, and is no error of the line there.
    errors.retain(|e| e.file == path && e.line == line && e.column > 1);
    errors
}

/// What to do with the keep-out of a tyre that is off.
const OUT_WITH_THE_TYRE: &str =
    "take the tyre's keep-out out, since `tyre: removed`; an empty `keep_out:` goes with it";

/// A blank of a tyre's keep-out in a job whose tyre is off is not to be filled in: the keep-out goes.
fn of_tyre_that_is_off(root: &Node, blanks: &mut [InputError]) {
    let says = |node: &Node, key: &str, word: &str| node.under(key).is_some_and(|n| n.written == word);
    if !root.under("wheel").is_some_and(|wheel| says(wheel, "tyre", "removed")) {
        return;
    }
    let items = root.under("keep_out").map(Node::items).unwrap_or_default();
    for item in items.iter().filter(|item| says(item, "name", "tyre")) {
        let of_item = item.blanks(&keys::JOB);
        for blank in
            blanks.iter_mut().filter(|b| of_item.iter().any(|o| (o.line, o.column) == (b.line, b.column)))
        {
            blank.fix = OUT_WITH_THE_TYRE.into();
        }
    }
}

/// The nearest `shop.yaml`: in the folder of the job file, or in one above it. It is looked for no higher than the home folder, where
/// the job lies in it, and never in the root of all folders: what lies there is another's.
#[must_use]
pub fn nearest_shop(job: &Path) -> Option<PathBuf> {
    let absolute = std::path::absolute(job).ok()?;
    let beside = job.with_file_name(SHOP_FILE);
    if beside.is_file() {
        return Some(beside);
    }
    let home = std::env::home_dir().filter(|home| absolute.starts_with(home));
    let within = |folder: &&Path| {
        folder.parent().is_some() && home.as_ref().is_none_or(|home| folder.starts_with(home))
    };
    let above = absolute.ancestors().skip(2).take_while(within);
    above.map(|folder| folder.join(SHOP_FILE)).find(|file| file.is_file())
}

/// The name of a shop file that no job needs to give.
const SHOP_FILE: &str = "shop.yaml";

fn no_shop(root: &Node) -> InputError {
    root.error_with_found(
        format!("no `shop`, and no {SHOP_FILE} in the job's folder or above it, as far as the home folder"),
        "a shop file: machine, control, tools and schedules",
        format!("write one with `facewright new --shop`, or name it: `shop: {SHOP_FILE}`"),
    )
}

impl std::fmt::Display for JobErrors {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.more.is_empty() {
            return self.first.fmt(f);
        }
        let brief =
            |e: &&JobError| matches!(e, JobError::Input(e) if e.context.as_ref().is_some_and(|c| c.brief));
        let told = || std::iter::once(&self.first).chain(&self.more);
        let (all, blanks) = (self.more.len() + 1 + self.untold, told().filter(brief).count());
        match blanks {
            0 => writeln!(f, "{all} faults in the files")?,
            some if some == told().count() => writeln!(f, "{all} blanks are left to fill in")?,
            some => writeln!(f, "{all} faults in the files, {some} of them blanks that are left to fill in")?,
        }
        write!(f, "{}", self.first)?;
        self.more.iter().try_for_each(|error| write!(f, "\n{error}"))?;
        if self.untold > 0 { write!(f, "\nand {} more", self.untold) } else { Ok(()) }
    }
}

impl std::error::Error for JobErrors {}

/// The errors that were found; if none, an error about the whole file.
fn refused(errors: Vec<InputError>, root: &Node) -> Box<JobErrors> {
    Box::new(JobErrors::of(errors).unwrap_or_else(|| root.error("a job", "write the job's groups").into()))
}

/// The nodes of both files to which errors between them refer.
struct Nodes<'n> {
    shop: &'n Node,
    schedule: &'n Node,
}

impl<'n> Nodes<'n> {
    /// A schedule given by name is in the shop file.
    fn new(job: &'n Node, shop: &'n Node) -> Self {
        let here = job.at("schedule");
        let schedule = match here.text() {
            Ok(name) => shop.at("schedules").at(name),
            Err(_) => here,
        };
        Self { shop, schedule }
    }
}

/// How the wheel is found in the ledger, where the shop keeps one and the wheel has a number.
fn passport(wheel: &Wheel, ledger: Option<&str>, shop_file: &Path, root: &Node) -> Option<Passport> {
    let beside = shop_file.parent().unwrap_or(Path::new(""));
    let claims_taken = root.at("wheel").at("allowance").has("taken");
    Some(Passport { ledger: beside.join(ledger?), number: wheel.number.clone()?, claims_taken })
}

/// Without the ledger only the job can say what earlier jobs took.
fn check_taken(passport: Option<&Passport>, root: &Node) -> Option<InputError> {
    let allowance = root.at("wheel").at("allowance");
    (passport.is_none() && !allowance.has("taken")).then(|| allowance.missing(&keys::TAKEN))
}

/// Without the ledger only the job can say what was cut before it was measured again.
fn check_cut(passport: Option<&Passport>, again: Option<&MeasuredAgain>, root: &Node) -> Option<InputError> {
    let told = again?.cut.is_some() || passport.is_some();
    (!told).then(|| root.at("measured_again").missing(&keys::CUT))
}

/// The schedule that the job names or writes out.
fn schedule(root: &Node, shop: &Shop, errors: &mut Vec<InputError>) -> Option<Schedule> {
    let Some(node) = root.under("schedule") else {
        let names: Vec<&str> = shop.schedules.iter().filter_map(|s| s.name.as_deref()).collect();
        let needed = keys::Needed { key: "schedule", example: "kerbside", why: None };
        let known = if names.is_empty() {
            "the shop file has none".into()
        } else {
            format!("the shop has {}", quoted(names))
        };
        errors.push(InputError { expected: format!("`schedule`: {known}"), ..root.missing(&needed) });
        return None;
    };
    if node.entries().is_ok() {
        let file: ScheduleFile = reader::read(node, errors)?;
        return schedule_file::check(
            file,
            None,
            &Known { tools: &shop.tools, textures: &shop.textures },
            node,
            errors,
        );
    }
    schedule_file::by_name(node, &shop.schedules).map_err(|error| errors.push(error)).ok()
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

/// A mounted tyre is beside the lip: without its keep-out nothing keeps the holder away from it. The shop file's keep-outs (jaws) do not count.
fn check_tyre(job: &Job, root: &Node) -> Option<InputError> {
    (job.wheel.tyre == Tyre::Mounted && root.at("keep_out").items().is_empty()).then(|| {
        root.at("wheel").at("tyre").error_with_found(
            "`tyre: mounted` without a `keep_out`",
            "a keep-out that says where the tyre stands",
            "measure it and add for example `keep_out: [{ name: tyre, x: [224 mm, 330 mm], z: [-90 mm, 12 mm] }]`",
        )
    })
}

/// A tool touched off in damage is set too low, and every pass cuts too deep; in a window it meets no metal.
fn check_touch_off(job: &Job, root: &Node) -> Option<InputError> {
    let at = job.touch_off?;
    if let Some([from, to]) = job.runs_off.windows.iter().find(|[from, to]| *from < at && at < *to) {
        return Some(root.at("touch_off").at("at").error_with_found(
            format!("a touch-off at {at}, in the window from {from} to {to}"),
            "a place on the face: in a window there is no metal to touch",
            "name a radius inside a zone",
        ));
    }
    let damage = job.damage.iter().find(|d| d.from <= at && at <= d.to)?;
    Some(root.at("touch_off").at("at").error_with_found(
        format!("a touch-off at {at}, in the damage from {} to {}", damage.from, damage.to),
        "a place on sound metal: touched in damage, every cut would be too deep",
        "name a radius on the undamaged face",
    ))
}

fn check_travel(job: &Job, root: &Node) -> Option<InputError> {
    let [least, greatest] = job.machine.travel_x;
    // Where a zone runs off, its end is known once the face is: the plan looks at that.
    let beyond = |i: usize, z: &Zone| {
        let [inner, outer] = job.zone_runs_off(i);
        !inner && z.from < least || !outer && z.to > greatest
    };
    let (_, zone) = job.zones.iter().enumerate().find(|(i, z)| beyond(*i, z))?;
    let zones = root.at("zones");
    let ends_there = |n: &&Node| n.at("to").written.parse() == Ok(zone.to);
    Some(zones.items().iter().find(ends_there).unwrap_or(zones).error_with_found(
        format!("a zone from {} to {}", zone.from, zone.to),
        format!("a zone within the machine's travel of radius, {least} to {greatest}"),
        "make the zone smaller, or correct `travel` in the shop file (x is a radius)",
    ))
}

/// A number of the job's own only where the control wants one.
fn check_program_number(file: &JobFile, shop: &Shop, root: &Node) -> Option<InputError> {
    (file.program_number.is_some() && shop.control.program_number.is_none()).then(|| {
        root.at("program_number").error_with_found(
            "`program_number` for a control without program numbers",
            "a control that says `program_number`, or none here",
            "write for example `program_number: O1001` under `control`, or delete it here",
        )
    })
}

/// A control without tool words cannot tell two tools apart, and neither can a proof of its programs.
fn check_one_tool(job: &Job, shop: &Node) -> Option<InputError> {
    (job.control.tool_word == ToolWord::None && job.tools.len() > 1).then(|| {
        shop.at("control").at("tool_word").error_with_found(
            "`tool_word: none` and a schedule with two tools",
            "a schedule with one tool where no word says which tool is in",
            "write one schedule for each tool, and cut with one after the other",
        )
    })
}

/// The tolerance cannot be finer than the control's coordinates.
fn check_resolution(job: &Job, nodes: &Nodes<'_>) -> Option<InputError> {
    let (tolerance, resolution) = (job.schedule.tolerance, job.control.resolution);
    (tolerance < resolution).then(|| {
        let node = if nodes.schedule.has("tolerance") {
            nodes.schedule.at("tolerance")
        } else {
            nodes.shop.at("control").at("resolution")
        };
        node.error_with_found(
            format!("a tolerance of {tolerance} on a control that names steps of {resolution}"),
            format!("a tolerance of {resolution} at least"),
            "raise the schedule's `tolerance`, or correct the control's `resolution`",
        )
    })
}

/// `speed_changes` is only for controls that do not hold a surface speed.
fn check_speed_changes(job: &Job, nodes: &Nodes<'_>) -> Option<InputError> {
    let asked = job.schedule.finish.as_ref().is_some_and(|f| !f.speed_changes.is_empty());
    (asked && job.control.surface_speed).then(|| {
        nodes.schedule.at("finish").at("speed_changes").error_with_found(
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
        node.error_with_found(
            format!("`{}`, which is {per_minute:.0} at {fastest:.0}", node.written),
            format!("no more than the machine's `feed_limit`, {limit} (shop file, line {line})"),
            "lessen the feed or the surface speed",
        )
    })
}

/// The fastest spindle speed at a surface speed: that at the start of the innermost zone, or the limit.
fn fastest(job: &Job, speed: SurfaceSpeed) -> SpindleSpeed {
    let wanted = job.zones.first().map(|zone| speed.at_radius(zone.from).as_rpm());
    let limits = job.speed_limit().as_rpm();
    SpindleSpeed::rpm(wanted.map_or(limits, |wanted| wanted.min(limits)))
}
