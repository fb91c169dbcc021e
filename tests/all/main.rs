//! One binary for all tests of the shop: real database files, the real router, and a real browser.

#![expect(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test that cannot go on says where")]
#![expect(clippy::print_stderr, reason = "what was measured, and what had to be left out, is said aloud")]

mod api;
mod bench;
mod browser;
mod calculations;
mod cautions;
mod command;
mod customer;
mod desk;
mod drawing;
mod engine;
mod house;
mod messages;
mod office;
mod photos;
mod quantity;
mod readings;
mod reference;
mod strings;
mod support;
