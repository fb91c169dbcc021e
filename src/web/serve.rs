//! Serving on a listener until told to stop, then finishing what runs.

use std::net::SocketAddr;
use std::time::Duration;

use tokio::net::TcpListener;
use tokio::sync::oneshot;
use tokio::time::timeout;

use super::app::App;
use super::router::router;

/// Requests that run are finished within this; a client that never ends its own does not hold the shop open.
const LONGEST_GOODBYE: Duration = Duration::from_secs(10);

/// Why serving ended badly.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The public origin is not scheme and host.
    #[error("--public-origin must be a scheme and a host, like https://shop.example: {0}")]
    Origin(#[from] tower_http::csrf::ConfigError),
    /// The network.
    #[error("serving stopped: {0}")]
    Network(#[from] std::io::Error),
}

/// Serves until `stop` completes; requests that run are finished, then the books are closed.
///
/// # Errors
/// When the origin cannot be read or the network fails.
pub async fn serve(
    listener: TcpListener,
    app: App,
    stop: impl Future<Output = ()> + Send + 'static,
) -> Result<(), ServeError> {
    let db = app.db.clone();
    let service = router(app)?.into_make_service_with_connect_info::<SocketAddr>();
    let (tell, told) = oneshot::channel();
    let stop = async move {
        stop.await;
        let _ = tell.send(());
    };
    let goodbye = async {
        // a server that fails by itself never tells
        if told.await.is_err() {
            std::future::pending::<()>().await;
        }
        let _ = timeout(LONGEST_GOODBYE, std::future::pending::<()>()).await;
    };
    let served = tokio::select! {
        served = axum::serve(listener, service).with_graceful_shutdown(stop).into_future() => served,
        () = goodbye => {
            tracing::warn!("server.left_open_connections");
            Ok(())
        }
    };
    db.close().await;
    Ok(served?)
}
