//! The job file: its groups as read, and the checks within one group.
//!
//! Keys with a default, besides those that the shop file completes ([`super::shared`]): `shop` (the nearest), the wheel's `name` (the job's),
//! `material` (not said), `tyre` (mounted, which needs a keep-out), `filter` (0.8 mm), `bend_limit` (the run-out limit), `run_out` (what the lines show), `touch_off` (the middle of the widest
//! zone), `damage` (none), `turn` (not measured), `measured_again` (it was not), `cut_along` (the place that takes least off), `mend`, `leave`, `no_metal` and `accept` (the lines decide), `keep_out` where the
//! tyre is off, `trial` (no rings), and `taken` where the ledger knows the wheel by its `number`.

use super::edge::{MetalEnd, RunsOff, ZoneFile};
use super::fields;
use super::keep_out::{KeepOut, KeepOutFile};
use super::keys;
use super::source::Node;
use super::texture::Texture;
use super::touching::TouchOff;
use super::wheel::{
    Acceptance, Column, Damage, DamageKind, DamageSector, Measured, MeasuredAgain, NamedIn, RingSource,
    ScanLine, TraceName, TurnPlace, TurnReadings, Wheel, Zone,
};
use crate::diagnostics::{InputError, Mismatch};
use crate::units::{Angle, FeedPerRev, Length, SurfaceSpeed};
use serde::Deserialize;
use serde::de::IgnoredAny;
use std::path::{Path, PathBuf};

/// The job file as written.
#[derive(Debug, Deserialize)]
pub(super) struct JobFile {
    pub(super) job: String,
    /// Where left out, the nearest shop file.
    #[serde(rename = "shop")]
    _shop: Option<String>,
    /// A name or a group: read separately, once it is known which.
    #[serde(rename = "schedule")]
    _schedule: Option<IgnoredAny>,
    pub(super) wheel: Wheel,
    pub(super) measured: Measured,
    pub(super) measured_again: Option<MeasuredAgain>,
    pub(super) cut_along: Option<TurnPlace>,
    pub(super) touch_off: Option<TouchOff>,
    #[serde(default)]
    pub(super) damage: Vec<DamageFile>,
    #[serde(default)]
    pub(super) mend: Vec<Zone>,
    #[serde(default)]
    pub(super) leave: Vec<Zone>,
    #[serde(default)]
    pub(super) no_metal: Vec<Zone>,
    #[serde(default)]
    pub(super) accept: Vec<Acceptance>,
    #[serde(default)]
    pub(super) turn: Vec<TurnFile>,
    pub(super) zones: Vec<ZoneFile>,
    #[serde(default)]
    pub(super) keep_out: Vec<KeepOutFile>,
    #[serde(default)]
    pub(super) trial: Vec<TrialRingFile>,
    /// Instead of the control's own.
    #[serde(default, deserialize_with = "super::control::program_number")]
    pub(super) program_number: Option<u32>,
}

/// One ring of a trial as written.
#[derive(Debug, Deserialize)]
pub(super) struct TrialRingFile {
    pub(super) name: String,
    pub(super) from: Length,
    pub(super) to: Length,
    #[serde(default, deserialize_with = "fields::some_above_zero")]
    pub(super) depth: Option<Length>,
    #[serde(default, deserialize_with = "fields::some_above_zero")]
    pub(super) surface_speed: Option<SurfaceSpeed>,
    #[serde(default, deserialize_with = "fields::some_above_zero")]
    pub(super) feed: Option<FeedPerRev>,
    pub(super) texture: Option<Texture>,
}

/// Damage as written: damage that is never cut needs no depth.
#[derive(Debug, Clone, Copy, Deserialize)]
pub(super) struct DamageFile {
    #[serde(deserialize_with = "fields::not_negative")]
    from: Length,
    #[serde(deserialize_with = "fields::above_zero")]
    to: Length,
    #[serde(default, deserialize_with = "fields::some_not_negative")]
    depth: Option<Length>,
    kind: DamageKind,
    #[serde(default, deserialize_with = "fields::some_within_turn")]
    at: Option<Angle>,
    #[serde(default, deserialize_with = "fields::some_above_zero")]
    over: Option<Angle>,
}

/// Readings round the wheel as written: from a dial, or in a file.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct TurnFile {
    #[serde(deserialize_with = "fields::above_zero")]
    at: Length,
    #[serde(default, deserialize_with = "fields::some_above_zero")]
    every: Option<Angle>,
    #[serde(default)]
    reads: Vec<Length>,
    file: Option<PathBuf>,
}

/// The keys that say how a scan is read.
const HOW_READ: [&str; 6] = ["x", "unit", "z_unit", "columns", "z", "x_offset"];

/// Checks the groups of a job file, adds the errors, and completes the paths of the scans, which are relative to `folder`.
pub(super) fn check(file: &mut JobFile, root: &Node, folder: &Path, errors: &mut Vec<InputError>) {
    check_allowance(&file.wheel, root.at("wheel").at("allowance"), errors);
    let measured = root.at("measured");
    check_columns(&file.measured.columns, measured.at("columns"), errors);
    let place = |node: &Node| NamedIn { file: node.path().to_owned(), line: node.place.line };
    let said = HOW_READ.into_iter().filter_map(|key| Some((key, place(measured.under(key)?))));
    file.measured.said_in = said.collect();
    let mut seen = Vec::new();
    check_lines(&mut file.measured.lines, root.at("measured").at("lines"), folder, &mut seen, errors);
    if let Some(again) = &mut file.measured_again {
        check_lines(&mut again.lines, root.at("measured_again").at("lines"), folder, &mut seen, errors);
    }
    for (key, stretches) in [("mend", &file.mend), ("leave", &file.leave), ("no_metal", &file.no_metal)] {
        check_rising(stretches, "a stretch", root.at(key), errors);
    }
    let rings: Vec<Zone> = file.trial.iter().map(|r| Zone { from: r.from, to: r.to }).collect();
    check_rising(&rings, "a ring", root.at("trial"), errors);
    check_zones(&rings, root.at("trial"), errors);
}

/// What an edge between two zones must be, and how to mend it.
const NO_WINDOW: (&str, &str) = (
    "a radius, or a window: an `edge` with its radius here, and another where the next zone ends or begins",
    "write the radius: there the tool is lifted off. Where a window lies all round between the two zones, write both its edges, such as `to: edge 100 mm` and `from: edge 150 mm`; where the metal beyond it is not turned, make a job of this zone alone",
);

/// The window that begins at the edge of a zone: up to the nearest edge further out at which another zone begins. Both have their radii written.
fn window(edge: MetalEnd, begins: impl Iterator<Item = MetalEnd>) -> Option<[Length; 2]> {
    let from = edge.radius()?;
    let further = begins.filter_map(MetalEnd::radius).filter(|to| *to > from);
    let to = further.min_by(|a, b| a.as_mm().total_cmp(&b.as_mm()))?;
    Some([from, to])
}

/// The zones in rising order, and where they run off the metal.
pub(super) fn zones(listed: &[ZoneFile], node: &Node, errors: &mut Vec<InputError>) -> (Vec<Zone>, RunsOff) {
    let mut zones: Vec<Zone> = listed.iter().map(ZoneFile::zone).collect();
    let mut runs_off = RunsOff::default();
    let before = errors.len();
    for (file, item) in listed.iter().zip(node.items()) {
        // Two edges whose radii nobody has written say nothing of which zone lies further out: the radii that are written do.
        let others = || listed.iter().filter(|other| *other != file);
        let radii = || others().flat_map(ZoneFile::radii);
        let further_in = file.radii().any(|own| radii().any(|other| other < own));
        let further_out = file.radii().any(|own| radii().any(|other| other > own));
        match file.to.edge().filter(|_| further_out) {
            Some(edge) => match window(edge, others().filter_map(|other| other.from.edge())) {
                Some(window) => runs_off.windows.push(window),
                None => errors.push(item.at("to").error(NO_WINDOW.0, NO_WINDOW.1)),
            },
            None => runs_off.outer = runs_off.outer.or(file.to.edge()),
        }
        match file.from.edge().filter(|_| further_in) {
            Some(edge) => {
                let faced = |to: MetalEnd| {
                    window(to, others().filter_map(|o| o.from.edge()).chain([edge]))
                        .is_some_and(|w| edge.is_at(w[1]))
                };
                if !others().filter_map(|other| other.to.edge()).any(faced) {
                    errors.push(item.at("from").error(NO_WINDOW.0, NO_WINDOW.1));
                }
            }
            None => runs_off.inner = runs_off.inner.or(file.from.edge()),
        }
    }
    runs_off.windows.sort_by(|a, b| a[0].as_mm().total_cmp(&b[0].as_mm()));
    if errors.len() > before {
        return (zones, runs_off);
    }
    check_rising(&zones, "a zone", node, errors);
    check_zones(&zones, node, errors);
    zones.sort_by(|a, b| a.from.as_mm().total_cmp(&b.from.as_mm()));
    // Nothing stands between zones that touch: they are one, which the tool crosses without a way off and down again.
    zones.dedup_by(|next, before| {
        let touch = next.from == before.to;
        if touch {
            before.to = next.to;
        }
        touch
    });
    (zones, runs_off)
}

fn check_allowance(wheel: &Wheel, node: &Node, errors: &mut Vec<InputError>) {
    let (taken, limit) = (wheel.allowance.taken, wheel.allowance.limit);
    if taken > limit {
        errors.push(node.at("taken").error_with_found(
            format!("{taken} taken of {limit}"),
            "`taken` no more than `limit`",
            "correct the numbers; if they are right, this wheel must not be cut again",
        ));
    }
}

fn check_columns(columns: &[Column], node: &Node, errors: &mut Vec<InputError>) {
    let count = |of: Column| columns.iter().filter(|&&c| c == of).count();
    if count(Column::X) != 1 || count(Column::Z) != 1 {
        errors.push(node.error_with_found(
            format!("{} columns of x and {} of z", count(Column::X), count(Column::Z)),
            "one column of x and one of z",
            "name the file's columns in order, with `other` for those to be passed over, such as `[other, x, z]`",
        ));
    }
}

fn check_lines(
    lines: &mut [ScanLine],
    node: &Node,
    folder: &Path,
    seen: &mut Vec<(PathBuf, Option<TraceName>)>,
    errors: &mut Vec<InputError>,
) {
    for (line, item) in lines.iter_mut().zip(node.items()) {
        line.file = folder.join(&line.file);
        let place = item.at("file");
        line.named = Some(NamedIn { file: place.path().to_owned(), line: place.place.line });
        if seen.contains(&(line.file.clone(), line.trace.clone())) {
            let name = item.at("file");
            errors.push(name.error_with_found(
                format!("{} a second time", name.found()),
                "every scan once",
                "name the other line's file, or delete this one; where one file holds several traces, say which with `trace`",
            ));
        }
        seen.push((line.file.clone(), line.trace.clone()));
    }
}

/// Each range must end beyond its start.
fn check_rising(stretches: &[Zone], what: &str, node: &Node, errors: &mut Vec<InputError>) {
    let items = stretches.iter().zip(node.items());
    errors.extend(items.filter_map(|(stretch, item)| rising(stretch.from, stretch.to, what, item)));
}

fn rising(from: Length, to: Length, what: &str, item: &Node) -> Option<InputError> {
    (from >= to).then(|| {
        item.at("to").error_with_found(
            format!("{what} from {from} to {to}"),
            "`to` beyond `from`: both are radii",
            "swap the two, or correct them",
        )
    })
}

/// Zones begin at a radius above zero and do not overlap.
fn check_zones(zones: &[Zone], node: &Node, errors: &mut Vec<InputError>) {
    for (i, (zone, item)) in zones.iter().zip(node.items()).enumerate() {
        let from = item.at("from");
        if zone.from.as_mm() <= 0.0 {
            errors
                .push(from.mismatch(&Mismatch::expected("a length above zero", "write a length above zero")));
        }
        let before = zones.iter().take(i);
        if let Some(other) = before.into_iter().find(|other| zone.from < other.to && other.from < zone.to) {
            errors.push(from.error_with_found(
                format!(
                    "a zone from {} to {} over one from {} to {}",
                    zone.from, zone.to, other.from, other.to
                ),
                "zones that do not overlap",
                "make one zone of the two, or correct their ends",
            ));
        }
    }
}

/// How a person comes by the depth of damage: how many passes are cut hangs on it.
const HOW_DEEP: &str = "add it, for example `depth: 0.35 mm`: lay a straight edge over the damage and try with a feeler gauge, or set a dial indicator to zero on sound face beside it and read its deepest place; judge it rather too deep, since what is listed too shallow stays standing, and take the entry out only where the lines run through the deepest place";

/// The checked damage: what is cut has a depth above zero.
pub(super) fn damage(listed: &[DamageFile], node: &Node, errors: &mut Vec<InputError>) -> Vec<Damage> {
    let mut all = Vec::new();
    for (damage, item) in listed.iter().zip(node.items()) {
        let DamageFile { from, to, depth, kind, at, over } = *damage;
        errors.extend(rising(from, to, "damage", item));
        let is_cut = matches!(kind, DamageKind::Scrape | DamageKind::Nick);
        match depth {
            None if is_cut => {
                errors.push(InputError {
                    fix: HOW_DEEP.to_owned(),
                    ..item.missing(&keys::Needed { key: "depth", example: "0.35 mm", why: None })
                });
            }
            Some(depth) if is_cut && depth.as_mm() <= 0.0 => errors.push(
                item.at("depth")
                    .mismatch(&Mismatch::expected("a length above zero", "write a length above zero")),
            ),
            _ => {}
        }
        let sector = at.zip(over).map(|(at, over)| DamageSector { at, over });
        if at.is_some() != over.is_some() {
            errors.push(item.error_with_found(
                "where damage lies over the turn by half",
                "both `at` and `over`: the angle of its middle and its width, such as `at: 40 deg, over: 60 deg`",
                "add the other one, or leave both out if the angle is not known",
            ));
        }
        all.push(Damage { from, to, depth: depth.unwrap_or_default(), kind, sector });
    }
    all
}

/// Fewest dial readings that can cover a turn.
const LEAST_READS: usize = 3;

/// Readings round the wheel; the path of a file is relative to the folder of the job file.
pub(super) fn turn(
    listed: &[TurnFile],
    node: &Node,
    folder: &Path,
    errors: &mut Vec<InputError>,
) -> Vec<TurnReadings> {
    let mut all = Vec::new();
    for (turn, item) in listed.iter().zip(node.items()) {
        let source = match (&turn.file, turn.every, turn.reads.as_slice()) {
            (Some(file), None, []) => {
                let place = item.at("file");
                let named = Some(NamedIn { file: place.path().to_owned(), line: place.place.line });
                Some(RingSource::Scan { file: folder.join(file), named })
            }
            (None, Some(every), reads) if reads.len() >= LEAST_READS => {
                Some(RingSource::Dial { every, reads: reads.to_vec() })
            }
            _ => None,
        };
        match source {
            Some(source) => all.push(TurnReadings { at: turn.at, source }),
            None => errors.push(item.error_with_found(
                "readings round the wheel that are neither of a dial nor of a file",
                "`every` and three `reads` or more, or a `file` of angle in degrees and height",
                "write for example `{ at: 214 mm, every: 45 deg, reads: [0.00 mm, 0.03 mm, 0.05 mm] }` or `{ at: 214 mm, file: ring.csv }`",
            )),
        }
    }
    all
}

/// The keep-outs of either file.
pub(super) fn keep_outs(listed: &[KeepOutFile], node: &Node, errors: &mut Vec<InputError>) -> Vec<KeepOut> {
    let mut all = Vec::new();
    for (listed, item) in listed.iter().zip(node.items()) {
        match listed.checked(item) {
            Ok(keep_out) => all.push(keep_out),
            Err(error) => errors.push(error),
        }
    }
    all
}
