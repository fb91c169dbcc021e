//! What a job owes: what the customer agreed to, what was paid and given back, and what follows from the three.
//! Every page and paper that speaks of money asks here.

use super::payment::{self, PaymentKind};
use super::quote;
use super::stage::Stage;
use super::{Error, Result, job::Job};
use crate::quantity::Money;

/// The account of one job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Balance {
    /// What the customer agreed to pay.
    pub agreed: Money,
    /// What was paid, less what was given back.
    pub paid: Money,
    /// What was given back.
    pub refunded: Money,
    /// What follows.
    pub due: Due,
}

/// Who owes whom; no amount is negative.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Due {
    /// Nobody owes anything.
    Nothing,
    /// The customer owes this.
    Owed(Money),
    /// The shop holds this until the customer has agreed to a quote, or has it back as it came.
    Deposit(Money),
    /// The shop gives this back.
    GiveBack(Money),
}

impl Due {
    /// The amount.
    pub fn amount(self) -> Money {
        match self {
            Self::Nothing => Money(0),
            Self::Owed(amount) | Self::Deposit(amount) | Self::GiveBack(amount) => amount,
        }
    }
}

impl Balance {
    /// Sums up: `taken` is everything that was paid, `refunded` what was given back of it, both without a sign.
    /// `is_unanswered` says that the customer has still to answer what the work would cost.
    ///
    /// # Errors
    /// Refused when an amount is beyond what the books can hold.
    pub fn of(agreed: Money, taken: Money, refunded: Money, is_unanswered: bool) -> Result<Self> {
        let beyond = || Error::refused("The amounts are larger than the shop's books can hold. Check the payments.");
        let paid = taken.0.checked_sub(refunded.0).ok_or_else(beyond)?;
        let owed = agreed.0.checked_sub(paid).ok_or_else(beyond)?;
        let magnitude = Money(owed.checked_abs().ok_or_else(beyond)?);
        let due = match owed {
            0 => Due::Nothing,
            1.. => Due::Owed(magnitude),
            _ if is_unanswered => Due::Deposit(magnitude),
            _ => Due::GiveBack(magnitude),
        };
        Ok(Self { agreed, paid: Money(paid), refunded, due })
    }

    /// The payment that is likely to be written down next, and its amount.
    pub fn next_payment(&self, stage: Stage) -> (PaymentKind, Money) {
        match self.due {
            Due::GiveBack(amount) => (PaymentKind::Refund, amount),
            Due::Owed(amount) if stage.keeps_promise() => (PaymentKind::Balance, amount),
            Due::Owed(amount) => (PaymentKind::Deposit, amount),
            Due::Nothing | Due::Deposit(_) if stage.keeps_promise() => (PaymentKind::Balance, Money(0)),
            Due::Nothing | Due::Deposit(_) => (PaymentKind::Deposit, Money(0)),
        }
    }
}

/// The account of a job.
pub async fn of_job(connection: &mut sqlx::SqliteConnection, job: &Job) -> Result<Balance> {
    let agreed = quote::agreed_total(&mut *connection, job.id).await?;
    let (taken, refunded) = payment::sums(&mut *connection, job.id).await?;
    let is_unanswered = job.stage.is_open() && quote::is_unanswered(connection, job.id).await?;
    Balance::of(agreed, taken, refunded, is_unanswered)
}

/// The same, from the reading side.
pub async fn load(pool: &sqlx::SqlitePool, job: &Job) -> Result<Balance> {
    let mut connection = pool.acquire().await?;
    of_job(&mut connection, job).await
}
