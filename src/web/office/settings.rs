//! `/office/settings`: the shop's name, money, paper and words.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use askama::Template;

use super::papers::{Look, looks};
use crate::clock::{is_known_zone, zone_names};
use crate::quantity::{Currency, TaxRate};
use crate::records::Door;
use crate::records::caution::{About, Place};
use crate::records::fold::folded;
use crate::records::settings::{self, LengthUnitSetting, Paper, Settings, TaxLevelSetting, TaxRounding};
use crate::web::Result;
use crate::web::caution_view::CautionView;
use crate::web::form::{Choice, FormData, LINE, TEXT, looks_like_email};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};

#[derive(Template)]
#[template(path = "office/settings.html")]
struct SettingsPage {
    layout: Layout,
    form: FormData,
    looks: Vec<Look>,
    currencies: Vec<Choice>,
    countries: Vec<Choice>,
    zones: Vec<Choice>,
    cautions: Vec<CautionView>,
}

async fn settings_page(context: &RequestContext, form: FormData) -> Result<SettingsPage> {
    Ok(SettingsPage {
        layout: context.layout(),
        form,
        looks: looks(context).await?,
        currencies: Currency::KNOWN.iter().map(|currency| Choice::new(currency.code, currency.code)).collect(),
        countries: countries(),
        zones: time_zones(),
        cautions: context.cautions(Place::Settings, &About::default(), &[]),
    })
}

impl SettingsPage {
    fn papers(&self) -> &'static [Paper] {
        Paper::ALL
    }
    fn units(&self) -> &'static [LengthUnitSetting] {
        LengthUnitSetting::ALL
    }
    fn roundings(&self) -> &'static [TaxRounding] {
        TaxRounding::ALL
    }
    fn levels(&self) -> &'static [TaxLevelSetting] {
        TaxLevelSetting::ALL
    }
}

/// The countries to choose from.
pub(super) fn countries() -> Vec<Choice> {
    COUNTRIES.iter().map(|(code, name)| Choice::new(code, name.as_str())).collect()
}

static COUNTRIES: LazyLock<Vec<(String, String)>> = LazyLock::new(|| {
    // a house test reads the same file: it can be read
    let read: BTreeMap<String, String> =
        toml::from_str(include_str!("../../../seed-data/countries.toml")).unwrap_or_default();
    let mut countries: Vec<(String, String)> = read.into_iter().collect();
    countries.sort_by_key(|(_, name)| folded(name));
    countries
});

/// The time zones to choose from.
pub(super) fn time_zones() -> Vec<Choice> {
    zone_names().map(|name| Choice::new(name, name.replace('_', " "))).collect()
}

/// Reads the address under which customers reach the shop: scheme and host, nothing behind them.
pub(super) fn public_address(form: &mut FormData) -> String {
    let typed = form.line("public_address", LINE).trim_end_matches('/').to_owned();
    let host = typed.strip_prefix("https://").or_else(|| typed.strip_prefix("http://"));
    let is_right = host.is_some_and(|host| !host.is_empty() && !host.contains(['/', '?', '#', ' ', '@']));
    if !typed.is_empty() && !is_right {
        form.add_error(
            "public_address",
            "Type scheme and name, such as https://repairs.example, and nothing behind them.",
        );
    }
    typed
}

fn form_of(settings: &Settings) -> FormData {
    let rate = |rate: i64| TaxRate(rate).percent().trim_end_matches(" %").to_owned();
    FormData::new()
        .with("version", settings.version.to_string())
        .with("shop_name", settings.shop_name.as_str())
        .with("address", settings.address.as_str())
        .with("telephone", settings.telephone.as_str())
        .with("email", settings.email.as_str())
        .with("time_zone", settings.time_zone.as_str())
        .with("country", settings.country.as_str())
        .with("currency", settings.currency.as_str())
        .with("paper", settings.paper.key())
        .with("length_unit", settings.length_unit.key())
        .with("tax_name", settings.tax_name.as_str())
        .with("standard_tax_rate", rate(settings.standard_tax_rate))
        .with("reduced_tax_rate", rate(settings.reduced_tax_rate))
        .with("tax_rounding", settings.tax_rounding.key())
        .with("tax_level", settings.tax_level.key())
        .with("prices_include_tax", if settings.prices_include_tax { "yes" } else { "" })
        .with("tax_number", settings.tax_number.as_str())
        .with("quote_margin", rate(settings.quote_margin))
        .with("quote_valid_days", settings.quote_valid_days.to_string())
        .with("promise_days", settings.promise_days.to_string())
        .with("promise_confidence", (settings.promise_confidence / 10).to_string())
        .with("link_days", settings.link_days.to_string())
        .with("claim_terms", settings.claim_terms.as_str())
        .with("quote_terms", settings.quote_terms.as_str())
        .with("care_advice", settings.care_advice.as_str())
        .with("public_address", settings.public_address.as_str())
}

/// `GET /office/settings`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    page(&settings_page(&context, form_of(&context.settings)).await?)
}

/// `POST /office/settings`
pub(in crate::web) async fn save(context: RequestContext, mut form: FormData) -> Result {
    let Some(new) = settings_entry(&mut form, &context.settings) else {
        return page_with(form.status(), &settings_page(&context, form).await?);
    };
    let new = Settings { version: form.version()?, ..new };
    let mut tx = context.app.db.write().await?;
    let saved = settings::save(&mut tx, &context.audit(Door::Office), &new).await;
    if form.accept_save("currency", saved)?.is_none() {
        drop(tx);
        form.merge_on_conflict(&form_of(&settings::current(context.app.db.read()).await?));
        return page_with(form.status(), &settings_page(&context, form).await?);
    }
    tx.commit().await?;
    // checked in `settings_entry`: the zone is known
    let _ = context.app.clock.set_zone(&new.time_zone);
    let words = match new.currency == context.settings.currency {
        true => "The settings are saved.".to_owned(),
        false => format!(
            "The settings are saved. Prices of services and parts now read in {}: look them through.",
            new.currency
        ),
    };
    redirect_with_flash(&context, "/office/settings", &words)
}

fn settings_entry(form: &mut FormData, present: &Settings) -> Option<Settings> {
    let shop_name = form.required_line("shop_name", "the shop's name", LINE);
    let address = form.area("address", 500);
    let telephone = form.line("telephone", 60);
    let email = form.line("email", 254);
    if !email.is_empty() && !looks_like_email(&email) {
        form.add_error("email", "An e-mail address has one @ with something on both sides, and no blanks.");
    }
    let time_zone = form.required_line("time_zone", "the time zone, such as Europe/London", 60);
    if !time_zone.is_empty() && !is_known_zone(&time_zone) {
        form.add_error(
            "time_zone",
            "There is no time zone of that name. Type one such as Europe/London or America/Chicago.",
        );
    }
    let country = form.required_line("country", "the country's two letters, such as GB", 2).to_uppercase();
    let is_code = country.len() == 2 && country.chars().all(|c| c.is_ascii_uppercase());
    if !country.is_empty() && !is_code {
        form.add_error("country", "Type the country's two letters (ISO 3166), such as GB, DE or US.");
    }
    let currency = form.value("currency").to_owned();
    if Currency::known(&currency).is_none() {
        form.add_error("currency", "Choose a currency.");
    }
    let paper = form.choice("paper", "the paper you print on");
    let length_unit = form.choice("length_unit", "what a bare number means");
    let tax_rounding = form.choice("tax_rounding", "how tax is rounded");
    let tax_level = form.choice("tax_level", "where tax is rounded");
    let rate = |form: &mut FormData, name: &str| match TaxRate::parse(form.value(name)) {
        Ok(rate) => rate.0,
        Err(words) => {
            form.add_error(name, words);
            0
        }
    };
    let standard_tax_rate = rate(form, "standard_tax_rate");
    let reduced_tax_rate = rate(form, "reduced_tax_rate");
    let quote_margin = if form.value("quote_margin").trim().is_empty() { 0 } else { rate(form, "quote_margin") };
    if quote_margin > settings::MOST_MARGIN {
        form.add_error(
            "quote_margin",
            "At most 15 %: beyond that the customer is asked. Local law may allow less, or nothing.",
        );
    }
    let quote_valid_days = form.required_number("quote_valid_days", 1..=365, "how many days");
    let promise_days = form.required_number("promise_days", 0..=365, "how many days");
    let promise_percent = form.required_number("promise_confidence", 50..=99, "how many of a hundred");
    let link_days = form.required_number("link_days", 1..=3650, "how many days");
    let new = Settings {
        shop_name,
        address,
        telephone,
        email,
        time_zone,
        country,
        currency,
        paper: paper.unwrap_or(present.paper),
        length_unit: length_unit.unwrap_or(present.length_unit),
        tax_name: form.line("tax_name", 40),
        standard_tax_rate,
        reduced_tax_rate,
        tax_rounding: tax_rounding.unwrap_or(present.tax_rounding),
        tax_level: tax_level.unwrap_or(present.tax_level),
        prices_include_tax: form.is("prices_include_tax", "yes"),
        tax_number: form.line("tax_number", 60),
        quote_margin,
        quote_valid_days: quote_valid_days.unwrap_or(0),
        promise_days: promise_days.unwrap_or(0),
        promise_confidence: promise_percent.unwrap_or(0) * 10,
        link_days: link_days.unwrap_or(0),
        claim_terms: form.area("claim_terms", TEXT),
        quote_terms: form.area("quote_terms", TEXT),
        care_advice: form.area("care_advice", TEXT),
        public_address: public_address(form),
        targets: present.targets.clone(),
        version: present.version,
    };
    (!form.has_errors()).then_some(new)
}
