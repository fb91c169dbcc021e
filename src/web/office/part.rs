//! `/office/parts/{id}`: one part: its card, receiving and counting it, and where it went.

use askama::Template;
use axum::http::StatusCode;

use super::parts;
use crate::quantity::Thousandths;
use crate::records::part::{self, Part};
use crate::records::{Door, PartId};
use crate::web::Result;
use crate::web::form::{Id, LINE, Typed};
use crate::web::page::{Layout, Visit, page, page_with, see};
use crate::web::words::currency;

#[derive(Template)]
#[template(path = "office/part.html")]
struct PartPage {
    layout: Layout,
    form: Typed,
    part: Part,
    movements: Vec<Row>,
}

struct Row {
    at: String,
    what: String,
    quantity: String,
    after: String,
    who: String,
}

fn typed(part: &Part, visit: &Visit) -> Typed {
    let currency = currency(&visit.settings);
    let money =
        |amount: Option<crate::quantity::Money>| amount.map(|amount| amount.plain(&currency)).unwrap_or_default();
    Typed::fresh()
        .with("version", part.version.to_string())
        .with("name", part.name.as_str())
        .with("unit", part.unit.as_str())
        .with("reorder_at", part.reorder_at.map(|least| least.to_string()).unwrap_or_default())
        .with("cost", money(part.cost))
        .with("price", money(part.price))
        .with("archived", if part.archived { "yes" } else { "" })
}

async fn part_page(visit: &Visit, id: PartId, form: Typed) -> Result<PartPage> {
    let reading = visit.app.db.read();
    let part = part::find(reading, id).await?;
    let movements = part::of_part(reading, id).await?.into_iter().map(|movement| {
        let job = movement.job_number.map(|number| format!(" for {number}")).unwrap_or_default();
        let note = if movement.note.is_empty() { String::new() } else { format!(": {}", movement.note) };
        Row {
            at: visit.moment(movement.at),
            what: format!("{}{job}{note}", movement.kind),
            quantity: format!("{}{}", if movement.quantity.0 > 0 { "+" } else { "" }, movement.quantity),
            after: movement.on_hand_after.to_string(),
            who: movement.who,
        }
    });
    let movements = movements.collect();
    Ok(PartPage { layout: visit.layout(), form: typed(&part, visit).under(form), part, movements })
}

async fn again(visit: &Visit, id: PartId, form: Typed, status: StatusCode) -> Result {
    page_with(status, &part_page(visit, id, form).await?)
}

/// `GET /office/parts/{id}`
pub(in crate::web) async fn show(visit: Visit, Id(id): Id<PartId>) -> Result {
    page(&part_page(&visit, id, Typed::default()).await?)
}

/// `POST /office/parts/{id}`
pub(in crate::web) async fn save(visit: Visit, Id(id): Id<PartId>, mut form: Typed) -> Result {
    part::find(visit.app.db.read(), id).await?;
    let Some(entry) = parts::read(&mut form, &visit) else {
        return again(&visit, id, form, StatusCode::UNPROCESSABLE_ENTITY).await;
    };
    let mut write = visit.app.db.write().await?;
    match part::save(&mut write, &visit.by(Door::Office), id, form.version()?, &entry).await {
        Ok(()) => write.commit().await?,
        Err(crate::records::Error::ChangedMeanwhile(_)) => {
            drop(write);
            let theirs = part::find(visit.app.db.read(), id).await?;
            form.conflict(&typed(&theirs, &visit), theirs.version);
            return again(&visit, id, form, StatusCode::CONFLICT).await;
        }
        Err(error) => {
            drop(write);
            let status = form.note("name", error)?;
            return again(&visit, id, form, status).await;
        }
    }
    see(&visit, &format!("/office/parts/{id}"), &format!("“{}” is saved.", entry.name))
}

/// `POST /office/parts/{id}/receive`
pub(in crate::web) async fn receive(visit: Visit, Id(id): Id<PartId>, form: Typed) -> Result {
    moved(visit, id, form, "received", "how many came").await
}

/// `POST /office/parts/{id}/count`
pub(in crate::web) async fn count(visit: Visit, Id(id): Id<PartId>, form: Typed) -> Result {
    moved(visit, id, form, "counted", "how many lie there").await
}

async fn moved(visit: Visit, id: PartId, mut form: Typed, field: &str, what: &str) -> Result {
    part::find(visit.app.db.read(), id).await?;
    let quantity: Option<Thousandths> = form.thousandths(field);
    if quantity.is_none() && form.error(field).is_none() {
        form.refuse(field, format!("Type {what}."));
    }
    let note = form.line(&format!("{field}_note"), LINE);
    let (Some(quantity), false) = (quantity, form.refused()) else {
        return again(&visit, id, form, StatusCode::UNPROCESSABLE_ENTITY).await;
    };
    let key = form.required_key()?.to_owned();
    let by = visit.by(Door::Office);
    let mut write = visit.app.db.write().await?;
    let done = match field {
        "received" => part::receive(&mut write, &by, &key, id, quantity, &note).await,
        _ => part::count(&mut write, &by, &key, id, quantity, &note).await,
    };
    match done {
        Ok(left) => {
            write.commit().await?;
            see(&visit, &format!("/office/parts/{id}"), &format!("{left} on hand now."))
        }
        Err(error) => {
            drop(write);
            let status = form.note(field, error)?;
            again(&visit, id, form, status).await
        }
    }
}
