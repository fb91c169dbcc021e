//! A place on the rack that is taken, as a form asks about it. Used by templates/parts/taken_place.html.

use super::Result;
use super::page::RequestContext;
use crate::records::JobId;
use crate::records::rack;

/// Free places that are proposed.
const PROPOSED: usize = 4;
/// A promise in the past.
pub(super) const PAST: &str = "This day has passed. Promise a day from today on.";

/// What stands at a place, and where there is room instead.
pub(super) struct TakenPlace {
    /// "26-0002, the Thistlewade OM-2 of Maren Oakhollow".
    pub(super) there: Vec<String>,
    pub(super) place: String,
    pub(super) free: Vec<String>,
}

impl TakenPlace {
    /// What the books know of a place; `None` where nothing else stands there.
    pub(super) async fn find(context: &RequestContext, place: &str, but: Option<JobId>) -> Result<Option<Self>> {
        if place.is_empty() {
            return Ok(None);
        }
        let standing = rack::standing(context.app.db.read()).await?;
        let there: Vec<String> = rack::at_place(&standing, place, but)
            .into_iter()
            .map(|there| format!("{}, the {} of {}", there.number, there.title(), there.customer))
            .collect();
        if there.is_empty() {
            return Ok(None);
        }
        let free = rack::free(context.app.db.read(), &standing, context.now(), PROPOSED).await?;
        Ok(Some(Self { there, place: place.to_owned(), free }))
    }
}

/// "Free: A2, A4"; nothing where the shop knows no free place.
pub(super) async fn free_places(context: &RequestContext) -> Result<String> {
    let standing = rack::standing(context.app.db.read()).await?;
    let free = rack::free(context.app.db.read(), &standing, context.now(), PROPOSED).await?;
    Ok(if free.is_empty() { String::new() } else { format!("Free: {}", free.join(", ")) })
}
