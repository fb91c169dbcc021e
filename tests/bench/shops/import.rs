//! The counter while a file is brought in: how long a check-in takes while 20,000 rows are tried and then written.

use std::time::Duration;

use axum::body::Body;
use axum::http::{Method, Request, StatusCode, header};
use tower::ServiceExt;

use super::{Asked, HOST, Shop, median_ms};

/// As many rows as one file may have.
const ROWS: usize = 20_000;
/// Somebody checks in this often: far more often than any counter.
const PAUSE: Duration = Duration::from_millis(20);
/// A check-in is answered within this 99 times of 100.
const AIM_MS: f64 = 200.0;

/// Tries a file and brings it in, and prints how long check-ins took meanwhile.
pub(super) async fn measure(shop: &Shop) {
    let id = brought(shop).await;
    let columns = "column_0=name&column_1=telephone&column_2=email&column_3=family&column_4=maker&column_5=serial";
    for (path, body, until, said) in [
        (format!("/office/import/{id}/columns"), columns, "tried", "tried"),
        (format!("/office/import/{id}"), "", "done", "brought in"),
    ] {
        let began = std::time::Instant::now();
        assert_eq!(
            sent(shop, &path, "application/x-www-form-urlencoded", Body::from(body)).await.0,
            StatusCode::SEE_OTHER
        );
        let (mut times, mut pace) = (Vec::new(), tokio::time::interval(PAUSE));
        let check_in = Asked { method: Method::POST, path: "/desk/check-in".to_owned() };
        while state(shop).await != until {
            times.push(shop.asks(&check_in, times.len()).await);
            pace.tick().await;
        }
        let (count, median) = (times.len(), median_ms(&mut times));
        let of = |share: usize| times[(count * share / 100).min(count - 1)].as_secs_f64() * 1000.0;
        let (p99, longest) = (of(99), of(100));
        let seconds = began.elapsed().as_secs_f64();
        println!(
            "{ROWS} rows {said} in {seconds:.1} s; {count} check-ins meanwhile: median {median:.1} ms, 99 of 100 within \
             {p99:.1} ms, longest {longest:.1} ms{}",
            if p99 > AIM_MS { "  TOO LONG" } else { "" }
        );
    }
}

/// Brings the file to the shop and answers its key.
async fn brought(shop: &Shop) -> String {
    let mut file = String::from("Name,Telephone,E-mail,Kind,Maker,Serial\r\n");
    for row in 0..ROWS {
        file.push_str(&format!(
            "Bramble Weirside {row},0117 {row:07},bramble{row}@weir.example,steel-string,Thistlewade,B-{row}\r\n"
        ));
    }
    let body = format!(
        "--weir\r\nContent-Disposition: form-data; name=\"form_key\"\r\n\r\nbenchmark\r\n--weir\r\nContent-Disposition: \
         form-data; name=\"file\"; filename=\"cards.csv\"\r\nContent-Type: text/csv\r\n\r\n{file}\r\n--weir--\r\n"
    );
    let (status, location) = sent(shop, "/office/import", "multipart/form-data; boundary=weir", Body::from(body)).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    location.rsplit('/').next().unwrap().to_owned()
}

async fn sent(shop: &Shop, path: &str, kind: &str, body: Body) -> (StatusCode, String) {
    let request = Request::post(path)
        .header(header::HOST, HOST)
        .header(header::COOKIE, &shop.cookie)
        .header(header::ORIGIN, format!("http://{HOST}"))
        .header(header::CONTENT_TYPE, kind)
        .body(body)
        .unwrap();
    let answer = shop.router.clone().oneshot(request).await.unwrap();
    let location = answer.headers().get(header::LOCATION).and_then(|path| path.to_str().ok()).unwrap_or_default();
    (answer.status(), location.to_owned())
}

async fn state(shop: &Shop) -> String {
    sqlx::query_scalar("SELECT state FROM import WHERE file_name = 'cards.csv'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap()
}
