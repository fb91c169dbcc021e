//! `/`: each person to their own door.

use axum::response::{IntoResponse, Redirect};

use super::error::Result;
use super::page::RequestContext;
use crate::records::staff;
use crate::records::staff::Role;

pub(super) async fn show(context: RequestContext) -> Result {
    let to = if context.session.is_none() {
        if staff::nobody_yet(context.app.db.read()).await? { "/first-start" } else { "/sign-in" }
    } else if context.may_act_as(Role::Desk) {
        "/desk"
    } else {
        "/bench"
    };
    Ok(Redirect::to(to).into_response())
}
