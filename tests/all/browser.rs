//! The shop in a real Chromium against the real server.

mod counter;
mod driver;
mod papers;
mod shop_network;
mod whole_job;
