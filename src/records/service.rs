//! The shop's catalogue and its price list. A service's key is the word by which a finding suggests it; the row of the
//! price list that is in force stands in the service itself.

use serde::{Deserialize, Serialize};
use time::Date;

use super::column::words;
use super::event::{self, AuditContext};
use super::fold::canonical;
use super::{Error, PartId, Result, ServiceId, WriteTx};
use crate::quantity::{Money, Thousandths};

words! {
    /// Which tax rate of the settings applies.
    TaxClass {
        /// The standard rate.
        Standard = "standard" => "standard rate",
        /// The reduced rate.
        Reduced = "reduced" => "reduced rate",
        /// No tax.
        None = "none" => "no tax",
    }
}

/// One service.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Service {
    pub id: ServiceId,
    pub key: String,
    pub name: String,
    pub minutes: i64,
    pub price: Money,
    /// The price is that of an hour.
    pub hourly: bool,
    pub tax_class: TaxClass,
    /// What the customer reads beside it, where no finding says why.
    pub told: String,
    /// Keys of findings that suggest it beside its own, a comma between them.
    pub suggested_by: String,
    /// What is asked for when it is done, such as "turn of the rod"; empty asks for nothing.
    pub asks_for: String,
    pub asks_unit: String,
    pub active: bool,
    pub version: i64,
}

/// What the owner writes down of a service.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct ServiceEntry {
    pub key: String,
    pub name: String,
    pub minutes: i64,
    pub price: Money,
    pub hourly: bool,
    pub tax_class: TaxClass,
    pub told: String,
    pub suggested_by: String,
    pub asks_for: String,
    pub asks_unit: String,
    pub active: bool,
}

impl Service {
    /// What is charged for it when it takes so many minutes; halves of the smallest unit go up.
    pub fn charged_for(&self, minutes: i64) -> Money {
        if !self.hourly {
            return self.price;
        }
        let exact = i128::from(self.price.0) * i128::from(minutes.max(0));
        Money(i64::try_from((exact + 30) / 60).unwrap_or(i64::MAX))
    }

    /// Whether a finding of this key suggests it, beside those that name the service themselves.
    pub fn is_suggested_by(&self, finding: &str) -> bool {
        self.suggested_by.split(',').any(|key| key.trim() == finding)
    }

    /// What the owner would write down to leave it as it is.
    pub fn entry(&self) -> ServiceEntry {
        ServiceEntry {
            key: self.key.clone(),
            name: self.name.clone(),
            minutes: self.minutes,
            price: self.price,
            hourly: self.hourly,
            tax_class: self.tax_class,
            told: self.told.clone(),
            suggested_by: self.suggested_by.clone(),
            asks_for: self.asks_for.clone(),
            asks_unit: self.asks_unit.clone(),
            active: self.active,
        }
    }
}

/// The services that a condition or an order picks.
macro_rules! services {
    ($picked:literal $(, $put:expr)*) => {
        sqlx::query_as!(
            Service,
            r#"SELECT id AS "id: ServiceId", key, name, minutes, price AS "price: Money", hourly AS "hourly: bool",
                      tax_class AS "tax_class: TaxClass", told, suggested_by, asks_for, asks_unit, active AS "active: bool", version
               FROM service "#
                + $picked
            $(, $put)*
        )
    };
}

/// The whole catalogue, by name.
pub async fn all(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<Service>> {
    Ok(services!("ORDER BY active DESC, name").fetch_all(executor).await?)
}

/// One service.
pub async fn find(executor: impl sqlx::SqliteExecutor<'_>, id: ServiceId) -> Result<Service> {
    services!("WHERE id = ?", id).fetch_optional(executor).await?.ok_or(Error::NotFound("service"))
}

/// Adds a service; the same form sent twice adds one.
///
/// # Errors
/// Refused when the key is taken.
pub async fn add(
    tx: &mut WriteTx,
    by: &AuditContext,
    form_key: Option<&str>,
    entry: &ServiceEntry,
) -> Result<ServiceId> {
    if let Some(id) = sqlx::query_scalar!(r#"SELECT id AS "id: ServiceId" FROM service WHERE form_key = ?"#, form_key)
        .fetch_optional(&mut **tx)
        .await?
    {
        return Ok(id);
    }
    let id = ServiceId::new();
    let (key, name) = (canonical(&entry.key), canonical(&entry.name));
    let (asks_for, asks_unit) = (canonical(&entry.asks_for), canonical(&entry.asks_unit));
    let taken = sqlx::query_scalar!("SELECT count(*) FROM service WHERE key = ?", key).fetch_one(&mut **tx).await?;
    if taken > 0 {
        return Err(Error::refused(format!("There is already a service with the key “{key}”. Choose another key.")));
    }
    sqlx::query!(
        "INSERT INTO service (id, key, name, minutes, price, hourly, tax_class, told, suggested_by, asks_for, asks_unit, active,
             form_key)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        key,
        name,
        entry.minutes,
        entry.price,
        entry.hourly,
        entry.tax_class,
        entry.told,
        entry.suggested_by,
        asks_for,
        asks_unit,
        entry.active,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    list(tx, by, id, None, entry, false).await?;
    event::write(tx, by, "service added", "service", id.0, None, Some(entry)).await?;
    Ok(id)
}

/// Saves a changed service. What it takes and costs from today on is a new row of the price list; lines already written
/// keep the figures they were written with.
///
/// # Errors
/// [`Error::ChangedMeanwhile`] when somebody saved in between.
pub async fn save(
    tx: &mut WriteTx,
    by: &AuditContext,
    days: PriceDays,
    id: ServiceId,
    version: i64,
    entry: &ServiceEntry,
    parts: &[(PartId, Thousandths)],
) -> Result<()> {
    change(tx, by, (days, false), id, version, entry).await?;
    sqlx::query!("DELETE FROM service_part WHERE service_id = ?", id).execute(&mut **tx).await?;
    for (part, quantity) in parts {
        sqlx::query!("INSERT INTO service_part (service_id, part_id, quantity) VALUES (?, ?, ?)", id, part, quantity,)
            .execute(&mut **tx)
            .await?;
    }
    Ok(())
}

/// Two days of the shop: this one, and the one from which a price holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub struct PriceDays {
    pub today: Date,
    pub holds_from: Date,
}

/// So much of a part that goes with a service.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct PartOfService {
    pub service_id: ServiceId,
    pub part_id: PartId,
    pub quantity: Thousandths,
}

/// The parts that services use.
pub async fn parts_used(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<PartOfService>> {
    Ok(sqlx::query_as!(
        PartOfService,
        r#"SELECT service_id AS "service_id: ServiceId", part_id AS "part_id: PartId", quantity AS "quantity: Thousandths"
           FROM service_part"#
    )
    .fetch_all(executor)
    .await?)
}

/// Takes minutes that the labour clock suggested as the new estimate from today on. The price stays.
///
/// # Errors
/// [`Error::ChangedMeanwhile`] when somebody saved in between.
pub async fn take_suggestion(
    tx: &mut WriteTx,
    by: &AuditContext,
    today: Date,
    id: ServiceId,
    version: i64,
    minutes: i64,
) -> Result<()> {
    let before = find(&mut **tx, id).await?;
    let entry = ServiceEntry { minutes, ..before.entry() };
    change(tx, by, (PriceDays { today, holds_from: today }, true), id, version, &entry).await
}

async fn change(
    tx: &mut WriteTx,
    by: &AuditContext,
    (days, is_suggested): (PriceDays, bool),
    id: ServiceId,
    version: i64,
    entry: &ServiceEntry,
) -> Result<()> {
    let before = find(&mut **tx, id).await?;
    // what holds from a later day on stands in the list until then
    let now = if days.holds_from > days.today { before.entry() } else { entry.clone() };
    let name = canonical(&entry.name);
    let (asks_for, asks_unit) = (canonical(&entry.asks_for), canonical(&entry.asks_unit));
    let done = sqlx::query!(
        "UPDATE service SET name = ?, minutes = ?, price = ?, hourly = ?, tax_class = ?, told = ?, suggested_by = ?,
             asks_for = ?, asks_unit = ?, active = ?, version = version + 1
         WHERE id = ? AND version = ?",
        name,
        now.minutes,
        now.price,
        now.hourly,
        now.tax_class,
        entry.told,
        entry.suggested_by,
        asks_for,
        asks_unit,
        entry.active,
        id,
        version,
    )
    .execute(&mut **tx)
    .await?;
    super::error::ensure_updated(&done, "service")?;
    let after = find(&mut **tx, id).await?;
    let listed = |of: &ServiceEntry| (of.minutes, of.price, of.hourly, of.tax_class);
    if listed(&before.entry()) != listed(entry) {
        list(tx, by, id, Some(days.holds_from), entry, is_suggested).await?;
    }
    event::write(tx, by, "service changed", "service", id.0, Some(&before), Some(&after)).await
}

/// Adds a row to the price list.
async fn list(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: ServiceId,
    from_day: Option<Date>,
    entry: &ServiceEntry,
    is_suggested: bool,
) -> Result<()> {
    sqlx::query!(
        "INSERT INTO service_price (service_id, from_day, minutes, price, hourly, tax_class, is_suggested, staff_id)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        from_day,
        entry.minutes,
        entry.price,
        entry.hourly,
        entry.tax_class,
        is_suggested,
        by.staff,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// A row of the price list that holds from a later day on.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct LaterPrice {
    pub service_id: ServiceId,
    pub from_day: Date,
    pub minutes: i64,
    pub price: Money,
}

/// What the price list says of the days after this one.
pub async fn later_prices(executor: impl sqlx::SqliteExecutor<'_>, today: Date) -> Result<Vec<LaterPrice>> {
    Ok(sqlx::query_as!(
        LaterPrice,
        r#"SELECT service_id AS "service_id: ServiceId", from_day AS "from_day!: Date", minutes, price AS "price: Money"
           FROM service_price WHERE from_day > ? ORDER BY from_day, id"#,
        today,
    )
    .fetch_all(executor)
    .await?)
}

/// Takes the rows of the price list into the services whose day has come: of those, the one of the latest day, and of one
/// day the newest. Answers how many services changed.
pub async fn take_in_due(tx: &mut WriteTx, by: &AuditContext, today: Date) -> Result<u64> {
    let changed = sqlx::query!(
        "UPDATE service SET version = version + 1, (minutes, price, hourly, tax_class) =
             (SELECT minutes, price, hourly, tax_class FROM service_price
              WHERE service_id = service.id AND (from_day IS NULL OR from_day <= ?1)
              ORDER BY coalesce(from_day, '') DESC, id DESC LIMIT 1)
         WHERE (minutes, price, hourly, tax_class) <>
             (SELECT minutes, price, hourly, tax_class FROM service_price
              WHERE service_id = service.id AND (from_day IS NULL OR from_day <= ?1)
              ORDER BY coalesce(from_day, '') DESC, id DESC LIMIT 1)",
        today,
    )
    .execute(&mut **tx)
    .await?
    .rows_affected();
    if changed > 0 {
        event::write(tx, by, "price list in force", "service", uuid::Uuid::nil(), None, Some(&(today, changed)))
            .await?;
    }
    Ok(changed)
}

/// What a service took and cost from a day on.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "each field is the column of the same name, but for those explained")]
pub struct PriceRow {
    /// `None`: from the beginning.
    pub from_day: Option<Date>,
    pub minutes: i64,
    pub price: Money,
    /// The labour clock suggested the minutes.
    pub is_suggested: bool,
    /// Who wrote it; `None` where the program did.
    pub who: Option<String>,
}

/// The rows of the price list of one service, the one in force first.
pub async fn price_list(executor: impl sqlx::SqliteExecutor<'_>, id: ServiceId) -> Result<Vec<PriceRow>> {
    Ok(sqlx::query_as!(
        PriceRow,
        r#"SELECT from_day AS "from_day: Date", minutes, price AS "price: Money", is_suggested AS "is_suggested: bool",
                  staff.name AS "who?"
           FROM service_price LEFT JOIN staff ON staff.id = service_price.staff_id
           WHERE service_id = ? ORDER BY service_price.id DESC"#,
        id,
    )
    .fetch_all(executor)
    .await?)
}
