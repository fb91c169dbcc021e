//! `/desk/instruments/{id}/care-letter`: the yearly reminder as a letter to be folded in three.

use askama::Template;

use crate::quantity::with_weekday;
use crate::records::customer::{self, Customer};
use crate::records::paper::{self, PaperKind};
use crate::records::{InstrumentId, care, instrument};
use crate::web::Result;
use crate::web::form::Id;
use crate::web::page::{Layout, RequestContext, page};
use crate::web::paper::Printing;
use crate::web::words::Shop;

#[derive(Template)]
#[template(path = "desk/care_letter.html")]
struct CareLetter {
    layout: Layout,
    shop: Shop,
    printing: Printing,
    id: InstrumentId,
    customer: Customer,
    /// The day the yearly letter was agreed to.
    agreed: Option<String>,
    instrument: String,
    today: String,
    care: Vec<(String, String)>,
    words: String,
    advice: String,
}

/// `GET /desk/instruments/{id}/care-letter`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<InstrumentId>) -> Result {
    let reading = context.app.db.read();
    let instrument = instrument::load(reading, id).await?;
    let care = care::of_instrument(reading, id).await?;
    let customer = customer::find(reading, instrument.customer_id).await?;
    page(&CareLetter {
        layout: context.layout(),
        shop: Shop::of(&context.settings),
        printing: Printing::of(&context, PaperKind::CareLetter, id.0).await?,
        id,
        agreed: customer.reminders_agreed_on.map(with_weekday),
        customer,
        instrument: instrument.entry.title(),
        today: with_weekday(context.today()),
        care: care
            .into_iter()
            .filter(|line| !line.paused)
            .map(|line| (line.kind.spoken().to_owned(), with_weekday(line.next_due_on)))
            .collect(),
        words: paper::settings(reading).await?.care_words,
        advice: context.settings.care_advice.clone(),
    })
}
