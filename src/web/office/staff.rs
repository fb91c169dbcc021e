//! `/office/staff`: who may sign in, and as what.

use askama::Template;

use crate::records::staff::{self, Roles, Staff};
use crate::records::{Door, StaffId, password};
use crate::web::Result;
use crate::web::form::{FormData, Id};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};

#[derive(Template)]
#[template(path = "office/staff.html")]
struct StaffPage {
    layout: Layout,
    form: FormData,
    rows: Vec<Row>,
}

/// One person, with the form as it stands or as it was refused. A password is never shown again.
struct Row {
    person: Staff,
    form: FormData,
    legend: String,
}

fn form_of(person: &Staff) -> FormData {
    let held = person.roles.held().into_iter();
    held.fold(FormData::default(), |form, role| form.append("role", role.key()))
        .with("version", person.version.to_string())
        .with("active", if person.active { "yes" } else { "" })
}

async fn staff_page(context: &RequestContext, form: FormData, refused_row: Option<StaffId>) -> Result<StaffPage> {
    let people = staff::all(context.app.db.read()).await?.into_iter();
    let rows = people.map(|person| Row {
        form: if refused_row == Some(person.id) { form.clone() } else { form_of(&person) }.of_row(person.id),
        legend: format!("What {} may do", person.name),
        person,
    });
    let rows = rows.collect();
    let form = if refused_row.is_some() { FormData::new() } else { form.with("password", "") };
    Ok(StaffPage { layout: context.layout(), form, rows })
}

fn roles(form: &FormData) -> Roles {
    Roles { desk: form.is("role", "desk"), bench: form.is("role", "bench"), owner: form.is("role", "owner") }
}

/// `GET /office/staff`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    page(&staff_page(&context, FormData::new(), None).await?)
}

/// `POST /office/staff`
pub(in crate::web) async fn add(context: RequestContext, mut form: FormData) -> Result {
    let name = form.required_line("name", "the name they sign in with", 80);
    let typed = form.value("password").to_owned();
    if let Some(words) = password::objection(&typed, &[&context.settings.shop_name, &name]) {
        form.add_error("password", words);
    }
    let roles = roles(&form);
    if !(roles.desk || roles.bench || roles.owner) {
        form.add_error("role", "Choose at least one role.");
    }
    if form.has_errors() {
        return page_with(form.status(), &staff_page(&context, form, None).await?);
    }
    let key = form.required_key()?.to_owned();
    let hash = context.app.hash(move || password::hash(&typed)).await??;
    let mut tx = context.app.db.write().await?;
    let added = staff::add(&mut tx, &context.audit(Door::Office), Some(&key), &name, roles, &hash).await;
    if form.accept("name", added)?.is_none() {
        drop(tx);
        return page_with(form.status(), &staff_page(&context, form, None).await?);
    }
    tx.commit().await?;
    redirect_with_flash(&context, "/office/staff", &format!("{name} may sign in as {}.", roles.spoken()))
}

/// `POST /office/staff/{id}`: roles, and whether they may sign in.
pub(in crate::web) async fn change(context: RequestContext, Id(id): Id<StaffId>, mut form: FormData) -> Result {
    let mut tx = context.app.db.write().await?;
    let (by, active) = (context.audit(Door::Office), form.is("active", "yes"));
    let changed = staff::change(&mut tx, &by, id, form.version()?, roles(&form), active).await;
    if form.accept("person", changed)?.is_none() {
        drop(tx);
        if form.is_outdated() {
            // what stands now is said beside what was ticked, and the next press knows that it replaces it
            let present = staff::find(context.app.db.read(), id).await?;
            let may = if present.active { "may sign in" } else { "may not sign in" };
            form.add_error("person", format!("Now: {}; {may}.", present.roles.spoken()));
            form.set("version", present.version.to_string());
        }
        return page_with(form.status(), &staff_page(&context, form, Some(id)).await?);
    }
    tx.commit().await?;
    redirect_with_flash(&context, "/office/staff", "Saved. Whoever may no longer sign in is signed out everywhere.")
}

/// `POST /office/staff/{id}/password`: a new password, told to the person in private.
pub(in crate::web) async fn reset_password(context: RequestContext, Id(id): Id<StaffId>, form: FormData) -> Result {
    let person = staff::find(context.app.db.read(), id).await?;
    let typed = form.value("password").to_owned();
    if let Some(words) = password::objection(&typed, &[&context.settings.shop_name, &person.name]) {
        let mut row = form_of(&person);
        row.add_error("password", words);
        return page_with(row.status(), &staff_page(&context, row, Some(id)).await?);
    }
    let hash = context.app.hash(move || password::hash(&typed)).await??;
    let mut tx = context.app.db.write().await?;
    staff::set_password(&mut tx, &context.audit(Door::Office), id, &hash, None).await?;
    tx.commit().await?;
    redirect_with_flash(
        &context,
        "/office/staff",
        &format!("{} has a new password and is signed out everywhere.", person.name),
    )
}
