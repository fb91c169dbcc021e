//! Whose turn it is to write a piece of an upload: one piece of each upload at a time, each upload beside the others.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError, Weak};

use uuid::Uuid;

/// The uploads that pieces are arriving of.
#[derive(Debug, Default)]
pub(super) struct Uploads(Mutex<HashMap<Uuid, Weak<tokio::sync::Mutex<()>>>>);

impl Uploads {
    /// The lock of one upload, to be held while its piece is taken, so that each lands behind the one before.
    pub(super) fn lock_of(&self, upload: Uuid) -> Arc<tokio::sync::Mutex<()>> {
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        known.retain(|_, lock| lock.strong_count() > 0);
        if let Some(lock) = known.get(&upload).and_then(Weak::upgrade) {
            return lock;
        }
        let lock = Arc::default();
        known.insert(upload, Arc::downgrade(&lock));
        lock
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use uuid::Uuid;

    use super::Uploads;

    #[test]
    fn pieces_of_one_upload_wait_for_each_other_and_for_no_other_upload() {
        let uploads = Uploads::default();
        let (one, other) = (Uuid::now_v7(), Uuid::now_v7());
        let first = uploads.lock_of(one);
        let held = first.try_lock().unwrap();
        assert!(Arc::ptr_eq(&first, &uploads.lock_of(one)));
        assert!(uploads.lock_of(one).try_lock().is_err());
        assert!(uploads.lock_of(other).try_lock().is_ok());
        drop(held);
        drop(first);
        uploads.lock_of(other);
        assert_eq!(uploads.0.lock().unwrap().len(), 1, "what nobody waits for is forgotten");
    }
}
