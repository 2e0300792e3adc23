//! The job file's groups: wheel, measurement, damage, zones, keep-outs.
//!
//! Defaults: `bend_limit` (the run-out limit holds for both), `run_out` (what the lines show), `touch_off` (the middle of the widest
//! zone), `damage` (none seen), `mend` and `leave` (the lines decide), and `keep_out` where the tyre is off. Nothing else.

use super::source::Node;
use super::{
    Allowance, Column, Damage, DamageKind, HeightSense, KeepOut, LengthUnit, Measured, ScanLine, Sensor,
    Tyre, Wheel, XMeaning, Zone,
};
use crate::diagnostics::InputError;
use crate::units::{Angle, Length};
use std::path::Path;

/// One turn.
const TURN: Angle = Angle::deg(360.0);

pub(super) fn wheel(node: &Node) -> Result<Wheel, InputError> {
    let group =
        node.group(&["name", "material", "tyre", "speed_limit", "allowance", "run_out_limit", "bend_limit"])?;
    Ok(Wheel {
        name: group.need("name", "\"18 x 8, five spokes\"")?.text()?.to_owned(),
        material: group.need("material", "cast aluminium")?.text()?.to_owned(),
        tyre: group
            .need("tyre", "mounted")?
            .choice(&[("mounted", Tyre::Mounted), ("removed", Tyre::Removed)])?,
        speed_limit: group
            .need_decided("speed_limit", "700 rpm", "balance and tyre decide how fast this wheel may turn")?
            .above_zero()?,
        allowance: allowance(group.need_decided(
            "allowance",
            "{ limit: 1.0 mm, taken: 0.20 mm }",
            "a person decides how much metal this wheel may lose",
        )?)?,
        run_out_limit: group
            .need_decided("run_out_limit", "0.30 mm", "a person decides how untrue a wheel is still cut")?
            .above_zero()?,
        bend_limit: group.get("bend_limit").map(Node::above_zero).transpose()?,
    })
}

fn allowance(node: &Node) -> Result<Allowance, InputError> {
    let group = node.group(&["limit", "taken"])?;
    let limit: Length =
        group.need_decided("limit", "1.0 mm", "all the metal this wheel may ever lose")?.above_zero()?;
    let taken_node =
        group.need_decided("taken", "0 mm", "the metal earlier jobs took; `0 mm` for a wheel never cut")?;
    let taken: Length = taken_node.not_negative()?;
    if taken > limit {
        return Err(taken_node.fault_found(
            format!("{taken} taken of {limit}"),
            "`taken` no more than `limit`",
            "correct the numbers; if they are right, this wheel must not be cut again",
        ));
    }
    Ok(Allowance { limit, taken })
}

pub(super) fn measured(node: &Node, folder: &Path) -> Result<Measured, InputError> {
    let group = node.group(&[
        "sensor",
        "x",
        "unit",
        "columns",
        "z",
        "x_offset",
        "filter",
        "longest_gap",
        "run_out",
        "lines",
    ])?;
    let filter = group.need("filter", "0.8 mm")?;
    Ok(Measured {
        sensor: sensor(group.need("sensor", "spot")?)?,
        x: group
            .need("x", "radius")?
            .choice(&[("radius", XMeaning::Radius), ("diameter", XMeaning::Diameter)])?,
        unit: group
            .need("unit", "mm")?
            .choice(&[("mm", LengthUnit::Millimetre), ("inch", LengthUnit::Inch)])?,
        columns: columns(group.need("columns", "[x, z]")?)?,
        z: group
            .need("z", "height")?
            .choice(&[("height", HeightSense::Height), ("distance", HeightSense::Distance)])?,
        x_offset: group
            .need_decided(
                "x_offset",
                "0 mm",
                "where the sensor stands against the tool moves the whole face",
            )?
            .quantity()?,
        filter: if filter.is_word("none") { None } else { Some(filter.above_zero()?) },
        longest_gap: group
            .need_decided("longest_gap", "2 mm", "a gap that is bridged is a face that nobody measured")?
            .above_zero()?,
        run_out: group.get("run_out").map(Node::above_zero).transpose()?,
        lines: lines(group.need("lines", "[{ file: scan-000.csv, at: 0 deg }]")?, folder)?,
        turn: Vec::new(),
    })
}

/// `spot`, or `ball` and its diameter.
fn sensor(node: &Node) -> Result<Sensor, InputError> {
    let refused = || {
        node.fault(
            "`sensor` as `spot`, or as `ball` and its diameter",
            "write `spot` for a sensor of light, or for example `ball 3 mm`",
        )
    };
    if node.is_word("spot") {
        return Ok(Sensor::Spot);
    }
    let Some(("ball", diameter)) = node.text()?.split_once(' ') else { return Err(refused()) };
    let diameter: Length = node.quantity_in(diameter)?;
    if diameter.as_mm() > 0.0 { Ok(Sensor::Ball { diameter }) } else { Err(refused()) }
}

fn columns(node: &Node) -> Result<Vec<Column>, InputError> {
    let items = node.list("columns")?;
    let columns = items
        .iter()
        .map(|n| n.choice(&[("x", Column::X), ("z", Column::Z), ("other", Column::Other)]))
        .collect::<Result<Vec<_>, _>>()?;
    let count = |of: Column| columns.iter().filter(|&&c| c == of).count();
    if count(Column::X) == 1 && count(Column::Z) == 1 {
        return Ok(columns);
    }
    Err(node.fault_found(
        format!("{} columns of x and {} of z", count(Column::X), count(Column::Z)),
        "one column of x and one of z",
        "name the file's columns in order, with `other` for those to be passed over, such as `[other, x, z]`",
    ))
}

fn lines(node: &Node, folder: &Path) -> Result<Vec<ScanLine>, InputError> {
    let mut lines: Vec<ScanLine> = Vec::new();
    for item in node.list("scans")? {
        let group = item.group(&["file", "at"])?;
        let file_node = group.need("file", "scan-000.csv")?;
        let file = folder.join(file_node.text()?);
        if lines.iter().any(|line| line.file == file) {
            return Err(file_node.fault_found(
                format!("{} a second time", file_node.found()),
                "every scan once",
                "name the other line's file, or delete this one",
            ));
        }
        let at_node = group.need("at", "120 deg")?;
        let at: Angle = at_node.quantity()?;
        if at.as_rad() < 0.0 || at >= TURN {
            return Err(at_node.fault(
                "`at` as an angle from `0 deg` to below `360 deg`",
                "write the wheel's angle at this line within one turn",
            ));
        }
        lines.push(ScanLine { file, at });
    }
    Ok(lines)
}

/// A stretch of radius; `least` says whether it may begin on the axis.
fn stretch(item: &Node, what: &str) -> Result<[Length; 2], InputError> {
    let (from, to): (Length, Length) = (item.at("from").not_negative()?, item.at("to").above_zero()?);
    if from < to {
        return Ok([from, to]);
    }
    Err(item.at("to").fault_found(
        format!("{what} from {from} to {to}"),
        "`to` beyond `from`: both are radii",
        "swap the two, or correct them",
    ))
}

pub(super) fn damage(node: &Node) -> Result<Vec<Damage>, InputError> {
    node.list_or_empty("stretches of damage")?
        .iter()
        .map(|item| {
            let group = item.group(&["from", "to", "depth", "kind"])?;
            group.need("from", "203 mm")?;
            group.need("to", "214 mm")?;
            let [from, to] = stretch(item, "damage")?;
            let kind = group.need("kind", "scrape")?.choice(&[
                ("scrape", DamageKind::Scrape),
                ("nick", DamageKind::Nick),
                ("crack", DamageKind::Crack),
                ("bend", DamageKind::Bend),
                ("weld", DamageKind::Weld),
            ])?;
            let depth = match (kind, group.get("depth")) {
                // What is never cut needs no depth; where one is given it is kept.
                (DamageKind::Crack | DamageKind::Bend | DamageKind::Weld, None) => Length::mm(0.0),
                (DamageKind::Crack | DamageKind::Bend | DamageKind::Weld, Some(depth)) => {
                    depth.not_negative()?
                }
                _ => group.need("depth", "0.35 mm")?.above_zero()?,
            };
            Ok(Damage { from, to, depth, kind, sector: None })
        })
        .collect()
}

/// Stretches of the face to mend or to leave.
pub(super) fn stretches(node: &Node) -> Result<Vec<Zone>, InputError> {
    node.list_or_empty("stretches")?
        .iter()
        .map(|item| {
            let group = item.group(&["from", "to"])?;
            group.need("from", "168 mm")?;
            group.need("to", "178 mm")?;
            let [from, to] = stretch(item, "a stretch")?;
            Ok(Zone { from, to })
        })
        .collect()
}

/// The rings to cut, in rising order.
pub(super) fn zones(node: &Node) -> Result<Vec<Zone>, InputError> {
    let mut zones: Vec<(Zone, &Node)> = Vec::new();
    for item in node.list("zones")? {
        let group = item.group(&["from", "to"])?;
        group.need("from", "70 mm")?.above_zero::<Length>()?;
        group.need("to", "216 mm")?;
        let [from, to] = stretch(item, "a zone")?;
        if let Some((other, _)) = zones.iter().find(|(z, _)| from < z.to && z.from < to) {
            return Err(item.at("from").fault_found(
                format!("a zone from {from} to {to} over one from {} to {}", other.from, other.to),
                "zones that do not overlap",
                "make one zone of the two, or correct their ends",
            ));
        }
        zones.push((Zone { from, to }, item));
    }
    zones.sort_by(|(a, _), (b, _)| a.from.as_mm().total_cmp(&b.from.as_mm()));
    Ok(zones.into_iter().map(|(zone, _)| zone).collect())
}

pub(super) fn keep_outs(node: &Node) -> Result<Vec<KeepOut>, InputError> {
    node.list_or_empty("places to keep out of")?
        .iter()
        .map(|item| {
            let group = item.group(&["name", "x", "z"])?;
            Ok(KeepOut {
                name: group.need("name", "tyre")?.text()?.to_owned(),
                x: group.need("x", "[224 mm, 330 mm]")?.range()?,
                z: group.need("z", "[-90 mm, 12 mm]")?.range()?,
            })
        })
        .collect()
}
