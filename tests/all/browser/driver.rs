//! Debian's Chromium, driven through ChromeDriver: one driver and an empty profile for each test.

use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};

use thirtyfour::prelude::*;
use thumbplane::command::PEOPLE;
use thumbplane::web::Serving;
use thumbplane::web::serve::serve;
use tokio::net::TcpListener;

use crate::command::Running;
use crate::support::{Person, Shop};

/// The demo's server, which ends with what is held here, and where it answers.
pub(super) fn demo() -> (Running, String) {
    let running = Running::demo();
    let origin = format!("http://{}", running.address);
    (running, origin)
}

/// A shop that answers a real browser, whose clock stands where the test puts it.
pub(super) async fn served() -> (Shop, String) {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let origin = format!("http://{}", listener.local_addr().unwrap());
    let shop = Shop::open_as(Serving { public_origin: Some(origin.clone()), ..Serving::default() }).await;
    tokio::spawn(serve(listener, shop.app.clone(), std::future::pending()));
    (shop, origin)
}

/// A browser of its own.
pub(crate) struct Browser {
    pub(crate) page: WebDriver,
    driver: Child,
}

impl Browser {
    pub(crate) async fn open(width: u32, height: u32, more: &[&str]) -> Self {
        let mut driver = Command::new("chromedriver")
            .args(["--port=0"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("chromedriver is installed: tests/run installs Debian's chromium-driver");
        let said = BufReader::new(driver.stdout.take().unwrap());
        let port = said
            .lines()
            .map_while(Result::ok)
            .find_map(|line| {
                line.split("started successfully on port ").nth(1).map(|rest| rest.trim_end_matches('.').to_owned())
            })
            .expect("chromedriver says its port");
        let mut asked = DesiredCapabilities::chrome();
        asked.set_binary("/usr/bin/chromium").unwrap();
        let size = format!("--window-size={width},{height}");
        for argument in [
            "--headless=new",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-dev-shm-usage",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            size.as_str(),
        ]
        .into_iter()
        .chain(more.iter().copied())
        {
            asked.add_arg(argument).unwrap();
        }
        let page = WebDriver::new(format!("http://127.0.0.1:{port}"), asked).await.unwrap();
        Self { page, driver }
    }

    pub(crate) async fn goes_to(&self, address: &str) {
        self.page.goto(address).await.unwrap();
    }

    /// What stands in another part of the bench's page is led to first, as a thumb would.
    async fn reaches(&self, element: &WebElement) {
        let leads = "const part = arguments[0].closest('[data-pane][hidden]');
             if (part) document.querySelector(`[data-place=${part.dataset.pane}]`).click();";
        self.page.execute(leads, vec![element.to_json().unwrap()]).await.unwrap();
    }

    pub(crate) async fn types(&self, selector: &str, text: &str) {
        let field = self.finds(selector).await;
        self.reaches(&field).await;
        field.clear().await.unwrap();
        field.send_keys(text).await.unwrap();
    }

    pub(crate) async fn finds(&self, selector: &str) -> WebElement {
        self.page.query(By::Css(selector)).first().await.unwrap_or_else(|cause| panic!("{selector}: {cause}"))
    }

    /// Clicks, scrolled into sight first.
    pub(crate) async fn clicks(&self, selector: &str) {
        let element = self.finds(selector).await;
        self.reaches(&element).await;
        element.scroll_into_view().await.unwrap();
        element.click().await.unwrap();
    }

    /// A calliper: types into whatever has the focus.
    pub(crate) async fn keys(&self, text: &str) {
        self.page.active_element().await.unwrap().send_keys(text).await.unwrap();
    }

    /// The value of a script.
    pub(crate) async fn asks<T: serde::de::DeserializeOwned>(&self, script: &str) -> T {
        self.page.execute(script, vec![]).await.unwrap().convert().unwrap()
    }

    /// Waits until a script says true.
    pub(crate) async fn until(&self, what: &str, script: &str) {
        let waiting = format!(
            "const [done] = arguments; const look = () => {{ if ({script}) done(true); else setTimeout(look, 20); }}; look();"
        );
        self.page.execute_async(&waiting, vec![]).await.unwrap_or_else(|cause| panic!("{what}: {cause}"));
    }

    /// Waits until the page has painted and has nothing to do.
    pub(crate) async fn rests(&self) {
        let rest = "const [done] = arguments; requestAnimationFrame(() => requestIdleCallback(() => done(true)));";
        self.page.execute_async(rest, vec![]).await.unwrap();
    }

    /// The browser's own switch.
    pub(crate) async fn offline(&self, offline: bool) {
        let conditions = serde_json::json!({
            "offline": offline, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1
        });
        self.devtools("Network.enable", serde_json::json!({})).await;
        self.devtools("Network.emulateNetworkConditions", conditions).await;
    }

    pub(crate) async fn devtools(&self, command: &str, parameters: serde_json::Value) {
        self.page.cdp().send_raw(command, parameters).await.unwrap();
    }

    pub(crate) async fn chooses(&self, name: &str, value: &str) {
        self.clicks(&format!("input[name='{name}'][value='{value}']")).await;
    }

    pub(crate) async fn waits_for(&self, selector: &str) -> WebElement {
        self.finds(selector).await
    }

    pub(crate) async fn text(&self) -> String {
        let text = self.finds("body").await.text().await.unwrap();
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    pub(crate) async fn path(&self) -> String {
        self.page.current_url().await.unwrap().path().to_owned()
    }

    /// One of the demo's people, in a browser of their own and signed in.
    pub(crate) async fn of(origin: &str, name: &str, (width, height): (u32, u32), more: &[&str]) -> Self {
        let browser = Self::open(width, height, more).await;
        browser.signs_in(origin, name).await;
        browser
    }

    /// With the password that the demo prints beside the name.
    pub(crate) async fn signs_in(&self, origin: &str, name: &str) {
        let person = PEOPLE.iter().find(|person| person.name == name).expect("one of the demo's people");
        self.goes_to(&format!("{origin}/sign-in")).await;
        self.types("#field-name", name).await;
        self.types("#field-password", person.password).await;
        self.clicks("main button[type=submit]").await;
        self.waits_for(".person").await;
    }

    /// Somebody of a shop that the test holds, signed in already.
    pub(super) async fn is(&self, origin: &str, person: &Person<'_>) {
        let cookie = person.cookie();
        let (name, value) = cookie.split_once('=').unwrap();
        let cookie = serde_json::json!({ "url": origin, "name": name, "value": value, "httpOnly": true });
        self.devtools("Network.setCookie", cookie).await;
    }

    /// The tablet's battery falls out: the browser has no time for anything.
    pub(crate) async fn dies(mut self) {
        let _ = self.page.cdp().send_raw("Browser.crash", serde_json::json!({})).await;
        let _ = self.page.clone().quit().await;
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }

    pub(crate) async fn closes(mut self) {
        let _ = self.page.clone().quit().await;
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.driver.kill();
    }
}
