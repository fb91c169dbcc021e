//! How often one address may guess: a count a minute, kept in memory. The count on a *name* lives in the books.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};

use crate::quantity::Instant;

const MINUTE: i64 = 60_000_000;
/// Beyond this many addresses the oldest minute is dropped.
const MOST_ADDRESSES: usize = 10_000;

/// Counts tries by address.
#[derive(Debug)]
pub(super) struct Throttle {
    most: u32,
    tries: Mutex<HashMap<IpAddr, (i64, u32)>>,
}

impl Throttle {
    pub(super) fn a_minute(most: u32) -> Self {
        Self { most, tries: Mutex::new(HashMap::new()) }
    }

    /// Counts one try and says whether it may go on. Where no address is known there is nothing to count.
    pub(super) fn allows(&self, address: Option<IpAddr>, now: Instant) -> bool {
        let Some(address) = address else { return true };
        let minute = now.0.div_euclid(MINUTE);
        let mut tries = self.tries.lock().unwrap_or_else(PoisonError::into_inner);
        if tries.len() > MOST_ADDRESSES {
            tries.retain(|_, (seen, _)| *seen == minute);
        }
        let entry = tries.entry(address).or_insert((minute, 0));
        if entry.0 != minute {
            *entry = (minute, 0);
        }
        entry.1 = entry.1.saturating_add(1);
        entry.1 <= self.most
    }
}

#[cfg(test)]
mod tests {
    use super::Throttle;
    use crate::quantity::Instant;

    #[test]
    fn an_address_gets_its_tries_each_minute_and_no_more() {
        let throttle = Throttle::a_minute(2);
        let here = Some([127, 0, 0, 1].into());
        let tries = [0, 1, 2, 60_000_000].map(|at| throttle.allows(here, Instant(at)));
        assert_eq!(tries, [true, true, false, true]);
    }
}
