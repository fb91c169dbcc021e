//! A shop of its own for each test: a copy of a furnished file, a clock that stands still, the real router.

pub(crate) mod form;
pub(crate) mod log;
pub(crate) mod mail_server;

use std::path::PathBuf;
use std::sync::OnceLock;

use axum::Router;
use axum::body::Body;
use axum::http::{Request, Response, StatusCode, header};
use scraper::{Html, Selector};
use tempfile::TempDir;
use thumbplane::clock::Clock;
use thumbplane::quantity::Instant;
use thumbplane::records::staff::{self, Roles};
use thumbplane::records::{AuditContext, Db, Door, StaffId, session};
use thumbplane::web::{App, Serving};
use tower::ServiceExt;

pub(crate) use log::statements;

/// Wed 14 Oct 2026 10:00 UTC.
pub(crate) const MORNING: Instant = Instant(1_791_972_000_000_000);
pub(crate) const HOST: &str = "127.0.0.1:8750";

/// A shop with four people and nothing else.
pub(crate) struct Shop {
    pub(crate) app: App,
    pub(crate) clock: Clock,
    pub(crate) router: Router,
    folder: TempDir,
}

/// Somebody of the shop, signed in.
pub(crate) struct Person<'a> {
    shop: &'a Shop,
    token: Option<String>,
}

/// What the shop answered.
pub(crate) struct Answer {
    pub(crate) status: StatusCode,
    pub(crate) location: Option<String>,
    pub(crate) headers: axum::http::HeaderMap,
    pub(crate) text: String,
}

struct Template {
    _folder: TempDir,
    path: PathBuf,
}

/// The furnished file, made once a run; copying it takes a millisecond, making it forty.
fn template() -> &'static PathBuf {
    static MADE: OnceLock<Template> = OnceLock::new();
    &MADE
        .get_or_init(|| {
            let folder = TempDir::new().unwrap();
            let path = folder.path().to_owned();
            let made = path.clone();
            std::thread::spawn(move || {
                tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap().block_on(async {
                    let db = Db::open(&made).await.unwrap();
                    let mut write = db.write().await.unwrap();
                    thumbplane::command::furnish_millrace(&mut write, MORNING).await.unwrap();
                    let by = AuditContext { staff: None, door: Door::Command, at: MORNING };
                    for (name, desk, bench, owner) in
                        [("Mirel", true, false, false), ("Ivo", false, true, false), ("Ottilie", false, false, true)]
                    {
                        // nobody signs in with it: sessions are begun directly
                        let roles = Roles { desk, bench, owner };
                        staff::add(&mut write, &by, None, name, roles, "no password").await.unwrap();
                    }
                    write.commit().await.unwrap();
                    db.close().await;
                });
            })
            .join()
            .unwrap();
            Template { _folder: folder, path }
        })
        .path
}

impl Shop {
    pub(crate) async fn open() -> Self {
        Self::open_as(Serving::default()).await
    }

    pub(crate) async fn open_as(serving: Serving) -> Self {
        let folder = TempDir::new().unwrap();
        std::fs::copy(template().join("thumbplane.db"), folder.path().join("thumbplane.db")).unwrap();
        Self::over(folder, serving).await
    }

    /// The shop whose file lies in a folder, whoever made it.
    pub(crate) async fn of(folder: TempDir) -> Self {
        Self::over(folder, Serving::default()).await
    }

    async fn over(folder: TempDir, serving: Serving) -> Self {
        let db = Db::open(folder.path()).await.unwrap();
        let clock = Clock::fixed(MORNING, "Europe/London").unwrap();
        let app = App::new(db, clock.clone(), serving);
        let router = thumbplane::web::router::router(app.clone()).unwrap();
        Self { app, clock, router, folder }
    }

    /// A shop with the whole story of Millrace Strings.
    pub(crate) async fn with_story() -> Self {
        let shop = Self::of(TempDir::new().unwrap()).await;
        thumbplane::command::fill_demo(&shop.app.db, &shop.clock).await.unwrap();
        shop
    }

    /// The same shop once more, in a folder of its own: what is done there changes nothing here.
    pub(crate) async fn twin(&self) -> Self {
        let folder = TempDir::new().unwrap();
        let file = folder.path().join("thumbplane.db");
        let copied = sqlx::query("VACUUM INTO ?").bind(file.to_str().unwrap()).execute(self.app.db.read()).await;
        copied.unwrap();
        let db = Db::open(folder.path()).await.unwrap();
        let clock = Clock::fixed(self.clock.now(), "Europe/London").unwrap();
        let app = App::new(db, clock.clone(), Serving::default());
        let router = thumbplane::web::router::router(app.clone()).unwrap();
        Self { app, clock, router, folder }
    }

    /// The same shop after the program ended and was started again.
    pub(crate) async fn again(self) -> Self {
        let Self { app, clock, router, folder } = self;
        app.db.close().await;
        drop((app, router));
        let app = App::new(Db::open(folder.path()).await.unwrap(), clock.clone(), Serving::default());
        let router = thumbplane::web::router::router(app.clone()).unwrap();
        Self { app, clock, router, folder }
    }

    /// Another shop's file instead, with the same router.
    pub(crate) fn in_place_of(self, db: Db, clock: Clock, folder: TempDir) -> Self {
        let app = App::new(db, clock.clone(), Serving::default());
        let router = thumbplane::web::router::router(app.clone()).unwrap();
        Self { app, clock, router, folder }
    }

    /// Whoever holds a session's token.
    pub(crate) fn with_token(&self, token: &str) -> Person<'_> {
        Person { shop: self, token: Some(token.to_owned()) }
    }

    pub(crate) fn folder(&self) -> &std::path::Path {
        self.folder.path()
    }

    pub(crate) async fn staff_id(&self, name: &str) -> StaffId {
        staff::all(self.app.db.read()).await.unwrap().into_iter().find(|person| person.name == name).unwrap().id
    }

    pub(crate) async fn person(&self, name: &str) -> Person<'_> {
        let id = self.staff_id(name).await;
        let mut write = self.app.db.write().await.unwrap();
        let token = session::begin(&mut write, id, "test", self.clock.now()).await.unwrap();
        write.commit().await.unwrap();
        Person { shop: self, token: Some(token) }
    }

    pub(crate) async fn desk(&self) -> Person<'_> {
        self.person("Mirel").await
    }

    pub(crate) async fn bench(&self) -> Person<'_> {
        self.person("Ivo").await
    }

    pub(crate) async fn owner(&self) -> Person<'_> {
        self.person("Ottilie").await
    }

    pub(crate) fn stranger(&self) -> Person<'_> {
        Person { shop: self, token: None }
    }

    pub(crate) async fn answer(&self, request: Request<Body>) -> Answer {
        Answer::of(self.router.clone().oneshot(request).await.unwrap()).await
    }

    /// How many rows a table holds.
    pub(crate) async fn count(&self, table: &str) -> i64 {
        let sql = format!("SELECT count(*) FROM {table}");
        sqlx::query_scalar(sqlx::AssertSqlSafe(sql)).fetch_one(self.app.db.read()).await.unwrap()
    }
}

impl Person<'_> {
    fn request(&self, method: &str, path: &str) -> axum::http::request::Builder {
        let request = Request::builder().method(method).uri(path).header(header::HOST, HOST);
        match &self.token {
            Some(token) => request.header(header::COOKIE, format!("thumbplane={token}")),
            None => request,
        }
    }

    pub(crate) async fn opens(&self, path: &str) -> Answer {
        self.shop.answer(self.request("GET", path).body(Body::empty()).unwrap()).await
    }

    /// Opens what does not end by itself.
    pub(crate) async fn streams(&self, path: &str) -> Body {
        let request = self.request("GET", path).body(Body::empty()).unwrap();
        let answer = self.shop.router.clone().oneshot(request).await.unwrap();
        assert_eq!(answer.status(), StatusCode::OK);
        answer.into_body()
    }

    /// Opens a page with the cookie that an answer set.
    pub(crate) async fn opens_with_cookie(&self, path: &str, cookie: &str) -> Answer {
        let own = self.token.as_ref().map(|token| format!("thumbplane={token}; ")).unwrap_or_default();
        let request = Request::builder()
            .uri(path)
            .header(header::HOST, HOST)
            .header(header::COOKIE, format!("{own}{cookie}"))
            .body(Body::empty());
        self.shop.answer(request.unwrap()).await
    }

    /// Sends a form from one of our own pages.
    pub(crate) async fn sends(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let body = form_urlencoded::Serializer::new(String::new()).extend_pairs(fields).finish();
        let request = self
            .request("POST", path)
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
            .header(header::ORIGIN, format!("http://{HOST}"))
            .body(Body::from(body))
            .unwrap();
        self.shop.answer(request).await
    }

    /// Sends a form's fields, some of them typed anew.
    pub(crate) async fn sends_form(&self, path: &str, form: &[(String, String)], typed: &[(&str, &str)]) -> Answer {
        let kept = form.iter().filter(|(name, _)| typed.iter().all(|(anew, _)| anew != name));
        let kept = kept.map(|(name, value)| (name.as_str(), value.as_str()));
        let fields: Vec<(&str, &str)> = kept.chain(typed.iter().copied()).collect();
        self.sends(path, &fields).await
    }

    /// Sends a file with its form's key, as a browser sends `multipart/form-data` (RFC 7578).
    pub(crate) async fn brings(&self, path: &str, key: &str, file_name: &str, content: &[u8]) -> Answer {
        let mut body = format!(
            "--weir\r\nContent-Disposition: form-data; name=\"form_key\"\r\n\r\n{key}\r\n--weir\r\nContent-Disposition: \
             form-data; name=\"file\"; filename=\"{file_name}\"\r\nContent-Type: text/csv\r\n\r\n"
        )
        .into_bytes();
        body.extend_from_slice(content);
        body.extend_from_slice(b"\r\n--weir--\r\n");
        let request = self
            .request("POST", path)
            .header(header::CONTENT_TYPE, "multipart/form-data; boundary=weir")
            .header(header::ORIGIN, format!("http://{HOST}"))
            .body(Body::from(body))
            .unwrap();
        self.shop.answer(request).await
    }

    pub(crate) async fn sends_raw_get(&self, path: &str, name: &str, value: &str) -> Answer {
        self.shop.answer(self.request("GET", path).header(name, value).body(Body::empty()).unwrap()).await
    }

    pub(crate) async fn sends_raw(&self, path: &str, headers: &[(&str, &str)], body: &str) -> Answer {
        let mut request = self.request("POST", path);
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        self.shop.answer(request.body(Body::from(body.to_owned())).unwrap()).await
    }

    /// Sends bytes of any kind from one of our own pages.
    pub(crate) async fn sends_bytes(&self, path: &str, kind: &str, body: Vec<u8>) -> Answer {
        let request = self
            .request("POST", path)
            .header(header::CONTENT_TYPE, kind)
            .header(header::ORIGIN, format!("http://{HOST}"))
            .body(Body::from(body))
            .unwrap();
        self.shop.answer(request).await
    }

    /// The cookie that says who this is.
    pub(crate) fn cookie(&self) -> String {
        format!("thumbplane={}", self.token.as_deref().unwrap_or_default())
    }

    /// Says yes to everything the final check still asks.
    pub(crate) async fn passes_the_final_check(&self, job: &str) {
        let path = format!("{job}/final-check");
        let page = self.opens(&path).await;
        let fields: Vec<String> = page
            .page()
            .select(&Selector::parse(".check.open input[value='yes']").unwrap())
            .map(|input| input.attr("name").unwrap().to_owned())
            .collect();
        let fields: Vec<(&str, &str)> = fields.iter().map(|field| (field.as_str(), "yes")).collect();
        let saved = self.sends(&path, &fields).await;
        assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.text);
    }

    /// The whole check-in of a new customer with a steel-string; answers the job's page.
    pub(crate) async fn checks_in(&self, key: &str) -> String {
        let answer = self.sends("/desk/check-in", &check_in_form(key)).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text);
        answer.location.unwrap().trim_end_matches("/ticket").to_owned()
    }
}

/// What the desk types for a new customer with a steel-string.
pub(crate) fn check_in_form(key: &str) -> Vec<(&str, &str)> {
    vec![
        ("form_key", key),
        // whoever looks like her is another person, and the serial says nothing
        ("is_new", "yes"),
        ("another_serial", "yes"),
        // and the hook is wide enough for two
        ("same_rack", "yes"),
        ("name", "Maren Oakhollow"),
        ("telephone", "01632 960101"),
        ("email", "maren@oakhollow.example"),
        ("reach_by", "telephone"),
        ("reminders", "yes"),
        ("family", "steel-string"),
        ("maker", "Thistlewade"),
        ("model", "OM-2"),
        ("serial", "TW-4471"),
        ("complaint", "It buzzes when I dig in,\nmostly low down."),
        ("style", "medium"),
        ("brought_with", "hard case, strap"),
        ("rack", "B3"),
        ("promised_on", "2026-10-28"),
        ("mark_side_1", "front"),
        ("mark_note_1", "dent below the bridge"),
    ]
}

impl Answer {
    async fn of(response: Response<Body>) -> Self {
        let status = response.status();
        let headers = response.headers().clone();
        let location = headers.get(header::LOCATION).map(|value| value.to_str().unwrap().to_owned());
        // a stream of events does not end by itself: that it began is its answer
        let is_stream = headers.get(header::CONTENT_TYPE).is_some_and(|kind| kind.as_bytes() == b"text/event-stream");
        let body = if is_stream { Body::empty() } else { response.into_body() };
        let bytes = axum::body::to_bytes(body, 16 * 1024 * 1024).await.unwrap();
        Self { status, location, headers, text: String::from_utf8_lossy(&bytes).into_owned() }
    }

    pub(crate) fn page(&self) -> Html {
        Html::parse_document(&self.text)
    }

    /// The text of every element a selector finds, blanks folded.
    pub(crate) fn all(&self, selector: &str) -> Vec<String> {
        let selector = Selector::parse(selector).unwrap();
        let page = self.page();
        let texts = page.select(&selector).map(|element| folded(&element.text().collect::<Vec<_>>().join(" ")));
        texts.collect()
    }

    /// The page's form to an address as a browser sends it untouched.
    pub(crate) fn form(&self, action: &str) -> form::Form {
        form::form(self, action)
    }

    pub(crate) fn has(&self, selector: &str) -> bool {
        self.page().select(&Selector::parse(selector).unwrap()).next().is_some()
    }

    /// The value of a field as the page shows it.
    pub(crate) fn value(&self, name: &str) -> String {
        let page = self.page();
        let field = Selector::parse(&format!("[name='{name}']")).unwrap();
        let element = page.select(&field).next().unwrap_or_else(|| panic!("no field {name}"));
        if element.value().name() == "textarea" {
            return element.text().collect();
        }
        element.value().attr("value").unwrap_or_default().to_owned()
    }

    /// The whole text a person sees.
    pub(crate) fn visible_text(&self) -> String {
        folded(&self.all("body").join(" "))
    }
}

/// Two lists of one length, pair by pair: `zip` would pass over what one of them lacks.
#[track_caller]
pub(crate) fn paired<One, Other>(one: One, other: Other) -> std::iter::Zip<One::IntoIter, Other::IntoIter>
where
    One: IntoIterator<IntoIter: ExactSizeIterator>,
    Other: IntoIterator<IntoIter: ExactSizeIterator>,
{
    let (one, other) = (one.into_iter(), other.into_iter());
    assert_eq!(one.len(), other.len(), "lists of different length");
    one.zip(other)
}

fn folded(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
