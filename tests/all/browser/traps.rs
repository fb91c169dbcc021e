//! What used to bite at the counter: a session that ends in the middle, a scanner in the wrong field, a press that does
//! what the hand did not mean; and the first hour of a shop by keyboard alone.
#![expect(clippy::print_stdout, reason = "the figures are what the check is for")]

use std::process::Command;

use tempfile::TempDir;

use super::driver::Browser;
use crate::command::Running;

// keys as the W3C WebDriver standard numbers them
const ENTER: &str = "\u{e007}";
const TAB: &str = "\u{e004}";
const DOWN: &str = "\u{e015}";
const F2: &str = "\u{e032}";
const CONTROL_ENTER: &str = "\u{e009}\u{e007}";

/// Presses keys on whatever has the focus, and counts them.
struct Hands<'a> {
    browser: &'a Browser,
    presses: usize,
}

impl Hands<'_> {
    async fn press(&mut self, keys: &str) {
        self.presses += keys.chars().count();
        self.browser.page.active_element().await.unwrap().send_keys(keys).await.unwrap();
    }

    /// Tab until an element has the focus.
    async fn tabs_to(&mut self, selector: &str) {
        for _ in 0..40 {
            let script = format!("return document.activeElement.matches({selector:?})");
            if self.browser.asks::<bool>(&script).await {
                return;
            }
            self.press(TAB).await;
        }
        panic!("no Tab leads to {selector}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_check_in_broken_off_by_signing_out_comes_back_whole() {
    let demo = Running::demo();
    let origin = format!("http://{}", demo.address);
    let desk = Browser::open(1280, 900, &[]).await;
    desk.signs_in(&origin, "Mirel").await;
    desk.goes_to(&format!("{origin}/desk/check-in")).await;
    desk.types("#field-name", "Linnea Brook").await;
    desk.types("#field-complaint", "It will not stay in tune.").await;
    desk.chooses("family", "ukulele").await;
    // signing out first keeps what waits for a pause of the hands
    desk.clicks(".person button").await;
    desk.waits_for("#field-password").await;
    desk.signs_in(&origin, "Mirel").await;
    desk.goes_to(&format!("{origin}/desk/check-in")).await;
    let value = |id: &str| format!("return document.querySelector('{id}').value");
    assert_eq!(desk.asks::<String>(&value("#field-name")).await, "Linnea Brook");
    assert_eq!(desk.asks::<String>(&value("#field-complaint")).await, "It will not stay in tune.");
    assert!(desk.asks::<bool>("return document.querySelector('input[value=ukulele]').checked").await);
    // and a session that ended while the form lay open: the press leads through the sign-in page, back to the form
    desk.page.delete_all_cookies().await.unwrap();
    desk.clicks(".at-hand button.primary").await;
    desk.waits_for("input[name=unsent]").await;
    desk.types("#field-name", "Mirel").await;
    desk.types("#field-password", "desk by the weir").await;
    desk.clicks("main button.primary").await;
    desk.waits_for("form[data-check-in]").await;
    assert_eq!(desk.asks::<String>(&value("#field-complaint")).await, "It will not stay in tune.");
    desk.clicks(".at-hand button.primary").await;
    desk.waits_for(".sheet .big").await;
    assert!(desk.text().await.contains("Linnea Brook"));
    desk.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn typing_another_instrument_unchooses_the_known_one_and_the_line_says_so() {
    let demo = Running::demo();
    let origin = format!("http://{}", demo.address);
    let desk = Browser::open(1280, 900, &[]).await;
    desk.signs_in(&origin, "Mirel").await;
    desk.goes_to(&format!("{origin}/desk/check-in?find=quistgaard")).await;
    desk.clicks("#hits .hits a").await;
    desk.waits_for("input[name=instrument]:checked").await;
    let line = "return document.querySelector('[data-what-happens]').textContent";
    assert!(desk.asks::<String>(line).await.contains("that we know"), "{}", desk.asks::<String>(line).await);
    desk.clicks("details.unfolded summary").await;
    desk.types("#field-maker", "Weirside").await;
    assert!(desk.asks::<bool>("return document.querySelector('input[name=instrument][value=\"\"]').checked").await);
    assert!(desk.asks::<String>(line).await.contains("an instrument"), "{}", desk.asks::<String>(line).await);
    desk.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn control_enter_and_the_guard_against_two_presses_hold_where_a_control_is_called_method() {
    let demo = Running::demo();
    let origin = format!("http://{}", demo.address);
    let desk = Browser::open(1280, 900, &[]).await;
    desk.signs_in(&origin, "Mirel").await;
    desk.goes_to(&format!("{origin}/desk")).await;
    let job = desk.finds(".queue tbody tr:last-child a").await.attr("href").await.unwrap().unwrap();
    desk.goes_to(&format!("{origin}{job}/hand-over")).await;
    let ready = "window.sent = 0; const form = document.querySelector('main form[action$=\"/payment\"]'); \
                 window.addEventListener('submit', (event) => { if (!event.defaultPrevented) window.sent += 1; event.preventDefault(); }); form.querySelector('input[name=amount]').focus(); return form.elements.method !== undefined";
    assert!(desk.asks::<bool>(ready).await, "the trap stands there");
    desk.keys("5").await;
    desk.keys(CONTROL_ENTER).await;
    desk.keys(CONTROL_ENTER).await;
    assert_eq!(desk.asks::<usize>("return window.sent").await, 1);
    desk.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn one_key_starts_check_in_and_both_kinds_of_customer_are_in_within_few_keys() {
    let demo = Running::demo();
    let origin = format!("http://{}", demo.address);
    let desk = Browser::open(1024, 768, &[]).await;
    desk.signs_in(&origin, "Mirel").await;
    desk.goes_to(&format!("{origin}/desk/care")).await;
    let mut hands = Hands { browser: &desk, presses: 0 };
    hands.press(F2).await;
    desk.waits_for("form[data-check-in]").await;
    hands.press("quis").await;
    desk.waits_for("#hits[data-shown-for=quis] .hits a").await;
    hands.press(DOWN).await;
    hands.press(ENTER).await;
    desk.waits_for("input[name=instrument]:checked").await;
    hands.press("The fifth string rattles.").await;
    hands.press(CONTROL_ENTER).await;
    desk.waits_for(".sheet .big").await;
    println!("a returning customer: {} keys", hands.presses);
    assert!(hands.presses <= 60, "{}", hands.presses);
    desk.goes_to(&format!("{origin}/desk/day")).await;
    let mut hands = Hands { browser: &desk, presses: 0 };
    hands.press(F2).await;
    desk.waits_for("form[data-check-in]").await;
    hands.press("Linnea Brook").await;
    hands.press(ENTER).await;
    desk.waits_for("#field-name[value='Linnea Brook']").await;
    hands.tabs_to("#field-telephone").await;
    hands.press("07700 900321").await;
    hands.tabs_to("input[name=family]").await;
    hands.press(" ").await;
    hands.tabs_to("#field-maker").await;
    hands.press("Thistlewade").await;
    hands.tabs_to("#field-complaint").await;
    hands.press("It will not stay in tune.").await;
    hands.press(CONTROL_ENTER).await;
    desk.waits_for(".sheet .big").await;
    println!("a new customer: {} keys", hands.presses);
    assert!(hands.presses <= 200, "{}", hands.presses);
    desk.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_first_hour_leads_from_an_empty_folder_to_a_ticket_that_a_scanner_reads() {
    let folder = TempDir::new().unwrap();
    let (shop, code) = Running::new_shop(folder.path());
    let origin = format!("http://{}", shop.address);
    let owner = Browser::open(1280, 900, &[]).await;
    owner.goes_to(&format!("{origin}/")).await;
    let mut hands = Hands { browser: &owner, presses: 0 };
    hands.tabs_to("#field-code").await;
    hands.press(&code).await;
    hands.press(TAB).await;
    hands.press("Sorrel").await;
    hands.press(TAB).await;
    hands.press("sluice gate and walnut").await;
    hands.press(ENTER).await;
    owner.waits_for("#field-shop_name").await;
    hands.press("Weirside Strings").await;
    hands.press(TAB).await;
    hands.press("1 Mill Walk").await;
    hands.tabs_to("#field-country").await;
    hands.press("Irel").await;
    hands.press(TAB).await;
    hands.press("Europe/Dub").await;
    hands.press(CONTROL_ENTER).await;
    owner.waits_for("#field-currency").await;
    hands.press(CONTROL_ENTER).await;
    for step in ["people", "hours", "targets"] {
        owner.waits_for(&format!("input[name=step][value={step}]")).await;
        owner.waits_for("main button.primary:focus").await;
        hands.press(ENTER).await;
    }
    owner.waits_for("main a.primary:focus").await;
    hands.press(ENTER).await;
    owner.waits_for("form[data-check-in]").await;
    hands.press("Linnea Brook").await;
    hands.press(ENTER).await;
    owner.waits_for("#field-name[value='Linnea Brook']").await;
    hands.tabs_to("input[name=family]").await;
    hands.press(" ").await;
    hands.tabs_to("#field-complaint").await;
    hands.press("It buzzes.").await;
    hands.press(CONTROL_ENTER).await;
    let number = owner.waits_for(".sheet .big").await.text().await.unwrap();
    assert!(owner.text().await.contains("Weirside Strings"));
    println!("the first hour: {} keys to the first ticket", hands.presses);
    assert!(hands.presses <= 400, "{}", hands.presses);
    // the page that came with the press is in the printer's dialogue
    owner.goes_to(owner.page.current_url().await.unwrap().as_str()).await;
    super::papers::prints(&owner, &folder.path().join("ticket.pdf")).await;
    let read = super::papers::codes(folder.path(), "ticket.pdf", "300");
    assert!(read.contains(&format!("CODE-128:{number}")), "{read}");
    owner.closes().await;
    drop(shop);
    let checked = Command::new(env!("CARGO_BIN_EXE_thumbplane")).args(["check", "--data"]).arg(folder.path()).output();
    assert!(checked.unwrap().status.success());
}
