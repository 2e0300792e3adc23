//! Things in order of x with an index by equal cells of x: the search asks for thousands of columns.

/// Something that has a place in an index.
pub(super) trait Positioned {
    fn x(&self) -> f64;
}

/// Things in order of x.
///
/// The index's whole range is cut into as many equal cells as it has things; a look-up reckons the cell and goes through the few
/// things in it.
pub(super) struct BucketIndex<T> {
    things: Vec<T>,
    first: f64,
    cells_per_mm: f64,
    /// How many things stand before each cell, and how many there are.
    before: Vec<usize>,
}

impl<T: Positioned> BucketIndex<T> {
    /// An index of things that are in order of x.
    pub(super) fn new(things: Vec<T>) -> Self {
        let (first, last) = match (things.first(), things.last()) {
            (Some(first), Some(last)) => (first.x(), last.x()),
            _ => (0.0, 0.0),
        };
        let cells_per_mm = if last > first { things.len() as f64 / (last - first) } else { 0.0 };
        let mut index = Self { things, first, cells_per_mm, before: Vec::new() };
        for (i, thing) in index.things.iter().enumerate() {
            let cell = index.cell(thing.x());
            if index.before.len() <= cell {
                index.before.resize(cell + 1, i);
            }
        }
        index.before.push(index.things.len());
        index
    }

    pub(super) fn things(&self) -> &[T] {
        &self.things
    }

    /// How many things stand before x.
    pub(super) fn before(&self, x: f64) -> usize {
        self.count(x, |thing| thing < x)
    }

    /// How many things stand before x or at it.
    pub(super) fn up_to(&self, x: f64) -> usize {
        self.count(x, |thing| thing <= x)
    }

    /// The things behind x.
    pub(super) fn beyond(&self, x: f64) -> &[T] {
        self.things.get(self.up_to(x)..).unwrap_or_default()
    }

    /// What `partition_point` finds. A number's cell grows with the number: things in cells before that of x stand before
    /// x, things in cells behind it stand behind x.
    fn count(&self, x: f64, counts: impl Fn(f64) -> bool) -> usize {
        let cell = self.cell(x);
        let start = self.before.get(cell).copied().unwrap_or(self.things.len());
        let end = self.before.get(cell + 1).copied().unwrap_or(self.things.len());
        let inside = self.things.get(start..end).unwrap_or_default();
        start + inside.partition_point(|thing| counts(thing.x()))
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // A place before the first is in the first cell.
    fn cell(&self, x: f64) -> usize {
        ((x - self.first) * self.cells_per_mm) as usize
    }
}

#[cfg(test)]
mod tests {
    use super::{BucketIndex, Positioned};

    impl Positioned for f64 {
        fn x(&self) -> f64 {
            *self
        }
    }

    #[test]
    fn a_look_up_finds_what_a_search_through_all_finds() {
        let crowded: Vec<f64> =
            (0..50).map(|i| 70.0 + 1e-4 * f64::from(i * i)).chain([80.0, 80.0, 90.0]).collect();
        for things in [crowded, vec![70.0, 70.0], vec![70.0], Vec::new()] {
            let index = BucketIndex::new(things.clone());
            let near = things.iter().flat_map(|x| [x.next_down(), *x, x.next_up()]);
            for x in near.chain((0..400).map(|i| 60.0 + f64::from(i) / 10.0)) {
                assert_eq!(index.before(x), things.partition_point(|t| *t < x), "before {x}");
                assert_eq!(index.up_to(x), things.partition_point(|t| *t <= x), "up to {x}");
                assert_eq!(index.beyond(x).len(), things.len() - index.up_to(x), "beyond {x}");
            }
        }
    }
}
