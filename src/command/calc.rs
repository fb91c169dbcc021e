//! `thumbplane calc NAME`: one calculation, JSON in, JSON out; with `--explain` how its numbers came about.

use std::io::{Read, Write};
use std::process::ExitCode;

use clap::Args;

use super::console::say_error;
use crate::calc;
use crate::web::api::openapi;

#[derive(Debug, Args)]
pub(super) struct Options {
    #[arg(help = format!("What to work out: {}", calc::NAMES.join(", ")))]
    #[arg(required_unless_present = "openapi")]
    name: Option<String>,
    /// Show how each number came about, or only the one at a JSON pointer such as /strings/0/tension_n
    #[arg(long, value_name = "POINTER", num_args = 0..=1, require_equals = true, default_missing_value = "")]
    explain: Option<String>,
    /// Print the description of every calculation for programs (OpenAPI 3.1)
    #[arg(long, conflicts_with = "name")]
    openapi: bool,
}

pub(super) fn run(options: &Options) -> ExitCode {
    let Some(name) = options.name.as_deref().filter(|_| !options.openapi) else {
        return print(&openapi::document("thumbplane"));
    };
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
    let answered = match options.explain.as_deref() {
        None => calc::calc(name, &input),
        Some("") => calc::explained(name, &input, None),
        Some(pointer) => calc::explained(name, &input, Some(pointer)),
    };
    match answered {
        Ok(answer) => print(&answer),
        Err(refusal) => {
            say_error(&refusal.document().to_string());
            ExitCode::from(2)
        }
    }
}

fn print(answer: &serde_json::Value) -> ExitCode {
    match writeln!(std::io::stdout().lock(), "{answer}") {
        Ok(()) => ExitCode::SUCCESS,
        Err(_) => ExitCode::FAILURE,
    }
}
