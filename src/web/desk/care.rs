//! `/desk/care`: whose instrument is due for its yearly care.

use askama::Template;
use time::{Date, Duration};

use crate::quantity::with_weekday;
use crate::records::care::{self, DueCare};
use crate::records::{CareId, Door};
use crate::web::Result;
use crate::web::form::{Id, Typed};
use crate::web::page::{Layout, Visit, page, see};
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
    is_cut_short: bool,
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

/// `GET /desk/care`
pub(in crate::web) async fn show(visit: Visit) -> Result {
    let today = visit.today();
    let until = today + Duration::days(AHEAD_DAYS);
    let rows = care::due_until(visit.app.db.read(), until, MOST).await?;
    let is_cut_short = i64::try_from(rows.len()).unwrap_or(MOST) >= MOST;
    page(&CarePage {
        layout: visit.layout(),
        instruments: by_instrument(rows, today),
        until: with_weekday(until),
        is_cut_short,
    })
}

fn by_instrument(rows: Vec<DueCare>, today: Date) -> Vec<Due> {
    let mut found: Vec<(crate::records::InstrumentId, Due)> = Vec::new();
    for row in rows {
        let line = Line {
            id: row.id,
            what: row.kind.spoken().to_owned(),
            due: with_weekday(row.next_due_on),
            // overdue begins the day after the due day
            overdue: row.next_due_on < today,
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
pub(in crate::web) async fn done(visit: Visit, Id(id): Id<CareId>) -> Result {
    let mut write = visit.app.db.write().await?;
    care::done(&mut write, &visit.by(Door::Desk), id, visit.today()).await?;
    write.commit().await?;
    see(&visit, "/desk/care", "Written down as done today; the next day follows by itself.")
}

/// `POST /desk/care/{id}/pause`
pub(in crate::web) async fn pause(visit: Visit, Id(id): Id<CareId>, form: Typed) -> Result {
    let paused = !form.is("paused", "no");
    let mut write = visit.app.db.write().await?;
    care::pause(&mut write, &visit.by(Door::Desk), id, paused).await?;
    write.commit().await?;
    see(&visit, "/desk/care", if paused { "Paused." } else { "Taken up again." })
}
