//! What each value may be and both files together cannot: a keep-out where no tool comes, a spindle that hardly turns.

use super::source::Node;
use super::{Job, KeepOut};
use crate::diagnostics::InputError;
use crate::units::{Length, SpindleSpeed};

/// A keep-out thinner than this keeps nothing out: less than anything that stands on a lathe.
const THINNEST: Length = Length::mm(0.1);

/// Half of a diameter is its radius.
const HALF: f64 = 0.5;

/// No wheel is turned more slowly (common practice, no source): a pass would take hours.
const SLOWEST: SpindleSpeed = SpindleSpeed::rpm(10.0);

/// All that contradicts itself so.
pub(super) fn check(job: &Job, root: &Node, shop: &Node) -> Vec<InputError> {
    let mut errors = check_keep_outs(job, root, shop);
    errors.extend(check_slowest(job, root, shop));
    errors.extend(check_spin_first(job, shop));
    errors
}

/// Keep-outs that no tool can meet: those of the job, then those of the shop.
fn check_keep_outs(job: &Job, root: &Node, shop: &Node) -> Vec<InputError> {
    let listed = |node: &Node| node.under("keep_out").map(|n| n.items().to_vec()).unwrap_or_default();
    let nodes = listed(root).into_iter().chain(listed(shop));
    job.keep_out
        .iter()
        .zip(nodes)
        .filter_map(|(keep_out, node)| check_keep_out(job, keep_out, &node))
        .collect()
}

fn check_keep_out(job: &Job, keep_out: &KeepOut, node: &Node) -> Option<InputError> {
    let ([inner, outer], [low, high]) =
        (keep_out.radii().map(Length::mm), keep_out.heights().map(Length::mm));
    let machine = &job.machine;
    let ([_, farthest], [lowest, highest]) = (machine.travel_x, machine.travel_z);
    let reach = job.tools.iter().filter_map(|t| t.holder).map(|[_, outer]| outer.as_mm()).fold(0.0, f64::max);
    let key = |name: &str| if node.has(name) { node.at(name) } else { node.at("corners") };
    let refused = |key: &Node, found: String, expected: String, fix: &str| {
        let found = format!("the keep-out `{}` {found}", crate::diagnostics::text::shown(keep_out.name()));
        Some(key.error_with_found(found, expected, fix))
    };
    if outer.as_mm() <= 0.0 {
        let found = format!("from {inner} to {outer}, on the far side of the axis");
        return refused(key("x"), found, "radii above zero".into(), "write the radii without their sign");
    }
    if inner.as_mm() > farthest.as_mm() + reach {
        let found = format!("from radius {inner} on, where no tool comes");
        let expected = format!("a place within the machine's travel of radius, which ends at {farthest}");
        let fix = if inner * HALF <= farthest {
            "x is a radius: write half of it, if that is a diameter; else take it out, or correct `travel`"
        } else {
            "x is a radius: correct it, take it out, or correct `travel`"
        };
        return refused(key("x"), found, expected, fix);
    }
    if high < lowest || low > highest {
        let found = format!("from z {low} to {high}, where no tool comes");
        let expected = format!("a place within the machine's travel of z, {lowest} to {highest}");
        let fix = "heights count from the scans' zero: correct them, take it out, or correct `travel`";
        return refused(key("z"), found, expected, fix);
    }
    let thin = if outer - inner < THINNEST { Some(("x", outer - inner)) } else { None };
    let (axis, wide) = thin.or_else(|| (high - low < THINNEST).then_some(("z", high - low)))?;
    let found = format!("only {wide} wide in {axis}");
    let expected = format!("a place that something takes up, {THINNEST} at least");
    refused(key(axis), found, expected, "write where it begins and where it ends")
}

/// A limit at which no wheel is turned.
fn check_slowest(job: &Job, root: &Node, shop: &Node) -> Option<InputError> {
    let limit = job.speed_limit();
    let of_wheel = job.wheel.speed_limit == limit;
    let node =
        if of_wheel { root.at("wheel").at("speed_limit") } else { shop.at("machine").at("spindle_limit") };
    (limit < SLOWEST).then(|| {
        node.error_with_found(
            format!("a spindle that may turn no faster than {limit}"),
            format!("a limit of {SLOWEST} at least: slower than that no wheel is cut"),
            "write the limit in turns a minute; check its unit",
        )
    })
}

/// A slow first turn that is faster than the wheel may turn.
fn check_spin_first(job: &Job, shop: &Node) -> Option<InputError> {
    let (first, limit) = (job.machine.spin.first?, job.speed_limit());
    (first > limit).then(|| {
        shop.at("machine").at("spin_first").error_with_found(
            format!("a slow turn of {first} before the first pass, where this wheel may turn {limit}"),
            format!("{limit} at most; it is there to see how the wheel runs"),
            "write a slow turn, such as `spin_first: 60 rpm`",
        )
    })
}
