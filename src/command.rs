//! The command line: `serve`, `demo`, `calc`, `staff add`, `backup`, `restore`, `check`.
//!
//! Wrong use is answered with one line that says what to do.

mod backup;
mod calc;
mod check;
mod console;
mod demo;
mod furnish;
mod nightly;
mod restore;
mod serve;
mod staff;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

use self::console::{say, say_error};

pub use demo::{PEOPLE, SignIn, fill as fill_demo};
pub use furnish::{furnish, furnish_millrace};

/// The books and the bench arithmetic of a fretted-instrument repair shop.
#[derive(Debug, Parser)]
#[command(version, about, disable_help_subcommand = true)]
struct Line {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Run the shop: open the data folder and answer browsers
    Serve(serve::Options),
    /// Try it: a throw-away shop with a year of jobs, gone when you stop it
    Demo(demo::Options),
    /// Work one thing out: read JSON from standard input, write JSON to standard output
    Calc(calc::Options),
    /// The people who may sign in
    Staff(staff::Options),
    /// Copy the shop to another folder, while it is open, and read the copy back
    Backup(backup::Options),
    /// Bring a backup back into a new folder
    Restore(restore::Options),
    /// Check the shop's file: nothing missing, nothing dangling
    Check(check::Options),
}

/// Runs what the command line asks for.
pub fn run() -> ExitCode {
    let line = match Line::try_parse() {
        Ok(line) => line,
        Err(cause) => return wrong_use(&cause),
    };
    let done = match line.command {
        Command::Serve(options) => serve::run(&options),
        Command::Demo(options) => demo::run(&options),
        Command::Calc(options) => return calc::run(&options),
        Command::Staff(options) => staff::run(options),
        Command::Backup(options) => backup::run(&options),
        Command::Restore(options) => restore::run(&options),
        Command::Check(options) => check::run(&options),
    };
    match done {
        Ok(code) => code,
        Err(words) => {
            say_error(&format!("thumbplane: {words}"));
            ExitCode::FAILURE
        }
    }
}

/// Help is printed in full; a mistake in one line, with the way to the help.
fn wrong_use(cause: &clap::Error) -> ExitCode {
    if !cause.use_stderr() {
        say(&cause.render().to_string());
        return ExitCode::SUCCESS;
    }
    let text = cause.render().to_string();
    let first = text.lines().find(|line| !line.trim().is_empty()).unwrap_or("").trim_start_matches("error: ").trim();
    if cause.kind() == clap::error::ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand {
        say_error(&text);
    } else {
        say_error(&format!("thumbplane: {first}. Type `thumbplane --help` to see what it takes."));
    }
    ExitCode::from(2)
}
