//! The counter with a queue behind the customer: keyboard alone, and how many keys it takes.

use super::driver::{Browser, demo};

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
}

// keys as the W3C WebDriver standard numbers them; a held key is let go at the end of a press
const ENTER: &str = "\u{e007}";
const TAB: &str = "\u{e004}";
const DOWN: &str = "\u{e015}";
const CONTROL_ENTER: &str = "\u{e009}\u{e007}";

#[tokio::test(flavor = "multi_thread")]
async fn a_returning_customer_is_checked_in_by_keyboard_alone_in_eight_keys_beside_the_words() {
    let (_demo, origin) = demo();
    let desk = Browser::of(&origin, "Mirel", (1280, 900), &[]).await;
    desk.goes_to(&format!("{origin}/desk/check-in")).await;
    let mut hands = Hands { browser: &desk, presses: 0 };
    // the cursor stands in the search: part of a name, down to the hit, Enter
    hands.press("quis").await;
    desk.waits_for("#hits[data-shown-for=quis] .hits a").await;
    hands.press(DOWN).await;
    hands.press(ENTER).await;
    // the only instrument is chosen, the cursor stands in the complaint
    desk.waits_for("input[name=instrument]:checked").await;
    let complaint = "The fifth string rattles.";
    hands.press(complaint).await;
    hands.press(CONTROL_ENTER).await;
    desk.waits_for(".sheet .big").await;
    assert!(desk.path().await.ends_with("/ticket"));
    let text = desk.text().await;
    assert!(text.contains("Anders Quistgaard") && text.contains(complaint), "{text}");
    assert_eq!(hands.presses - complaint.chars().count(), 8, "4 letters, down, Enter, Ctrl+Enter");
    desk.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_new_customer_is_checked_in_by_keyboard_alone() {
    let (_demo, origin) = demo();
    let desk = Browser::of(&origin, "Mirel", (1280, 900), &[]).await;
    desk.goes_to(&format!("{origin}/desk/check-in")).await;
    let mut hands = Hands { browser: &desk, presses: 0 };
    let words = ["Linnea Brook", "07700 900321", "Thistlewade", "It will not stay in tune."];
    // looked for and not found: Enter carries the name into the form
    hands.press(words[0]).await;
    hands.press(ENTER).await;
    desk.waits_for("#field-name[value='Linnea Brook']").await;
    // search, its button, name, then the telephone
    hands.press(&TAB.repeat(3)).await;
    hands.press(words[1]).await;
    // e-mail, how to reach, what is folded away, consent, kind: the space bar ticks and chooses
    hands.press(&TAB.repeat(4)).await;
    hands.press(" ").await;
    hands.press(TAB).await;
    hands.press(" ").await;
    hands.press(TAB).await;
    hands.press(words[2]).await;
    // model, serial, finish, complaint
    hands.press(&TAB.repeat(4)).await;
    hands.press(words[3]).await;
    hands.press(CONTROL_ENTER).await;
    desk.waits_for(".sheet .big").await;
    let text = desk.text().await;
    assert!(text.contains("Linnea Brook") && text.contains("Thistlewade") && text.contains(words[3]), "{text}");
    let beside = hands.presses - words.iter().map(|words| words.chars().count()).sum::<usize>();
    assert_eq!(beside, 18, "Enter, 13 tabs, 2 spaces, Ctrl+Enter");
    desk.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_scan_opens_its_job_from_any_page_and_a_slash_goes_to_the_search() {
    let (_demo, origin) = demo();
    let desk = Browser::of(&origin, "Mirel", (1280, 900), &[]).await;
    desk.goes_to(&format!("{origin}/desk")).await;
    let row = desk.finds(".queue tbody tr:last-child a").await;
    let (number, href) = (row.text().await.unwrap(), row.attr("href").await.unwrap().unwrap());
    desk.goes_to(&format!("{origin}/desk/care")).await;
    // a scanner's keys, a millisecond apart, with no field focused
    let script = "for (const key of [...arguments[0], 'Enter']) \
                  document.body.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true }));";
    desk.page.execute(script, vec![number.clone().into()]).await.unwrap();
    desk.waits_for("h1.number").await;
    assert_eq!(desk.path().await, href);
    // and by hand
    desk.page.action_chain().send_keys("/").perform().await.unwrap();
    let focused = desk.page.active_element().await.unwrap();
    assert_eq!(focused.attr("id").await.unwrap().as_deref(), Some("search"));
    assert_eq!(focused.prop("value").await.unwrap().unwrap_or_default(), "", "the slash itself is not typed");
    desk.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_tapped_mark_lands_where_it_was_tapped_and_is_initialled() {
    let (_demo, origin) = demo();
    let desk = Browser::of(&origin, "Mirel", (1280, 1400), &[]).await;
    desk.goes_to(&format!("{origin}/desk")).await;
    let job = desk.finds(".queue tbody tr:last-child a").await.attr("href").await.unwrap().unwrap();
    desk.goes_to(&format!("{origin}{job}/condition")).await;
    let picture = desk.finds("form input[type=image][alt*=front]").await;
    picture.scroll_into_view().await.unwrap();
    // W3C WebDriver: an offset is from the middle of the element
    desk.page.action_chain().move_to_element_with_offset(&picture, 60, 90).click().perform().await.unwrap();
    desk.waits_for("input[name=x_permille]").await;
    let place = |name: &'static str| {
        let desk = &desk;
        async move {
            let value = desk.finds(&format!("input[name={name}]")).await.attr("value").await.unwrap().unwrap();
            value.parse::<i64>().unwrap()
        }
    };
    // 240 by 360: the middle and 60 to the right is 180, and 90 below is 270
    let (x, y) = (place("x_permille").await, place("y_permille").await);
    assert!((745..=755).contains(&x) && (745..=755).contains(&y), "{x} {y}");
    desk.clicks("input[name=what][value=dent]").await;
    desk.clicks("form[action$='/condition'] button.primary").await;
    desk.waits_for(".flash").await;
    let pad = desk.finds("form[data-signature] svg.pad").await;
    pad.scroll_into_view().await.unwrap();
    let drawing = desk.page.action_chain().move_to_element_with_offset(&pad, -80, 0).click_and_hold();
    drawing.move_by_offset(60, -40).move_by_offset(60, 60).release().perform().await.unwrap();
    desk.clicks("form[data-signature] button[type=submit]").await;
    desk.waits_for("svg.signature:not(.pad) path[d^=M]").await;
    assert!(desk.text().await.contains("Seen and signed"), "{}", desk.text().await);
    desk.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_file_can_be_saved_again_from_the_page_that_stayed() {
    let (_demo, origin) = demo();
    let owner = Browser::of(&origin, "Ottilie", (1280, 900), &[]).await;
    owner.goes_to(&format!("{origin}/office/export")).await;
    // the page stays when a file comes: a second press must reach the server like the first
    let script = "window.reached = 0; window.addEventListener('submit', (event) => { if (!event.defaultPrevented) window.reached += 1; }); return true";
    let _: bool = owner.asks(script).await;
    for _ in 0..2 {
        owner.clicks("main form[action$='/customers'] button").await;
    }
    owner.until("both presses reached the server", "window.reached === 2").await;
    owner.closes().await;
}
