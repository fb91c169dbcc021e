//! The log of the test process. There is one for all threads: a log of one thread alone would lose what other
//! threads had logged first, and what the threads of the database say.

use std::cell::RefCell;
use std::sync::Once;

use tracing_subscriber::filter::{LevelFilter, Targets};
use tracing_subscriber::layer::SubscriberExt;
use tracing_subscriber::{EnvFilter, Layer, Registry, fmt};

use super::statements::{QUERIES, Recorder};

thread_local! {
    /// What was logged on this thread, while it listens.
    static HEARD: RefCell<Option<Vec<u8>>> = const { RefCell::new(None) };
}

/// Writes the log of the thread that listens; others log into nothing.
struct Ear;

impl std::io::Write for Ear {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        HEARD.with_borrow_mut(|heard| heard.iter_mut().for_each(|heard| heard.extend_from_slice(bytes)));
        Ok(bytes.len())
    }
    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// Begins to log, once a process.
pub(super) fn begin() {
    static BEGUN: Once = Once::new();
    BEGUN.call_once(|| {
        let lines = fmt::layer().with_ansi(false).with_writer(|| Ear);
        let log = Registry::default()
            .with(lines.with_filter(EnvFilter::new("off,thumbplane=info")))
            // the span of a request lies between a recording and what is asked within it
            .with(Recorder.with_filter(
                Targets::new().with_target(QUERIES, LevelFilter::DEBUG).with_target("thumbplane", LevelFilter::INFO),
            ));
        tracing::subscriber::set_global_default(log).unwrap();
    });
}

/// Listens to what this thread logs from now on.
pub(crate) fn listen() {
    begin();
    HEARD.set(Some(Vec::new()));
}

/// What this thread logged since it listens.
pub(crate) fn heard() -> String {
    String::from_utf8(HEARD.take().unwrap()).unwrap()
}
