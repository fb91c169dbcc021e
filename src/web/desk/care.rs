//! `/desk/care`: whose instrument is due for its yearly care.

use askama::Template;
use time::{Date, Duration};

use crate::quantity::with_weekday;
use crate::records::care::{self, DueCare};
use crate::records::{CareId, Door};
use crate::web::Result;
use crate::web::form::{FormData, Id, Query};
use crate::web::page::{Layout, RequestContext, page, redirect_with_flash};
use crate::web::words::instrument_title;

/// How far ahead the list looks: time to write and to make room on the bench.
const AHEAD_DAYS: i64 = 45;
/// Lines on one page.
const MOST: i64 = 200;

#[derive(Template)]
#[template(path = "desk/care.html")]
struct CarePage {
    layout: Layout,
    instruments: Vec<Due>,
    until: String,
    /// Where what has been due for longer stands.
    longer: Option<String>,
    is_longer: bool,
}

/// One instrument with everything it is due for.
struct Due {
    instrument: String,
    instrument_href: String,
    customer: String,
    customer_href: String,
    telephone: String,
    email: String,
    may_remind: bool,
    lines: Vec<Line>,
    is_overdue: bool,
}

struct Line {
    id: CareId,
    what: String,
    due: String,
    overdue: bool,
}

/// `GET /desk/care`: what is due now; `before` goes back from the soonest line seen.
pub(in crate::web) async fn show(context: RequestContext, query: Query) -> Result {
    let today = context.today();
    let until = today + Duration::days(AHEAD_DAYS);
    let reading = context.app.db.read();
    let before = match query.value("before").parse::<CareId>() {
        Ok(id) => Some((care::find(reading, id).await?.1.next_due_on, id)),
        Err(_) => None,
    };
    let mut rows = care::due_until(reading, until, before, MOST + 1).await?;
    let is_more = i64::try_from(rows.len()).unwrap_or(0) > MOST;
    if is_more {
        rows.remove(0);
    }
    page(&CarePage {
        layout: context.layout(),
        longer: rows.first().filter(|_| is_more).map(|soonest| format!("/desk/care?before={}", soonest.id)),
        is_longer: before.is_some(),
        instruments: by_instrument(rows, today),
        until: with_weekday(before.map_or(until, |(day, _)| day)),
    })
}

fn by_instrument(rows: Vec<DueCare>, today: Date) -> Vec<Due> {
    let mut found: Vec<(crate::records::InstrumentId, Due)> = Vec::new();
    for row in rows {
        let line = Line {
            id: row.id,
            what: row.kind.spoken().to_owned(),
            due: with_weekday(row.next_due_on),
            overdue: row.is_overdue(today),
        };
        if let Some((_, due)) = found.iter_mut().find(|(id, _)| *id == row.instrument_id) {
            due.is_overdue |= line.overdue;
            due.lines.push(line);
            continue;
        }
        let due = Due {
            instrument: instrument_title(row.family, &row.maker, &row.model),
            instrument_href: format!("/desk/instruments/{}", row.instrument_id),
            customer: row.customer,
            customer_href: format!("/desk/customers/{}", row.customer_id),
            telephone: row.telephone,
            email: row.email,
            may_remind: row.reminders_agreed_on.is_some(),
            is_overdue: line.overdue,
            lines: vec![line],
        };
        found.push((row.instrument_id, due));
    }
    found.into_iter().map(|(_, due)| due).collect()
}

/// `POST /desk/care/{id}/done`
pub(in crate::web) async fn done(context: RequestContext, Id(id): Id<CareId>) -> Result {
    let mut tx = context.app.db.write().await?;
    care::done(&mut tx, &context.audit(Door::Desk), id, context.today()).await?;
    tx.commit().await?;
    redirect_with_flash(&context, "/desk/care", "Written down as done today; the next day follows by itself.")
}

/// `POST /desk/care/{id}/pause`
pub(in crate::web) async fn pause(context: RequestContext, Id(id): Id<CareId>, form: FormData) -> Result {
    let paused = !form.is("paused", "no");
    let mut tx = context.app.db.write().await?;
    care::pause(&mut tx, &context.audit(Door::Desk), id, paused).await?;
    tx.commit().await?;
    redirect_with_flash(&context, "/desk/care", if paused { "Paused." } else { "Taken up again." })
}
