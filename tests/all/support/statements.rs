//! What the books are asked while something is done: every statement, in the order in which they ended. Each
//! recording hears its own alone, however many tests run beside it.

use tokio::sync::mpsc::{UnboundedSender, unbounded_channel};
use tracing::field::{Field, Visit};
use tracing::{Event, Instrument, Subscriber, info_span};
use tracing_subscriber::layer::{Context, Layer};
use tracing_subscriber::registry::{LookupSpan, Registry};

/// Where the database's driver says what it was asked.
pub(super) const QUERIES: &str = "sqlx::query";

/// Sends each statement to the recording within which it was asked. The driver takes the asking task's span along to
/// its own thread.
pub(super) struct Recorder;

/// Put into the span of a recording; gone once nothing runs within it any more.
struct Recording(UnboundedSender<String>);

impl<S: Subscriber + for<'a> LookupSpan<'a>> Layer<S> for Recorder {
    fn on_event(&self, event: &Event<'_>, context: Context<'_, S>) {
        if event.metadata().target() != QUERIES {
            return;
        }
        for span in context.event_scope(event).into_iter().flatten() {
            if let Some(recording) = span.extensions().get::<Recording>() {
                let mut statement = Statement::default();
                event.record(&mut statement);
                // who stopped listening is told nothing
                let _ = recording.0.send(statement.text());
            }
        }
    }
}

/// The driver says short statements as their summary, and longer ones whole beside it.
#[derive(Default)]
struct Statement {
    summary: String,
    whole: String,
}

impl Statement {
    fn text(self) -> String {
        let text = if self.whole.trim().is_empty() { self.summary } else { self.whole };
        text.trim().to_owned()
    }
}

impl Visit for Statement {
    fn record_str(&mut self, field: &Field, value: &str) {
        match field.name() {
            "summary" => value.clone_into(&mut self.summary),
            "db.statement" => value.clone_into(&mut self.whole),
            _ => {}
        }
    }
    fn record_debug(&mut self, _: &Field, _: &dyn std::fmt::Debug) {}
}

/// Does some work and answers the statements it asked the books, beside what it came to. Work that it hands to other
/// tasks is not counted; `BEGIN` and `COMMIT` are none, nor is what a new connection is set up with.
pub(crate) async fn statements<T>(work: impl Future<Output = T>) -> (T, Vec<String>) {
    super::log::begin();
    let (sender, mut asked) = unbounded_channel();
    let span = info_span!(target: QUERIES, "recording");
    span.with_subscriber(|(id, log)| {
        let registry: &Registry = log.downcast_ref().unwrap();
        registry.span(id).unwrap().extensions_mut().insert(Recording(sender));
    });
    let done = work.instrument(span).await;
    let mut heard = Vec::new();
    // ends when the driver, too, has let go of the span: nothing comes late
    while let Some(statement) = asked.recv().await {
        if !statement.starts_with("PRAGMA ") {
            heard.push(statement);
        }
    }
    (done, heard)
}
