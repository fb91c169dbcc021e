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

/// Why an amount is asked about before it is written down: it is far from what is owed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FarOff {
    /// Much more than this, which is owed or was quoted.
    MoreThan(Money),
    /// Less than half of this, which is owed.
    LessThanHalf(Money),
    /// Nothing is owed at all.
    NothingOwed,
    /// Much more than this, which is to be given back.
    MoreThanGivenBack(Money),
    /// Nothing is to be given back.
    NothingToGiveBack,
}

impl Balance {
    /// Whether a payment is far from what is owed. `quoted` is what the newest quote comes to, where nothing is agreed yet.
    /// A tenth above is a tip or a coin to keep, and asked about no more than a part payment of the half.
    pub fn far_off(&self, kind: PaymentKind, amount: Money, quoted: Option<Money>) -> Option<FarOff> {
        let is_above = |most: Money| amount.0 > most.0.saturating_add(most.0 / 10);
        let is_below_half = |owed: Money| amount.0 < owed.0 / 2;
        match (kind, self.due) {
            (PaymentKind::Refund, Due::GiveBack(most) | Due::Deposit(most)) => {
                is_above(most).then_some(FarOff::MoreThanGivenBack(most))
            }
            (PaymentKind::Refund, _) => Some(FarOff::NothingToGiveBack),
            (_, Due::Owed(owed)) if is_above(owed) => Some(FarOff::MoreThan(owed)),
            (PaymentKind::Balance, Due::Owed(owed)) if is_below_half(owed) => Some(FarOff::LessThanHalf(owed)),
            (_, Due::Owed(_)) => None,
            (PaymentKind::Deposit, Due::Nothing | Due::Deposit(_)) if self.agreed.0 == 0 => {
                quoted.filter(|most| amount.0.saturating_add(self.paid.0) > most.0).map(FarOff::MoreThan)
            }
            _ => Some(FarOff::NothingOwed),
        }
    }

    /// The amount that is open: owed with a plus, held or to be given back with a minus.
    pub fn open_amount(&self) -> Money {
        match self.due {
            Due::Nothing => Money(0),
            Due::Owed(amount) => amount,
            Due::Deposit(amount) | Due::GiveBack(amount) => Money(-amount.0),
        }
    }

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
