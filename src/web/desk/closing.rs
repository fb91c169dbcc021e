//! `/desk/closing`: the day's closing: what the book says, what was counted, and why they differ.

use askama::Template;

use crate::quantity::{Money, with_weekday};
use crate::records::Door;
use crate::records::day_closing::{self, Book, Counted, NewClosing};
use crate::records::payment::PaymentMethod;
use crate::web::closing_view::ClosingRow;
use crate::web::form::{FormData, LINE};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::words::currency;
use crate::web::{Error, Result};

/// Closings shown below.
const RECENT: i64 = 7;

#[derive(Template)]
#[template(path = "desk/closing.html")]
struct ClosingPage {
    layout: Layout,
    form: FormData,
    today: String,
    /// Which payments it is about.
    about: String,
    last_payment: i64,
    rows: Vec<MethodRow>,
    /// In the drawer since the last closing; `None` where it is typed.
    float: Option<String>,
    recent: Vec<ClosingRow>,
}

struct MethodRow {
    method: PaymentMethod,
    taken: String,
    given_back: String,
    /// What should be there; of cash the drawer.
    expected: String,
    counted: String,
    explanation: String,
}

fn field_of(name: &str, method: PaymentMethod) -> String {
    format!("{name}_{}", method.key())
}

async fn closing_page(context: &RequestContext, form: FormData) -> Result<ClosingPage> {
    let since = context.app.clock.start_of(context.today());
    let mut connection = context.app.db.read().acquire().await.map_err(Error::internal)?;
    let book = day_closing::book(&mut connection, since).await?;
    let (closings, counts) = day_closing::newest(&mut connection, RECENT).await?;
    drop(connection);
    let float = book.float.unwrap_or(Money(0));
    let rows = book.methods.iter().map(|of| MethodRow {
        method: of.method,
        taken: context.money(of.taken),
        given_back: context.money(of.given_back),
        expected: context.money(day_closing::expected(of, float, Money(0))),
        counted: field_of("counted", of.method),
        explanation: field_of("explanation", of.method),
    });
    Ok(ClosingPage {
        layout: context.layout(),
        today: with_weekday(context.today()),
        about: about(context, &book),
        last_payment: book.last_payment,
        rows: rows.collect(),
        float: book.float.map(|float| context.money(float)),
        recent: ClosingRow::all(context, closings, &counts),
        form,
    })
}

/// "Payments 12 to 19, since Tue 13 Oct 2026 18:05."
fn about(context: &RequestContext, book: &Book) -> String {
    let since = book.closed_before.map(|at| format!(", since {}", context.moment(at))).unwrap_or_default();
    match book.last_payment - book.first_payment {
        ..0 => format!("No payment{since}."),
        0 => format!("Payment {}{since}.", book.first_payment),
        _ => format!("Payments {} to {}{since}.", book.first_payment, book.last_payment),
    }
}

/// `GET /desk/closing`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    page(&closing_page(&context, FormData::new()).await?)
}

/// `POST /desk/closing`
pub(in crate::web) async fn close(context: RequestContext, mut form: FormData) -> Result {
    let key = form.required_key()?.to_owned();
    let currency = currency(&context.settings);
    let since = context.app.clock.start_of(context.today());
    let shown_last = form
        .value("shown_last")
        .parse()
        .map_err(|_| Error::Unreadable("The form is not whole. Open its page again."))?;
    let mut tx = context.app.db.write().await?;
    let book = day_closing::book(&mut tx, since).await?;
    let typed_float = form.money("float", &currency);
    let float = book.float.or(typed_float).unwrap_or(Money(0));
    let paid_out = form.money("paid_out", &currency).unwrap_or(Money(0));
    let paid_out_for = form.line("paid_out_for", LINE);
    if paid_out.0 > 0 && paid_out_for.is_empty() {
        form.add_error("paid_out_for", "Say what the cash was taken out for.");
    }
    let mut counts = Vec::new();
    for of in &book.methods {
        let (counted, explanation) = (field_of("counted", of.method), field_of("explanation", of.method));
        let expected = day_closing::expected(of, float, paid_out);
        let found = form.money(&counted, &currency);
        let found = if expected.0 == 0 { Some(found.unwrap_or(Money(0))) } else { found };
        let found = form.require(&counted, found, format!("Type what was counted as {}, 0 for nothing.", of.method));
        let why = form.line(&explanation, LINE);
        let Some(found) = found else { continue };
        let difference = found.0 - expected.0;
        if difference != 0 && why.is_empty() {
            let more = if difference < 0 { "less" } else { "more" };
            let amount = context.money(Money(difference.abs()));
            let book = context.money(expected);
            form.add_error(
                &explanation,
                format!("{amount} {more} than the {book} that should be there: count once more, or say why."),
            );
        }
        counts.push(Counted { method: of.method, counted: found, explanation: why });
    }
    let cash =
        counts.iter().find(|counted| counted.method == PaymentMethod::Cash).map_or(Money(0), |cash| cash.counted);
    let kept = form.money("kept", &currency).unwrap_or(float.min(cash));
    if form.has_errors() {
        drop(tx);
        return page_with(form.status(), &closing_page(&context, form).await?);
    }
    let new = NewClosing {
        form_key: &key,
        day: context.today(),
        since,
        float,
        kept,
        paid_out,
        paid_out_for: &paid_out_for,
        counted: &counts,
        shown_last,
    };
    let closed = day_closing::close(&mut tx, &context.audit(Door::Desk), &new).await;
    let Some(number) = form.accept("kept", closed)? else {
        drop(tx);
        return page_with(form.status(), &closing_page(&context, form).await?);
    };
    tx.commit().await?;
    redirect_with_flash(
        &context,
        "/desk/closing",
        &format!("The day is closed, number {number}. It stays as it was counted."),
    )
}
