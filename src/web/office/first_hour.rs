//! `/office/first-hour`: a new shop in five steps, each with a default that is nobody's else; and a test print.

use askama::Template;

use super::calendar::read_hours;
use super::settings::{countries, public_address, time_zones};
use crate::drawing::Svg;
use crate::drawing::bars::code128;
use crate::quantity::{Currency, TaxRate};
use crate::records::bench_calendar::{self, Hours};
use crate::records::first_hour::{self, Step};
use crate::records::settings::{self, LengthUnitSetting, Paper, Settings, TaxLevelSetting, TaxRounding};
use crate::records::staff::{self, Staff};
use crate::records::{AuditContext, Door, Error as Refused, WriteTx};
use crate::web::form::{Choice, FormData, LINE, looks_like_email};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::words::Shop;
use crate::web::{Error, Result};

/// Hours at the bench of somebody who works whole days. Common practice, no source.
const USUAL_HOURS: &str = "6";
/// Four dots of a printer's 300 to the inch.
const BAR_MM: f64 = 25.4 * 4.0 / 300.0;

#[derive(Template)]
#[template(path = "office/first_hour.html")]
struct FirstHourPage {
    layout: Layout,
    form: FormData,
    steps: Vec<StepRow>,
    /// The step at hand; `None` once all are done.
    now: Option<Step>,
    currencies: Vec<Choice>,
    countries: Vec<Choice>,
    zones: Vec<Choice>,
    people: Vec<Staff>,
}

struct StepRow {
    words: &'static str,
    is_done: bool,
    is_now: bool,
}

impl FirstHourPage {
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
    fn is(&self, step: &str) -> bool {
        self.now.is_some_and(|now| now.key() == step)
    }
}

fn form_of(settings: &Settings) -> FormData {
    let named = if settings.is_own() { settings.shop_name.as_str() } else { "" };
    FormData::new()
        .with("version", settings.version.to_string())
        .with("shop_name", named)
        .with("address", settings.address.as_str())
        .with("telephone", settings.telephone.as_str())
        .with("email", settings.email.as_str())
        .with("country", settings.country.as_str())
        .with("time_zone", settings.time_zone.as_str())
        .with("paper", settings.paper.key())
        .with("length_unit", settings.length_unit.key())
        .with("public_address", settings.public_address.as_str())
        .with("currency", settings.currency.as_str())
        .with("tax_name", settings.tax_name.as_str())
        .with("standard_tax_rate", TaxRate(settings.standard_tax_rate).percent().trim_end_matches(" %"))
        .with("tax_rounding", settings.tax_rounding.key())
        .with("tax_level", settings.tax_level.key())
        .with("hours", USUAL_HOURS)
}

async fn first_hour_page(context: &RequestContext, form: FormData) -> Result<FirstHourPage> {
    let done = first_hour::done(context.app.db.read()).await?;
    let now = Step::ALL.iter().copied().find(|step| !done.contains(step));
    let steps = Step::ALL.iter().map(|step| StepRow {
        words: step.spoken(),
        is_done: done.contains(step),
        is_now: now == Some(*step),
    });
    Ok(FirstHourPage {
        steps: steps.collect(),
        now,
        layout: context.layout(),
        form,
        currencies: Currency::KNOWN.iter().map(|currency| Choice::new(currency.code, currency.code)).collect(),
        countries: countries(),
        zones: time_zones(),
        people: staff::all(context.app.db.read()).await?,
    })
}

/// `GET /office/first-hour`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    page(&first_hour_page(&context, form_of(&context.settings)).await?)
}

/// `POST /office/first-hour`: the step at hand is right as it stands.
pub(in crate::web) async fn go_on(context: RequestContext, mut form: FormData) -> Result {
    let step: Step =
        form.value("step").parse().map_err(|()| Error::Unreadable("The form is not whole. Open its page again."))?;
    let present: &Settings = &context.settings;
    let new = match step {
        Step::Shop => Some(shop_entry(&mut form, present)),
        Step::Money => Some(money_entry(&mut form, present)),
        Step::People | Step::Hours | Step::Targets => None,
    };
    if form.has_errors() {
        return page_with(form.status(), &first_hour_page(&context, form).await?);
    }
    let a_day = if step == Step::Hours { hours_a_day(&mut form) } else { 0 };
    if form.has_errors() {
        return page_with(form.status(), &first_hour_page(&context, form).await?);
    }
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::Office);
    if a_day > 0 {
        usual_week(&mut tx, &by, context.today(), a_day).await?;
    }
    if let Some(new) = &new {
        let new = Settings { version: form.version()?, ..new.clone() };
        let saved = settings::save(&mut tx, &by, &new).await;
        if let Err(Refused::ChangedMeanwhile(_)) = saved {
            return Err(Error::ChangedMeanwhile("settings"));
        }
        if form.accept("currency", saved)?.is_none() {
            drop(tx);
            return page_with(form.status(), &first_hour_page(&context, form).await?);
        }
    }
    first_hour::step_done(&mut tx, &by, step).await?;
    tx.commit().await?;
    if let Some(new) = new {
        // chosen from the list: the zone is known
        let _ = context.app.clock.set_zone(&new.time_zone);
    }
    let words = format!("“{}” is done.", step.spoken());
    redirect_with_flash(&context, "/office/first-hour", &words)
}

/// Minutes of bench work a day, as typed.
fn hours_a_day(form: &mut FormData) -> u32 {
    read_hours(form.value("hours")).unwrap_or_else(|words| {
        form.add_error("hours", words);
        0
    })
}

/// Monday to Friday for whoever works at the bench and has no hours yet.
async fn usual_week(tx: &mut WriteTx, by: &AuditContext, today: time::Date, a_day: u32) -> Result<()> {
    let week_minutes = [a_day, a_day, a_day, a_day, a_day, 0, 0];
    let people = bench_calendar::people(&mut **tx, today).await?;
    for person in people.iter().filter(|person| person.hours.is_none()) {
        let hours = Hours { week_minutes, first_day: None, last_day: None };
        bench_calendar::set_hours(tx, by, today, person.staff_id, None, &hours).await?;
    }
    Ok(())
}

fn shop_entry(form: &mut FormData, present: &Settings) -> Settings {
    let shop_name = form.required_line("shop_name", "the shop's name", LINE);
    let address = form.required_area("address", "the shop's address: papers carry it", 500);
    let telephone = form.line("telephone", 60);
    let email = form.line("email", 254);
    if !email.is_empty() && !looks_like_email(&email) {
        form.add_error("email", "An e-mail address has one @ with something on both sides, and no blanks.");
    }
    let country = form.value("country").to_owned();
    if !countries().iter().any(|known| known.key() == country) {
        form.add_error("country", "Choose the country: it reads telephone numbers typed without a country code.");
    }
    let time_zone = form.value("time_zone").to_owned();
    if !crate::clock::is_known_zone(&time_zone) {
        form.add_error("time_zone", "Choose the time zone: it says when a day begins.");
    }
    let paper = form.choice("paper", "the paper you print on");
    let length_unit = form.choice("length_unit", "what a bare number means");
    let public_address = public_address(form);
    Settings {
        shop_name,
        address,
        telephone,
        email,
        country,
        time_zone,
        public_address,
        paper: paper.unwrap_or(present.paper),
        length_unit: length_unit.unwrap_or(present.length_unit),
        ..present.clone()
    }
}

fn money_entry(form: &mut FormData, present: &Settings) -> Settings {
    let currency = form.value("currency").to_owned();
    if Currency::known(&currency).is_none() {
        form.add_error("currency", "Choose a currency.");
    }
    let tax_name = form.line("tax_name", 40);
    let standard_tax_rate = match TaxRate::parse(form.value("standard_tax_rate")) {
        Ok(rate) => rate.0,
        Err(words) => {
            form.add_error("standard_tax_rate", words);
            0
        }
    };
    let tax_rounding = form.choice("tax_rounding", "how tax is rounded");
    let tax_level = form.choice("tax_level", "where tax is rounded");
    Settings {
        currency,
        tax_name,
        standard_tax_rate,
        tax_rounding: tax_rounding.unwrap_or(present.tax_rounding),
        tax_level: tax_level.unwrap_or(present.tax_level),
        ..present.clone()
    }
}

#[derive(Template)]
#[template(path = "office/test_print.html")]
struct TestPrintPage {
    layout: Layout,
    shop: Shop,
    bars: Svg,
}

/// `GET /office/first-hour/test-print`: what a paper of this shop looks like, and whether the printer keeps its size.
pub(in crate::web) async fn test_print(context: RequestContext) -> Result {
    page(&TestPrintPage {
        layout: context.layout(),
        shop: Shop::of(&context.settings),
        bars: code128("00-0000", BAR_MM).map_err(Error::internal)?,
    })
}
