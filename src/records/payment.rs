//! Payments: append-only, numbered without a gap. What was mistyped is taken back by a row of its own and written down
//! anew; that is no refund, because no money moved.

use serde::Serialize;

use super::column::{as_json, words};
use super::event::{self, AuditContext};
use super::fold::canonical;
use super::{CustomerId, Error, JobId, PaymentId, Result, WriteTx, account, job};
use crate::quantity::{Instant, Money};

words! {
    /// What a payment is for.
    PaymentKind {
        /// Before the work.
        Deposit = "deposit" => "deposit",
        /// The rest.
        Balance = "balance" => "balance",
        /// Money back.
        Refund = "refund" => "refund",
    }
}

words! {
    /// How it was paid.
    PaymentMethod {
        /// Notes and coins.
        Cash = "cash" => "cash",
        /// By card.
        Card = "card" => "card",
        /// By bank transfer.
        Transfer = "transfer" => "bank transfer",
    }
}

/// One payment; a refund carries a minus, and a row that takes another back the sign against that one's.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Payment {
    pub id: PaymentId,
    pub number: i64,
    #[serde(skip)]
    pub job_id: JobId,
    pub kind: PaymentKind,
    pub method: PaymentMethod,
    pub amount: Money,
    /// The mistyped payment that this row takes back.
    pub corrects: Option<PaymentId>,
    /// It was mistyped, and another row takes it back.
    pub is_corrected: bool,
    /// Its day was closed.
    pub is_closed: bool,
    pub taken_at: Instant,
    pub staff: String,
    pub note: String,
}

/// A payment as it should have been written down; the amount without a sign.
#[derive(Debug, Clone, Copy)]
#[expect(missing_docs, reason = "the names say it")]
pub struct RightPayment<'a> {
    pub kind: PaymentKind,
    pub method: PaymentMethod,
    pub amount: Money,
    pub note: &'a str,
}

/// Takes a payment; the same form sent twice takes one. `amount` is typed without a sign.
///
/// # Errors
/// Refused when nothing is paid, more is given back than was ever paid, or the form was sent before with something else
/// in it.
pub async fn take(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: JobId,
    form_key: &str,
    kind: PaymentKind,
    method: PaymentMethod,
    amount: Money,
    note: &str,
) -> Result<PaymentId> {
    let new = RightPayment { kind, method, amount, note };
    if let Some(id) = sent_before(tx, job_id, form_key, new).await? {
        return Ok(id);
    }
    job::find(&mut **tx, job_id).await?;
    let id = write(tx, by, job_id, form_key, new, None).await?;
    require_covered(tx, job_id).await?;
    let note = canonical(note);
    event::write(tx, by, "payment taken", "job", job_id.0, None, Some(&(kind, method, signed(new), note))).await?;
    Ok(id)
}

/// The payment that the same form wrote down before.
async fn sent_before(
    tx: &mut WriteTx,
    job_id: JobId,
    form_key: &str,
    new: RightPayment<'_>,
) -> Result<Option<PaymentId>> {
    let Some(before) = sqlx::query!(
        r#"SELECT id AS "id: PaymentId", job_id AS "job_id: JobId", kind AS "kind: PaymentKind",
                  method AS "method: PaymentMethod", amount AS "amount: Money"
           FROM payment WHERE form_key = ?"#,
        form_key,
    )
    .fetch_optional(&mut **tx)
    .await?
    else {
        return Ok(None);
    };
    if (before.job_id, before.kind, before.method, before.amount) == (job_id, new.kind, new.method, signed(new)) {
        return Ok(Some(before.id));
    }
    Err(Error::refused(
        "This form was sent before with something else in it, and that payment stands; nothing new was written down. If it \
         was mistyped, correct it in the list of payments. If this is one more payment, press once more.",
    ))
}

/// Whether a form wrote a payment down before.
pub async fn is_written(executor: impl sqlx::SqliteExecutor<'_>, form_key: &str) -> Result<bool> {
    Ok(sqlx::query_scalar!(r#"SELECT EXISTS (SELECT 1 FROM payment WHERE form_key = ?) AS "is!: bool""#, form_key,)
        .fetch_one(executor)
        .await?)
}

/// The job of a payment.
pub async fn job_of(executor: impl sqlx::SqliteExecutor<'_>, id: PaymentId) -> Result<JobId> {
    sqlx::query_scalar!(r#"SELECT job_id AS "job_id: JobId" FROM payment WHERE id = ?"#, id)
        .fetch_optional(executor)
        .await?
        .ok_or(Error::NotFound("payment"))
}

fn signed(new: RightPayment<'_>) -> Money {
    if new.kind == PaymentKind::Refund { Money(-new.amount.0) } else { new.amount }
}

/// Writes one row, with the next number: the one writer of the file gives it, so that none is given twice or left out.
async fn write(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: JobId,
    form_key: &str,
    new: RightPayment<'_>,
    corrects: Option<PaymentId>,
) -> Result<PaymentId> {
    let person = by.person()?;
    if new.amount.0 <= 0 {
        return Err(Error::refused("The amount must be more than nothing: type what was paid or given back."));
    }
    let amount = if corrects.is_some() { Money(-signed(new).0) } else { signed(new) };
    let id = PaymentId::new();
    let note = canonical(new.note);
    sqlx::query!(
        "INSERT INTO payment (id, number, job_id, kind, method, amount, corrects, taken_at, staff_id, note, form_key)
         SELECT ?, coalesce(max(number), 0) + 1, ?, ?, ?, ?, ?, ?, ?, ?, ? FROM payment",
        id,
        job_id,
        new.kind,
        new.method,
        amount,
        corrects,
        by.at,
        person,
        note,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    account::keep_paid(tx, job_id, amount).await?;
    Ok(id)
}

async fn require_covered(tx: &mut WriteTx, job_id: JobId) -> Result<()> {
    let (taken, refunded) = sums(&mut **tx, job_id).await?;
    if taken.0.checked_sub(refunded.0).is_none_or(|left| left < 0) {
        return Err(Error::refused(
            "More cannot be given back than was paid. Look at what was paid, and type no more.",
        ));
    }
    Ok(())
}

/// Puts a mistyped payment right on its own day: one row takes it back and one says what was really paid, or none where
/// nothing was. Both stay beside the mistyped one, and none of them is a refund. `since` is the beginning of the shop's
/// day. The same form sent twice corrects once.
///
/// # Errors
/// Refused without a reason, on a later day, for a row that was corrected already or corrects another, and where the
/// right payment is the one that stands.
pub async fn correct(
    tx: &mut WriteTx,
    by: &AuditContext,
    since: Instant,
    id: PaymentId,
    form_key: &str,
    right: Option<RightPayment<'_>>,
    reason: &str,
) -> Result<JobId> {
    let row = sqlx::query!(
        r#"SELECT job_id AS "job_id: JobId", kind AS "kind: PaymentKind", method AS "method: PaymentMethod",
                  amount AS "amount: Money", corrects IS NOT NULL AS "is_correction!: bool", taken_at AS "taken_at: Instant",
                  number <= (SELECT coalesce(max(last_payment), 0) FROM day_closing) AS "is_closed!: bool",
                  (SELECT form_key FROM payment AS back WHERE back.corrects = payment.id) AS "back_key: String"
           FROM payment WHERE id = ?"#,
        id,
    )
    .fetch_optional(&mut **tx)
    .await?
    .ok_or(Error::NotFound("payment"))?;
    let back_key = format!("{form_key}-takes-back");
    match &row.back_key {
        Some(known) if *known == back_key => return Ok(row.job_id), // pressed twice
        Some(_) => return Err(Error::refused("This payment was corrected already: look at the rows below it.")),
        None => {}
    }
    if row.is_correction {
        return Err(Error::refused("This row takes another one back. Write down what was really paid as a payment."));
    }
    let reason = canonical(reason);
    if reason.is_empty() {
        return Err(Error::refused("Say what went wrong: mistyped, the wrong job, the wrong way of paying."));
    }
    if row.is_closed {
        return Err(Error::refused(
            "The day of this payment is closed and stays as it was counted. What turns out wrong is given back, or taken, as \
             a payment of its own.",
        ));
    }
    if row.taken_at < since {
        return Err(Error::refused(
            "A payment is corrected on its own day. What turns out wrong later is given back, or taken, as a payment of its \
             own, so that the days before stay as they were counted.",
        ));
    }
    let was = RightPayment { kind: row.kind, method: row.method, amount: Money(row.amount.0.abs()), note: &reason };
    if right.is_some_and(|right| (right.kind, right.method, right.amount) == (was.kind, was.method, was.amount)) {
        return Err(Error::refused("That is what stands already: type what was really paid."));
    }
    write(tx, by, row.job_id, &back_key, was, Some(id)).await?;
    if let Some(right) = right {
        write(tx, by, row.job_id, form_key, right, None).await?;
    }
    require_covered(tx, row.job_id).await?;
    let after = right.map(|right| (right.kind, right.method, signed(right)));
    let after = (after, (row.kind, row.method, row.amount), reason);
    event::write(tx, by, "payment corrected", "job", row.job_id.0, None, Some(&after)).await?;
    Ok(row.job_id)
}

/// Takes the notes of a job's payments out: its customer asked to be forgotten. The money stays.
pub(super) async fn anonymise(tx: &mut WriteTx, job: JobId) -> Result<()> {
    sqlx::query!("UPDATE payment SET note = '' WHERE job_id = ?", job).execute(&mut **tx).await?;
    Ok(())
}

/// What was paid on a job, and what was given back of it; both without a sign. What was mistyped is in neither.
pub(super) async fn sums(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<(Money, Money)> {
    let row = sqlx::query!(
        r#"SELECT coalesce(sum(iif(kind = 'refund', 0, amount)), 0) AS "taken!: Money",
                  coalesce(-sum(iif(kind = 'refund', amount, 0)), 0) AS "refunded!: Money"
           FROM payment WHERE job_id = ?"#,
        job,
    )
    .fetch_one(executor)
    .await?;
    Ok((row.taken, row.refunded))
}

/// The payments of a job, oldest first.
pub async fn of_job(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Vec<Payment>> {
    of_jobs(executor, &[job]).await
}

/// The payments of some jobs, oldest first.
pub(super) async fn of_jobs(executor: impl sqlx::SqliteExecutor<'_>, jobs: &[JobId]) -> Result<Vec<Payment>> {
    let jobs = as_json(jobs)?;
    Ok(sqlx::query_as!(
        Payment,
        r#"SELECT payment.id AS "id: PaymentId", number, job_id AS "job_id: JobId", kind AS "kind: PaymentKind",
                  method AS "method: PaymentMethod", amount AS "amount: Money", corrects AS "corrects: PaymentId",
                  EXISTS (SELECT 1 FROM payment AS back WHERE back.corrects = payment.id) AS "is_corrected!: bool",
                  number <= (SELECT coalesce(max(last_payment), 0) FROM day_closing) AS "is_closed!: bool",
                  taken_at AS "taken_at: Instant", staff.name AS staff, note
           FROM payment JOIN staff ON staff.id = payment.staff_id
           WHERE job_id IN (SELECT unhex(value, '-') FROM json_each(?)) ORDER BY payment.taken_at, payment.number"#,
        jobs,
    )
    .fetch_all(executor)
    .await?)
}

/// A payment in a customer's history.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct CustomerPayment {
    pub job_id: JobId,
    pub number: String,
    pub kind: PaymentKind,
    pub method: PaymentMethod,
    pub amount: Money,
    pub taken_at: Instant,
}

/// Payments of one customer, newest first, the last hundred.
pub async fn of_customer(
    executor: impl sqlx::SqliteExecutor<'_>,
    customer: CustomerId,
) -> Result<Vec<CustomerPayment>> {
    Ok(sqlx::query_as!(
        CustomerPayment,
        r#"SELECT job.id AS "job_id: JobId", job.number, payment.kind AS "kind: PaymentKind",
                  payment.method AS "method: PaymentMethod", payment.amount AS "amount: Money",
                  payment.taken_at AS "taken_at: Instant"
           FROM payment JOIN job ON job.id = payment.job_id
           WHERE job.customer_id = ? ORDER BY payment.taken_at DESC LIMIT 100"#,
        customer,
    )
    .fetch_all(executor)
    .await?)
}
