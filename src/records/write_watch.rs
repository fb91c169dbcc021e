//! How often one table was written: what is kept of it in memory holds as long as that stays the same.

use std::sync::atomic::{AtomicU64, Ordering};

/// Counts the write transactions that changed one table. There is one writer, so they come one after the other.
#[derive(Debug, Default)]
pub(super) struct WriteWatch {
    /// Two a transaction: odd from its first change until it is known to have ended.
    steps: AtomicU64,
}

impl WriteWatch {
    /// A row was changed by the transaction that is open.
    pub(super) fn changed(&self) {
        self.steps.fetch_or(1, Ordering::SeqCst);
    }

    /// The transaction ended. Where nobody waited for that, the next one says it when it begins: until then what is
    /// read is not kept.
    pub(super) fn ended(&self) {
        let _ =
            self.steps.fetch_update(Ordering::SeqCst, Ordering::SeqCst, |steps| (steps % 2 == 1).then(|| steps + 1));
    }

    /// The same number before and after a reading: what was read stands. `None` while it is being changed.
    pub(super) fn version(&self) -> Option<u64> {
        Some(self.steps.load(Ordering::SeqCst)).filter(|steps| steps % 2 == 0)
    }
}

#[cfg(test)]
mod tests {
    use super::WriteWatch;

    #[test]
    fn what_is_being_changed_has_no_version_and_afterwards_another_one() {
        let watch = WriteWatch::default();
        let before = watch.version();
        assert!(before.is_some());
        watch.ended();
        assert_eq!(watch.version(), before, "a transaction that changed nothing here");
        watch.changed();
        watch.changed();
        assert_eq!(watch.version(), None);
        watch.ended();
        assert!(watch.version().is_some() && watch.version() != before);
    }
}
