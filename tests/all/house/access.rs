//! Who gets in: guessing, sessions and passwords, where somebody means harm or the clock is wrong.

use std::net::SocketAddr;

use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::{Request, StatusCode, header};
use thumbplane::quantity::Instant;
use thumbplane::records::{AuditContext, Door, password, staff};
use thumbplane::web::Serving;

use crate::support::{Answer, HOST, Shop, check_in_form};

const RIGHT: &str = "sluice gate and walnut";

async fn with_password(shop: &Shop, name: &str) {
    let (id, hash) = (shop.staff_id(name).await, password::hash(RIGHT).unwrap());
    let mut tx = shop.app.db.write().await.unwrap();
    let by = AuditContext { staff: None, door: Door::Command, at: shop.clock.now() };
    staff::set_password(&mut tx, &by, id, &hash, None).await.unwrap();
    tx.commit().await.unwrap();
}

/// Signs in as Ottilie over the network.
async fn signs_in(shop: &Shop, address: [u8; 4], typed: &str) -> Answer {
    let body = form_urlencoded::Serializer::new(String::new())
        .extend_pairs([("name", "Ottilie"), ("password", typed), ("then", "")])
        .finish();
    let mut request = Request::builder()
        .method("POST")
        .uri("/sign-in")
        .header(header::HOST, HOST)
        .header(header::ORIGIN, format!("http://{HOST}"))
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .body(Body::from(body))
        .unwrap();
    request.extensions_mut().insert(ConnectInfo(SocketAddr::from((address, 40_000))));
    shop.answer(request).await
}

// OWASP ASVS 5.0.0, V6.3.1, and OWASP Authentication Cheat Sheet, “Account Lockout”: a count that anybody can raise must
// not keep the person out. Addresses for documentation: RFC 5737.
#[tokio::test]
async fn whoever_guesses_a_name_elsewhere_keeps_its_person_out_of_no_place_of_their_own() {
    let shop = Shop::open().await;
    with_password(&shop, "Ottilie").await;
    let (own, elsewhere, new) = ([192, 0, 2, 7], [198, 51, 100, 9], [203, 0, 113, 4]);
    assert_eq!(signs_in(&shop, own, RIGHT).await.status, StatusCode::SEE_OTHER);
    let is_paused = |answer: &Answer| answer.visible_text().contains("Too many wrong tries");
    let mut paused = 0;
    for _ in 0..12 {
        paused += u32::from(is_paused(&signs_in(&shop, elsewhere, "guess guess guess").await));
    }
    assert!(paused > 0, "the guesser waits");
    assert!(is_paused(&signs_in(&shop, elsewhere, RIGHT).await));
    assert!(is_paused(&signs_in(&shop, new, RIGHT).await), "so does a place nobody knows");
    assert_eq!(signs_in(&shop, own, RIGHT).await.status, StatusCode::SEE_OTHER, "at home nobody waits");
    // guesses at home pause at home
    for _ in 0..6 {
        signs_in(&shop, own, "guess guess guess").await;
    }
    assert!(is_paused(&signs_in(&shop, own, RIGHT).await));
    // a place is known for ninety days
    shop.clock.set(Instant(shop.clock.now().0 + 91 * 86_400_000_000));
    assert_eq!(signs_in(&shop, new, RIGHT).await.status, StatusCode::SEE_OTHER);
    assert_eq!(shop.count("sign_in_place").await, 1);
}

// a second press takes nothing twice; another content under the same key is not taken for the first
#[tokio::test]
async fn a_form_that_comes_again_with_other_words_is_refused_and_not_taken_for_the_first() {
    let shop = Shop::open().await;
    let (desk, ivo) = (shop.desk().await, shop.bench().await);
    let job = desk.checks_in("k").await;
    assert_eq!(desk.checks_in("k").await, job, "pressed twice");
    let mut other = check_in_form("k");
    other.iter_mut().filter(|(field, _)| *field == "complaint").for_each(|(_, words)| *words = "The bridge lifts.");
    let refused = desk.sends("/desk/check-in", &other).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", refused.visible_text());
    assert!(refused.visible_text().contains("checked 26-0001 in already, with other words"));
    assert!(refused.text.contains("The bridge lifts."), "and what was typed comes back");
    assert_eq!(shop.count("job").await, 1);
    let notes = format!("{}/notes", job.replace("/desk/", "/bench/"));
    let note = async |words: &str| ivo.sends(&notes, &[("form_key", "n"), ("hands", words)]).await;
    assert_eq!(note("The nut is soft.").await.status, StatusCode::SEE_OTHER);
    assert_eq!(note("The nut is soft.").await.status, StatusCode::SEE_OTHER);
    assert!(note("The nut is loose.").await.visible_text().contains("sent before, with another note"));
    assert_eq!(shop.count("job_note").await, 1);
}

#[tokio::test]
async fn the_present_password_is_not_guessed_from_a_tablet_that_was_left_open() {
    let shop = Shop::open().await;
    with_password(&shop, "Ottilie").await;
    let owner = shop.owner().await;
    let tries = async |present: &str| {
        let form = [("present", present), ("password", "oil spruce brass 9")];
        owner.sends("/account", &form).await
    };
    for _ in 0..6 {
        assert!(tries("guess guess guess").await.visible_text().contains("not your present password"));
    }
    let paused = tries(RIGHT).await;
    assert_eq!(paused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(paused.visible_text().contains("Too many wrong tries"), "{}", paused.visible_text());
    shop.clock.set(Instant(shop.clock.now().0 + 300_000_000));
    assert_eq!(tries(RIGHT).await.status, StatusCode::SEE_OTHER);
}

// RFC 6265bis, 5.4: a cookie with Secure is not kept from an answer that came without TLS
#[tokio::test]
async fn a_sign_in_whose_cookie_would_be_lost_says_where_to_go() {
    let secure = Serving { public_origin: Some("https://shop.example".to_owned()), ..Serving::default() };
    let shop = Shop::open_as(secure).await;
    with_password(&shop, "Ottilie").await;
    let plain = signs_in(&shop, [192, 0, 2, 7], RIGHT).await;
    assert_eq!(plain.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(plain.visible_text().contains("Open https://shop.example instead"), "{}", plain.visible_text());
    assert!(!plain.headers.contains_key(header::SET_COOKIE));
}

#[tokio::test]
async fn what_was_begun_while_the_clock_was_years_ahead_does_not_last_for_years() {
    let shop = Shop::open().await;
    with_password(&shop, "Ottilie").await;
    let today = shop.clock.now();
    shop.clock.set(Instant(today.0 + 3 * 365 * 86_400_000_000));
    let ahead = shop.owner().await;
    assert_eq!(ahead.opens("/desk").await.status, StatusCode::OK);
    for _ in 0..12 {
        signs_in(&shop, [192, 0, 2, 7], "guess guess guess").await;
    }
    shop.clock.set(today);
    assert_eq!(ahead.opens("/desk").await.status, StatusCode::SEE_OTHER, "signed in by a wrong clock");
    assert_eq!(signs_in(&shop, [192, 0, 2, 7], RIGHT).await.status, StatusCode::SEE_OTHER, "nor is anybody kept out");
}
