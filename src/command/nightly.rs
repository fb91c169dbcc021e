//! What the open shop does by itself at night: a backup in each folder it was given.

use std::path::{Path, PathBuf};
use std::time::Duration;

use super::backup::{Kept, throw_away_old};
use crate::clock::Clock;
use crate::quantity::Instant;
use crate::records::backup::{self, BackupError};

/// The hour of the shop's day from which a night's backup is made.
const HOUR: u8 = 2;
/// A backup older than this is made good at once: the computer may be off every night.
const OLDEST: i64 = 26 * 3_600_000_000;
/// How often it is looked whether one is due. After a failure, too: a disk that was plugged in gets its copy.
const EVERY: Duration = Duration::from_secs(10 * 60);

/// Makes each night's backups for as long as the shop is open.
pub(super) async fn backups(data: PathBuf, to: Vec<PathBuf>, keep: Kept, clock: Clock) {
    if to.is_empty() {
        return;
    }
    let mut looks = tokio::time::interval(EVERY);
    looks.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
    loop {
        looks.tick().await;
        for folder in &to {
            match one_if_due(&data, folder, keep, &clock).await {
                Ok(None) => {}
                Ok(Some(faults)) if faults.is_empty() => tracing::info!("backup.made"),
                Ok(Some(faults)) => tracing::error!(faults = faults.len(), "backup.lacks_photographs"),
                Err(cause) => tracing::error!(cause = %cause, "backup.failed"),
            }
        }
    }
}

/// What was wrong with the backup that was due; `None` when none was.
async fn one_if_due(data: &Path, to: &Path, keep: Kept, clock: &Clock) -> Result<Option<Vec<String>>, BackupError> {
    let newest = if to.exists() { backup::all(to)?.pop().map(|newest| newest.manifest.made_at) } else { None };
    if !is_due(newest, clock) {
        return Ok(None);
    }
    let made = backup::make(data, to, clock.now(), |_| ()).await?;
    if made.manifest.faults.is_empty() {
        throw_away_old(to, keep, clock).await?;
    }
    Ok(Some(made.manifest.faults))
}

/// Due where there is none, where the newest is old (or of a clock that ran ahead), and once a night.
fn is_due(newest: Option<Instant>, clock: &Clock) -> bool {
    let now = clock.now();
    let Some(newest) = newest else {
        return true;
    };
    let is_old = !(0..OLDEST).contains(&(now.0 - newest.0));
    let is_night = clock.local_time(now).hour() >= HOUR;
    is_old || (is_night && clock.local_date(newest) < clock.today())
}

#[cfg(test)]
mod tests {
    use time::macros::datetime;

    use super::is_due;
    use crate::clock::Clock;
    use crate::quantity::Instant;

    #[test]
    fn a_backup_is_due_once_a_night_and_as_soon_as_the_newest_is_old() {
        let clock = Clock::fixed(Instant::from_utc(datetime!(2026-03-10 02:15 UTC)), "Europe/London").unwrap();
        let at = |moment| Some(Instant::from_utc(moment));
        assert!(is_due(None, &clock), "the first");
        assert!(is_due(at(datetime!(2026-03-09 02:05 UTC)), &clock), "last night's");
        assert!(!is_due(at(datetime!(2026-03-10 02:05 UTC)), &clock), "this night's is there");
        assert!(!is_due(at(datetime!(2026-03-10 00:30 UTC)), &clock), "one by hand this morning will do");
        // before the hour, yesterday's will do; one of the day before is made good at once
        clock.set(Instant::from_utc(datetime!(2026-03-10 01:30 UTC)));
        assert!(!is_due(at(datetime!(2026-03-09 02:05 UTC)), &clock));
        assert!(is_due(at(datetime!(2026-03-08 02:05 UTC)), &clock));
        // the clock ran a month ahead when the newest was made
        assert!(is_due(at(datetime!(2026-04-10 02:05 UTC)), &clock));
    }
}
