//! HTTP as the standards have it, and what people with bad intentions send.

use std::collections::BTreeSet;
use std::net::SocketAddr;
use std::time::Duration;

use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::{HeaderMap, Method, Request, StatusCode, header};
use thumbplane::records::{AuditContext, Door, JobId, password, staff};
use thumbplane::web::Serving;
use thumbplane::web::router::routes;
use tokio::io::{AsyncReadExt, AsyncWriteExt};

use crate::support::log::console;
use crate::support::{Answer, HOST, Shop, check_in_form};

fn asks(method: &str, path: &str, cookie: &str) -> axum::http::request::Builder {
    let request = Request::builder().method(method).uri(path).header(header::HOST, HOST);
    request.header(header::COOKIE, cookie).header(header::ORIGIN, format!("http://{HOST}"))
}

async fn answers(shop: &Shop, method: &str, path: &str, cookie: &str) -> Answer {
    shop.answer(asks(method, path, cookie).body(Body::empty()).unwrap()).await
}

fn text_of(headers: &HeaderMap, name: &str) -> String {
    headers.get(name).map(|value| value.to_str().unwrap().to_owned()).unwrap_or_default()
}

/// Gives somebody a password to sign in with.
async fn with_password(shop: &Shop, name: &str, typed: &str) {
    let id = shop.staff_id(name).await;
    let hash = password::hash(typed).unwrap();
    let mut write = shop.app.db.write().await.unwrap();
    let by = AuditContext { staff: None, door: Door::Command, at: shop.clock.now() };
    staff::set_password(&mut write, &by, id, &hash, None).await.unwrap();
    write.commit().await.unwrap();
}

// RFC 9110: 9.3.2 (HEAD wherever GET, without content), 15.5.6 (405 with Allow), 10.2.1 (Allow)
#[tokio::test]
async fn head_works_wherever_get_does_and_other_methods_are_405_with_those_that_work() {
    let shop = Shop::open().await;
    let owner = shop.owner().await.cookie();
    for path in ["/desk", "/office/targets", "/healthz", "/sign-in", "/api/openapi.json"] {
        let (get, head) = (answers(&shop, "GET", path, &owner).await, answers(&shop, "HEAD", path, &owner).await);
        assert_eq!((get.status, head.status), (StatusCode::OK, StatusCode::OK), "{path}");
        assert!(head.text.is_empty(), "{path}");
        assert_eq!(get.headers["content-type"], head.headers["content-type"], "{path}");
        for method in ["DELETE", "PUT", "PATCH", "TRACE", "OPTIONS", "BREW"] {
            let wrong = answers(&shop, method, path, &owner).await;
            assert_eq!(wrong.status, StatusCode::METHOD_NOT_ALLOWED, "{method} {path}");
            let allowed = text_of(&wrong.headers, "allow");
            assert!(allowed.contains("GET") && allowed.contains("HEAD"), "{method} {path}: {allowed}");
            assert!(!wrong.text.contains(&owner), "{method} {path}: RFC 9110, 9.3.8: nothing sensitive is sent back");
        }
    }
    let post_only = answers(&shop, "GET", "/sign-out", &owner).await;
    assert_eq!(
        (post_only.status, text_of(&post_only.headers, "allow").as_str()),
        (StatusCode::METHOD_NOT_ALLOWED, "POST")
    );
}

/// One of each kind of answer.
async fn one_of_each(shop: &Shop) -> Vec<(u16, Answer)> {
    let owner = shop.owner().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("one of each").await;
    let css = thumbplane::web::assets::url("app.css");
    let etag = text_of(&owner.opens(&css).await.headers, "etag");
    let large = "x".repeat(600 * 1024);
    let all = vec![
        (200, owner.opens("/desk").await),
        (200, owner.opens(&css).await),
        (200, shop.stranger().opens("/healthz").await),
        (200, owner.opens("/api/openapi.json").await),
        (200, owner.sends("/office/export/customers", &[]).await),
        (303, shop.stranger().opens("/desk").await),
        (303, desk.sends("/desk/check-in", &check_in_form("one of each")).await),
        (304, owner.sends_raw_get(&css, "if-none-match", &etag).await),
        (400, desk.sends("/desk/check-in", &[("note", &large)]).await),
        (401, shop.stranger().opens("/api/openapi.json").await),
        (401, shop.stranger().sends("/desk/check-in", &[]).await),
        (403, desk.opens("/office").await),
        (403, desk.sends_raw("/desk/check-in", &[("sec-fetch-site", "cross-site")], "").await),
        (404, owner.opens("/nothing").await),
        (404, owner.opens("/s/AAAAAAAAAAAAAAAAAAAAAA").await),
        (405, answers(shop, "DELETE", "/desk", &owner.cookie()).await),
        (409, desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "ready")]).await),
        (415, owner.sends("/api/calc/frets", &[]).await),
        (422, desk.sends("/desk/check-in", &[("form_key", "k")]).await),
        (422, shop.stranger().sends("/sign-in", &[]).await),
    ];
    for (status, answer) in &all {
        assert_eq!(answer.status.as_u16(), *status, "{}", answer.text.chars().take(200).collect::<String>());
    }
    all
}

// OWASP ASVS 5.0.0, V3.4.3, V3.4.4, V3.4.5, V3.4.6 and V4.1.1; Content Security Policy Level 3; RFC 9110, 8.3
#[tokio::test]
async fn every_kind_of_answer_carries_the_whole_set_of_safety_headers() {
    let shop = Shop::open().await;
    for (status, answer) in one_of_each(&shop).await {
        let policy: BTreeSet<String> =
            text_of(&answer.headers, "content-security-policy").split(';').map(|part| part.trim().to_owned()).collect();
        for part in [
            "default-src 'none'",
            "script-src 'self'",
            "style-src 'self'",
            "img-src 'self'",
            "connect-src 'self'",
            "form-action 'self'",
            "frame-ancestors 'none'",
            "base-uri 'none'",
            "object-src 'none'",
        ] {
            assert!(policy.contains(part), "{status}: {part} in {policy:?}");
        }
        assert!(policy.iter().all(|part| !part.contains("unsafe") && !part.contains('*')), "{status}: {policy:?}");
        for (name, value) in [
            ("x-content-type-options", "nosniff"),
            ("x-frame-options", "DENY"),
            ("cross-origin-opener-policy", "same-origin"),
            ("cross-origin-resource-policy", "same-origin"),
            ("permissions-policy", "camera=(self), microphone=(), geolocation=()"),
        ] {
            assert_eq!(text_of(&answer.headers, name), value, "{status}");
        }
        assert!(["same-origin", "no-referrer"].contains(&text_of(&answer.headers, "referrer-policy").as_str()));
        assert!(!text_of(&answer.headers, "cache-control").is_empty(), "{status}");
        assert!(!text_of(&answer.headers, "x-request-id").is_empty(), "{status}");
        // no other site is let in: the Fetch Standard's CORS headers are nowhere
        assert!(!answer.headers.keys().any(|name| name.as_str().starts_with("access-control-")), "{status}");
        // RFC 8259, 8.1: JSON is UTF-8 and has no charset
        let kind = text_of(&answer.headers, "content-type");
        if !answer.text.is_empty() {
            assert!(kind.contains("charset=utf-8") || kind.ends_with("json"), "{status}: {kind}");
        }
        assert!(!answer.headers.contains_key("server") && !answer.headers.contains_key("x-powered-by"), "{status}");
    }
}

// RFC 9110, 15.5.2 (401), 10.2.3 (Retry-After); RFC 6585, 4 (429); OWASP ASVS 5.0.0, V2.4.1 and V4.1.3
#[tokio::test]
async fn whoever_tries_too_often_from_one_address_is_told_when_to_come_back() {
    let shop = Shop::open().await;
    let from = |address: [u8; 4], path: &str, forwarded: usize| {
        let mut request = asks("GET", path, "").body(Body::empty()).unwrap();
        request.extensions_mut().insert(ConnectInfo(SocketAddr::from((address, 40_000))));
        // what a client says of its own address counts for nothing
        request.headers_mut().insert("x-forwarded-for", format!("203.0.113.{forwarded}").parse().unwrap());
        shop.answer(request)
    };
    // RFC 5737: addresses for documentation
    for number in 0..60 {
        let answer = from([192, 0, 2, 7], &format!("/s/{number:022}"), number).await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{number}");
    }
    let answer = from([192, 0, 2, 7], "/s/AAAAAAAAAAAAAAAAAAAAAA", 99).await;
    assert_eq!(answer.status, StatusCode::TOO_MANY_REQUESTS);
    assert_eq!(text_of(&answer.headers, "retry-after"), "60");
    assert_eq!(from([192, 0, 2, 8], "/s/AAAAAAAAAAAAAAAAAAAAAA", 99).await.status, StatusCode::NOT_FOUND, "others may");
    shop.clock.set(thumbplane::quantity::Instant(shop.clock.now().0 + 60_000_000));
    assert_eq!(from([192, 0, 2, 7], "/s/AAAAAAAAAAAAAAAAAAAAAA", 99).await.status, StatusCode::NOT_FOUND);
}

// RFC 6265bis, 4.1.3.2 (__Host-), 5.4; OWASP ASVS 5.0.0, V3.3.1 to V3.3.4; RFC 6797, 6.1 (HSTS, a year)
#[tokio::test]
async fn behind_tls_every_cookie_is_secure_and_bound_to_the_host() {
    let origin = "https://shop.example";
    let shop = Shop::open_as(Serving { public_origin: Some(origin.to_owned()), ..Serving::default() }).await;
    with_password(&shop, "Ottilie", "sluice gate and walnut").await;
    let post = |path: &'static str, cookie: String, body: &'static str| {
        let request = Request::post(path).header(header::HOST, "shop.example").header(header::ORIGIN, origin);
        let request = request.header(header::COOKIE, cookie);
        shop.answer(
            request.header(header::CONTENT_TYPE, "application/x-www-form-urlencoded").body(Body::from(body)).unwrap(),
        )
    };
    let signed_in =
        post("/sign-in", String::new(), "name=Ottilie&password=sluice+gate+and+walnut&then=%2Foffice").await;
    assert_eq!(signed_in.location.as_deref(), Some("/office"), "{}", signed_in.visible_text());
    let session = text_of(&signed_in.headers, "set-cookie");
    let pair = session.split(';').next().unwrap().to_owned();
    let saved = post("/bench/habit", pair.clone(), "").await;
    assert!(saved.status.as_u16() < 500);
    let flashed = post(
        "/office/services",
        pair.clone(),
        "form_key=k&key=polish&name=Polish&minutes=5&price=3&tax_class=standard&active=yes",
    )
    .await;
    assert_eq!(flashed.status, StatusCode::SEE_OTHER, "{}", flashed.visible_text());
    let flash = text_of(&flashed.headers, "set-cookie");
    let shown = Request::get("/office/services").header(header::HOST, "shop.example");
    let flash_pair = flash.split(';').next().unwrap();
    let shown =
        shop.answer(shown.header(header::COOKIE, format!("{pair}; {flash_pair}")).body(Body::empty()).unwrap()).await;
    assert!(shown.has(".flash"), "the sentence is shown once");
    for cookie in [session, flash, text_of(&shown.headers, "set-cookie")] {
        assert!(cookie.starts_with("__Host-"), "{cookie}");
        for attribute in ["Secure", "HttpOnly", "SameSite=Lax", "Path=/"] {
            assert!(cookie.split("; ").any(|part| part == attribute), "{attribute} in {cookie}");
        }
        assert!(!cookie.contains("Domain"), "{cookie}");
    }
    let strict = text_of(&shown.headers, "strict-transport-security");
    assert!(strict.strip_prefix("max-age=").unwrap().parse::<u64>().unwrap() >= 31_536_000, "{strict}");
}

// OWASP ASVS 5.0.0, V7.2.1 to V7.2.4 (a new token at each sign-in), V6.2.2 and V6.2.3 (the present password is asked
// for), V7.4.3 (others end); Session Management Cheat Sheet, fixation
#[tokio::test]
async fn signing_in_again_kills_the_old_token_and_a_new_password_ends_the_others() {
    let shop = Shop::open().await;
    with_password(&shop, "Mirel", "desk by the weir").await;
    let held = shop.desk().await;
    let elsewhere = shop.desk().await;
    let form = [("name", "MIREL"), ("password", "desk by the weir"), ("then", "/desk")];
    let again = held.sends("/sign-in", &form).await;
    let cookie = text_of(&again.headers, "set-cookie").split(';').next().unwrap().to_owned();
    let token = cookie.strip_prefix("thumbplane=").unwrap();
    // 256 bits in base64url without padding: RFC 4648, section 5
    assert!(token.len() == 43 && token.chars().all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '_'));
    assert_eq!(held.opens("/desk").await.status, StatusCode::SEE_OTHER, "the token of before is dead");
    assert_eq!(answers(&shop, "GET", "/desk", &cookie).await.status, StatusCode::OK);
    assert_eq!(elsewhere.opens("/desk").await.status, StatusCode::OK);
    let stored: Vec<Vec<u8>> =
        sqlx::query_scalar("SELECT token_hash FROM session").fetch_all(shop.app.db.read()).await.unwrap();
    assert!(!stored.is_empty() && stored.iter().all(|hash| hash.len() == 32 && hash != token.as_bytes()));

    let change = |present: &'static str, password: &'static str| {
        let body = form_urlencoded::Serializer::new(String::new())
            .extend_pairs([("present", present), ("password", password)])
            .finish();
        let request =
            asks("POST", "/account", &cookie).header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
        shop.answer(request.body(Body::from(body)).unwrap())
    };
    let guessed = change("not the password", "walnut and spruce 1").await;
    assert_eq!(guessed.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(guessed.has("#error-present") && !guessed.text.contains("walnut and spruce"));
    assert_eq!(change("desk by the weir", "mirel mirel mirel").await.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(change("desk by the weir", "walnut and spruce 1").await.status, StatusCode::SEE_OTHER);
    assert_eq!(elsewhere.opens("/desk").await.status, StatusCode::SEE_OTHER, "other devices are signed out");
    assert_eq!(answers(&shop, "GET", "/desk", &cookie).await.status, StatusCode::OK, "this one stays");
}

// OWASP ASVS 5.0.0, V6.3.1: the count on a name lives in the file, so that a restart does not wipe it
#[tokio::test]
async fn guesses_are_counted_over_a_restart_and_a_signed_in_tablet_stays_in() {
    let shop = Shop::open().await;
    with_password(&shop, "Ivo", "bench by the weir").await;
    let tablet = shop.bench().await;
    for _ in 0..6 {
        shop.stranger().sends("/sign-in", &[("name", "Ivo"), ("password", "guess guess guess"), ("then", "")]).await;
    }
    let blocked: i64 = sqlx::query_scalar("SELECT blocked_until FROM staff WHERE name = 'Ivo'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert!(blocked > shop.clock.now().0);
    // another program on the same file knows of it
    let app = thumbplane::web::App::new(shop.app.db.clone(), shop.clock.clone(), Serving::default());
    let restarted = thumbplane::web::router::router(app).unwrap();
    let request = asks("POST", "/sign-in", "").header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
    let request = request.body(Body::from("name=Ivo&password=bench+by+the+weir&then=")).unwrap();
    let answer = tower::ServiceExt::oneshot(restarted, request).await.unwrap();
    assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(tablet.opens("/bench").await.status, StatusCode::OK);
}

// OWASP ASVS 5.0.0, V8.2.2: a child is looked up under its own parent
#[tokio::test]
async fn what_belongs_to_another_job_is_not_found_under_this_one() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let mine = desk.checks_in("mine").await;
    let mut other = check_in_form("other");
    other.retain(|(name, _)| *name != "serial");
    let other = desk.sends("/desk/check-in", &other).await.location.unwrap();
    let other = other.trim_end_matches("/ticket").to_owned();
    let form = [("form_key", "w"), ("service", ""), ("words", "Set it up"), ("price", "65")];
    desk.sends(&format!("{other}/work"), &form).await;
    let line: uuid::Uuid = sqlx::query_scalar("SELECT id FROM work_line").fetch_one(shop.app.db.read()).await.unwrap();
    let owner = shop.owner().await;
    let bench = mine.replace("/desk/", "/bench/");
    for (path, form) in [
        (format!("{mine}/work/{line}/withdraw"), vec![]),
        (format!("{mine}/work/{line}/overrule"), vec![("overrule_reason", "because")]),
        (format!("{bench}/work/{line}/done"), vec![("result", "")]),
        (format!("{bench}/work/{line}/start"), vec![]),
        (format!("{bench}/work/{line}/reopen"), vec![]),
        (format!("{bench}/parts/{line}/back"), vec![]),
    ] {
        let answer = owner.sends(&path, &form).await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{path}: {}", answer.visible_text());
    }
    let state: String = sqlx::query_scalar("SELECT state FROM work_line").fetch_one(shop.app.db.read()).await.unwrap();
    assert_eq!(state, "proposed");
}

// OWASP ASVS 5.0.0, V2.2.1 and V16.5.1: whatever stands in an address, nothing breaks and nothing inside is told
#[tokio::test]
async fn no_address_breaks_a_page() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let long = "x".repeat(4000);
    let attacks =
        ["x", "%00", "..%2f..%2fetc%2fpasswd", "%27%20OR%201=1--", "%ff%fe", "0", "%0d%0aSet-Cookie:a=b", &long];
    let mut tried = 0;
    for route in routes(&shop.app) {
        if !route.path.contains('{') {
            continue;
        }
        for attack in attacks {
            let path: String = route
                .path
                .split('/')
                .skip(1)
                .map(|part| if part.starts_with('{') { format!("/{attack}") } else { format!("/{part}") })
                .collect();
            let answer =
                if route.method == Method::GET { owner.opens(&path).await } else { owner.sends(&path, &[]).await };
            let said = format!("{} {} with {}", route.method, route.path, &attack[..attack.len().min(30)]);
            assert!(answer.status.is_client_error(), "{said}: {}", answer.status);
            for inside in ["SELECT", "sqlx", "panicked", ".rs:", "passwd:"] {
                assert!(!answer.text.contains(inside), "{said} tells {inside}");
            }
            assert!(!answer.headers.contains_key(header::SET_COOKIE), "{said}");
            tried += 1;
        }
    }
    assert!(tried > 400, "{tried}");
}

// OWASP ASVS 5.0.0, V1.2.1 and V1.3.4; CWE-79: what was typed is text wherever it lands, in HTML, attributes and SVG
#[tokio::test]
async fn what_people_type_is_never_markup() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    // the shortest field takes 40 characters
    let attack = "\"'><script>alert(1)</script>{{7*7}}";
    let picture = "<img src=x onerror=alert(2)>";
    let mut form = check_in_form("attack");
    for (name, value) in &mut form {
        if ["name", "telephone", "maker", "model", "serial", "complaint", "brought_with", "rack", "mark_note_1"]
            .contains(name)
        {
            *value = if *name == "complaint" { picture } else { attack };
        }
    }
    let made = owner.sends("/desk/check-in", &form).await;
    assert_eq!(made.status, StatusCode::SEE_OTHER, "{}", made.visible_text());
    let job = made.location.unwrap().trim_end_matches("/ticket").to_owned();
    let bench = job.replace("/desk/", "/bench/");
    owner.sends(&format!("{job}/work"), &[("form_key", "w"), ("service", ""), ("words", attack), ("price", "5")]).await;
    owner.sends(&format!("{bench}/notes"), &[("form_key", "n"), ("words", attack)]).await;
    owner.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "measured")]).await;
    let quote = owner.sends(&format!("{job}/quote"), &[("form_key", "q"), ("note", attack)]).await.location.unwrap();
    let id = |table: &str| {
        let sql = format!("SELECT id FROM {table}");
        let db = shop.app.db.clone();
        async move { sqlx::query_scalar::<_, uuid::Uuid>(sqlx::AssertSqlSafe(sql)).fetch_one(db.read()).await.unwrap() }
    };
    let (customer, instrument) = (id("customer").await, id("instrument").await);
    let token = shop.app.db.link_secret().token(JobId(job.rsplit('/').next().unwrap().parse().unwrap()), 0);
    let asked: String = form_urlencoded::byte_serialize(attack.as_bytes()).collect();
    let mut held = 0;
    for path in [
        "/desk".to_owned(),
        "/desk/day".to_owned(),
        format!("/desk/search?q={asked}"),
        format!("/desk/check-in?find={asked}"),
        format!("/sign-in?then={asked}"),
        job.clone(),
        format!("{job}/ticket"),
        format!("{job}/tag"),
        format!("{job}/shelf-label"),
        format!("{job}/sheet"),
        format!("{job}/receipt"),
        format!("{job}/hand-over"),
        format!("{job}/details"),
        format!("{job}/condition"),
        format!("{job}/photos"),
        format!("{job}/collection-letter"),
        quote,
        bench.clone(),
        format!("{bench}/card"),
        format!("{bench}/final-check"),
        "/bench".to_owned(),
        format!("/desk/customers/{customer}"),
        format!("/desk/instruments/{instrument}"),
        format!("/desk/instruments/{instrument}/history"),
        format!("/s/{token}"),
    ] {
        let page = owner.opens(&path).await;
        assert_eq!(page.status, StatusCode::OK, "{path}");
        assert!(!page.has("img[src='x']") && !page.has("[onerror]"), "{path}");
        assert!(page.all("script").iter().all(String::is_empty), "{path}: a script with words of ours in it");
        assert!(!page.text.contains("<script>alert"), "{path}");
        assert!(!page.visible_text().contains(">49"), "{path}: a template within a value");
        held += usize::from(page.text.contains("alert(1)"));
    }
    assert!(held > 15, "it stands on the pages, as text: {held}");
}

// CWE-93 and CWE-117; WHATWG HTML, input value sanitization: a browser strips line breaks from a single line, a
// script does not
#[tokio::test]
async fn a_single_line_holds_no_line_breaks_and_no_control_characters() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    for name in ["name", "telephone", "email", "maker", "serial", "rack"] {
        for bad in ["a\r\nBcc: x@evil.example", "a\nb", "a\u{0}b", "a\u{1b}[31mb", "a\u{7f}b", "a\u{85}b"] {
            let mut form = check_in_form("line");
            form.retain(|(field, _)| *field != name);
            form.push((name, bad));
            let answer = desk.sends("/desk/check-in", &form).await;
            assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{name} {bad:?}");
            assert!(answer.has(&format!("#error-{name}")), "{name} {bad:?}");
        }
    }
    assert_eq!(shop.count("job").await, 0);
}

// UAX #9: an override turns the rest of a line around, also on paper; UAX #44: what is passed over leaves no mark.
// UAX #15: composing U+1D160 makes three characters of it
#[tokio::test]
async fn a_name_is_seen_stays_within_its_line_and_is_counted_as_it_is_kept() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let grows = "\u{1d160}".repeat(100);
    for bad in ["\u{202e}neraM", "a\u{2066}b", "\u{200b}\u{2060}", "\u{3164}", "\u{ad}", &grows] {
        let mut form = check_in_form("seen");
        form.retain(|(field, _)| *field != "name");
        form.push(("name", bad));
        let answer = desk.sends("/desk/check-in", &form).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{bad:?}");
        assert!(answer.has("#error-name"), "{bad:?}");
    }
    // written from right to left without any, and with a mark that joins letters
    for (key, good) in [("hebrew", "\u{5de}\u{5e8}\u{5df}"), ("persian", "\u{645}\u{6cc}\u{200c}\u{62e}")] {
        let mut form = check_in_form(key);
        form.retain(|(field, _)| *field != "name");
        form.push(("name", good));
        assert_eq!(desk.sends("/desk/check-in", &form).await.status, StatusCode::SEE_OTHER, "{good}");
    }
}

// CWE-158: a NUL within what is looked up; it reached SQLite's full text and was answered as our fault
#[tokio::test]
async fn no_character_in_what_is_looked_up_is_our_fault() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    shop.desk().await.checks_in("k").await;
    let mut asked = 0;
    for route in routes(&shop.app).iter().filter(|route| route.method == Method::GET && !route.path.contains('{')) {
        for name in ["q", "since", "from", "page", "before", "customer", "family"] {
            for value in ["%00", "a%00b", "%22%00%2a", "%1b", "%ff", "%f0%9f%8e%b8", "26-0001%00"] {
                let path = format!("{}?{name}={value}", route.path);
                let answer = owner.opens(&path).await;
                assert!(!answer.status.is_server_error(), "{path}: {}", answer.status);
                asked += 1;
            }
        }
    }
    assert!(asked > 500, "{asked}");
    let found = owner.opens("/desk/search?part=hits&q=%00Maren%00").await;
    assert!(found.visible_text().contains("Maren Oakhollow"), "{}", found.visible_text());
}

// CWE-472: a key that the form never offered
#[tokio::test]
async fn a_choice_that_names_nothing_is_refused_in_words() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let page = desk.opens(&format!("{job}/details")).await;
    let made_up = uuid::Uuid::now_v7().to_string();
    let answer = page.form(&format!("{job}/details")).with("staff", &made_up).sent_by(&desk).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", answer.visible_text());
    assert!(answer.visible_text().contains("not there any more"), "{}", answer.visible_text());
    let bench = shop.bench().await;
    let cells = format!("{}/cells", job.replace("/desk/", "/bench/"));
    let cell = [("key", "c"), ("cell", "relief"), ("typed", "0.2"), ("after", made_up.as_str())];
    let answer = bench.sends(&cells, &cell).await;
    assert!(answer.status.is_client_error(), "{}: {}", answer.status, answer.text);
}

// RFC 5321, 4.5.3.1.3 (an address has at most 254 octets, with RFC 3696 erratum 1690); the only real check is that
// mail arrives
#[tokio::test]
async fn an_address_for_mail_has_two_sides_and_no_blanks() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let long = format!("{}@oakhollow.example", "x".repeat(254));
    for bad in
        ["maren", "@oakhollow.example", "maren@", "a@b@c.example", "ma ren@oakhollow.example", "a\u{a0}b@c", &long]
    {
        let mut form = check_in_form("mail");
        form.retain(|(field, _)| *field != "email");
        form.push(("email", bad));
        assert!(desk.sends("/desk/check-in", &form).await.has("#error-email"), "{bad}");
    }
    for (place, good) in
        ["o'neil+tag@oakhollow.example", "ana@bücher.example", "x@localhost", ""].into_iter().enumerate()
    {
        let key = format!("good {place}");
        let mut form = check_in_form(&key);
        form.retain(|(field, _)| *field != "email");
        form.push(("email", good));
        assert_eq!(desk.sends("/desk/check-in", &form).await.status, StatusCode::SEE_OTHER, "{good}");
    }
}

// OWASP ASVS 5.0.0, V1.4.2 and V15.3.7: numbers beyond range, and a field that came twice (the first counts)
#[tokio::test]
async fn numbers_beyond_measure_are_refused_and_of_two_fields_the_first_counts() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let mut form = check_in_form("twice");
    form.push(("name", "Somebody Else"));
    let job = desk.sends("/desk/check-in", &form).await.location.unwrap().trim_end_matches("/ticket").to_owned();
    let names: Vec<String> =
        sqlx::query_scalar("SELECT name FROM customer").fetch_all(shop.app.db.read()).await.unwrap();
    assert_eq!(names, ["Maren Oakhollow"]);
    for amount in ["99999999999999999999999", "9223372036854775807", "-1", "1e9", "NaN", "0x10", "1.999", "∞"] {
        let form = [("form_key", "p"), ("kind", "deposit"), ("method", "cash"), ("amount", amount), ("note", "")];
        let answer = desk.sends(&format!("{job}/payment"), &form).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{amount}");
        assert_eq!(answer.value("amount"), amount, "it comes back as typed");
    }
    assert_eq!(shop.count("payment").await, 0);
}

// OWASP ASVS 5.0.0, V3.5.3; RFC 9110, 9.2.1: GET is safe. SQLite's data_version changes when another connection writes
#[tokio::test]
async fn opening_pages_writes_nothing() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let job = owner.checks_in("k").await;
    let id = job.rsplit('/').next().unwrap().to_owned();
    let token = shop.app.db.link_secret().token(JobId(id.parse().unwrap()), 0);
    let mut watching = shop.app.db.read().acquire().await.unwrap();
    let before: i64 = sqlx::query_scalar("PRAGMA data_version").fetch_one(&mut *watching).await.unwrap();
    let mut opened = 0;
    for route in routes(&shop.app).into_iter().filter(|route| route.method == Method::GET) {
        let path = route.path.replace("{id}", &id).replace("{token}", &token).replace("{name}", "frets");
        for method in ["GET", "HEAD"] {
            let answer = answers(&shop, method, &path, &owner.cookie()).await;
            assert!(answer.status.as_u16() < 500, "{method} {path}");
        }
        opened += 1;
    }
    assert!(opened > 50);
    let after: i64 = sqlx::query_scalar("PRAGMA data_version").fetch_one(&mut *watching).await.unwrap();
    assert_eq!(before, after);
}

// OWASP ASVS 5.0.0, V14.2.1, V16.2.1, V16.2.5, V16.3.2 and V16.4.1; CWE-117 and CWE-532
#[tokio::test]
async fn the_log_names_no_token_no_person_and_no_query_and_its_lines_cannot_be_forged() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let everything = async {
        let job = desk.checks_in("k").await;
        let token = shop.app.db.link_secret().token(JobId(job.rsplit('/').next().unwrap().parse().unwrap()), 0);
        shop.stranger().opens(&format!("/s/{token}")).await;
        shop.stranger().opens(&format!("/s/{token}/photos/{}", uuid::Uuid::nil())).await;
        desk.opens("/desk/search?q=Oakhollow").await;
        desk.opens("/office").await;
        desk.opens("/desk/%0d%0aFORGED%20request.answered").await;
        desk.sends_raw_get("/desk", "user-agent", "evil FORGED").await;
        shop.stranger()
            .sends(
                "/sign-in",
                &[("name", "Ivo\nFORGED"), ("password", "guess guess guess"), ("then", "/desk?x=SECRET")],
            )
            .await;
        token
    };
    let (token, text) = console(everything).await;
    assert!(text.lines().count() >= 8, "{text}");
    assert!(text.contains("request.answered") && text.contains("/s/…") && text.contains("access.refused"), "{text}");
    assert!(text.contains("status=") && text.contains("method=GET"), "{text}");
    let cookie = desk.cookie().split_once('=').unwrap().1.to_owned();
    for secret in [token.as_str(), &cookie, "Oakhollow", "960101", "guess guess", "SECRET", "maren@", "TW-4471", "Ivo"]
    {
        assert!(!text.contains(secret), "the log tells {secret}: {text}");
    }
    for line in text.lines() {
        assert!(!line.starts_with("FORGED") && !line.contains('\u{1b}'), "{line}");
        // each line begins with its moment in UTC: RFC 3339
        assert!(line.starts_with("20") && line.contains("Z "), "{line}");
    }
}

// CWE-400: a head that does not come to its end. The time limit passes on a clock that jumps when all wait
#[tokio::test]
async fn a_client_that_never_finishes_its_request_is_let_go_and_others_are_answered_meanwhile() {
    let shop = Shop::open().await;
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
    let app = shop.app.clone();
    let served = tokio::spawn(thumbplane::web::serve::serve(listener, app, async {
        let _ = stopped.await;
    }));
    let mut slow = Vec::new();
    for _ in 0..200 {
        let mut stream = tokio::net::TcpStream::connect(address).await.unwrap();
        stream.write_all(b"GET /healthz HTTP/1.1\r\nHost: ").await.unwrap();
        slow.push(stream);
    }
    let mut other = tokio::net::TcpStream::connect(address).await.unwrap();
    other.write_all(b"GET /healthz HTTP/1.1\r\nHost: shop\r\nConnection: close\r\n\r\n").await.unwrap();
    let mut answer = String::new();
    other.read_to_string(&mut answer).await.unwrap();
    assert!(answer.starts_with("HTTP/1.1 200") && answer.ends_with("well\n"), "{answer}");

    tokio::time::pause();
    let begun = tokio::time::Instant::now();
    for mut stream in slow {
        let mut rest = Vec::new();
        let ended = tokio::time::timeout(Duration::from_secs(600), stream.read_to_end(&mut rest)).await;
        assert!(ended.is_ok(), "still open after ten minutes");
    }
    assert!(begun.elapsed() < Duration::from_secs(60), "{:?}", begun.elapsed());
    tokio::time::resume();
    stop.send(()).unwrap();
    assert!(served.await.unwrap().is_ok());
}

/// A body of which nothing ever comes; the first look at it makes the clock jump when all wait.
struct Never;

impl hyper::body::Body for Never {
    type Data = axum::body::Bytes;
    type Error = std::convert::Infallible;

    fn poll_frame(
        self: std::pin::Pin<&mut Self>,
        _: &mut std::task::Context<'_>,
    ) -> std::task::Poll<Option<Result<hyper::body::Frame<Self::Data>, Self::Error>>> {
        tokio::time::pause();
        std::task::Poll::Pending
    }
}

// RFC 9110, 15.5.9: 408 Request Timeout
#[tokio::test]
async fn a_form_that_never_arrives_is_given_up() {
    let shop = Shop::open().await;
    let request = asks("POST", "/sign-in", "").header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
    let answer = shop.answer(request.body(Body::new(Never)).unwrap()).await;
    assert_eq!(answer.status, StatusCode::REQUEST_TIMEOUT);
    assert!(answer.visible_text().contains("Nothing was saved"));
}

// OWASP ASVS 5.0.0, V14.2.1 and V8.2.2: wrong, cut and foreign links are one and the same page
#[tokio::test]
async fn a_page_of_the_link_that_is_wrong_looks_like_any_other_wrong_one() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let token = shop.app.db.link_secret().token(JobId(job.rsplit('/').next().unwrap().parse().unwrap()), 0);
    // OWASP ASVS 5.0.0, V11.5.1: 128 bits at least, and only their hash is kept
    assert_eq!(data_encoding::BASE64URL_NOPAD.decode(token.as_bytes()).unwrap().len(), 16);
    let stranger = shop.stranger();
    let mut turned = token.clone();
    turned.replace_range(..1, if token.starts_with('A') { "B" } else { "A" });
    let first = stranger.opens(&format!("/s/{turned}")).await;
    for wrong in ["AAAAAAAAAAAAAAAAAAAAAA", "x", &token[..21], &format!("{token}A"), "%00", &token.to_lowercase()] {
        let other = stranger.opens(&format!("/s/{wrong}")).await;
        assert_eq!((other.status, &other.text), (StatusCode::NOT_FOUND, &first.text), "{wrong}");
    }
    let page = stranger.opens(&format!("/s/{token}")).await;
    assert_eq!(page.status, StatusCode::OK);
    // nothing of anybody else's, and nothing that could be sent from here
    assert!(!page.has("form") && !page.text.contains("http://") && !page.text.contains("https://"));
    let mut links = 0;
    for link in page.page().select(&scraper::Selector::parse("a[href], link[href], script[src], img[src]").unwrap()) {
        links += 1;
        let to = link.value().attr("href").or(link.value().attr("src")).unwrap();
        assert!(["/", "#", "tel:", "mailto:"].iter().any(|ours| to.starts_with(ours)), "{to}");
    }
    assert!(links > 0, "a page has at least its style sheet");
}
