//! What every request can reach: the books, the clock, and how the program is served.

use std::sync::Arc;

use tokio::sync::Semaphore;

use super::throttle::Throttle;
use crate::clock::Clock;
use crate::records::Db;

/// Password hashes computed at one time: each takes 19 MiB and tens of milliseconds.
const HASHES_AT_ONCE: usize = 2;

/// The state of the running program. Cheap to clone.
#[derive(Debug, Clone)]
pub struct App {
    /// The shop's books.
    pub db: Db,
    /// The only clock.
    pub clock: Clock,
    /// How the program is reached.
    pub serving: Arc<Serving>,
    pub(super) hashing: Arc<Semaphore>,
    pub(super) sign_in_throttle: Arc<Throttle>,
    pub(super) link_throttle: Arc<Throttle>,
}

/// How the program is reached.
#[derive(Debug, Clone, Default)]
pub struct Serving {
    /// The address people type, such as `https://shop.example`, where one is configured.
    pub public_origin: Option<String>,
    /// The throw-away demo: its pages say so.
    pub demo: bool,
}

impl Serving {
    /// Whether browsers reach us through TLS.
    pub fn is_tls(&self) -> bool {
        self.public_origin.as_deref().is_some_and(|origin| origin.starts_with("https://"))
    }
}

impl App {
    /// Puts the program together.
    pub fn new(db: Db, clock: Clock, serving: Serving) -> Self {
        Self {
            db,
            clock,
            serving: Arc::new(serving),
            hashing: Arc::new(Semaphore::new(HASHES_AT_ONCE)),
            sign_in_throttle: Arc::new(Throttle::a_minute(60)),
            link_throttle: Arc::new(Throttle::a_minute(60)),
        }
    }

    /// Runs a password hash beside the requests, a few at a time.
    pub(super) async fn hash<T: Send + 'static>(&self, work: impl FnOnce() -> T + Send + 'static) -> super::Result<T> {
        let _turn = self.hashing.acquire().await.map_err(super::Error::internal)?;
        tokio::task::spawn_blocking(work).await.map_err(super::Error::internal)
    }
}
