//! The door for programs: who may ask, what is answered, and what goes wrong in words a program can read.

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use serde_json::{Value, json};
use thumbplane::calc::{CALCULATIONS, LARGEST_INPUT, calc, explained};
use thumbplane::quantity::Instant;

use crate::support::{Answer, HOST, Shop};

const FRETS: &str = r#"{"scale_mm": 645, "frets": 20}"#;

/// The owner makes a token on the page and copies it.
async fn made(shop: &Shop, name: &str) -> String {
    let page = shop.owner().await.sends("/office/tokens", &[("form_key", name), ("name", name)]).await;
    assert_eq!(page.status, StatusCode::OK, "{}", page.text);
    let page = page.page();
    let field = scraper::Selector::parse("#token").unwrap();
    let token = page.select(&field).next().expect("the token is shown").value().attr("value").unwrap();
    token.to_owned()
}

fn asking(path: &str, token: Option<&str>) -> axum::http::request::Builder {
    let request = Request::post(path).header(header::HOST, HOST).header(header::CONTENT_TYPE, "application/json");
    match token {
        Some(token) => request.header(header::AUTHORIZATION, format!("Bearer {token}")),
        None => request,
    }
}

async fn asks(shop: &Shop, path: &str, token: &str, body: &str) -> Answer {
    shop.answer(asking(path, Some(token)).body(Body::from(body.to_owned())).unwrap()).await
}

fn json_of(answer: &Answer) -> Value {
    serde_json::from_str(&answer.text).unwrap_or_else(|_| panic!("no JSON: {}", answer.text))
}

/// RFC 9457: the media type, and the members every one of ours has.
#[track_caller]
fn is_problem(answer: &Answer, status: u16, said: &str) -> Value {
    assert_eq!(answer.status.as_u16(), status, "{said}: {}", answer.text);
    assert_eq!(answer.headers["content-type"], "application/problem+json", "{said}");
    assert_eq!(answer.headers["cache-control"], "no-store", "{said}");
    let document = json_of(answer);
    assert_eq!((&document["type"], &document["status"]), (&json!("about:blank"), &json!(status)), "{said}");
    assert!(document["title"].is_string() && document["errors"].is_array(), "{said}: {document}");
    assert!(document["detail"].as_str().is_some_and(|words| words.len() > 10), "{said}: {document}");
    document
}

#[tokio::test]
async fn a_program_is_answered_what_the_command_line_answers() {
    let shop = Shop::open().await;
    let token = made(&shop, "bench spreadsheet").await;
    for calculation in CALCULATIONS.iter() {
        let input = calculation.example().to_string();
        let path = format!("/api/calc/{}", calculation.name);
        let answer = asks(&shop, &path, &token, &input).await;
        assert_eq!(answer.status, StatusCode::OK, "{}", answer.text);
        assert_eq!(answer.headers["content-type"], "application/json");
        assert_eq!(answer.headers["cache-control"], "no-store");
        assert_eq!(json_of(&answer), calc(calculation.name, input.as_bytes()).unwrap(), "{path}");
        let with_working = asks(&shop, &format!("{path}?explain=true"), &token, &input).await;
        assert_eq!(json_of(&with_working), explained(calculation.name, input.as_bytes(), None).unwrap(), "{path}");
        assert!(json_of(&with_working)["working"].is_array());
    }
}

#[tokio::test]
async fn whoever_is_signed_in_may_ask_from_our_own_pages_only() {
    let shop = Shop::open().await;
    let json = ("content-type", "application/json");
    let same = format!("http://{HOST}");
    for person in [shop.desk().await, shop.bench().await, shop.owner().await] {
        let answer = person.sends_raw("/api/calc/frets", &[json, ("origin", &same)], FRETS).await;
        assert_eq!(answer.status, StatusCode::OK, "{}", answer.text);
        for elsewhere in [("origin", "http://evil.example"), ("sec-fetch-site", "cross-site"), ("x-none", "")] {
            let answer = person.sends_raw("/api/calc/frets", &[json, elsewhere], FRETS).await;
            is_problem(&answer, 403, elsewhere.0);
        }
    }
}

#[tokio::test]
async fn whatever_goes_wrong_is_a_problem_document() {
    let shop = Shop::open().await;
    let token = made(&shop, "checker").await;
    let ask = |path: &'static str, body: &'static str| asks(&shop, path, &token, body);

    is_problem(&ask("/api/calc/horoscope", "{}").await, 404, "a name that is none");
    is_problem(&ask("/api/nothing", "{}").await, 404, "a path that is none");
    is_problem(&ask("/api", "{}").await, 404, "the door itself");
    is_problem(&ask("/api/calc/frets", "{").await, 400, "no JSON");
    is_problem(&ask("/api/calc/frets?explain=perhaps", FRETS).await, 422, "explain is true or false");
    is_problem(&ask("/api/calc/frets?explain=true&explain=true", FRETS).await, 422, "once");
    is_problem(&ask("/api/calc/frets?explian=true", FRETS).await, 422, "a parameter that is none");

    let fault = ask("/api/calc/frets", r#"{"scale_mm": 0, "frets": 20}"#).await;
    let document = is_problem(&fault, 422, "a scale of nothing");
    let told = calc("frets", br#"{"scale_mm": 0, "frets": 20}"#).expect_err("refused").document();
    assert_eq!(document, told, "word for word what the command line tells");
    assert_eq!(document["errors"][0]["pointer"], "/scale_mm");
    assert!(document["errors"][0]["detail"].as_str().unwrap().contains("from 50 to 3000"));

    let get = asking("/api/calc/frets", Some(&token)).method("GET").body(Body::empty()).unwrap();
    let wrong_method = shop.answer(get).await;
    is_problem(&wrong_method, 405, "GET");
    assert_eq!(wrong_method.headers["allow"], "POST");

    for kind in ["text/plain", "application/x-www-form-urlencoded", "application/jsonp"] {
        let request = asking("/api/calc/frets", Some(&token)).header(header::CONTENT_TYPE, kind);
        let mut request = request.body(Body::from(FRETS)).unwrap();
        request.headers_mut().insert(header::CONTENT_TYPE, kind.parse().unwrap());
        is_problem(&shop.answer(request).await, 415, kind);
    }
    let mut request = asking("/api/calc/frets", Some(&token)).body(Body::from(FRETS)).unwrap();
    request.headers_mut().insert(header::CONTENT_TYPE, "Application/JSON; charset=utf-8".parse().unwrap());
    assert_eq!(shop.answer(request).await.status, StatusCode::OK);
}

#[tokio::test]
async fn an_input_may_be_as_large_here_as_on_the_command_line() {
    let shop = Shop::open().await;
    let token = made(&shop, "large").await;
    let blanks = " ".repeat(LARGEST_INPUT - FRETS.len());
    let largest = asks(&shop, "/api/calc/frets", &token, &format!("{FRETS}{blanks}")).await;
    assert_eq!(largest.status, StatusCode::OK, "{}", largest.text);
    let larger = asks(&shop, "/api/calc/frets", &token, &format!("{FRETS}{blanks} ")).await;
    is_problem(&larger, 413, "one byte more");
}

#[tokio::test]
async fn without_a_token_that_holds_nobody_is_answered() {
    let shop = Shop::open().await;
    let token = made(&shop, "holder").await;
    for (said, wrong) in [
        ("none", None),
        ("empty", Some(String::new())),
        ("another", Some(token.replace("thumbplane_", "thumbplane_x"))),
        ("without its beginning", Some(token.replace("thumbplane_", ""))),
        ("shorter", Some(token[..token.len() - 1].to_owned())),
    ] {
        let request = asking("/api/calc/frets", wrong.as_deref());
        let answer = shop.answer(request.body(Body::from(FRETS)).unwrap()).await;
        is_problem(&answer, 401, said);
        assert_eq!(answer.headers["www-authenticate"], "Bearer", "{said}");
    }
    let reading = shop.stranger().opens("/api/openapi.json").await;
    is_problem(&reading, 401, "the description");
    // a bad token is refused even beside a good cookie: it is one or the other
    let bearer = ("authorization", "Bearer thumbplane_nothing");
    is_problem(&shop.owner().await.sends_raw_get("/api/openapi.json", bearer.0, bearer.1).await, 401, "both");
    // what a proxy's own sign-in sends is not ours
    let proxy = shop.owner().await.sends_raw_get("/api/openapi.json", "authorization", "Basic b3duZXI6b3duZXI=").await;
    assert_eq!(proxy.status, StatusCode::OK);
}

#[tokio::test]
async fn a_token_opens_the_calculator_and_nothing_else_of_the_shop() {
    let shop = Shop::open().await;
    let token = made(&shop, "narrow").await;
    let bearer = format!("Bearer {token}");
    let with_token = |method: &str, path: &str| {
        let request = Request::builder().method(method).uri(path).header(header::HOST, HOST);
        request.header(header::AUTHORIZATION, &bearer).header(header::ORIGIN, format!("http://{HOST}"))
    };
    let mut tried = 0;
    for route in thumbplane::web::router::routes(&shop.app) {
        use thumbplane::web::access::Access;
        let path = route.path.replace("{id}", "0197e2f0-0000-7000-8000-000000000000").replace("{name}", "frets");
        let answer = shop.answer(with_token(route.method.as_str(), &path).body(Body::empty()).unwrap()).await;
        let to_sign_in = answer.location.as_deref().is_some_and(|to| to.starts_with("/sign-in?then="));
        let turned_away = answer.status == StatusCode::UNAUTHORIZED || to_sign_in;
        let open = matches!(route.access, Access::Public | Access::Program);
        assert_eq!(turned_away, !open, "{} {path}: {}", route.method, answer.status);
        if route.access == Access::Program {
            assert!(route.path.starts_with("/api/"), "{path}");
        }
        tried += 1;
    }
    assert!(tried > 50);
    // and without a word about where it came from a post with a token still passes only below /api
    let post = Request::post("/desk/check-in").header(header::HOST, HOST).header(header::AUTHORIZATION, &bearer);
    let answer = shop.answer(post.body(Body::empty()).unwrap()).await;
    assert_eq!(answer.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn a_token_is_shown_once_and_the_file_holds_only_its_hash() {
    let shop = Shop::open().await;
    let token = made(&shop, "once").await;
    // 256 bits in base64url without padding are 43 letters (RFC 4648)
    let secret = token.strip_prefix("thumbplane_").expect("it is recognised by its beginning");
    assert_eq!(secret.len(), 43);
    let other = made(&shop, "another").await;
    assert_ne!(token, other);
    asks(&shop, "/api/calc/frets", &token, FRETS).await;

    let list = shop.owner().await.opens("/office/tokens").await;
    assert!(list.visible_text().contains("once") && !list.text.contains(secret));
    // the same form again, as after a reload: one token, and nobody can read it
    let again = shop.owner().await.sends("/office/tokens", &[("form_key", "once"), ("name", "once")]).await;
    assert_eq!(again.status, StatusCode::OK);
    assert!(
        again.visible_text().contains("was already made") && !again.text.contains("thumbplane_"),
        "{}",
        again.visible_text()
    );
    assert_eq!(shop.count("api_token").await, 2);

    shop.app.db.close().await;
    let mut looked_at = 0;
    for entry in std::fs::read_dir(shop.folder()).unwrap() {
        let bytes = std::fs::read(entry.unwrap().path()).unwrap();
        looked_at += bytes.len();
        let holds = |text: &str| bytes.windows(text.len()).any(|window| window == text.as_bytes());
        assert!(!holds(secret), "the token stands in the file");
        assert!(!holds("thumbplane_"), "a token stands in the file");
    }
    assert!(looked_at > 50_000);
}

#[tokio::test]
async fn a_revoked_token_is_refused_at_once_and_the_list_says_who_ended_it() {
    let shop = Shop::open().await;
    let (token, kept) = (made(&shop, "old laptop").await, made(&shop, "bench spreadsheet").await);
    let owner = shop.owner().await;
    assert_eq!(owner.opens("/office/tokens").await.all(".tokens td")[1], "never used");
    assert_eq!(asks(&shop, "/api/calc/frets", &token, FRETS).await.status, StatusCode::OK);
    shop.clock.set(Instant(shop.clock.now().0 + 26 * 3_600_000_000));
    assert_eq!(asks(&shop, "/api/calc/frets", &token, FRETS).await.status, StatusCode::OK);
    let owner = shop.owner().await;
    let list = owner.opens("/office/tokens").await;
    assert!(list.all(".tokens tr").iter().any(|row| row.contains("old laptop") && row.contains("2026-10-15")));
    let presses = list.all(".tokens form");
    assert!(presses.iter().any(|words| words.contains("is refused from that moment")), "{presses:?}");

    let id: uuid::Uuid = sqlx::query_scalar("SELECT id FROM api_token WHERE name = 'old laptop'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    let path = format!("/office/tokens/{id}/revoke");
    assert_eq!(shop.desk().await.sends(&path, &[]).await.status, StatusCode::FORBIDDEN);
    assert_eq!(owner.sends(&path, &[]).await.status, StatusCode::SEE_OTHER);
    is_problem(&asks(&shop, "/api/calc/frets", &token, FRETS).await, 401, "revoked");
    assert_eq!(asks(&shop, "/api/calc/frets", &kept, FRETS).await.status, StatusCode::OK);
    assert_eq!(owner.sends(&path, &[]).await.status, StatusCode::SEE_OTHER, "a second press changes nothing");

    let ended = owner.opens("/office/tokens").await;
    assert!(
        ended.visible_text().contains("Revoked tokens (1)") && ended.visible_text().contains("2026-10-15 by Ottilie")
    );
    let deeds: Vec<(String, Option<String>, Option<String>)> =
        sqlx::query_as("SELECT deed, before_json, after_json FROM event WHERE record = 'api_token' ORDER BY id")
            .fetch_all(shop.app.db.read())
            .await
            .unwrap();
    let told: Vec<&str> = deeds.iter().map(|(deed, _, _)| deed.as_str()).collect();
    assert_eq!(told, ["API token made", "API token made", "API token revoked"]);
    assert!(!format!("{deeds:?}").contains("thumbplane_"));
    // the name is free again
    let again = owner.sends("/office/tokens", &[("form_key", "another form"), ("name", "old laptop")]).await;
    assert!(again.has("#token"), "{}", again.visible_text());
}

#[tokio::test]
async fn a_token_needs_a_name_of_its_own() {
    let shop = Shop::open().await;
    made(&shop, "bench spreadsheet").await;
    let owner = shop.owner().await;
    let nameless = owner.sends("/office/tokens", &[("form_key", "a"), ("name", "  ")]).await;
    assert_eq!(nameless.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(nameless.has("#error-name"));
    let twice = owner.sends("/office/tokens", &[("form_key", "b"), ("name", "bench spreadsheet")]).await;
    assert_eq!(twice.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(twice.all("#error-name")[0].contains("already a token"));
    assert_eq!(twice.value("name"), "bench spreadsheet");
    assert_eq!(shop.count("api_token").await, 1);
}

#[tokio::test]
async fn the_description_names_every_calculation() {
    let shop = Shop::open().await;
    let answer = shop.bench().await.opens("/api/openapi.json").await;
    assert_eq!(answer.status, StatusCode::OK);
    assert_eq!(answer.headers["content-type"], "application/json");
    let document = json_of(&answer);
    assert_eq!(document["openapi"], "3.1.0");
    assert_eq!(document["servers"][0]["url"], "/");
    for calculation in CALCULATIONS.iter() {
        let operation = &document["paths"][format!("/api/calc/{}", calculation.name)]["post"];
        assert_eq!(operation["summary"], calculation.sentence);
        let media = &operation["requestBody"]["content"]["application/json"];
        assert_eq!(media["example"], calculation.example());
        assert!(media["schema"]["$ref"].as_str().unwrap().starts_with("#/components/schemas/"));
        assert!(operation["responses"]["200"]["content"]["application/json"]["example"].is_object());
    }
    assert_eq!(document["components"]["securitySchemes"]["token"]["scheme"], "bearer");
    assert_eq!(document["components"]["securitySchemes"]["session"]["name"], "thumbplane");
}
