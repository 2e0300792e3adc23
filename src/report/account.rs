//! The summary of a plan that a person reads before the program goes to the lathe.

use crate::diagnostics::text::visible;
use crate::job::{Comments, Job};
use crate::plan::contact::{Contact, TOUCH_ERROR};
use crate::plan::corners::Evidence;
use crate::plan::finished::{FinishedFace, PathCorner, Waviness};
use crate::plan::{Operation, Pass, Plan, time_of};
use crate::units::{Length, Time, as_it_is, name_as_written};
use std::fmt::Write;

/// The cautions printed with every program.
const CAUTIONS: &[&str] = &[
    "Review the program and watch the air pass before any cut. Eye protection on, door closed, no gloves near the spindle.",
    "Check jaws, balance and speed limit. Never cut a cracked, bent or welded wheel.",
    "The wheel maker's rules, local rules and licensed practice come first; some makers forbid any re-machining.",
];

/// The summary of a plan.
#[must_use]
pub fn of(job: &Job, plan: &Plan) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let _ = write_account(&mut text, job, plan);
    text
}

fn write_account(out: &mut String, job: &Job, plan: &Plan) -> std::fmt::Result {
    writeln!(out, "job      {}", visible(&name_as_written(&job.title)))?;
    if job.wheel.name != job.title {
        writeln!(out, "wheel    {}", visible(&name_as_written(&job.wheel.name)))?;
    }
    writeln!(out, "spindle  at most {}", plan.spindle_limit)?;
    for operation in &plan.operations {
        write_operation(out, job, operation)?;
    }
    let chips: f64 = passes(plan).map(|p| p.figures.chip_volume).sum();
    writeln!(out)?;
    writeln!(
        out,
        "time     {} without stops and tool changes",
        whole_seconds(time_of(job, &plan.operations))
    )?;
    writeln!(
        out,
        "metal    {:.3} off the highest place (at most {:.1} cm3 of chips), {:.3} of the allowance left",
        plan.removed,
        chips / 1000.0,
        plan.left
    )?;
    if plan.already.as_mm() > 0.0 {
        let after = plan.already.as_mm() + plan.removed.as_mm();
        writeln!(
            out,
            "gone     {:.3} before this program, {:.3} after it; clean-up needs {:.3} in all",
            plan.already,
            Length::mm(after),
            plan.needed
        )?;
    }
    if let Some(which) = &plan.which_face {
        writeln!(out, "face     {}", visible(which))?;
        if plan.already.as_mm() > 0.0 && job.cut_along.is_none() {
            writeln!(
                out,
                "face     what came off before must have been cut along the same place: look in the account of that program, and name it in the job (`cut_along`)"
            )?;
        }
    }
    for line in contact_lines(plan) {
        writeln!(out, "contact  {line}")?;
    }
    write_touched_wrong(out, plan)?;
    if let Some(last) = passes(plan).last() {
        writeln!(
            out,
            "texture  Rz {}, Ra {} at best after the last pass, its grooves {} apart",
            microns(last.figures.rz),
            microns(last.figures.ra),
            Length::mm(last.feed.as_mm_per_rev())
        )?;
        write_finished(out, &plan.finished)?;
        writeln!(
            out,
            "rest     up to {:.3} out of the nose's reach, at radius {:.1}",
            plan.rest.amount, plan.rest.at
        )?;
    }
    if job.control.traits.comments == Comments::None {
        writeln!(
            out,
            "comments the control reads none: touch-off, cautions and whose wheel it is stand on the sheet alone; print it (`facewright sheet`) and keep it with the program"
        )?;
    }
    for finding in &plan.findings {
        writeln!(out, "{:<9}{}", finding.rank, visible(&finding.what))?;
    }
    for caution in CAUTIONS {
        writeln!(out, "caution  {caution}")?;
    }
    Ok(())
}

/// What each pass touches, up to the first that is unbroken; nothing where the turn is not known.
#[must_use]
pub fn contact_lines(plan: &Plan) -> Vec<String> {
    let contacts: Vec<&Contact> = passes(plan).filter_map(|p| p.contact.as_ref()).collect();
    let whole = contacts.iter().position(|c| c.is_unbroken());
    let broken = contacts.iter().take(whole.unwrap_or(contacts.len()));
    let mut lines: Vec<String> = broken.map(|c| contact_line(c)).collect();
    match whole.and_then(|i| contacts.get(i)) {
        Some(contact) => lines.push(format!("unbroken everywhere from pass {}", contact.number)),
        None if contacts.is_empty() => {}
        None => lines.push("no pass is unbroken everywhere".to_owned()),
    }
    lines
}

fn contact_line(contact: &Contact) -> String {
    let radii = |all: &[[Length; 2]]| {
        let shown = all.iter().map(|[from, to]| format!("{:.0} to {:.0} mm", from.as_mm(), to.as_mm()));
        shown.collect::<Vec<_>>().join(" and from ")
    };
    let mut said =
        vec![format!("pass {} touches {:.0} % of the face", contact.number, 100.0 * contact.share)];
    let (begins, whole, sides) = (contact.begins(), contact.all_round(), contact.side_degrees());
    if !begins.is_empty() {
        said.push(format!(", from radius {}", radii(&begins)));
    }
    if !whole.is_empty() {
        let else_on = if sides.is_empty() { "" } else { ", else" };
        said.push(format!(", all round from radius {}{else_on}", radii(&whole)));
    }
    if !sides.is_empty() {
        said.push(format!(" on the side of {} deg", sides.join(" and ")));
    }
    said.concat()
}

/// What a tool touched off too low or too high would do.
fn write_touched_wrong(out: &mut String, plan: &Plan) -> std::fmt::Result {
    let Some(spare) = plan.spare else { return Ok(()) };
    let error = Length::mm(TOUCH_ERROR);
    let seen = |higher: f64| {
        plan.contact_if(higher).map_or_else(String::new, |[as_planned, touched]| {
            let percent = |share: f64| format!("{:.0} %", 100.0 * share.max(0.0) + 0.0);
            let [as_planned, touched] = [as_planned, touched].map(percent);
            if as_planned == touched {
                String::new()
            } else {
                format!("; pass 1 then touches {touched} of the face instead of {as_planned}")
            }
        })
    };
    let left = plan.left - error;
    let allowance = if left.as_mm() < 0.0 {
        format!("{:.3} more than the wheel may lose", -left)
    } else {
        format!("{left:.3} of the allowance left")
    };
    writeln!(out, "touch    {error:.2} too low takes {error:.2} more, {allowance}{}", seen(-TOUCH_ERROR))?;
    let stays = error - spare.depth;
    let damage = if stays.as_mm() > 0.0 {
        format!("leaves {stays:.3} of what must go at radius {:.1}", spare.at)
    } else {
        "still cuts all that must go".to_owned()
    };
    writeln!(out, "touch    {error:.2} too high {damage}{}", seen(TOUCH_ERROR))
}

/// The visible result of the last pass apart from its texture: waviness and joints.
fn write_finished(out: &mut String, face: &FinishedFace) -> std::fmt::Result {
    let Waviness { path, face: measured } = face.waviness;
    let from_readings = measured.map_or_else(
        || "what the readings add is not known".to_owned(),
        |m| format!("{} from the readings", microns(m)),
    );
    write!(
        out,
        "waviness {} between 0.8 mm and 8 mm: {} from the path, {from_readings}",
        microns(face.waviness.expected()),
        microns(path)
    )?;
    if let Some(joint) = face.greatest_joint {
        write!(out, "; its pieces meet at {:.2} deg at most, radius {:.1}", joint.turn.as_deg(), joint.at)?;
    }
    writeln!(out)?;
    let corners: Vec<String> = face.corners.iter().map(corner).collect();
    if !corners.is_empty() {
        writeln!(out, "corners  kept: {}", corners.join("; "))?;
    }
    let zones: Vec<String> = face.zones.iter().map(|[a, b]| format!("{a:.3} to {b:.3}")).collect();
    writeln!(out, "ends     the last pass touches the face from radius {}", zones.join(" and from "))?;
    if let [first, changes @ ..] = face.speeds.as_slice() {
        let changes: Vec<String> =
            changes.iter().map(|s| format!("{} from {:.1}", s.speed, s.from)).collect();
        let rest = if changes.is_empty() { "all the way".to_owned() } else { changes.join(", ") };
        writeln!(out, "speeds   the last pass turns at {}, {rest}", first.speed)?;
    }
    Ok(())
}

/// A corner that the path keeps, and what shows it.
pub(super) fn corner(corner: &PathCorner) -> String {
    let (turn, at) = (corner.turn.as_deg().abs(), corner.at);
    match corner.evidence {
        Evidence::Readings(error) => {
            format!("{turn:.1} deg at radius {at:.1}, by the readings to {:.1} deg", error.as_deg())
        }
        Evidence::ZoneEnd => format!("{turn:.1} deg at radius {at:.1}, where the zone ends"),
        Evidence::Given => format!("{turn:.1} deg at radius {at:.1}"),
    }
}

fn write_operation(out: &mut String, job: &Job, operation: &Operation) -> std::fmt::Result {
    let (tool, touch) = (&operation.tool, &operation.touch_off);
    writeln!(out)?;
    write!(
        out,
        "tool     T{} {}, nose radius {}: touch off ",
        tool.number,
        visible(&name_as_written(&tool.name)),
        as_it_is(tool.nose_radius, job.control.unit_word.is_inch()),
    )?;
    let lacquer = if touch.lacquer.as_mm() > 0.0 {
        format!(", under {:.3} of lacquer", touch.lacquer)
    } else {
        String::new()
    };
    if job.touching.setter.is_some() {
        writeln!(out, "on the tool setter, nose centre at radius {:.3}", touch.at)?;
    } else {
        writeln!(
            out,
            "with the nose centre at radius {:.3}; it meets the face at radius {:.3}{lacquer}",
            touch.at, touch.contact
        )?;
    }
    writeln!(
        out,
        "  {:<12} {:>9} {:>9}  {:>12}  {:>14} {:>9} {:>9}",
        "pass", "depth", "in all", "feed", "speed", "time", "spiral"
    )?;
    operation.passes.iter().try_for_each(|pass| write_pass(out, pass))
}

fn write_pass(out: &mut String, pass: &Pass) -> std::fmt::Result {
    let name = pass.kind.numbered(pass.number, pass.of);
    let name = pass.ring.as_ref().map_or(name, |ring| format!("ring {}", visible(&name_as_written(ring))));
    let figures = &pass.figures;
    writeln!(
        out,
        "  {:<12} {:>9} {:>9}  {:>12}  {:>14} {:>9} {:>9}",
        name,
        format!("{:.3} mm", pass.depth.as_mm()),
        format!("{:.3} mm", pass.total.as_mm()),
        pass.feed.to_string(),
        format!("{:.0}-{:.0} rpm", figures.slowest.as_rpm(), figures.fastest.as_rpm()),
        minutes(figures.feed_time),
        format!("{:.0} m", figures.spiral_length.as_mm() / 1000.0),
    )
}

fn passes(plan: &Plan) -> impl Iterator<Item = &Pass> {
    plan.operations.iter().flat_map(|o| &o.passes)
}

/// A time as the head of the program has it.
pub(super) fn whole_seconds(time: Time) -> String {
    let seconds = time.as_s();
    format!("{:.0} min {:02.0} s", (seconds / 60.0).floor(), (seconds % 60.0).floor())
}

fn minutes(time: Time) -> String {
    format!("{:.1} min", time.as_s() / 60.0)
}

fn microns(length: Length) -> String {
    format!("{:.2} um", length.as_mm() * 1000.0)
}
