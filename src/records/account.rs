//! What each job owes, kept in the transaction that changes it, so that whoever owes is found without asking every job
//! there ever was. The amounts are those of [`balance`](super::balance): what was agreed comes from the quote, what was
//! paid from the payment, each where it is written.

use super::stage::Stage;
use super::{CustomerId, JobId, Result, WriteTx};
use crate::quantity::{Instant, Money};

/// Keeps what was agreed: when, without and with tax; `None` where nothing is agreed any more.
pub(super) async fn keep_agreed(tx: &mut WriteTx, job: JobId, agreed: Option<(Instant, Money, Money)>) -> Result<()> {
    let at = agreed.map(|(at, ..)| at);
    let (net, total) = agreed.map_or((Money(0), Money(0)), |(_, net, total)| (net, total));
    sqlx::query!(
        "INSERT INTO job_account (job_id, agreed_at, agreed_net, agreed_total) VALUES (?1, ?2, ?3, ?4)
         ON CONFLICT (job_id) DO UPDATE SET agreed_at = ?2, agreed_net = ?3, agreed_total = ?4",
        job,
        at,
        net,
        total,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// Adds a payment; one that was given back has a minus.
pub(super) async fn keep_paid(tx: &mut WriteTx, job: JobId, amount: Money) -> Result<()> {
    sqlx::query!(
        "INSERT INTO job_account (job_id, paid) VALUES (?1, ?2)
         ON CONFLICT (job_id) DO UPDATE SET paid = paid + ?2",
        job,
        amount,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// A job that owes.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Owing {
    pub job_id: JobId,
    pub number: String,
    pub stage: Stage,
    pub customer_id: CustomerId,
    pub customer: String,
    pub telephone: String,
    pub agreed_at: Instant,
    pub owed: Money,
}

impl Owing {
    /// Whether it is to be paid now: the instrument is ready or has left the house.
    pub fn is_due(&self) -> bool {
        self.stage.keeps_promise()
    }
}

/// Every job that owes, what was agreed longest ago first. There are as many as debts, however many jobs were paid.
pub async fn owing(executor: impl sqlx::SqliteExecutor<'_>) -> Result<Vec<Owing>> {
    Ok(sqlx::query_as!(
        Owing,
        r#"SELECT job.id AS "job_id: JobId", job.number, job.stage AS "stage: Stage", customer.id AS "customer_id: CustomerId",
                  customer.name AS customer, customer.telephone, job_account.agreed_at AS "agreed_at!: Instant",
                  job_account.owed AS "owed!: Money"
           FROM job_account
           CROSS JOIN job ON job.id = job_account.job_id
           CROSS JOIN customer ON customer.id = job.customer_id
           WHERE job_account.owed > 0
           ORDER BY job_account.agreed_at"#
    )
    .fetch_all(executor)
    .await?)
}
