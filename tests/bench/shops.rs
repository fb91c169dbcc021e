//! What every page costs in shops with a thousand, a hundred thousand and a million jobs behind them:
//! `cargo bench --bench shops`, or `cargo bench --bench shops -- 1000 100000`.
//!
//! Prints the median of each page and how much it grew from the second shop to the third; more than a fifth is marked.
//! The shops are asked in turn, so that whatever else this computer does weighs upon all of them alike. Then how long
//! check-ins take while a file of 20,000 rows is brought into another shop of the first size, and what a few savings are
//! worth.
//! `THUMBPLANE_SHOPS=FOLDER` keeps the shops there for the next time.

#![expect(clippy::unwrap_used, clippy::print_stdout, reason = "a measurement that cannot go on says where")]

#[path = "shops/import.rs"]
mod import;
#[path = "shops/savings.rs"]
mod savings;

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use axum::Router;
use axum::body::Body;
use axum::http::{Method, Request, StatusCode, header};
use sqlx::{Connection, SqliteConnection};
use thumbplane::clock::Clock;
use thumbplane::quantity::Instant as Moment;
use thumbplane::records::staff::{self, Roles};
use thumbplane::records::{AuditContext, Db, Door, JobId, job, session};
use thumbplane::web::router::{router, routes};
use thumbplane::web::{App, Serving};
use tower::ServiceExt;

/// Wed 14 Oct 2026 10:00 UTC, the morning on which the shops are looked at.
const MORNING: Moment = Moment(1_791_972_000_000_000);
const TIMES: usize = 31;
/// Beyond this a page grows with the shop's history.
const MOST_GROWTH: f64 = 1.2;
/// Two pages that differ by less are alike: it is the computer that differs.
const NOISE_MS: f64 = 0.2;
const HOST: &str = "127.0.0.1:8750";

/// What is typed into the search: both names of many, a common name, beginnings, numbers, a rare word, nothing there.
const TYPED: [&str; 14] = [
    "m",
    "ma",
    "oakh",
    "oakhollow",
    "oakhollow maren",
    "maren oakhollow",
    "buzzes neck",
    "strings setup",
    "thistlewade om",
    "01632 96",
    "0101",
    "TW-0000471",
    "crackles",
    "nobody of this name",
];

struct Shop {
    jobs: i64,
    router: Router,
    cookie: String,
    app: App,
    keys: Keys,
}

/// Records that pages are opened with.
struct Keys {
    job: String,
    customer: String,
    instrument: String,
    quote: String,
    care: String,
    part: String,
    service: String,
    string_set: String,
    import: String,
    token: String,
}

fn main() {
    let sizes: Vec<i64> = std::env::args().filter_map(|size| size.parse().ok()).collect();
    let sizes = if sizes.is_empty() { vec![1_000, 100_000, 1_000_000] } else { sizes };
    tokio::runtime::Builder::new_multi_thread().enable_all().build().unwrap().block_on(measure(&sizes));
}

async fn measure(sizes: &[i64]) {
    let passing = tempfile::TempDir::new().unwrap();
    let folder = std::env::var_os("THUMBPLANE_SHOPS").map_or_else(|| passing.path().to_owned(), PathBuf::from);
    let mut shops = Vec::new();
    for jobs in sizes {
        shops.push(Shop::open(&folder.join(jobs.to_string()), *jobs).await);
    }
    let heads: Vec<String> = sizes.iter().map(|jobs| format!("{jobs:>11}")).collect();
    println!("\n{:62}{}   growth", "median in ms, jobs:", heads.concat());
    let mut grown = 0;
    for asked in Shop::asked(&shops[0].app) {
        let mut times = vec![Vec::with_capacity(TIMES); shops.len()];
        for time in 0..TIMES + 2 {
            for (shop, times) in shops.iter().zip(&mut times) {
                let took = shop.asks(&asked, time).await;
                // twice to warm up
                if time >= 2 {
                    times.push(took);
                }
            }
        }
        let medians: Vec<f64> = times.iter_mut().map(|times| median_ms(times)).collect();
        let growth = medians.last().unwrap() / medians[medians.len().saturating_sub(2)];
        let difference = medians.last().unwrap() - medians[medians.len().saturating_sub(2)];
        let is_grown = growth > MOST_GROWTH && difference > NOISE_MS;
        grown += u32::from(is_grown);
        let said: Vec<String> = medians.iter().map(|median| format!("{median:11.2}")).collect();
        println!("{:62}{}   {growth:6.2}{}", asked.to_string(), said.concat(), if is_grown { "  grows" } else { "" });
    }
    println!("{grown} pages grow by more than {MOST_GROWTH}\n");
    savings::measure(&shops[0]).await;
    let another = Shop::open(&passing.path().join("import"), sizes[0]).await;
    import::measure(&another).await;
    shops.push(another);
    for shop in shops {
        shop.app.db.close().await;
    }
}

fn median_ms(times: &mut [Duration]) -> f64 {
    times.sort_unstable();
    times[times.len() / 2].as_secs_f64() * 1000.0
}

/// One thing asked of a shop: a page of its table, with what is typed behind it.
#[derive(Clone)]
struct Asked {
    method: Method,
    path: String,
}

impl std::fmt::Display for Asked {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {}", self.method, self.path)
    }
}

impl Shop {
    /// Opens the shop that lies in a folder, or makes one.
    async fn open(folder: &Path, jobs: i64) -> Self {
        if !folder.join("thumbplane.db").exists() {
            let began = Instant::now();
            fill(folder, jobs).await;
            println!("{jobs} jobs, made in {:.1} s", began.elapsed().as_secs_f64());
        }
        let began = Instant::now();
        let db = Db::open(folder).await.unwrap();
        println!("{jobs} jobs, opened in {:.2} s", began.elapsed().as_secs_f64());
        let clock = Clock::fixed(MORNING, "Europe/London").unwrap();
        let app = App::new(db, clock, Serving::default());
        let owner = staff::all(app.db.read()).await.unwrap().into_iter().find(|person| person.roles.owner).unwrap();
        let mut tx = app.db.write().await.unwrap();
        let token = session::begin(&mut tx, owner.id, "benchmark", MORNING).await.unwrap();
        let hot = JobId(uuid::Uuid::from_u128((u128::try_from(jobs - 30).unwrap() << 80) | 0x7000_8000_0000_0000_0001));
        let by = AuditContext { staff: Some(owner.id), door: Door::Desk, at: MORNING };
        let known = job::find(&mut *tx, hot).await.unwrap();
        job::new_link(&mut tx, &by, app.db.link_secret(), hot, known.version).await.unwrap();
        tx.commit().await.unwrap();
        let keys = Keys::of(&app, hot).await;
        Self { jobs, router: router(app.clone()).unwrap(), cookie: format!("thumbplane={token}"), app, keys }
    }

    /// Every page that ends, each search, and the two posts that a customer and a player wait for.
    fn asked(app: &App) -> Vec<Asked> {
        let is_asked = |path: &str| {
            !["/static", "/photos", "{photo}", "{file}", "/sign-in", "/first-start", "/changes"]
                .iter()
                .any(|no| path.contains(no))
        };
        let pages = routes(app).into_iter().filter(|route| route.method == Method::GET && is_asked(route.path));
        let pages = pages.map(|route| route.path.to_owned());
        let known = ["/desk/check-in?customer={customer}".to_owned()];
        let searches = TYPED.map(|typed| {
            format!(
                "/desk/search?{}",
                form_urlencoded::Serializer::new(String::new())
                    .append_pair("q", typed)
                    .append_pair("part", "hits")
                    .finish()
            )
        });
        let found =
            ["oakhollow maren", "26-0017"].map(|typed| format!("/desk/check-in?find={}", typed.replace(' ', "+")));
        let figures = ["by=family", "by=service", "by=person", "by=season", "until=collected&months=24"]
            .map(|asked| format!("/office/turnaround?{asked}"));
        let pages = pages
            .chain(known)
            .chain(figures)
            .chain(searches)
            .chain(found)
            .map(|path| Asked { method: Method::GET, path });
        let posts = ["/desk/check-in", "/bench/jobs/{id}/cells"]
            .map(|path| Asked { method: Method::POST, path: path.to_owned() });
        pages.chain(posts).collect()
    }

    async fn asks(&self, asked: &Asked, time: usize) -> Duration {
        let request = Request::builder()
            .method(asked.method.clone())
            .uri(self.keys.put_into(&asked.path))
            .header(header::HOST, HOST)
            .header(header::COOKIE, &self.cookie)
            .header(header::ORIGIN, format!("http://{HOST}"))
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
        let body = match (&asked.method, asked.path.as_str()) {
            (&Method::POST, "/desk/check-in") => Body::from(check_in(time)),
            (&Method::POST, _) => {
                Body::from(format!("cell=height-12_1&typed=2.{}&key={}&replaces=", time % 10, uuid::Uuid::now_v7()))
            }
            _ => Body::empty(),
        };
        let request = request.body(body).unwrap();
        let began = Instant::now();
        let answer = self.router.clone().oneshot(request).await.unwrap();
        let status = answer.status();
        axum::body::to_bytes(answer.into_body(), usize::MAX).await.unwrap();
        let took = began.elapsed();
        let is_well = status == StatusCode::OK || status == StatusCode::SEE_OTHER;
        assert!(is_well, "{asked} among {} jobs: {status}", self.jobs);
        took
    }
}

/// A new customer with a new instrument and a mark.
fn check_in(time: usize) -> String {
    let key = uuid::Uuid::now_v7().to_string();
    let serial = format!("N-{key}");
    form_urlencoded::Serializer::new(String::new())
        .extend_pairs([
            ("form_key", key.as_str()),
            ("is_new", "yes"),
            ("name", &format!("Newcomer {time}")),
            ("telephone", "0117 496 0000"),
            ("email", ""),
            ("reach_by", "telephone"),
            ("family", "steel-string"),
            ("maker", "Thistlewade"),
            ("model", "OM-2"),
            ("serial", &serial),
            ("complaint", "It buzzes when I dig in"),
            ("style", "medium"),
            ("promised_on", "2026-10-28"),
            ("mark_side_1", "front"),
            ("mark_note_1", "dent below the bridge"),
        ])
        .finish()
}

impl Keys {
    async fn of(app: &App, hot: JobId) -> Self {
        let one = async |sql: &'static str| -> String {
            let key: uuid::Uuid = sqlx::query_scalar(sql).bind(hot).fetch_one(app.db.read()).await.unwrap();
            key.to_string()
        };
        let number = job::find(app.db.read(), hot).await.unwrap().link_number;
        Self {
            job: hot.to_string(),
            customer: one("SELECT customer_id FROM job WHERE id = ?").await,
            instrument: one("SELECT instrument_id FROM job WHERE id = ?").await,
            quote: one("SELECT id FROM quote WHERE job_id = ?").await,
            care: one("SELECT id FROM care_plan WHERE instrument_id = (SELECT instrument_id FROM job WHERE id = ?)")
                .await,
            part: one("SELECT id FROM part WHERE ? IS NOT NULL LIMIT 1").await,
            service: one("SELECT service_id FROM work_line WHERE job_id = ? LIMIT 1").await,
            string_set: one("SELECT id FROM string_set WHERE ? IS NOT NULL LIMIT 1").await,
            import: one("SELECT id FROM import WHERE ? IS NOT NULL LIMIT 1").await,
            token: app.db.link_secret().token(hot, number),
        }
    }

    fn put_into(&self, path: &str) -> String {
        let id = match path {
            path if path.starts_with("/desk/customers") => &self.customer,
            path if path.starts_with("/desk/instruments") => &self.instrument,
            path if path.starts_with("/desk/quotes") => &self.quote,
            path if path.starts_with("/desk/care") => &self.care,
            path if path.starts_with("/office/parts") => &self.part,
            path if path.starts_with("/office/minutes") => &self.service,
            path if path.starts_with("/office/string-sets") => &self.string_set,
            path if path.starts_with("/office/import") => &self.import,
            _ => &self.job,
        };
        path.replace("{id}", id)
            .replace("{token}", &self.token)
            .replace("{customer}", &self.customer)
            .replace("{name}", "frets")
            .replace("{upload}", &self.job)
    }
}

/// Makes a furnished shop and fills its books at one go; what takes time at the counter is paid for once.
async fn fill(folder: &Path, jobs: i64) {
    let db = Db::open(folder).await.unwrap();
    let mut tx = db.write().await.unwrap();
    thumbplane::command::furnish_millrace(&mut tx, MORNING).await.unwrap();
    let by = AuditContext { staff: None, door: Door::Command, at: MORNING };
    for (name, desk, bench, owner) in
        [("Mirel", true, false, false), ("Ivo", false, true, false), ("Ottilie", false, false, true)]
    {
        // nobody signs in with it: sessions are begun directly
        staff::add(&mut tx, &by, None, name, Roles { desk, bench, owner }, "no password").await.unwrap();
    }
    tx.commit().await.unwrap();
    db.close().await;

    let mut file =
        SqliteConnection::connect(&format!("sqlite://{}", folder.join("thumbplane.db").display())).await.unwrap();
    // the file is thrown away when the power goes
    let speed =
        "PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; PRAGMA temp_store = MEMORY; PRAGMA cache_size = -500000;
        CREATE TEMP TABLE size (jobs INTEGER);";
    sqlx::raw_sql(speed).execute(&mut file).await.unwrap();
    sqlx::query("INSERT INTO size VALUES (?)").bind(jobs).execute(&mut file).await.unwrap();
    sqlx::raw_sql("BEGIN").execute(&mut file).await.unwrap();
    sqlx::raw_sql(include_str!("shops/fill.sql")).execute(&mut file).await.unwrap();
    sqlx::raw_sql("COMMIT").execute(&mut file).await.unwrap();
    file.close().await.unwrap();
}
