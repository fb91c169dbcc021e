//! Drawing one of a list.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::Rng;

/// One of a list, each as likely.
pub(super) fn pick<'a, T>(of: &'a [T], chance: &mut ChaCha8Rng) -> Option<&'a T> {
    let count = u64::try_from(of.len()).unwrap_or(0);
    of.get(usize::try_from((u64::from(chance.next_u32()) * count) >> 32).unwrap_or(0))
}
