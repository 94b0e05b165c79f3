//! Work shared among all cores.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

/// Does `work` for every item on all cores, the first items first; the results stand in the order of the items.
pub(super) fn all<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let cores = thread::available_parallelism().map_or(1, usize::from);
    let workers = cores.min(items.len());
    if workers <= 1 {
        return items.iter().map(work).collect();
    }
    let next = AtomicUsize::new(0);
    let worker = || {
        let mut done = Vec::new();
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            let Some(item) = items.get(index) else {
                return done;
            };
            done.push((index, work(item)));
        }
    };
    let mut results: Vec<(usize, R)> = thread::scope(|scope| {
        let handles: Vec<_> = (0..workers).map(|_| scope.spawn(worker)).collect();
        handles
            .into_iter()
            .flat_map(|handle| match handle.join() {
                Ok(done) => done,
                Err(panic) => std::panic::resume_unwind(panic),
            })
            .collect()
    });
    results.sort_by_key(|(index, _)| *index);
    results.into_iter().map(|(_, result)| result).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_stand_in_the_order_of_the_items() {
        let items: Vec<u64> = (0..1000).collect();
        let doubled: Vec<u64> = (0..1000).map(|number| 2 * number).collect();
        assert_eq!(all(&items, |number| 2 * number), doubled);
        assert!(all(&[] as &[u64], |number| *number).is_empty());
    }
}
