//! `/office/tokens`: the programs that may ask the calculator, each with a token of its own.

use askama::Template;

use crate::quantity::Instant;
use crate::records::api_token::{self, ApiToken, Made};
use crate::records::{ApiTokenId, Door};
use crate::web::Result;
use crate::web::form::{FormData, Id};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};

#[derive(Template)]
#[template(path = "office/tokens.html")]
struct TokensPage {
    layout: Layout,
    form: FormData,
    made: Option<MadeHere>,
    origin: String,
    in_use: Vec<Row>,
    ended: Vec<Row>,
}

/// What this very answer made.
struct MadeHere {
    name: String,
    /// `None` where the form was sent twice: a token is shown once.
    token: Option<String>,
}

struct Row {
    id: ApiTokenId,
    name: String,
    made: String,
    last_used: Option<String>,
    ended: Option<String>,
}

async fn tokens_page(context: &RequestContext, form: FormData, made: Option<MadeHere>) -> Result<TokensPage> {
    let all = api_token::all(context.app.db.read()).await?;
    let (in_use, ended) = all.iter().map(|token| row(context, token)).partition(|row| row.ended.is_none());
    Ok(TokensPage { layout: context.layout(), form, made, origin: context.origin.clone(), in_use, ended })
}

fn row(context: &RequestContext, token: &ApiToken) -> Row {
    let day = |at: Instant| context.app.clock.local_date(at).to_string();
    let ended = token.revoked_at.map(|at| {
        let who = token.revoked_by.as_deref().unwrap_or("somebody");
        format!("{} by {who}", day(at))
    });
    Row {
        id: token.id,
        name: token.name.clone(),
        made: format!("{} by {}", day(token.made_at), token.made_by),
        last_used: token.last_used_on.map(|day| day.to_string()),
        ended,
    }
}

/// `GET /office/tokens`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    page(&tokens_page(&context, FormData::new(), None).await?)
}

/// `POST /office/tokens`. The answer is the page itself: a token that went through a redirect would have
/// to be kept somewhere meanwhile.
pub(in crate::web) async fn make(context: RequestContext, mut form: FormData) -> Result {
    let key = form.required_key()?.to_owned();
    let name = form.required_line("name", "a name that says which program it is for", 80);
    if form.has_errors() {
        return page_with(form.status(), &tokens_page(&context, form, None).await?);
    }
    let mut tx = context.app.db.write().await?;
    let made = api_token::make(&mut tx, &context.audit(Door::Office), &key, &name).await;
    let Some(made) = form.accept("name", made)? else {
        drop(tx);
        return page_with(form.status(), &tokens_page(&context, form, None).await?);
    };
    tx.commit().await?;
    let token = match made {
        Made::Now(token) => Some(token),
        Made::Before => None,
    };
    page(&tokens_page(&context, FormData::new(), Some(MadeHere { name, token })).await?)
}

/// `POST /office/tokens/{id}/revoke`
pub(in crate::web) async fn revoke(context: RequestContext, Id(id): Id<ApiTokenId>) -> Result {
    let mut tx = context.app.db.write().await?;
    let name = api_token::revoke(&mut tx, &context.audit(Door::Office), id).await?;
    tx.commit().await?;
    redirect_with_flash(
        &context,
        "/office/tokens",
        &format!("“{name}” is revoked: whatever used it is refused from now on."),
    )
}
