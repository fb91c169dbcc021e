//! Papers that were printed, and how the shop prints labels and letters.
//!
//! Each press of *Print* is kept, so that a second print says it is a copy and a letter that went out counts.

use serde::Serialize;
use uuid::Uuid;

use super::column::{as_json, words};
use super::event::{self, AuditContext};
use super::fold::canonical;
use super::{Error, InstrumentId, JobId, QuoteId, Result, WriteTx, instrument, job, quote};
use crate::quantity::Instant;

words! {
    /// What is printed at the desk.
    PaperKind {
        /// Both halves, at check-in.
        ClaimTicket = "claim-ticket" => "claim ticket",
        /// Hangs on the instrument.
        Tag = "tag" => "instrument tag",
        /// Sticks on the shelf or the case.
        ShelfLabel = "shelf-label" => "shelf label",
        /// A quote's revision.
        Quote = "quote" => "quote",
        /// Before and after.
        Sheet = "sheet" => "work-performed sheet",
        /// What was paid.
        Receipt = "receipt" => "receipt",
        /// The yearly reminder.
        CareLetter = "care-letter" => "care letter",
        /// To somebody who does not come.
        CollectionLetter = "collection-letter" => "collection letter",
    }
}

words! {
    /// What labels are printed on.
    LabelSize {
        /// Continuous roll, 62 mm wide.
        Roll62 = "roll-62" => "62 mm roll",
        /// 101.6 by 152.4 mm.
        FourBySix = "four-by-six" => "4 × 6 in",
    }
}

/// Of what a paper is printed.
#[derive(Debug, Clone, Copy, Default)]
struct PrintedOf {
    job: Option<JobId>,
    quote: Option<QuoteId>,
    instrument: Option<InstrumentId>,
}

impl PaperKind {
    fn of(self, id: Uuid) -> PrintedOf {
        let of = PrintedOf::default();
        match self {
            Self::Quote => PrintedOf { quote: Some(QuoteId(id)), ..of },
            Self::CareLetter => PrintedOf { instrument: Some(InstrumentId(id)), ..of },
            Self::ClaimTicket | Self::Tag | Self::ShelfLabel | Self::Sheet | Self::Receipt | Self::CollectionLetter => {
                PrintedOf { job: Some(JobId(id)), ..of }
            }
        }
    }
}

/// Writes down that a paper was printed. `id` is the job's, the quote's or the instrument's.
///
/// # Errors
/// [`Error::NotFound`] for a key of none.
pub async fn printed(tx: &mut WriteTx, by: &AuditContext, kind: PaperKind, id: Uuid) -> Result<()> {
    let of = kind.of(id);
    match of {
        PrintedOf { quote: Some(id), .. } => quote::find(&mut **tx, id).await.map(|_| ())?,
        PrintedOf { instrument: Some(id), .. } => instrument::find(tx, id).await.map(|_| ())?,
        PrintedOf { .. } => job::find(&mut **tx, JobId(id)).await.map(|_| ())?,
    }
    note_printed(tx, by, kind, id).await
}

/// Writes down that a paper was printed of a record that the caller holds in hands.
pub async fn note_printed(tx: &mut WriteTx, by: &AuditContext, kind: PaperKind, id: Uuid) -> Result<()> {
    let of = kind.of(id);
    let record = match of {
        PrintedOf { quote: Some(_), .. } => "quote",
        PrintedOf { instrument: Some(_), .. } => "instrument",
        PrintedOf { .. } => "job",
    };
    sqlx::query!(
        "INSERT INTO paper_print (kind, job_id, quote_id, instrument_id, printed_at, staff_id) VALUES (?, ?, ?, ?, ?, ?)",
        kind,
        of.job,
        of.quote,
        of.instrument,
        by.at,
        by.staff,
    )
    .execute(&mut **tx)
    .await?;
    event::write::<()>(tx, by, &format!("{kind} printed"), record, id, None, None).await
}

/// Since when what was printed before is replaced, and why.
#[derive(Debug, Clone, Copy)]
pub struct Replaced {
    /// Since when.
    pub at: Instant,
    /// The job was put right; else its state was initialled.
    pub is_corrected: bool,
}

/// When what a paper says last became another: the job was put right, or, of the ticket, its state was initialled.
/// What was printed before is replaced by the next print, which is no copy.
pub async fn replaced(executor: impl sqlx::SqliteExecutor<'_>, kind: PaperKind, id: Uuid) -> Result<Option<Replaced>> {
    let of = kind.of(id);
    let is_ticket = kind == PaperKind::ClaimTicket;
    let found = sqlx::query!(
        r#"SELECT (SELECT max(corrected_at) FROM job_correction
                   WHERE job_id = coalesce(?1, (SELECT job_id FROM quote WHERE id = ?2))) AS "corrected?: Instant",
                  (SELECT max(drawn_at) FROM signature
                   WHERE job_id = ?1 AND purpose = 'condition' AND ?3) AS "initialled?: Instant""#,
        of.job,
        of.quote,
        is_ticket,
    )
    .fetch_one(executor)
    .await?;
    Ok(match (found.corrected, found.initialled) {
        (Some(at), initialled) if initialled.is_none_or(|signed| signed < at) => {
            Some(Replaced { at, is_corrected: true })
        }
        (_, Some(at)) => Some(Replaced { at, is_corrected: false }),
        (_, None) => None,
    })
}

/// When a paper was printed so far, newest first.
pub async fn prints(executor: impl sqlx::SqliteExecutor<'_>, kind: PaperKind, id: Uuid) -> Result<Vec<Instant>> {
    let of = kind.of(id);
    Ok(sqlx::query_scalar!(
        r#"SELECT printed_at AS "at!: Instant" FROM paper_print WHERE job_id = ?1 AND kind = ?4
           UNION ALL SELECT printed_at FROM paper_print WHERE quote_id = ?2
           UNION ALL SELECT printed_at FROM paper_print WHERE instrument_id = ?3
           ORDER BY 1 DESC"#,
        of.job,
        of.quote,
        of.instrument,
        kind,
    )
    .fetch_all(executor)
    .await?)
}

/// What the owner decides about labels and letters.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PaperSettings {
    /// The label printer's size.
    pub label: LabelSize,
    /// Days after *ready* at which a letter goes to whoever has not come; rising.
    pub letter_days: Vec<i64>,
    /// What the first letter says, in the shop's own words.
    pub letter_words: String,
    /// What those after it say; empty: the same.
    pub second_words: String,
    /// What the last one says; empty: the same as those before.
    pub last_words: String,
    /// What the yearly care letter says.
    pub care_words: String,
    /// For optimistic locking.
    pub version: i64,
}

impl PaperSettings {
    /// What a letter says, the first being 1.
    pub fn words_of_letter(&self, letter: usize) -> &str {
        let later = Some(self.second_words.as_str()).filter(|words| !words.is_empty()).unwrap_or(&self.letter_words);
        match letter {
            ..=1 => &self.letter_words,
            _ if letter >= self.letter_days.len() && !self.last_words.is_empty() => &self.last_words,
            _ => later,
        }
    }
}

/// The settings as they stand.
pub async fn settings(executor: impl sqlx::SqliteExecutor<'_>) -> Result<PaperSettings> {
    let row = sqlx::query!(
        r#"SELECT label AS "label: LabelSize", letter_days, letter_words, second_words, last_words, care_words, version
           FROM paper_settings WHERE id = 1"#
    )
    .fetch_optional(executor)
    .await?
    .ok_or(Error::NotFound("shop"))?;
    Ok(PaperSettings {
        label: row.label,
        letter_days: serde_json::from_str(&row.letter_days).map_err(Error::unwritable)?,
        letter_words: row.letter_words,
        second_words: row.second_words,
        last_words: row.last_words,
        care_words: row.care_words,
        version: row.version,
    })
}

/// Saves changed settings. `new.version` is the version that was read.
///
/// # Errors
/// [`Error::ChangedMeanwhile`]; refused when the days do not rise.
pub async fn save_settings(tx: &mut WriteTx, by: &AuditContext, new: &PaperSettings) -> Result<()> {
    let rising = new.letter_days.iter().all(|day| (1..=1000).contains(day)) && new.letter_days.is_sorted();
    if !rising {
        return Err(Error::refused("Type the days rising, such as 14, 30, 60."));
    }
    let before = settings(&mut **tx).await?;
    let days = as_json(&new.letter_days)?;
    let (letter_words, care_words) = (canonical(&new.letter_words), canonical(&new.care_words));
    let (second_words, last_words) = (canonical(&new.second_words), canonical(&new.last_words));
    let done = sqlx::query!(
        "UPDATE paper_settings SET label = ?, letter_days = ?, letter_words = ?, second_words = ?, last_words = ?,
             care_words = ?, version = version + 1
         WHERE id = 1 AND version = ?",
        new.label,
        days,
        letter_words,
        second_words,
        last_words,
        care_words,
        new.version,
    )
    .execute(&mut **tx)
    .await?;
    super::error::ensure_updated(&done, "settings")?;
    event::write(tx, by, "paper settings changed", "paper_settings", Uuid::nil(), Some(&before), Some(new)).await
}
