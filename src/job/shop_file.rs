//! The shop file: machine, control, tools, schedules, and obstacles on the machine.
//!
//! Only these keys have a default: a tool's `holder` (if left out, the edges are taken to have no end, the safe assumption) and its
//! `cutting_edge_radius` (0.010 mm as on a ground and polished insert for aluminium; common practice, no source); `keep_out`, for a machine
//! without jaws or stops near the tool; a machine's `spin_first`, `spin_up` and `dwell_word` (no slow turn, no wait, X); and `textures`, for a shop that has named none; `touch` with all that is in it ([`super::touching`]). Without `ledger` none is kept.

use super::control::{self, ControlFile};
use super::fields::{self, Named};
use super::keep_out::{KeepOut, KeepOutFile};
use super::machine::{DwellWord, Machine, Spin};
use super::schedule::Schedule;
use super::schedule_file::{self, Known, ScheduleFile};
use super::shop::{Control, ProgrammedPoint, Tool};
use super::source::Node;
use super::texture::{self, Texture};
use super::touching::{self, TouchFile, Touching};
use super::wheel::{Column, HeightSense, LengthUnit, Sensor, XMeaning};
use super::{file, reader};
use crate::diagnostics::InputError;
use crate::units::{Angle, FeedPerMinute, Length, Speed, SpindleSpeed, Time};
use serde::Deserialize;

/// Smallest and largest edge angle from the spindle axis: beyond them the slope that an edge can follow is no useful
/// number.
const EDGE_ANGLES: [f64; 2] = [1.0, 89.0];

/// Largest nose radius, twice that of a round insert of 25 mm; more is a wrong unit.
const GREATEST_NOSE: Length = Length::mm(25.0);

/// One turn, radians.
const TURN: f64 = std::f64::consts::TAU;

/// Default of the rounding of the cutting edge.
const CUTTING_EDGE_RADIUS: Length = Length::mm(0.010);

/// The shop file as written.
#[derive(Debug, Deserialize)]
pub(super) struct ShopFile {
    machine: MachineFile,
    control: ControlFile,
    tools: Named<ToolFile>,
    #[serde(default)]
    textures: Named<Texture>,
    #[serde(default)]
    schedules: Named<ScheduleFile>,
    #[serde(default)]
    keep_out: Vec<KeepOutFile>,
    touch: Option<TouchFile>,
    /// Where the ledger lies, from the folder of the shop file.
    ledger: Option<String>,
    /// These three complete the jobs ([`super::shared`]); here they are only checked.
    #[serde(default, rename = "sensors")]
    _sensors: Named<SensorFile>,
    #[serde(rename = "limits")]
    _limits: Option<LimitsFile>,
    #[serde(default)]
    angles: Vec<Angle>,
}

/// A sensor of the shop; each key may be left to the jobs.
#[derive(Debug, Deserialize)]
pub(super) struct SensorFile {
    #[serde(rename = "kind")]
    _kind: Sensor,
    #[serde(rename = "x")]
    _x: Option<XMeaning>,
    #[serde(rename = "unit")]
    _unit: Option<LengthUnit>,
    #[serde(rename = "z_unit")]
    _z_unit: Option<LengthUnit>,
    #[serde(default, rename = "columns")]
    _columns: Vec<Column>,
    #[serde(rename = "z")]
    _z: Option<HeightSense>,
    #[serde(rename = "x_offset")]
    _x_offset: Option<Length>,
    #[serde(rename = "filter")]
    _filter: Option<String>,
    #[serde(default, rename = "longest_gap", deserialize_with = "fields::some_above_zero")]
    _longest_gap: Option<Length>,
    #[serde(rename = "calibrated")]
    _calibrated: Option<String>,
}

/// The shop's limits for every wheel.
#[derive(Debug, Deserialize)]
pub(super) struct LimitsFile {
    #[serde(default, rename = "run_out", deserialize_with = "fields::some_above_zero")]
    _run_out: Option<Length>,
    #[serde(default, rename = "bend", deserialize_with = "fields::some_above_zero")]
    _bend: Option<Length>,
}

#[derive(Debug, Deserialize)]
pub(super) struct MachineFile {
    #[serde(deserialize_with = "fields::above_zero")]
    spindle_limit: SpindleSpeed,
    #[serde(deserialize_with = "fields::above_zero")]
    feed_limit: FeedPerMinute,
    #[serde(deserialize_with = "fields::above_zero")]
    rapid: Speed,
    travel: Travel,
    park: Park,
    #[serde(deserialize_with = "fields::length_between::<_, 100, 200_000>")]
    clearance: Length,
    reference: Option<Park>,
    zero: Option<Park>,
    #[serde(default, deserialize_with = "fields::some_above_zero")]
    spin_first: Option<SpindleSpeed>,
    #[serde(default, deserialize_with = "fields::some_above_zero")]
    spin_up: Option<Time>,
    #[serde(default)]
    dwell_word: DwellWord,
}

#[derive(Debug, Deserialize)]
pub(super) struct Travel {
    #[serde(deserialize_with = "fields::range")]
    x: [Length; 2],
    #[serde(deserialize_with = "fields::range")]
    z: [Length; 2],
}

/// A place: radius and height.
#[derive(Debug, Clone, Copy, Deserialize)]
pub(super) struct Park {
    x: Length,
    z: Length,
}

#[derive(Debug, Deserialize)]
pub(super) struct ToolFile {
    #[serde(deserialize_with = "fields::count::<_, _, 1, 99>")]
    number: u32,
    #[serde(deserialize_with = "fields::above_zero")]
    nose_radius: Length,
    inner_edge: Angle,
    outer_edge: Angle,
    #[serde(deserialize_with = "fields::length_between::<_, 100, 200_000>")]
    edge_length: Length,
    #[serde(default = "cutting_edge_radius", deserialize_with = "fields::length_between::<_, 1, 1000>")]
    cutting_edge_radius: Length,
    holder: Option<HolderFile>,
    point: ProgrammedPoint,
}

const fn cutting_edge_radius() -> Length {
    CUTTING_EDGE_RADIUS
}

/// Reach of the holder from the nose centre.
#[derive(Debug, Clone, Copy, Deserialize)]
pub(super) struct HolderFile {
    #[serde(deserialize_with = "fields::not_negative")]
    inner: Length,
    #[serde(deserialize_with = "fields::not_negative")]
    outer: Length,
}

/// A checked shop file.
#[derive(Debug)]
pub(super) struct Shop {
    pub(super) machine: Machine,
    pub(super) control: Control,
    pub(super) tools: Vec<Tool>,
    pub(super) textures: Vec<(String, Texture)>,
    pub(super) schedules: Vec<Schedule>,
    pub(super) keep_out: Vec<KeepOut>,
    pub(super) touching: Touching,
    pub(super) ledger: Option<String>,
}

/// Reads a shop file; every error is added to `errors`, and nothing is given where one was found.
pub(super) fn read(root: &Node, errors: &mut Vec<InputError>) -> Option<Shop> {
    let before = errors.len();
    let file: ShopFile = reader::read(root, errors)?;
    let machine = machine(&file.machine, root.at("machine"), errors);
    let control = control::check(&file.control, &machine, root.at("control"), errors);
    let touching =
        touching::check(file.touch.as_ref(), (&machine, control.as_ref()), root.at("touch"), errors);
    let tools = tools(&file.tools, root.at("tools"), errors);
    texture::check_names(&file.textures.0, root.at("textures"), errors);
    let textures = file.textures.0;
    let mut schedules = Vec::new();
    for (name, schedule) in file.schedules.0 {
        let node = root.at("schedules").at(&name);
        schedules.extend(schedule_file::check(
            schedule,
            Some(name),
            &Known { tools: &tools, textures: &textures },
            node,
            errors,
        ));
    }
    let keep_out = file::keep_outs(&file.keep_out, root.at("keep_out"), errors);
    for (angle, node) in file.angles.iter().zip(root.at("angles").items()) {
        if !(0.0..TURN).contains(&angle.as_rad()) {
            errors.push(
                node.error("an angle from `0 deg` to below `360 deg`", "write the angle within one turn"),
            );
        }
    }
    let control = control.filter(|_| errors.len() == before)?;
    if file.ledger.as_ref().is_some_and(|name| name.trim().is_empty()) {
        errors.push(root.at("ledger").error("the name of a file", "write for example `ledger: wheels.db`"));
        return None;
    }
    Some(Shop { machine, control, tools, textures, schedules, keep_out, touching, ledger: file.ledger })
}

fn machine(file: &MachineFile, node: &Node, errors: &mut Vec<InputError>) -> Machine {
    let MachineFile { spindle_limit, feed_limit, rapid, clearance, spin_first, spin_up, dwell_word, .. } =
        *file;
    for (key, park, travel) in [("x", file.park.x, file.travel.x), ("z", file.park.z, file.travel.z)] {
        let [least, greatest] = travel;
        if park < least || greatest < park {
            errors.push(node.at("park").at(key).error(
                format!("a place within the machine's travel, {least} to {greatest}"),
                "move the place, or correct `travel`: both count from the scans' zero (the axis, and the height that the scans call 0), not from the machine's zero",
            ));
        }
    }
    check_reference(file, node, errors);
    Machine {
        spindle_limit,
        feed_limit,
        rapid,
        travel_x: file.travel.x,
        travel_z: file.travel.z,
        park_x: file.park.x,
        park_z: file.park.z,
        clearance,
        reference: file.reference.map(|p| [p.x, p.z]),
        zero: file.zero.map(|p| [p.x, p.z]),
        spin: Spin { first: spin_first, up: spin_up, dwell: dwell_word },
    }
}

/// From the park to the reference point the tool goes away from the wheel only: then nothing can be in its way, whatever its length.
fn check_reference(file: &MachineFile, node: &Node, errors: &mut Vec<InputError>) {
    let Some(at) = file.reference else { return };
    for (key, at, park, [_, greatest]) in
        [("x", at.x, file.park.x, file.travel.x), ("z", at.z, file.park.z, file.travel.z)]
    {
        if at < park || greatest < at {
            errors.push(node.at("reference").at(key).error(
                format!(
                    "a place no nearer to the wheel than the park and within the travel, {park} to {greatest}"
                ),
                "measure where the tool stands at the reference point, or move the park",
            ));
        }
    }
}

fn tools(file: &Named<ToolFile>, node: &Node, errors: &mut Vec<InputError>) -> Vec<Tool> {
    if file.0.is_empty() {
        errors.push(node.error_with_found(
            "no tools",
            "at least one tool",
            "describe the tools, each under its name",
        ));
    }
    let mut tools: Vec<Tool> = Vec::with_capacity(file.0.len());
    for (name, tool) in &file.0 {
        let node = node.at(name);
        if let Some(first) = tools.iter().find(|t| t.number == tool.number) {
            errors.push(node.at("number").error(
                format!("a number of its own; `{}` has this one", first.name),
                "give every tool the number under which the control knows it",
            ));
        }
        check_tool(tool, node, errors);
        tools.push(Tool {
            name: name.clone(),
            number: tool.number,
            nose_radius: tool.nose_radius,
            inner_edge: tool.inner_edge,
            outer_edge: tool.outer_edge,
            edge_length: tool.edge_length,
            cutting_edge_radius: tool.cutting_edge_radius,
            holder: tool.holder.map(|holder| [holder.inner, holder.outer]),
            point: tool.point,
        });
    }
    tools
}

fn check_tool(tool: &ToolFile, node: &Node, errors: &mut Vec<InputError>) {
    if tool.nose_radius > GREATEST_NOSE {
        errors.push(node.at("nose_radius").error(
            format!("`nose_radius` of {GREATEST_NOSE} at most"),
            "check the unit; an insert's corner code 12 is 1.2 mm",
        ));
    }
    let [least, greatest] = EDGE_ANGLES.map(Angle::deg);
    for (key, edge) in [("inner_edge", tool.inner_edge), ("outer_edge", tool.outer_edge)] {
        if edge < least || greatest < edge {
            errors.push(node.at(key).error(
                format!("an edge from {least} to {greatest} away from the spindle axis"),
                "measure the edge's angle from the spindle axis, not from the face",
            ));
        }
    }
}
