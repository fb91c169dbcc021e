//! What every request can reach: the books, the clock, and how the program is served.

use std::net::IpAddr;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{Notify, Semaphore, watch};
use tokio::time::timeout;
use uuid::Uuid;

use super::progress::BackgroundJobs;
use super::throttle::{Throttle, UnknownNames};
use super::uploads::Uploads;
use crate::clock::Clock;
use crate::records::Db;
use crate::records::photo_folder::Stored;
use crate::records::picture::{NotKept, prepare};
use crate::records::settings::Cache;

/// Password hashes computed at one time: each takes 19 MiB and tens of milliseconds.
const HASHES_AT_ONCE: usize = 2;
/// Pictures decoded at one time: what one may take is said in `records::picture`.
const PICTURES_AT_ONCE: usize = 1;
/// Calculations at one time: a promise keeps a processor busy for seconds, and the shop goes on meanwhile.
const CALCULATIONS_AT_ONCE: usize = 2;
/// How long a calculation or a hash waits for its turn.
const LONGEST_TURN: Duration = Duration::from_secs(10);

/// The state of the running program. Cheap to clone.
#[derive(Debug, Clone)]
pub struct App {
    /// The shop's books.
    pub db: Db,
    /// The only clock.
    pub clock: Clock,
    /// How the program is reached.
    pub serving: Arc<Serving>,
    /// The shop's settings, read once until they change.
    pub(super) settings: Arc<Cache>,
    /// Files being brought in.
    pub(super) imports: Arc<BackgroundJobs>,
    pub(super) hashing: Arc<Semaphore>,
    calculating: Arc<Semaphore>,
    picturing: Arc<Semaphore>,
    pub(super) uploads: Arc<Uploads>,
    pub(super) sign_in_throttle: Arc<Throttle>,
    pub(super) link_throttle: Arc<Throttle>,
    /// Wrong tries on names nobody has.
    pub(super) unknown_names: Arc<UnknownNames>,
    /// This run of the program: what open pages were told by another is not compared.
    run: Uuid,
    stopping: Arc<watch::Sender<bool>>,
    /// A message was written, or is to be tried again at once.
    pub(super) message_written: Arc<Notify>,
}

/// How the program is reached.
#[derive(Debug, Clone, Default)]
pub struct Serving {
    /// The address people type, such as `https://shop.example`, where one is configured.
    pub public_origin: Option<String>,
    /// The throw-away demo: its pages say so.
    pub demo: bool,
    /// Proxies in front, whose word on where a request came from is taken.
    pub trusted_proxies: Vec<IpAddr>,
    /// Folders that the shop is copied to each night.
    pub backup_to: Vec<PathBuf>,
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
            settings: Arc::default(),
            imports: Arc::default(),
            hashing: Arc::new(Semaphore::new(HASHES_AT_ONCE)),
            calculating: Arc::new(Semaphore::new(CALCULATIONS_AT_ONCE)),
            picturing: Arc::new(Semaphore::new(PICTURES_AT_ONCE)),
            uploads: Arc::default(),
            sign_in_throttle: Arc::new(Throttle::a_minute(60)),
            link_throttle: Arc::new(Throttle::a_minute(60)),
            unknown_names: Arc::default(),
            run: Uuid::new_v4(),
            stopping: Arc::default(),
            message_written: Arc::default(),
        }
    }

    /// Ends the streams of open pages: the program stops.
    pub(super) fn stop(&self) {
        self.stopping.send_replace(true);
    }

    /// Becomes true when the program stops.
    pub(super) fn stopping(&self) -> watch::Receiver<bool> {
        self.stopping.subscribe()
    }

    /// What a page says it shows of the queue. Asked for before the queue is read, it is never newer than the page.
    pub(super) fn queue_version(&self) -> String {
        self.version_of(self.db.written().borrow().queue)
    }

    /// The same of so many writes.
    pub(super) fn version_of(&self, queue: u64) -> String {
        format!("{}-{queue}", self.run.simple())
    }

    /// Prepares and stores a picture beside the requests, one at a time. The file is fetched once its turn has come, so
    /// that what waits takes no memory; the turn is the work's own, so that a sender who hangs up frees nothing early.
    pub(super) async fn store_picture(
        &self,
        file: impl FnOnce() -> std::io::Result<Vec<u8>> + Send + 'static,
    ) -> super::Result<Result<Stored, NotKept>> {
        let folder = self.db.photos().clone();
        let work = move || match prepare(&file()?) {
            Ok(picture) => folder.store(&picture).map(Ok),
            Err(why) => Ok(Err(why)),
        };
        in_turn(&self.picturing, Duration::MAX, work).await?.map_err(super::Error::from)
    }

    /// Runs a password hash beside the requests, a few at a time, also when their senders hang up.
    ///
    /// # Errors
    /// [`super::Error::Busy`] when its turn does not come.
    pub(super) async fn hash<T: Send + 'static>(&self, work: impl FnOnce() -> T + Send + 'static) -> super::Result<T> {
        in_turn(&self.hashing, LONGEST_TURN, work).await
    }

    /// Does a calculation beside the requests, a few at a time.
    ///
    /// # Errors
    /// [`super::Error::Busy`] when its turn does not come.
    pub(super) async fn calculate<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> super::Result<T> {
        in_turn(&self.calculating, LONGEST_TURN, work).await
    }
}

/// The turn is kept until the work is done, even when nobody waits for its answer any more.
async fn in_turn<T: Send + 'static>(
    turns: &Arc<Semaphore>,
    longest: Duration,
    work: impl FnOnce() -> T + Send + 'static,
) -> super::Result<T> {
    let turn = timeout(longest, Arc::clone(turns).acquire_owned()).await.map_err(|_| super::Error::Busy)?;
    let turn = turn.map_err(super::Error::internal)?;
    let work = move || {
        let done = work();
        drop(turn);
        done
    };
    tokio::task::spawn_blocking(work).await.map_err(super::Error::internal)
}

#[cfg(test)]
mod tests {
    use std::sync::{Arc, mpsc};
    use std::time::Duration;

    use tokio::sync::Semaphore;

    use super::in_turn;
    use crate::web::Error;

    #[tokio::test]
    async fn a_third_calculation_waits_and_is_turned_away_when_its_turn_does_not_come() {
        let turns = Arc::new(Semaphore::new(2));
        let begin = || {
            let (tell, told) = mpsc::channel::<()>();
            let turns = Arc::clone(&turns);
            (tell, tokio::spawn(async move { in_turn(&turns, Duration::MAX, move || told.recv().is_err()).await }))
        };
        let (first_end, first) = begin();
        let (second_end, second) = begin();
        while turns.available_permits() > 0 {
            tokio::task::yield_now().await;
        }
        assert!(matches!(in_turn(&turns, Duration::ZERO, || ()).await, Err(Error::Busy)));
        // a place that becomes free is taken by whoever waits
        let third = tokio::spawn({
            let turns = Arc::clone(&turns);
            async move { in_turn(&turns, Duration::MAX, || 42).await }
        });
        drop(first_end);
        assert!(first.await.unwrap().unwrap());
        assert_eq!(third.await.unwrap().unwrap(), 42);
        drop(second_end);
        assert!(second.await.unwrap().unwrap());
        assert_eq!(turns.available_permits(), 2);
    }

    #[tokio::test]
    async fn whoever_hangs_up_while_their_picture_is_decoded_frees_no_place_early() {
        let turns = Arc::new(Semaphore::new(1));
        let (tell, told) = mpsc::channel::<()>();
        let (begun, has_begun) = tokio::sync::oneshot::channel();
        let sender = tokio::spawn({
            let turns = Arc::clone(&turns);
            async move {
                let work = move || {
                    let _ = begun.send(());
                    told.recv().is_err()
                };
                in_turn(&turns, Duration::MAX, work).await
            }
        });
        has_begun.await.unwrap();
        sender.abort();
        assert!(sender.await.is_err_and(|gone| gone.is_cancelled()));
        assert_eq!(turns.available_permits(), 0, "the work goes on, and so does its turn");
        assert!(matches!(in_turn(&turns, Duration::ZERO, || ()).await, Err(Error::Busy)));
        drop(tell);
        assert_eq!(in_turn(&turns, Duration::MAX, || 42).await.unwrap(), 42);
    }
}
