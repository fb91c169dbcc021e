//! `/desk/jobs/{id}/tag` and `/desk/jobs/{id}/shelf-label`: what hangs on the instrument, and what sticks on its
//! shelf, on a label printer's paper.

use askama::Template;

use crate::drawing::Svg;
use crate::drawing::bars::code128;
use crate::quantity::with_weekday;
use crate::records::JobId;
use crate::records::condition::{self, ConditionMark};
use crate::records::customer;
use crate::records::instrument::{self, Instrument};
use crate::records::job::{self, Job};
use crate::records::paper::{self, LabelSize, PaperKind};
use crate::web::form::{Id, Query};
use crate::web::page::{Layout, RequestContext, page};
use crate::web::paper::Printing;
use crate::web::{Error, Result};

/// Three dots of a label printer's 203 to the inch: a whole number of dots, above the quarter millimetre.
const BAR_MM: f64 = 0.375;

#[derive(Template)]
#[template(path = "desk/label.html")]
struct LabelPage {
    layout: Layout,
    printing: Printing,
    kind: PaperKind,
    size: LabelSize,
    shop_name: String,
    shop_telephone: String,
    job: Job,
    customer: String,
    instrument: Instrument,
    promised: String,
    marks: Vec<ConditionMark>,
    bars: Svg,
}

impl LabelPage {
    /// As much of a text as a label holds, in whole words.
    fn fitting(&self, text: &str, most: usize) -> String {
        let most = if self.size == LabelSize::Roll62 { most } else { most * 3 / 2 };
        fitting(text, most)
    }
    fn is_tag(&self) -> bool {
        self.kind == PaperKind::Tag
    }
    /// The marks that fit; the claim ticket has them all.
    fn shown(&self) -> &[ConditionMark] {
        let fit = if self.size == LabelSize::Roll62 { 2 } else { 5 };
        self.marks.get(..fit).unwrap_or(&self.marks)
    }
    fn unshown(&self) -> usize {
        self.marks.len() - self.shown().len()
    }
    fn sizes(&self) -> &'static [LabelSize] {
        LabelSize::ALL
    }
    fn path(&self) -> &'static str {
        if self.is_tag() { "tag" } else { "shelf-label" }
    }
}

/// The whole words of a text that fit into so many letters; of one endless word the beginning. What was left out is said.
fn fitting(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let beginning: String = text.chars().take(most.saturating_sub(1)).collect();
    let whole = beginning.rsplit_once(char::is_whitespace).map_or(beginning.as_str(), |(whole, _)| whole);
    format!("{} …", whole.trim_end_matches([',', ';', ':', ' ']))
}

/// `GET /desk/jobs/{id}/tag`
pub(in crate::web) async fn tag(context: RequestContext, id: Id<JobId>, query: Query) -> Result {
    label(&context, PaperKind::Tag, id.0, &query).await
}

/// `GET /desk/jobs/{id}/shelf-label`
pub(in crate::web) async fn shelf(context: RequestContext, id: Id<JobId>, query: Query) -> Result {
    label(&context, PaperKind::ShelfLabel, id.0, &query).await
}

async fn label(context: &RequestContext, kind: PaperKind, id: JobId, query: &Query) -> Result {
    let reading = context.app.db.read();
    let job = job::find(reading, id).await?;
    let usual = paper::settings(reading).await?.label;
    let size: LabelSize = query.value("size").parse().unwrap_or(usual);
    let printing = Printing::of(context, kind, id.0).await?;
    page(&LabelPage {
        layout: context.layout(),
        printing: Printing { chosen: Some(("size", size.key().to_owned())), ..printing },
        kind,
        size,
        shop_name: context.settings.shop_name.clone(),
        shop_telephone: context.settings.telephone.clone(),
        customer: customer::find(reading, job.customer_id).await?.name,
        instrument: instrument::load(reading, job.instrument_id).await?,
        promised: job.promised_on.map_or_else(|| "to be agreed".to_owned(), with_weekday),
        marks: condition::of_job(reading, id).await?,
        bars: code128(&job.number, BAR_MM).map_err(Error::internal)?,
        job,
    })
}

#[cfg(test)]
mod tests {
    use super::fitting;

    #[test]
    fn a_long_text_ends_after_a_whole_word_and_says_so() {
        assert_eq!(fitting("hard case, strap", 20), "hard case, strap");
        assert_eq!(fitting("hard case, strap and two capos", 20), "hard case, strap …");
        assert_eq!(fitting("Donaudampfschifffahrtsgesellschaft", 10), "Donaudamp …");
    }
}
