//! What the owner decides about the shop: one row, read for every page and paper.

use std::ops::Deref;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use serde::Serialize;
use sqlx::SqliteConnection;
use uuid::Uuid;

use super::column::words;
use super::event::{self, AuditContext};
use super::{Db, Error, Result, WriteTx};
use crate::setup::plan::HouseTargets;

words! {
    /// The paper the shop prints on.
    Paper {
        /// ISO 216.
        A4 = "a4" => "A4",
        /// US Letter.
        Letter = "letter" => "US Letter",
    }
}

words! {
    /// The unit a bare number means.
    LengthUnitSetting {
        /// Millimetres.
        Millimetre = "mm" => "millimetres",
        /// Inches.
        Inch = "inch" => "inches",
    }
}

words! {
    /// Which way tax is rounded. Law, not taste: the owner asks the tax office.
    TaxRounding {
        /// Ties away from zero.
        HalfUp = "half-up" => "half up",
        /// Ties to the even neighbour.
        HalfEven = "half-even" => "half to even",
        /// Towards zero.
        Down = "down" => "down",
    }
}

words! {
    /// Where tax is rounded.
    TaxLevelSetting {
        /// Each line by itself.
        PerLine = "per-line" => "on each line",
        /// Once, on the sum.
        OnTotal = "on-total" => "on the total",
    }
}

/// The shop's settings.
#[derive(Debug, Clone, PartialEq, Serialize, sqlx::FromRow)]
#[expect(missing_docs, reason = "each field is the column of the same name, explained in the migration")]
pub struct Settings {
    pub shop_name: String,
    pub address: String,
    pub telephone: String,
    pub email: String,
    pub time_zone: String,
    pub country: String,
    pub currency: String,
    pub paper: Paper,
    pub length_unit: LengthUnitSetting,
    pub tax_name: String,
    pub standard_tax_rate: i64,
    pub reduced_tax_rate: i64,
    pub tax_rounding: TaxRounding,
    pub tax_level: TaxLevelSetting,
    pub prices_include_tax: bool,
    pub tax_number: String,
    pub quote_margin: i64,
    pub quote_valid_days: i64,
    pub promise_days: i64,
    pub promise_confidence: i64,
    pub link_days: i64,
    pub claim_terms: String,
    pub quote_terms: String,
    pub care_advice: String,
    pub targets: String,
    pub public_address: String,
    pub version: i64,
}

/// How far above what was agreed to a shop may go by itself at most, in thousandths of a percent.
pub const MOST_MARGIN: i64 = 15_000;

/// What a shop is called before its owner says so.
pub const UNNAMED: &str = "Your shop";

impl Settings {
    /// Whether name and address are the shop's own: papers carry both, so nothing is printed before.
    pub fn is_own(&self) -> bool {
        self.shop_name != UNNAMED && !self.address.trim().is_empty()
    }
}

/// The settings as they stood at one moment, and the target values read out of them.
#[derive(Debug)]
pub struct Snapshot {
    settings: Settings,
    house: OnceLock<std::result::Result<Arc<HouseTargets>, String>>,
}

impl Snapshot {
    /// The shop's target values.
    ///
    /// # Errors
    /// As [`house`].
    pub fn house(&self) -> Result<Arc<HouseTargets>> {
        let read = || house(&self.settings.targets).map(Arc::new).map_err(|fault| fault.to_string());
        self.house.get_or_init(read).clone().map_err(Error::Refused)
    }
}

impl Deref for Snapshot {
    type Target = Settings;
    fn deref(&self) -> &Settings {
        &self.settings
    }
}

/// The settings, read once until somebody writes them.
#[derive(Debug, Default)]
pub struct Cache(Mutex<Option<(u64, Arc<Snapshot>)>>);

impl Cache {
    /// The settings as they stand.
    ///
    /// # Errors
    /// When the books cannot be read.
    pub async fn current(&self, db: &Db) -> Result<Arc<Snapshot>> {
        let version = db.settings_version();
        if let Some((known, snapshot)) = self.0.lock().unwrap_or_else(PoisonError::into_inner).as_ref()
            && version == Some(*known)
        {
            return Ok(Arc::clone(snapshot));
        }
        let snapshot = Arc::new(Snapshot { settings: current(db.read()).await?, house: OnceLock::new() });
        // what was written while it was read is read again the next time
        if let Some(version) = version.filter(|version| db.settings_version() == Some(*version)) {
            *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some((version, Arc::clone(&snapshot)));
        }
        Ok(snapshot)
    }
}

/// The shop's target values, from the owner's text.
///
/// # Errors
/// Refused, with what is wrong, where the text cannot be read: nothing is planned by other values than the owner's.
pub fn house(targets: &str) -> Result<HouseTargets> {
    HouseTargets::read(targets).map_err(|fault| {
        Error::refused(format!(
            "The shop's target values cannot be read, so nothing is planned by them: {} The owner mends them under \
             Office, Target values.",
            sentence(&fault)
        ))
    })
}

/// A fault as a sentence of its own.
fn sentence(fault: &str) -> String {
    let fault = fault.trim();
    if fault.ends_with('.') { fault.to_owned() } else { format!("{fault}.") }
}

/// The settings as they stand.
pub async fn current(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Settings> {
    sqlx::query_as!(
        Settings,
        r#"SELECT shop_name, address, telephone, email, time_zone, country, currency, paper AS "paper: Paper",
                  length_unit AS "length_unit: LengthUnitSetting", tax_name, standard_tax_rate, reduced_tax_rate,
                  tax_rounding AS "tax_rounding: TaxRounding", tax_level AS "tax_level: TaxLevelSetting",
                  prices_include_tax AS "prices_include_tax: bool", tax_number, quote_margin, quote_valid_days, promise_days, promise_confidence, link_days, claim_terms, quote_terms, care_advice,
                  targets, public_address, version
           FROM settings WHERE id = 1"#
    )
    .fetch_optional(executor)
    .await?
    .ok_or(Error::NotFound("shop"))
}

/// Writes the first settings of a new shop; does nothing when it already has some.
pub async fn furnish(tx: &mut WriteTx, first: &Settings) -> Result<()> {
    sqlx::query!(
        "INSERT OR IGNORE INTO settings (id, shop_name, address, telephone, email, time_zone, country, currency, paper,
             length_unit, tax_name, standard_tax_rate, reduced_tax_rate, tax_rounding, tax_level, prices_include_tax,
             tax_number, quote_margin, quote_valid_days, promise_days, promise_confidence, link_days, claim_terms, quote_terms,
             care_advice, targets, public_address)
         VALUES (1, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        first.shop_name,
        first.address,
        first.telephone,
        first.email,
        first.time_zone,
        first.country,
        first.currency,
        first.paper,
        first.length_unit,
        first.tax_name,
        first.standard_tax_rate,
        first.reduced_tax_rate,
        first.tax_rounding,
        first.tax_level,
        first.prices_include_tax,
        first.tax_number,
        first.quote_margin,
        first.quote_valid_days,
        first.promise_days,
        first.promise_confidence,
        first.link_days,
        first.claim_terms,
        first.quote_terms,
        first.care_advice,
        first.targets,
        first.public_address,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// Saves changed settings. `new.version` is the version that was read.
///
/// # Errors
/// [`Error::ChangedMeanwhile`] when somebody saved in between; refused when the currency changes while money is in
/// the books, and when target values cannot be read.
pub async fn save(tx: &mut WriteTx, by: &AuditContext, new: &Settings) -> Result<()> {
    let before = current(&mut **tx).await?;
    if new.targets != before.targets
        && let Err(fault) = HouseTargets::read(&new.targets)
    {
        return Err(Error::refused(format!("The target values cannot be used as they are. {fault}")));
    }
    let done = sqlx::query!(
        "UPDATE settings SET shop_name = ?, address = ?, telephone = ?, email = ?, time_zone = ?, country = ?,
             currency = ?, paper = ?, length_unit = ?, tax_name = ?, standard_tax_rate = ?, reduced_tax_rate = ?,
             tax_rounding = ?, tax_level = ?, prices_include_tax = ?, tax_number = ?, quote_margin = ?, quote_valid_days = ?, promise_days = ?, promise_confidence = ?,
             link_days = ?, claim_terms = ?, quote_terms = ?, care_advice = ?, targets = ?, public_address = ?, version = version + 1
         WHERE id = 1 AND version = ?",
        new.shop_name,
        new.address,
        new.telephone,
        new.email,
        new.time_zone,
        new.country,
        new.currency,
        new.paper,
        new.length_unit,
        new.tax_name,
        new.standard_tax_rate,
        new.reduced_tax_rate,
        new.tax_rounding,
        new.tax_level,
        new.prices_include_tax,
        new.tax_number,
        new.quote_margin,
        new.quote_valid_days,
        new.promise_days,
        new.promise_confidence,
        new.link_days,
        new.claim_terms,
        new.quote_terms,
        new.care_advice,
        new.targets,
        new.public_address,
        new.version,
    )
    .execute(&mut **tx)
    .await?;
    super::error::ensure_updated(&done, "settings")?;
    if before.currency != new.currency && is_money_in_the_books(tx).await? {
        return Err(Error::refused(format!(
            "The books hold amounts in {}: jobs, quotes or payments. In another currency the same figures would be \
             other money, so it stays: choose {} again.",
            before.currency, before.currency
        )));
    }
    event::write(tx, by, "settings changed", "settings", Uuid::nil(), Some(&before), Some(new)).await
}

/// Whether anybody was ever quoted or charged. Prices of the catalogue do not count: a new shop has them.
async fn is_money_in_the_books(connection: &mut SqliteConnection) -> Result<bool> {
    Ok(sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT 1 FROM payment) OR EXISTS (SELECT 1 FROM quote)
               OR EXISTS (SELECT 1 FROM work_line WHERE price > 0) AS "is_there!: bool""#
    )
    .fetch_one(&mut *connection)
    .await?)
}
