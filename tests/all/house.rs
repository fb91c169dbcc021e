//! The house itself: who may go where, which way modules look, what every answer carries.

mod file;
mod http;
mod modules;
mod pages;
mod safety;
mod scripts;
mod stages;
