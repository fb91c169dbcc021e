//! `/changes`: tells a page that is open that the queue was changed, so that it renews itself (Server-Sent Events, as
//! the HTML standard has them). A stream ends with its session, and when the program stops.

use std::convert::Infallible;
use std::time::Duration;

use axum::response::IntoResponse;
use axum::response::sse::{Event, KeepAlive, Sse};
use futures_util::stream::unfold;
use tokio::sync::watch::Receiver;
use tokio::time::timeout;

use super::app::App;
use super::error::{Error, Result};
use super::page::RequestContext;
use crate::records::Written;
use crate::records::session::{self, TokenHash};

/// A line that says nothing goes over a stream this often, so that one whose browser is gone is noticed.
const ALIVE_EVERY: Duration = Duration::from_secs(20);
/// A session that ended by itself ends its stream within this.
const LOOK_EVERY: Duration = Duration::from_secs(60);

/// One open page.
struct Listener {
    app: App,
    session: TokenHash,
    written: Receiver<Written>,
    stopping: Receiver<bool>,
    /// What was told last.
    told: Option<u64>,
}

/// `GET /changes`
pub(super) async fn stream(context: RequestContext) -> Result {
    let session = context.session.ok_or(Error::NotFound("page"))?;
    let listener = Listener {
        session: session.token_hash,
        written: context.app.db.written(),
        stopping: context.app.stopping(),
        told: None,
        app: context.app,
    };
    Ok(Sse::new(unfold(listener, next)).keep_alive(KeepAlive::new().interval(ALIVE_EVERY)).into_response())
}

/// The next thing to tell: at first what stands, then each time it was changed. `None` ends the stream.
async fn next(mut listener: Listener) -> Option<(std::result::Result<Event, Infallible>, Listener)> {
    loop {
        let queue = listener.written.borrow_and_update().queue;
        if listener.told != Some(queue) {
            listener.told = Some(queue);
            let version = listener.app.version_of(queue);
            return Some((Ok(Event::default().event("queue").data(version)), listener));
        }
        let changed = async {
            tokio::select! {
                changed = listener.written.changed() => changed.is_ok(),
                _ = listener.stopping.wait_for(|stopping| *stopping) => false,
            }
        };
        // a minute without a change still looks whether anybody is signed in
        if !timeout(LOOK_EVERY, changed).await.unwrap_or(true) {
            return None;
        }
        let holds = session::holds(listener.app.db.read(), &listener.session, listener.app.clock.now()).await;
        if !holds.unwrap_or(false) {
            return None;
        }
    }
}
