//! `/desk/jobs/{id}/hand-over`: what is owed, the money, the signature, and out.

use askama::Template;

use crate::records::caution::{About, Place};
use crate::records::customer::{self, Customer};
use crate::records::instrument;
use crate::records::job::{self, Job};
use crate::records::payment::{self, PaymentKind, PaymentMethod};
use crate::records::signature::{self, SignedFor};
use crate::records::stage::Stage;
use crate::records::work::{self, LineState};
use crate::records::{Door, JobId, balance, care, moves};
use crate::web::Result;
use crate::web::caution_view::CautionView;
use crate::web::form::{FormData, Id, LINE};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::words::{BalanceView, StageView, currency, dial};

#[derive(Template)]
#[template(path = "desk/hand_over.html")]
struct HandOverPage {
    layout: Layout,
    form: FormData,
    job: Job,
    stage: StageView,
    customer: Customer,
    dial: Option<String>,
    instrument: String,
    brought_with: String,
    money: BalanceView,
    has_care: bool,
    payments: Vec<PaymentRow>,
    open_lines: Vec<String>,
    signed: Option<(String, String)>,
    is_ready: bool,
    is_gone: bool,
    cautions: Vec<CautionView>,
}

struct PaymentRow {
    when: String,
    what: String,
    amount: String,
    who: String,
    note: String,
}

impl HandOverPage {
    fn kinds(&self) -> &'static [PaymentKind] {
        PaymentKind::ALL
    }
    fn methods(&self) -> &'static [PaymentMethod] {
        PaymentMethod::ALL
    }
}

async fn hand_over_page(context: &RequestContext, id: JobId, form: Option<FormData>) -> Result<HandOverPage> {
    let reading = context.app.db.read();
    let job = job::find(reading, id).await?;
    let customer = customer::find(reading, job.customer_id).await?;
    let instrument = instrument::load(reading, job.instrument_id).await?;
    let balance = balance::load(reading, &job).await?;
    let care = care::of_instrument(reading, instrument.id).await?;
    let payments = payment::of_job(reading, id).await?;
    let lines = work::of_job(reading, id).await?;
    let signed = signature::newest(reading, id, SignedFor::Collection).await?;
    let form = form.unwrap_or_else(|| {
        let (kind, amount) = balance.next_payment(job.stage);
        let amount = if amount.0 == 0 { String::new() } else { amount.plain(&currency(&context.settings)) };
        FormData::new().with("kind", kind.key()).with("method", PaymentMethod::Card.key()).with("amount", amount)
    });
    let about = About::job(&job, &instrument.entry, &lines);
    Ok(HandOverPage {
        cautions: context.cautions(Place::HandOver, &about, &[]),
        layout: context.layout(),
        form,
        stage: StageView::of(job.stage, job.waiting_for),
        dial: dial(customer.telephone_e164.as_deref()),
        customer,
        instrument: instrument.entry.title(),
        brought_with: job.brought_with.clone(),
        money: BalanceView::of(context, &balance),
        has_care: care::is_on_the_list(&care),
        payments: payments
            .into_iter()
            .map(|row| PaymentRow {
                when: context.moment(row.taken_at),
                what: format!("{}, {}", row.kind, row.method),
                amount: context.money(row.amount),
                who: row.staff,
                note: row.note,
            })
            .collect(),
        open_lines: lines.into_iter().filter(|line| line.state == LineState::Agreed).map(|line| line.words).collect(),
        signed: signed.map(|signed| (signed.strokes, context.moment(signed.drawn_at))),
        is_ready: job.stage == Stage::Ready,
        is_gone: !job.stage.is_open(),
        job,
    })
}

/// `GET /desk/jobs/{id}/hand-over`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>) -> Result {
    page(&hand_over_page(&context, id, None).await?)
}

/// `POST /desk/jobs/{id}/payment`
pub(in crate::web) async fn pay(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let kind = form.choice::<PaymentKind>("kind", "what the payment is for");
    let method = form.choice::<PaymentMethod>("method", "how it was paid");
    let amount = form.required_money("amount", &currency(&context.settings), "the amount");
    let note = form.line("note", LINE);
    let (Some(kind), Some(method), Some(amount), false) = (kind, method, amount, form.has_errors()) else {
        return page_with(form.status(), &hand_over_page(&context, id, Some(form)).await?);
    };
    let key = form.required_key()?.to_owned();
    let mut tx = context.app.db.write().await?;
    let taken = payment::take(&mut tx, &context.audit(Door::Desk), id, &key, kind, method, amount, &note).await;
    if form.accept("amount", taken)?.is_none() {
        drop(tx);
        return page_with(form.status(), &hand_over_page(&context, id, Some(form)).await?);
    }
    tx.commit().await?;
    let words = if kind == PaymentKind::Refund { "given back" } else { "taken" };
    let words = format!("{} {words}.", context.money(amount));
    redirect_with_flash(&context, &format!("/desk/jobs/{id}/hand-over"), &words)
}

/// `POST /desk/jobs/{id}/hand-over`
pub(in crate::web) async fn hand_over(context: RequestContext, Id(id): Id<JobId>) -> Result {
    let mut tx = context.app.db.write().await?;
    let has_care = moves::hand_over(&mut tx, &context.audit(Door::Desk), id).await?;
    tx.commit().await?;
    let words = if has_care { "Handed over. The yearly care is on the list." } else { "Handed over." };
    redirect_with_flash(&context, &format!("/desk/jobs/{id}"), words)
}
