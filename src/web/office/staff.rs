//! `/office/staff`: who may sign in, and as what.

use askama::Template;
use axum::http::StatusCode;

use crate::records::staff::{self, Roles, Staff};
use crate::records::{Door, StaffId, password};
use crate::web::Result;
use crate::web::form::{Id, Typed};
use crate::web::page::{Layout, Visit, page, page_with, see};

#[derive(Template)]
#[template(path = "office/staff.html")]
struct StaffPage {
    layout: Layout,
    form: Typed,
    rows: Vec<Row>,
}

/// One person, with the form as it stands or as it was refused. A password is never shown again.
struct Row {
    person: Staff,
    form: Typed,
    field: String,
    password_field: String,
}

fn typed(person: &Staff) -> Typed {
    let held = person.roles.held().into_iter();
    held.fold(Typed::default(), |form, role| form.and("role", role.key()))
        .with("version", person.version.to_string())
        .with("active", if person.active { "yes" } else { "" })
}

async fn staff_page(visit: &Visit, form: Typed, refused_row: Option<StaffId>) -> Result<StaffPage> {
    let people = staff::all(visit.app.db.read()).await?.into_iter();
    let rows = people.map(|person| Row {
        form: if refused_row == Some(person.id) { form.clone() } else { typed(&person) },
        field: format!("person_{}", person.id),
        password_field: format!("password_{}", person.id),
        person,
    });
    let rows = rows.collect();
    let form = if refused_row.is_some() { Typed::fresh() } else { form.with("password", "") };
    Ok(StaffPage { layout: visit.layout(), form, rows })
}

fn roles(form: &Typed) -> Roles {
    Roles { desk: form.is("role", "desk"), bench: form.is("role", "bench"), owner: form.is("role", "owner") }
}

/// `GET /office/staff`
pub(in crate::web) async fn show(visit: Visit) -> Result {
    page(&staff_page(&visit, Typed::fresh(), None).await?)
}

/// `POST /office/staff`
pub(in crate::web) async fn add(visit: Visit, mut form: Typed) -> Result {
    let name = form.required("name", "the name they sign in with", 80);
    let typed = form.value("password").to_owned();
    if let Some(words) = password::objection(&typed, &[&visit.settings.shop_name, &name]) {
        form.refuse("password", words);
    }
    let roles = roles(&form);
    if !(roles.desk || roles.bench || roles.owner) {
        form.refuse("role", "Choose at least one role.");
    }
    if form.refused() {
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &staff_page(&visit, form, None).await?);
    }
    let key = form.required_key()?.to_owned();
    let hash = visit.app.hash(move || password::hash(&typed)).await??;
    let mut write = visit.app.db.write().await?;
    match staff::add(&mut write, &visit.by(Door::Office), Some(&key), &name, roles, &hash).await {
        Ok(_) => {
            write.commit().await?;
            see(&visit, "/office/staff", &format!("{name} may sign in as {}.", roles.spoken()))
        }
        Err(crate::records::Error::Refused(words)) => {
            drop(write);
            form.refuse("name", words);
            page_with(StatusCode::UNPROCESSABLE_ENTITY, &staff_page(&visit, form, None).await?)
        }
        Err(other) => Err(other.into()),
    }
}

/// `POST /office/staff/{id}`: roles, and whether they may sign in.
pub(in crate::web) async fn change(visit: Visit, Id(id): Id<StaffId>, mut form: Typed) -> Result {
    let mut write = visit.app.db.write().await?;
    let (by, active) = (visit.by(Door::Office), form.is("active", "yes"));
    if let Err(error) = staff::change(&mut write, &by, id, form.version()?, roles(&form), active).await {
        drop(write);
        let has_changed = matches!(error, crate::records::Error::ChangedMeanwhile(_));
        let status = form.note(&format!("person_{id}"), error)?;
        if has_changed {
            // what stands now is said beside what was ticked, and the next press knows that it replaces it
            let present = staff::find(visit.app.db.read(), id).await?;
            let may = if present.active { "may sign in" } else { "may not sign in" };
            form.refuse(&format!("person_{id}"), format!("Now: {}; {may}.", present.roles.spoken()));
            form = form.with("version", present.version.to_string());
        }
        return page_with(status, &staff_page(&visit, form, Some(id)).await?);
    }
    write.commit().await?;
    see(&visit, "/office/staff", "Saved. Whoever may no longer sign in is signed out everywhere.")
}

/// `POST /office/staff/{id}/password`: a new password, told to the person in private.
pub(in crate::web) async fn reset_password(visit: Visit, Id(id): Id<StaffId>, form: Typed) -> Result {
    let person = staff::find(visit.app.db.read(), id).await?;
    let typed = form.value("password").to_owned();
    if let Some(words) = password::objection(&typed, &[&visit.settings.shop_name, &person.name]) {
        let mut row = self::typed(&person);
        row.refuse(&format!("password_{id}"), words);
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &staff_page(&visit, row, Some(id)).await?);
    }
    let hash = visit.app.hash(move || password::hash(&typed)).await??;
    let mut write = visit.app.db.write().await?;
    staff::set_password(&mut write, &visit.by(Door::Office), id, &hash, None).await?;
    write.commit().await?;
    see(&visit, "/office/staff", &format!("{} has a new password and is signed out everywhere.", person.name))
}
