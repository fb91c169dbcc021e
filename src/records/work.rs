//! Work lines: what is planned on a job, what was agreed, what was done.

use serde::Serialize;
use sqlx::SqliteConnection;

use super::column::{as_json, words};
use super::event::{self, AuditContext};
use super::fold::canonical;
use super::labour::{self, Labour};
use super::service::TaxClass;
use super::stage::Stage;
use super::{Error, JobId, PartId, Result, ServiceId, WorkLineId, WriteTx, job};
use crate::quantity::{Instant, Money, Thousandths};

words! {
    /// Where a line stands.
    LineState {
        /// Not answered yet.
        Proposed = "proposed" => "proposed",
        /// The customer said yes.
        Agreed = "agreed" => "agreed",
        /// The customer said no.
        Declined = "declined" => "declined",
        /// Done.
        Done = "done" => "done",
    }
}

/// A line to propose.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Proposal {
    pub service_id: Option<ServiceId>,
    pub finding: Option<String>,
    pub words: String,
    pub minutes: i64,
    pub price: Money,
    pub tax_class: TaxClass,
    /// The alternative it belongs to; empty where it goes with whichever is chosen.
    pub alternative: String,
    /// It is a part and not work.
    pub part_id: Option<PartId>,
}

/// A work line.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct WorkLine {
    pub id: WorkLineId,
    #[serde(skip)]
    pub job_id: JobId,
    pub service_id: Option<ServiceId>,
    /// The service's key; no part of what is kept of a line.
    #[serde(skip)]
    pub service_key: Option<String>,
    pub position: i64,
    pub finding: Option<String>,
    pub words: String,
    pub minutes: i64,
    pub price: Money,
    pub tax_class: TaxClass,
    /// The alternative it belongs to; empty where it goes with whichever is chosen.
    pub alternative: String,
    /// It is a part and not work.
    pub part_id: Option<PartId>,
    pub state: LineState,
    pub overruled: bool,
    /// The customer's yes to it stands, in one revision or another.
    pub has_yes: bool,
    /// A quote names it.
    pub is_quoted: bool,
    /// Time or parts went into it.
    pub is_begun: bool,
    pub done_by: Option<String>,
    pub done_at: Option<Instant>,
    pub result: String,
    /// The number that was asked for.
    pub result_number: Option<Thousandths>,
    /// What the service asks for when the line is done, and in which unit; empty asks for nothing.
    pub asks_for: String,
    pub asks_unit: String,
    /// The stops of the plan that somebody decided to go past, by their keys; no part of what is kept of a line.
    #[serde(skip)]
    pub past_stops: String,
    pub version: i64,
}

impl WorkLine {
    /// Whether a number is asked for when the line is done.
    pub fn asks(&self) -> bool {
        !self.asks_for.is_empty()
    }

    /// Whether somebody was told of a stop of the plan before this work, and decided to do it all the same.
    pub fn is_past(&self, stop: &str) -> bool {
        self.past_stops.split(' ').any(|known| known == stop)
    }

    /// Whether it can be taken off again: nobody was told of it, and nothing went into it.
    pub fn may_withdraw(&self) -> bool {
        self.state == LineState::Proposed && !self.is_quoted && !self.is_begun
    }

    /// Whether the customer can still say no to it, also after a yes: nothing was begun.
    pub fn may_decline(&self) -> bool {
        !self.is_begun && (self.state == LineState::Agreed || (self.state == LineState::Proposed && self.is_quoted))
    }

    /// Whether the customer's yes can no longer be undone by a no: the work was begun with it.
    pub fn is_kept(&self) -> bool {
        self.has_yes && (self.is_begun || self.state == LineState::Done)
    }

    /// Whether work on the line may start.
    pub fn may_start(&self) -> bool {
        self.state == LineState::Agreed || (self.state == LineState::Proposed && self.overruled)
    }

    /// Whether the owner can allow it without the customer's yes.
    pub fn may_overrule(&self) -> bool {
        self.state == LineState::Proposed && !self.overruled
    }

    /// Whether it can be offered again.
    pub fn may_offer_again(&self) -> bool {
        self.state == LineState::Declined
    }

    /// Refuses, in words, what may not start.
    fn require_start(&self, but: &str) -> Result<()> {
        if self.may_start() {
            return Ok(());
        }
        Err(Error::refused(format!(
            "“{}” is {}: {but}. The desk asks the customer, or the owner allows it.",
            self.words, self.state
        )))
    }
}

/// The findings whose work was not done: what they are about is not expected to have changed.
pub fn left_alone(lines: &[WorkLine]) -> Vec<String> {
    let of = |is_done: bool| lines.iter().filter(move |line| (line.state == LineState::Done) == is_done);
    let done: Vec<&String> = of(true).filter_map(|line| line.finding.as_ref()).collect();
    of(false).filter_map(|line| line.finding.clone()).filter(|finding| !done.contains(&finding)).collect()
}

/// Puts lines on a job; the same form sent twice puts them once.
///
/// # Errors
/// Refused once the instrument has left the house, and where a line says nothing.
pub async fn propose(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: JobId,
    form_key: &str,
    proposals: &[Proposal],
) -> Result<()> {
    let already =
        sqlx::query_scalar!("SELECT count(*) FROM work_line WHERE job_id = ? AND form_key = ?", job_id, form_key)
            .fetch_one(&mut **tx)
            .await?;
    if already > 0 {
        return Ok(());
    }
    job::in_the_house(&mut **tx, job_id, "no work can be added").await?;
    let mut position = sqlx::query_scalar!(
        r#"SELECT coalesce(max(position), 0) AS "position!: i64" FROM work_line WHERE job_id = ?"#,
        job_id,
    )
    .fetch_one(&mut **tx)
    .await?;
    let with_parts = with_their_parts(tx, proposals).await?;
    for proposal in &with_parts {
        position += 1;
        let id = WorkLineId::new();
        let (words, alternative) = (canonical(&proposal.words), canonical(&proposal.alternative));
        if words.is_empty() {
            return Err(Error::refused("Say what the line is for."));
        }
        sqlx::query!(
            "INSERT INTO work_line (id, job_id, service_id, position, finding, words, minutes, price, tax_class, alternative,
                 part_id, state, form_key)
             VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, 'proposed', ?)",
            id,
            job_id,
            proposal.service_id,
            position,
            proposal.finding,
            words,
            proposal.minutes,
            proposal.price,
            proposal.tax_class,
            alternative,
            proposal.part_id,
            form_key,
        )
        .execute(&mut **tx)
        .await?;
    }
    event::write(tx, by, "work proposed", "job", job_id.0, None, Some(&proposals)).await
}

/// The same lines, and behind each the parts that go with its service, at their price; a part without a price is the
/// shop's own.
async fn with_their_parts(connection: &mut SqliteConnection, proposals: &[Proposal]) -> Result<Vec<Proposal>> {
    let mut lines = Vec::with_capacity(proposals.len());
    for proposal in proposals {
        lines.push(proposal.clone());
        let Some(service) = proposal.service_id else { continue };
        let parts = sqlx::query!(
            r#"SELECT part.id AS "id: PartId", part.name, price AS "price!: Money", quantity AS "quantity: Thousandths"
               FROM service_part CROSS JOIN part ON part.id = service_part.part_id
               WHERE service_id = ? AND archived = 0 AND price IS NOT NULL ORDER BY part.name_folded"#,
            service,
        )
        .fetch_all(&mut *connection)
        .await?;
        lines.extend(parts.into_iter().map(|part| Proposal {
            alternative: proposal.alternative.clone(),
            ..Proposal::of_part(part.id, &part.name, part.price, part.quantity, proposal.tax_class)
        }));
    }
    Ok(lines)
}

impl Proposal {
    /// A line for so much of a part.
    pub fn of_part(id: PartId, name: &str, price: Money, quantity: Thousandths, tax_class: TaxClass) -> Self {
        // halves of the smallest unit go up
        let exact = (i128::from(price.0) * i128::from(quantity.0) + 500) / 1000;
        let words = if quantity == Thousandths(1000) { name.to_owned() } else { format!("{quantity} × {name}") };
        Self {
            service_id: None,
            finding: None,
            words,
            minutes: 0,
            price: Money(i64::try_from(exact).unwrap_or(i64::MAX)),
            tax_class,
            alternative: String::new(),
            part_id: Some(id),
        }
    }
}

/// Takes a line off again that nobody has answered and no quote names.
///
/// # Errors
/// Refused when a quote already names it, something went into it, or the instrument has left the house.
pub async fn withdraw(tx: &mut WriteTx, by: &AuditContext, job_id: JobId, id: WorkLineId) -> Result<()> {
    let line = find(tx, job_id, id).await?;
    job::in_the_house(&mut **tx, job_id, "its lines stay as they are").await?;
    if line.is_begun {
        return Err(Error::refused("Time or parts went into this line, so it stays: tick it off, or quote it."));
    }
    if !line.may_withdraw() {
        let way = match line.state {
            LineState::Proposed => "A quote names it. The customer can decline it.",
            LineState::Agreed => "The customer agreed to it. They can decline it while nothing was begun.",
            LineState::Declined => "It was declined and counts no more.",
            LineState::Done => "It is ticked off. If it was not done, the bench opens it again first.",
        };
        return Err(Error::refused(format!("“{}” stays. {way}", line.words)));
    }
    sqlx::query!("DELETE FROM work_line WHERE id = ?", id).execute(&mut **tx).await?;
    event::write(tx, by, "work line withdrawn", "job", job_id.0, Some(&line), None).await
}

/// The owner lets a line be done without the customer's yes. Recorded. Pressed twice it is allowed once.
///
/// # Errors
/// Refused without a reason, once the instrument has left the house, and when the line was answered.
pub async fn overrule(tx: &mut WriteTx, by: &AuditContext, job_id: JobId, id: WorkLineId, reason: &str) -> Result<()> {
    let line = find(tx, job_id, id).await?;
    job::in_the_house(&mut **tx, job_id, "no work starts on it any more").await?;
    if line.state == LineState::Proposed && line.overruled {
        return Ok(());
    }
    let reason = canonical(reason);
    if reason.is_empty() {
        return Err(Error::refused("Say why the work may start without the customer's yes."));
    }
    if !line.may_overrule() {
        return Err(Error::refused(format!(
            "“{}” is {}: only a line that nobody answered needs this. What was declined is offered again first.",
            line.words, line.state
        )));
    }
    sqlx::query!("UPDATE work_line SET overruled = 1, version = version + 1 WHERE id = ?", id)
        .execute(&mut **tx)
        .await?;
    event::write(tx, by, "work allowed by the owner without a yes", "job", job_id.0, None, Some(&(line.words, reason)))
        .await
}

/// Starts the person's clock on a line. What they had running elsewhere is stopped, and answered. Starting what runs
/// already changes nothing. The first stretch moves an agreed job onto the bench.
///
/// # Errors
/// Refused once the instrument has left the house, and when work on the line may not start.
pub async fn start(tx: &mut WriteTx, by: &AuditContext, job_id: JobId, id: WorkLineId) -> Result<Option<Labour>> {
    let line = find(tx, job_id, id).await?;
    job::in_the_house(&mut **tx, job_id, "no time is taken on it").await?;
    line.require_start("no time is taken on it")?;
    labour::start(tx, by, job_id, id, &line.words).await
}

/// Writes down that somebody was told of a stop of the plan before this work, and decided to do it all the same. Said
/// twice it is written once.
///
/// # Errors
/// Refused once the instrument has left the house, and when work on the line may not start.
pub async fn go_past(tx: &mut WriteTx, by: &AuditContext, job_id: JobId, id: WorkLineId, stop: &str) -> Result<()> {
    let person = by.person()?;
    let line = find(tx, job_id, id).await?;
    job::in_the_house(&mut **tx, job_id, "no time is taken on it").await?;
    line.require_start("no time is taken on it")?;
    let written = sqlx::query!(
        "INSERT INTO work_past_stop (work_line_id, stop, staff_id, decided_at) VALUES (?, ?, ?, ?)
         ON CONFLICT DO NOTHING",
        id,
        stop,
        person,
        by.at,
    )
    .execute(&mut **tx)
    .await?;
    if written.rows_affected() == 0 {
        return Ok(());
    }
    event::write(tx, by, "work begun past a stop of the plan", "job", job_id.0, None, Some(&(line.words, stop))).await
}

/// Ticks a line off, with who and when. The first one moves an agreed job onto the bench. Time that runs on
/// the line is stopped.
///
/// # Errors
/// Refused when the customer has not agreed and the owner has not overruled, and when the number that the
/// service asks for is missing.
pub async fn done(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: JobId,
    id: WorkLineId,
    result: &str,
    number: Option<Thousandths>,
) -> Result<()> {
    let person = by.person()?;
    let line = find(tx, job_id, id).await?;
    if line.state == LineState::Done {
        return Ok(()); // pressed twice
    }
    job::in_the_house(&mut **tx, job_id, "no work is ticked off any more").await?;
    line.require_start("the customer has not agreed to it")?;
    let (result, number) = match (line.asks(), number) {
        (true, None) => {
            return Err(Error::refused(format!(
                "“{}” asks for: {}, in {}. Type the number.",
                line.words, line.asks_for, line.asks_unit
            )));
        }
        (true, Some(number)) => (format!("{}: {number} {}", line.asks_for, line.asks_unit), Some(number)),
        (false, _) => (canonical(result), None),
    };
    labour::stop_line(tx, by, id).await?;
    sqlx::query!(
        "UPDATE work_line SET state = 'done', done_by = ?, done_at = ?, result = ?, result_thousandths = ?,
             version = version + 1
         WHERE id = ?",
        person,
        by.at,
        result,
        number,
        id,
    )
    .execute(&mut **tx)
    .await?;
    event::write(tx, by, "work line done", "job", job_id.0, None, Some(&(&line.words, &result))).await?;
    job::follow(tx, by, job_id, Stage::Agreed, Stage::OnTheBench).await
}

/// Opens a line again that was ticked off by mistake. What was answered at the final check is asked anew.
///
/// # Errors
/// Refused once the instrument has left the house.
pub async fn reopen(tx: &mut WriteTx, by: &AuditContext, job_id: JobId, id: WorkLineId) -> Result<()> {
    let line = find(tx, job_id, id).await?;
    job::in_the_house(&mut **tx, job_id, "its work stays as it was done").await?;
    if line.state != LineState::Done {
        return Ok(()); // pressed twice
    }
    let state = if line.has_yes { LineState::Agreed } else { LineState::Proposed };
    sqlx::query!(
        "UPDATE work_line SET state = ?, done_by = NULL, done_at = NULL, version = version + 1 WHERE id = ?",
        state,
        id,
    )
    .execute(&mut **tx)
    .await?;
    job::work_was_reopened(tx, by, job_id).await?;
    event::write(tx, by, "work line opened again", "job", job_id.0, Some(&line), None).await
}

/// Gives a line the customer's answer; a line that is done stays done.
pub(super) async fn answered(tx: &mut WriteTx, id: WorkLineId, state: LineState) -> Result<()> {
    sqlx::query!(
        "UPDATE work_line SET state = ?1, version = version + 1 WHERE id = ?2 AND state NOT IN ('done', ?1)",
        state,
        id,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// Offers a line again that was declined. Pressed twice it is offered once.
///
/// # Errors
/// Refused when it was not declined, or the instrument has left the house.
pub async fn offer_again(tx: &mut WriteTx, by: &AuditContext, job_id: JobId, id: WorkLineId) -> Result<()> {
    let line = find(tx, job_id, id).await?;
    job::in_the_house(&mut **tx, job_id, "nothing is offered any more").await?;
    match line.state {
        LineState::Proposed => return Ok(()),
        LineState::Declined => {}
        LineState::Agreed | LineState::Done => {
            return Err(Error::refused(format!(
                "“{}” is {}: only what was declined is offered again. Propose it as a new line if it is wanted twice.",
                line.words, line.state
            )));
        }
    }
    answered(tx, id, LineState::Proposed).await?;
    event::write(tx, by, "work line offered again", "job", job_id.0, None, Some(&line.words)).await
}

/// One line of a job.
pub(super) async fn find(connection: &mut SqliteConnection, job: JobId, id: WorkLineId) -> Result<WorkLine> {
    of_job(connection, job).await?.into_iter().find(|line| line.id == id).ok_or(Error::NotFound("work line"))
}

/// The lines of a job, in order.
pub async fn of_job(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Vec<WorkLine>> {
    of_jobs(executor, &[job]).await
}

/// The lines of some jobs, each job's in order.
pub(super) async fn of_jobs(executor: impl sqlx::SqliteExecutor<'_>, jobs: &[JobId]) -> Result<Vec<WorkLine>> {
    let jobs = as_json(jobs)?;
    Ok(sqlx::query_as!(
        WorkLine,
        r#"SELECT work_line.id AS "id: WorkLineId", job_id AS "job_id: JobId", service_id AS "service_id: ServiceId",
                  service.key AS "service_key?", position, finding, words, work_line.minutes,
                  work_line.price AS "price: Money", work_line.tax_class AS "tax_class: TaxClass", alternative, part_id AS "part_id: PartId",
                  state AS "state: LineState",
                  overruled AS "overruled: bool",
                  EXISTS (SELECT 1 FROM quote_line WHERE work_line_id = work_line.id AND answer = 'agreed') AS "has_yes!: bool",
                  EXISTS (SELECT 1 FROM quote_line WHERE work_line_id = work_line.id) AS "is_quoted!: bool",
                  EXISTS (SELECT 1 FROM labour_entry WHERE work_line_id = work_line.id)
                  OR EXISTS (SELECT 1 FROM part_movement WHERE work_line_id = work_line.id) AS "is_begun!: bool",
                  staff.name AS "done_by?", done_at AS "done_at: Instant", result,
                  result_thousandths AS "result_number: Thousandths", coalesce(service.asks_for, '') AS "asks_for!: String",
                  coalesce(service.asks_unit, '') AS "asks_unit!: String",
                  coalesce((SELECT group_concat(stop, ' ') FROM work_past_stop WHERE work_line_id = work_line.id), '')
                      AS "past_stops!: String",
                  work_line.version
           FROM work_line
           LEFT JOIN staff ON staff.id = work_line.done_by
           LEFT JOIN service ON service.id = work_line.service_id
           WHERE job_id IN (SELECT unhex(value, '-') FROM json_each(?)) ORDER BY position"#,
        jobs,
    )
    .fetch_all(executor)
    .await?)
}
