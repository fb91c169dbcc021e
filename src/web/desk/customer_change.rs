//! `/desk/customers/{id}/change` and `/desk/customers/new`: a customer written down, without a check-in.

use askama::Template;
use axum::response::{IntoResponse, Redirect};

use super::customer_fields::{form_of, read};
use crate::records::customer::{self, Customer, ReachBy};
use crate::records::search::{self, CustomerHit};
use crate::records::{CustomerId, Door};
use crate::web::Result;
use crate::web::form::{FormData, Id, Query};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};

#[derive(Template)]
#[template(path = "desk/customer_change.html")]
struct CustomerChangePage {
    layout: Layout,
    form: FormData,
    /// `None` for somebody new.
    customer: Option<Customer>,
    /// The day reminders were agreed to.
    agreed: Option<String>,
    /// Records that are most likely the person being added.
    same: Vec<CustomerHit>,
}

impl CustomerChangePage {
    fn ways_to_reach(&self) -> &'static [ReachBy] {
        ReachBy::ALL
    }
    fn is_more_open(&self) -> bool {
        true
    }
    fn action(&self) -> String {
        match &self.customer {
            Some(customer) => format!("/desk/customers/{}", customer.id),
            None => "/desk/customers/new".to_owned(),
        }
    }
}

fn change_page(context: &RequestContext, customer: Option<Customer>, form: FormData) -> CustomerChangePage {
    let agreed = customer.as_ref().and_then(|customer| customer.reminders_agreed_on);
    CustomerChangePage {
        layout: context.layout(),
        form,
        customer,
        agreed: agreed.map(crate::quantity::with_weekday),
        same: Vec::new(),
    }
}

/// `GET /desk/customers/{id}/change`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<CustomerId>) -> Result {
    let customer = customer::find(context.app.db.read(), id).await?;
    if customer.merged_into.is_some() || customer.anonymised_on.is_some() {
        return Ok(Redirect::to(&format!("/desk/customers/{id}")).into_response());
    }
    let form = form_of(&customer);
    page(&change_page(&context, Some(customer), form))
}

/// `POST /desk/customers/{id}`
pub(in crate::web) async fn save(context: RequestContext, Id(id): Id<CustomerId>, mut form: FormData) -> Result {
    let present = customer::find(context.app.db.read(), id).await?;
    // the day of the yes is kept as it was given
    let entry = read(&mut form, &context, present.reminders_agreed_on);
    let (Some(entry), false) = (entry, form.has_errors()) else {
        return page_with(form.status(), &change_page(&context, Some(present), form));
    };
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::Desk);
    let saved = customer::save(&mut tx, &by, &context.settings.country, id, form.version()?, &entry).await;
    if form.accept_save("name", saved)?.is_none() {
        drop(tx);
        let present = customer::find(context.app.db.read(), id).await?;
        form.merge_on_conflict(&form_of(&present));
        return page_with(form.status(), &change_page(&context, Some(present), form));
    }
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/desk/customers/{id}"), &format!("{} is saved.", entry.name))
}

/// `GET /desk/customers/new`; `name` fills in what was looked for.
pub(in crate::web) async fn show_new(context: RequestContext, query: Query) -> Result {
    let name: String = query.value("name").chars().take(100).collect();
    let form = FormData::new().with("reach_by", ReachBy::Telephone.key()).with("name", name);
    page(&change_page(&context, None, form))
}

/// `POST /desk/customers/new`
pub(in crate::web) async fn add(context: RequestContext, mut form: FormData) -> Result {
    let key = form.required_key()?.to_owned();
    let entry = read(&mut form, &context, None);
    let (Some(entry), false) = (entry, form.has_errors()) else {
        return page_with(form.status(), &change_page(&context, None, form));
    };
    if !form.is("is_new", "yes") {
        let same = search::likely_same(context.app.db.read(), &entry.name, &entry.telephone, &entry.email).await?;
        if !same.is_empty() {
            form.add_error("same", "Somebody like this is here already. Say whether it is the same person.");
            let shown = CustomerChangePage { same, ..change_page(&context, None, form) };
            return page_with(shown.form.status(), &shown);
        }
    }
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::Desk);
    let id = customer::add(&mut tx, &by, &context.settings.country, &key, &entry).await?;
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/desk/customers/{id}"), &format!("{} is written down.", entry.name))
}
