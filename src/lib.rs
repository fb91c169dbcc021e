//! Thumbplane: the books and the bench arithmetic of a small fretted-instrument repair shop.
//!
//! Arrows between the modules run downward only: [`command`] starts, [`web`] has the doors,
//! [`records`] and [`drawing`] stand side by side, [`setup`] is the pure arithmetic of the trade,
//! and [`forecast`], [`quantity`], [`problem`], [`working`] and [`clock`] lie below everything.

pub mod calc;
pub mod clock;
pub mod command;
pub mod drawing;
pub mod forecast;
pub mod problem;
pub mod quantity;
pub mod records;
pub mod setup;
pub mod web;
pub mod working;
