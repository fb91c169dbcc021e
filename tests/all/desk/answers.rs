//! What the customer says to a quote, line by line, and what they say afterwards.

use axum::http::StatusCode;
use thumbplane::quantity::Money;
use thumbplane::records::quote;

use crate::support::form::form;
use crate::support::{Person, Shop};

/// A measured job with two lines, 65.00 and 40.00 without tax.
async fn two_lines(desk: &Person<'_>) -> String {
    let job = desk.checks_in("k").await;
    proposes(desk, &job, "w1", "Set it up", "65.00").await;
    proposes(desk, &job, "w2", "New strings", "40.00").await;
    desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "measured")]).await;
    job
}

async fn proposes(desk: &Person<'_>, job: &str, key: &str, words: &str, price: &str) {
    let line = [("form_key", key), ("service", ""), ("words", words), ("price", price)];
    assert_eq!(desk.sends(&format!("{job}/work"), &line).await.status, StatusCode::SEE_OTHER);
}

async fn quotes(desk: &Person<'_>, job: &str, key: &str) -> String {
    let made = desk.sends(&format!("{job}/quote"), &[("form_key", key)]).await;
    assert_eq!(made.status, StatusCode::SEE_OTHER, "{}", made.visible_text());
    made.location.unwrap()
}

async fn says(desk: &Person<'_>, quote: &str, answer: &str, lines: &[&str]) {
    let mut fields = vec![("answer", answer), ("how", "counter"), ("answered_by", "Maren")];
    fields.extend(lines.iter().map(|line| ("line", *line)));
    let mut said = desk.sends(&format!("{quote}/answer"), &fields).await;
    if said.has("input[name=shown]:not([value=''])") {
        // a yes to some is shown with what it comes to, and pressed again
        let shown = said.value("shown");
        fields.push(("shown", &shown));
        said = desk.sends(&format!("{quote}/answer"), &fields).await;
    }
    assert_eq!(said.status, StatusCode::SEE_OTHER, "{}", said.visible_text());
}

/// The lines' keys, in order.
async fn lines(shop: &Shop) -> Vec<String> {
    let ids: Vec<uuid::Uuid> =
        sqlx::query_scalar("SELECT id FROM work_line ORDER BY position").fetch_all(shop.app.db.read()).await.unwrap();
    ids.iter().map(ToString::to_string).collect()
}

async fn states(shop: &Shop) -> Vec<String> {
    sqlx::query_scalar("SELECT state FROM work_line ORDER BY position").fetch_all(shop.app.db.read()).await.unwrap()
}

async fn owed(shop: &Shop, job: &str) -> Money {
    let id = job.rsplit('/').next().unwrap().parse().unwrap();
    quote::agreed_total(shop.app.db.read(), id).await.unwrap()
}

#[tokio::test]
async fn a_wrong_yes_is_taken_back_with_a_reason_and_a_new_revision_is_offered() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = two_lines(&desk).await;
    let quote = quotes(&desk, &job, "q1").await;
    says(&desk, &quote, "agreed", &[]).await;
    assert_eq!(owed(&shop, &job).await, Money(12_600));
    let page = desk.opens(&job).await;
    assert!(!page.has("form[action$='/quote']"), "all is as agreed: no revision is due");
    let strings = format!("{job}/work/{}/decline", lines(&shop).await[1]);
    let silent = desk.sends(&strings, &[("reason", " ")]).await;
    assert_eq!(silent.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(silent.has("#work .message"), "the message stands at the line");
    let reason = [("reason", "She meant the other guitar.")];
    assert_eq!(desk.sends(&strings, &reason).await.status, StatusCode::SEE_OTHER);
    assert_eq!(desk.sends(&strings, &reason).await.status, StatusCode::SEE_OTHER, "pressed twice");
    assert_eq!(states(&shop).await, ["agreed", "declined"]);
    // 65.00 and 20 %
    assert_eq!(owed(&shop, &job).await, Money(7_800));
    let receipt = desk.opens(&format!("{job}/receipt")).await.visible_text();
    assert!(receipt.contains("£78.00") && !receipt.contains("New strings"), "{receipt}");
    assert!(desk.opens(&job).await.has("form[action$='/quote']"), "a revision without the line is offered");
    let kept: i64 = sqlx::query_scalar("SELECT count(*) FROM event WHERE after_json LIKE '%the other guitar%'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(kept, 1);
}

#[tokio::test]
async fn a_customer_says_yes_to_one_line_and_no_to_another() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = two_lines(&desk).await;
    let quote = quotes(&desk, &job, "q1").await;
    let strings = lines(&shop).await.remove(1);
    let none =
        desk.sends(&format!("{quote}/answer"), &[("answer", "some"), ("how", "telephone"), ("answered_by", "M")]).await;
    assert_eq!(none.status, StatusCode::UNPROCESSABLE_ENTITY);
    says(&desk, &quote, "some", &[&strings]).await;
    says(&desk, &quote, "some", &[&strings]).await;
    assert_eq!(states(&shop).await, ["declined", "agreed"]);
    // 40.00 and 20 %
    assert_eq!(owed(&shop, &job).await, Money(4_800));
    let paper = desk.opens(&quote).await.visible_text();
    assert!(paper.contains("Set it up , declined") && paper.contains("£48.00"), "{paper}");
    let token = shop.app.db.link_secret().token(job.rsplit('/').next().unwrap().parse().unwrap(), 0);
    let page = shop.stranger().opens(&format!("/s/{token}")).await.visible_text();
    assert!(page.contains("£48.00") && !page.contains("£126.00"), "{page}");
    let changed = [("answer", "agreed"), ("how", "counter"), ("answered_by", "Maren")];
    assert_eq!(desk.sends(&format!("{quote}/answer"), &changed).await.status, StatusCode::CONFLICT);
}

#[tokio::test]
async fn enter_in_the_name_of_who_said_it_is_no_yes() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = two_lines(&desk).await;
    let quote = quotes(&desk, &job, "q1").await;
    let page = desk.opens(&quote).await;
    assert!(!page.has("button[name=answer]"), "no button is an answer by itself");
    // Enter sends the form as it stands
    let entered = form(&page, &format!("{quote}/answer")).with("answered_by", "Maren's brother");
    let refused = entered.sent_by(&desk).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(refused.value("answered_by"), "Maren's brother");
    assert!(refused.has(".problems a[href='#field-answer']"));
    assert_eq!(states(&shop).await, ["proposed", "proposed"]);
}

#[tokio::test]
async fn what_was_begun_with_a_yes_stays_agreed() {
    let shop = Shop::open().await;
    let (desk, ivo) = (shop.desk().await, shop.bench().await);
    let job = two_lines(&desk).await;
    let quote = quotes(&desk, &job, "q1").await;
    says(&desk, &quote, "agreed", &[]).await;
    let setup = lines(&shop).await.remove(0);
    let bench = job.replace("/desk/", "/bench/");
    assert_eq!(ivo.sends(&format!("{bench}/work/{setup}/start"), &[]).await.status, StatusCode::SEE_OTHER);
    let late = desk.sends(&format!("{job}/work/{setup}/decline"), &[("reason", "Too dear.")]).await;
    assert_eq!(late.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(late.visible_text().contains("time or parts went into it"), "{}", late.visible_text());
    assert!(late.text.contains("value=\"Too dear.\""), "what was typed comes back");
    // a later no to everything undoes the line nobody began
    proposes(&desk, &job, "w3", "A new nut", "90.00").await;
    let second = quotes(&desk, &job, "q2").await;
    says(&desk, &second, "declined", &[]).await;
    assert_eq!(states(&shop).await, ["agreed", "declined", "declined"]);
    assert_eq!(owed(&shop, &job).await, Money(7_800));
}

#[tokio::test]
async fn a_line_declined_by_mistake_is_offered_again_and_counts_once_agreed() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = two_lines(&desk).await;
    let quote = quotes(&desk, &job, "q1").await;
    says(&desk, &quote, "declined", &[]).await;
    let setup = lines(&shop).await.remove(0);
    assert_eq!(desk.sends(&format!("{job}/work/{setup}/again"), &[]).await.status, StatusCode::SEE_OTHER);
    assert_eq!(owed(&shop, &job).await, Money(0));
    let second = quotes(&desk, &job, "q2").await;
    says(&desk, &second, "agreed", &[]).await;
    assert_eq!(states(&shop).await, ["agreed", "declined"]);
    assert_eq!(owed(&shop, &job).await, Money(7_800));
}

#[tokio::test]
async fn a_new_line_is_taken_off_again_while_an_older_quote_is_out() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = two_lines(&desk).await;
    quotes(&desk, &job, "q1").await;
    proposes(&desk, &job, "w3", "A new nut", "90.00").await;
    let page = desk.opens(&job).await;
    let off = page.page().select(&scraper::Selector::parse("form[action$='/withdraw']").unwrap()).count();
    assert_eq!(off, 1, "only the line no quote names");
    let nut = lines(&shop).await.remove(2);
    assert_eq!(desk.sends(&format!("{job}/work/{nut}/withdraw"), &[]).await.status, StatusCode::SEE_OTHER);
    assert_eq!(states(&shop).await.len(), 2);
}

#[tokio::test]
async fn opening_a_line_again_keeps_the_customers_yes_also_where_the_owner_had_allowed_it_before() {
    let shop = Shop::open().await;
    let (desk, ivo, owner) = (shop.desk().await, shop.bench().await, shop.owner().await);
    let job = two_lines(&desk).await;
    let both = lines(&shop).await;
    for line in &both {
        let reason = [("overrule_reason", "An old friend.")];
        owner.sends(&format!("{job}/work/{line}/overrule"), &reason).await;
    }
    let quote = quotes(&desk, &job, "q1").await;
    says(&desk, &quote, "some", &[&both[0]]).await;
    let bench = job.replace("/desk/", "/bench/");
    ivo.sends(&format!("{bench}/work/{}/done", both[0]), &[("result", "")]).await;
    assert_eq!(states(&shop).await[0], "done");
    ivo.sends(&format!("{bench}/work/{}/reopen", both[0]), &[]).await;
    assert_eq!(states(&shop).await, ["agreed", "declined"]);
}

#[tokio::test]
async fn the_quotes_note_and_a_lines_minutes_can_be_typed() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let line = form(&desk.opens(&job).await, &format!("{job}/work"))
        .with("words", "Glue the brace")
        .with("price", "30")
        .with("minutes", "25");
    assert_eq!(line.sent_by(&desk).await.status, StatusCode::SEE_OTHER);
    let minutes: i64 = sqlx::query_scalar("SELECT minutes FROM work_line").fetch_one(shop.app.db.read()).await.unwrap();
    assert_eq!(minutes, 25);
    let quote = form(&desk.opens(&job).await, &format!("{job}/quote")).with("note", "The crack waits until spring.");
    let made = quote.sent_by(&desk).await.location.unwrap();
    assert!(desk.opens(&made).await.visible_text().contains("The crack waits until spring."));
}
