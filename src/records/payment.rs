//! Payments: append-only. A mistake is put right by a new row.

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

/// One payment; a refund carries a minus.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Payment {
    pub id: PaymentId,
    #[serde(skip)]
    pub job_id: JobId,
    pub kind: PaymentKind,
    pub method: PaymentMethod,
    pub amount: Money,
    pub taken_at: Instant,
    pub staff: String,
    pub note: String,
}

/// Takes a payment; the same form sent twice takes one. `amount` is typed without a sign.
///
/// # Errors
/// Refused when nothing is paid, or more is given back than was ever paid.
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
    if let Some(id) = sqlx::query_scalar!(r#"SELECT id AS "id: PaymentId" FROM payment WHERE form_key = ?"#, form_key)
        .fetch_optional(&mut **tx)
        .await?
    {
        return Ok(id);
    }
    let person = by.person()?;
    job::find(&mut **tx, job_id).await?;
    if amount.0 <= 0 {
        return Err(Error::refused("The amount must be more than nothing: type what was paid or given back."));
    }
    let (taken, refunded) = sums(&mut **tx, job_id).await?;
    if kind == PaymentKind::Refund && taken.0.checked_sub(refunded.0).is_none_or(|left| amount.0 > left) {
        return Err(Error::refused(
            "More cannot be given back than was paid. Look at what was paid, and type no more.",
        ));
    }
    let amount = if kind == PaymentKind::Refund { Money(-amount.0) } else { amount };
    let id = PaymentId::new();
    let note = canonical(note);
    sqlx::query!(
        "INSERT INTO payment (id, job_id, kind, method, amount, taken_at, staff_id, note, form_key)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        job_id,
        kind,
        method,
        amount,
        by.at,
        person,
        note,
        form_key,
    )
    .execute(&mut **tx)
    .await?;
    account::keep_paid(tx, job_id, amount).await?;
    event::write(tx, by, "payment taken", "job", job_id.0, None, Some(&(kind, method, amount, note))).await?;
    Ok(id)
}

/// Takes the notes of a job's payments out: its customer asked to be forgotten. The money stays.
pub(super) async fn anonymise(tx: &mut WriteTx, job: JobId) -> Result<()> {
    sqlx::query!("UPDATE payment SET note = '' WHERE job_id = ?", job).execute(&mut **tx).await?;
    Ok(())
}

/// What was paid on a job, and what was given back of it; both without a sign.
pub(super) async fn sums(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<(Money, Money)> {
    let row = sqlx::query!(
        r#"SELECT coalesce(sum(max(amount, 0)), 0) AS "taken!: Money",
                  coalesce(sum(max(-amount, 0)), 0) AS "refunded!: Money"
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
        r#"SELECT payment.id AS "id: PaymentId", job_id AS "job_id: JobId", kind AS "kind: PaymentKind", method AS "method: PaymentMethod",
                  amount AS "amount: Money", taken_at AS "taken_at: Instant", staff.name AS staff, note
           FROM payment JOIN staff ON staff.id = payment.staff_id
           WHERE job_id IN (SELECT unhex(value, '-') FROM json_each(?)) ORDER BY taken_at, payment.id"#,
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
