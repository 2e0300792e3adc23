//! What a job takes over from its shop: the sensor, the limits, the usual angles, the only schedule.
//!
//! It is put into the tree of the job file before that is read, as a person would write it there, and only where the job is
//! silent. The nodes keep their place in the shop file, so that an error in one points there.

use super::another_sensor::another_sensor;
use super::node::{BLANK, quoted};
use super::source::{self, Key, Node, Shape};
use super::{JobErrors, keys};
use crate::diagnostics::InputError;
use std::path::Path;

/// What a sensor says for the jobs.
const OF_SENSOR: [&str; 7] = ["x", "unit", "columns", "z", "x_offset", "filter", "longest_gap"];

/// Nodes of the shop's tree get numbers that no node of the job's tree has.
const FROM_SHOP: usize = usize::MAX / 2;

/// Puts into a job what its shop says for all jobs.
pub(super) fn complete(job: &mut Node, shop: &Node, errors: &mut Vec<InputError>) {
    if let Some(measured) = job.under_mut("measured") {
        sensor(measured, shop, errors);
        lines(measured, shop);
    }
    if let (Some(wheel), Some(limits)) = (job.under_mut("wheel"), shop.under("limits")) {
        for (key, of_shop) in [("run_out_limit", "run_out"), ("bend_limit", "bend")] {
            if let Some(limit) = limits.under(of_shop) {
                wheel.take_over(key, limit);
            }
        }
    }
    if let Some([only]) = shop.under("schedules").and_then(|all| all.entries().ok())
        && let Some(key) = &only.key
    {
        let named = Node { written: key.text.clone(), shape: Shape::Text, place: key.place, ..only.clone() };
        job.take_over("schedule", &named);
    }
}

/// The sensor that the job names, or the shop's only one.
fn sensor(measured: &mut Node, shop: &Node, errors: &mut Vec<InputError>) {
    let sensors = shop.under("sensors").and_then(|all| all.entries().ok()).unwrap_or_default();
    let named = measured.under("sensor").and_then(|n| n.text().ok()).map(str::to_owned);
    let chosen = match (&named, sensors) {
        // Until it is known which, nothing that every sensor says is missing.
        (Some(name), _) if name.contains(BLANK) => sensors.first(),
        (Some(name), _) => sensors.iter().find(|s| s.is_under(name)),
        (None, [only]) => Some(only),
        (None, []) => None,
        (None, several) => {
            let names = several.iter().filter_map(|s| s.key.as_ref()).map(|k| k.text.as_str());
            errors.push(measured.error_with_found(
                "`measured` without `sensor`, in a shop with several",
                format!("one of {}", quoted(names)),
                "write `sensor:` and the one that measured these lines",
            ));
            None
        }
    };
    let Some(chosen) = chosen else { return };
    if named.is_none() {
        errors.extend(another_sensor(measured, chosen));
    }
    // Millimetres of the job's own must not meet the sensor's unit of height.
    if !measured.has("unit") {
        chosen.under("z_unit").into_iter().for_each(|unit| measured.take_over("z_unit", unit));
    }
    for key in OF_SENSOR {
        chosen.under(key).into_iter().for_each(|node| measured.take_over(key, node));
    }
    measured.remove("sensor");
    chosen.under("kind").into_iter().for_each(|kind| measured.take_over("sensor", kind));
}

/// The shop's only sensor, where the job says that another one measured its lines: one of its own, or a kind written out.
///
/// What the shop file says of places (park, travel, keep-outs) counts from that sensor's zero; another one is zeroed elsewhere.
pub(super) fn not_the_shops(job: &Node, shop: &Node) -> Option<String> {
    let [only] = shop.under("sensors")?.entries().ok()? else { return None };
    let named = job.under("measured")?.under("sensor")?.text().ok()?;
    let name = &only.key.as_ref()?.text;
    (named != name).then(|| name.clone())
}

/// A line may be the bare name of its scan; without an angle it stands at the shop's usual one.
fn lines(measured: &mut Node, shop: &Node) {
    let Some(lines) = measured.under_mut("lines") else { return };
    let Shape::List(items) = &mut lines.shape else { return };
    let angles = shop.under("angles").map(Node::items).unwrap_or_default();
    let usual = angles.len() == items.len();
    for (i, item) in items.iter_mut().enumerate() {
        if matches!(item.shape, Shape::Text | Shape::Number) {
            let key = Some(Key { text: "file".to_owned(), place: item.place });
            let file = Node { key, number: FROM_SHOP + item.number, ..item.clone() };
            item.written.clear();
            item.shape = Shape::Group(vec![file]);
        }
        if let Some(angle) = angles.get(i).filter(|_| usual) {
            item.take_over("at", angle);
        }
    }
}

impl Node {
    /// Adds a node of the shop file under a key, where this group has none.
    fn take_over(&mut self, key: &str, node: &Self) {
        if self.has(key) {
            return;
        }
        let Shape::Group(entries) = &mut self.shape else { return };
        let mut copy = node.clone();
        copy.renumber();
        copy.key =
            Some(Key { text: key.to_owned(), place: node.key.as_ref().map_or(node.place, |k| k.place) });
        entries.push(copy);
    }

    fn renumber(&mut self) {
        self.number = FROM_SHOP.saturating_add(self.number);
        if let Shape::List(nodes) | Shape::Group(nodes) = &mut self.shape {
            nodes.iter_mut().for_each(Self::renumber);
        }
    }
}

/// What a shop says for its jobs: names, and what its only sensor says as it is written.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ShopSays {
    /// The names of its sensors.
    pub sensors: Vec<String>,
    /// What its only sensor says, each key with its value as written; nothing where it has several.
    pub sensor: Vec<(String, String)>,
    /// Whether its control counts inches, where it says so.
    pub inches: Option<bool>,
    /// Whether it has a limit of run-out.
    pub run_out: bool,
    /// How many usual angles it has.
    pub angles: usize,
    /// The names of its schedules.
    pub schedules: Vec<String>,
    /// The number under which its control keeps programs, where it wants one.
    pub program_number: Option<String>,
    /// How many of its keys are blanks that are left to be filled in.
    pub blanks: usize,
}

/// Whether the control of a shop file counts inches, where it says so.
pub(super) fn inches(shop: &Node) -> Option<bool> {
    match shop.under("control")?.under("units")?.written.as_str() {
        "inch" => Some(true),
        "mm" => Some(false),
        _ => None,
    }
}

/// The number under which the control of a shop file keeps programs, where it has one.
fn program_number(shop: &Node) -> Option<String> {
    let number = &shop.under("control")?.under("program_number")?.written;
    (number != "none" && !number.contains(BLANK)).then(|| number.clone())
}

/// What a shop file says for the jobs; its values are not checked.
///
/// # Errors
/// If it cannot be read or is not YAML.
pub fn shop_says(path: &Path) -> Result<ShopSays, Box<JobErrors>> {
    let root = source::open(path).map_err(JobErrors::from)?;
    if let Some(errors) = JobErrors::of(root.file.twice.clone()) {
        return Err(errors.into());
    }
    let names = |node: Option<&Node>| -> Vec<String> {
        let entries = node.and_then(|n| n.entries().ok()).unwrap_or_default();
        entries.iter().filter_map(|n| n.key.as_ref()).map(|k| k.text.clone()).collect()
    };
    let said = |node: Option<&Node>| -> Vec<(String, String)> {
        let entries = node.and_then(|n| n.entries().ok()).unwrap_or_default();
        entries.iter().filter_map(|n| Some((n.key.as_ref()?.text.clone(), n.as_written()))).collect()
    };
    let sensors = root.under("sensors");
    let only = match sensors.and_then(|all| all.entries().ok()) {
        Some([only]) => Some(only),
        _ => None,
    };
    Ok(ShopSays {
        sensors: names(sensors),
        sensor: said(only),
        inches: inches(&root),
        run_out: root.under("limits").is_some_and(|l| l.has("run_out")),
        angles: root.under("angles").map_or(0, |a| a.items().len()),
        schedules: names(root.under("schedules")),
        program_number: program_number(&root),
        blanks: root.blanks(&keys::SHOP).len(),
    })
}
