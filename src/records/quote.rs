//! Quotes: numbered revisions with frozen lines, and the customer's answer.

use serde::Serialize;
use time::Date;

use super::column::{as_json, words};
use super::event::{self, AuditContext};
use super::fold::canonical;
use super::service::TaxClass;
use super::settings::{Settings, TaxLevelSetting, TaxRounding};
use super::stage::Stage;
use super::work::{self, LineState, WorkLine};
use super::{Error, JobId, QuoteId, Result, WorkLineId, WriteTx, account, job};
use crate::quantity::{Instant, Money, Rounding, TaxLevel, TaxRate, tax_on_lines};

words! {
    /// What the customer said.
    Answer {
        /// Yes.
        Agreed = "agreed" => "agreed",
        /// No.
        Declined = "declined" => "declined",
        /// A newer revision took its place.
        Superseded = "superseded" => "superseded",
    }
}

words! {
    /// How the answer came.
    AnsweredHow {
        /// In person.
        Counter = "counter" => "at the counter",
        /// By telephone.
        Telephone = "telephone" => "by telephone",
        /// On the private page.
        Link = "link" => "on the private page",
    }
}

/// A quote, as it was printed.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Quote {
    pub id: QuoteId,
    pub job_id: JobId,
    pub revision: i64,
    pub made_at: Instant,
    pub made_by: String,
    pub valid_until: Date,
    pub currency: String,
    pub tax_name: String,
    pub tax_rounding: TaxRounding,
    pub tax_level: TaxLevelSetting,
    pub net: Money,
    pub tax: Money,
    pub total: Money,
    pub note: String,
    /// Agreed when the customer said yes to at least one line.
    pub answer: Option<Answer>,
    pub answered_at: Option<Instant>,
    pub answered_how: Option<AnsweredHow>,
    pub answered_by: String,
    pub version: i64,
}

/// A frozen line.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct QuoteLine {
    #[serde(skip)]
    pub quote_id: QuoteId,
    pub work_line_id: WorkLineId,
    pub words: String,
    pub minutes: i64,
    pub price: Money,
    pub tax_class: TaxClass,
    pub tax_rate: i64,
    /// What the customer said of it, as it stands.
    pub answer: Option<Answer>,
}

/// What lines come to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Sums {
    pub net: Money,
    pub tax: Money,
    pub total: Money,
}

fn sums(taxed: &[(Money, TaxRate)], rounding: TaxRounding, level: TaxLevelSetting) -> Result<Sums> {
    let beyond = || Error::refused("The sum is larger than the shop's books can hold. Check the prices.");
    let net = taxed.iter().try_fold(0_i64, |sum, (price, _)| sum.checked_add(price.0)).ok_or_else(beyond)?;
    let tax = tax_on_lines(taxed, rounding.into(), level.into()).ok_or_else(beyond)?;
    let total = net.checked_add(tax.0).ok_or_else(beyond)?;
    Ok(Sums { net: Money(net), tax, total: Money(total) })
}

/// What the lines that were agreed to come to, by the rates and the rounding the quote was made with.
///
/// # Errors
/// Refused when the sum is beyond money.
pub fn agreed_sums(quote: &Quote, lines: &[QuoteLine]) -> Result<Sums> {
    let agreed = lines.iter().filter(|line| line.answer == Some(Answer::Agreed));
    let taxed: Vec<(Money, TaxRate)> = agreed.map(|line| (line.price, TaxRate(line.tax_rate))).collect();
    sums(&taxed, quote.tax_rounding, quote.tax_level)
}

/// Whether the lines of a job are others than those of its newest agreed revision, so that a new one is due.
pub fn differs(lines: &[WorkLine], agreed: &[QuoteLine]) -> bool {
    let now = lines.iter().filter(|line| line.state != LineState::Declined);
    let now: Vec<_> = now.map(|line| (line.id, line.price, line.words.as_str())).collect();
    let then: Vec<_> = agreed.iter().map(|line| (line.work_line_id, line.price, line.words.as_str())).collect();
    !now.is_empty() && now != then
}

impl From<TaxRounding> for Rounding {
    fn from(setting: TaxRounding) -> Self {
        match setting {
            TaxRounding::HalfUp => Self::HalfUp,
            TaxRounding::HalfEven => Self::HalfEven,
            TaxRounding::Down => Self::Down,
        }
    }
}

impl From<TaxLevelSetting> for TaxLevel {
    fn from(setting: TaxLevelSetting) -> Self {
        match setting {
            TaxLevelSetting::PerLine => Self::PerLine,
            TaxLevelSetting::OnTotal => Self::OnTotal,
        }
    }
}

/// The rate of a tax class, in thousandths of a percent.
pub fn tax_rate(settings: &Settings, class: TaxClass) -> i64 {
    match class {
        TaxClass::Standard => settings.standard_tax_rate,
        TaxClass::Reduced => settings.reduced_tax_rate,
        TaxClass::None => 0,
    }
}

/// Makes the next revision from every line that was not declined, and sets older unanswered ones
/// aside. The same form sent twice makes one. A measured job moves to *quoted*.
///
/// # Errors
/// Refused when there is nothing to quote, nothing was measured yet, or the sum is beyond money.
pub async fn make(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: JobId,
    form_key: &str,
    settings: &Settings,
    valid_until: Date,
    note: &str,
) -> Result<QuoteId> {
    if let Some(id) = sqlx::query_scalar!(r#"SELECT id AS "id: QuoteId" FROM quote WHERE form_key = ?"#, form_key)
        .fetch_optional(&mut **tx)
        .await?
    {
        return Ok(id);
    }
    let person = by.person()?;
    let job = job::find(&mut **tx, job_id).await?;
    match job.stage {
        Stage::CheckedIn => {
            return Err(Error::refused(
                "Nothing was measured yet. Measure first, or mark the job as measured when there is nothing to measure.",
            ));
        }
        Stage::Ready | Stage::Collected | Stage::ClosedUnrepaired => {
            let way = if job.stage == Stage::Ready {
                "Move it back to the final check first, and say why."
            } else {
                "When the instrument comes back, check it in again."
            };
            return Err(Error::refused(format!("{} is {}; there is nothing to quote. {way}", job.number, job.stage)));
        }
        Stage::Measured | Stage::Quoted | Stage::Agreed | Stage::OnTheBench | Stage::FinalCheck => {}
    }
    let mut lines = work::of_job(&mut **tx, job_id).await?;
    lines.retain(|line| line.state != LineState::Declined);
    if lines.is_empty() {
        return Err(Error::refused("There is no work to quote yet. Propose work lines first."));
    }
    let taxed: Vec<(Money, TaxRate)> =
        lines.iter().map(|line| (line.price, TaxRate(tax_rate(settings, line.tax_class)))).collect();
    let Sums { net, tax, total } = sums(&taxed, settings.tax_rounding, settings.tax_level)?;
    let revision = sqlx::query_scalar!(
        r#"SELECT coalesce(max(revision), 0) + 1 AS "revision!: i64" FROM quote WHERE job_id = ?"#,
        job_id,
    )
    .fetch_one(&mut **tx)
    .await?;
    sqlx::query!(
        "UPDATE quote SET answer = 'superseded', answered_at = ?, version = version + 1 WHERE job_id = ? AND answer IS NULL",
        by.at,
        job_id,
    )
    .execute(&mut **tx)
    .await?;
    let id = QuoteId::new();
    let note = canonical(note);
    sqlx::query!(
        "INSERT INTO quote (id, job_id, revision, made_at, staff_id, valid_until, currency, tax_name, tax_rounding, tax_level,
             net, tax, total, note, form_key)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        job_id,
        revision,
        by.at,
        person,
        valid_until,
        settings.currency,
        settings.tax_name,
        settings.tax_rounding,
        settings.tax_level,
        net,
        tax,
        total,
        note,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    for (position, (line, (_, rate))) in (1_i64..).zip(lines.iter().zip(&taxed)) {
        let rate = rate.0;
        sqlx::query!(
            "INSERT INTO quote_line (quote_id, position, work_line_id, words, minutes, price, tax_class, tax_rate)
             VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            id,
            position,
            line.id,
            line.words,
            line.minutes,
            line.price,
            line.tax_class,
            rate,
        )
        .execute(&mut **tx)
        .await?;
    }
    event::write(tx, by, "quote made", "job", job_id.0, None, Some(&(id, revision, total))).await?;
    job::follow(tx, by, job_id, Stage::Measured, Stage::Quoted).await?;
    Ok(id)
}

/// Writes the customer's answer down: yes to the lines named, no to the others; who said it, how, and who wrote
/// it down. What was begun with a yes stays agreed.
///
/// # Errors
/// Refused when the revision was already answered otherwise or superseded.
pub async fn answer(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: QuoteId,
    yes_to: &[WorkLineId],
    how: AnsweredHow,
    answered_by: &str,
) -> Result<JobId> {
    let quote = find(&mut **tx, id).await?;
    let frozen = lines(&mut **tx, id).await?;
    if !yes_to.iter().all(|yes| frozen.iter().any(|line| line.work_line_id == *yes)) {
        return Err(Error::NotFound("line of this quote"));
    }
    let yes = if yes_to.is_empty() { Answer::Declined } else { Answer::Agreed };
    let standing = work::of_job(&mut **tx, quote.job_id).await?;
    let is_kept = |id: WorkLineId| standing.iter().any(|line| line.id == id && line.is_kept());
    let said: Vec<(WorkLineId, Answer)> = frozen
        .iter()
        .map(|line| line.work_line_id)
        .map(|line| (line, yes == Answer::Agreed && (yes_to.contains(&line) || is_kept(line))))
        .map(|(line, agreed)| (line, if agreed { Answer::Agreed } else { Answer::Declined }))
        .collect();
    if quote.answer == Some(yes) && frozen.iter().zip(&said).all(|(line, (_, said))| line.answer == Some(*said)) {
        return Ok(quote.job_id); // pressed twice
    }
    job::in_the_house(&mut **tx, quote.job_id, "no answer is taken any more").await?;
    if let Some(earlier) = quote.answer {
        return Err(Error::refused(format!(
            "Revision {} is already {earlier}. Make a new revision to change what was said.",
            quote.revision
        )));
    }
    let answered_by = canonical(answered_by);
    sqlx::query!(
        "UPDATE quote SET answer = ?, answered_at = ?, answered_how = ?, answered_by = ?, answer_staff_id = ?, version = version + 1
         WHERE id = ?",
        yes,
        by.at,
        how,
        answered_by,
        by.staff,
        id,
    )
    .execute(&mut **tx)
    .await?;
    for (line, said) in &said {
        sqlx::query!("UPDATE quote_line SET answer = ? WHERE quote_id = ? AND work_line_id = ?", said, id, line)
            .execute(&mut **tx)
            .await?;
        match said {
            Answer::Agreed => work::answered(tx, *line, LineState::Agreed).await?,
            Answer::Declined | Answer::Superseded if is_kept(*line) => {}
            Answer::Declined | Answer::Superseded => no_longer_agreed(tx, *line).await?,
        }
    }
    keep_in_account(tx, quote.job_id).await?;
    let after = (id, yes, how, answered_by, said);
    event::write(tx, by, "quote answered", "job", quote.job_id.0, None, Some(&after)).await?;
    if yes == Answer::Agreed {
        job::follow(tx, by, quote.job_id, Stage::Quoted, Stage::Agreed).await?;
    }
    Ok(quote.job_id)
}

/// The customer says no to one line after all, also after a yes: a slip at the counter, or a mind changed. It counts
/// no more. Pressed twice it is declined once.
///
/// # Errors
/// Refused without a reason, once the instrument has left the house, and when work on the line was begun.
pub async fn decline_line(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: JobId,
    id: WorkLineId,
    reason: &str,
) -> Result<()> {
    let line = work::find(tx, job_id, id).await?;
    job::in_the_house(&mut **tx, job_id, "its lines stay as they are").await?;
    if line.state == LineState::Declined {
        return Ok(()); // pressed twice
    }
    let reason = canonical(reason);
    if reason.is_empty() {
        return Err(Error::refused("Say why: who said no, and when."));
    }
    if !line.may_decline() {
        let (why, way) = match (line.state, line.is_begun) {
            (LineState::Proposed, false) => ("no quote names it yet", "Take it off instead"),
            (_, true) => ("time or parts went into it", "Settle the price with the customer in a new revision"),
            _ => ("it is ticked off", "If it was not done, the bench opens it again first"),
        };
        return Err(Error::refused(format!("“{}” cannot be declined, because {why}. {way}.", line.words)));
    }
    no_longer_agreed(tx, id).await?;
    keep_in_account(tx, job_id).await?;
    event::write(tx, by, "work line declined", "job", job_id.0, None, Some(&(line.words, line.state, reason))).await
}

async fn no_longer_agreed(tx: &mut WriteTx, line: WorkLineId) -> Result<()> {
    sqlx::query!("UPDATE quote_line SET answer = 'declined' WHERE work_line_id = ? AND answer = 'agreed'", line)
        .execute(&mut **tx)
        .await?;
    work::answered(tx, line, LineState::Declined).await
}

/// Takes out who answered, and the note: the person asked to be forgotten. What was answered stays.
pub(super) async fn anonymise(tx: &mut WriteTx, job: JobId) -> Result<()> {
    sqlx::query!("UPDATE quote SET answered_by = '', note = '', version = version + 1 WHERE job_id = ?", job)
        .execute(&mut **tx)
        .await?;
    Ok(())
}

/// Quotes nobody has answered yet, of open jobs, oldest first. Asked by open job: quotes that were never answered, of
/// jobs that left the house, only grow more.
pub async fn unanswered(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<Unanswered>> {
    Ok(sqlx::query_as!(
        Unanswered,
        r#"SELECT quote.id AS "id: QuoteId", quote.job_id AS "job_id: JobId", quote.made_at AS "made_at: Instant",
                  quote.valid_until AS "valid_until: Date", quote.total AS "total: Money"
           FROM job CROSS JOIN quote ON quote.job_id = job.id
           WHERE job.is_open = 1 AND quote.answer IS NULL
           ORDER BY quote.made_at"#
    )
    .fetch_all(executor)
    .await?)
}

/// A quote that waits for its answer.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Unanswered {
    pub id: QuoteId,
    pub job_id: JobId,
    pub made_at: Instant,
    pub valid_until: Date,
    pub total: Money,
}

/// The newest quote of the house: keys are made in the order of time.
pub async fn newest(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Option<QuoteId>> {
    Ok(sqlx::query_scalar!(r#"SELECT id AS "id: QuoteId" FROM quote ORDER BY id DESC LIMIT 1"#)
        .fetch_optional(executor)
        .await?)
}

/// One quote.
pub async fn find(executor: impl sqlx::SqliteExecutor<'_>, id: QuoteId) -> Result<Quote> {
    sqlx::query_as!(
        Quote,
        r#"SELECT quote.id AS "id: QuoteId", job_id AS "job_id: JobId", revision, made_at AS "made_at: Instant",
                  staff.name AS made_by, valid_until AS "valid_until: Date", currency, tax_name,
                  tax_rounding AS "tax_rounding: TaxRounding", tax_level AS "tax_level: TaxLevelSetting", net AS "net: Money",
                  tax AS "tax: Money", total AS "total: Money", note, answer AS "answer: Answer",
                  answered_at AS "answered_at: Instant", answered_how AS "answered_how: AnsweredHow", answered_by,
                  quote.version
           FROM quote JOIN staff ON staff.id = quote.staff_id
           WHERE quote.id = ?"#,
        id,
    )
    .fetch_optional(executor)
    .await?
    .ok_or(Error::NotFound("quote"))
}

/// The frozen lines of a quote.
pub async fn lines(executor: impl sqlx::SqliteExecutor<'_>, id: QuoteId) -> Result<Vec<QuoteLine>> {
    lines_of(executor, &[id]).await
}

/// The frozen lines of some quotes, each quote's in order.
pub(super) async fn lines_of(executor: impl sqlx::SqliteExecutor<'_>, quotes: &[QuoteId]) -> Result<Vec<QuoteLine>> {
    let quotes = as_json(quotes)?;
    Ok(sqlx::query_as!(
        QuoteLine,
        r#"SELECT quote_id AS "quote_id: QuoteId", work_line_id AS "work_line_id: WorkLineId", words, minutes, price AS "price: Money",
                  tax_class AS "tax_class: TaxClass", tax_rate, answer AS "answer: Answer"
           FROM quote_line WHERE quote_id IN (SELECT unhex(value, '-') FROM json_each(?)) ORDER BY position"#,
        quotes,
    )
    .fetch_all(executor)
    .await?)
}

/// The revisions of a job, newest first.
pub async fn of_job(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Vec<Quote>> {
    of_jobs(executor, &[job]).await
}

/// The revisions of some jobs, newest first.
pub(super) async fn of_jobs(executor: impl sqlx::SqliteExecutor<'_>, jobs: &[JobId]) -> Result<Vec<Quote>> {
    let jobs = as_json(jobs)?;
    Ok(sqlx::query_as!(
        Quote,
        r#"SELECT quote.id AS "id: QuoteId", job_id AS "job_id: JobId", revision, made_at AS "made_at: Instant",
                  staff.name AS made_by, valid_until AS "valid_until: Date", currency, tax_name,
                  tax_rounding AS "tax_rounding: TaxRounding", tax_level AS "tax_level: TaxLevelSetting", net AS "net: Money",
                  tax AS "tax: Money", total AS "total: Money", note, answer AS "answer: Answer",
                  answered_at AS "answered_at: Instant", answered_how AS "answered_how: AnsweredHow", answered_by,
                  quote.version
           FROM quote JOIN staff ON staff.id = quote.staff_id
           WHERE job_id IN (SELECT unhex(value, '-') FROM json_each(?)) ORDER BY revision DESC"#,
        jobs,
    )
    .fetch_all(executor)
    .await?)
}

/// Whether the customer has still to say what they agree to pay: they agreed to no revision yet, and the newest one, if
/// there is any, waits for its answer.
pub async fn is_unanswered(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<bool> {
    let row = sqlx::query!(
        r#"SELECT EXISTS (SELECT 1 FROM quote WHERE job_id = ?1 AND answer = 'agreed') AS "has_agreed!: bool",
                  EXISTS (SELECT 1 FROM quote WHERE job_id = ?1 AND answer = 'declined'
                          AND revision = (SELECT max(revision) FROM quote WHERE job_id = ?1)) AS "has_declined!: bool""#,
        job,
    )
    .fetch_one(executor)
    .await?;
    Ok(!row.has_agreed && !row.has_declined)
}

/// What the customer agreed to pay: the lines of the newest agreed revision whose yes stands. Work nobody agreed
/// to never enters.
pub async fn agreed_total(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Money> {
    Ok(agreed_revision(executor, job).await?.map_or(Money(0), |(_, sums)| sums.total))
}

/// The newest agreed revision: when it was answered, and what its lines whose yes stands come to.
async fn agreed_revision(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Option<(Instant, Sums)>> {
    let rows = sqlx::query!(
        r#"SELECT price AS "price: Money", tax_rate, tax_rounding AS "tax_rounding: TaxRounding",
                  tax_level AS "tax_level: TaxLevelSetting", answered_at AS "answered_at!: Instant"
           FROM quote_line JOIN quote ON quote.id = quote_line.quote_id
           WHERE quote_line.answer = 'agreed' AND quote.id =
               (SELECT id FROM quote WHERE job_id = ? AND answer = 'agreed' ORDER BY revision DESC LIMIT 1)
           ORDER BY position"#,
        job,
    )
    .fetch_all(executor)
    .await?;
    let Some(first) = rows.first() else { return Ok(None) };
    let taxed: Vec<(Money, TaxRate)> = rows.iter().map(|row| (row.price, TaxRate(row.tax_rate))).collect();
    Ok(Some((first.answered_at, sums(&taxed, first.tax_rounding, first.tax_level)?)))
}

/// Keeps what a job comes to in its account.
async fn keep_in_account(tx: &mut WriteTx, job: JobId) -> Result<()> {
    let agreed = agreed_revision(&mut **tx, job).await?;
    account::keep_agreed(tx, job, agreed.map(|(at, sums)| (at, sums.net, sums.total))).await
}
