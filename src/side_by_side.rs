//! Work that does not hang together, done on all processors at once, its results in the order of what was asked.

use std::num::NonZero;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

/// Does a piece of work for each item; the results stand in the order of the items, however the work was shared out.
#[must_use]
pub fn map<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let workers = thread::available_parallelism().map_or(1, NonZero::get).min(items.len());
    if workers < 2 {
        return items.iter().map(work).collect();
    }
    let next = AtomicUsize::new(0);
    let share = || {
        let mut done = Vec::new();
        loop {
            let i = next.fetch_add(1, Ordering::Relaxed);
            let Some(item) = items.get(i) else { return done };
            done.push((i, work(item)));
        }
    };
    let mut done: Vec<(usize, R)> = thread::scope(|scope| {
        let others: Vec<_> = (1..workers).map(|_| scope.spawn(share)).collect();
        let mut done = share();
        for other in others {
            done.extend(other.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        }
        done
    });
    done.sort_by_key(|d| d.0);
    done.into_iter().map(|d| d.1).collect()
}

/// Does two pieces of work of different kinds.
pub fn both<A: Send, B>(one: impl FnOnce() -> A + Send, other: impl FnOnce() -> B) -> (A, B) {
    if thread::available_parallelism().map_or(1, NonZero::get) < 2 {
        return (one(), other());
    }
    thread::scope(|scope| {
        let one = scope.spawn(one);
        let other = other();
        (one.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)), other)
    })
}

#[cfg(test)]
mod tests {
    #[test]
    fn results_stand_in_the_order_of_the_items() {
        let items: Vec<u64> = (0..100).collect();
        // The first take longest.
        let uneven = |&i: &u64| (0..(100 - i) * 1000).fold(i, |a, b| a.rotate_left(1) ^ b);
        assert_eq!(super::map(&items, uneven), items.iter().map(uneven).collect::<Vec<_>>());
        assert!(super::map(&[] as &[u64], uneven).is_empty());
        assert_eq!(super::both(|| 1, || "two"), (1, "two"));
    }
}
