//! `thumbplane restore`: the shop from a backup, in a new folder, with every sum checked.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::backup::tell;
use super::console::{DataFolder, Said, counted, on_runtime, say};
use crate::records::backup;

#[derive(Debug, Args)]
pub(super) struct Options {
    /// The folder of backups, of which the newest is taken, or the folder of one backup
    #[arg(long, value_name = "DIR")]
    from: PathBuf,
    #[command(flatten)]
    data: DataFolder,
}

pub(super) fn run(options: &Options) -> Result<ExitCode, Said> {
    on_runtime(async {
        let found = backup::find(&options.from)?;
        let restored = backup::restore(&found, &options.data.data, tell).await?;
        let number = |rows: i64| usize::try_from(rows).unwrap_or(0);
        say(&format!(
            "{} stands again as it was at {} UTC: {}, {}, {}, {}. Every sum is right and the file is whole.",
            options.data.data.display(),
            found.manifest.made_at.rfc3339(),
            counted(number(restored.customers), "customer", "customers"),
            counted(number(restored.instruments), "instrument", "instruments"),
            counted(number(restored.jobs), "job", "jobs"),
            counted(usize::try_from(restored.photographs).unwrap_or(0), "picture", "pictures"),
        ));
        if let Some(last) = restored.last_job {
            say(&format!("The last job is {last}. What was checked in after it is not in this backup."));
        }
        Ok(ExitCode::SUCCESS)
    })
}
