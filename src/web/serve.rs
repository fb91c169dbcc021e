//! Serving on a listener until told to stop, then finishing what runs.

use std::net::SocketAddr;

use tokio::net::TcpListener;

use super::app::App;
use super::router::router;

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
    let served = axum::serve(listener, service).with_graceful_shutdown(stop).await;
    db.close().await;
    Ok(served?)
}
