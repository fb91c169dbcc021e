//! What the lines of a quote come to, choice by choice, and what changed from one revision to the next.

use std::fmt;

use super::super::{Error, JobId, Result, WorkLineId};
use super::{Answer, Quote, QuoteLine};
use crate::quantity::{Instant, Money, TaxRate, TaxRule, Taxed, taxed};
use crate::records::settings::{TaxLevelSetting, TaxRounding};

/// What lines come to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Sums {
    pub net: Money,
    pub tax: Money,
    pub total: Money,
}

impl From<&Taxed> for Sums {
    fn from(taxed: &Taxed) -> Self {
        Self { net: taxed.net, tax: taxed.tax, total: taxed.total }
    }
}

/// What lines of price and rate come to, rate by rate.
pub(super) fn taxed_lines(lines: &[(Money, TaxRate)], rule: TaxRule) -> Result<Taxed> {
    taxed(lines, rule)
        .ok_or_else(|| Error::refused("The sum is larger than the shop's books can hold. Check the prices."))
}

/// What some lines of a quote come to, rate by rate, by the rates and the rounding it was made with.
///
/// # Errors
/// Refused when the sum is beyond money.
pub fn taxed_of<'a>(quote: &Quote, lines: impl Iterator<Item = &'a QuoteLine>) -> Result<Taxed> {
    let lines: Vec<(Money, TaxRate)> = lines.map(|line| (line.charged(), TaxRate(line.tax_rate))).collect();
    taxed_lines(&lines, quote.tax_rule())
}

/// The same without the rates.
///
/// # Errors
/// Refused when the sum is beyond money.
pub fn sums_of<'a>(quote: &Quote, lines: impl Iterator<Item = &'a QuoteLine>) -> Result<Sums> {
    Ok(Sums::from(&taxed_of(quote, lines)?))
}

/// What the lines that were agreed to come to.
///
/// # Errors
/// Refused when the sum is beyond money.
pub fn agreed_sums(quote: &Quote, lines: &[QuoteLine]) -> Result<Sums> {
    sums_of(quote, lines.iter().filter(|line| line.answer == Some(Answer::Agreed)))
}

/// The alternatives among a quote's lines, in their order; none where there is nothing to choose between.
pub fn alternatives(lines: &[QuoteLine]) -> Vec<&str> {
    let mut names: Vec<&str> = Vec::new();
    for line in lines.iter().filter(|line| !line.alternative.is_empty()) {
        if !names.contains(&line.alternative.as_str()) {
            names.push(&line.alternative);
        }
    }
    if names.len() > 1 { names } else { Vec::new() }
}

/// Whether a line is part of what is bought when an alternative is chosen.
pub fn belongs_to(line: &QuoteLine, alternative: &str) -> bool {
    line.alternative.is_empty() || line.alternative == alternative
}

/// How a quote stands, as every page says it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Nobody has answered yet.
    Waits,
    /// So many lines were agreed to, of so many that could be.
    Agreed {
        /// Agreed to.
        agreed: usize,
        /// Those offered: of alternatives the lines of the one that was chosen.
        offered: usize,
    },
    /// No to all of it.
    Declined,
    /// A newer revision took its place.
    Superseded,
}

impl fmt::Display for Standing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Waits => f.write_str("waits for an answer"),
            Self::Agreed { agreed, offered } if agreed == offered => f.write_str("agreed"),
            Self::Agreed { agreed, offered } => write!(f, "{agreed} of {offered} agreed"),
            Self::Declined => f.write_str("declined"),
            Self::Superseded => f.write_str("superseded"),
        }
    }
}

/// How a quote stands.
pub fn standing(quote: &Quote, lines: &[QuoteLine]) -> Standing {
    match quote.answer {
        None => Standing::Waits,
        Some(Answer::Declined) => Standing::Declined,
        Some(Answer::Superseded) => Standing::Superseded,
        Some(Answer::Agreed) => {
            let is_yes = |line: &&QuoteLine| line.answer == Some(Answer::Agreed);
            let chosen =
                lines.iter().filter(is_yes).map(|line| line.alternative.as_str()).find(|name| !name.is_empty());
            let has_choice = !alternatives(lines).is_empty();
            let is_offered = |line: &&QuoteLine| !has_choice || belongs_to(line, chosen.unwrap_or(""));
            match lines.iter().filter(is_yes).count() {
                // each yes was taken back afterwards
                0 => Standing::Declined,
                agreed => Standing::Agreed { agreed, offered: lines.iter().filter(is_offered).count() },
            }
        }
    }
}

/// What changed of a line from one revision to the next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// It is new.
    Added(String, Money),
    /// It is not in the newer one any more.
    TakenOff(String, Money),
    /// It is charged otherwise: what for, before, now.
    Charged(String, Money, Money),
    /// It is said otherwise: before, now.
    Said(String, String),
}

/// What changed from an older revision to a newer one, in the order of the newer.
pub fn changes(older: &[QuoteLine], newer: &[QuoteLine]) -> Vec<Change> {
    let of = |lines: &[QuoteLine], id: WorkLineId| lines.iter().find(|line| line.work_line_id == id).cloned();
    let mut changes = Vec::new();
    for line in newer {
        match of(older, line.work_line_id) {
            None => changes.push(Change::Added(line.words.clone(), line.charged())),
            Some(before) => {
                if before.words != line.words {
                    changes.push(Change::Said(before.words.clone(), line.words.clone()));
                }
                if before.charged() != line.charged() {
                    changes.push(Change::Charged(line.words.clone(), before.charged(), line.charged()));
                }
            }
        }
    }
    let gone = older.iter().filter(|line| of(newer, line.work_line_id).is_none());
    changes.extend(gone.map(|line| Change::TakenOff(line.words.clone(), line.charged())));
    changes
}

/// What the customer agreed to pay: the lines of the newest agreed revision whose yes stands. Work nobody agreed
/// to never enters.
pub async fn agreed_total(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Money> {
    Ok(agreed_revision(executor, job).await?.map_or(Money(0), |(_, sums)| sums.total))
}

/// The newest agreed revision: when it was answered, and what its lines whose yes stands come to.
pub(super) async fn agreed_revision(
    executor: impl sqlx::SqliteExecutor<'_>,
    job: JobId,
) -> Result<Option<(Instant, Sums)>> {
    Ok(agreed_taxed(executor, job).await?.map(|agreed| (agreed.answered_at, Sums::from(&agreed.taxed))))
}

/// What a customer agreed to pay, rate by rate.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "the names say it")]
pub struct AgreedTaxed {
    pub answered_at: Instant,
    pub tax_name: String,
    pub taxed: Taxed,
}

/// The newest agreed revision of a job, rate by rate; `None` while nothing is agreed.
pub async fn agreed_taxed(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Option<AgreedTaxed>> {
    let rows = sqlx::query!(
        r#"SELECT price - discount AS "charged!: Money", tax_rate, tax_rounding AS "tax_rounding: TaxRounding",
                  tax_level AS "tax_level: TaxLevelSetting", prices_include_tax AS "prices_include_tax: bool",
                  tax_name, answered_at AS "answered_at!: Instant"
           FROM quote_line JOIN quote ON quote.id = quote_line.quote_id
           WHERE quote_line.answer = 'agreed' AND quote.id =
               (SELECT id FROM quote WHERE job_id = ? AND answer = 'agreed' ORDER BY revision DESC LIMIT 1)
           ORDER BY position"#,
        job,
    )
    .fetch_all(executor)
    .await?;
    let Some(first) = rows.first() else { return Ok(None) };
    let rule = TaxRule {
        is_inclusive: first.prices_include_tax,
        rounding: first.tax_rounding.into(),
        level: first.tax_level.into(),
    };
    let lines: Vec<(Money, TaxRate)> = rows.iter().map(|row| (row.charged, TaxRate(row.tax_rate))).collect();
    Ok(Some(AgreedTaxed {
        answered_at: first.answered_at,
        tax_name: first.tax_name.clone(),
        taxed: taxed_lines(&lines, rule)?,
    }))
}
