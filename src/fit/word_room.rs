//! Room for an arc's words in a line of the program.
//!
//! A control reads lines of so many characters. Most arcs fit the shortest of them; a flat one far from the axis, whose end and centre take
//! many digits, may not. So each arc is judged by the digits of its own words, and only one that has no room gives way to another
//! curvature or to a line.
//!
//! Counted is the most that the words can take wherever the arc is written: with all decimal places, with the sign that I may have seen
//! from behind, with the height of the deepest pass and of the air pass, and from any place on the arc, since it may be divided for its
//! spindle speed. So a block may come out a few characters shorter than counted, never longer.

use super::ArcForm;
use crate::geometry::{Arc, Point};

/// An address letter with the blank ahead of it, and the decimal point.
const LETTER: usize = 3;

/// A sign.
const SIGN: usize = 1;

/// The most digits before the point: beyond any machine's travel.
const MOST_DIGITS: usize = 9;

/// Powers of ten up to that many digits. A table: they are asked for with every arc that the fit tries.
const POWERS: [f64; MOST_DIGITS + 1] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9];

/// How many characters an arc's end and circle may take, and how its places become words.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WordRoom {
    /// Characters left for the words of the end and of the circle, with the blanks ahead of them.
    pub characters: usize,
    /// Decimal places of a word.
    pub places: usize,
    /// Millimetres in the unit of the words.
    pub unit: f64,
    /// What a radius is multiplied by in an X word.
    pub x_factor: f64,
    /// How far the programmed point may lie from the front point along either axis, millimetres.
    pub offset: Point,
    /// By how much the arc may be moved down and up along the spindle, millimetres.
    pub moves: [f64; 2],
}

impl WordRoom {
    /// Whether a block with the words of an arc that runs on one half of its circle has room.
    #[must_use]
    pub fn holds(&self, arc: &Arc, form: ArcForm) -> bool {
        let Some(left) = self.left(arc.from, arc.to, form) else { return false };
        let along = |end: Point| (end.x - arc.centre.x).abs();
        let aside = along(arc.from).max(along(arc.to));
        // The height of the centre over a place of the arc is its radius at most.
        let radius = arc.centre.distance(arc.from).max(arc.centre.distance(arc.to));
        left >= match form {
            ArcForm::Centre { .. } => self.digits(aside) + self.digits(radius),
            ArcForm::Radius { .. } => self.digits(radius),
        }
    }

    /// The greatest radius for which there is room between two places, where the tangent leans from the x axis by an angle of this sine at
    /// most; zero where there is none for any.
    #[must_use]
    pub fn flattest(&self, ends: [Point; 2], lean: f64, form: ArcForm) -> f64 {
        let Some(left) = self.left(ends[0], ends[1], form) else { return 0.0 };
        match form {
            ArcForm::Radius { .. } => self.under(left),
            ArcForm::Centre { .. } => {
                // Digits beyond the most of a word give neither word more room.
                let left = left.min(2 * MOST_DIGITS);
                let of_i = left.saturating_sub(MOST_DIGITS).max(1)..left.min(MOST_DIGITS + 1);
                of_i.map(|of_i| (self.under(of_i) / lean).min(self.under(left - of_i))).fold(0.0, f64::max)
            }
        }
    }

    /// Digits before the point that are left for the words of the circle.
    fn left(&self, from: Point, to: Point, form: ArcForm) -> Option<usize> {
        let bare = LETTER + self.places;
        let x = (from.x.abs().max(to.x.abs()) + self.offset.x.abs()) * self.x_factor;
        let [down, up] = self.moves;
        let [low, high] =
            [from.z.min(to.z) - self.offset.z.abs() - down, from.z.max(to.z) + self.offset.z.abs() + up];
        let z = low.abs().max(high.abs());
        let sign = if low < 0.0 { SIGN } else { 0 };
        let ends = 2 * bare + self.digits(x) + self.digits(z) + sign;
        let circle = match form {
            ArcForm::Centre { .. } => 2 * (bare + SIGN),
            ArcForm::Radius { .. } => bare,
        };
        self.characters.checked_sub(ends + circle)
    }

    /// Digits before the point of a word for this many millimetres.
    fn digits(&self, mm: f64) -> usize {
        let rounded = mm / self.unit + self.last_place();
        let more = POWERS[1..MOST_DIGITS].iter().take_while(|&&power| rounded >= power);
        1 + more.count()
    }

    /// A length, millimetres, below which a word has no more than this many digits before the point.
    fn under(&self, digits: usize) -> f64 {
        (POWERS[digits.min(MOST_DIGITS)] - 2.0 * self.last_place()) * self.unit
    }

    /// One of the last decimal place: rounding adds half of it.
    fn last_place(&self) -> f64 {
        POWERS[self.places.min(MOST_DIGITS)].recip()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Turn;
    use proptest::prelude::*;

    fn room(characters: usize, places: usize, x_factor: f64) -> WordRoom {
        WordRoom { characters, places, unit: 1.0, x_factor, offset: Point::new(0.0, 0.0), moves: [0.0, 0.0] }
    }

    /// The words of an arc that ends at `to`, printed with all their places.
    fn printed(arc: &Arc, form: ArcForm, room: &WordRoom) -> String {
        let word = |letter: char, value: f64| format!(" {letter}{value:.places$}", places = room.places);
        let ends = word('X', arc.to.x * room.x_factor) + &word('Z', arc.to.z);
        let (i, k) = (arc.centre.x - arc.from.x, arc.centre.z - arc.from.z);
        ends + &match form {
            ArcForm::Centre { .. } => word('I', i) + &word('K', k),
            ArcForm::Radius { .. } => word('R', i.hypot(k)),
        }
    }

    proptest! {
        /// What has room is never longer, and what has none is at most the signs and the digits of the other end too long to be sure of.
        #[test]
        fn an_arc_is_held_where_its_words_fit(
            x in 1.0..400.0f64,
            z in -300.0..300.0f64,
            width in 0.1..20.0f64,
            radius in prop_oneof![15.0..100.0f64, 100.0..5000.0f64],
            lean in -0.9..0.9f64,
            characters in 20usize..60,
            (places, centre, x_factor) in (2usize..5, any::<bool>(), prop_oneof![Just(1.0), Just(2.0)]),
        ) {
            let centre_at = Point::new(x - radius * lean, z - radius * (1.0 - lean * lean).sqrt());
            let on = |x: f64| {
                let dx = x - centre_at.x;
                Point::new(x, centre_at.z + (radius * radius - dx * dx).max(0.0).sqrt())
            };
            let end = (x + width).min(centre_at.x + radius);
            let arc = Arc { from: on(x), to: on(end), centre: centre_at, turn: Turn::Clockwise };
            let form = if centre { ArcForm::Centre { step: 0.001 } } else { ArcForm::Radius { step: 0.001 } };
            let room = room(characters, places, x_factor);
            let length = printed(&arc, form, &room).len();
            if room.holds(&arc, form) {
                prop_assert!(length <= characters, "{}", printed(&arc, form, &room));
            } else {
                prop_assert!(length + 6 > characters, "{}", printed(&arc, form, &room));
            }
        }

        /// An arc of less than the greatest radius is held.
        #[test]
        fn what_is_less_flat_than_the_flattest_is_held(
            x in 1.0..400.0f64,
            z in -300.0..300.0f64,
            share in 0.01..0.9999f64,
            lean in -0.9..0.9f64,
            characters in 24usize..60,
        ) {
            let form = ArcForm::Centre { step: 0.001 };
            let room = room(characters, 3, 2.0);
            let ends = [Point::new(x, z), Point::new(x + 0.1, z)];
            let flattest = room.flattest(ends, lean.abs() + 0.02, form);
            let radius = flattest * share;
            if radius > 20.0 && radius + 0.1 < flattest {
                let centre = Point::new(x + radius * lean, z - radius * (1.0 - lean * lean).sqrt());
                let arc = Arc { from: ends[0], to: ends[1], centre, turn: Turn::Clockwise };
                prop_assert!(room.holds(&arc, form), "{radius} of {flattest}");
            }
        }
    }
}
