//! The door for programs: JSON in, JSON or a problem document out (RFC 9457).
//!
//! Whoever is signed in may use it, and a program with a token that the owner made. What goes wrong
//! below `/api` is always answered with a problem document: `failure.rs` sees to that.

pub(super) mod calc;
pub mod openapi;

/// Whether a path lies behind this door.
pub(super) fn is_below(path: &str) -> bool {
    path == "/api" || path.starts_with("/api/")
}
