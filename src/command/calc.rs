//! `thumbplane calc NAME`: one calculation, JSON in, JSON out.

use std::io::{Read, Write};
use std::process::ExitCode;

use clap::Args;

use super::say_error;
use crate::calc;

/// No input of ours is larger.
const LARGEST_INPUT: u64 = 4 * 1024 * 1024;

#[derive(Debug, Args)]
pub(super) struct Options {
    /// What to work out: frets, tension, intonation, clearance, cut, reading, air, turnaround, promise, plan
    name: String,
}

pub(super) fn run(options: &Options) -> ExitCode {
    let mut input = Vec::new();
    if let Err(cause) = std::io::stdin().lock().take(LARGEST_INPUT).read_to_end(&mut input) {
        say_error(&format!("thumbplane: standard input could not be read: {cause}"));
        return ExitCode::from(2);
    }
    match calc::calc(&options.name, &input) {
        Ok(answer) => match writeln!(std::io::stdout().lock(), "{answer}") {
            Ok(()) => ExitCode::SUCCESS,
            Err(_) => ExitCode::FAILURE,
        },
        Err(refusal) => {
            say_error(&refusal.document().to_string());
            ExitCode::from(2)
        }
    }
}
