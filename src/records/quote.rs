//! Quotes: numbered revisions with frozen lines, alternatives among them, and what the customer said to each.

mod answers;
mod making;
mod sums;

use serde::Serialize;
use time::Date;

use super::column::{as_json, words};
use super::service::TaxClass;
use super::settings::{Settings, TaxLevelSetting, TaxRounding};
use super::work::{LineState, WorkLine};
use super::{Error, JobId, QuoteId, Result, WorkLineId, WriteTx};
use crate::quantity::{Instant, Money, Rounding, TaxLevel, TaxRule};

pub use answers::{GivenAnswer, QuoteAnswer, Said, answer, answers_of_job, ask, decline_line};
pub use making::{Discount, NewQuote, make};
pub use sums::{
    AgreedTaxed, Change, Standing, Sums, agreed_sums, agreed_taxed, agreed_total, alternatives, belongs_to, changes,
    standing, sums_of, taxed_of,
};

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
        /// Written, by e-mail.
        Email = "e-mail" => "by e-mail",
        /// Written, on paper.
        Letter = "letter" => "by letter",
        /// On the private page.
        Link = "link" => "on the private page",
        /// Nobody was asked: it stays within what the shop may add by itself to what was agreed.
        Margin = "margin" => "within the shop’s margin",
    }
}

impl AnsweredHow {
    /// The ways in which somebody in the shop hears or reads an answer.
    pub const HEARD: [Self; 4] = [Self::Counter, Self::Telephone, Self::Email, Self::Letter];
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
    /// Prices are those the customer pays, with the tax in them.
    pub prices_include_tax: bool,
    /// The number under which the shop pays tax, as it was then.
    pub tax_number: String,
    /// What all lines come to; of alternatives the first.
    pub net: Money,
    pub tax: Money,
    pub total: Money,
    pub note: String,
    /// What something was taken off for.
    pub discount_for: String,
    /// What is to be paid before the work begins.
    pub deposit_asked: Money,
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
    /// The alternative it belongs to; empty where it goes with whichever is chosen.
    pub alternative: String,
    /// What was found, in words for the customer.
    pub reason: String,
    /// Taken off the price before tax.
    pub discount: Money,
    /// What the customer said of it, as it stands.
    pub answer: Option<Answer>,
}

impl QuoteLine {
    /// What is charged for it.
    pub fn charged(&self) -> Money {
        Money(self.price.0.saturating_sub(self.discount.0))
    }
}

impl Quote {
    /// How its tax is reckoned.
    pub fn tax_rule(&self) -> TaxRule {
        TaxRule {
            is_inclusive: self.prices_include_tax,
            rounding: self.tax_rounding.into(),
            level: self.tax_level.into(),
        }
    }
}

/// Whether the lines of a job are others than those of its newest agreed revision, so that a new one is due.
pub fn differs(lines: &[WorkLine], agreed: &[QuoteLine]) -> bool {
    let now = lines.iter().filter(|line| line.state != LineState::Declined);
    let now: Vec<_> = now.map(|line| (line.id, line.price, line.words.as_str())).collect();
    // what was not chosen of alternatives is no longer on the table
    let then = agreed.iter().filter(|line| line.alternative.is_empty() || line.answer != Some(Answer::Declined));
    let then: Vec<_> = then.map(|line| (line.work_line_id, line.price, line.words.as_str())).collect();
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

/// Takes out who answered, and the note: the person asked to be forgotten. What was answered stays.
pub(super) async fn anonymise(tx: &mut WriteTx, job: JobId) -> Result<()> {
    sqlx::query!(
        "UPDATE quote SET answered_by = '', note = '', discount_for = '', version = version + 1 WHERE job_id = ?",
        job,
    )
    .execute(&mut **tx)
    .await?;
    sqlx::query!(
        "UPDATE quote_answer SET answered_by = '', words = '' WHERE quote_id IN (SELECT id FROM quote WHERE job_id = ?)",
        job,
    )
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
                  tax_rounding AS "tax_rounding: TaxRounding", tax_level AS "tax_level: TaxLevelSetting",
                  prices_include_tax AS "prices_include_tax: bool", tax_number, net AS "net: Money",
                  tax AS "tax: Money", total AS "total: Money", note, discount_for,
                  deposit_asked AS "deposit_asked: Money", answer AS "answer: Answer",
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
pub async fn lines_of(executor: impl sqlx::SqliteExecutor<'_>, quotes: &[QuoteId]) -> Result<Vec<QuoteLine>> {
    let quotes = as_json(quotes)?;
    Ok(sqlx::query_as!(
        QuoteLine,
        r#"SELECT quote_id AS "quote_id: QuoteId", work_line_id AS "work_line_id: WorkLineId", words, minutes, price AS "price: Money",
                  tax_class AS "tax_class: TaxClass", tax_rate, alternative, reason, discount AS "discount: Money",
                  answer AS "answer: Answer"
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
                  tax_rounding AS "tax_rounding: TaxRounding", tax_level AS "tax_level: TaxLevelSetting",
                  prices_include_tax AS "prices_include_tax: bool", tax_number, net AS "net: Money",
                  tax AS "tax: Money", total AS "total: Money", note, discount_for,
                  deposit_asked AS "deposit_asked: Money", answer AS "answer: Answer",
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
        r#"SELECT has_agreed AS "has_agreed!: bool", has_declined AS "has_declined!: bool" FROM job_answer WHERE job_id = ?"#,
        job,
    )
    .fetch_one(executor)
    .await?;
    Ok(!row.has_agreed && !row.has_declined)
}
