//! The day's closing: the book against what was counted, for each way of paying. A closed day stays; what turns out wrong
//! later is a row of the day on which it is found.

use serde::Serialize;
use sqlx::SqliteConnection;
use time::Date;

use super::event::{self, AuditContext};
use super::fold::canonical;
use super::payment::PaymentMethod;
use super::{Error, Result, WriteTx};
use crate::quantity::{Instant, Money};

/// What came and went by one way of paying since the last closing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct InTheBook {
    /// The way.
    pub method: PaymentMethod,
    /// Paid, less what was mistyped.
    pub taken: Money,
    /// Given back, without a sign.
    pub given_back: Money,
}

/// What is to be closed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Book {
    /// The numbers of its payments; the last is one less than the first where there were none.
    pub first_payment: i64,
    #[expect(missing_docs, reason = "as the one before")]
    pub last_payment: i64,
    /// Each way of paying.
    pub methods: Vec<InTheBook>,
    /// What was left in the drawer at the last closing; `None` before the first.
    pub float: Option<Money>,
    /// When that was.
    pub closed_before: Option<Instant>,
}

/// What is in the book since the last closing, or before the first one since the beginning of the shop's day, `since`.
pub async fn book(connection: &mut SqliteConnection, since: Instant) -> Result<Book> {
    let last = sqlx::query!(
        r#"SELECT last_payment, kept AS "kept: Money", closed_at AS "closed_at: Instant" FROM day_closing
           ORDER BY number DESC LIMIT 1"#
    )
    .fetch_optional(&mut *connection)
    .await?;
    let newest = sqlx::query_scalar!(r#"SELECT coalesce(max(number), 0) AS "number!: i64" FROM payment"#)
        .fetch_one(&mut *connection)
        .await?;
    let first_payment = match &last {
        Some(last) => last.last_payment + 1,
        None => sqlx::query_scalar!(
            r#"SELECT min(number) AS "number: i64" FROM payment WHERE payment.taken_at >= ?"#,
            since
        )
        .fetch_one(&mut *connection)
        .await?
        .unwrap_or(newest + 1),
    };
    let rows = sqlx::query!(
        r#"SELECT method AS "method: PaymentMethod", sum(iif(kind = 'refund', 0, amount)) AS "taken!: Money",
                  -sum(iif(kind = 'refund', amount, 0)) AS "given_back!: Money"
           FROM payment WHERE payment.number >= ? GROUP BY method"#,
        first_payment,
    )
    .fetch_all(&mut *connection)
    .await?;
    let methods = PaymentMethod::ALL.iter().map(|method| {
        let row = rows.iter().find(|row| row.method == *method);
        let (taken, given_back) = row.map_or((Money(0), Money(0)), |row| (row.taken, row.given_back));
        InTheBook { method: *method, taken, given_back }
    });
    Ok(Book {
        first_payment,
        last_payment: newest,
        methods: methods.collect(),
        float: last.as_ref().map(|last| last.kept),
        closed_before: last.map(|last| last.closed_at),
    })
}

/// What was counted of one way of paying.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Counted {
    pub method: PaymentMethod,
    pub counted: Money,
    /// Why it is not what the book says.
    pub explanation: String,
}

/// What is written down at a closing.
#[derive(Debug, Clone)]
pub struct NewClosing<'a> {
    /// Against a second press.
    pub form_key: &'a str,
    /// The shop's day, and when it began.
    pub day: Date,
    #[expect(missing_docs, reason = "as the one before")]
    pub since: Instant,
    /// In the drawer when the day began; taken from the last closing where there was one.
    pub float: Money,
    /// Left in the drawer.
    pub kept: Money,
    /// Taken out of the drawer for something else, and for what.
    pub paid_out: Money,
    #[expect(missing_docs, reason = "as the one before")]
    pub paid_out_for: &'a str,
    /// Each way of paying.
    pub counted: &'a [Counted],
    /// The newest payment that the page showed.
    pub shown_last: i64,
}

/// What should be there of one way of paying: of cash what lies in the drawer.
pub fn expected(of: &InTheBook, float: Money, paid_out: Money) -> Money {
    let came = of.taken.0.saturating_sub(of.given_back.0);
    match of.method {
        PaymentMethod::Cash => Money(came.saturating_add(float.0).saturating_sub(paid_out.0)),
        PaymentMethod::Card | PaymentMethod::Transfer => Money(came),
    }
}

/// Closes the day and answers its number; the same form sent twice closes once.
///
/// # Errors
/// Refused where a difference is not explained, something was taken out for nothing, or more is left in the drawer than was
/// counted; [`Error::ChangedMeanwhile`] where a payment came since the page was read.
pub async fn close(tx: &mut WriteTx, by: &AuditContext, new: &NewClosing<'_>) -> Result<i64> {
    let before = sqlx::query_scalar!("SELECT number FROM day_closing WHERE form_key = ?", new.form_key)
        .fetch_optional(&mut **tx)
        .await?;
    if let Some(number) = before {
        return Ok(number);
    }
    let person = by.person()?;
    let book = book(tx, new.since).await?;
    if book.last_payment != new.shown_last {
        return Err(Error::ChangedMeanwhile("day"));
    }
    let float = book.float.unwrap_or(new.float);
    let paid_out_for = canonical(new.paid_out_for);
    if new.paid_out.0 > 0 && paid_out_for.is_empty() {
        return Err(Error::refused("Say what the cash was taken out of the drawer for."));
    }
    let number = sqlx::query_scalar!(
        r#"INSERT INTO day_closing (number, day, closed_at, staff_id, first_payment, last_payment, float, kept, paid_out,
               paid_out_for, form_key)
           SELECT coalesce(max(number), 0) + 1, ?, ?, ?, ?, ?, ?, ?, ?, ?, ? FROM day_closing
           RETURNING number AS "number!: i64""#,
        new.day,
        by.at,
        person,
        book.first_payment,
        book.last_payment,
        float,
        new.kept,
        new.paid_out,
        paid_out_for,
        new.form_key,
    )
    .fetch_one(&mut **tx)
    .await?;
    for of in &book.methods {
        let found = new.counted.iter().find(|counted| counted.method == of.method);
        let counted = found.map_or(Money(0), |found| found.counted);
        let explanation = canonical(found.map_or("", |found| &found.explanation));
        let expected = expected(of, float, new.paid_out);
        if counted != expected && explanation.is_empty() {
            return Err(Error::refused(format!(
                "What was counted as {} is not what the book says: count once more, or say why.",
                of.method
            )));
        }
        if of.method == PaymentMethod::Cash && new.kept > counted {
            return Err(Error::refused("More is left in the drawer than was counted: type what stays in it."));
        }
        sqlx::query!(
            "INSERT INTO day_closing_count (closing, method, taken, given_back, expected, counted, explanation)
             VALUES (?, ?, ?, ?, ?, ?, ?)",
            number,
            of.method,
            of.taken,
            of.given_back,
            expected,
            counted,
            explanation,
        )
        .execute(&mut **tx)
        .await?;
    }
    let after = (number, new.day, &book.methods, new.counted);
    event::write(tx, by, "day closed", "day_closing", uuid::Uuid::nil(), None, Some(&after)).await?;
    Ok(number)
}

/// A closing as it was.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct Closing {
    pub number: i64,
    pub day: Date,
    pub closed_at: Instant,
    pub who: String,
    pub first_payment: i64,
    pub last_payment: i64,
    pub float: Money,
    pub kept: Money,
    pub paid_out: Money,
    pub paid_out_for: String,
}

/// One way of paying in a closing.
#[derive(Debug, Clone)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct ClosingCount {
    pub closing: i64,
    pub method: PaymentMethod,
    pub taken: Money,
    pub given_back: Money,
    pub expected: Money,
    pub counted: Money,
    pub explanation: String,
}

/// The newest closings, newest first, and what was counted at each.
pub async fn newest(connection: &mut SqliteConnection, most: i64) -> Result<(Vec<Closing>, Vec<ClosingCount>)> {
    let closings = sqlx::query_as!(
        Closing,
        r#"SELECT number, day AS "day: Date", closed_at AS "closed_at: Instant", staff.name AS who, first_payment, last_payment,
                  float AS "float: Money", kept AS "kept: Money", paid_out AS "paid_out: Money", paid_out_for
           FROM day_closing JOIN staff ON staff.id = day_closing.staff_id ORDER BY number DESC LIMIT ?"#,
        most,
    )
    .fetch_all(&mut *connection)
    .await?;
    let from = closings.last().map_or(0, |oldest| oldest.number);
    let counts = sqlx::query_as!(
        ClosingCount,
        r#"SELECT closing, method AS "method: PaymentMethod", taken AS "taken: Money", given_back AS "given_back: Money",
                  expected AS "expected: Money", counted AS "counted: Money", explanation
           FROM day_closing_count WHERE closing >= ? ORDER BY closing DESC, method LIMIT 1000"#,
        from,
    )
    .fetch_all(&mut *connection)
    .await?;
    Ok((closings, counts))
}
