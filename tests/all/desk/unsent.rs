//! What was typed and not sent: kept on the server for whoever typed it, until it is sent or a week old.

use axum::http::StatusCode;
use thumbplane::quantity::Instant;
use thumbplane::records::password;

use crate::support::{MORNING, Shop, check_in_form};

fn typed(fields: &[(&str, &str)]) -> String {
    form_urlencoded::Serializer::new(String::new()).extend_pairs(fields).finish()
}

#[tokio::test]
async fn a_check_in_half_typed_comes_back_on_any_tablet_to_whoever_typed_it() {
    let shop = Shop::open().await;
    let (mirel, ottilie) = (shop.desk().await, shop.owner().await);
    let half = typed(&[
        ("form_key", "half"),
        ("name", "Maren Oakhollow"),
        ("complaint", "It buzzes,\nlow down."),
        ("style", "light"),
    ]);
    let kept = mirel.sends("/unsent", &[("form", "/desk/check-in"), ("fields", &half)]).await;
    assert_eq!(kept.status, StatusCode::NO_CONTENT, "{}", kept.visible_text());
    // another tablet, signed in anew
    let page = shop.desk().await.opens("/desk/check-in").await;
    assert_eq!(page.value("name"), "Maren Oakhollow");
    assert_eq!(page.value("complaint"), "It buzzes,\nlow down.");
    assert!(page.has("input[name=style][value=light][checked]"));
    assert!(page.visible_text().contains("not sent yet"), "{}", page.visible_text());
    assert_eq!(ottilie.opens("/desk/check-in").await.value("name"), "", "it is hers alone");
    // thrown away by a press
    let gone = mirel.sends("/unsent/throw-away", &[("form", "/desk/check-in"), ("then", "/desk/check-in")]).await;
    assert_eq!(gone.location.as_deref(), Some("/desk/check-in"));
    assert_eq!(mirel.opens("/desk/check-in").await.value("name"), "");
}

#[tokio::test]
async fn what_was_sent_is_not_brought_back_also_where_its_draft_arrives_late() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let half = typed(&[("form_key", "one"), ("name", "Maren Oakhollow")]);
    desk.sends("/unsent", &[("form", "/desk/check-in"), ("fields", &half)]).await;
    desk.checks_in("one").await;
    assert_eq!(desk.opens("/desk/check-in").await.value("name"), "");
    desk.sends("/unsent", &[("form", "/desk/check-in"), ("fields", &half)]).await;
    assert_eq!(desk.opens("/desk/check-in").await.value("name"), "", "the page that was left sent it on its way out");
    let next = typed(&[("form_key", "two"), ("name", "Jory Pennock")]);
    desk.sends("/unsent", &[("form", "/desk/check-in"), ("fields", &next)]).await;
    assert_eq!(desk.opens("/desk/check-in").await.value("name"), "Jory Pennock");
    // nobody's words lie about for long
    shop.clock.set(Instant(MORNING.0 + 8 * 86_400_000_000));
    assert_eq!(shop.desk().await.opens("/desk/check-in").await.value("name"), "");
}

#[tokio::test]
async fn a_known_customer_chosen_after_the_complaint_was_typed_keeps_the_complaint() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("one").await;
    let maren: uuid::Uuid = sqlx::query_scalar("SELECT id FROM customer").fetch_one(shop.app.db.read()).await.unwrap();
    let half = typed(&[("form_key", "half"), ("name", "mar"), ("complaint", "The saddle leans.")]);
    desk.sends("/unsent", &[("form", "/desk/check-in"), ("fields", &half)]).await;
    let page = desk.opens(&format!("/desk/check-in?customer={maren}")).await;
    assert_eq!(page.value("complaint"), "The saddle leans.");
    assert_eq!(page.value("customer"), maren.to_string());
}

#[tokio::test]
async fn a_form_sent_after_the_session_ended_comes_back_with_all_that_was_typed_after_signing_in() {
    let shop = Shop::open().await;
    let mut tx = shop.app.db.write().await.unwrap();
    let hash = password::hash("weir and walnut, both").unwrap();
    sqlx::query("UPDATE staff SET password_hash = ? WHERE name = 'Mirel'").bind(hash).execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
    let job = shop.desk().await.checks_in("known").await;
    let details = format!("{job}/details");
    for (path, field, words) in [
        ("/desk/check-in", "complaint", "It buzzes when I dig in,\nmostly low down."),
        (details.as_str(), "complaint", "It buzzes when I dig in,\nmostly low down."),
    ] {
        let asked = shop.stranger().sends(path, &check_in_form("late")).await;
        assert_eq!(asked.status, StatusCode::UNAUTHORIZED);
        let form = asked.form("/sign-in").with("name", "Mirel").with("password", "weir and walnut, both");
        let inside = form.sent_by(&shop.stranger()).await;
        assert_eq!((inside.status, inside.location.as_deref()), (StatusCode::SEE_OTHER, Some(path)), "{}", inside.text);
        let cookie = inside.headers.get("set-cookie").unwrap().to_str().unwrap().split(';').next().unwrap().to_owned();
        let page = shop.stranger().opens_with_cookie(path, &cookie).await;
        assert_eq!(page.value(field), words, "{path}");
    }
    assert_eq!(shop.count("job").await, 1, "nothing is sent by signing in");
}

#[tokio::test]
async fn corrections_of_a_job_and_a_note_on_its_quote_come_back_too() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("one").await;
    let details = format!("{job}/details");
    let form = desk.opens(&details).await.form(&details).with("brought_with", "gig bag, tuner");
    let fields: Vec<(&str, &str)> = form.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    desk.sends("/unsent", &[("form", &details), ("fields", &typed(&fields))]).await;
    assert_eq!(desk.opens(&details).await.value("brought_with"), "gig bag, tuner");
    assert_eq!(desk.opens(&details).await.form(&details).sent_by(&desk).await.status, StatusCode::SEE_OTHER);
    let page = desk.opens(&details).await;
    assert_eq!(page.value("brought_with"), "gig bag, tuner");
    assert!(!page.visible_text().contains("not sent yet"), "{}", page.visible_text());
    let line = [("form_key", "w"), ("service", ""), ("words", "Clean it"), ("price", "20")];
    desk.sends(&format!("{job}/work"), &line).await;
    let quote = format!("{job}/quote");
    let note = typed(&[("form_key", "q"), ("note", "The frets are worth keeping.")]);
    desk.sends("/unsent", &[("form", &quote), ("fields", &note)]).await;
    assert_eq!(desk.opens(&job).await.value("note"), "The frets are worth keeping.");
}

#[tokio::test]
async fn what_is_kept_belongs_to_a_form_of_ours_and_is_not_without_end() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    for (form, fields) in [("https://weir.example/", "a=b"), ("/office/staff", "name=x"), ("", "")] {
        let refused = desk.sends("/unsent", &[("form", form), ("fields", fields)]).await;
        assert_eq!(refused.status, StatusCode::BAD_REQUEST, "{form}");
    }
    let long = "x".repeat(70_000);
    let refused = desk.sends("/unsent", &[("form", "/desk/check-in"), ("fields", &long)]).await;
    assert_eq!(refused.status, StatusCode::BAD_REQUEST);
    assert_eq!(shop.count("unsent_form").await, 0);
}
