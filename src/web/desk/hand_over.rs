//! `/desk/jobs/{id}/hand-over`: what is owed, the money, the signature, and out; and what was a mistake, taken back.

use askama::Template;

use crate::quantity::{Instant, Money};
use crate::records::balance::{Balance, FarOff};
use crate::records::caution::{About, Place};
use crate::records::customer::{self, Customer};
use crate::records::hand_over::{self, HandOver};
use crate::records::instrument;
use crate::records::job::{self, Job};
use crate::records::payment::{self, Payment, PaymentKind, PaymentMethod, RightPayment};
use crate::records::signature::{self, SignedFor};
use crate::records::stage::Stage;
use crate::records::work::{self, LineState};
use crate::records::{Door, JobId, PaymentId, balance, care, moves, quote};
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
    /// What is open, in minor units: sent along, so that nobody presses on what is not so any more.
    open_amount: i64,
    has_care: bool,
    payments: Vec<PaymentRow>,
    open_lines: Vec<String>,
    signed: Option<(String, String)>,
    is_ready: bool,
    gone: Option<Gone>,
    cautions: Vec<CautionView>,
}

/// How it left the house.
struct Gone {
    words: String,
    /// It was today, so that a mistake can be taken back.
    is_today: bool,
}

struct PaymentRow {
    id: PaymentId,
    number: i64,
    when: String,
    what: String,
    amount: String,
    who: String,
    note: String,
    /// It was mistyped: its row is taken back by another.
    is_corrected: bool,
    /// It was taken today and stands.
    may_correct: bool,
    /// How it would be corrected, as typed.
    form: FormData,
}

impl HandOverPage {
    fn kinds(&self) -> &'static [PaymentKind] {
        PaymentKind::ALL
    }
    fn methods(&self) -> &'static [PaymentMethod] {
        PaymentMethod::ALL
    }
}

/// What stands in the form by which a payment is corrected.
const CORRECTION: [&str; 4] = ["right_kind", "right_method", "right_amount", "right_reason"];

fn payment_row(context: &RequestContext, row: Payment, typed: &FormData, today: Instant) -> PaymentRow {
    let has_typed = typed.has(&format!("right_amount_{}", row.id));
    let form = if has_typed {
        typed.row(row.id, &CORRECTION)
    } else {
        let amount = Money(row.amount.0.abs()).plain(&currency(&context.settings));
        FormData::new()
            .of_row(row.id)
            .with("right_kind", row.kind.key())
            .with("right_method", row.method.key())
            .with("right_amount", amount)
    };
    let form = if form.has("form_key") { form } else { FormData::new().of_row(row.id).overlaid_with(form) };
    let takes_back = row.corrects.is_some();
    PaymentRow {
        id: row.id,
        number: row.number,
        when: context.moment(row.taken_at),
        what: if takes_back {
            format!("taken back: {}, {}", row.kind, row.method)
        } else {
            format!("{}, {}", row.kind, row.method)
        },
        amount: context.money(row.amount),
        who: row.staff,
        note: row.note,
        is_corrected: row.is_corrected,
        may_correct: has_typed || (!takes_back && !row.is_corrected && !row.is_closed && row.taken_at >= today),
        form: form.of_row(row.id),
    }
}

async fn hand_over_page(context: &RequestContext, id: JobId, typed: FormData) -> Result<HandOverPage> {
    let reading = context.app.db.read();
    let job = job::find(reading, id).await?;
    let customer = customer::find(reading, job.customer_id).await?;
    let instrument = instrument::load(reading, job.instrument_id).await?;
    let balance = balance::load(reading, &job).await?;
    let care = care::of_instrument(reading, instrument.id).await?;
    let payments = payment::of_job(reading, id).await?;
    let lines = work::of_job(reading, id).await?;
    let signed = signature::newest(reading, id, SignedFor::Collection).await?;
    let handed_over = hand_over::newest(reading, id).await?.filter(|last| last.taken_back_at.is_none());
    let today = context.app.clock.start_of(context.today());
    let (kind, amount) = balance.next_payment(job.stage);
    let amount = if amount.0 == 0 { String::new() } else { amount.plain(&currency(&context.settings)) };
    let form =
        FormData::new().with("kind", kind.key()).with("method", PaymentMethod::Card.key()).with("amount", amount);
    let payments = payments.into_iter().map(|row| payment_row(context, row, &typed, today)).collect();
    let about = About::job(&job, &instrument.entry, &lines);
    let gone = (!job.stage.is_open()).then(|| match &handed_over {
        None => Gone { words: "It has left the house.".to_owned(), is_today: false },
        Some(last) => Gone {
            is_today: job.stage == Stage::Collected && last.handed_over_at >= today,
            words: handed_over_words(context, last),
        },
    });
    Ok(HandOverPage {
        cautions: context.cautions(Place::HandOver, &about, &[]),
        layout: context.layout(),
        form: form.overlaid_with(typed),
        stage: StageView::of(job.stage, job.waiting_for),
        dial: dial(customer.telephone_e164.as_deref()),
        customer,
        instrument: instrument.entry.title(),
        brought_with: job.brought_with.clone(),
        money: BalanceView::of(context, &balance),
        open_amount: balance.open_amount().0,
        has_care: care::is_on_the_list(&care),
        payments,
        open_lines: lines.into_iter().filter(|line| line.state == LineState::Agreed).map(|line| line.words).collect(),
        signed: signed.map(|signed| (signed.strokes, context.moment(signed.drawn_at))),
        is_ready: job.stage == Stage::Ready,
        gone,
        job,
    })
}

/// "Handed over Wed 14 Oct 2026 11:00 by Mirel, collected by her brother. £5.00 was owed: pays on Friday."
fn handed_over_words(context: &RequestContext, last: &hand_over::HandedOver) -> String {
    let mut words = format!("Handed over {}", context.moment(last.handed_over_at));
    if let Some(who) = &last.who {
        words = format!("{words} by {who}");
    }
    if !last.collected_by.is_empty() {
        words = format!("{words}, collected by {}", last.collected_by);
    }
    let open = context.money(Money(last.open_amount.0.abs()));
    match last.open_amount.0 {
        0 => format!("{words}."),
        1.. => format!("{words}. {open} was owed: {}", last.open_words),
        _ => format!("{words}. {open} was to be given back: {}", last.open_words),
    }
}

/// `GET /desk/jobs/{id}/hand-over`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>) -> Result {
    page(&hand_over_page(&context, id, FormData::default()).await?)
}

/// The page again, whole, with what was typed and what is wrong with it.
async fn again(context: &RequestContext, id: JobId, form: FormData) -> Result {
    page_with(form.status(), &hand_over_page(context, id, form).await?)
}

/// `POST /desk/jobs/{id}/payment`. An amount far from what is owed is asked about once: the form comes back with a box to
/// tick that names the amount.
pub(in crate::web) async fn pay(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let kind = form.choice::<PaymentKind>("kind", "what the payment is for");
    let method = form.choice::<PaymentMethod>("method", "how it was paid");
    let amount = form.required_money("amount", &currency(&context.settings), "the amount");
    let note = form.line("note", LINE);
    let (Some(kind), Some(method), Some(amount), false) = (kind, method, amount, form.has_errors()) else {
        return again(&context, id, form).await;
    };
    let key = form.required_key()?.to_owned();
    let job = job::find(context.app.db.read(), id).await?;
    let mut tx = context.app.db.write().await?;
    let is_repeat = payment::is_written(&mut *tx, &key).await?;
    let balance = balance::of_job(&mut tx, &job).await?;
    let quoted = quote::of_job(&mut *tx, id).await?.first().map(|newest| newest.total);
    let far_off =
        balance.far_off(kind, amount, quoted).filter(|_| !is_repeat && !form.is("sure", &sure_of(kind, amount)));
    if let Some(far_off) = far_off {
        drop(tx);
        form.set("asked", context.money(amount));
        form.set("sure_of", sure_of(kind, amount));
        form.add_error("sure", far_off_words(&context, amount, far_off, &balance));
        return again(&context, id, form).await;
    }
    let taken = payment::take(&mut tx, &context.audit(Door::Desk), id, &key, kind, method, amount, &note).await;
    if form.accept("amount", taken)?.is_none() {
        drop(tx);
        // nothing was written with it: one more press is one more payment
        form.set("form_key", FormData::new().key());
        return again(&context, id, form).await;
    }
    tx.commit().await?;
    let words = if kind == PaymentKind::Refund { "given back" } else { "taken" };
    let words = format!("{} {words}.", context.money(amount));
    redirect_with_flash(&context, &format!("/desk/jobs/{id}/hand-over"), &words)
}

/// What the box stands for that is ticked: this amount and no other.
fn sure_of(kind: PaymentKind, amount: Money) -> String {
    format!("{}-{}", kind.key(), amount.0)
}

fn far_off_words(context: &RequestContext, amount: Money, far_off: FarOff, balance: &Balance) -> String {
    let said = context.money(amount);
    match far_off {
        FarOff::MoreThan(most) => format!("{said} is much more than {}. Was it typed right?", context.money(most)),
        FarOff::LessThanHalf(owed) => {
            format!("{said} is less than half of the {} that is owed. Is the rest paid later?", context.money(owed))
        }
        FarOff::NothingOwed if balance.agreed.0 == 0 => {
            "Nothing is agreed yet: what is paid before is a deposit. Was it typed right?".to_owned()
        }
        FarOff::NothingOwed => format!("Nothing is owed on this job. Was {said} paid once more?"),
        FarOff::MoreThanGivenBack(most) => {
            format!("{said} is much more than the {} that can be given back. Was it typed right?", context.money(most))
        }
        FarOff::NothingToGiveBack => format!("By the books nothing is to be given back. Was {said} given back?"),
    }
}

/// `POST /desk/payments/{id}/correct`: what was mistyped today, taken back and written down as it was.
pub(in crate::web) async fn correct(context: RequestContext, Id(id): Id<PaymentId>, mut form: FormData) -> Result {
    let job = payment::job_of(context.app.db.read(), id).await?;
    let kind = form.choice::<PaymentKind>("right_kind", "what the payment was for");
    let method = form.choice::<PaymentMethod>("right_method", "how it was paid");
    let amount =
        form.required_money("right_amount", &currency(&context.settings), "what was really paid, 0 where nothing was");
    let reason = form.line("right_reason", LINE);
    let key = form.required_key()?.to_owned();
    if let (Some(kind), Some(method), Some(amount), false) = (kind, method, amount, form.has_errors()) {
        let right = (amount.0 > 0).then_some(RightPayment { kind, method, amount, note: "" });
        let since = context.app.clock.start_of(context.today());
        let mut tx = context.app.db.write().await?;
        let by = context.audit(Door::Desk);
        let corrected = payment::correct(&mut tx, &by, since, id, &key, right, &reason).await;
        if form.accept("right_reason", corrected)?.is_some() {
            tx.commit().await?;
            let words = "Corrected. Both rows stay in the list; nothing was given back.";
            return redirect_with_flash(&context, &format!("/desk/jobs/{job}/hand-over"), words);
        }
    }
    // the row's own form comes back, and the form of a new payment as it was
    let mut typed = FormData::default();
    for name in CORRECTION {
        let own = format!("{name}_{id}");
        typed.set(&own, form.value(name));
        for message in form.errors_at(name) {
            typed.add_error(&own, message);
        }
    }
    again(&context, job, typed).await
}

/// `POST /desk/jobs/{id}/hand-over`
pub(in crate::web) async fn hand_over(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let collected_by = form.line("collected_by", LINE);
    let open_words = form.line("open_words", LINE);
    if form.has_errors() {
        return again(&context, id, form).await;
    }
    let shown = form.value("shown").parse().ok().map(Money);
    let new = HandOver { collected_by: &collected_by, open_words: &open_words, shown };
    let mut tx = context.app.db.write().await?;
    // what it stands at is no slip of the pen
    let stage = job::find(&mut *tx, id).await?.stage;
    let handed = moves::hand_over(&mut tx, &context.audit(Door::Desk), id, new).await;
    let has_care = match stage {
        Stage::Ready => form.accept("open_words", handed)?,
        _ => Some(handed?),
    };
    let Some(has_care) = has_care else {
        drop(tx);
        return again(&context, id, form).await;
    };
    tx.commit().await?;
    let words = if has_care { "Handed over. The yearly care is on the list." } else { "Handed over." };
    redirect_with_flash(&context, &format!("/desk/jobs/{id}"), words)
}

/// `POST /desk/jobs/{id}/hand-over/take-back`: it was handed over by mistake, today.
pub(in crate::web) async fn take_back(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let reason = form.line("back_reason", LINE);
    if form.has_errors() {
        return again(&context, id, form).await;
    }
    let since = context.app.clock.start_of(context.today());
    let mut tx = context.app.db.write().await?;
    let taken_back = hand_over::take_back(&mut tx, &context.audit(Door::Desk), since, id, &reason).await;
    if form.accept("back_reason", taken_back)?.is_none() {
        drop(tx);
        return again(&context, id, form).await;
    }
    tx.commit().await?;
    let words = "Taken back: it is in the house again, and ready. Money and papers stand as they were.";
    redirect_with_flash(&context, &format!("/desk/jobs/{id}/hand-over"), words)
}
