//! What was written: how often one table was, since what is kept of it in memory holds as long as that stays the same;
//! and that others were, for whoever waits for it.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use tokio::sync::watch;

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

/// Tables whose rows the queue is made of.
const OF_THE_QUEUE: [&str; 6] = ["job", "queue_move", "promise_forecast", "bench_week", "closed_days", "absence"];

/// How often some tables were written since the program began: whoever shows them waits for the next time.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Written {
    /// What the queue is made of.
    pub queue: u64,
    /// Who is signed in.
    pub sessions: u64,
}

/// Tells whoever waits that tables were written, once the transaction has ended.
#[derive(Debug, Default)]
pub(super) struct WriteNews {
    queue: AtomicBool,
    sessions: AtomicBool,
    told: watch::Sender<Written>,
}

impl WriteNews {
    /// A row of a table was changed by the transaction that is open.
    pub(super) fn changed(&self, table: &str) {
        if OF_THE_QUEUE.contains(&table) {
            self.queue.store(true, Ordering::SeqCst);
        } else if table == "session" {
            self.sessions.store(true, Ordering::SeqCst);
        }
    }

    /// The transaction ended. One that was taken back is told too: whoever looks finds nothing new.
    pub(super) fn ended(&self) {
        let (queue, sessions) = (self.queue.swap(false, Ordering::SeqCst), self.sessions.swap(false, Ordering::SeqCst));
        if queue || sessions {
            self.told.send_modify(|written| {
                written.queue += u64::from(queue);
                written.sessions += u64::from(sessions);
            });
        }
    }

    /// To wait for the next time.
    pub(super) fn listen(&self) -> watch::Receiver<Written> {
        self.told.subscribe()
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
