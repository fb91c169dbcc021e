//! The customer's door.

use axum::http::StatusCode;
use thumbplane::web::Serving;

use crate::support::{HOST, MORNING, Shop};

const DAY: i64 = 86_400_000_000;

/// A shop whose customers can reach it: only then a ticket bears a link.
async fn shop_with_an_address() -> Shop {
    Shop::open_as(Serving { public_origin: Some(format!("http://{HOST}")), ..Serving::default() }).await
}

/// The private link as the ticket prints it.
async fn link(shop: &Shop, job: &str) -> String {
    let ticket = shop.desk().await.opens(&format!("{job}/ticket")).await;
    let link = ticket.visible_text().split_whitespace().find(|word| word.contains("/s/")).unwrap().to_owned();
    link[link.find("/s/").unwrap()..].to_owned()
}

#[tokio::test]
async fn the_link_on_the_ticket_shows_the_job_and_nobodys_address() {
    let shop = shop_with_an_address().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let ticket = desk.opens(&format!("{job}/ticket")).await;
    let link = ticket.visible_text().split_whitespace().find(|word| word.contains("/s/")).unwrap().to_owned();
    let path = &link[link.find("/s/").unwrap()..];
    assert_eq!(path.len(), "/s/".len() + 22, "128 bits in base64url");

    let page = shop.stranger().opens(path).await;
    assert_eq!(page.status, StatusCode::OK);
    assert!(page.visible_text().contains("26-0001") && page.visible_text().contains("Thistlewade OM-2"));
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
    let token = shop.app.db.link_secret().token(id, 0);
    let page = shop.stranger().opens(&format!("/s/{token}")).await;
    assert_eq!(page.status, StatusCode::OK);
    assert_eq!(shop.count("event").await, before);
}

#[tokio::test]
async fn the_link_ends_some_days_after_the_instrument_went_home_and_says_whom_to_call() {
    let shop = shop_with_an_address().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let path = link(&shop, &job).await;
    let home = [("version", "1"), ("to", "closed-unrepaired"), ("reason", "Changed her mind.")];
    desk.sends(&format!("{job}/stage"), &home).await;
    let ninety_days_less_a_moment = thumbplane::quantity::Instant(MORNING.0 + 90 * DAY - 1);
    shop.clock.set(ninety_days_less_a_moment);
    assert_eq!(shop.stranger().opens(&path).await.status, StatusCode::OK);
    shop.clock.set(thumbplane::quantity::Instant(MORNING.0 + 90 * DAY));
    let ended = shop.stranger().opens(&path).await;
    assert_eq!(ended.status, StatusCode::NOT_FOUND);
    assert!(
        ended.visible_text().contains("This link has ended") && ended.visible_text().contains("call us"),
        "{}",
        ended.visible_text()
    );
    let telephone: String =
        sqlx::query_scalar("SELECT telephone FROM settings").fetch_one(shop.app.db.read()).await.unwrap();
    assert!(ended.visible_text().contains(&telephone) && !ended.text.contains("26-0001"));
    assert_eq!(ended.headers["x-robots-tag"], "noindex, nofollow");
    // a guessed one is told the same
    let guessed = shop.stranger().opens("/s/AAAAAAAAAAAAAAAAAAAAAA").await;
    assert_eq!((guessed.status, guessed.all("main")), (ended.status, ended.all("main")));
    // the shop's own scanner still finds the job, and a new link holds again
    let desk = shop.desk().await;
    let scanned: String = form_urlencoded::byte_serialize(format!("http://x{path}").as_bytes()).collect();
    assert_eq!(desk.opens(&format!("/desk/search?q={scanned}")).await.location.as_deref(), Some(job.as_str()));
    let version = desk.opens(&job).await.value("version");
    assert_eq!(desk.sends(&format!("{job}/link"), &[("version", &version)]).await.status, StatusCode::SEE_OTHER);
    assert_eq!(shop.stranger().opens(&link(&shop, &job).await).await.status, StatusCode::OK);
    // the owner decides how long
    let settings = shop.owner().await;
    let page = settings.opens("/office/settings").await;
    assert_eq!(page.value("link_days"), "90");
    let form = page.form("/office/settings");
    let none = settings.sends_form("/office/settings", &form, &[("link_days", "0")]).await;
    assert!(none.has("#error-link_days"));
    let one = settings.sends_form("/office/settings", &form, &[("link_days", "1")]).await;
    assert_eq!(one.status, StatusCode::SEE_OTHER, "{}", one.text);
    shop.clock.set(thumbplane::quantity::Instant(MORNING.0 + 91 * DAY));
    assert_eq!(shop.stranger().opens(&link(&shop, &job).await).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_new_link_makes_the_old_one_lead_nowhere() {
    let shop = shop_with_an_address().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let old = link(&shop, &job).await;
    assert!(desk.opens(&job).await.has(&format!("form[action='{job}/link']")));
    let made = desk.sends(&format!("{job}/link"), &[("version", "1")]).await;
    assert_eq!(made.location, Some(format!("{job}/ticket")), "{}", made.text);
    let new = link(&shop, &job).await;
    assert_ne!(old, new);
    assert_eq!(shop.stranger().opens(&old).await.status, StatusCode::NOT_FOUND);
    assert_eq!(shop.stranger().opens(&new).await.status, StatusCode::OK);
    let stale = desk.sends(&format!("{job}/link"), &[("version", "1")]).await;
    assert_eq!(stale.status, StatusCode::CONFLICT, "a second press does not revoke what the first one made");
    assert_eq!(shop.stranger().opens(&new).await.status, StatusCode::OK);
}

#[tokio::test]
async fn only_guessing_a_link_is_slowed_down_and_a_trusted_proxy_tells_guessers_apart() {
    use axum::body::Body;
    use axum::extract::ConnectInfo;
    use axum::http::{Request, header};
    use std::net::SocketAddr;

    let serving = Serving {
        public_origin: Some(format!("http://{HOST}")),
        trusted_proxies: vec!["192.0.2.1".parse().unwrap()],
        ..Serving::default()
    };
    let shop = Shop::open_as(serving).await;
    let job = shop.desk().await.checks_in("k").await;
    let path = link(&shop, &job).await;
    let opens = async |path: &str, forwarded: &'static str| {
        let request = Request::get(path)
            .header(header::HOST, crate::support::HOST)
            .header("x-forwarded-for", forwarded)
            .extension(ConnectInfo(SocketAddr::from(([192, 0, 2, 1], 40000))))
            .body(Body::empty())
            .unwrap();
        shop.answer(request).await.status
    };
    for _ in 0..100 {
        assert_eq!(opens(&path, "203.0.113.7").await, StatusCode::OK, "looking is no guessing");
    }
    let guesses = async |from| {
        let mut last = StatusCode::OK;
        for _ in 0..61 {
            last = opens("/s/AAAAAAAAAAAAAAAAAAAAAA", from).await;
        }
        last
    };
    assert_eq!(guesses("198.51.100.1, 203.0.113.8").await, StatusCode::TOO_MANY_REQUESTS);
    assert_eq!(opens("/s/AAAAAAAAAAAAAAAAAAAAAA", "203.0.113.7").await, StatusCode::NOT_FOUND, "somebody else");
    assert_eq!(opens("/s/AAAAAAAAAAAAAAAAAAAAAA", "203.0.113.99, 203.0.113.8").await, StatusCode::TOO_MANY_REQUESTS);
    assert_eq!(opens(&path, "203.0.113.8").await, StatusCode::OK, "whoever holds the link gets in all the same");
}
