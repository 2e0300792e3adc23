//! From the readings of all lines to one face: the model of the wheel, and what plan and proof need of it.

mod account;
pub mod again;
mod again_bins;
mod again_error;
mod again_fit;
mod again_lean;
mod all_round;
mod along;
mod bridge;
mod cells;
mod columns;
mod contested;
mod damage;
pub mod estimate;
mod feet;
mod global;
mod judge;
mod left;
pub mod model;
mod narrow;
mod need;
pub mod over_turn;
mod revolution;
pub mod round;
mod scatter;
mod settle;
pub mod taken;
#[cfg(test)]
mod tests;
pub mod touch;
pub mod touch_check;
mod weigh;
pub mod window;
mod withheld;

pub use over_turn::{OneLine, over_turn};
pub use taken::Taken;
pub use touch::{Touch, touch};

use crate::geometry::Profile;
use crate::geometry::profile::ProfileError;
use crate::job::DamageKind;
use crate::units::{Length, decimals_apart};

/// The face of the wheel over one whole turn.
#[derive(Debug, Clone, PartialEq)]
pub struct Face {
    /// The highest place of the turn at every radius: what a tool meets first.
    pub highest: Profile,
    /// The surface that passes follow and depths are counted from, where it is not the highest place: nowhere below that, over the
    /// same radii ([`Face::cut_along`]).
    pub followed: Option<Profile>,
    /// The lowest undamaged place of the turn at every radius, over the same radii.
    pub lowest: Profile,
    /// Depth of the known damage below the lowest place: heights are depths, zero where there is none; over the same radii.
    pub damage: Profile,
    /// How well the readings tell the highest place; none for a face that was not measured.
    pub errors: Option<StandardErrors>,
    /// What passes have taken off the highest place since, as measured after them; none where it was not measured again.
    pub taken: Option<Taken>,
}

/// Standard errors of a face at every radius.
#[derive(Debug, Clone, PartialEq)]
pub struct StandardErrors {
    /// Of its height, millimetres.
    pub height: Profile,
    /// Of its slope.
    pub slope: Profile,
}

impl Face {
    /// The surface that passes follow and depths are counted from.
    #[must_use]
    pub fn follows(&self) -> &Profile {
        self.followed.as_ref().unwrap_or(&self.highest)
    }

    /// How far the surface that passes follow must come down at a radius for the damage there to go. Where more was taken
    /// already a pass must go as deep to touch the metal at all.
    #[must_use]
    pub fn clean_up_at(&self, x: f64) -> Length {
        self.or_taken(x, self.follows().at(x) - self.lowest.at(x) + self.damage.at(x))
    }

    fn or_taken(&self, x: f64, depth: f64) -> Length {
        Length::mm(self.taken.as_ref().map_or(depth, |t| depth.max(t.reach_at(x))))
    }

    /// The same at each of many radii that never fall.
    pub fn clean_up_at_each<'a>(&'a self, radii: &'a [f64]) -> impl Iterator<Item = Length> + 'a {
        let [highest, lowest, damage] =
            [self.follows(), &self.lowest, &self.damage].map(|p| p.at_each(radii));
        let depths = highest.zip(lowest).zip(damage).map(|((high, low), damage)| high - low + damage);
        depths.zip(radii).map(|(depth, &x)| self.or_taken(x, depth))
    }
}

/// Why there is no face to cut.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FaceError {
    /// The readings make no model.
    #[error(transparent)]
    Fit(#[from] model::FitError),
    /// A zone beyond what was measured.
    #[error(
        "the zone from {from:.d$} mm to {to:.d$} mm reaches beyond what was measured, {start:.d$} mm to {end:.d$} mm; \
         measure further or make the zone smaller",
        from = .from.as_mm(), to = .to.as_mm(), start = .start.as_mm(), end = .end.as_mm(),
        d = decimals(*.from, *.to, *.start, *.end)
    )]
    NotCovered {
        /// Innermost radius of the zone.
        from: Length,
        /// Outermost radius of the zone.
        to: Length,
        /// Innermost radius with metal.
        start: Length,
        /// Outermost radius with metal.
        end: Length,
    },
    /// A zone runs off where the readings show that the metal goes on.
    #[error(
        "{count} readings beyond the edge at {edge:.1} stand as high as the face: metal goes on there, and a tool that runs off would cut it\n  to mend it: write the radius without `edge` if the zone ends inside the metal; correct it if the metal ends elsewhere; list what is no metal under `no_metal` if the sensor saw something else"
    )]
    MetalBeyondEdge {
        /// Where the job says that the metal ends.
        edge: Length,
        /// How many readings say otherwise.
        count: usize,
    },
    /// Lines measured again tell nothing that may be cut by.
    #[error(transparent)]
    Again(#[from] again::AgainError),
    /// The model makes no profile.
    #[error("the lines make no face: {0}")]
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
