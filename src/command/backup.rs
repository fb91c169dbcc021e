//! `thumbplane backup`: a copy of the shop in another folder, read back, while the shop is open.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;
use time::Date;

use super::console::{DataFolder, Said, counted, on_runtime, say, say_error};
use crate::clock::Clock;
use crate::quantity::Instant;
use crate::records::backup::{self, Backup, Keep, Progress};

#[derive(Debug, Args)]
pub(super) struct Options {
    #[command(flatten)]
    data: DataFolder,
    /// The folder of backups, best on another disk; once for each
    #[arg(long, value_name = "DIR", env = "THUMBPLANE_BACKUP_TO", value_delimiter = ',', required = true)]
    to: Vec<PathBuf>,
    #[command(flatten)]
    keep: Kept,
}

/// What a new backup leaves of the old ones: the newest of each of so many days, weeks and months that have any.
#[derive(Debug, Clone, Copy, Args)]
pub(super) struct Kept {
    /// Days whose newest backup is kept
    #[arg(long, value_name = "N", default_value_t = 7)]
    keep_days: usize,
    /// Weeks whose newest backup is kept
    #[arg(long, value_name = "N", default_value_t = 4)]
    keep_weeks: usize,
    /// Months whose newest backup is kept
    #[arg(long, value_name = "N", default_value_t = 12)]
    keep_months: usize,
}

pub(super) fn run(options: &Options) -> Result<ExitCode, Said> {
    on_runtime(async {
        let mut done = ExitCode::SUCCESS;
        for to in &options.to {
            // a folder that cannot be written, such as a disk that is not plugged in, keeps no other from its copy
            match one(&options.data.data, to, options.keep).await {
                Ok(true) => {}
                Ok(false) => done = ExitCode::FAILURE,
                Err(cause) => {
                    say_error(&format!("thumbplane: {cause}"));
                    done = ExitCode::FAILURE;
                }
            }
        }
        Ok(done)
    })
}

/// Makes one and says what it holds. `false` where a photograph is missing from it.
async fn one(data: &Path, to: &Path, keep: Kept) -> Result<bool, Said> {
    let clock = Clock::system("UTC")?;
    let made = backup::make(data, to, clock.now(), tell).await?;
    say(&format!("{} holds {}.", made.folder.display(), held(&made)));
    for fault in &made.manifest.faults {
        say_error(&format!("thumbplane: {fault}"));
    }
    if !made.manifest.faults.is_empty() {
        say_error("thumbplane: no older backup was thrown away, because this one lacks photographs.");
        return Ok(false);
    }
    // by the days of the shop, not of the computer
    let zone = made.manifest.time_zone.as_deref().unwrap_or("UTC");
    let gone = throw_away_old(to, keep, &Clock::system(zone)?).await?;
    if gone > 0 {
        say(&format!("{} thrown away.", counted(gone, "older backup", "older backups")));
    }
    Ok(true)
}

/// Throws away what the rule does not keep, by the days of a clock's zone.
pub(super) async fn throw_away_old(to: &Path, keep: Kept, clock: &Clock) -> Result<usize, backup::BackupError> {
    let keep = Keep { days: keep.keep_days, weeks: keep.keep_weeks, months: keep.keep_months };
    let day = |at: Instant| -> Date { clock.local_date(at) };
    backup::throw_away_old(to, keep, day).await
}

/// What a backup holds, in words.
pub(super) fn held(backup: &Backup) -> String {
    let rows = |table: &str| usize::try_from(backup.manifest.rows.get(table).copied().unwrap_or(0)).unwrap_or(0);
    let last = backup.manifest.last_job.as_ref().map_or_else(String::new, |number| format!(", the last job {number}"));
    format!(
        "{}, {}, {}{last}, {}",
        counted(rows("customer"), "customer", "customers"),
        counted(rows("instrument"), "instrument", "instruments"),
        counted(rows("job"), "job", "jobs"),
        counted(usize::try_from(backup.manifest.photographs).unwrap_or(0), "picture", "pictures"),
    )
}

/// How far it is, a line a thousand photographs.
pub(super) fn tell(progress: Progress) {
    match progress {
        Progress::Books => say("Copying the books …"),
        Progress::ReadingBack => say("Reading the copy back …"),
        Progress::Photographs(seen) if seen % 1000 == 0 => say(&format!("{seen} pictures …")),
        Progress::Photographs(_) => {}
    }
}
