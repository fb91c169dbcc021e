//! `thumbplane calc NAME`: one calculation, JSON in, JSON out.

use std::io::{Read, Write};
use std::process::ExitCode;

use clap::Args;

use super::say_error;
use crate::calc;

#[derive(Debug, Args)]
pub(super) struct Options {
    #[arg(help = format!("What to work out: {}", calc::NAMES.join(", ")))]
    name: String,
}

pub(super) fn run(options: &Options) -> ExitCode {
    let mut input = Vec::new();
    let more_than_allowed = calc::LARGEST_INPUT as u64 + 1;
    if let Err(cause) = std::io::stdin().lock().take(more_than_allowed).read_to_end(&mut input) {
        say_error(&format!("thumbplane: standard input could not be read: {cause}"));
        return ExitCode::from(2);
    }
    if input.len() > calc::LARGEST_INPUT {
        say_error(&calc::Refusal::TooLarge.document().to_string());
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
