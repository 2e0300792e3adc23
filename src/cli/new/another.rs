//! Scans that cannot be those of the shop's sensor as it is described.
//!
//! Another unit, another x, heights that grow the other way: then what the shop's sensor feels with, where it stands against the tool
//! and what gap may be bridged need not hold either. All of it is asked for, and a person says which sensor it was.

use super::said::{agreed, columns_of, sense, x_of};
use crate::job::{Column, LengthUnit, ShopSays};
use crate::scan::guess::Guess;

/// What the scans say against the shop's only sensor.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Another {
    /// The name of the shop's sensor.
    pub sensor: String,
    /// What it says of all keys.
    of_shop: Vec<(String, String)>,
    /// What the scans say otherwise: both, with the reason.
    against: Vec<String>,
}

impl Another {
    /// What scans say against the shop's only sensor; none where they agree with it or it says nothing.
    pub fn than(says: &ShopSays, guesses: &[Guess]) -> Option<Self> {
        let [sensor] = says.sensors.as_slice() else { return None };
        let against = against(says, guesses);
        (!against.is_empty()).then(|| Self { sensor: sensor.clone(), of_shop: says.sensor.clone(), against })
    }

    /// What a person is told who is asked for a sensor.
    pub fn question(&self) -> String {
        format!(
            "{}; {} if it measured these lines all the same, else what did: spot (also a ball whose radius the control has taken off already), or ball and its diameter, such as ball 3 mm",
            self.against.join("; "),
            self.sensor
        )
    }

    /// What a person is told when the job is written.
    pub fn told(&self) -> String {
        format!(
            "{}: the job asks which sensor measured, and takes nothing over from `{}`",
            self.against.join("; "),
            self.sensor
        )
    }

    /// What a person must look at in the shop file, whose places count from another zero.
    pub fn places(&self) -> String {
        format!(
            "park, travel and keep-outs of the shop file count from the zero of `{}`: if another sensor measured, check that each holds from its zero",
            self.sensor
        )
    }

    /// What the shop's sensor says of a key, for a person who is asked for it.
    pub fn beside(&self, key: &str) -> String {
        let value = self.of_shop.iter().find(|(k, _)| k == key).map(|(_, value)| value);
        value.map_or_else(String::new, |value| format!("; the shop's `{}` says {value}", self.sensor))
    }
}

/// The keys of which all scans say otherwise than the shop's sensor.
fn against(says: &ShopSays, guesses: &[Guess]) -> Vec<String> {
    let of_shop = |key: &str| says.sensor.iter().find(|(k, _)| k == key).map(|(_, word)| word.as_str());
    let mut all = Vec::new();
    let mut differ = |key: &str, scans: &str, why: &str, shop: &str| {
        all.push(format!("{why}, so `{key}: {scans}`, where the shop's sensor says {shop}"));
    };
    let x = agreed(guesses, |g| g.over.x.as_ref()).zip(of_shop("x").and_then(x_of));
    if let Some(((x, why), shop)) = x.filter(|((x, _), shop)| x != shop) {
        differ("x", x.word(), &why, shop.word());
    }
    let shop_unit = of_shop("unit").and_then(LengthUnit::of_word);
    let heading = agreed(guesses, |g| g.over.unit.as_ref());
    if let Some(((unit, why), shop)) = heading.clone().zip(shop_unit).filter(|((u, _), shop)| u != shop) {
        differ("unit", unit.key(), &why, shop.key());
    }
    // Where the shop names no unit of heights, they are in that of x.
    let z_unit = of_shop("z_unit").and_then(LengthUnit::of_word).or(shop_unit);
    let over_z = agreed(guesses, |g| g.over.z_unit.as_ref()).zip(z_unit);
    let with_x =
        |unit: LengthUnit| heading.as_ref().is_some_and(|(x, _)| *x == unit) && Some(unit) != shop_unit;
    if let Some(((unit, why), shop)) = over_z.filter(|((u, _), shop)| u != shop && !with_x(*u)) {
        differ("z_unit", unit.key(), &why, shop.key());
    }
    let z = agreed(guesses, |g| g.over.z.as_ref()).zip(of_shop("z").and_then(sense));
    if let Some(((z, why), shop)) = z.filter(|((z, _), shop)| z != shop) {
        differ("z", z.word(), &why, shop.word());
    }
    let places = |columns: &[Column]| [Column::X, Column::Z].map(|c| columns.iter().position(|&o| o == c));
    let columns = agreed(guesses, |g| g.columns.as_ref()).zip(of_shop("columns").and_then(columns_of));
    if let Some(((columns, why), shop)) = columns.filter(|((c, _), shop)| places(c) != places(shop)) {
        let list = |all: &[Column]| all.iter().map(|c| c.word()).collect::<Vec<_>>().join(", ");
        differ("columns", &format!("[{}]", list(&columns)), &why, &format!("[{}]", list(&shop)));
    }
    all
}
