//! `/desk/jobs/{id}/hand-over`: what is owed, the money, the signature, and out.

use askama::Template;

use crate::quantity::Money;
use crate::records::caution::{About, Place};
use crate::records::customer::{self, Customer};
use crate::records::instrument;
use crate::records::job::{self, Job};
use crate::records::payment::{self, PaymentKind, PaymentMethod};
use crate::records::signature::{self, SignedFor};
use crate::records::stage::Stage;
use crate::records::work::{self, LineState};
use crate::records::{Door, JobId, quote};
use crate::web::Result;
use crate::web::caution_view::CautionSeen;
use crate::web::form::{Id, LINE, Typed};
use crate::web::page::{Layout, Visit, page, refused, see};
use crate::web::words::{StageSeen, currency, dial};

#[derive(Template)]
#[template(path = "desk/hand_over.html")]
struct HandOverPage {
    layout: Layout,
    form: Typed,
    job: Job,
    stage: StageSeen,
    customer: Customer,
    dial: Option<String>,
    instrument: String,
    brought_with: String,
    agreed: String,
    paid: String,
    balance: String,
    owes: bool,
    overpaid: bool,
    payments: Vec<PaymentRow>,
    open_lines: Vec<String>,
    signed: Option<(String, String)>,
    is_ready: bool,
    is_gone: bool,
    cautions: Vec<CautionSeen>,
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

async fn hand_over_page(visit: &Visit, id: JobId, form: Option<Typed>) -> Result<HandOverPage> {
    let reading = visit.app.db.read();
    let job = job::find(reading, id).await?;
    let customer = customer::find(reading, job.customer_id).await?;
    let instrument = instrument::read(reading, job.instrument_id).await?;
    let agreed = quote::agreed_total(reading, id).await?;
    let paid = payment::paid(reading, id).await?;
    let balance = Money(agreed.0 - paid.0);
    let payments = payment::of_job(reading, id).await?;
    let lines = work::of_job(reading, id).await?;
    let signed = signature::newest(reading, id, SignedFor::Collection).await?;
    let form = form.unwrap_or_else(|| {
        let kind = match (job.stage, balance.0) {
            (_, ..0) => PaymentKind::Refund,
            (Stage::Ready | Stage::Collected, _) => PaymentKind::Balance,
            _ => PaymentKind::Deposit,
        };
        Typed::fresh().with("kind", kind.key()).with("method", PaymentMethod::Card.key()).with(
            "amount",
            if balance.0 == 0 { String::new() } else { Money(balance.0.abs()).plain(&currency(&visit.settings)) },
        )
    });
    let about = About::job(reading, &job, &instrument.entry).await?;
    Ok(HandOverPage {
        cautions: visit.cautions(Place::HandOver, &about, &[]),
        layout: visit.layout(),
        form,
        stage: StageSeen::of(job.stage, job.waiting_for),
        dial: dial(customer.telephone_e164.as_deref()),
        customer,
        instrument: instrument.entry.title(),
        brought_with: job.brought_with.clone(),
        agreed: visit.money(agreed),
        paid: visit.money(paid),
        balance: visit.money(Money(balance.0.abs())),
        owes: balance.0 > 0,
        overpaid: balance.0 < 0,
        payments: payments
            .into_iter()
            .map(|row| PaymentRow {
                when: visit.moment(row.taken_at),
                what: format!("{}, {}", row.kind, row.method),
                amount: visit.money(row.amount),
                who: row.staff,
                note: row.note,
            })
            .collect(),
        open_lines: lines.into_iter().filter(|line| line.state == LineState::Agreed).map(|line| line.words).collect(),
        signed: signed.map(|signed| (signed.strokes, visit.moment(signed.drawn_at))),
        is_ready: job.stage == Stage::Ready,
        is_gone: !job.stage.is_open(),
        job,
    })
}

/// `GET /desk/jobs/{id}/hand-over`
pub(in crate::web) async fn show(visit: Visit, Id(id): Id<JobId>) -> Result {
    page(&hand_over_page(&visit, id, None).await?)
}

/// `POST /desk/jobs/{id}/payment`
pub(in crate::web) async fn pay(visit: Visit, Id(id): Id<JobId>, mut form: Typed) -> Result {
    let kind = form.choice::<PaymentKind>("kind", "what the payment is for");
    let method = form.choice::<PaymentMethod>("method", "how it was paid");
    let amount = form.money("amount", &currency(&visit.settings));
    if amount.is_none() && form.error("amount").is_none() {
        form.refuse("amount", "Type the amount.");
    }
    let note = form.line("note", LINE);
    let (Some(kind), Some(method), Some(amount), false) = (kind, method, amount, form.refused()) else {
        return refused(&hand_over_page(&visit, id, Some(form)).await?);
    };
    let key = form.required_key()?.to_owned();
    let mut write = visit.app.db.write().await?;
    match payment::take(&mut write, &visit.by(Door::Desk), id, &key, kind, method, amount, &note).await {
        Ok(_) => {
            write.commit().await?;
            let words = if kind == PaymentKind::Refund { "given back" } else { "taken" };
            see(&visit, &format!("/desk/jobs/{id}/hand-over"), &format!("{} {words}.", visit.money(amount)))
        }
        Err(crate::records::Error::Refused(words)) => {
            drop(write);
            form.refuse("amount", words);
            refused(&hand_over_page(&visit, id, Some(form)).await?)
        }
        Err(other) => Err(other.into()),
    }
}

/// `POST /desk/jobs/{id}/hand-over`
pub(in crate::web) async fn hand_over(visit: Visit, Id(id): Id<JobId>) -> Result {
    let mut write = visit.app.db.write().await?;
    job::hand_over(&mut write, &visit.by(Door::Desk), id).await?;
    write.commit().await?;
    see(&visit, &format!("/desk/jobs/{id}"), "Handed over. The yearly care is on the list.")
}
