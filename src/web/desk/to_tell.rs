//! `/desk/to-tell`: who is to be told what, a person once with everything that concerns them, and what came of it.

use askama::Template;

use crate::records::telling::{self, How, Outcome, Subject, Telling};
use crate::records::{Door, message};
use crate::web::form::{FormData, LINE};
use crate::web::page::{Layout, RequestContext, own_referer, page, page_with, redirect_with_flash};
use crate::web::telling_view::{PersonView, by_person};
use crate::web::{Error, Result};

#[derive(Template)]
#[template(path = "desk/to_tell.html")]
struct ToTellPage {
    layout: Layout,
    form: FormData,
    today: String,
    people: Vec<Row>,
    /// Told lately, and due again on a later day.
    later: Vec<PersonView>,
    /// Messages are sent.
    is_mail_on: bool,
    /// Messages that did not arrive.
    failed: usize,
}

/// Somebody, with the form in which it is written down what came of it.
struct Row {
    person: PersonView,
    form: FormData,
}

impl ToTellPage {
    fn ways(&self) -> &'static [How] {
        How::ALL
    }
    fn outcomes(&self) -> [(Outcome, &'static str); 4] {
        [
            (Outcome::Told, "Told"),
            (Outcome::LeftWord, "Word left"),
            (Outcome::NoAnswer, "No answer"),
            (Outcome::WrongNumber, "Wrong number"),
        ]
    }
}

async fn to_tell_page(context: &RequestContext, sent: FormData) -> Result<ToTellPage> {
    let mut connection = context.app.db.read().acquire().await.map_err(crate::records::Error::from)?;
    let today = context.today();
    let lines = telling::to_tell(&mut connection, today, |at| context.app.clock.local_date(at)).await?;
    let is_mail_on = message::mail_settings(&mut *connection).await?.is_on;
    let failed = message::failed(&mut *connection).await?.len();
    let due = by_person(context, lines.iter().filter(|line| line.is_due(today)));
    let whose = sent.value("customer").to_owned();
    let people = due.into_iter().map(|person| {
        let form = if person.id == whose {
            sent.clone()
        } else {
            let empty = FormData::new().with("how", How::from(person.reach_by).key());
            person.lines.iter().fold(empty, |form, line| form.append("subject", line.subject.as_str()))
        };
        Row { form: form.of_row(&person.id), person }
    });
    Ok(ToTellPage {
        layout: context.layout(),
        today: crate::quantity::with_weekday(today),
        people: people.collect(),
        later: by_person(context, lines.iter().filter(|line| !line.is_due(today))),
        form: sent.of_row(whose),
        is_mail_on,
        failed,
    })
}

/// `GET /desk/to-tell`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    page(&to_tell_page(&context, FormData::default()).await?)
}

/// `POST /desk/to-tell`: what came of telling one customer some of it.
pub(in crate::web) async fn tell(
    context: RequestContext,
    headers: axum::http::HeaderMap,
    mut form: FormData,
) -> Result {
    let key = form.required_key()?.to_owned();
    let subjects: Option<Vec<Subject>> = form.values("subject").map(|subject| subject.parse().ok()).collect();
    let subjects = subjects.ok_or(Error::Unreadable("The form is not whole. Open its page again."))?;
    if subjects.is_empty() {
        form.add_error("subject", "Tick what it was about.");
    }
    let how = form.choice::<How>("how", "how they were told");
    let outcome = form.choice::<Outcome>("outcome", "what came of it");
    let note = form.line("note", LINE);
    let (Some(how), Some(outcome), false) = (how, outcome, form.has_errors()) else {
        return page_with(form.status(), &to_tell_page(&context, form).await?);
    };
    let mut tx = context.app.db.write().await?;
    let said = Telling { how, outcome, note: &note };
    let day_of = |at| context.app.clock.local_date(at);
    let told = telling::tell(&mut tx, &context.audit(Door::Desk), context.today(), day_of, &key, &subjects, said).await;
    if form.accept("subject", told)?.is_none() {
        drop(tx);
        return page_with(form.status(), &to_tell_page(&context, form).await?);
    }
    tx.commit().await?;
    let back = own_referer(&headers).unwrap_or_else(|| "/desk/to-tell".to_owned());
    redirect_with_flash(&context, &back, &format!("Written down: {outcome}, {how}."))
}
