//! The house itself: who may go where, which way modules look, what every answer carries.

mod arrows;
mod backup;
mod file;
mod forward;
mod guards;
mod http;
mod modules;
mod pages;
mod questions;
mod safety;
mod scripts;
mod stages;
