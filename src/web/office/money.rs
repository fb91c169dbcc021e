//! `/office/money`: what came of each month, what an hour of each service earns, and who owes.

mod sums;

use askama::Template;

use crate::drawing::curves::{Axis, Curve, CurveChart, curves};
use crate::quantity::{Money, month_words, with_weekday};
use crate::records::{account, months, part};
use crate::web::form::{Choice, FormData, Query};
use crate::web::page::{Layout, RequestContext, page};
use crate::web::words::currency;
use crate::web::{Error, Result};

use super::charts::{ChartView, month_axis, places};
use super::period::Period;
use sums::{EarnedRow, hours_words};

/// Debts on the page; the others are counted below.
const MOST_OWING: usize = 60;

#[derive(Template)]
#[template(path = "office/money.html")]
struct MoneyPage {
    layout: Layout,
    form: FormData,
    periods: Vec<Choice>,
    first_day: String,
    months: Vec<MonthRow>,
    total: MonthRow,
    chart: Option<ChartView>,
    services: Vec<EarnedRow>,
    people: Vec<EarnedRow>,
    owing: Vec<OwingRow>,
    owed_now: String,
    owed_later: String,
    /// Debts that are not on the page.
    more_owing: usize,
    low: usize,
}

/// One month, or all of them together.
struct MonthRow {
    month: String,
    quoted: String,
    agreed: String,
    done: String,
    taken: String,
    given_back: String,
    owed: String,
    sold: String,
    worked: String,
}

/// One job that owes.
struct OwingRow {
    href: String,
    number: String,
    customer: String,
    telephone: String,
    stage: &'static str,
    agreed_on: String,
    owed: String,
    is_due: bool,
}

/// `GET /office/money`
pub(in crate::web) async fn show(context: RequestContext, query: Query) -> Result {
    let period = Period::of(&query, context.today());
    let spans = period.spans(&context);
    let mut connection = context.app.db.read().acquire().await.map_err(Error::internal)?;
    let sums = months::sums(&mut connection, &spans).await?;
    let done = months::done(&mut *connection, &spans).await?;
    let worked = months::worked(&mut *connection, &spans).await?;
    let owing = account::owing(&mut *connection).await?;
    let parts = part::all(&mut *connection).await?;
    drop(connection);

    let totals = sums::by_month(&sums, &done, &worked);
    let names: Vec<String> = period.first_days().map(month_words).collect();
    let row = |(month, sums): (&String, &sums::Month)| month_row(month.clone(), sums, &context);
    let total = sums::total(&totals);
    let due =
        |is_due: bool| -> i64 { owing.iter().filter(|owing| owing.is_due() == is_due).map(|owing| owing.owed.0).sum() };
    page(&MoneyPage {
        layout: context.layout(),
        form: FormData::default().with("months", period.key()),
        periods: Period::choices(),
        first_day: with_weekday(period.first_day),
        chart: chart(&names, &totals, &context),
        months: names.iter().zip(&totals).map(row).collect(),
        total: month_row("All of them".to_owned(), &total, &context),
        services: sums::earned(
            done.iter().map(|done| (done.service.as_deref().unwrap_or(sums::OWN_WORDS), done)),
            worked.iter().map(|worked| (worked.service.as_deref().unwrap_or(sums::OWN_WORDS), worked.minutes)),
            &context,
        ),
        people: sums::earned(
            done.iter().map(|done| (done.person.as_str(), done)),
            worked.iter().map(|worked| (worked.person.as_str(), worked.minutes)),
            &context,
        ),
        owed_now: context.money(Money(due(true))),
        owed_later: context.money(Money(due(false))),
        more_owing: owing.len().saturating_sub(MOST_OWING),
        owing: owing.into_iter().take(MOST_OWING).map(|owing| owing_row(owing, &context)).collect(),
        low: parts.iter().filter(|part| part.is_low()).count(),
    })
}

fn month_row(month: String, sums: &sums::Month, context: &RequestContext) -> MonthRow {
    MonthRow {
        month,
        quoted: context.money(sums.quoted),
        agreed: context.money(sums.agreed),
        done: context.money(sums.done),
        taken: context.money(sums.taken),
        given_back: context.money(sums.given_back),
        owed: context.money(sums.owed),
        sold: hours_words(sums.sold_minutes),
        worked: hours_words(sums.worked_minutes),
    }
}

fn owing_row(owing: account::Owing, context: &RequestContext) -> OwingRow {
    OwingRow {
        href: format!("/desk/jobs/{}/hand-over", owing.job_id),
        is_due: owing.is_due(),
        number: owing.number,
        customer: owing.customer,
        telephone: owing.telephone,
        stage: owing.stage.spoken(),
        agreed_on: context.day_of(owing.agreed_at),
        owed: context.money(owing.owed),
    }
}

/// One of the sums of a month.
type Sum = fn(&sums::Month) -> Money;

/// Agreed, done and taken month by month; nothing where there was no money at all.
fn chart(names: &[String], totals: &[sums::Month], context: &RequestContext) -> Option<ChartView> {
    let drawn: [(&str, Sum); 3] =
        [("agreed", |month| month.agreed), ("done", |month| month.done), ("taken", |month| month.taken)];
    let most = drawn.iter().flat_map(|(_, sum)| totals.iter().map(sum)).max().filter(|most| most.0 > 0)?;
    // whole units of the currency are read along the side
    let unit = 10_i64.pow(currency(&context.settings).decimals);
    let units = |amount: Money| f64::from(i32::try_from(amount.0 / unit).unwrap_or(i32::MAX));
    let curve = |(name, sum): &(&str, Sum)| Curve {
        name: (*name).to_owned(),
        points: places().zip(totals).map(|(place, month)| (place, Some(units(sum(month))))).collect(),
        limits: Vec::new(),
    };
    let said = names.iter().zip(totals).map(|(name, month)| format!("{name} {}", context.money(month.taken)));
    let drawn: Vec<Curve> = drawn.iter().map(curve).collect();
    let chart = CurveChart {
        alternative: format!("Agreed, done and taken month by month. Taken: {}.", said.collect::<Vec<_>>().join(", ")),
        x: month_axis(names.iter().map(String::as_str)),
        y: Axis::rising("", units(most), |units| units.to_string()),
        steps: false,
        curves: drawn,
    };
    Some(ChartView { map: curves(&chart) })
}
