//! What every page shares: who visits, the layout around the page, answers and redirects.

use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;

use askama::Template;
use axum::extract::{ConnectInfo, FromRequestParts, Request, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum_extra::extract::cookie::{Cookie, CookieJar, SameSite};
use data_encoding::BASE64URL_NOPAD;

use super::app::App;
use super::error::{Error, Result};
use super::office_tabs::{self, TabLink};
use crate::quantity::Instant;
use crate::records::session::Session;
use crate::records::settings::Snapshot;
use crate::records::staff::Role;
use crate::records::{AuditContext, Door};

/// The cookie that carries one sentence to the next page. Behind TLS it is bound to the host like the session.
fn flash_cookie(app: &App) -> &'static str {
    if app.serving.is_tls() { "__Host-thumbplane-flash" } else { "thumbplane-flash" }
}

/// One request by a person: who, through what, and the shop they visit. The one extractor most handlers need.
#[derive(Debug, Clone)]
pub struct RequestContext {
    /// The program.
    pub app: App,
    /// The shop's settings as they stand.
    pub settings: Arc<Snapshot>,
    /// Who is signed in, if anybody.
    pub session: Option<Session>,
    flash: Option<String>,
    path: String,
    /// The name typed into the browser is not this computer's own, and there is no TLS.
    plain_http: bool,
    /// Where the page lies for the world: scheme and host.
    pub origin: String,
    /// The address the request came from, where it came over a network.
    pub address: Option<IpAddr>,
}

impl FromRequestParts<App> for RequestContext {
    type Rejection = Error;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self> {
        let settings = app.settings.current(&app.db).await?;
        let host = parts.headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or("localhost");
        let tls = app.serving.is_tls();
        let origin = app.serving.public_origin.clone().unwrap_or_else(|| format!("http://{host}"));
        let jar = CookieJar::from_headers(&parts.headers);
        Ok(Self {
            flash: jar.get(flash_cookie(app)).and_then(|cookie| unsealed(app, cookie.value())),
            session: parts.extensions.get::<Session>().cloned(),
            path: parts.uri.path().to_owned(),
            plain_http: !tls && !is_this_computer(host),
            origin,
            app: app.clone(),
            settings,
            address: parts
                .extensions
                .get::<ConnectInfo<SocketAddr>>()
                .map(|ConnectInfo(peer)| came_from(peer.ip(), &parts.headers, &app.serving.trusted_proxies)),
        })
    }
}

/// The address a request came from: the peer's own, or, where the peer is a proxy we trust, the last address in
/// `X-Forwarded-For` that is none of ours. What stands before it was written by whoever sent it.
fn came_from(peer: IpAddr, headers: &HeaderMap, trusted: &[IpAddr]) -> IpAddr {
    let is_trusted = |address: &IpAddr| trusted.contains(address);
    let peer = peer.to_canonical();
    if !is_trusted(&peer) {
        return peer;
    }
    let lines = headers.get_all("x-forwarded-for").iter().filter_map(|line| line.to_str().ok());
    let hops: Vec<&str> = lines.flat_map(|line| line.split(',')).map(str::trim).collect();
    for hop in hops.iter().rev() {
        let Ok(address) = hop.parse::<IpAddr>() else { break };
        let address = address.to_canonical();
        if !is_trusted(&address) {
            return address;
        }
    }
    peer
}

fn is_this_computer(host: &str) -> bool {
    let name = host.rsplit_once(':').map_or(
        host,
        |(name, port)| {
            if port.chars().all(|c| c.is_ascii_digit()) { name } else { host }
        },
    );
    matches!(name, "localhost" | "[::1]") || name.starts_with("127.")
}

impl RequestContext {
    /// The present moment.
    pub fn now(&self) -> Instant {
        self.app.clock.now()
    }

    /// The shop's today.
    pub fn today(&self) -> time::Date {
        self.app.clock.today()
    }

    /// Where customers' telephones reach this computer: as it was started, else as the owner says.
    pub fn public_address(&self) -> Option<&str> {
        let said = Some(self.settings.public_address.as_str()).filter(|said| !said.is_empty());
        self.app.serving.public_origin.as_deref().or(said)
    }

    /// Who does a deed, for the records.
    pub fn audit(&self, door: Door) -> AuditContext {
        AuditContext { staff: self.session.as_ref().map(|session| session.staff.id), door, at: self.now() }
    }

    /// Whether the person may act as `role`.
    pub fn may_act_as(&self, role: Role) -> bool {
        self.session.as_ref().is_some_and(|session| session.staff.roles.may_act_as(role))
    }

    /// The layout around a page.
    pub fn layout(&self) -> Layout {
        let is_owner = self.may_act_as(Role::Owner);
        Layout {
            shop_name: self.settings.shop_name.clone(),
            staff_name: self.session.as_ref().map(|session| session.staff.name.clone()),
            doors: self.doors(),
            flash: self.flash.clone(),
            warning: (is_owner && self.plain_http).then(|| {
                "This page travels over the network unencrypted: passwords can be read on the way. Put a server with TLS \
                 in front and start Thumbplane with --public-origin https://…"
                    .to_owned()
            }),
            search: self.may_act_as(Role::Desk),
            bench: self.path.starts_with("/bench"),
            path: self.path.clone(),
            demo: self.app.serving.demo,
            home: "/".to_owned(),
        }
    }

    fn doors(&self) -> Vec<DoorLink> {
        let doors =
            [("Desk", "/desk", Role::Desk), ("Bench", "/bench", Role::Bench), ("Office", "/office", Role::Owner)];
        let open = doors.into_iter().filter(|(_, _, role)| self.may_act_as(*role));
        open.map(|(name, href, _)| DoorLink { name, href, current: self.path.starts_with(href) }).collect()
    }
}

/// A link to a door this person may use.
#[derive(Debug, Clone)]
pub struct DoorLink {
    /// As it is called.
    pub name: &'static str,
    /// Where it is.
    pub href: &'static str,
    /// Whether the page lies behind it.
    pub current: bool,
}

/// What stands around every page.
#[derive(Debug, Clone)]
pub struct Layout {
    /// The shop.
    pub shop_name: String,
    /// Who is signed in.
    pub staff_name: Option<String>,
    /// The doors open to them.
    pub doors: Vec<DoorLink>,
    /// What just changed.
    pub flash: Option<String>,
    /// What the owner should know.
    pub warning: Option<String>,
    /// Whether the search stands in the header.
    pub search: bool,
    /// Bench pages are larger.
    pub bench: bool,
    /// Where the page lies.
    pub path: String,
    /// The throw-away demo.
    pub demo: bool,
    /// Where the shop's name leads.
    pub home: String,
}

impl Layout {
    /// Whether this is the page at a path.
    pub fn is_at(&self, path: &str) -> bool {
        self.path == path
    }

    /// Whether this is the page at a path, or one below it.
    pub fn is_below(&self, path: &str) -> bool {
        self.path.starts_with(path)
    }

    /// The groups of the office's pages.
    pub(super) fn office_groups(&self) -> Vec<TabLink> {
        office_tabs::groups(&self.path)
    }

    /// The pages of the group in which this one is.
    pub(super) fn office_pages(&self) -> Vec<TabLink> {
        office_tabs::pages(&self.path)
    }

    /// A layout for pages shown when even the visitor could not be made out.
    pub(super) async fn bare(app: &App) -> Self {
        let shop_name = match app.settings.current(&app.db).await {
            Ok(settings) => settings.shop_name.clone(),
            Err(_) => "Thumbplane".to_owned(),
        };
        Self {
            shop_name,
            staff_name: None,
            doors: Vec::new(),
            flash: None,
            warning: None,
            search: false,
            bench: false,
            path: String::new(),
            demo: app.serving.demo,
            home: "/".to_owned(),
        }
    }
}

/// Answers with a page.
///
/// # Errors
/// When the template fails.
pub fn page(template: &impl Template) -> Result {
    page_with(StatusCode::OK, template)
}

/// Answers with a page and a status: of a form that goes back, [`FormData::status`](super::form::FormData::status).
///
/// # Errors
/// When the template fails.
pub fn page_with(status: StatusCode, template: &impl Template) -> Result {
    let html = template.render().map_err(Error::internal)?;
    Ok((status, Html(html)).into_response())
}

/// After a deed: to the page that shows what changed, with one sentence about it.
///
/// # Errors
/// When the address cannot stand in a header.
pub fn redirect_with_flash(context: &RequestContext, path: &str, flash: &str) -> Result {
    let sealed = sealed(&context.app, flash);
    let cookie = Cookie::build((flash_cookie(&context.app), sealed))
        .path("/")
        .http_only(true)
        .same_site(SameSite::Lax)
        .secure(context.app.serving.is_tls());
    let mut response = Redirect::to(path).into_response();
    let value = HeaderValue::from_str(&cookie.to_string()).map_err(Error::internal)?;
    response.headers_mut().append(header::SET_COOKIE, value);
    Ok(response)
}

/// A path of our own, or nothing: never another host, never a scheme.
pub fn safe_path(path: &str) -> Option<&str> {
    let inside = path.starts_with('/') && !path.starts_with("//") && !path.starts_with("/\\");
    (inside && !path.chars().any(char::is_control)).then_some(path)
}

/// The path of the page a request came from, if it was one of ours.
pub(super) fn own_referer(headers: &HeaderMap) -> Option<String> {
    let referer = headers.get(header::REFERER)?.to_str().ok()?;
    let host = headers.get(header::HOST)?.to_str().ok()?;
    let (_, rest) = referer.split_once("://")?;
    let path = rest.strip_prefix(host)?;
    safe_path(path).map(str::to_owned)
}

/// Takes the flash away once a page has shown it.
pub(super) async fn clear_flash(State(app): State<App>, request: Request, next: Next) -> Response {
    let name = flash_cookie(&app);
    let had_flash = request.method() == Method::GET && CookieJar::from_headers(request.headers()).get(name).is_some();
    let mut response = next.run(request).await;
    let is_page =
        response.headers().get(header::CONTENT_TYPE).is_some_and(|kind| kind.as_bytes().starts_with(b"text/html"));
    if had_flash && is_page {
        let gone = Cookie::build((name, ""))
            .path("/")
            .max_age(time::Duration::ZERO)
            .http_only(true)
            .same_site(SameSite::Lax)
            .secure(app.serving.is_tls());
        if let Ok(value) = HeaderValue::from_str(&gone.to_string()) {
            response.headers_mut().append(header::SET_COOKIE, value);
        }
    }
    response
}

fn sealed(app: &App, text: &str) -> String {
    format!("{}.{}", BASE64URL_NOPAD.encode(text.as_bytes()), app.db.link_secret().seal(text))
}

fn unsealed(app: &App, value: &str) -> Option<String> {
    let (text, seal) = value.split_once('.')?;
    let text = String::from_utf8(BASE64URL_NOPAD.decode(text.as_bytes()).ok()?).ok()?;
    (app.db.link_secret().seal(&text) == seal).then_some(text)
}

#[cfg(test)]
mod tests {
    use std::net::IpAddr;

    use axum::http::{HeaderMap, HeaderValue};

    use super::{came_from, is_this_computer, safe_path};

    #[test]
    fn only_a_trusted_proxy_says_where_a_request_came_from() {
        let address = |text: &str| text.parse::<IpAddr>().unwrap_or_else(|why| panic!("{text}: {why}"));
        let (proxy, inner) = (address("192.0.2.1"), address("192.0.2.2"));
        let from = |peer: &str, lines: &[&'static str], trusted: &[IpAddr]| {
            let mut headers = HeaderMap::new();
            for line in lines {
                headers.append("x-forwarded-for", HeaderValue::from_static(line));
            }
            came_from(address(peer), &headers, trusted).to_string()
        };
        assert_eq!(from("192.0.2.1", &["203.0.113.9"], &[]), "192.0.2.1", "nobody is trusted");
        assert_eq!(from("192.0.2.7", &["203.0.113.9"], &[proxy]), "192.0.2.7", "not this one");
        assert_eq!(from("192.0.2.1", &["10.0.0.1, 203.0.113.9"], &[proxy]), "203.0.113.9", "the last hop");
        assert_eq!(from("192.0.2.1", &["10.0.0.1", "203.0.113.9, 192.0.2.2"], &[proxy, inner]), "203.0.113.9");
        assert_eq!(from("::ffff:192.0.2.1", &["2001:db8::5"], &[proxy]), "2001:db8::5");
        assert_eq!(from("192.0.2.1", &["garbage"], &[proxy]), "192.0.2.1");
        assert_eq!(from("192.0.2.1", &[], &[proxy]), "192.0.2.1");
    }

    #[test]
    fn a_return_path_never_leaves_the_house() {
        assert_eq!(safe_path("/desk/queue?x=1"), Some("/desk/queue?x=1"));
        for outside in ["//evil.example", "/\\evil.example", "https://evil.example", "desk", "/a\r\nb"] {
            assert_eq!(safe_path(outside), None, "{outside}");
        }
    }

    #[test]
    fn only_this_computer_counts_as_private() {
        assert!(
            ["localhost:8750", "127.0.0.1:8750", "[::1]:8750", "localhost"].iter().all(|host| is_this_computer(host))
        );
        assert!(["shop.example:8750", "192.0.2.4:80", "shop"].iter().all(|host| !is_this_computer(host)));
    }
}
