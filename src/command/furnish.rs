//! What a new shop starts with: settings, a catalogue, string sets and the list of the final check, from
//! `seed-data/`. Everything is the owner's to change.

use serde::Deserialize;

use super::console::Said;
use crate::quantity::{Instant, Money};
use crate::records::final_check::{self, CheckItemEntry};
use crate::records::first_hour::{self, Step};
use crate::records::service::{self, ServiceEntry, TaxClass};
use crate::records::settings::{self, LengthUnitSetting, Paper, Settings, TaxLevelSetting, TaxRounding};
use crate::records::{AuditContext, WriteTx, string_set};

/// `seed-data/shop.toml`: words that any shop starts with.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct WordsText {
    claim_terms: String,
    quote_terms: String,
    care_advice: String,
}

/// Who and where a shop is: `seed-data/millrace-shop.toml` for the demo, nobody's for a new shop.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ShopText {
    shop_name: String,
    address: String,
    telephone: String,
    email: String,
    time_zone: String,
    country: String,
    currency: String,
    tax_name: String,
    standard_tax_percent_thousandths: i64,
}

impl ShopText {
    /// A shop of which nothing is known yet. ZZ is nobody's country (ISO 3166-1, user-assigned).
    fn nobodys() -> Self {
        Self {
            shop_name: settings::UNNAMED.to_owned(),
            address: String::new(),
            telephone: String::new(),
            email: String::new(),
            time_zone: "UTC".to_owned(),
            country: "ZZ".to_owned(),
            currency: "EUR".to_owned(),
            tax_name: "Tax".to_owned(),
            standard_tax_percent_thousandths: 0,
        }
    }
}

/// `seed-data/services.toml`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ServicesText {
    service: Vec<ServiceText>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ServiceText {
    key: String,
    name: String,
    minutes: i64,
    price_minor: i64,
    #[serde(default)]
    told: String,
    #[serde(default)]
    asks_for: String,
    #[serde(default)]
    asks_unit: String,
}

/// `seed-data/final-check.toml`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct FinalCheckText {
    item: Vec<CheckItemText>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct CheckItemText {
    words: String,
    hint: String,
    #[serde(default)]
    by_readings: bool,
}

/// Gives a new shop its first settings, catalogue, string sets and final check; a shop that has them keeps its own, and
/// gets the services that the catalogue did not have when it was set up. Asked at every start.
///
/// # Errors
/// When the seed data cannot be read, or the books cannot be written.
pub async fn furnish(tx: &mut WriteTx, at: Instant) -> Result<(), Said> {
    furnish_as(tx, at, ShopText::nobodys()).await
}

/// The same for the shop of the demo, which has a name and an address.
///
/// # Errors
/// When the seed data cannot be read, or the books cannot be written.
pub async fn furnish_millrace(tx: &mut WriteTx, at: Instant) -> Result<(), Said> {
    furnish_as(tx, at, toml::from_str(include_str!("../../seed-data/millrace-shop.toml"))?).await?;
    let by = AuditContext { staff: None, door: crate::records::Door::House, at };
    for step in Step::ALL {
        first_hour::step_done(tx, &by, *step).await?;
    }
    Ok(())
}

async fn furnish_as(tx: &mut WriteTx, at: Instant, shop: ShopText) -> Result<(), Said> {
    let words: WordsText = toml::from_str(include_str!("../../seed-data/shop.toml"))?;
    settings::furnish(
        tx,
        &Settings {
            shop_name: shop.shop_name,
            address: shop.address.trim().to_owned(),
            telephone: shop.telephone,
            email: shop.email,
            time_zone: shop.time_zone,
            country: shop.country,
            currency: shop.currency,
            paper: Paper::A4,
            length_unit: LengthUnitSetting::Millimetre,
            tax_name: shop.tax_name,
            standard_tax_rate: shop.standard_tax_percent_thousandths,
            reduced_tax_rate: 0,
            tax_rounding: TaxRounding::HalfUp,
            tax_level: TaxLevelSetting::OnTotal,
            prices_include_tax: false,
            tax_number: String::new(),
            quote_margin: 0,
            quote_valid_days: 30,
            promise_days: 14,
            promise_confidence: 900,
            link_days: 90,
            claim_terms: words.claim_terms.trim().to_owned(),
            quote_terms: words.quote_terms.trim().to_owned(),
            care_advice: words.care_advice.trim().to_owned(),
            targets: crate::calc::USUAL_TARGETS.to_owned(),
            public_address: String::new(),
            version: 1,
        },
    )
    .await?;
    let by = AuditContext { staff: None, door: crate::records::Door::House, at };
    if final_check::items(&mut **tx).await?.is_empty() {
        let list: FinalCheckText = toml::from_str(include_str!("../../seed-data/final-check.toml"))?;
        for (position, item) in (1_i64..).zip(list.item) {
            let entry = CheckItemEntry { position, words: item.words, hint: item.hint, family: None, archived: false };
            final_check::add(tx, &by, &format!("first-{position}"), item.by_readings, &entry).await?;
        }
    }
    let known: Vec<String> = service::all(&mut **tx).await?.into_iter().map(|service| service.key).collect();
    let catalogue: ServicesText = toml::from_str(include_str!("../../seed-data/services.toml"))?;
    // a shop that was set up before some finding named a service gets that one; its own rows stay as they are
    for entry in catalogue.service.into_iter().filter(|entry| !known.contains(&entry.key)) {
        let entry = ServiceEntry {
            key: entry.key,
            name: entry.name,
            minutes: entry.minutes,
            price: Money(entry.price_minor),
            hourly: false,
            tax_class: TaxClass::Standard,
            told: entry.told,
            suggested_by: String::new(),
            asks_for: entry.asks_for,
            asks_unit: entry.asks_unit,
            active: true,
        };
        service::add(tx, &by, None, &entry).await?;
    }
    if known.is_empty() {
        string_set::load_usual(tx, &by).await?;
    }
    Ok(())
}
