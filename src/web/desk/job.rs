//! `/desk/jobs/{id}`: one job as the desk sees it: where it stands, what is owed, what to press next.

use askama::Template;

use crate::records;
use crate::records::caution::{About, Place};
use crate::records::condition::{self, ConditionMark};
use crate::records::customer::{self, Customer};
use crate::records::event;
use crate::records::instrument;
use crate::records::job::{self, Job};
use crate::records::note;
use crate::records::part::{self, Part};
use crate::records::quote::{self, Answer};
use crate::records::service;
use crate::records::staff::{self, Role};
use crate::records::stage::{How, Stage, WaitingFor};
use crate::records::work::{self, LineState, WorkLine};
use crate::records::{Door, InstrumentId, JobId, QuoteId, balance, moves, photo, promise, put_right};
use crate::web::caution_view::CautionView;
use crate::web::deeds::{self, Beside, Deed};
use crate::web::form::{Choice, FormData, Id, LINE};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::photo::PhotoView;
use crate::web::words::{BalanceView, Promise, StageView, dial, wait_words, waiting_for};
use crate::web::{Error, Result, unsent};

/// Deeds shown at the foot of the page.
const RECENT_DEEDS: i64 = 12;

#[derive(Template)]
#[template(path = "desk/job.html")]
struct JobPage {
    layout: Layout,
    form: FormData,
    job: Job,
    stage: StageView,
    promise: Promise,
    checked_in: String,
    who: Option<String>,
    earlier: Option<(String, String)>,
    customer: Customer,
    dial: Option<String>,
    instrument_id: InstrumentId,
    instrument: String,
    instrument_facts: String,
    marks: Vec<ConditionMark>,
    photos: Vec<PhotoView>,
    cautions: Vec<CautionView>,
    lines: Vec<LineRow>,
    /// Lines wait for a quote.
    proposed: bool,
    /// The lines are others than those last agreed to.
    is_revision_due: bool,
    /// Something was typed beside the quote.
    quote_is_open: bool,
    /// Until when it holds where no day is typed.
    valid_hint: String,
    notes: Vec<Note>,
    is_bench: bool,
    services: Vec<Choice>,
    quotes: Vec<QuoteRow>,
    /// The page of the quote that waits for an answer.
    unanswered: Option<String>,
    money: BalanceView,
    moves: Vec<MoveButton>,
    back_moves: Vec<Choice>,
    is_ready: bool,
    is_open: bool,
    link_days: i64,
    deeds: Vec<Deed>,
}

impl JobPage {
    fn waits(&self) -> &'static [WaitingFor] {
        WaitingFor::ALL
    }
}

struct LineRow {
    line: WorkLine,
    /// Of a part: what lies on the shelf.
    on_hand: Option<String>,
    price: String,
    can_withdraw: bool,
    can_overrule: bool,
    can_offer_again: bool,
    /// The customer can still say no to it, or was about to.
    can_decline: bool,
    /// Why, as it is typed.
    form: FormData,
}

struct Note {
    words: String,
    who: String,
    at: String,
}

struct QuoteRow {
    href: String,
    revision: i64,
    made: String,
    total: String,
    state: String,
}

struct MoveButton {
    key: &'static str,
    words: String,
}

/// `GET /desk/jobs/{id}`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>) -> Result {
    let typed = unsent::brought_back(&context, &format!("/desk/jobs/{id}/quote"), FormData::default()).await?;
    let typed = unsent::brought_back(&context, &format!("/desk/jobs/{id}/work"), typed).await?.without(&["form_key"]);
    page(&job_page(&context, id, typed).await?)
}

/// The page again, whole, with what was typed and what is wrong with it.
pub(super) async fn again(context: &RequestContext, id: JobId, form: FormData) -> Result {
    page_with(form.status(), &job_page(context, id, form).await?)
}

async fn job_page(context: &RequestContext, id: JobId, typed: FormData) -> Result<JobPage> {
    let reading = context.app.db.read();
    let job = job::find(reading, id).await?;
    let customer = customer::find(reading, job.customer_id).await?;
    let instrument = instrument::load(reading, job.instrument_id).await?;
    let lines = work::of_job(reading, id).await?;
    let quotes = quote::of_job(reading, id).await?;
    let balance = balance::load(reading, &job).await?;
    let who = match job.staff_id {
        Some(staff_id) => Some(staff::find(reading, staff_id).await?.name),
        None => None,
    };
    let earlier = match job.earlier_job_id {
        Some(earlier) => {
            let earlier = job::find(reading, earlier).await?;
            Some((
                format!("/desk/jobs/{}", earlier.id),
                format!("{} of {}", earlier.number, context.day_of(earlier.checked_in_at)),
            ))
        }
        None => None,
    };
    let revisions: Vec<QuoteId> = quotes.iter().map(|quote| quote.id).collect();
    let quoted = quote::lines_of(reading, &revisions).await?;
    let notes = note::of_job(reading, id).await?.into_iter();
    let deeds = event::of_record(reading, id.0, RECENT_DEEDS).await?;
    let lines_of = |id: QuoteId| quoted.iter().filter(move |line| line.quote_id == id).cloned().collect::<Vec<_>>();
    let agreed = quotes.iter().find(|quote| quote.answer == Some(Answer::Agreed));
    let agreed_lines = agreed.map(|quote| lines_of(quote.id)).unwrap_or_default();
    let is_owner = context.may_act_as(Role::Owner);
    let is_open = job.stage.is_open();
    let buttons = |how: How| job.stage.pressable().filter(move |allowed| allowed.how == how);
    let entry = &instrument.entry;
    let facts: Vec<String> = [entry.family.spoken(), &entry.finish, &entry.serial]
        .map(str::to_owned)
        .into_iter()
        .filter(|fact| !fact.is_empty())
        .collect();
    let about = About::job(&job, &instrument.entry, &lines);
    let form = FormData::new().overlaid_with(typed);
    let services = service::all(reading).await?;
    let parts = part::all(reading).await?;
    Ok(JobPage {
        cautions: context.cautions(Place::Job, &about, &[]),
        layout: context.layout(),
        stage: StageView::of(job.stage, job.waiting_for),
        promise: Promise::as_of(job.stage, job.promised_on, context.today()),
        checked_in: context.moment(job.checked_in_at),
        who,
        earlier,
        dial: dial(customer.telephone_e164.as_deref()),
        customer,
        instrument_id: instrument.id,
        instrument: entry.title(),
        instrument_facts: facts.join(" · "),
        marks: condition::of_job(reading, id).await?,
        photos: PhotoView::row(&photo::of_job(reading, id).await?, "/photos"),
        proposed: lines.iter().any(|line| line.state == LineState::Proposed),
        is_revision_due: is_open && quote::differs(&lines, &agreed_lines),
        quote_is_open: ["note", "discount", "discount_for", "deposit_asked", "valid_until"]
            .iter()
            .any(|name| form.error(name).is_some() || !form.value(name).is_empty()),
        valid_hint: format!("Empty: {} days.", context.settings.quote_valid_days),
        notes: notes.map(|note| Note { at: context.moment(note.at), words: note.words, who: note.who }).collect(),
        is_bench: context.may_act_as(Role::Bench),
        lines: lines
            .into_iter()
            .map(|line| {
                let form = form.row(line.id, &["decline", "overrule"]);
                let part = parts.iter().find(|part| Some(part.id) == line.part_id);
                LineRow {
                    on_hand: part.map(|part| format!("{} on hand", part.on_hand_words())),
                    price: context.money(line.price),
                    can_withdraw: is_open && line.may_withdraw(),
                    can_offer_again: is_open && line.may_offer_again(),
                    can_decline: (is_open && line.may_decline()) || form.error("decline").is_some(),
                    can_overrule: is_open && is_owner && line.may_overrule(),
                    form,
                    line,
                }
            })
            .collect(),
        services: services
            .into_iter()
            .filter(|service| service.active)
            .map(|service| Choice::new(service.id, service.name))
            .chain(parts.iter().filter(|part| !part.archived).map(|part| part_choice(context, part)))
            .collect(),
        unanswered: quotes
            .iter()
            .find(|quote| quote.answer.is_none())
            .map(|quote| format!("/desk/quotes/{}", quote.id)),
        quotes: quotes
            .into_iter()
            .map(|quote| QuoteRow {
                href: format!("/desk/quotes/{}", quote.id),
                revision: quote.revision,
                made: context.day_of(quote.made_at),
                total: context.money(quote.total),
                state: quote::standing(&quote, &lines_of(quote.id)).to_string(),
            })
            .collect(),
        money: BalanceView::of(context, &balance),
        moves: buttons(How::Pressed)
            .map(|allowed| MoveButton { key: allowed.to.key(), words: forward_words(allowed.to) })
            .collect(),
        back_moves: buttons(How::PressedWithReason)
            .map(|allowed| Choice::new(allowed.to.key(), allowed.to.spoken()))
            .collect(),
        is_ready: job.stage == Stage::Ready,
        is_open,
        link_days: context.settings.link_days,
        deeds: deeds::of_job(
            context,
            deeds,
            &Beside {
                people: &staff::all(reading).await?,
                promises: &promise::moves(reading, id).await?,
                corrections: &put_right::of_job(reading, id).await?,
            },
        ),
        form,
        job,
    })
}

/// "Part: Bone blank, £4.00, 3 piece on hand"
fn part_choice(context: &RequestContext, part: &Part) -> Choice {
    let price = part.price.map(|price| format!(", {}", context.money(price))).unwrap_or_default();
    Choice::new(format!("part-{}", part.id), format!("Part: {}{price}, {} on hand", part.name, part.on_hand_words()))
}

fn forward_words(to: Stage) -> String {
    match to {
        Stage::Measured => "Mark as measured (nothing to measure)".to_owned(),
        Stage::OnTheBench => "Put on the bench".to_owned(),
        Stage::FinalCheck => "To the final check".to_owned(),
        Stage::Ready => "Ready to collect".to_owned(),
        other => format!("To “{other}”"),
    }
}

/// `POST /desk/jobs/{id}/stage`
pub(in crate::web) async fn move_stage(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let to: Stage =
        form.value("to").parse().map_err(|()| Error::Unreadable("The form is not whole. Open its page again."))?;
    let reason = form.line("reason", LINE);
    let stage = job::find(context.app.db.read(), id).await?.stage;
    let needs_reason = stage.move_to(to).is_some_and(|allowed| allowed.how == How::PressedWithReason);
    if needs_reason && reason.is_empty() && !form.has_errors() {
        form.add_error("reason", "Say why, so that the next person knows.");
    }
    if form.has_errors() {
        return again(&context, id, form).await;
    }
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::Desk);
    let moved = moves::press_move(&mut tx, &by, context.today(), id, form.version()?, to, &reason).await;
    // a move the table does not know is no slip of the pen
    if let Err(records::Error::Refused(words)) = moved {
        return Err(Error::Refused(words));
    }
    if form.accept("reason", moved)?.is_none() {
        drop(tx);
        return again(&context, id, form).await;
    }
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/desk/jobs/{id}"), &format!("Now {to}."))
}

/// `POST /desk/jobs/{id}/link`: a new private link; the old one leads nowhere from then on.
pub(in crate::web) async fn new_link(context: RequestContext, Id(id): Id<JobId>, form: FormData) -> Result {
    let mut tx = context.app.db.write().await?;
    let secret = context.app.db.link_secret();
    job::new_link(&mut tx, &context.audit(Door::Desk), secret, id, form.version()?).await?;
    tx.commit().await?;
    redirect_with_flash(
        &context,
        &format!("/desk/jobs/{id}/ticket"),
        "The link is new, and the old one leads nowhere. Print the ticket again.",
    )
}

/// `POST /desk/jobs/{id}/wait`
pub(in crate::web) async fn wait(context: RequestContext, Id(id): Id<JobId>, mut form: FormData) -> Result {
    let waiting_for = waiting_for(&form)?;
    let reason = form.line("wait_reason", LINE);
    let waiting = waiting_for.map(|waiting_for| (waiting_for, reason.as_str()));
    let mut tx = context.app.db.write().await?;
    let waits = job::wait(&mut tx, &context.audit(Door::Desk), id, form.version()?, waiting).await;
    if form.accept("wait_reason", waits)?.is_none() {
        drop(tx);
        return again(&context, id, form).await;
    }
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/desk/jobs/{id}"), &wait_words(waiting_for))
}
