//! What the program logs while a test listens: its own lines, and every statement it asks the books.
//!
//! One subscriber for the whole process: a log of one thread alone would lose what other threads had logged first, and
//! what the threads of the database say. Each recording hears its own alone, however many tests run beside it.

use std::cell::RefCell;
use std::sync::Once;

use tokio::sync::mpsc::{UnboundedSender, unbounded_channel};
use tracing::field::{Field, Visit};
use tracing::{Event, Instrument, Subscriber, info_span};
use tracing_subscriber::filter::{EnvFilter, LevelFilter, Targets};
use tracing_subscriber::fmt;
use tracing_subscriber::layer::{Context, Layer, SubscriberExt};
use tracing_subscriber::registry::{LookupSpan, Registry};

/// Where the database's driver says what it was asked.
const QUERIES: &str = "sqlx::query";

thread_local! {
    /// What was logged on this thread, while it listens.
    static HEARD: RefCell<Option<Vec<u8>>> = const { RefCell::new(None) };
}

/// What was logged within some work.
#[derive(Debug, Default)]
pub(crate) struct Logged {
    /// Statements the books were asked, in the order in which they ended; `BEGIN` and `COMMIT` are none.
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

/// Sends what is logged to the recording within which it was. The driver takes the asking task's span along to its own
/// thread.
struct Recorder;

/// Put into the span of a recording; gone once nothing runs within it any more.
struct Recording(UnboundedSender<(&'static str, String)>);

impl<S: Subscriber + for<'a> LookupSpan<'a>> Layer<S> for Recorder {
    fn on_event(&self, event: &Event<'_>, context: Context<'_, S>) {
        for span in context.event_scope(event).into_iter().flatten() {
            if let Some(recording) = span.extensions().get::<Recording>() {
                let mut words = Words::default();
                event.record(&mut words);
                // who stopped listening is told nothing
                let _ = recording.0.send((event.metadata().target(), words.text()));
            }
        }
    }
}

/// A line's message, or a statement. The driver says short statements as their summary, and longer ones whole beside it.
#[derive(Default)]
struct Words {
    message: String,
    summary: String,
    whole: String,
}

impl Words {
    fn text(self) -> String {
        let found = [self.whole, self.summary, self.message].into_iter().find(|words| !words.trim().is_empty());
        found.unwrap_or_default().trim().to_owned()
    }
}

impl Visit for Words {
    fn record_str(&mut self, field: &Field, value: &str) {
        match field.name() {
            "summary" => value.clone_into(&mut self.summary),
            "db.statement" => value.clone_into(&mut self.whole),
            _ => {}
        }
    }

    fn record_debug(&mut self, field: &Field, value: &dyn std::fmt::Debug) {
        if field.name() == "message" {
            self.message = format!("{value:?}");
        }
    }
}

/// Begins to log, once a process.
fn begin() {
    static BEGUN: Once = Once::new();
    BEGUN.call_once(|| {
        let as_served = fmt::layer().with_ansi(false).with_writer(|| Ear);
        let recorded = [(QUERIES, LevelFilter::DEBUG), ("thumbplane", LevelFilter::DEBUG)];
        let log = Registry::default()
            .with(as_served.with_filter(EnvFilter::new("off,thumbplane=info")))
            .with(Recorder.with_filter(Targets::new().with_targets(recorded)));
        tracing::subscriber::set_global_default(log).unwrap();
    });
}

/// The log of this thread as the console shows it, while some work is done.
pub(crate) async fn console<T>(work: impl Future<Output = T>) -> (T, String) {
    begin();
    HEARD.set(Some(Vec::new()));
    let done = work.await;
    (done, String::from_utf8(HEARD.take().unwrap()).unwrap())
}

/// Does some work, and answers what was logged within it. Work that it hands to other tasks is not heard.
pub(crate) async fn listen<T>(work: impl Future<Output = T>) -> (T, Logged) {
    begin();
    let (sender, mut told) = unbounded_channel();
    let span = info_span!(target: QUERIES, "recording");
    span.with_subscriber(|(id, log)| {
        let registry: &Registry = log.downcast_ref().unwrap();
        registry.span(id).unwrap().extensions_mut().insert(Recording(sender));
    });
    let done = work.instrument(span).await;
    let mut logged = Logged::default();
    // ends when the driver, too, has let go of the span: nothing comes late
    while let Some((target, words)) = told.recv().await {
        match target {
            // a connection that is opened just now is set up by pragmas: no question of the page
            QUERIES if words.starts_with("PRAGMA") => {}
            QUERIES => logged.statements.push(words),
            _ => logged.lines.push(words),
        }
    }
    (done, logged)
}

/// Does some work, and answers the statements that it asked the books.
pub(crate) async fn statements<T>(work: impl Future<Output = T>) -> (T, Vec<String>) {
    let (done, logged) = listen(work).await;
    (done, logged.statements)
}
