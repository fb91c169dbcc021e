//! `/office/turnaround`: how long it takes, from check-in to ready or to collected; where the days go; and whether the
//! figures agree with each other.

mod groups;
mod parts;
mod sample;

use askama::Template;

use crate::forecast::turnaround::TurnaroundOutput;
use crate::quantity::with_weekday;
use crate::records::stays::{self, StaysBy};
use crate::web::form::{Choice, FormData, Query};
use crate::web::page::{Layout, RequestContext, page};
use crate::web::{Error, Result};

use super::charts::ChartView;
use super::period::Period;
use groups::{GroupRow, Groups};
use parts::{LawView, MonthRow, PartRow};
use sample::{Sample, Until, between};

/// Days over which both sides of Little's law are counted.
const LAW_DAYS: i64 = 91;

#[derive(Template)]
#[template(path = "office/turnaround.html")]
struct TurnaroundPage {
    layout: Layout,
    form: FormData,
    periods: Vec<Choice>,
    untils: Vec<Choice>,
    groupings: Vec<Choice>,
    first_day: String,
    /// "ready" or "collected".
    until: &'static str,
    counted: Counted,
    headline: Vec<Headline>,
    /// More than can be reckoned at once.
    is_too_many: bool,
    chart: Option<ChartView>,
    groups: Vec<GroupRow>,
    left_out: usize,
    stages: Vec<PartRow>,
    waits: Vec<PartRow>,
    months: Vec<MonthRow>,
    trend: Option<ChartView>,
    law: Option<LawView>,
}

/// Jobs by what became of them.
#[derive(Default)]
struct Counted {
    jobs: usize,
    finished: usize,
    open: usize,
    unrepaired: usize,
}

/// One figure that somebody will act on.
struct Headline {
    figure: String,
    words: &'static str,
    limits: String,
}

/// `GET /office/turnaround`
pub(in crate::web) async fn show(context: RequestContext, query: Query) -> Result {
    let period = Period::of(&query, context.today());
    let until = Until::of(&query);
    let by = query.value("by");
    let since = period.since(&context);
    let mut connection = context.app.db.read().acquire().await.map_err(Error::internal)?;
    let stays = stays::since(&mut *connection, since, StaysBy::All).await?;
    let told_apart = match by.parse::<StaysBy>() {
        Ok(StaysBy::All) | Err(()) => None,
        Ok(by) => Some(stays::since(&mut *connection, since, by).await?),
    };
    let at_stages = stays::at_stages(&mut *connection, since).await?;
    let waits = stays::waits(&mut *connection, since).await?;
    let law_from = context.app.clock.start_of(context.today() - time::Duration::days(LAW_DAYS));
    let law = stays::in_the_house(&mut connection, law_from, context.now()).await?;
    drop(connection);

    let mut all = Sample::default();
    let mut counted = Counted { jobs: stays.len(), ..Counted::default() };
    for stay in &stays {
        let followed = until.followed(stay, &context);
        counted.finished += usize::from(followed.1);
        counted.unrepaired += usize::from(!followed.1 && stay.is_unrepaired());
        counted.open += usize::from(!followed.1 && !stay.is_unrepaired());
        all.push(followed);
    }
    let worked = all.worked_out();
    let groups = match (by, &told_apart) {
        ("season", _) => Groups::by_season(&stays, until, &context),
        (by, Some(stays)) => Groups::by_name(stays, by.parse().unwrap_or(StaysBy::All), until, &context),
        _ => Groups::default(),
    };
    let months = parts::months(&stays, period, until, &context);
    let form = FormData::default()
        .with("months", period.key())
        .with("until", until.word())
        .with("by", if groups.is_empty() && by != "season" { "all" } else { by });
    page(&TurnaroundPage {
        layout: context.layout(),
        form,
        periods: Period::choices(),
        untils: vec![Choice::new("ready", "ready"), Choice::new("collected", "collected")],
        groupings: StaysBy::ALL
            .iter()
            .map(|by| Choice::new(by.key(), by.spoken()))
            .chain([Choice::new("season", "season of check-in")])
            .collect(),
        first_day: with_weekday(period.first_day),
        until: until.word(),
        headline: worked.as_ref().map(|worked| headline(&all, worked)).unwrap_or_default(),
        is_too_many: worked.is_none() && counted.jobs > 0,
        chart: worked.as_ref().map(|worked| groups.chart(&all, worked, until)),
        left_out: groups.not_drawn(),
        groups: groups.rows(),
        stages: parts::stages(&at_stages),
        waits: parts::waits(&waits),
        trend: parts::trend(&months, until),
        months,
        law: parts::law(&law, law_from, context.now()),
        counted,
    })
}

fn headline(all: &Sample, worked: &TurnaroundOutput) -> Vec<Headline> {
    let limits = between(worked.median_least_days, worked.median_most_days);
    let mut said = vec![
        Headline {
            figure: all.days_words(worked.median_days, "half"),
            words: "half of the jobs",
            limits: if limits.is_empty() { limits } else { format!("truly {limits}, with 95 %") },
        },
        Headline { figure: all.days_words(worked.p80_days, "a fifth"), words: "80 %", limits: String::new() },
        Headline { figure: all.days_words(worked.p90_days, "a tenth"), words: "90 %", limits: String::new() },
    ];
    if let Some(mean) = worked.restricted_mean.filter(|_| worked.median_days.is_none()) {
        said.push(Headline {
            figure: format!("{:.1} days", mean.days),
            words: "on average",
            limits: format!("within the first {} days", mean.until_days),
        });
    }
    said
}
