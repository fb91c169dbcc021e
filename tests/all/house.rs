//! The house itself: who may go where, which way modules look, what every answer carries.

mod access;
mod arrows;
mod backup;
mod dependencies;
mod file;
mod forward;
mod guards;
mod http;
mod modules;
mod old_file;
mod pages;
mod questions;
mod safety;
mod scripts;
mod stages;
