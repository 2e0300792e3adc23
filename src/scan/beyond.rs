//! What a job lists beyond the radii that were measured: damage, windows, readings round the wheel, a tyre. Nothing would come of it but that it is
//! not cared for, and where it is given as a diameter half of it is where it was meant.

use super::line::{MeasuredLine, Stretch};
use crate::diagnostics::InputError;
use crate::job::{DamageKind, Job, KeepOut, Tyre, Zone, error_in_list};
use crate::units::Length;

/// A dial stands on the rim, or on the hub, this far beyond the lines at most, millimetres; the face may run off as far.
const BESIDE: f64 = 20.0;

/// A mounted tyre sits at the rim: no farther outside what was measured than this, millimetres (common practice, no source).
const TYRE_WITHIN: f64 = 60.0;

/// Refuses what a job lists where nothing was measured.
///
/// # Errors
/// With its place in the job file, and the radii that were measured.
pub fn check(job: &Job, lines: &[&MeasuredLine]) -> Result<(), InputError> {
    let radii = lines.iter().flat_map(|l| l.readings.iter().map(|r| r.x)).filter(|x| x.is_finite());
    let (from, to) = radii.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(x), b.max(x)));
    if from >= to {
        return Ok(());
    }
    let measured = Stretch { from, to };
    for (list, i, stretch) in listed(job) {
        // The readings beyond an edge were left out already.
        let beside = |runs_off: bool| if runs_off { BESIDE } else { 0.0 };
        let near = Stretch {
            from: from - beside(job.runs_off.inner.is_some()),
            to: to + beside(job.runs_off.outer.is_some()),
        };
        if !near.meets(&stretch) {
            let what = format!("`{list}` from {} to {}", Length::mm(stretch.from), Length::mm(stretch.to));
            let half = Stretch { from: stretch.from / 2.0, to: stretch.to / 2.0 };
            return Err(refused(job, (list, i), &what, measured, measured.meets(&half)));
        }
    }
    for (i, turn) in job.measured.turn.iter().enumerate() {
        let at = turn.at.as_mm();
        if at < from - BESIDE || at > to + BESIDE {
            let what = format!("readings of `turn` at {}", turn.at);
            return Err(refused(job, ("turn", i), &what, measured, (from..=to).contains(&(at / 2.0))));
        }
    }
    no_metal_left(job, lines)?;
    tyre(job, measured)
}

/// The stretches that a job lists. Damage that must not be cut counts wherever it is.
fn listed(job: &Job) -> impl Iterator<Item = (&'static str, usize, Stretch)> {
    let stretch = |from: Length, to: Length| Stretch { from: from.as_mm(), to: to.as_mm() };
    let damage = job
        .damage
        .iter()
        .enumerate()
        .filter(|(_, d)| matches!(d.kind, DamageKind::Scrape | DamageKind::Nick));
    let mending = &job.mending;
    let stretches = [("mend", &mending.mend), ("leave", &mending.leave), ("no_metal", &mending.no_metal)];
    let others = stretches.into_iter().flat_map(move |(list, zones)| {
        zones.iter().enumerate().map(move |(i, z): (usize, &Zone)| (list, i, stretch(z.from, z.to)))
    });
    damage.map(move |(i, d)| ("damage", i, stretch(d.from, d.to))).chain(others)
}

fn refused(job: &Job, entry: (&str, usize), what: &str, measured: Stretch, is_diameter: bool) -> InputError {
    let fix = if is_diameter {
        "a diameter? Write the radius, half of it; else correct it, or measure lines that reach it"
    } else {
        "correct it (a radius from the axis), take it out, or measure lines that reach it"
    };
    let found = format!("{what}, where no line has a reading");
    error_in_list(job, entry, found, format!("radii that were measured, {}", shown(measured)), fix)
}

fn shown(s: Stretch) -> String {
    format!("{:.1} to {:.1}", Length::mm(s.from), Length::mm(s.to))
}

/// Refuses stretches without metal that leave a zone nothing to cut.
fn no_metal_left(job: &Job, lines: &[&MeasuredLine]) -> Result<(), InputError> {
    let within = |z: &Zone, x: f64| z.from.as_mm() <= x && x <= z.to.as_mm();
    let none = |x: f64| job.mending.no_metal.iter().any(|z| within(z, x));
    let radii = || lines.iter().flat_map(|l| l.readings.iter().map(|r| r.x));
    let bare = |zone: &&Zone| {
        let mut inside = radii().filter(|x| within(zone, *x)).peekable();
        inside.peek().is_some() && inside.all(none)
    };
    let Some(zone) = job.zones.iter().find(bare) else { return Ok(()) };
    let meets = |z: &Zone| z.from < zone.to && zone.from < z.to;
    let entry = job.mending.no_metal.iter().position(meets).unwrap_or(0);
    Err(error_in_list(
        job,
        ("no_metal", entry),
        format!("`no_metal` over every reading of the zone from {} to {}", zone.from, zone.to),
        "metal in each zone".into(),
        "name the windows alone, each from where it begins to where it ends, or take the zone out",
    ))
}

/// Refuses the keep-outs of a job with a mounted tyre that begin nowhere near the rim.
fn tyre(job: &Job, measured: Stretch) -> Result<(), InputError> {
    let Some(zone) = job.zones.last().filter(|_| job.wheel.tyre == Tyre::Mounted) else { return Ok(()) };
    let rim = zone.to.as_mm();
    let reached = measured.to.max(rim);
    let at_rim = |inner: f64, outer: f64| outer > rim && inner <= reached + TYRE_WITHIN;
    let radii = || job.keep_out.iter().map(KeepOut::radii);
    let Some([inner, outer]) = radii().next().filter(|_| !radii().any(|[a, b]| at_rim(a, b))) else {
        return Ok(());
    };
    let half = at_rim(inner / 2.0, outer / 2.0) && inner / 2.0 > rim * 0.9;
    let found = format!(
        "`tyre: mounted`, and the keep-out `{}` from radius {} to {}",
        crate::diagnostics::text::shown(job.keep_out.first().map_or("", |k| k.name())),
        Length::mm(inner),
        Length::mm(outer)
    );
    let expected = format!(
        "a keep-out that begins at the rim, where the tyre sits: the lines end at radius {:.1}, the zones at {}",
        Length::mm(measured.to),
        zone.to
    );
    let fix = if half {
        "a diameter? Write the radius, half of it"
    } else {
        "measure where the tyre begins and write it as a radius; where the lines end far inside the rim, measure one out to it"
    };
    Err(error_in_list(job, ("keep_out", 0), found, expected, fix))
}
