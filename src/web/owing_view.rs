//! A job with money open, as a list says it. Used by templates/parts/owing.html.

use super::page::RequestContext;
use crate::records::balance::Due;
use crate::records::owing::OpenAccount;

/// One row.
pub(super) struct OwingRow {
    pub href: String,
    pub number: String,
    pub customer: String,
    pub customer_href: String,
    pub telephone: String,
    pub stage: &'static str,
    /// "owes", "deposit held", "to give back".
    pub what: &'static str,
    pub amount: String,
    /// "12 days", since when.
    pub age: String,
    pub since: String,
    pub is_due: bool,
}

impl OwingRow {
    pub(super) fn of(context: &RequestContext, account: &OpenAccount) -> Self {
        let days = context.days_since(account.since);
        Self {
            href: format!("/desk/jobs/{}/hand-over", account.job_id),
            number: account.number.clone(),
            customer: account.customer.clone(),
            customer_href: format!("/desk/customers/{}", account.customer_id),
            telephone: account.telephone.clone(),
            stage: account.stage.spoken(),
            what: match account.due {
                Due::Nothing => "settled",
                Due::Owed(_) => "owes",
                Due::Deposit(_) => "deposit held",
                Due::GiveBack(_) => "to give back",
            },
            amount: context.money(account.due.amount()),
            age: match days {
                ..=0 => "today".to_owned(),
                1 => "1 day".to_owned(),
                days => format!("{days} days"),
            },
            since: context.day_of(account.since),
            is_due: account.is_due(),
        }
    }
}
