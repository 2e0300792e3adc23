//! A scan in the order of time: what the sensor wrote at each place, and the places at which it wrote that it saw nothing.

use super::reader::Scan;
use super::sentinel;

/// One line of the scan file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Item {
    /// Radius, millimetres; between its neighbours' in time where a drop-out tells none.
    pub x: f64,
    /// Height, millimetres; none for a drop-out.
    pub z: Option<f64>,
}

/// Points and drop-outs of a scan in the order of its lines; heights that stand for "nothing seen" are drop-outs too.
pub(super) fn in_order_of_time(scan: &Scan) -> Vec<Item> {
    let mut items = Vec::with_capacity(scan.points.len() + scan.missing.len());
    let sentinels = sentinel::runs(&scan.points, &scan.nines);
    let mut sentinels = sentinels.iter().peekable();
    let mut missing = scan.missing.iter().peekable();
    // Drop-outs without a radius, to be given one as soon as the next radius is known.
    let mut unplaced: Vec<usize> = Vec::new();
    let mut placed = |items: &mut Vec<Item>, x: Option<f64>, z: Option<f64>| {
        let Some(x) = x else {
            unplaced.push(items.len());
            items.push(Item { x: 0.0, z });
            return;
        };
        if let Some(&first) = unplaced.first() {
            let before = first.checked_sub(1).and_then(|i| items.get(i)).map_or(x, |i| i.x);
            let n = (unplaced.len() + 1) as f64;
            for (k, &i) in unplaced.iter().enumerate() {
                if let Some(item) = items.get_mut(i) {
                    item.x = before + (x - before) * (k + 1) as f64 / n;
                }
            }
            unplaced.clear();
        }
        items.push(Item { x, z });
    };
    for (i, p) in scan.points.iter().enumerate() {
        while let Some(m) = missing.next_if(|m| m.line < p.line) {
            placed(&mut items, m.x, None);
        }
        while sentinels.next_if(|(_, to)| *to <= i).is_some() {}
        let nothing = sentinels.peek().is_some_and(|(from, _)| *from <= i);
        placed(&mut items, Some(p.x), (!nothing).then_some(p.z));
    }
    for m in missing {
        placed(&mut items, m.x, None);
    }
    // Behind the last radius nothing tells where the sensor stood.
    if let Some(&first) = unplaced.first() {
        items.truncate(first);
    }
    items
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scan::reader::{Missing, RawPoint};

    #[test]
    fn drop_outs_stand_where_they_were_written() {
        let at = |x: f64, line| RawPoint { x, z: 1.0 + x, line };
        let scan = Scan {
            points: vec![at(10.0, 1), at(13.0, 4), at(14.0, 6)],
            missing: vec![
                Missing { x: None, line: 2 },
                Missing { x: None, line: 3 },
                Missing { x: Some(13.5), line: 5 },
                Missing { x: None, line: 7 },
            ],
            ..Scan::default()
        };
        let items = in_order_of_time(&scan);
        let seen: Vec<(f64, bool)> = items.iter().map(|i| (i.x, i.z.is_some())).collect();
        assert_eq!(
            seen,
            [(10.0, true), (11.0, false), (12.0, false), (13.0, true), (13.5, false), (14.0, true)]
        );
    }
}
