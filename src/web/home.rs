//! `/`: each person to their own door.

use axum::response::{IntoResponse, Redirect};

use super::error::Result;
use super::page::Visit;
use crate::records::staff;
use crate::records::staff::Role;

pub(super) async fn show(visit: Visit) -> Result {
    let to = if visit.session.is_none() {
        if staff::nobody_yet(visit.app.db.read()).await? { "/first-start" } else { "/sign-in" }
    } else if visit.may_act_as(Role::Desk) {
        "/desk"
    } else {
        "/bench"
    };
    Ok(Redirect::to(to).into_response())
}
