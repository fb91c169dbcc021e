//! Every URL in one table, grouped by door, with who may use it.
//!
//! The table is the enforcement: The guard of `access.rs` stands before each row. A test walks it.

use std::time::Duration;

use axum::Router;
use axum::extract::{DefaultBodyLimit, Request};
use axum::handler::Handler;
use axum::http::{HeaderName, Method, StatusCode};
use axum::middleware::{from_fn, from_fn_with_state};
use axum::response::Response;
use axum::routing::{MethodRouter, get, post};
use tower::ServiceBuilder;
use tower_http::CompressionLevel;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::csrf::{ConfigError, CsrfLayer};
use tower_http::request_id::{MakeRequestUuid, PropagateRequestIdLayer, RequestId, SetRequestIdLayer};
use tower_http::timeout::TimeoutLayer;
use tower_http::trace::TraceLayer;
use tracing::Span;

use super::access::{Access, guard};
use super::app::App;
use super::error::Error;
use super::{
    account, api, assets, bench, changes, cross_site, customer, desk, failure, headers, health, home, office, page,
    photo, sign_in, unsent,
};

const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");
const LONGEST_REQUEST: Duration = Duration::from_secs(30);
const LARGEST_BODY: usize = 512 * 1024;
/// Photographs in one ordinary form, all together. With scripts each goes in pieces below [`LARGEST_BODY`].
const LARGEST_PHOTOS: usize = 96 * 1024 * 1024;

/// One row of the table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Route {
    /// GET or POST.
    pub method: Method,
    /// The path, with its parameters in braces.
    pub path: &'static str,
    /// Who may use it.
    pub access: Access,
}

struct Table {
    app: App,
    rows: Vec<Route>,
    router: Router<App>,
}

impl Table {
    fn get<H, T>(self, path: &'static str, access: Access, handler: H) -> Self
    where
        H: Handler<T, App>,
        T: 'static,
    {
        self.row(Method::GET, path, access, get(handler))
    }

    fn post<H, T>(self, path: &'static str, access: Access, handler: H) -> Self
    where
        H: Handler<T, App>,
        T: 'static,
    {
        self.row(Method::POST, path, access, post(handler))
    }

    /// A post whose body may be larger than a form: a file.
    fn post_file<H, T>(self, path: &'static str, access: Access, largest: usize, handler: H) -> Self
    where
        H: Handler<T, App>,
        T: 'static,
    {
        self.row(Method::POST, path, access, post(handler).layer(DefaultBodyLimit::max(largest)))
    }

    fn row(mut self, method: Method, path: &'static str, access: Access, handler: MethodRouter<App>) -> Self {
        let guarded = handler.layer(from_fn_with_state((self.app.clone(), access), guard));
        self.router = self.router.route(path, guarded);
        self.rows.push(Route { method, path, access });
        self
    }
}

fn table(app: &App) -> Table {
    use Access::{Bench, Desk, Owner, Program, Public, Staff};
    Table { app: app.clone(), rows: Vec::new(), router: Router::new() }
        // the house
        .get("/", Public, home::show)
        .get("/healthz", Public, health::show)
        .get("/static/{hash}/{*name}", Public, assets::serve)
        .get("/sign-in", Public, sign_in::show)
        .post("/sign-in", Public, sign_in::sign_in)
        .post("/sign-out", Public, sign_in::sign_out)
        .get("/first-start", Public, sign_in::show_first_start)
        .post("/first-start", Public, sign_in::first_start)
        .get("/account", Staff, account::show)
        .post("/account", Staff, account::change_password)
        .get("/changes", Staff, changes::stream)
        .post("/unsent", Staff, unsent::keep)
        .post("/unsent/throw-away", Staff, unsent::throw_away)
        .get("/photos/{id}", Staff, photo::show)
        .get("/photos/{id}/small", Staff, photo::show_small)
        // the customer's door
        .get("/s/{token}", Public, customer::job::show)
        .post("/s/{token}/answer", Public, customer::answer::answer)
        .get("/s/{token}/total", Public, customer::answer::total)
        .get("/s/{token}/care.ics", Public, customer::care::show)
        .get("/s/{token}/photos/{photo}", Public, customer::photo::show)
        .get("/s/{token}/photos/{photo}/small", Public, customer::photo::show_small)
        // the front desk
        .get("/desk", Desk, desk::queue::show)
        .get("/desk/day", Desk, desk::day::show)
        .get("/desk/to-tell", Desk, desk::to_tell::show)
        .post("/desk/to-tell", Desk, desk::to_tell::tell)
        .get("/desk/messages", Desk, desk::messages::show)
        .post("/desk/messages", Desk, desk::messages::write)
        .post("/desk/messages/{id}/again", Desk, desk::messages::send_again)
        .post("/desk/jobs/{id}/receipt/message", Desk, desk::messages::write_receipt)
        .get("/desk/search", Desk, desk::search::show)
        .get("/desk/check-in", Desk, desk::check_in::show)
        .post("/desk/check-in", Desk, desk::check_in::check_in)
        .get("/desk/customers/{id}", Desk, desk::customer::show)
        .post("/desk/customers/{id}", Desk, desk::customer_change::save)
        .get("/desk/customers/new", Desk, desk::customer_change::show_new)
        .post("/desk/customers/new", Desk, desk::customer_change::add)
        .get("/desk/customers/{id}/change", Desk, desk::customer_change::show)
        .get("/desk/customers/{id}/merge", Desk, desk::merge::show)
        .post("/desk/customers/{id}/merge", Desk, desk::merge::merge)
        .post("/desk/customers/{id}/archive", Desk, desk::customer::archive)
        .post("/desk/customers/{id}/export", Desk, desk::customer::export)
        .post("/desk/customers/{id}/anonymise", Owner, desk::customer::anonymise)
        .get("/desk/instruments/{id}", Staff, desk::instrument::show)
        .post("/desk/instruments/{id}", Staff, desk::instrument::save)
        .get("/desk/instruments/{id}/strings", Staff, desk::strings::show)
        .post("/desk/instruments/{id}/strings", Staff, desk::strings::put_on)
        .get("/desk/instruments/{id}/history", Staff, desk::history::show)
        .post("/desk/instruments/{id}/owner", Desk, desk::instrument::change_hands)
        .post("/desk/instruments/{id}/archive", Desk, desk::instrument::archive)
        .get("/desk/instruments/{id}/care-letter", Desk, desk::care_letter::show)
        .get("/desk/jobs/{id}", Desk, desk::job::show)
        .get("/desk/jobs/{id}/details", Desk, desk::details::show)
        .post("/desk/jobs/{id}/details", Desk, desk::details::save)
        .get("/desk/jobs/{id}/put-right", Desk, desk::put_right::show)
        .post("/desk/jobs/{id}/put-right", Desk, desk::put_right::put_right)
        .post("/desk/jobs/{id}/stage", Desk, desk::job::move_stage)
        .post("/desk/jobs/{id}/wait", Desk, desk::job::wait)
        .get("/desk/jobs/{id}/condition", Desk, desk::condition::show)
        .post("/desk/jobs/{id}/condition", Desk, desk::condition::mark)
        .get("/desk/jobs/{id}/condition/{file}", Desk, desk::condition::picture)
        .post("/desk/condition/{id}/take-back", Desk, desk::condition::take_back)
        .post("/desk/jobs/{id}/signature", Desk, desk::condition::sign)
        .post("/desk/jobs/{id}/link", Desk, desk::job::new_link)
        .post("/desk/jobs/{id}/work", Desk, desk::work::propose)
        .post("/desk/jobs/{id}/work/{line}/withdraw", Desk, desk::work::withdraw)
        .post("/desk/jobs/{id}/work/{line}/decline", Desk, desk::work::decline)
        .post("/desk/jobs/{id}/work/{line}/again", Desk, desk::work::offer_again)
        .post("/desk/jobs/{id}/work/{line}/overrule", Owner, desk::work::overrule)
        .post("/desk/jobs/{id}/quote", Desk, desk::quote::make)
        .get("/desk/quotes/{id}", Desk, desk::quote::show)
        .post("/desk/quotes/{id}/answer", Desk, desk::quote::answer)
        .post("/desk/jobs/{id}/payment", Desk, desk::hand_over::pay)
        .get("/desk/jobs/{id}/hand-over", Desk, desk::hand_over::show)
        .post("/desk/jobs/{id}/hand-over", Desk, desk::hand_over::hand_over)
        .post("/desk/jobs/{id}/hand-over/take-back", Desk, desk::hand_over::take_back)
        .post("/desk/payments/{id}/correct", Desk, desk::hand_over::correct)
        .get("/desk/owing", Desk, desk::owing::show)
        .get("/desk/prices", Desk, desk::prices::show)
        .get("/desk/closing", Desk, desk::closing::show)
        .post("/desk/closing", Desk, desk::closing::close)
        .get("/desk/jobs/{id}/ticket", Desk, desk::ticket::show)
        .get("/desk/jobs/{id}/tag", Desk, desk::labels::tag)
        .get("/desk/jobs/{id}/shelf-label", Desk, desk::labels::shelf)
        .get("/desk/jobs/{id}/receipt", Desk, desk::receipt::show)
        .get("/desk/uncollected", Desk, desk::uncollected::show)
        .get("/desk/jobs/{id}/collection-letter", Desk, desk::uncollected::letter)
        .post("/desk/papers/{kind}/{id}", Desk, desk::papers::print)
        .get("/desk/jobs/{id}/sheet", Staff, desk::sheet::show)
        .get("/desk/jobs/{id}/photos", Staff, desk::photos::show)
        .row(
            Method::POST,
            "/desk/jobs/{id}/photos",
            Staff,
            post(desk::photos::add).layer(DefaultBodyLimit::max(LARGEST_PHOTOS)),
        )
        .get("/desk/jobs/{id}/photos/uploads/{upload}", Staff, desk::photo_upload::state)
        .post("/desk/jobs/{id}/photos/uploads/{upload}", Staff, desk::photo_upload::take)
        .post("/desk/photos/{id}", Staff, desk::photos::save)
        .get("/desk/care", Desk, desk::care::show)
        .get("/desk/care/{id}", Desk, desk::care_plan::show)
        .post("/desk/care/{id}", Desk, desk::care_plan::save)
        .post("/desk/care/{id}/done", Desk, desk::care::done)
        .post("/desk/care/{id}/pause", Desk, desk::care::pause)
        // the bench
        .get("/bench", Bench, bench::list::show)
        .get("/bench/worker.js", Bench, bench::worker::show)
        .post("/bench/habit", Bench, bench::cells::remember_habit)
        .get("/bench/jobs/{id}", Bench, bench::job::show)
        .post("/bench/jobs/{id}/take-on", Bench, bench::work::take_on)
        .post("/bench/jobs/{id}/readings", Bench, bench::readings::take)
        .post("/bench/jobs/{id}/readings/keep", Bench, bench::readings::keep)
        .get("/bench/jobs/{id}/cells", Bench, bench::cells::show)
        .post("/bench/jobs/{id}/cells", Bench, bench::cells::enter)
        .get("/bench/jobs/{id}/plan", Bench, bench::plan::show)
        .post("/bench/jobs/{id}/measure-again", Bench, bench::measure_again::done)
        .post("/bench/jobs/{id}/measure-again/take-back", Bench, bench::measure_again::take_back)
        .post("/bench/jobs/{id}/observations", Bench, bench::observations::note)
        .post("/bench/jobs/{id}/observations/{observation}/clear", Bench, bench::observations::clear)
        .get("/bench/jobs/{id}/fretboard", Bench, bench::fretboard::show)
        .post("/bench/jobs/{id}/fretboard", Bench, bench::fretboard::tap)
        .post("/bench/jobs/{id}/propose", Bench, bench::work::propose)
        .post("/bench/jobs/{id}/work/{line}/done", Bench, bench::work::done)
        .post("/bench/jobs/{id}/work/{line}/start", Bench, bench::work::start)
        .post("/bench/jobs/{id}/work/{line}/reopen", Bench, bench::work::reopen)
        .post("/bench/jobs/{id}/stage", Bench, bench::work::move_stage)
        .post("/bench/jobs/{id}/wait", Bench, bench::work::wait)
        .get("/bench/jobs/{id}/card", Bench, bench::card::show)
        .get("/bench/jobs/{id}/saddle", Bench, bench::saddle::show)
        .get("/bench/jobs/{id}/intonation", Bench, bench::intonation::show)
        .get("/bench/jobs/{id}/working", Bench, bench::working::show)
        .get("/bench/calculations", Staff, bench::calculations::list)
        .get("/bench/calculations/{name}", Staff, bench::calculations::show)
        .post("/bench/calculations/{name}", Staff, bench::calculations::work_out)
        .post("/bench/jobs/{id}/notes", Bench, bench::notes::write)
        .post("/bench/jobs/{id}/parts", Bench, bench::parts::take)
        .post("/bench/jobs/{id}/parts/{movement}/back", Bench, bench::parts::put_back)
        .get("/bench/labour", Bench, bench::labour::show)
        .post("/bench/labour/stop", Bench, bench::labour::stop)
        .post("/bench/labour/{entry}/correct", Bench, bench::labour::correct)
        .get("/bench/jobs/{id}/final-check", Bench, bench::final_check::show)
        .post("/bench/jobs/{id}/final-check", Bench, bench::final_check::answer)
        // the office
        .get("/office", Owner, office::home::show)
        .get("/office/first-hour", Owner, office::first_hour::show)
        .post("/office/first-hour", Owner, office::first_hour::go_on)
        .get("/office/first-hour/test-print", Owner, office::first_hour::test_print)
        .get("/office/settings", Owner, office::settings::show)
        .post("/office/settings", Owner, office::settings::save)
        .get("/office/targets", Owner, office::targets::show)
        .post("/office/targets", Owner, office::targets::save)
        .get("/office/services", Owner, office::services::show)
        .post("/office/services", Owner, office::services::add)
        .post("/office/services/all", Owner, office::services::save_all)
        .post("/office/services/{id}", Owner, office::services::save)
        .get("/office/string-sets", Owner, office::string_sets::show)
        .post("/office/string-sets", Owner, office::string_sets::add)
        .post("/office/string-sets/usual", Owner, office::string_sets::load_usual)
        .get("/office/string-sets/{id}", Owner, office::string_set::show)
        .post("/office/string-sets/{id}", Owner, office::string_set::save)
        .get("/office/parts", Owner, office::parts::show)
        .post("/office/parts", Owner, office::parts::add)
        .get("/office/parts/{id}", Owner, office::part::show)
        .post("/office/parts/{id}", Owner, office::part::save)
        .post("/office/parts/{id}/receive", Owner, office::part::receive)
        .post("/office/parts/{id}/count", Owner, office::part::count)
        .get("/office/final-check", Owner, office::final_check::show)
        .post("/office/final-check", Owner, office::final_check::add)
        .post("/office/final-check/{id}", Owner, office::final_check::save)
        .get("/office/telling", Owner, office::telling::show)
        .post("/office/telling", Owner, office::telling::save)
        .post("/office/telling/mail", Owner, office::telling::save_mail)
        .post("/office/telling/test", Owner, office::telling::test)
        .get("/office/telling/words/{kind}", Owner, office::message_words::show)
        .post("/office/telling/words/{kind}", Owner, office::message_words::save)
        .get("/office/papers", Owner, office::papers::show)
        .post("/office/papers", Owner, office::papers::save)
        .get("/office/import", Owner, office::import::show)
        .post_file("/office/import", Owner, office::import::LARGEST_FILE, office::import::bring)
        .get("/office/import/{id}", Owner, office::import::file)
        .post("/office/import/{id}", Owner, office::import::bring_in)
        .post("/office/import/{id}/columns", Owner, office::import::columns)
        .post("/office/import/{id}/refused.csv", Owner, office::import::refused)
        .post("/office/import/{id}/throw-away", Owner, office::import::throw_away)
        .get("/office/export", Owner, office::export::show)
        .post("/office/export/{list}", Owner, office::export::list)
        .get("/office/queue", Owner, office::queue::show)
        .post("/office/queue/forecasts", Owner, office::queue::work_out)
        .get("/office/queue/{id}", Owner, office::queue::job::show)
        .post("/office/queue/{id}/move", Owner, office::queue::job::put)
        .post("/office/queue/{id}/take-back", Owner, office::queue::job::take_back)
        .post("/office/queue/{id}/promise", Owner, office::queue::job::move_promise)
        .get("/office/calendar", Owner, office::calendar::show)
        .post("/office/calendar/hours/{id}", Owner, office::calendar::set_hours)
        .post("/office/calendar/closed", Owner, office::calendar::close)
        .post("/office/calendar/closed/{id}/take-back", Owner, office::calendar::open_again)
        .post("/office/calendar/absences", Owner, office::calendar::be_absent)
        .post("/office/calendar/absences/{id}/take-back", Owner, office::calendar::be_back)
        .post_file("/office/calendar/holidays", Owner, 2 * office::calendar::LARGEST_FILE, office::calendar::look)
        .post("/office/calendar/holidays/take", Owner, office::calendar::take)
        .get("/office/turnaround", Owner, office::turnaround::show)
        .get("/office/promises", Owner, office::promises::show)
        .get("/office/audit", Owner, office::audit::show)
        .post("/office/audit/export", Owner, office::audit::export)
        .get("/office/minutes", Owner, office::minutes::show)
        .get("/office/minutes/{id}", Owner, office::service_minutes::show)
        .post("/office/minutes/{id}/take", Owner, office::service_minutes::take)
        .post("/office/minutes/lines/{line}/leave-out", Owner, office::service_minutes::leave_out)
        .post("/office/minutes/lines/{line}/take-back", Owner, office::service_minutes::take_back)
        .get("/office/money", Owner, office::money::show)
        .get("/office/closings", Owner, office::closings::show)
        .post("/office/closings/journal", Owner, office::closings::journal)
        .get("/office/to-order", Owner, office::to_order::show)
        .get("/office/staff", Owner, office::staff::show)
        .post("/office/staff", Owner, office::staff::add)
        .post("/office/staff/{id}", Owner, office::staff::change)
        .post("/office/staff/{id}/password", Owner, office::staff::reset_password)
        .get("/office/tokens", Owner, office::tokens::show)
        .post("/office/tokens", Owner, office::tokens::make)
        .post("/office/tokens/{id}/revoke", Owner, office::tokens::revoke)
        // the door for programs
        .get("/api/openapi.json", Program, api::openapi::show)
        .post("/api/calc/{name}", Program, api::calc::work_out.layer(DefaultBodyLimit::max(crate::calc::LARGEST_INPUT)))
}

/// The table, for the test that walks it and for DEVELOPERS.md.
pub fn routes(app: &App) -> Vec<Route> {
    table(app).rows
}

/// The whole program as one service.
///
/// # Errors
/// When the configured public origin is not one.
pub fn router(app: App) -> Result<Router, ConfigError> {
    let mut same_site = CsrfLayer::new();
    if let Some(origin) = &app.serving.public_origin {
        same_site = same_site.add_trusted_origin(origin)?;
    }
    // outermost first
    let layers = ServiceBuilder::new()
        .layer(SetRequestIdLayer::new(REQUEST_ID, MakeRequestUuid))
        .layer(TraceLayer::new_for_http().make_span_with(span_of).on_response(log_answer).on_failure(()))
        .layer(PropagateRequestIdLayer::new(REQUEST_ID))
        .layer(from_fn_with_state(app.clone(), headers::on_every_answer))
        // a page is sent once: what a stronger level saves on the way, it takes before
        .layer(CompressionLayer::new().quality(CompressionLevel::Fastest))
        .layer(from_fn_with_state(app.clone(), failure::drawn))
        .layer(CatchPanicLayer::custom(panicked))
        .layer(TimeoutLayer::with_status_code(StatusCode::REQUEST_TIMEOUT, LONGEST_REQUEST))
        .layer(same_site)
        .layer(from_fn(cross_site::refuse_unknown_origin))
        .layer(from_fn_with_state(app.clone(), page::clear_flash))
        .layer(DefaultBodyLimit::max(LARGEST_BODY));
    Ok(table(&app).router.fallback(no_such_page).layer(layers).with_state(app))
}

async fn no_such_page() -> Error {
    Error::NotFound("page")
}

fn panicked(cause: Box<dyn std::any::Any + Send>) -> Response {
    use axum::response::IntoResponse;
    let words =
        cause.downcast_ref::<String>().cloned().or_else(|| cause.downcast_ref::<&str>().map(ToString::to_string));
    Error::internal(words.unwrap_or_else(|| "a panic without words".to_owned())).into_response()
}

/// Method, path and request id: never the query, and never the token of a private link.
fn span_of(request: &Request) -> Span {
    let path = request.uri().path();
    let path = if path.starts_with("/s/") { "/s/…" } else { path };
    let id = request.extensions().get::<RequestId>().and_then(|id| id.header_value().to_str().ok()).unwrap_or("");
    tracing::info_span!("request", id, method = %request.method(), path)
}

fn log_answer(response: &Response, latency: Duration, _: &Span) {
    let latency_us = u64::try_from(latency.as_micros()).unwrap_or(u64::MAX);
    tracing::info!(status = response.status().as_u16(), latency_us, "request.answered");
}
