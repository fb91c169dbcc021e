//! The story of Millrace Strings: two years of jobs, each walked through the shop's own deeds.

use std::collections::HashMap;

use serde::Deserialize;
use time::{Date, Duration};

use crate::clock::Clock;
use crate::command::console::Said;
use crate::quantity::{Instant, Micrometres, Money, Thousandths};
use crate::records::balance::Due;
use crate::records::bench_calendar::{self, ClosedWhy, Hours, NewClosedDays};
use crate::records::check_in::{self, CheckIn, Which, Whose};
use crate::records::condition::Side;
use crate::records::customer::{self, CustomerEntry, ReachBy};
use crate::records::family::{BridgeKind, Family, NeckJoint, Nut, TrussRod};
use crate::records::final_check::{self, CheckAnswer};
use crate::records::hand_over::HandOver;
use crate::records::instrument::{self, InstrumentEntry};
use crate::records::job::{self, Style};
use crate::records::part::{self, PartEntry};
use crate::records::payment::{self, PaymentKind, PaymentMethod};
use crate::records::promise_forecast::{
    self, ForecastBasis, ForecastDay, ForecastDraws, ForecastWhy, MinutesFrom, NewForecast,
};
use crate::records::queue_move::{self, Place, QueuePlace};
use crate::records::quote::{self, Answer, AnsweredHow, NewQuote, QuoteAnswer};
use crate::records::reading::scatter;
use crate::records::reading::{self, Circumstances, Reading, ReadingKind, ReadingSet, ReadingStage};
use crate::records::settings::{self, Settings};
use crate::records::stage::{Stage, WaitingFor};
use crate::records::tool::tool;
use crate::records::work::{self, Proposal, WorkLine};
use crate::records::{
    AuditContext, CheckItemId, CustomerId, Db, Door, InstrumentId, JobId, StaffId, WorkLineId, WriteTx, balance, draft,
    moves, observation, plan as kept, promise, queue, repeatability, service,
};
use crate::setup::frame::{Board, Frame};
use crate::setup::plan::plan;

const MICROSECONDS_PER_HOUR: i64 = 3_600_000_000;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Story {
    customer: Vec<CustomerText>,
    instrument: Vec<InstrumentText>,
    job: Vec<JobText>,
    part: Vec<PartText>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct PartText {
    name: String,
    unit: String,
    on_hand: i64,
    reorder_at: i64,
    cost_minor: i64,
    price_minor: i64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct CustomerText {
    key: String,
    name: String,
    telephone: String,
    #[serde(default)]
    email: String,
    #[serde(default)]
    reminders: bool,
    #[serde(default)]
    note: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct InstrumentText {
    key: String,
    owner: String,
    family: Family,
    maker: String,
    model: String,
    #[serde(default)]
    serial: String,
    year: Option<i64>,
    #[serde(default)]
    finish: String,
    #[serde(default)]
    top_wood: String,
    // where it is built otherwise than is usual for its family
    bridge: Option<BridgeKind>,
    screw_pitch: Option<f64>,
    posts: Option<[f64; 2]>,
    neck_joint: Option<NeckJoint>,
    truss_rod: Option<TrussRod>,
    nut: Option<Nut>,
    scale: Option<f64>,
    scale_bass: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct JobText {
    instrument: String,
    days_ago: i64,
    complaint: String,
    style: Style,
    #[serde(default)]
    brought_with: String,
    #[serde(default)]
    rack: String,
    promised_after: i64,
    #[serde(default)]
    marks: Vec<(Side, String)>,
    bench: String,
    received: Option<Measured>,
    #[serde(default)]
    seen: Vec<SeenText>,
    #[serde(default)]
    services: Vec<String>,
    answer: Option<Answer>,
    #[serde(rename = "final")]
    finals: Option<Measured>,
    stage: Stage,
    waiting: Option<(WaitingFor, String)>,
    /// Days from check-in to: measured, quoted, answered, on the bench, ready, collected.
    days: [i64; 6],
}

/// Heights in mm at treble and bass; the strings between lie between.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields)]
struct Measured {
    relief: f64,
    action: [f64; 2],
    gap: [f64; 2],
    showing: Option<[f64; 2]>,
    /// Cents at the 12th, treble and bass.
    cents: Option<[f64; 2]>,
    /// Beyond half the scale from the 12th fret to the saddle, treble and bass.
    setback: Option<[f64; 2]>,
    temperature: i64,
    humidity: i64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct SeenText {
    key: String,
    string: Option<i64>,
    fret: Option<i64>,
}

/// Tells the whole story into an empty shop.
pub(super) async fn tell(
    tx: &mut WriteTx,
    db: &Db,
    clock: &Clock,
    shop: &Settings,
    people: &[(&str, StaffId)],
) -> Result<(), Said> {
    let story: Story = toml::from_str(include_str!("../../../seed-data/millrace.toml"))?;
    let by_name = |name: &str| {
        people
            .iter()
            .find(|(known, _)| *known == name)
            .map(|(_, id)| *id)
            .ok_or_else(|| format!("nobody is called {name}"))
    };
    let desk = by_name("Mirel")?;
    let long_ago = Instant(clock.now().0 - 740 * 24 * MICROSECONDS_PER_HOUR);
    let by = AuditContext { staff: Some(desk), door: Door::Desk, at: long_ago };
    let mut customers: HashMap<&str, CustomerId> = HashMap::new();
    for text in &story.customer {
        let entry = CustomerEntry {
            telephone: text.telephone.clone(),
            email: text.email.clone(),
            reach_by: if text.email.is_empty() { ReachBy::Telephone } else { ReachBy::Email },
            reminders_agreed_on: text.reminders.then(|| clock.local_date(long_ago)),
            note: text.note.clone(),
            ..CustomerEntry::named(text.name.as_str())
        };
        customers.insert(
            &text.key,
            customer::add(tx, &by, &shop.country, &format!("demo-customer-{}", text.key), &entry).await?,
        );
    }
    let mut instruments: HashMap<&str, (InstrumentId, CustomerId)> = HashMap::new();
    for text in &story.instrument {
        let owner = *customers.get(text.owner.as_str()).ok_or_else(|| format!("{} belongs to nobody", text.key))?;
        let usual = InstrumentEntry::usual(text.family);
        let entry = InstrumentEntry {
            maker: text.maker.clone(),
            model: text.model.clone(),
            serial: text.serial.clone(),
            year: text.year,
            finish: text.finish.clone(),
            top_wood: text.top_wood.clone(),
            bridge_kind: text.bridge,
            screw_pitch: text.screw_pitch.and_then(Micrometres::from_mm),
            posts: text
                .posts
                .and_then(|[treble, bass]| Some((Micrometres::from_mm(treble)?, Micrometres::from_mm(bass)?))),
            neck_joint: text.neck_joint,
            truss_rod: text.truss_rod.unwrap_or(usual.truss_rod),
            nut: text.nut,
            scale: text.scale.and_then(Micrometres::from_mm).unwrap_or(usual.scale),
            scale_bass: text.scale_bass.and_then(Micrometres::from_mm),
            ..usual
        };
        let id = instrument::add(tx, &by, owner, &format!("demo-instrument-{}", text.key), &entry).await?;
        instruments.insert(&text.key, (id, owner));
    }
    let owner = AuditContext { staff: Some(by_name("Ottilie")?), door: Door::Office, at: long_ago };
    for text in &story.part {
        let entry = PartEntry {
            name: text.name.clone(),
            unit: text.unit.clone(),
            reorder_at: Some(Thousandths(text.reorder_at * 1000)),
            cost: Some(Money(text.cost_minor)),
            price: Some(Money(text.price_minor)),
            archived: false,
        };
        let key = format!("demo-part-{}", text.name);
        let id = part::add(tx, &owner, &key, &entry).await?;
        part::count(tx, &owner, &key, id, Thousandths(text.on_hand * 1000), "").await?;
    }
    let mut jobs: Vec<&JobText> = story.job.iter().collect();
    jobs.sort_by_key(|text| -text.days_ago);
    for (place, text) in jobs.into_iter().enumerate() {
        let (instrument, customer) =
            *instruments.get(text.instrument.as_str()).ok_or_else(|| format!("no instrument {}", text.instrument))?;
        let teller =
            Teller { db, clock, shop, desk, bench: by_name(&text.bench)?, text, key: format!("demo-job-{place}") };
        teller.tell(tx, instrument, customer).await.map_err(|cause| format!("{}: {cause}", text.complaint))?;
    }
    let ottilie = by_name("Ottilie")?;
    tell_calendar(tx, clock, ottilie, by_name("Ivo")?, by_name("Tamsa")?).await?;
    tell_queue(tx, clock, ottilie).await
}

/// The hours of the benches, closed days and an absence.
async fn tell_calendar(
    tx: &mut WriteTx,
    clock: &Clock,
    owner: StaffId,
    ivo: StaffId,
    tamsa: StaffId,
) -> Result<(), Said> {
    let today = clock.today();
    let by = AuditContext { staff: Some(owner), door: Door::Office, at: Instant(clock.now().0 - 60_000_000) };
    for (staff, week_minutes) in [(ivo, [330, 330, 330, 330, 270, 0, 0]), (tamsa, [0, 240, 240, 0, 240, 180, 0])] {
        let hours = Hours { week_minutes, first_day: None, last_day: None };
        bench_calendar::set_hours(tx, &by, today - Duration::days(740), staff, None, &hours).await?;
    }
    let days = |ahead: i64, last: i64, why: ClosedWhy, name: &str| NewClosedDays {
        first_day: today + Duration::days(ahead),
        last_day: today + Duration::days(last),
        why,
        name: name.to_owned(),
        is_imported: why == ClosedWhy::Holiday,
    };
    let closed =
        [days(9, 9, ClosedWhy::Holiday, "Weir Day"), days(24, 26, ClosedWhy::Closure, "Stocktaking by the weir")];
    bench_calendar::close(tx, &by, &closed).await?;
    bench_calendar::be_absent(tx, &by, tamsa, (today + Duration::days(3), today + Duration::days(5)), 0).await?;
    Ok(())
}

/// A job put first by hand, one that waits for another, and a promise that was moved.
async fn tell_queue(tx: &mut WriteTx, clock: &Clock, owner: StaffId) -> Result<(), Said> {
    let by = AuditContext { staff: Some(owner), door: Door::Office, at: Instant(clock.now().0 - 60_000_000) };
    let open = queue::open_jobs(&mut **tx).await?;
    let can_wait = |row: &&queue::QueueRow| {
        matches!(row.stage, Stage::CheckedIn | Stage::Measured | Stage::Agreed) && row.waiting_for.is_none()
    };
    let mut rows = open.iter().filter(can_wait);
    if let (Some(one), Some(two), Some(three)) = (rows.next(), rows.next_back(), rows.next_back()) {
        let first = Place { place: QueuePlace::First, beside: None };
        queue_move::put(tx, &by, two.id, "demo-move-1", first, "Plays in the weir band on Saturday.").await?;
        let after = Place { place: QueuePlace::After, beside: Some(one.id) };
        queue_move::put(tx, &by, three.id, "demo-move-2", after, "Needs the same clamp.").await?;
        let day = clock.today() + Duration::days(12);
        promise::move_to(tx, &by, clock.today(), one.id, one.version, "demo-promise", day).await?;
    }
    Ok(())
}

/// One job being told.
struct Teller<'a> {
    db: &'a Db,
    clock: &'a Clock,
    shop: &'a Settings,
    desk: StaffId,
    bench: StaffId,
    text: &'a JobText,
    key: String,
}

impl Teller<'_> {
    /// A moment in the job's life, at an hour of the working day; never later than now.
    fn at(&self, day: i64, hour: i64) -> Instant {
        let now = self.clock.now();
        let today = self.clock.local_time(now);
        let midnight = now.0 - i64::from(today.hour()) * MICROSECONDS_PER_HOUR;
        let told = midnight + (day - self.text.days_ago) * 24 * MICROSECONDS_PER_HOUR + hour * MICROSECONDS_PER_HOUR;
        Instant(told.min(now.0 - 60_000_000))
    }

    fn by(&self, door: Door, at: Instant) -> AuditContext {
        let staff = if door == Door::Bench { self.bench } else { self.desk };
        AuditContext { staff: Some(staff), door, at }
    }

    async fn tell(&self, tx: &mut WriteTx, instrument: InstrumentId, customer: CustomerId) -> Result<(), Said> {
        let text = self.text;
        let [measured, quoted, answered, benched, ready, collected] = text.days;
        let checked_in = self.at(0, 10);
        let day = self.clock.local_date(checked_in);
        let entry = CheckIn {
            customer: Whose::Known(customer),
            instrument: Which::Known(instrument),
            complaint: text.complaint.clone(),
            style: text.style,
            brought_with: text.brought_with.clone(),
            rack: text.rack.clone(),
            promised_on: Some(day + Duration::days(text.promised_after)),
            marks: text.marks.clone(),
        };
        let by = self.by(Door::Desk, checked_in);
        let secret = self.db.link_secret();
        let id = check_in::check_in(tx, &by, day, &self.shop.country, secret, &self.key, &entry).await?.job.id;
        self.forecast(tx, &by, id, day).await?;
        let reaches = |stage: Stage| text.stage.index() >= stage.index() && text.stage != Stage::ClosedUnrepaired;
        if let Some(received) = &text.received {
            let by = self.by(Door::Bench, self.at(measured, 11));
            job::take_on(tx, &by, id).await?;
            self.measure(tx, &by, id, instrument, ReadingStage::Received, received).await?;
        }
        if reaches(Stage::Quoted) || !text.services.is_empty() {
            self.quote(tx, id, quoted, answered).await?;
        }
        if reaches(Stage::OnTheBench) && benched - answered > 2 && text.days_ago % 3 == 0 {
            // what was agreed to was not in the drawer; it is taken up when the work begins
            let version = job::find(&mut **tx, id).await?.version;
            let by = self.by(Door::Bench, self.at(answered, 13));
            job::wait(tx, &by, id, version, Some((WaitingFor::Part, "On order from the warehouse."))).await?;
        }
        if reaches(Stage::OnTheBench) {
            self.press(tx, id, Door::Bench, self.at(benched, 9), Stage::OnTheBench, "").await?;
        }
        if reaches(Stage::FinalCheck) {
            self.work(tx, id, instrument, benched).await?;
        }
        if reaches(Stage::Ready) {
            self.check(tx, id, self.at(ready, 16)).await?;
            self.press(tx, id, Door::Bench, self.at(ready, 16), Stage::Ready, "").await?;
        }
        if reaches(Stage::Collected) {
            self.collect(tx, id, collected).await?;
        }
        if text.stage == Stage::ClosedUnrepaired {
            self.press(
                tx,
                id,
                Door::Desk,
                self.at(collected, 12),
                Stage::ClosedUnrepaired,
                "The customer takes it home as it came.",
            )
            .await?;
        }
        if let Some((waiting_for, reason)) = &text.waiting {
            let version = job::find(&mut **tx, id).await?.version;
            let by = self.by(Door::Bench, self.at(benched.min(text.days_ago), 15));
            job::wait(tx, &by, id, version, Some((*waiting_for, reason))).await?;
        }
        Ok(())
    }

    /// What was said of its day at check-in: the promised one, three days more than half of the draws took.
    async fn forecast(&self, tx: &mut WriteTx, by: &AuditContext, id: JobId, day: Date) -> Result<(), Said> {
        let (after, half) = (self.text.promised_after, (self.text.promised_after - 3).max(0));
        let told_day = day + Duration::days(after);
        let forecast = NewForecast {
            job_id: id,
            made_on: day,
            why: ForecastWhy::CheckIn,
            confidence: self.shop.promise_confidence,
            day: Ok(ForecastDay {
                day: told_day,
                share: 920,
                median_day: day + Duration::days(half),
                done_by: vec![(half, 520), (after.max(half + 1), 920), (after + 6, 1000)],
            }),
            told_day: Some(told_day),
            basis: ForecastBasis {
                jobs_ahead: 4,
                minutes_ahead: 360,
                own_minutes: 80,
                minutes_from: MinutesFrom::PriceList,
                jobs_known: 0,
                waits_known: None,
                ahead_without_minutes: 0,
            },
            draws: ForecastDraws { seed: 1, draws: 1000 },
        };
        Ok(promise_forecast::keep(tx, by, &[forecast]).await?)
    }

    async fn press(
        &self,
        tx: &mut WriteTx,
        id: JobId,
        door: Door,
        at: Instant,
        to: Stage,
        reason: &str,
    ) -> Result<(), Said> {
        let found = job::find(&mut **tx, id).await?;
        if found.stage == to {
            return Ok(());
        }
        Ok(moves::press_move(tx, &self.by(door, at), self.clock.local_date(at), id, found.version, to, reason).await?)
    }

    async fn measure(
        &self,
        tx: &mut WriteTx,
        by: &AuditContext,
        id: JobId,
        instrument: InstrumentId,
        stage: ReadingStage,
        measured: &Measured,
    ) -> Result<(), Said> {
        let found = instrument::find(tx, instrument).await?;
        let dial = tool("dial").ok_or("the bench has no dial indicator")?;
        let length = |mm: f64| Micrometres::from_mm(mm).unwrap_or(Micrometres(0));
        let circumstances = Circumstances {
            stage,
            tuned_to: "standard".to_owned(),
            temperature_millicelsius: Some(measured.temperature * 1000),
            humidity_permille: Some(measured.humidity * 10),
            tool: dial.key.clone(),
            tool_resolution: length(dial.step_mm),
            tool_limit: length(dial.limit_mm),
            fret_wear: String::new(),
            note: String::new(),
        };
        let readings = readings(&found.entry, measured);
        let key = format!("{}-{stage:?}", self.key);
        let set_id = reading::take(tx, by, id, &key, &circumstances, &readings).await?;
        if stage == ReadingStage::Received {
            for (place, seen) in self.text.seen.iter().enumerate() {
                let key = format!("{}-seen-{place}", self.key);
                observation::note(tx, by, id, &key, &seen.key, (seen.string, seen.fret), "").await?;
            }
        }
        let observations = observation::of_job(&mut **tx, id).await?;
        let set = ReadingSet {
            id: set_id,
            job_id: id,
            taken_at: by.at,
            staff_id: self.bench,
            circumstances,
            readings,
            version: 1,
        };
        let mut input = kept::input(&found.entry, self.text.style, &set, &observations);
        let scatters = scatter::of_all_tools(tx).await?;
        input.tool = kept::with_scatter(input.tool, repeatability::of_set(&scatters, &set, true));
        let output = plan(&input, &settings::house(&self.shop.targets)?)?;
        Ok(kept::keep(tx, by, id, set_id, &input, &output).await?)
    }

    async fn quote(&self, tx: &mut WriteTx, id: JobId, quoted: i64, answered: i64) -> Result<(), Said> {
        let text = self.text;
        let catalogue = service::all(&mut **tx).await?;
        let proposals: Result<Vec<Proposal>, String> = text
            .services
            .iter()
            .map(|key| {
                let found =
                    catalogue.iter().find(|service| service.key == *key).ok_or_else(|| format!("no service {key}"))?;
                Ok(Proposal {
                    service_id: Some(found.id),
                    finding: None,
                    words: found.name.clone(),
                    minutes: found.minutes,
                    price: found.price,
                    tax_class: found.tax_class,
                    alternative: String::new(),
                    part_id: None,
                })
            })
            .collect();
        let by = self.by(Door::Bench, self.at(quoted, 12));
        work::propose(tx, &by, id, &format!("{}-work", self.key), &proposals?).await?;
        if text.stage == Stage::Measured {
            return Ok(());
        }
        let at = self.at(quoted, 14);
        if job::find(&mut **tx, id).await?.stage == Stage::CheckedIn {
            self.press(tx, id, Door::Desk, at, Stage::Measured, "").await?;
        }
        let until = self.clock.local_date(at) + Duration::days(self.shop.quote_valid_days);
        let by = self.by(Door::Desk, at);
        let key = format!("{}-quote", self.key);
        let made = quote::make(tx, &by, id, self.shop, NewQuote::plain(&key, until)).await?;
        if let Some(answer) = text.answer {
            let by = self.by(Door::Desk, self.at(answered, 11));
            let lines = quote::lines(&mut **tx, made).await?.into_iter().filter(|_| answer == Answer::Agreed);
            let yes_to: Vec<WorkLineId> = lines.map(|line| line.work_line_id).collect();
            let said = QuoteAnswer {
                yes_to: &yes_to,
                how: AnsweredHow::Telephone,
                answered_by: "the customer",
                words: "",
                shown_total: None,
                today: until,
            };
            quote::answer(tx, &by, made, said).await?;
        }
        Ok(())
    }

    async fn work(&self, tx: &mut WriteTx, id: JobId, instrument: InstrumentId, benched: i64) -> Result<(), Said> {
        let mut clock = self.at(benched, 9);
        for line in work::of_job(&mut **tx, id).await? {
            // one after the other, until the readings that prove them
            work::start(tx, &self.by(Door::Bench, clock), id, line.id).await?;
            let took = line.minutes * self.percent_taken(&line) / 100 * (MICROSECONDS_PER_HOUR / 60);
            clock = Instant(clock.0 + took).min(self.at(benched, 15)).max(clock);
            // where a number is asked for: a quarter turn, or moisture in the range that is kept
            let number =
                line.asks().then_some(if line.asks_unit == "%" { Thousandths(47_000) } else { Thousandths(250) });
            work::done(tx, &self.by(Door::Bench, clock), id, line.id, "", number).await?;
        }
        let by = self.by(Door::Bench, self.at(benched, 15));
        for seen in observation::of_job(&mut **tx, id).await? {
            draft::put_right(tx, &by, id, seen.id).await?;
        }
        match &self.text.finals {
            Some(finals) => self.measure(tx, &by, id, instrument, ReadingStage::Final, finals).await,
            None => self.press(tx, id, Door::Bench, by.at, Stage::FinalCheck, "").await,
        }
    }

    /// How long a line takes of what was planned: mostly about as long, new strings always longer.
    fn percent_taken(&self, line: &WorkLine) -> i64 {
        let slower = if line.service_key.as_deref() == Some("restring") { 40 } else { 0 };
        let day = usize::try_from(self.text.days_ago + line.position).unwrap_or(0);
        [85, 95, 100, 105, 120, 90, 110, 100][day % 8] + slower
    }

    /// Goes through the final check: what the readings do not answer is looked at.
    async fn check(&self, tx: &mut WriteTx, id: JobId, at: Instant) -> Result<(), Said> {
        let found = job::find(&mut **tx, id).await?;
        let check = final_check::of_job(tx, &found).await?;
        let answers: Vec<(CheckItemId, CheckAnswer, String)> = check
            .open()
            .map(|item| match (item.by_readings, check.after_work.is_none()) {
                (false, _) => (item.id, CheckAnswer::Yes, String::new()),
                (true, true) => (item.id, CheckAnswer::Reason, "Nothing was set up: no heights changed.".to_owned()),
                (true, false) => (item.id, CheckAnswer::Reason, "As the customer wants it.".to_owned()),
            })
            .collect();
        Ok(final_check::answer(tx, &self.by(Door::Bench, at), id, &answers).await?)
    }

    async fn collect(&self, tx: &mut WriteTx, id: JobId, collected: i64) -> Result<(), Said> {
        let by = self.by(Door::Desk, self.at(collected, 17));
        let job = job::find(&mut **tx, id).await?;
        if let Due::Owed(due) = balance::of_job(tx, &job).await?.due {
            let key = format!("{}-paid", self.key);
            payment::take(tx, &by, id, &key, PaymentKind::Balance, PaymentMethod::Card, due, "").await?;
        }
        moves::hand_over(tx, &by, id, HandOver::default()).await?;
        Ok(())
    }
}

/// Readings that belong together: three repeats each, and open heights over the 1st that follow from
/// the gaps, the heights at the 12th and the relief.
fn readings(entry: &InstrumentEntry, measured: &Measured) -> Vec<Reading> {
    let frets = usize::try_from(entry.frets).unwrap_or(20);
    let board =
        Board { body_fret: usize::try_from(entry.body_fret).ok(), relief_mm: measured.relief, ..Board::default() };
    let mut found = Vec::new();
    let mut push = |kind: ReadingKind, string: i64, mm: f64| {
        for (repeat, off) in (1..).zip([0.0, 0.01, -0.01]) {
            let hundredths = ((mm + off) * 100.0).round() / 100.0;
            let least = if kind == ReadingKind::Cents12 { f64::MIN } else { 0.0 };
            let value = Micrometres::from_mm(hundredths.max(least)).unwrap_or(Micrometres(0));
            found.push(Reading {
                kind,
                string_number: string,
                repeat,
                value: value.0,
                typed: value.in_mm().replace(" mm", "").replace('−', "-"),
                carried: None,
            });
        }
    };
    push(ReadingKind::Relief, 0, measured.relief);
    if let Some([treble, bass]) = measured.showing {
        push(ReadingKind::SaddleTreble, 0, treble);
        push(ReadingKind::SaddleBass, 0, bass);
    }
    let gaps = f64::from(u32::try_from(entry.strings.len().saturating_sub(1)).unwrap_or(1)).max(1.0);
    for ((number, string), place) in (1_i64..).zip(&entry.strings).zip((0_u32..).map(f64::from)) {
        let between = |ends: [f64; 2]| ends[0] + (ends[1] - ends[0]) * place / gaps;
        let (action, gap) = (between(measured.action), between(measured.gap));
        // of a fanned board its own scale, of a short string its own first fret
        let scale_mm = between([entry.scale.mm(), entry.scale_bass.unwrap_or(entry.scale).mm()]);
        let start = string.starts_at_fret.and_then(|start| usize::try_from(start).ok()).unwrap_or(0);
        let frame = Frame::new(scale_mm, frets, &board).beginning_at(start);
        let (from, first) = (frame.start_mm(), start + 1);
        let nut = frame.nut_from_gap_mm(gap);
        // one straight bridge carries a short string too: over the 12th it comes down lower than a whole one
        let whole = frame.clone().beginning_at(0);
        let whole_nut = whole.nut_from_gap_mm(gap);
        let over_twelfth = action + frame.top_mm(12);
        let bridge = whole_nut + (over_twelfth - whole_nut) * scale_mm / frame.position_mm(12);
        let to_twelfth = (frame.position_mm(12) - from) / (scale_mm - from);
        let action = nut + (bridge - nut) * to_twelfth - frame.top_mm(12);
        let slope = (action + frame.top_mm(12) - nut) / (frame.position_mm(12) - from);
        push(ReadingKind::Height12, number, action);
        if entry.nut != Some(Nut::ZeroFret) {
            push(ReadingKind::Height1, number, nut + slope * (frame.position_mm(first) - from) - frame.top_mm(first));
            push(ReadingKind::Gap1Stopped3, number, gap);
        }
        if let Some(cents) = measured.cents {
            push(ReadingKind::Cents12, number, between(cents));
        }
        if let Some(setback) = measured.setback {
            push(ReadingKind::From12ToSaddle, number, scale_mm / 2.0 + between(setback));
        }
    }
    found
}
