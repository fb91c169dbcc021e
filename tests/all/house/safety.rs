//! Who may use which route, where posts may come from, and what every answer carries.

use axum::body::Body;
use axum::http::{Method, Request, StatusCode, header};
use thumbplane::records::Db;
use thumbplane::records::staff::Roles;
use thumbplane::web::access::Access;
use thumbplane::web::router::routes;

use crate::support::{HOST, Shop};

/// A path with every parameter filled by a key that exists nowhere.
fn filled(path: &str) -> String {
    let mut filled = String::new();
    for part in path.split('/').skip(1) {
        filled.push('/');
        filled.push_str(if part.starts_with('{') { "0197e2f0-0000-7000-8000-000000000000" } else { part });
    }
    if filled.is_empty() { "/".to_owned() } else { filled }
}

#[tokio::test]
async fn every_route_admits_exactly_its_roles() {
    let shop = Shop::open().await;
    let people = [
        (shop.stranger(), None),
        (shop.desk().await, Some(Roles { desk: true, bench: false, owner: false })),
        (shop.bench().await, Some(Roles { desk: false, bench: true, owner: false })),
        (shop.owner().await, Some(Roles { desk: false, bench: false, owner: true })),
    ];
    let table = routes(&shop.app);
    assert!(table.len() > 50);
    for route in &table {
        if route.path == "/sign-out" {
            continue; // would end the sessions that the test walks with
        }
        let path = filled(route.path);
        for (person, roles) in &people {
            let answer =
                if route.method == Method::GET { person.opens(&path).await } else { person.sends(&path, &[]).await };
            let to_sign_in = answer.location.as_deref().is_some_and(|to| to.starts_with("/sign-in?then="));
            let turned_away = answer.status == StatusCode::UNAUTHORIZED || to_sign_in;
            let said = format!("{} {} as {roles:?}: {}", route.method, route.path, answer.status);
            match roles {
                None => assert_eq!(turned_away, route.access != Access::Public, "{said}"),
                Some(roles) => {
                    assert!(!turned_away, "{said}");
                    assert_eq!(answer.status == StatusCode::FORBIDDEN, !route.access.admits(*roles), "{said}");
                }
            }
            assert!(answer.status.as_u16() < 500, "{said}");
        }
    }
}

#[tokio::test]
async fn the_public_routes_are_these_and_no_others() {
    let shop = Shop::open().await;
    let table = routes(&shop.app);
    let public: Vec<String> = table
        .iter()
        .filter(|route| route.access == Access::Public)
        .map(|route| format!("{} {}", route.method, route.path))
        .collect();
    assert_eq!(
        public,
        [
            "GET /",
            "GET /healthz",
            "GET /static/{hash}/{*name}",
            "GET /sign-in",
            "POST /sign-in",
            "POST /sign-out",
            "GET /first-start",
            "POST /first-start",
            "GET /s/{token}",
            "POST /s/{token}/answer",
            "GET /s/{token}/total",
            "GET /s/{token}/care.ics",
            "GET /s/{token}/photos/{photo}",
            "GET /s/{token}/photos/{photo}/small",
        ]
    );
}

#[tokio::test]
async fn a_form_from_another_site_is_refused() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let form = ("content-type", "application/x-www-form-urlencoded");
    let body = "form_key=x";
    let same = format!("http://{HOST}");
    let referer = format!("http://{HOST}/desk");
    // Fetch Metadata and Origin as browsers send them; a browser's form always has an Origin
    for (headers, allowed) in [
        (vec![form, ("sec-fetch-site", "same-origin")], true),
        (vec![form, ("sec-fetch-site", "cross-site")], false),
        (vec![form, ("sec-fetch-site", "same-site")], false),
        (vec![form, ("origin", same.as_str())], true),
        (vec![form, ("origin", "http://evil.example")], false),
        (vec![form, ("origin", "null")], false),
        (vec![form, ("origin", "")], false),
        (vec![form, ("sec-fetch-site", "")], false),
        (vec![form, ("referer", referer.as_str())], true),
        (vec![form, ("referer", "http://evil.example/127.0.0.1:8750")], false),
        (vec![form], false),
    ] {
        let answer = desk.sends_raw("/desk/check-in", &headers, body).await;
        assert_eq!(answer.status != StatusCode::FORBIDDEN, allowed, "{headers:?}: {}", answer.status);
        assert!(allowed || answer.visible_text().contains("another site"), "{headers:?}");
    }
}

#[tokio::test]
async fn every_answer_carries_the_safety_headers() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let css = thumbplane::web::assets::url("app.css");
    for path in ["/sign-in", "/desk", "/nothing", "/healthz", css.as_str(), "/desk/jobs/x"] {
        let answer = owner.opens(path).await;
        let policy = answer.headers["content-security-policy"].to_str().unwrap().to_owned();
        assert!(policy.contains("default-src 'none'") && !policy.contains("unsafe"), "{path}");
        assert!(policy.contains("frame-ancestors 'none'") && policy.contains("base-uri 'none'"), "{path}");
        assert_eq!(answer.headers["x-content-type-options"], "nosniff", "{path}");
        assert_eq!(answer.headers["referrer-policy"], "same-origin", "{path}");
        let cache = answer.headers["cache-control"].to_str().unwrap();
        assert_eq!(cache.contains("immutable"), path == css, "{path}: {cache}");
        assert!(answer.headers.contains_key("x-request-id"), "{path}");
    }
}

#[tokio::test]
async fn pages_travel_compressed_to_whoever_can_read_that() {
    let shop = Shop::open().await;
    let page = shop.owner().await.sends_raw_get("/office/targets", "accept-encoding", "gzip").await;
    assert_eq!(page.headers["content-encoding"], "gzip");
    assert!(!shop.owner().await.opens("/office/targets").await.headers.contains_key("content-encoding"));
}

#[tokio::test]
async fn signing_in_gives_a_new_token_and_signing_out_kills_it() {
    let shop = Shop::with_story().await;
    let stranger = shop.stranger();
    let wrong =
        stranger.sends("/sign-in", &[("name", "Mirel"), ("password", "wrong wrong wrong"), ("then", "/desk")]).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    let nobody =
        stranger.sends("/sign-in", &[("name", "Nobody"), ("password", "wrong wrong wrong"), ("then", "")]).await;
    assert_eq!(wrong.all(".message"), nobody.all(".message"), "a guesser learns nothing");
    assert!(!wrong.text.contains("wrong wrong"), "a password is never given back");
    let right = stranger
        .sends("/sign-in", &[("name", "mirel"), ("password", "desk by the weir"), ("then", "//evil.example")])
        .await;
    assert_eq!((right.status, right.location.as_deref()), (StatusCode::SEE_OTHER, Some("/")));
    let cookie = right.headers["set-cookie"].to_str().unwrap().to_owned();
    assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Lax") && cookie.contains("Path=/"), "{cookie}");
    let pair = cookie.split(';').next().unwrap();
    let get = |path: &str| {
        Request::get(path).header(header::HOST, HOST).header(header::COOKIE, pair).body(Body::empty()).unwrap()
    };
    assert_eq!(shop.answer(get("/desk")).await.status, StatusCode::OK);
    let out = Request::post("/sign-out")
        .header(header::HOST, HOST)
        .header(header::ORIGIN, format!("http://{HOST}"))
        .header(header::COOKIE, pair)
        .body(Body::empty())
        .unwrap();
    assert_eq!(shop.answer(out).await.status, StatusCode::SEE_OTHER);
    assert_eq!(shop.answer(get("/desk")).await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn a_session_ends_when_idle_and_in_any_case_after_thirty_days() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let hour = 3_600_000_000;
    let start = shop.clock.now().0;
    shop.clock.set(thumbplane::quantity::Instant(start + 11 * hour));
    assert_eq!(desk.opens("/desk").await.status, StatusCode::OK);
    // used every eleven hours it lives on, but not past thirty days
    let mut last = StatusCode::OK;
    for step in 2..=70 {
        shop.clock.set(thumbplane::quantity::Instant(start + step * 11 * hour));
        last = desk.opens("/desk").await.status;
        assert_eq!(last == StatusCode::OK, step * 11 < 30 * 24, "after {} hours", step * 11);
    }
    assert_eq!(last, StatusCode::SEE_OTHER);
    let other = shop.desk().await;
    shop.clock.set(thumbplane::quantity::Instant(shop.clock.now().0 + 13 * hour));
    assert_eq!(other.opens("/desk").await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn guessing_slows_down_for_a_name_and_a_right_password_after_the_pause_works() {
    let shop = Shop::with_story().await;
    let stranger = shop.stranger();
    for _ in 0..6 {
        stranger.sends("/sign-in", &[("name", "Ivo"), ("password", "guess guess guess"), ("then", "")]).await;
    }
    let right = [("name", "Ivo"), ("password", "bench by the weir"), ("then", "")];
    let blocked = stranger.sends("/sign-in", &right).await;
    assert!(blocked.all(".message")[0].contains("Too many"), "{:?}", blocked.all(".message"));
    shop.clock.set(thumbplane::quantity::Instant(shop.clock.now().0 + 2_000_000));
    assert_eq!(stranger.sends("/sign-in", &right).await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn guessing_pauses_alike_for_a_name_that_is_known_and_one_that_is_not() {
    let shop = Shop::with_story().await;
    let stranger = shop.stranger();
    let mut told = Vec::new();
    for name in ["Ivo", "Nobody"] {
        let mut words = Vec::new();
        for _ in 0..8 {
            let form = [("name", name), ("password", "guess guess guess"), ("then", "")];
            words.push(stranger.sends("/sign-in", &form).await.all(".message"));
        }
        told.push(words);
    }
    assert!(told[0].last().unwrap()[0].contains("Too many"), "{told:?}");
    assert_eq!(told[0], told[1], "a pause tells nobody which names there are");
}

#[tokio::test]
async fn the_first_start_makes_one_owner_with_the_consoles_code() {
    let folder = tempfile::TempDir::new().unwrap();
    let db = Db::open(folder.path()).await.unwrap();
    let clock = thumbplane::clock::Clock::fixed(crate::support::MORNING, "Europe/London").unwrap();
    let mut write = db.write().await.unwrap();
    thumbplane::command::furnish(&mut write, clock.now()).await.unwrap();
    let code = thumbplane::records::staff::first_start_code(&mut write).await.unwrap().unwrap();
    write.commit().await.unwrap();
    let app = thumbplane::web::App::new(db, clock, thumbplane::web::Serving::default());
    let router = thumbplane::web::router::router(app.clone()).unwrap();
    let send = |code: String| {
        let router = router.clone();
        async move {
            let body = form_urlencoded::Serializer::new(String::new())
                .extend_pairs([("code", code.as_str()), ("name", "Ottilie"), ("password", "sluice gate and walnut")])
                .finish();
            let request = Request::post("/first-start")
                .header(header::HOST, HOST)
                .header(header::ORIGIN, format!("http://{HOST}"))
                .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
                .body(Body::from(body))
                .unwrap();
            tower::ServiceExt::oneshot(router, request).await.unwrap()
        }
    };
    assert_eq!(send("guessed".to_owned()).await.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let made = send(code.clone()).await;
    assert_eq!(made.status(), StatusCode::SEE_OTHER);
    assert!(made.headers().contains_key(header::SET_COOKIE));
    assert_eq!(send(code).await.status(), StatusCode::UNPROCESSABLE_ENTITY, "the code works once");
}

#[tokio::test]
async fn behind_tls_the_cookie_is_bound_to_the_host() {
    let serving = thumbplane::web::Serving {
        public_origin: Some("https://shop.example".to_owned()),
        ..thumbplane::web::Serving::default()
    };
    let shop = Shop::open_as(serving).await;
    let page = shop.stranger().opens("/sign-in").await;
    assert!(page.headers["strict-transport-security"].to_str().unwrap().starts_with("max-age="));
    // a session under the plain name is not looked at
    assert_eq!(shop.desk().await.opens("/desk").await.status, StatusCode::SEE_OTHER);
}
