//! Whether the radii of a measurement can be radii: a diameter taken for one is twice as far out.
//!
//! A scan does not always say what its x is. What the job knows of the wheel and the machine tells: nothing is measured beyond
//! the travel, through a tyre, or far outside every zone. A wheel that passes all three and is wrong all the same would need
//! zones in twice the place; then the survey finds them partly unmeasured.
//!
//! Travel and park count from the scans' zero. Where a machine's own zero was meant, the face stands outside the travel or beyond the
//! park, and that is said before anything is planned. It is told by the middle height of the zones, which no odd reading moves.

use super::line::MeasuredLine;
use crate::diagnostics::InputError;
use crate::job::{Job, XMeaning};
use crate::numeric::order::quantile;
use crate::units::Length;

/// A sensor may read a little of a tyre's side; readings this many times its inner radius out are elsewhere.
const BEHIND_TYRE: f64 = 1.3;

/// A line that begins and ends this many times farther out than the zones was not measured over them: between one and two.
const FARTHER: f64 = 1.6;

/// Lines that end within this part of the outermost zone are half as far out.
const HALF: f64 = 0.6;

/// Refuses lines whose x cannot mean what the job says.
///
/// # Errors
/// With the readings' reach and what contradicts it.
pub fn check(job: &Job, lines: &[&MeasuredLine]) -> Result<(), InputError> {
    let radii = || lines.iter().flat_map(|l| l.readings.iter().map(|r| r.x));
    let (least, most) = radii().fold((f64::INFINITY, 0.0_f64), |(a, b), x| (a.min(x), b.max(x)));
    let (Some(first), Some(last)) = (job.zones.first(), job.zones.last()) else { return Ok(()) };
    let (from, to) = (first.from.as_mm(), last.to.as_mm());
    if let Some(error) = out_of_reach(job, lines) {
        return Err(error);
    }
    let shown = |x: f64| format!("{:.1}", Length::mm(x));
    if job.measured.x == XMeaning::Diameter {
        if least.is_finite() && most < HALF * to {
            let found = format!(
                "readings out to radius {} only, when taken for diameters, and a zone out to {}",
                shown(most),
                last.to
            );
            return Err(refused(job, found, "write `x: radius` in the job, if the scans hold radii"));
        }
        return Ok(());
    }
    let tyre =
        job.keep_out.iter().map(|k| k.radii()[0]).filter(|&inner| inner >= to).fold(f64::INFINITY, f64::min);
    let beyond = if most > job.machine.travel_x[1].as_mm() {
        format!("the machine's travel ends at {}", job.machine.travel_x[1])
    } else if most > BEHIND_TYRE * tyre {
        format!("a keep-out begins at radius {}", shown(tyre))
    } else if least > FARTHER * from && most > FARTHER * to {
        format!("the zones lie from {} to {}", first.from, last.to)
    } else {
        return Ok(());
    };
    let found = format!("readings from radius {} to {}, where {beyond}", shown(least), shown(most));
    Err(refused(
        job,
        found,
        "write `x: diameter` in the job, if the scans hold diameters; else check `unit` and `x_offset`",
    ))
}

/// A face that is out of the machine's reach as travel and park are written.
fn out_of_reach(job: &Job, lines: &[&MeasuredLine]) -> Option<InputError> {
    let in_zones = |x: f64| job.zones.iter().any(|z| z.from.as_mm() <= x && x <= z.to.as_mm());
    let readings = lines.iter().flat_map(|l| &l.readings).filter(|r| in_zones(r.x));
    let mut heights: Vec<f64> = readings.map(|r| r.z).collect();
    let middle = quantile(&mut heights, 0.5)?;
    let machine = &job.machine;
    let [least, most] = machine.travel_z.map(Length::as_mm);
    let (where_not, key) = if !(least..=most).contains(&middle) {
        (format!("travel goes from z {} to {}", machine.travel_z[0], machine.travel_z[1]), "travel")
    } else if machine.park_z.as_mm() < middle {
        (format!("the park stands lower, at z {}", machine.park_z), "park")
    } else {
        return None;
    };
    let [lowest, highest] = heights.iter().fold([middle; 2], |[l, h], z| [l.min(*z), h.max(*z)]);
    let found = format!(
        "heights from {:.1} to {:.1} in the zones, {:.1} in the middle, where the machine's {where_not}",
        Length::mm(lowest),
        Length::mm(highest),
        Length::mm(middle)
    );
    Some(InputError {
        expected: "travel, park and keep-outs counted from the scans' zero: radii from the axis, heights from where the scans read 0".into(),
        ..refused(job, found, &format!("correct `{key}` in the shop file: subtract the machine coordinate of the height that the scans call 0; or check `z` and `unit`, if the heights are wrong"))
    })
}

fn refused(job: &Job, found: String, fix: &str) -> InputError {
    let line = job.measured.lines.first();
    let error = InputError {
        file: line.map_or_else(|| job.file.clone(), |l| l.file.clone()),
        line: 0,
        column: 0,
        found,
        expected: "x as the job says: a radius where it says radius, a diameter where it says diameter"
            .into(),
        fix: fix.into(),
        context: None,
    };
    match line.and_then(|l| l.named.as_ref()) {
        Some(named) => error.named_in(&named.file, named.line),
        None => error,
    }
}
