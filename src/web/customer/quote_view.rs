//! A quote as its customer reads and answers it: line by line, one of several ways where there are several.

use crate::quantity::{Money, with_weekday};
use crate::records::quote::{self, Answer, Quote, QuoteLine, Standing};
use crate::records::work::{self, WorkLine};
use crate::records::{JobId, WorkLineId};
use crate::web::Result;
use crate::web::form::FormData;
use crate::web::page::RequestContext;
use crate::web::sums_view::SumsView;

/// The newest quote that was not replaced, with its lines.
pub(super) struct Present {
    pub(super) quote: Quote,
    pub(super) lines: Vec<QuoteLine>,
    work: Vec<WorkLine>,
}

/// The newest quote of a job.
pub(super) async fn present(context: &RequestContext, job: JobId) -> Result<Option<Present>> {
    let reading = context.app.db.read();
    let newest = quote::of_job(reading, job).await?.into_iter().find(|quote| quote.answer != Some(Answer::Superseded));
    let Some(quote) = newest else { return Ok(None) };
    let lines = quote::lines(reading, quote.id).await?;
    Ok(Some(Present { work: work::of_job(reading, job).await?, quote, lines }))
}

impl Present {
    /// Begun with their yes: no longer a question.
    fn is_kept(&self, id: WorkLineId) -> bool {
        self.work.iter().any(|line| line.id == id && line.is_kept())
    }

    /// The lines a form says yes to: those ticked that go with any way, and those of the way chosen.
    pub(super) fn yes_to(&self, form: &FormData) -> Vec<WorkLineId> {
        let names = quote::alternatives(&self.lines);
        let chosen = names.iter().enumerate().find(|(place, _)| form.is("choice", &place.to_string()));
        let is_yes = |line: &&QuoteLine| {
            if line.alternative.is_empty() || names.is_empty() {
                return form.is("line", &line.work_line_id.to_string()) || self.is_kept(line.work_line_id);
            }
            chosen.is_some_and(|(_, name)| line.alternative == **name)
        };
        self.lines.iter().filter(is_yes).map(|line| line.work_line_id).collect()
    }

    /// What those lines come to with tax.
    pub(super) fn total_of(&self, yes_to: &[WorkLineId]) -> Result<Money> {
        let lines = self.lines.iter().filter(|line| yes_to.contains(&line.work_line_id));
        Ok(quote::sums_of(&self.quote, lines)?.total)
    }

    /// The quote as a page shows it, with what was ticked; nothing typed yet is a yes to every line.
    pub(super) fn view(&self, context: &RequestContext, form: &FormData) -> Result<QuoteView> {
        let quote = &self.quote;
        let names = quote::alternatives(&self.lines);
        let is_new = !form.has("quote");
        let line = |line: &QuoteLine| LineView {
            id: line.work_line_id.to_string(),
            words: line.words.clone(),
            reason: line.reason.clone(),
            price: context.money(line.charged()),
            is_declined: line.answer == Some(Answer::Declined),
            is_kept: self.is_kept(line.work_line_id),
            is_ticked: is_new || self.is_kept(line.work_line_id) || form.is("line", &line.work_line_id.to_string()),
        };
        let common = self.lines.iter().filter(|line| names.is_empty() || line.alternative.is_empty());
        let choices = names.iter().enumerate().map(|(place, name)| {
            let with_it = self.lines.iter().filter(|line| quote::belongs_to(line, name));
            let own = self.lines.iter().filter(|line| line.alternative == **name);
            Ok(ChoiceView {
                key: place.to_string(),
                name: (*name).to_owned(),
                total: context.money(quote::sums_of(quote, with_it)?.total),
                is_ticked: form.is("choice", &place.to_string()),
                lines: own.map(line).collect(),
            })
        });
        let standing = quote::standing(quote, &self.lines);
        let counted: Vec<&QuoteLine> = match quote.answer {
            Some(Answer::Agreed) => self.lines.iter().filter(|line| line.answer == Some(Answer::Agreed)).collect(),
            _ => self.lines.iter().filter(|line| names.is_empty() || line.alternative.is_empty()).collect(),
        };
        let sums = quote::taxed_of(quote, counted.into_iter())?;
        let is_past = quote.valid_until < context.today();
        let ticked = if is_new && names.is_empty() {
            self.lines.iter().map(|line| line.work_line_id).collect()
        } else if is_new {
            self.lines.iter().filter(|line| line.alternative.is_empty()).map(|line| line.work_line_id).collect()
        } else {
            self.yes_to(form)
        };
        let total = self.total_of(&ticked)?;
        Ok(QuoteView {
            id: quote.id.to_string(),
            revision: quote.revision,
            lines: common.map(line).collect(),
            choices: choices.collect::<Result<_>>()?,
            // of several ways each has its own total until one is chosen
            sums: (names.is_empty() || quote.answer == Some(Answer::Agreed))
                .then(|| SumsView::of(context, &quote.tax_name, quote.prices_include_tax, &sums)),
            running: context.money(total),
            shown: total.0.to_string(),
            deposit: (quote.deposit_asked.0 > 0).then(|| context.money(quote.deposit_asked)),
            note: quote.note.clone(),
            waits: standing == Standing::Waits && !is_past,
            is_past: standing == Standing::Waits && is_past,
            valid_until: with_weekday(quote.valid_until),
            answered: quote
                .answered_at
                .filter(|_| standing != Standing::Waits)
                .map(|at| format!("{standing}, {}", context.day_of(at))),
        })
    }
}

/// A quote on the page.
pub(super) struct QuoteView {
    pub(super) id: String,
    pub(super) revision: i64,
    /// The lines that go with every way; all of them where there is one way only.
    pub(super) lines: Vec<LineView>,
    pub(super) choices: Vec<ChoiceView>,
    pub(super) sums: Option<SumsView>,
    /// What is ticked comes to this, with tax.
    pub(super) running: String,
    /// The same as the form says that it was shown.
    pub(super) shown: String,
    pub(super) deposit: Option<String>,
    pub(super) note: String,
    /// It can be answered here.
    pub(super) waits: bool,
    /// Nobody answered it in time.
    pub(super) is_past: bool,
    pub(super) valid_until: String,
    /// "2 of 3 agreed, Wed 14 Oct 2026"
    pub(super) answered: Option<String>,
}

pub(super) struct ChoiceView {
    pub(super) key: String,
    pub(super) name: String,
    pub(super) lines: Vec<LineView>,
    /// With the lines that go with every way.
    pub(super) total: String,
    pub(super) is_ticked: bool,
}

pub(super) struct LineView {
    pub(super) id: String,
    pub(super) words: String,
    pub(super) reason: String,
    pub(super) price: String,
    pub(super) is_declined: bool,
    pub(super) is_kept: bool,
    pub(super) is_ticked: bool,
}
