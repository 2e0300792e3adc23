//! A job that reads its scans otherwise than the shop's only sensor writes them, and takes the rest of that sensor over.
//!
//! Scans in another unit, with another x, or with heights that grow the other way, are likely another sensor's. Where that one stood
//! against the tool, what it feels with and what gap may be bridged are then its own too: taken over unseen from the shop's sensor,
//! they move the whole face. So they are asked for, or the job names the shop's sensor and so says that it measured these lines.

use super::node::BLANK;
use super::source::Node;
use super::wheel::LengthUnit;
use crate::diagnostics::{InputError, shown};

/// What a job must say itself of another sensor, with what may stand there.
const ITS_OWN: [(&str, &str); 7] = [
    ("sensor", "spot"),
    ("x", "radius"),
    ("unit", "mm"),
    ("columns", "[x, z]"),
    ("z", "height"),
    ("x_offset", "0 mm"),
    ("longest_gap", "2 mm"),
];

/// The keys that say how a scan is read.
const HOW_READ: [&str; 5] = ["x", "unit", "z_unit", "columns", "z"];

/// The error of a job that names no sensor, where it reads its scans otherwise than the shop's only one writes them.
pub(super) fn another_sensor(measured: &Node, sensor: &Node) -> Option<InputError> {
    let (of_job, of_shop) = contradiction(measured, sensor)?;
    let said = |node: &Node| {
        let key = node.key.as_ref().map_or("", |key| key.text.as_str());
        format!("`{key}: {}`", shown(&node.as_written()))
    };
    let name = sensor.key.as_ref().map_or_else(String::new, |key| shown(&key.text));
    let left = ITS_OWN.iter().filter(|(key, _)| !measured.has(key));
    let block: Vec<String> =
        left.map(|(key, such)| format!("    {:17}  # such as {such}", format!("{key}: {BLANK}"))).collect();
    let mut error = of_job.error_with_found(
        format!("{}, where the shop's only sensor says {}, and no `sensor`", said(of_job), said(of_shop)),
        "the sensor that measured these lines: another one stands elsewhere against the tool, which moves the whole face",
        format!("if the shop's measured them, name it under `measured`: `sensor: {name}`; if another did, write what is its own there:"),
    );
    error.context.get_or_insert_default().block = Some(block.join("\n"));
    let key = HOW_READ.into_iter().find(|key| of_shop.is_under(key))?;
    Some(error.said_in(key, of_shop.path(), of_shop.place.line))
}

/// The first key that a job and a sensor both say, and otherwise.
fn contradiction<'n>(job: &'n Node, sensor: &'n Node) -> Option<(&'n Node, &'n Node)> {
    let both = |key: &str| job.under(key).zip(sensor.under(key));
    let differ = |key: &str| both(key).filter(|(a, b)| a.written != b.written);
    let unit = |node: &Node| LengthUnit::of_word(&node.written);
    let units_differ = |a: &Node, b: &Node| unit(a).zip(unit(b)).is_some_and(|(a, b)| a != b);
    // Heights without a unit of their own are in that of x; a job that says a unit says that of the heights too.
    let z_unit = |node: &'n Node| node.under("z_unit").or_else(|| node.under("unit"));
    let of_heights =
        || (job.has("unit") || job.has("z_unit")).then(|| z_unit(job).zip(z_unit(sensor))).flatten();
    let places = |columns: &Node| {
        ["x", "z"].map(|wanted| columns.items().iter().position(|column| column.written == wanted))
    };
    both("unit")
        .filter(|(a, b)| units_differ(a, b))
        .or_else(|| of_heights().filter(|(a, b)| units_differ(a, b)))
        .or_else(|| differ("x"))
        .or_else(|| differ("z"))
        .or_else(|| both("columns").filter(|(a, b)| places(a) != places(b)))
}
