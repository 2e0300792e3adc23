//! Many traces become one face: highest and lowest place of the whole turn, damage, clean-up depth.

pub mod consensus;
pub mod floor;
pub mod harmonic;
pub mod lines;
mod need;
pub mod restore;
pub mod smooth;
pub mod touch;
pub mod turn;

pub use consensus::{Voucher, Wishes};
pub use restore::{Dent, Restored};
pub use touch::{Touch, touch};

use crate::geometry::profile::ProfileError;
use crate::geometry::{Point, Profile};
use crate::job::{Damage, DamageKind, Job, Zone};
use crate::scan::Trace;
use crate::units::{Length, decimals_apart};
use lines::Lines;

/// The face of the wheel over one whole turn.
#[derive(Debug, Clone, PartialEq)]
pub struct Face {
    /// The highest place of the turn at every radius: what a tool meets first.
    pub highest: Profile,
    /// The lowest undamaged place of the turn at every radius, over the same radii.
    pub lowest: Profile,
    /// Depth of the known damage below the lowest place: heights are depths, zero where there is none; over the same radii.
    pub damage: Profile,
}

impl Face {
    /// How far the highest place must come down at a radius for the damage there to go: run-out there and damage.
    #[must_use]
    pub fn clean_up_at(&self, x: f64) -> Length {
        Length::mm(self.highest.at(x) - self.lowest.at(x) + self.damage.at(x))
    }

    /// The same at each of many radii that never fall.
    pub fn clean_up_at_each<'a>(&'a self, radii: &'a [f64]) -> impl Iterator<Item = Length> + 'a {
        let [highest, lowest, damage] = [&self.highest, &self.lowest, &self.damage].map(|p| p.at_each(radii));
        highest.zip(lowest).zip(damage).map(|((high, low), damage)| Length::mm(high - low + damage))
    }
}

/// Why there is no face to cut.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FaceError {
    /// No trace.
    #[error("no line was measured; measure at least one across every zone")]
    NoTraces,
    /// A zone beyond what was measured.
    #[error(
        "the zone from {from:.d$} mm to {to:.d$} mm reaches beyond the line at {at:.0} deg, \
         which covers {start:.d$} mm to {end:.d$} mm; measure further or make the zone smaller",
        from = .from.as_mm(), to = .to.as_mm(), at = .at_deg, start = .start.as_mm(), end = .end.as_mm(),
        d = decimals(*.from, *.to, *.start, *.end)
    )]
    NotCovered {
        /// Innermost radius of the zone.
        from: Length,
        /// Outermost radius of the zone.
        to: Length,
        /// Angle of the line.
        at_deg: f64,
        /// Innermost radius of the line.
        start: Length,
        /// Outermost radius of the line.
        end: Length,
    },
    /// The traces make no profile.
    #[error("the traces make no face: {0}")]
    Profile(#[from] ProfileError),
}

/// Decimal places that show by how little a zone reaches beyond a measurement.
fn decimals(from: Length, to: Length, start: Length, end: Length) -> usize {
    let (beyond, edge) = if from < start { (from, start) } else { (to, end) };
    decimals_apart(beyond.as_mm(), edge.as_mm(), 2)
}

/// What a kind of damage is called, with its article.
#[must_use]
pub const fn kind_name(kind: DamageKind) -> &'static str {
    match kind {
        DamageKind::Scrape => "a scrape",
        DamageKind::Nick => "a nick",
        DamageKind::Crack => "a crack",
        DamageKind::Bend => "a bend",
        DamageKind::Weld => "a weld repair",
    }
}

/// Why a kind of damage is not cut away.
#[must_use]
pub const fn kind_reason(kind: DamageKind) -> &'static str {
    match kind {
        DamageKind::Crack => {
            "a crack runs deeper than it shows and grows under load, and a cracked wheel can break on the road"
        }
        DamageKind::Bend => {
            "a bent wheel is stressed where it was bent, and cutting it flat takes the metal off one side only"
        }
        DamageKind::Weld => {
            "a weld changes the metal around it, and its strength cannot be judged from the face"
        }
        DamageKind::Scrape | DamageKind::Nick => "it is surface damage",
    }
}

/// Whether a kind of damage may be cut away.
#[must_use]
pub const fn is_surface_damage(kind: DamageKind) -> bool {
    matches!(kind, DamageKind::Scrape | DamageKind::Nick)
}

/// The face, and all that was found on the way to it, to be judged by the survey: damage of a kind that is
/// never cut away does not stop it here.
///
/// # Errors
/// If there is no trace, or a zone is not covered by every line.
pub fn restored(traces: &[Trace], job: &Job) -> Result<(Face, Restored), FaceError> {
    if traces.is_empty() {
        return Err(FaceError::NoTraces);
    }
    for zone in &job.zones {
        let reaches =
            |t: &Trace| t.profile.start() <= zone.from.as_mm() && t.profile.end() >= zone.to.as_mm();
        if let Some(t) = traces.iter().find(|t| !reaches(t)) {
            return Err(FaceError::NotCovered {
                from: zone.from,
                to: zone.to,
                at_deg: t.at.as_deg(),
                start: Length::mm(t.profile.start()),
                end: Length::mm(t.profile.end()),
            });
        }
    }
    let extra = job.damage.iter().flat_map(damage_corners);
    let lines = Lines::new(traces, extra);
    let restored = restore::restore(lines, &wishes(job), job.measured.filter.map(Length::as_mm));
    let face = face_of(&restored, &job.damage, OneLine::of(job, &restored))?;
    Ok((face, restored))
}

fn wishes(job: &Job) -> Wishes {
    let stretches = |of: &[Zone]| of.iter().map(|z| (z.from.as_mm(), z.to.as_mm())).collect();
    Wishes { mend: stretches(&job.mending.mend), leave: stretches(&job.mending.leave) }
}

/// One line, and the run-out that an indicator read beside it.
///
/// Where on the turn the line lies is not known: the lowest place may stand the whole run-out below it, and beyond the
/// touch-off the highest may stand above it by what the run-out has grown since. A tilt grows from the axis in
/// proportion, a bend later: neither lies above the straight rise from the touch-off to the rim. Inward of the
/// touch-off, where the tool was set, the line itself is the highest that counts.
#[derive(Debug, Clone, Copy, PartialEq)]
struct OneLine {
    run_out: f64,
    touch_off: f64,
    rim: f64,
}

impl OneLine {
    fn of(job: &Job, restored: &Restored) -> Option<Self> {
        let run_out = job.measured.run_out.filter(|_| restored.spread.0 < 2)?.as_mm();
        let rim = job.zones.iter().map(|z| z.to.as_mm()).fold(0.0, f64::max);
        Some(Self { run_out, touch_off: job.touch_off_radius().as_mm(), rim })
    }

    fn up(&self, r: f64) -> f64 {
        let reach = self.rim - self.touch_off;
        let share = if reach > 0.0 { ((r - self.touch_off) / reach).clamp(0.0, 1.0) } else { 0.0 };
        self.run_out * share
    }
}

fn face_of(restored: &Restored, listed: &[Damage], one_line: Option<OneLine>) -> Result<Face, FaceError> {
    let x = &restored.lines.x;
    let over = |z: &dyn Fn(usize, f64) -> f64| {
        Profile::new(x.iter().enumerate().map(|(i, &r)| Point::new(r, z(i, r))).collect())
    };
    let face = &restored.consensus.face;
    let departs = |r: f64, of: fn(&turn::Ring) -> f64| restored.turn.as_ref().map_or(0.0, |t| t.at(r, of));
    let depth = |i: usize| restored.depth.iter().filter_map(|row| row.get(i)).copied().fold(0.0, f64::max);
    Ok(Face {
        highest: over(&|i, r| face[i] + departs(r, |ring| ring.up) + one_line.map_or(0.0, |o| o.up(r)))?,
        lowest: over(&|i, r| face[i] + departs(r, |ring| ring.down) - one_line.map_or(0.0, |o| o.run_out))?,
        damage: over(&|i, r| depth(i).max(listed_depth(listed, r)))?,
    })
}

/// How far outside a listed stretch its depth falls to nothing: the profile of depths must be a
/// function, and a hundredth of a millimetre is finer than anybody measures where damage ends.
const DAMAGE_FLANK: f64 = 0.01;

fn damage_corners(d: &Damage) -> [f64; 4] {
    let (from, to) = (d.from.as_mm(), d.to.as_mm());
    [from - DAMAGE_FLANK, from, to, to + DAMAGE_FLANK]
}

/// The deepest listed damage at a radius.
fn listed_depth(damage: &[Damage], x: f64) -> f64 {
    damage
        .iter()
        .filter(|d| d.from.as_mm() <= x && x <= d.to.as_mm())
        .map(|d| d.depth.as_mm())
        .fold(0.0, f64::max)
}
