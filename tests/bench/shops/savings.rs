//! What three savings are worth, each with and without: pages compressed at the fastest level, connections not asked
//! whether they still answer, and settings read once until they change.

use std::convert::Infallible;
use std::time::{Duration, Instant};

use axum::body::Body;
use axum::http::{Request, Response, header};
use sqlx::sqlite::{SqliteConnectOptions, SqlitePoolOptions};
use thumbplane::records::settings::{self, Cache};
use tower::{ServiceBuilder, ServiceExt, service_fn};
use tower_http::CompressionLevel;
use tower_http::compression::CompressionLayer;

use super::{HOST, Shop, median_ms};

const TIMES: usize = 201;

/// Prints each with and without.
pub(super) async fn measure(shop: &Shop) {
    let page = page(shop).await;
    for (said, level) in [("fastest", CompressionLevel::Fastest), ("usual", CompressionLevel::Default)] {
        let (mut times, mut bytes) = (Vec::new(), 0);
        for _ in 0..TIMES {
            let began = Instant::now();
            bytes = compressed(&page, level).await;
            times.push(began.elapsed());
        }
        let median = median_ms(&mut times);
        println!(
            "the open jobs, {} bytes, compressed at the {said} level: {bytes} bytes in {median:.3} ms",
            page.len()
        );
    }
    let file: String = sqlx::query_scalar("SELECT file FROM pragma_database_list WHERE name = 'main'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    for asks_first in [true, false] {
        let pool = SqlitePoolOptions::new()
            .max_connections(1)
            .test_before_acquire(asks_first)
            .connect_with(SqliteConnectOptions::new().filename(&file).read_only(true))
            .await
            .unwrap();
        let mut times = Vec::new();
        for _ in 0..TIMES {
            let began = Instant::now();
            drop(pool.acquire().await.unwrap());
            times.push(began.elapsed());
            // a connection is given back beside us
            tokio::task::yield_now().await;
        }
        pool.close().await;
        let said = if asks_first { "asked whether it answers" } else { "taken as it is" };
        println!("a connection, {said}: {:.4} ms", median_ms(&mut times));
    }
    let cache = Cache::default();
    let (mut read, mut kept): (Vec<Duration>, Vec<Duration>) = (Vec::new(), Vec::new());
    for _ in 0..TIMES {
        let began = Instant::now();
        settings::current(shop.app.db.read()).await.unwrap();
        read.push(began.elapsed());
        let began = Instant::now();
        cache.current(&shop.app.db).await.unwrap();
        kept.push(began.elapsed());
    }
    println!("the settings, read: {:.4} ms; kept: {:.4} ms", median_ms(&mut read), median_ms(&mut kept));
}

/// The page that is opened most.
async fn page(shop: &Shop) -> String {
    let request = Request::get("/desk").header(header::HOST, HOST).header(header::COOKIE, &shop.cookie);
    let answer = shop.router.clone().oneshot(request.body(Body::empty()).unwrap()).await.unwrap();
    String::from_utf8(axum::body::to_bytes(answer.into_body(), usize::MAX).await.unwrap().to_vec()).unwrap()
}

/// How large a page is on its way.
async fn compressed(page: &str, level: CompressionLevel) -> usize {
    let answers = service_fn(|_: Request<Body>| {
        let answer = Response::builder().header(header::CONTENT_TYPE, "text/html").body(Body::from(page.to_owned()));
        std::future::ready(Ok::<_, Infallible>(answer.unwrap()))
    });
    let service = ServiceBuilder::new().layer(CompressionLayer::new().quality(level)).service(answers);
    let request = Request::get("/").header(header::ACCEPT_ENCODING, "gzip").body(Body::empty()).unwrap();
    let answer = service.oneshot(request).await.unwrap();
    axum::body::to_bytes(Body::new(answer.into_body()), usize::MAX).await.unwrap().len()
}
