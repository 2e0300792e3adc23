//! Sweeps and pauses: how often the sensor was driven across, and where it stood still.
//!
//! A hand shakes and goes back a few millimetres now and then. That is no new sweep: drift and hysteresis that were
//! judged from such short strides would be stretched over the whole line. A sweep ends only where the sensor went back by
//! [`TURN`] and more.

use super::sequence::Item;

/// Going back by less than this, millimetres, is a stride of the hand.
const TURN: f64 = 15.0;

/// Width of the cells in which pauses are counted, millimetres: wider than a resting sensor trembles, narrower than a
/// usual distance of neighbouring readings.
const CELL: f64 = 0.05;

/// What a pause counts as, in readings at the usual pace. Its readings share what the surface and the sensor did in
/// that one place, so a hundred of them are worth little more than a few.
const PAUSE: f64 = 3.0;

/// The items at which a new sweep begins, the first at zero.
pub(super) fn starts(items: &[Item]) -> Vec<usize> {
    let mut starts = vec![0];
    let Some(first) = items.first() else { return starts };
    // The farthest places inward and outward since the last turn, with the items they were reached at.
    let (mut low, mut high) = ((first.x, 0), (first.x, 0));
    let mut outward: Option<bool> = None;
    for (i, item) in items.iter().enumerate() {
        let here = (item.x, i);
        if here.0 < low.0 {
            low = here;
        }
        // The last of equal places: a pause at the turn belongs to the sweep before it.
        if here.0 >= high.0 {
            high = here;
        }
        if outward != Some(true) && here.0 > low.0 + TURN {
            if outward.is_some() {
                starts.push(low.1);
            }
            outward = Some(true);
            high = here;
        } else if outward != Some(false) && here.0 < high.0 - TURN {
            if outward.is_some() {
                starts.push(high.1);
            }
            outward = Some(false);
            low = here;
        }
        match outward {
            Some(true) => low = high,
            Some(false) => high = low,
            None => {}
        }
    }
    starts
}

/// What each reading of one sweep is worth: one, but in a cell that holds far more readings than a cell usually does, its
/// share of what a pause counts as.
pub(super) fn weights(radii: &[f64]) -> Vec<f64> {
    let cell = |x: f64| (x / CELL).floor();
    let mut sorted: Vec<f64> = radii.iter().map(|&x| cell(x)).collect();
    sorted.sort_unstable_by(f64::total_cmp);
    let counts: Vec<(f64, usize)> =
        sorted.chunk_by(|a, b| a == b).filter_map(|run| Some((*run.first()?, run.len()))).collect();
    let mut usual: Vec<f64> = counts.iter().map(|c| c.1 as f64).collect();
    let usual = crate::numeric::order::median(&mut usual).unwrap_or(1.0);
    let weight = |x: &f64| {
        let found = counts.binary_search_by(|c| c.0.total_cmp(&cell(*x)));
        let n = found.ok().and_then(|i| counts.get(i)).map_or(1.0, |c| c.1 as f64);
        (PAUSE * usual / n).min(1.0)
    };
    radii.iter().map(weight).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn items(radii: impl IntoIterator<Item = f64>) -> Vec<Item> {
        radii.into_iter().map(|x| Item { x, z: Some(0.0) }).collect()
    }

    #[test]
    fn a_short_stride_back_is_no_sweep_and_a_long_one_is() {
        let out = (60..=200).map(f64::from);
        let stride = |back: i32| {
            let to = 150 - back;
            items((60..=150).chain((to..150).rev()).chain(to..=200).map(f64::from))
        };
        assert_eq!(starts(&items(out.clone())), [0]);
        assert_eq!(starts(&stride(14)), [0]);
        assert_eq!(starts(&stride(16)), [0, 90, 106]);
        // Out and back.
        assert_eq!(starts(&items(out.clone().chain(out.rev()))), [0, 141]);
        assert_eq!(starts(&[]), [0]);
    }

    #[test]
    fn a_pause_counts_as_three_readings() {
        let mut radii: Vec<f64> = (0..300).map(|i| 60.025 + 0.07 * f64::from(i)).collect();
        radii.extend(std::iter::repeat_n(100.01, 90));
        let w = weights(&radii);
        assert!(w.iter().take(300).all(|&w| w == 1.0));
        let pause: f64 = w.iter().skip(300).sum();
        assert!((pause - 3.0).abs() < 1e-9, "{pause}");
        // A scan that is dense everywhere pauses nowhere.
        let dense: Vec<f64> = (0..20_000).map(|i| 60.0 + 0.001 * f64::from(i)).collect();
        assert!(weights(&dense).iter().all(|&w| w == 1.0));
    }
}
