//! The shop in a real Chromium against the real server.

mod accessibility;
mod changes;
mod counter;
mod customer;
mod driver;
mod fretboard;
mod grid;
mod keypad;
mod office;
mod papers;
mod shop_network;
mod tablet;
mod traps;
mod whole_job;
mod workspace;
