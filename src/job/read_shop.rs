//! The shop file: machine, control, tools, schedules.
//!
//! Nothing here has a default but a tool's holder, whose absence is read the safe way (edges without end).

use super::node::nearest;
use super::source::Node;
use super::{Control, Machine, ProgrammedPoint, Schedule, Tool};
use super::{read_control, read_schedule};
use crate::diagnostics::{InputError, shown};
use crate::units::{Angle, Length};

/// A checked shop file, with the nodes that later checks may have to blame.
pub(super) struct Shop<'a> {
    pub(super) machine: Machine,
    pub(super) machine_node: &'a Node,
    pub(super) control: Control,
    pub(super) control_node: &'a Node,
    pub(super) tools: Vec<Tool>,
    pub(super) schedules: Vec<(Schedule, &'a Node)>,
}

/// Steepest and shallowest edge from the spindle axis: beyond them an edge is a wall or a floor, and the
/// slope it can follow no number worth having.
const EDGE_ANGLES: [f64; 2] = [1.0, 89.0];

/// Greatest nose radius: a full-round insert of 25 mm has half of it; more is a slip in the unit.
const GREATEST_NOSE: Length = Length::mm(25.0);

pub(super) fn shop(root: &Node) -> Result<Shop<'_>, InputError> {
    let group = root.group(&["machine", "control", "tools", "schedules"])?;
    let machine_node = group.need("machine", "{ spindle_limit: 1200 rpm, ... }")?;
    let control_node = group.need("control", "{ x_words: diameter, ... }")?;
    let machine = machine(machine_node)?;
    let control = read_control::control(control_node)?;
    let tools = tools(group.need("tools", "{ rounder: { number: 1, ... } }")?)?;
    let mut schedules = Vec::new();
    for node in group.get("schedules").map(Node::entries).transpose()?.unwrap_or_default() {
        schedules.push((read_schedule::schedule(node, &tools)?, node));
    }
    Ok(Shop { machine, machine_node, control, control_node, tools, schedules })
}

impl Shop<'_> {
    /// The schedule of the name that stands at a node.
    pub(super) fn schedule(&self, name: &Node) -> Result<(&Schedule, &Node), InputError> {
        let wanted = name.text()?;
        if let Some((schedule, node)) = self.schedules.iter().find(|(s, _)| s.name.as_deref() == Some(wanted))
        {
            return Ok((schedule, node));
        }
        let names: Vec<&str> = self.schedules.iter().filter_map(|(s, _)| s.name.as_deref()).collect();
        let known = if names.is_empty() {
            "a schedule written out here: the shop file has none".to_owned()
        } else {
            format!("a schedule of the shop file: {}", quoted(&names))
        };
        let fix = nearest(wanted, names.iter().copied()).map_or_else(
            || "name one of those, or write the schedule out here".to_owned(),
            |n| format!("write `{n}`, if that is meant"),
        );
        Err(name.fault_found(format!("{}, a schedule that is not known", name.found()), known, fix))
    }
}

/// Names in quotes, with commas between.
pub(super) fn quoted(names: &[&str]) -> String {
    names.iter().map(|n| format!("`{}`", shown(n))).collect::<Vec<_>>().join(", ")
}

fn machine(node: &Node) -> Result<Machine, InputError> {
    let group = node.group(&["spindle_limit", "feed_limit", "rapid", "travel", "park", "clearance"])?;
    let travel = group.need("travel", "{ x: [0 mm, 420 mm], z: [-200 mm, 350 mm] }")?.group(&["x", "z"])?;
    let park = group.need("park", "{ x: 330 mm, z: 250 mm }")?.group(&["x", "z"])?;
    let machine = Machine {
        spindle_limit: group.need("spindle_limit", "1200 rpm")?.above_zero()?,
        feed_limit: group.need("feed_limit", "1500 mm/min")?.above_zero()?,
        rapid: group.need("rapid", "6 m/min")?.above_zero()?,
        travel_x: travel.need("x", "[0 mm, 420 mm]")?.range()?,
        travel_z: travel.need("z", "[-200 mm, 350 mm]")?.range()?,
        park_x: park.need("x", "330 mm")?.quantity()?,
        park_z: park.need("z", "250 mm")?.quantity()?,
        clearance: group.need("clearance", "3 mm")?.above_zero()?,
    };
    for (key, park_at, travel) in
        [("x", machine.park_x, machine.travel_x), ("z", machine.park_z, machine.travel_z)]
    {
        within(park.node().at(key), park_at, travel)?;
    }
    Ok(machine)
}

/// Refuses a place beyond the machine's travel.
fn within(node: &Node, place: Length, [least, greatest]: [Length; 2]) -> Result<(), InputError> {
    if least <= place && place <= greatest {
        return Ok(());
    }
    Err(node.fault(
        format!("a place within the machine's travel, {least} to {greatest}"),
        "move the place, or correct `travel`",
    ))
}

fn tools(node: &Node) -> Result<Vec<Tool>, InputError> {
    let entries = node.entries()?;
    if entries.is_empty() {
        return Err(node.fault_found(
            "no tools",
            "at least one tool",
            "describe the tools, each under its name",
        ));
    }
    let mut tools: Vec<Tool> = Vec::with_capacity(entries.len());
    for entry in entries {
        let tool = tool(entry)?;
        if let Some(first) = tools.iter().find(|t| t.number == tool.number) {
            return Err(entry.at("number").fault(
                format!("a number of its own; `{}` has this one", first.name),
                "give every tool the number under which the control knows it",
            ));
        }
        tools.push(tool);
    }
    Ok(tools)
}

fn tool(node: &Node) -> Result<Tool, InputError> {
    let group =
        node.group(&["number", "nose_radius", "inner_edge", "outer_edge", "edge_length", "holder", "point"])?;
    let nose = group.need("nose_radius", "1.2 mm")?;
    let nose_radius: Length = nose.above_zero()?;
    if nose_radius > GREATEST_NOSE {
        return Err(nose.fault(
            format!("`nose_radius` of {GREATEST_NOSE} at most"),
            "check the unit; an insert's corner code 12 is 1.2 mm",
        ));
    }
    Ok(Tool {
        name: node.key.as_ref().map(|key| key.text.clone()).unwrap_or_default(),
        number: group.need("number", "1")?.count(1..=99)?,
        nose_radius,
        inner_edge: edge(group.need("inner_edge", "30 deg")?)?,
        outer_edge: edge(group.need("outer_edge", "30 deg")?)?,
        edge_length: group.need("edge_length", "8 mm")?.above_zero()?,
        holder: group.get("holder").map(holder).transpose()?,
        point: group.need("point", "front")?.choice(&[
            ("front", ProgrammedPoint::Front),
            ("centre", ProgrammedPoint::Centre),
            ("inner", ProgrammedPoint::Inner),
            ("outer", ProgrammedPoint::Outer),
        ])?,
    })
}

fn edge(node: &Node) -> Result<Angle, InputError> {
    let angle: Angle = node.quantity()?;
    let [least, greatest] = EDGE_ANGLES.map(Angle::deg);
    if least <= angle && angle <= greatest {
        return Ok(angle);
    }
    Err(node.fault(
        format!("an edge from {least} to {greatest} away from the spindle axis"),
        "measure the edge's angle from the spindle axis, not from the face",
    ))
}

fn holder(node: &Node) -> Result<[Length; 2], InputError> {
    let group = node.group(&["inner", "outer"])?;
    Ok([group.need("inner", "4 mm")?.not_negative()?, group.need("outer", "25 mm")?.not_negative()?])
}
