//! What the program logs while a test listens: its own lines, and the statements it sends to the books.
//!
//! One subscriber for the whole process: a log of one thread alone would lose what other threads had logged first.

use std::cell::RefCell;
use std::collections::HashMap;
use std::future::Future;
use std::sync::{Mutex, Once};

use thumbplane::records::Db;
use tracing::field::{Field, Visit};
use tracing::{Event, Instrument, Subscriber};
use tracing_subscriber::filter::{EnvFilter, LevelFilter, Targets};
use tracing_subscriber::layer::{Context, Layer, SubscriberExt};
use tracing_subscriber::registry::LookupSpan;

/// The target of the span that a test listens within.
const LISTENING: &str = "listening";

thread_local! {
    /// What was logged on this thread, while it listens.
    static HEARD: RefCell<Option<Vec<u8>>> = const { RefCell::new(None) };
}

/// What was logged within a span that a test listens to, by the span's number.
static WITHIN: Mutex<Option<HashMap<u64, Logged>>> = Mutex::new(None);

/// What was logged within a deed.
#[derive(Debug, Default)]
pub(crate) struct Logged {
    /// Statements sent to the books.
    pub(crate) statements: Vec<String>,
    /// The words of the program's own lines.
    pub(crate) lines: Vec<String>,
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

/// Notes events under the span that listens, on whichever thread they come.
struct Notes;

impl<S: Subscriber + for<'a> LookupSpan<'a>> Layer<S> for Notes {
    fn on_event(&self, event: &Event<'_>, context: Context<'_, S>) {
        let mut within = WITHIN.lock().unwrap();
        let (Some(within), Some(scope)) = (within.as_mut(), context.event_scope(event)) else {
            return;
        };
        for span in scope {
            if let Some(logged) = within.get_mut(&span.id().into_u64()) {
                let mut words = Words::default();
                event.record(&mut words);
                // a connection that is opened just now is set up by pragmas: no question of the page
                match event.metadata().target() {
                    "sqlx::query" if words.0.starts_with("PRAGMA") => {}
                    "sqlx::query" => logged.statements.push(words.0),
                    _ => logged.lines.push(words.0),
                }
            }
        }
    }
}

/// A statement's beginning, or a line's message.
#[derive(Default)]
struct Words(String);

impl Visit for Words {
    fn record_str(&mut self, field: &Field, value: &str) {
        if field.name() == "summary" {
            value.clone_into(&mut self.0);
        }
    }

    fn record_debug(&mut self, field: &Field, value: &dyn std::fmt::Debug) {
        if field.name() == "message" && self.0.is_empty() {
            self.0 = format!("{value:?}");
        }
    }
}

fn begin_to_log() {
    static BEGUN: Once = Once::new();
    BEGUN.call_once(|| {
        let as_served = tracing_subscriber::fmt::layer().with_ansi(false).with_writer(|| Ear);
        let noted = [("sqlx::query", LevelFilter::DEBUG), ("thumbplane", LevelFilter::DEBUG)];
        let noted = Targets::new().with_targets(noted).with_target(LISTENING, LevelFilter::INFO);
        let subscriber = tracing_subscriber::registry()
            .with(as_served.with_filter(EnvFilter::new("off,thumbplane=info")))
            .with(Notes.with_filter(noted));
        tracing::subscriber::set_global_default(subscriber).unwrap();
    });
}

/// The log of this thread as the console shows it, while a deed is done.
pub(crate) async fn console<T>(deed: impl Future<Output = T>) -> (T, String) {
    begin_to_log();
    HEARD.set(Some(Vec::new()));
    let done = deed.await;
    (done, String::from_utf8(HEARD.take().unwrap()).unwrap())
}

/// What the program logs while it answers, and every statement it sends to the books.
pub(crate) async fn listen<T>(db: &Db, deed: impl Future<Output = T>) -> (T, Logged) {
    begin_to_log();
    let span = tracing::info_span!(target: LISTENING, "listening");
    let number = span.id().unwrap().into_u64();
    WITHIN.lock().unwrap().get_or_insert_default().insert(number, Logged::default());
    let done = deed.instrument(span.clone()).await;
    // a statement is logged once its connection is done with it: each connection is asked for one more
    let mut connections = Vec::new();
    while connections.len() < usize::try_from(db.read().size()).unwrap() {
        connections.push(db.read().acquire().await.unwrap());
    }
    for connection in &mut connections {
        sqlx::query("SELECT 1").execute(&mut **connection).await.unwrap();
    }
    sqlx::query("SELECT 1").execute(&mut *db.write().await.unwrap()).await.unwrap();
    let logged = WITHIN.lock().unwrap().as_mut().unwrap().remove(&number).unwrap();
    (done, logged)
}
