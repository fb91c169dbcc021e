//! The customer's door.

use axum::http::StatusCode;
use thumbplane::web::Serving;

use crate::support::{HOST, Shop};

#[tokio::test]
async fn the_link_on_the_ticket_shows_the_job_and_nobodys_address() {
    let shop = Shop::open_as(Serving { public_origin: Some(format!("http://{HOST}")), demo: false }).await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let ticket = desk.opens(&format!("{job}/ticket")).await;
    let link = ticket.seen().split_whitespace().find(|word| word.contains("/s/")).unwrap().to_owned();
    let path = &link[link.find("/s/").unwrap()..];
    assert_eq!(path.len(), "/s/".len() + 22, "128 bits in base64url");

    let page = shop.stranger().opens(path).await;
    assert_eq!(page.status, StatusCode::OK);
    assert!(page.seen().contains("26-0001") && page.seen().contains("Thistlewade OM-2"));
    for private in ["Oakhollow", "01632 960101", "maren@"] {
        assert!(!page.text.contains(private), "{private}");
    }
    assert_eq!(page.headers["referrer-policy"], "no-referrer");
    assert_eq!(page.headers["x-robots-tag"], "noindex, nofollow");
    assert_eq!(page.headers["cache-control"], "no-store");
    let guessed = shop.stranger().opens("/s/AAAAAAAAAAAAAAAAAAAAAA").await;
    assert_eq!(guessed.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn opening_the_link_changes_nothing() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let id = job.rsplit('/').next().unwrap().parse().unwrap();
    let before = shop.count("event").await;
    let token = shop.app.db.link_secret().token(id);
    let page = shop.stranger().opens(&format!("/s/{token}")).await;
    assert_eq!(page.status, StatusCode::OK);
    assert_eq!(shop.count("event").await, before);
}
