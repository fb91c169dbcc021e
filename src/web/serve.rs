//! Serving on a listener until told to stop, then finishing what runs.

use std::net::SocketAddr;
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::extract::{ConnectInfo, Request};
use axum::serve::Listener;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use tokio::net::{TcpListener, TcpStream};
use tokio::time::timeout;
use tower::ServiceExt;

use super::app::App;
use super::router::router;
use super::{outbox, outlook};

/// Requests that run are finished within this; a client that never ends its own does not hold the shop open.
const LONGEST_GOODBYE: Duration = Duration::from_secs(10);
/// The head of a request arrives within this, or the connection is closed: clients that send a byte now and then
/// shall not hold connections for ever. A connection between two requests may rest as long.
const LONGEST_HEAD: Duration = Duration::from_secs(30);

/// Why serving ended badly.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The public origin is not scheme and host.
    #[error("--public-origin must be a scheme and a host, like https://shop.example: {0}")]
    Origin(#[from] tower_http::csrf::ConfigError),
}

/// Serves until `stop` completes; requests that run are finished, then the books are closed.
///
/// # Errors
/// When the origin cannot be read.
pub async fn serve(
    mut listener: TcpListener,
    app: App,
    stop: impl Future<Output = ()> + Send + 'static,
) -> Result<(), ServeError> {
    let router = router(app.clone())?;
    let nights = tokio::spawn(outlook::go_through_the_nights(app.clone()));
    let messages = tokio::spawn(outbox::go_on(app.clone()));
    let check_ins = tokio::spawn(outlook::follow_the_check_ins(app.clone()));
    let connections = GracefulShutdown::new();
    tokio::pin!(stop);
    loop {
        tokio::select! {
            () = &mut stop => break,
            // waits a moment by itself where the system has no connection left to give
            (stream, peer) = Listener::accept(&mut listener) => answer(router.clone(), stream, peer, &connections),
        }
    }
    drop(listener);
    app.stop();
    if timeout(LONGEST_GOODBYE, connections.shutdown()).await.is_err() {
        tracing::warn!("server.left_open_connections");
    }
    // what it works out is kept before the books are closed under it
    let forecasts = async { tokio::join!(nights, check_ins) };
    if !matches!(timeout(LONGEST_GOODBYE, forecasts).await, Ok((Ok(()), Ok(())))) {
        tracing::warn!("server.left_forecasts");
    }
    if !matches!(timeout(LONGEST_GOODBYE, messages).await, Ok(Ok(()))) {
        tracing::warn!("server.left_a_message_in_hand");
    }
    app.db.close().await;
    Ok(())
}

/// Answers what comes over one connection, beside the others.
fn answer(router: Router, stream: TcpStream, peer: SocketAddr, connections: &GracefulShutdown) {
    let service = service_fn(move |request: Request<Incoming>| {
        let mut request = request.map(Body::new);
        request.extensions_mut().insert(ConnectInfo(peer));
        router.clone().oneshot(request)
    });
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(LONGEST_HEAD)
        .serve_connection(TokioIo::new(stream), service);
    let connection = connections.watch(connection);
    // a client that goes away or keeps us waiting is no fault of ours
    tokio::spawn(async move { drop(connection.await) });
}
