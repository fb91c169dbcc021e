//! Every job with money open, in the house and after it left: owed, held before anything is agreed, or to be given back.

use super::balance::{Balance, Due};
use super::stage::Stage;
use super::{CustomerId, JobId, Result};
use crate::quantity::{Instant, Money};

/// A job with money open: owed, held before anything is agreed, or to be given back.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "each field is the column of the same name, but for those explained")]
pub struct OpenAccount {
    pub job_id: JobId,
    pub number: String,
    pub stage: Stage,
    pub customer_id: CustomerId,
    pub customer: String,
    pub telephone: String,
    pub due: Due,
    /// Since when: it has been ready or gone, was agreed to, or was paid last.
    pub since: Instant,
}

impl OpenAccount {
    /// Whether something is to be done about it now: the instrument is ready or has left, or money is to be given back.
    pub fn is_due(&self) -> bool {
        match self.due {
            Due::Nothing | Due::Deposit(_) => false,
            Due::Owed(_) => self.stage.keeps_promise(),
            Due::GiveBack(_) => true,
        }
    }
}

/// What is read of an open account.
macro_rules! open_accounts {
    ($picked:literal $(, $put:expr)*) => {
        sqlx::query!(
            r#"SELECT job.id AS "job_id: JobId", job.number, job.stage AS "stage: Stage", job.stage_since AS "stage_since: Instant",
                      customer.id AS "customer_id: CustomerId", customer.name AS customer, customer.telephone,
                      job_account.agreed_at AS "agreed_at: Instant", agreed_total AS "agreed: Money", paid AS "paid: Money",
                      job_answer.is_open AND NOT job_answer.has_agreed AND NOT job_answer.has_declined AS "is_unanswered!: bool",
                      (SELECT max(taken_at) FROM payment WHERE payment.job_id = job.id) AS "paid_at: Instant"
               FROM "#
                + $picked
            $(, $put)*
        )
    };
}

/// Every job with money open, or those of one customer: what is due now comes first, of each kind the oldest.
pub async fn open(executor: impl sqlx::SqliteExecutor<'_>, customer: Option<CustomerId>) -> Result<Vec<OpenAccount>> {
    let mut open = Vec::new();
    macro_rules! read {
        ($rows:expr) => {
            for row in $rows.fetch_all(executor).await? {
                let due = Balance::of(row.agreed, row.paid, Money(0), row.is_unanswered)?.due;
                let agreed_at = row.agreed_at.filter(|_| matches!(due, Due::Owed(_)));
                let since = if row.stage.keeps_promise() { Some(row.stage_since) } else { agreed_at.or(row.paid_at) };
                open.push(OpenAccount {
                    job_id: row.job_id,
                    number: row.number,
                    stage: row.stage,
                    customer_id: row.customer_id,
                    customer: row.customer,
                    telephone: row.telephone,
                    due,
                    since: since.unwrap_or(row.stage_since),
                });
            }
        };
    }
    match customer {
        None => read!(open_accounts!(
            "job_account CROSS JOIN job ON job.id = job_account.job_id CROSS JOIN job_answer ON job_answer.job_id = job.id
             CROSS JOIN customer ON customer.id = job.customer_id WHERE job_account.agreed_total <> job_account.paid"
        )),
        Some(customer) => read!(open_accounts!(
            "job CROSS JOIN job_account ON job_account.job_id = job.id CROSS JOIN job_answer ON job_answer.job_id = job.id
             CROSS JOIN customer ON customer.id = job.customer_id
             WHERE job.customer_id = ? AND job_account.agreed_total <> job_account.paid",
            customer
        )),
    }
    open.sort_by_key(|account| (!account.is_due(), account.since));
    Ok(open)
}
