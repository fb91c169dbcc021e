//! Long work beside the requests, and how far each piece of it has come.

use std::collections::HashMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use uuid::Uuid;

/// One piece of work.
#[derive(Debug, Default)]
pub(super) struct Progress {
    /// How much there is.
    pub total: usize,
    /// How much is done.
    pub done: AtomicUsize,
}

/// What is being worked on, and what went wrong with what no longer is.
#[derive(Debug, Default)]
pub(super) struct BackgroundJobs {
    running: Mutex<HashMap<Uuid, Arc<Progress>>>,
    failed: Mutex<HashMap<Uuid, String>>,
}

impl BackgroundJobs {
    /// Begins a piece of work; `None` when it is running already.
    pub(super) fn begin(&self, id: Uuid, total: usize) -> Option<Arc<Progress>> {
        let mut running = self.running.lock().unwrap_or_else(PoisonError::into_inner);
        if running.contains_key(&id) {
            return None;
        }
        self.failed.lock().unwrap_or_else(PoisonError::into_inner).remove(&id);
        let progress = Arc::new(Progress { total, ..Progress::default() });
        running.insert(id, progress.clone());
        Some(progress)
    }

    /// The work is over; `why` when it came to nothing.
    pub(super) fn end(&self, id: Uuid, why: Option<String>) {
        self.running.lock().unwrap_or_else(PoisonError::into_inner).remove(&id);
        if let Some(why) = why {
            self.failed.lock().unwrap_or_else(PoisonError::into_inner).insert(id, why);
        }
    }

    /// How far a piece of work is: done and total, while it runs.
    pub(super) fn how_far(&self, id: Uuid) -> Option<(usize, usize)> {
        let running = self.running.lock().unwrap_or_else(PoisonError::into_inner);
        running.get(&id).map(|progress| (progress.done.load(Ordering::Relaxed), progress.total))
    }

    /// Why the last try came to nothing, if it did.
    pub(super) fn failure(&self, id: Uuid) -> Option<String> {
        self.failed.lock().unwrap_or_else(PoisonError::into_inner).get(&id).cloned()
    }
}
