//! `thumbplane check`: whether the shop's file is whole, and every photograph what it was; the same of a backup.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::backup::{held, tell};
use super::console::{DataFolder, Said, on_runtime, say, say_error};
use crate::records::{backup, check_beside};

#[derive(Debug, Args)]
pub(super) struct Options {
    #[command(flatten)]
    data: DataFolder,
    /// Check a backup instead: a folder of backups, of which the newest is taken, or the folder of one
    #[arg(long, value_name = "DIR")]
    backup: Option<PathBuf>,
}

pub(super) fn run(options: &Options) -> Result<ExitCode, Said> {
    let (whole, faults) = on_runtime(async {
        match &options.backup {
            Some(folder) => {
                let found = backup::find(folder)?;
                let faults = found.faults(tell).await?;
                Ok((format!("{} is whole: {}.", found.folder.display(), held(&found)), faults))
            }
            None => {
                let folder = &options.data.data;
                if !folder.join("thumbplane.db").exists() {
                    return Err(
                        format!("there is no shop in {}. Name its folder with --data.", folder.display()).into()
                    );
                }
                let report = check_beside(folder).await?;
                let whole = format!(
                    "The shop's file is whole: {} customers, {} instruments, {} jobs.",
                    report.customers, report.instruments, report.jobs
                );
                Ok((whole, report.faults))
            }
        }
    })?;
    if faults.is_empty() {
        say(&whole);
        return Ok(ExitCode::SUCCESS);
    }
    say_error(&match &options.backup {
        Some(folder) => {
            format!("thumbplane: {} has faults. Use an older backup, and make a new one:", folder.display())
        }
        None => format!(
            "thumbplane: the file has faults. Stop the shop, keep a copy of {}, and go back to the last good backup:",
            options.data.data.display()
        ),
    });
    for fault in faults {
        say_error(&format!("  {fault}"));
    }
    Ok(ExitCode::FAILURE)
}
