//! `/s/{token}`: where the job stands, what was quoted, when it is promised. Opening it changes nothing. The link ends
//! some days after the instrument left.

use askama::Template;
use axum::http::StatusCode;

use crate::quantity::with_weekday;
use crate::records;
use crate::records::instrument;
use crate::records::job;
use crate::records::photo;
use crate::records::quote::{self, Answer, Sums};
use crate::records::stage::Stage;
use crate::web::form::Id;
use crate::web::page::{Layout, RequestContext, page, page_with};
use crate::web::photo::PhotoView;
use crate::web::words::{Shop, StageView};
use crate::web::{Error, Result};

#[derive(Template)]
#[template(path = "customer/job.html")]
struct CustomerJobPage {
    layout: Layout,
    shop: Shop,
    number: String,
    stage: StageView,
    words: &'static str,
    instrument: String,
    promised: Option<String>,
    complaint: String,
    quote: Option<QuoteView>,
    photos: Vec<PhotoView>,
}

/// The same for a link that ended, was made anew, or never was.
#[derive(Template)]
#[template(path = "customer/ended.html")]
struct EndedPage {
    layout: Layout,
    shop: Shop,
}

struct QuoteView {
    revision: i64,
    /// Words, price, and whether they said no to it.
    lines: Vec<(String, String, bool)>,
    tax_name: String,
    tax: String,
    total: String,
    state: String,
    waits: bool,
}

/// `GET /s/{token}`
pub(in crate::web) async fn show(context: RequestContext, Id(token): Id<String>) -> Result {
    let reading = context.app.db.read();
    let id = match job::by_link_that_holds(reading, &token, context.now(), context.settings.link_days).await {
        Ok(id) => id,
        // only misses count: whoever looks at their own page often is no guesser
        Err(records::Error::NotFound(_)) if context.app.link_throttle.allows(context.address, context.now()) => {
            return page_with(
                StatusCode::NOT_FOUND,
                &EndedPage { layout: bare(&context), shop: Shop::of(&context.settings) },
            );
        }
        Err(records::Error::NotFound(_)) => return Err(Error::TooMany),
        Err(other) => return Err(other.into()),
    };
    let job = job::find(reading, id).await?;
    let instrument = instrument::load(reading, job.instrument_id).await?;
    let photos = photo::of_job(reading, id).await?;
    let photos = PhotoView::row(photos.iter().filter(|photo| photo.for_customer), &format!("/s/{token}/photos"));
    let quote =
        match quote::of_job(reading, id).await?.into_iter().find(|quote| quote.answer != Some(Answer::Superseded)) {
            None => None,
            Some(newest) => {
                let lines = quote::lines(reading, newest.id).await?;
                let sums = match newest.answer {
                    Some(Answer::Agreed) => quote::agreed_sums(&newest, &lines)?,
                    _ => Sums { net: newest.net, tax: newest.tax, total: newest.total },
                };
                let lines = lines.into_iter();
                Some(QuoteView {
                    revision: newest.revision,
                    lines: lines
                        .map(|line| (line.words, context.money(line.price), line.answer == Some(Answer::Declined)))
                        .collect(),
                    tax_name: newest.tax_name,
                    tax: context.money(sums.tax),
                    total: context.money(sums.total),
                    waits: newest.answer.is_none(),
                    state: newest.answer.map_or_else(
                        || format!("valid until {}", with_weekday(newest.valid_until)),
                        |answer| answer.spoken().to_owned(),
                    ),
                })
            }
        };
    page(&CustomerJobPage {
        layout: bare(&context),
        shop: Shop::of(&context.settings),
        stage: StageView::of(job.stage, job.waiting_for),
        words: plain_words(job.stage),
        instrument: instrument.entry.title(),
        promised: job.promised_on.filter(|_| job.stage.is_open()).map(with_weekday),
        number: job.number,
        complaint: job.complaint,
        quote,
        photos,
    })
}

/// Nobody's name but the shop's: whoever finds the ticket learns no address.
fn bare(context: &RequestContext) -> Layout {
    Layout { doors: Vec::new(), staff_name: None, search: false, warning: None, ..context.layout() }
}

fn plain_words(stage: Stage) -> &'static str {
    match stage {
        Stage::CheckedIn => "Your instrument is with us and waits to be measured.",
        Stage::Measured => "We have measured it and are working out what it needs.",
        Stage::Quoted => "We have made a quote and wait for your answer. Call us or come by.",
        Stage::Agreed => "Thank you. It waits for its turn on the bench.",
        Stage::OnTheBench => "It is being worked on.",
        Stage::FinalCheck => "The work is done; we are checking it.",
        Stage::Ready => "It is ready. Bring your claim ticket.",
        Stage::Collected => "You have collected it. We hope it plays well.",
        Stage::ClosedUnrepaired => "You have it back as it came.",
    }
}
