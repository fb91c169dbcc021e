//! `/office`: the owner's evening: what is late, what is due, where to go.

use askama::Template;
use time::Duration;

use crate::records::first_hour::{self, Step};
use crate::records::stage::{Stage, is_late};
use crate::records::{care, queue};
use crate::web::Result;
use crate::web::page::{Layout, RequestContext, page};

/// Care that is counted, at most.
const MOST_CARE: i64 = 200;

#[derive(Template)]
#[template(path = "office/home.html")]
struct OfficeHome {
    layout: Layout,
    open: usize,
    late: usize,
    waiting: usize,
    ready: usize,
    /// How much care is due, or that it is more than anybody writes letters for.
    care_due: String,
    oldest: Option<(String, String, i64)>,
    /// Customers cannot open their page from home: the shop has no address that leads here.
    is_unreachable: bool,
    /// A step of the first hour is still to be done.
    is_first_hour: bool,
}

/// `GET /office`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    let today = context.today();
    let open = queue::open_jobs(context.app.db.read()).await?;
    let care = care::due_until(context.app.db.read(), today + Duration::days(45), None, MOST_CARE).await?;
    let oldest = open.iter().min_by_key(|row| row.checked_in_at);
    page(&OfficeHome {
        layout: context.layout(),
        late: open.iter().filter(|row| is_late(row.stage, row.promised_on, today)).count(),
        waiting: open.iter().filter(|row| row.waiting_for.is_some()).count(),
        ready: open.iter().filter(|row| row.stage == Stage::Ready).count(),
        oldest: oldest
            .map(|row| (format!("/desk/jobs/{}", row.id), row.number.clone(), context.days_since(row.checked_in_at))),
        care_due: match i64::try_from(care.len()) {
            Ok(..MOST_CARE) => care.len().to_string(),
            _ => format!("{MOST_CARE} or more"),
        },
        is_unreachable: context.public_address().is_none(),
        is_first_hour: first_hour::done(context.app.db.read()).await?.len() < Step::ALL.len(),
        open: open.len(),
    })
}
