//! The bookkeeper's journal: every document once, its debits equal to its credits, numbers without a gap. What a job came
//! to is owed when it is handed over; what was paid before is held for its customer until then. Which accounts and taxes
//! there are is for the bookkeeper and the local rules: the names here are only words.

use sqlx::SqliteConnection;

use super::event::{self, AuditContext};
use super::payment::{PaymentKind, PaymentMethod};
use super::{Db, Error, Result, export};
use crate::quantity::{Currency, Instant, Money, TaxRate};

/// One line of a document: an amount on one side of an account.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// When.
    pub at: Instant,
    /// "P-12", "S-3", "S-3-back", "C-7".
    pub document: String,
    /// "Cash", "Customers", "Sales 20 %".
    pub account: String,
    /// What it is, in words.
    pub text: String,
    /// On the left, or nothing.
    pub debit: Money,
    /// On the right, or nothing.
    pub credit: Money,
    /// The tax of a line, in thousandths of a percent.
    pub tax_rate: Option<i64>,
    /// How it was paid.
    pub method: Option<PaymentMethod>,
    /// The job's number.
    pub job: String,
    /// The document that this one takes back.
    pub reverses: String,
}

const CUSTOMERS: &str = "Customers";

fn account_of(method: PaymentMethod) -> &'static str {
    match method {
        PaymentMethod::Cash => "Cash",
        PaymentMethod::Card => "Card",
        PaymentMethod::Transfer => "Bank",
    }
}

/// Two sides of one amount: with a minus they change places.
fn both(amount: Money) -> (Money, Money) {
    if amount.0 >= 0 { (amount, Money(0)) } else { (Money(0), Money(-amount.0)) }
}

/// The entries of some days, document by document in the order in which they were written.
pub async fn entries(connection: &mut SqliteConnection, from: Instant, until: Instant) -> Result<Vec<Entry>> {
    let mut documents = payments(connection, from, until).await?;
    documents.extend(sales(connection, from, until).await?);
    documents.extend(closings(connection, from, until).await?);
    documents.sort_by_key(|document| document.first().map(|entry| entry.at));
    Ok(documents.into_iter().flatten().collect())
}

async fn payments(connection: &mut SqliteConnection, from: Instant, until: Instant) -> Result<Vec<Vec<Entry>>> {
    let rows = sqlx::query!(
        r#"SELECT payment.number, payment.taken_at AS "at: Instant", payment.kind AS "kind: PaymentKind",
                  payment.method AS "method: PaymentMethod", payment.amount AS "amount: Money", job.number AS job,
                  (SELECT number FROM payment AS mistyped WHERE mistyped.id = payment.corrects) AS "corrects: i64"
           FROM payment CROSS JOIN job ON job.id = payment.job_id
           WHERE payment.taken_at >= ?1 AND payment.taken_at < ?2 ORDER BY payment.taken_at, payment.number"#,
        from,
        until,
    )
    .fetch_all(&mut *connection)
    .await?;
    let documents = rows.into_iter().map(|row| {
        let (debit, credit) = both(row.amount);
        let text = match row.corrects {
            Some(_) => format!("{}, mistyped and taken back", row.kind),
            None => row.kind.to_string(),
        };
        let money = Entry {
            at: row.at,
            document: format!("P-{}", row.number),
            account: account_of(row.method).to_owned(),
            text,
            debit,
            credit,
            tax_rate: None,
            method: Some(row.method),
            job: row.job,
            reverses: row.corrects.map(|number| format!("P-{number}")).unwrap_or_default(),
        };
        let owed = Entry { account: CUSTOMERS.to_owned(), debit: credit, credit: debit, ..money.clone() };
        vec![money, owed]
    });
    Ok(documents.collect())
}

/// What was sold: each hand-over, and once more the other way round where it was taken back.
async fn sales(connection: &mut SqliteConnection, from: Instant, until: Instant) -> Result<Vec<Vec<Entry>>> {
    let mut documents: Vec<Vec<Entry>> = Vec::new();
    let sold = sqlx::query!(
        r#"SELECT hand_over.id, handed_over_at AS "at: Instant", job.number AS job, tax_name, tax_rate, net AS "net: Money",
                  tax AS "tax: Money"
           FROM hand_over CROSS JOIN hand_over_sale ON hand_over_sale.hand_over_id = hand_over.id
           CROSS JOIN job ON job.id = hand_over.job_id
           WHERE handed_over_at >= ?1 AND handed_over_at < ?2 ORDER BY hand_over.handed_over_at, hand_over.id, tax_rate DESC"#,
        from,
        until,
    )
    .fetch_all(&mut *connection)
    .await?;
    let back = sqlx::query!(
        r#"SELECT hand_over.id, taken_back_at AS "at!: Instant", job.number AS job, tax_name, tax_rate, net AS "net: Money",
                  tax AS "tax: Money"
           FROM hand_over CROSS JOIN hand_over_sale ON hand_over_sale.hand_over_id = hand_over.id
           CROSS JOIN job ON job.id = hand_over.job_id
           WHERE taken_back_at >= ?1 AND taken_back_at < ?2 ORDER BY hand_over.taken_back_at, hand_over.id, tax_rate DESC"#,
        from,
        until,
    )
    .fetch_all(&mut *connection)
    .await?;
    macro_rules! add {
        ($rows:expr, $is_back:expr) => {
            for row in $rows {
                let document = if $is_back { format!("S-{}-back", row.id) } else { format!("S-{}", row.id) };
                let sign = if $is_back { -1 } else { 1 };
                let entry = |account: String, amount: i64, tax_rate| {
                    let (debit, credit) = both(Money(sign * amount));
                    Entry {
                        at: row.at,
                        document: document.clone(),
                        account,
                        text: if $is_back { "hand-over taken back".to_owned() } else { "work handed over".to_owned() },
                        debit,
                        credit,
                        tax_rate,
                        method: None,
                        job: row.job.clone(),
                        reverses: if $is_back { format!("S-{}", row.id) } else { String::new() },
                    }
                };
                let rate = TaxRate(row.tax_rate).percent();
                let mut lines = vec![
                    entry(CUSTOMERS.to_owned(), row.net.0 + row.tax.0, None),
                    entry(format!("Sales {rate}"), -row.net.0, Some(row.tax_rate)),
                ];
                if row.tax.0 != 0 {
                    lines.push(entry(format!("{} {rate}", row.tax_name), -row.tax.0, Some(row.tax_rate)));
                }
                match documents.last_mut().filter(|known| known.iter().any(|line| line.document == document)) {
                    Some(known) => known.extend(lines),
                    None => documents.push(lines),
                }
            }
        };
    }
    add!(sold, false);
    add!(back, true);
    Ok(documents)
}

/// What was counted otherwise than the book says, and what was taken out of the drawer.
async fn closings(connection: &mut SqliteConnection, from: Instant, until: Instant) -> Result<Vec<Vec<Entry>>> {
    let rows = sqlx::query!(
        r#"SELECT number, closed_at AS "at: Instant", method AS "method: PaymentMethod",
                  counted - expected AS "difference!: Money", explanation,
                  iif(method = 'cash', paid_out, 0) AS "paid_out!: Money", paid_out_for
           FROM day_closing CROSS JOIN day_closing_count ON day_closing_count.closing = day_closing.number
           WHERE day_closing.closed_at >= ?1 AND day_closing.closed_at < ?2 ORDER BY closed_at, number, method"#,
        from,
        until,
    )
    .fetch_all(&mut *connection)
    .await?;
    let mut documents: Vec<Vec<Entry>> = Vec::new();
    for row in rows {
        let document = format!("C-{}", row.number);
        let mut lines = Vec::new();
        let mut add = |contra: &str, amount: Money, text: &str| {
            if amount.0 == 0 {
                return;
            }
            let (debit, credit) = both(amount);
            let money = Entry {
                at: row.at,
                document: document.clone(),
                account: account_of(row.method).to_owned(),
                text: text.to_owned(),
                debit,
                credit,
                tax_rate: None,
                method: Some(row.method),
                job: String::new(),
                reverses: String::new(),
            };
            lines.push(Entry { account: contra.to_owned(), debit: credit, credit: debit, ..money.clone() });
            lines.push(money);
        };
        add("Difference", row.difference, &row.explanation);
        add("Paid out", Money(-row.paid_out.0), &row.paid_out_for);
        match documents.last_mut().filter(|known| known.iter().any(|line| line.document == document)) {
            Some(known) => known.extend(lines),
            None if lines.is_empty() => {}
            None => documents.push(lines),
        }
    }
    Ok(documents)
}

/// The journal of some days as CSV; that it leaves the house is an event. Amounts with a point, whatever the shop writes.
///
/// # Errors
/// When the books cannot be read, or it cannot be written down that the journal leaves the house.
pub async fn journal(
    db: &Db,
    by: &AuditContext,
    (from, until): (Instant, Instant),
    currency: &Currency,
    day_of: impl Fn(Instant) -> String,
) -> Result<Vec<u8>> {
    let mut connection = db.read().acquire().await?;
    let entries = entries(&mut connection, from, until).await?;
    drop(connection);
    if entries.iter().map(|entry| entry.debit.0 - entry.credit.0).sum::<i64>() != 0 {
        return Err(Error::refused(
            "The journal does not balance. Nothing was exported: tell whoever looks after the program.",
        ));
    }
    let plain = currency.written_in("");
    let side = |amount: Money| if amount.0 == 0 { String::new() } else { amount.plain(&plain) };
    let rows: Vec<[String; 11]> = entries
        .iter()
        .map(|entry| {
            [
                day_of(entry.at),
                entry.document.clone(),
                entry.account.clone(),
                entry.text.clone(),
                side(entry.debit),
                side(entry.credit),
                currency.code.to_owned(),
                entry.tax_rate.map(|rate| TaxRate(rate).percent()).unwrap_or_default(),
                entry.method.map(|method| method.spoken().to_owned()).unwrap_or_default(),
                entry.job.clone(),
                entry.reverses.clone(),
            ]
        })
        .collect();
    let headings =
        ["Day", "Document", "Account", "Text", "Debit", "Credit", "Currency", "Tax", "By", "Job", "Takes back"];
    let cells = rows.iter().map(|row| row.iter().map(String::as_str).collect());
    let csv = export::csv_of_text(std::iter::once(headings.to_vec()).chain(cells))?;
    let count = entries.len();
    let mut tx = db.write().await?;
    event::write(&mut tx, by, "journal exported", "export", uuid::Uuid::nil(), None, Some(&(from, until, count)))
        .await?;
    tx.commit().await?;
    Ok(csv)
}
