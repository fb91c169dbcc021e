//! `/healthz`: whether the program answers and its file can be read.

use axum::extract::State;
use axum::http::StatusCode;

use super::app::App;

pub(super) async fn show(State(app): State<App>) -> (StatusCode, &'static str) {
    match sqlx::query_scalar!("SELECT count(*) FROM settings").fetch_one(app.db.read()).await {
        Ok(_) => (StatusCode::OK, "well\n"),
        Err(cause) => {
            tracing::error!(cause = %cause, "health.file_unreadable");
            (StatusCode::SERVICE_UNAVAILABLE, "the shop's file cannot be read\n")
        }
    }
}
