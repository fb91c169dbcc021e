//! What the commands share: the data folder, and how they speak to the console.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

/// Where the shop's file lies.
#[derive(Debug, Args)]
pub(super) struct DataFolder {
    /// The folder that holds the shop's file
    #[arg(long = "data", value_name = "DIR", env = "THUMBPLANE_DATA", default_value = "./shop-data")]
    pub(super) data: PathBuf,
}

/// A failure, in one line for the person at the console.
pub(super) type Said = Box<dyn std::error::Error>;

/// A console that was closed is no reason to stop the shop.
pub(super) fn say(words: &str) {
    let _ = writeln!(std::io::stdout().lock(), "{words}");
}

pub(super) fn say_error(words: &str) {
    let _ = writeln!(std::io::stderr().lock(), "{words}");
}

pub(super) fn on_runtime<T>(work: impl Future<Output = Result<T, Said>>) -> Result<T, Said> {
    tokio::runtime::Builder::new_multi_thread().enable_all().build()?.block_on(work)
}

/// A number with its word: "1 job", "12 jobs".
pub(super) fn counted(number: usize, one: &str, many: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { many })
}
