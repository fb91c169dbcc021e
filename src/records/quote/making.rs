//! The next revision: the lines of a job frozen, with the reason of each, what is taken off, and what they come to.

use time::Date;

use super::super::event::{self, AuditContext};
use super::super::fold::canonical;
use super::super::service;
use super::super::settings::Settings;
use super::super::stage::Stage;
use super::super::work::{self, LineState, WorkLine};
use super::super::{Error, JobId, QuoteId, Result, WriteTx, job, plan};
use super::answers::agree_within_margin;
use super::sums::{Sums, taxed_lines};
use super::tax_rate;
use crate::quantity::{Money, TaxRate, TaxRule, shared_out};

/// What is taken off before tax.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Discount {
    /// Nothing.
    None,
    /// So much of each line, in thousandths of a percent.
    Percent(TaxRate),
    /// An amount, shared out over the lines by their prices.
    Amount(Money),
}

/// What is written down of a new revision beside its lines.
#[derive(Debug, Clone, Copy)]
#[expect(missing_docs, reason = "the names say it")]
pub struct NewQuote<'a> {
    pub form_key: &'a str,
    pub valid_until: Date,
    pub note: &'a str,
    pub discount: Discount,
    pub discount_for: &'a str,
    pub deposit_asked: Money,
}

impl<'a> NewQuote<'a> {
    /// One with nothing taken off and no deposit asked.
    pub fn plain(form_key: &'a str, valid_until: Date) -> Self {
        Self { form_key, valid_until, note: "", discount: Discount::None, discount_for: "", deposit_asked: Money(0) }
    }
}

/// Makes the next revision from every line that was not declined, and sets older unanswered ones
/// aside. The same form sent twice makes one. A job that waits for a quote moves to *quoted*.
///
/// # Errors
/// Refused when there is nothing to quote, the sum is beyond money, or more is taken off than there is.
pub async fn make(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: JobId,
    settings: &Settings,
    new: NewQuote<'_>,
) -> Result<QuoteId> {
    if let Some(id) = sqlx::query_scalar!(r#"SELECT id AS "id: QuoteId" FROM quote WHERE form_key = ?"#, new.form_key)
        .fetch_optional(&mut **tx)
        .await?
    {
        return Ok(id);
    }
    let person = by.person()?;
    let job = job::find(&mut **tx, job_id).await?;
    if matches!(job.stage, Stage::Ready | Stage::Collected | Stage::ClosedUnrepaired) {
        let way = if job.stage == Stage::Ready {
            "Move it back to the final check first, and say why."
        } else {
            "When the instrument comes back, check it in again."
        };
        return Err(Error::refused(format!("{} is {}; there is nothing to quote. {way}", job.number, job.stage)));
    }
    let mut lines = work::of_job(&mut **tx, job_id).await?;
    lines.retain(|line| line.state != LineState::Declined);
    if lines.is_empty() {
        return Err(Error::refused("There is no work to quote yet. Measure it, or choose a line of work first."));
    }
    let discounts = discounts(&lines, new.discount)?;
    let rule = TaxRule {
        is_inclusive: settings.prices_include_tax,
        rounding: settings.tax_rounding.into(),
        level: settings.tax_level.into(),
    };
    let first = lines.iter().map(|line| line.alternative.as_str()).find(|name| !name.is_empty()).unwrap_or("");
    let charged: Vec<(Money, TaxRate)> = lines
        .iter()
        .zip(&discounts)
        .filter(|(line, _)| line.alternative.is_empty() || line.alternative == first)
        .map(|(line, discount)| (Money(line.price.0 - discount.0), TaxRate(tax_rate(settings, line.tax_class))))
        .collect();
    let Sums { net, tax, total } = Sums::from(&taxed_lines(&charged, rule)?);
    if new.deposit_asked > total {
        return Err(Error::refused("The deposit is more than the quote comes to: ask for less."));
    }
    let reasons = plan::reasons(&mut **tx, job_id).await?;
    let services = service::all(&mut **tx).await?;
    let told = |line: &WorkLine| {
        let of_line = services.iter().find(|service| Some(service.id) == line.service_id);
        of_line.map_or("", |service| service.told.as_str())
    };
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
    let (note, discount_for) = (canonical(new.note), canonical(new.discount_for));
    sqlx::query!(
        "INSERT INTO quote (id, job_id, revision, made_at, staff_id, valid_until, currency, tax_name, tax_rounding, tax_level,
             prices_include_tax, tax_number, net, tax, total, note, discount_for, deposit_asked, form_key)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        job_id,
        revision,
        by.at,
        person,
        new.valid_until,
        settings.currency,
        settings.tax_name,
        settings.tax_rounding,
        settings.tax_level,
        settings.prices_include_tax,
        settings.tax_number,
        net,
        tax,
        total,
        note,
        discount_for,
        new.deposit_asked,
        new.form_key,
    )
    .execute(&mut **tx)
    .await?;
    for (position, (line, discount)) in (1_i64..).zip(lines.iter().zip(&discounts)) {
        let rate = tax_rate(settings, line.tax_class);
        let reason = line.finding.as_ref().and_then(|finding| reasons.get(finding));
        let reason = reason.map_or_else(|| told(line), String::as_str);
        sqlx::query!(
            "INSERT INTO quote_line (quote_id, position, work_line_id, words, minutes, price, tax_class, tax_rate, alternative,
                 reason, discount)
             VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            id,
            position,
            line.id,
            line.words,
            line.minutes,
            line.price,
            line.tax_class,
            rate,
            line.alternative,
            reason,
            discount,
        )
        .execute(&mut **tx)
        .await?;
    }
    event::write(tx, by, "quote made", "job", job_id.0, None, Some(&(id, revision, total))).await?;
    job::follow(tx, by, job_id, Stage::CheckedIn, Stage::Quoted).await?;
    job::follow(tx, by, job_id, Stage::Measured, Stage::Quoted).await?;
    agree_within_margin(tx, by, id, settings.quote_margin).await?;
    Ok(id)
}

/// What is taken off each line.
fn discounts(lines: &[WorkLine], discount: Discount) -> Result<Vec<Money>> {
    let too_much = || Error::refused("More cannot be taken off than the lines come to.");
    let prices: Vec<i64> = lines.iter().map(|line| line.price.0).collect();
    match discount {
        Discount::None | Discount::Amount(Money(0)) => Ok(vec![Money(0); lines.len()]),
        Discount::Percent(rate) => lines.iter().map(|line| rate.of(line.price).ok_or_else(too_much)).collect(),
        Discount::Amount(_) if lines.iter().any(|line| !line.alternative.is_empty()) => Err(Error::refused(
            "Where the customer chooses between alternatives, take off so many percent: an amount would be another part of \
             each.",
        )),
        Discount::Amount(amount) if amount.0 > prices.iter().sum::<i64>() => Err(too_much()),
        Discount::Amount(amount) => shared_out(amount, &prices).ok_or_else(too_much),
    }
}
