//! `/desk/uncollected`: what is ready and nobody comes for, with the letter that is due by the shop's own days; and
//! `/desk/jobs/{id}/collection-letter`, that letter.

use askama::Template;

use crate::quantity::with_weekday;
use crate::records::balance::{self, Due};
use crate::records::caution::{About, Place};
use crate::records::customer::{self, Customer};
use crate::records::job::{self, Job};
use crate::records::paper::{self, PaperKind};
use crate::records::stage::Stage;
use crate::records::telling::{Matter, Subject};
use crate::records::uncollected::{self, is_letter_due, letter_days};
use crate::records::{JobId, instrument, queue};
use crate::web::Result;
use crate::web::caution_view::CautionView;
use crate::web::form::Id;
use crate::web::page::{Layout, RequestContext, page};
use crate::web::paper::Printing;
use crate::web::words::{BalanceView, Shop, dial, instrument_title};

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
    let sent = uncollected::letters_of_ready_jobs(reading).await?;
    let day_of = |at| context.app.clock.local_date(at);
    let rows = ready.into_iter().map(|row| {
        let own = sent.iter().filter(|letter| letter.job_id == row.id);
        let letters = letter_days(own.map(|letter| day_of(letter.sent_at)));
        let ready_on = day_of(row.stage_since);
        Row {
            number: row.number,
            dial: dial(row.telephone_e164.as_deref()),
            telephone: row.telephone,
            customer: row.customer,
            instrument: instrument_title(row.family, &row.maker, &row.model),
            rack: row.rack,
            since: context.day_of(row.stage_since),
            is_letter_due: is_letter_due(&settings.letter_days, ready_on, &letters, context.today()),
            letters: letters.len(),
            last_letter: letters.last().map(|day| with_weekday(*day)),
            days: context.days_since(row.stage_since),
            id: row.id,
        }
    });
    let days: Vec<String> = settings.letter_days.iter().map(ToString::to_string).collect();
    page(&UncollectedPage {
        layout: context.layout(),
        rows: rows.collect(),
        days: days.join(", "),
        cautions: context.cautions(Place::Uncollected, &About::default(), &[]),
    })
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
    /// What says that it was sent, where it is ready and was not sent today.
    to_send: Option<ToSend>,
    words: String,
    /// What is still owed.
    owed: Option<String>,
}

/// What is sent when somebody says that the letter went out: pressed twice on one day it is one letter.
struct ToSend {
    key: String,
    subject: Subject,
}

/// `GET /desk/jobs/{id}/collection-letter`
pub(in crate::web) async fn letter(context: RequestContext, Id(id): Id<JobId>) -> Result {
    let reading = context.app.db.read();
    let job = job::find(reading, id).await?;
    let printing = Printing::of(&context, PaperKind::CollectionLetter, id.0).await?;
    let sent = uncollected::letters_of_ready_jobs(reading).await?.into_iter().filter(|letter| letter.job_id == id);
    let letters = letter_days(sent.map(|letter| context.app.clock.local_date(letter.sent_at)));
    let is_of_today = letters.last() == Some(&context.today());
    let to_send = (job.stage == Stage::Ready && !is_of_today).then(|| ToSend {
        key: format!("letter {}", context.today()),
        subject: Subject { matter: Matter::Ready, of: id.0 },
    });
    let letter = if is_of_today { letters.len() } else { letters.len() + 1 };
    let money = BalanceView::of(&context, &balance::load(reading, &job).await?);
    page(&CollectionLetter {
        layout: context.layout(),
        shop: Shop::of(&context.settings),
        customer: customer::find(reading, job.customer_id).await?,
        instrument: instrument::load(reading, job.instrument_id).await?.entry.title(),
        today: with_weekday(context.today()),
        ready_since: (job.stage == Stage::Ready).then(|| context.day_of(job.stage_since)),
        letter,
        owed: matches!(money.due, Due::Owed(_)).then(|| money.for_customer()),
        to_send,
        words: paper::settings(reading).await?.words_of_letter(letter).to_owned(),
        printing: Printing { copy: None, ..printing },
        job,
    })
}
