//! How often one address may guess: a count a minute, kept in memory. The count on the
//! *name* of somebody lives in the books; that on a name nobody has lives here.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};

use crate::quantity::Instant;
use crate::records::fold::folded;
use crate::records::staff::pause_seconds_after;

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

/// Names remembered at most; beyond it those whose pause is over are dropped.
const MOST_NAMES: usize = 10_000;

/// Wrong tries on names nobody has: they pause as those of the staff do, so that a pause tells nobody which names
/// there are.
#[derive(Debug, Default)]
pub(super) struct UnknownNames(Mutex<HashMap<String, (i64, Instant)>>);

impl UnknownNames {
    /// Whether the next try on a name must still wait.
    pub(super) fn is_blocked(&self, name: &str, now: Instant) -> bool {
        let names = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        names.get(&folded(name)).is_some_and(|(_, until)| *until > now)
    }

    /// Counts a wrong try.
    pub(super) fn failed(&self, name: &str, now: Instant) {
        let mut names = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if names.len() >= MOST_NAMES {
            names.retain(|_, (_, until)| *until > now);
        }
        if names.len() >= MOST_NAMES {
            names.clear();
        }
        let entry = names.entry(folded(name)).or_insert((0, Instant(0)));
        entry.0 = entry.0.saturating_add(1);
        entry.1 = Instant(now.0 + pause_seconds_after(entry.0) * 1_000_000);
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
