//! What is ready and nobody comes for: the letters that went out, and when the next is due by the shop's own days.

use time::Date;

use super::{JobId, Result};
use crate::quantity::Instant;

/// A collection letter that was sent for a job since it became ready.
#[derive(Debug, Clone, Copy)]
pub struct Letter {
    /// For which job.
    pub job_id: JobId,
    /// When.
    pub sent_at: Instant,
}

/// The letters of every job that is ready now, since it became so. One that was only printed is none.
pub async fn letters_of_ready_jobs(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<Letter>> {
    Ok(sqlx::query_as!(
        Letter,
        r#"SELECT job.id AS "job_id: JobId", telling.said_at AS "sent_at: Instant"
           FROM job CROSS JOIN telling ON telling.job_id = job.id AND telling.matter = 'ready'
           WHERE job.is_open = 1 AND job.stage = 'ready' AND telling.how = 'letter' AND telling.said_at >= job.stage_since
           ORDER BY telling.said_at"#
    )
    .fetch_all(executor)
    .await?)
}

/// The days on which letters went out, in order. Sent twice on one day, it is one letter.
pub fn letter_days(sent_on: impl Iterator<Item = Date>) -> Vec<Date> {
    let mut days: Vec<Date> = sent_on.collect();
    days.sort_unstable();
    days.dedup();
    days
}

/// Whether the next letter's day has come: `after_days` after the job became ready, rising, one letter each; and after
/// a letter that went late the next one still keeps its distance.
pub fn is_letter_due(after_days: &[i64], ready_on: Date, letters: &[Date], today: Date) -> bool {
    let Some(after) = after_days.get(letters.len()) else { return false };
    let is_past = (today - ready_on).whole_days() >= *after;
    let Some(last) = letters.last() else { return is_past };
    let before = letters.len().checked_sub(1).and_then(|before| after_days.get(before)).unwrap_or(&0);
    is_past && (today - *last).whole_days() >= after - before
}

#[cfg(test)]
mod tests {
    use time::Date;
    use time::macros::date;

    use super::{is_letter_due, letter_days};

    #[test]
    fn each_letter_has_its_day_and_keeps_its_distance_after_one_that_went_late() {
        let ready = date!(2026 - 10 - 01);
        let due = |letters: &[Date], today| is_letter_due(&[14, 30, 60], ready, letters, today);
        assert!(!due(&[], date!(2026 - 10 - 14)));
        assert!(due(&[], date!(2026 - 10 - 15)));
        // the first went out on time: the second 30 days after ready
        assert!(!due(&[date!(2026 - 10 - 15)], date!(2026 - 10 - 30)));
        assert!(due(&[date!(2026 - 10 - 15)], date!(2026 - 10 - 31)));
        // it went ten days late: the second 16 days after it
        assert!(!due(&[date!(2026 - 10 - 25)], date!(2026 - 11 - 09)));
        assert!(due(&[date!(2026 - 10 - 25)], date!(2026 - 11 - 10)));
        let all = [date!(2026 - 10 - 15), date!(2026 - 10 - 31), date!(2026 - 11 - 30)];
        assert!(!due(&all, date!(2027 - 06 - 01)), "three letters, and no fourth");
        assert_eq!(letter_days([all[1], all[0], all[1]].into_iter()), [all[0], all[1]]);
    }
}
