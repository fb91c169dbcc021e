//! `/desk/uncollected`: what is ready and nobody comes for, with the letter that is due by the shop's own days; and
//! `/desk/jobs/{id}/collection-letter`, that letter.

use askama::Template;
use time::Date;

use crate::quantity::{Instant, with_weekday};
use crate::records::caution::{About, Place};
use crate::records::customer::{self, Customer};
use crate::records::job::{self, Job};
use crate::records::paper::{self, PaperKind, PaperSettings};
use crate::records::stage::Stage;
use crate::records::{JobId, instrument, queue};
use crate::web::Result;
use crate::web::caution_view::CautionView;
use crate::web::form::Id;
use crate::web::page::{Layout, RequestContext, page};
use crate::web::paper::Printing;
use crate::web::words::{Shop, dial, instrument_title};

#[derive(Template)]
#[template(path = "desk/uncollected.html")]
struct UncollectedPage {
    layout: Layout,
    rows: Vec<Row>,
    days: String,
    cautions: Vec<CautionView>,
}

struct Row {
    id: JobId,
    number: String,
    customer: String,
    telephone: String,
    dial: Option<String>,
    instrument: String,
    rack: String,
    since: String,
    days: i64,
    letters: usize,
    last_letter: Option<String>,
    is_letter_due: bool,
}

/// `GET /desk/uncollected`: what is ready longest first.
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    let reading = context.app.db.read();
    let settings = paper::settings(reading).await?;
    let mut ready: Vec<_> =
        queue::open_jobs(reading).await?.into_iter().filter(|row| row.stage == Stage::Ready).collect();
    ready.sort_by_key(|row| row.stage_since);
    let keys: Vec<uuid::Uuid> = ready.iter().map(|row| row.id.0).collect();
    let mut prints = paper::prints_of(reading, PaperKind::CollectionLetter, &keys).await?;
    let mut rows = Vec::with_capacity(ready.len());
    for row in ready {
        let letters = letter_days(&context, prints.remove(&row.id.0).unwrap_or_default(), row.stage_since);
        let days = context.days_since(row.stage_since);
        rows.push(Row {
            number: row.number,
            dial: dial(row.telephone_e164.as_deref()),
            telephone: row.telephone,
            customer: row.customer,
            instrument: instrument_title(row.family, &row.maker, &row.model),
            rack: row.rack,
            since: context.day_of(row.stage_since),
            is_letter_due: is_due(&settings, &letters, days, context.today()),
            letters: letters.len(),
            last_letter: letters.last().map(|day| with_weekday(*day)),
            days,
            id: row.id,
        });
    }
    let days: Vec<String> = settings.letter_days.iter().map(ToString::to_string).collect();
    page(&UncollectedPage {
        layout: context.layout(),
        rows,
        days: days.join(", "),
        cautions: context.cautions(Place::Uncollected, &About::default(), &[]),
    })
}

/// The days on which a letter was printed since the job became ready. Printed twice on one day, it is one letter.
fn letter_days(context: &RequestContext, prints: Vec<Instant>, ready_since: Instant) -> Vec<Date> {
    let since = prints.into_iter().filter(|at| *at >= ready_since);
    let mut days: Vec<Date> = since.map(|at| context.app.clock.local_date(at)).collect();
    days.sort_unstable();
    days.dedup();
    days
}

/// Whether the next letter's day has come: the job is ready for `days`, and after a letter that went late the next
/// one still keeps its distance.
fn is_due(settings: &PaperSettings, letters: &[Date], days: i64, today: Date) -> bool {
    let Some(after) = settings.letter_days.get(letters.len()) else { return false };
    let Some(last) = letters.last() else { return days >= *after };
    let before = letters.len().checked_sub(1).and_then(|before| settings.letter_days.get(before)).unwrap_or(&0);
    days >= *after && (today - *last).whole_days() >= after - before
}

#[derive(Template)]
#[template(path = "desk/collection_letter.html")]
struct CollectionLetter {
    layout: Layout,
    shop: Shop,
    printing: Printing,
    job: Job,
    customer: Customer,
    instrument: String,
    today: String,
    ready_since: Option<String>,
    letter: usize,
    words: String,
    terms: String,
}

/// `GET /desk/jobs/{id}/collection-letter`
pub(in crate::web) async fn letter(context: RequestContext, Id(id): Id<JobId>) -> Result {
    let reading = context.app.db.read();
    let job = job::find(reading, id).await?;
    let printing = Printing::of(&context, PaperKind::CollectionLetter, id.0).await?;
    let prints = paper::prints(reading, PaperKind::CollectionLetter, id.0).await?;
    let letters = letter_days(&context, prints, job.stage_since);
    let is_of_today = letters.last() == Some(&context.today());
    page(&CollectionLetter {
        layout: context.layout(),
        shop: Shop::of(&context.settings),
        customer: customer::find(reading, job.customer_id).await?,
        instrument: instrument::load(reading, job.instrument_id).await?.entry.title(),
        today: with_weekday(context.today()),
        ready_since: (job.stage == Stage::Ready).then(|| context.day_of(job.stage_since)),
        letter: if is_of_today { letters.len() } else { letters.len() + 1 },
        words: paper::settings(reading).await?.letter_words,
        terms: context.settings.claim_terms.clone(),
        printing: Printing { copy: None, ..printing },
        job,
    })
}
