//! Print pressed: once, twice, for a whole visit, on a label; and letters to whoever does not come.

use thumbplane::quantity::Instant;
use thumbplane::web::Serving;

use crate::support::form::form;
use crate::support::{Answer, MORNING, Person, Shop, check_in_form};

const MINUTE: i64 = 60_000_000;
const DAY: i64 = 86_400_000_000;

fn flash(answer: &Answer) -> String {
    answer.headers["set-cookie"].to_str().unwrap().split(';').next().unwrap().to_owned()
}

async fn prints(shop: &Shop, deed: &str) -> i64 {
    sqlx::query_scalar("SELECT count(*) FROM event WHERE deed = ?")
        .bind(deed)
        .fetch_one(shop.app.db.read())
        .await
        .unwrap()
}

/// A second instrument of the same customer, by the page that the first one's press led to.
async fn checks_in_another(desk: &Person<'_>, page: &str, serial: &str) -> Answer {
    let page = desk.opens(page).await;
    let another = form(&page, "/desk/check-in")
        .with("instrument", "")
        .with("family", "ukulele")
        .with("serial", serial)
        .with("complaint", "The action is high.");
    another.sent_by(desk).await
}

#[tokio::test]
async fn the_tickets_of_one_visit_go_to_the_printer_together_and_none_is_a_copy() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let mut first = check_in_form("one");
    first.push(("then", "another"));
    let next = desk.sends("/desk/check-in", &first).await.location.unwrap();
    let last = checks_in_another(&desk, &next, "UK-1").await;
    let page = last.location.clone().unwrap();
    let whole = desk.opens_with_cookie(&page, &flash(&last)).await;
    assert_eq!(whole.all(".leaf").len(), 2, "{page}");
    assert!(whole.has("[data-print-now]") && !whole.has(".copy"));
    assert_eq!(prints(&shop, "claim ticket printed").await, 2);
}

#[tokio::test]
async fn each_ticket_of_a_visit_has_a_copy_mark_of_its_own() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let mut first = check_in_form("one");
    first.push(("then", "another"));
    let next = desk.sends("/desk/check-in", &first).await.location.unwrap();
    // the second is checked in by itself: only its own ticket is printed
    let alone = checks_in_another(&desk, &next.replace("&visit=whole", ""), "UK-1").await.location.unwrap();
    let whole = desk.opens(&format!("{alone}?visit=whole")).await;
    assert_eq!(whole.all(".leaf").len(), 2);
    assert_eq!(whole.all(".leaf .copy").len(), 1, "the other was never printed");
    assert!(whole.all(".leaf")[0].contains("Copy"));
}

#[tokio::test]
async fn a_check_in_pressed_twice_prints_one_ticket_that_is_no_copy() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let form = check_in_form("twice");
    let first = desk.sends("/desk/check-in", &form).await;
    let second = desk.sends("/desk/check-in", &form).await;
    assert_eq!(first.location, second.location);
    let ticket = desk.opens_with_cookie(&second.location.clone().unwrap(), &flash(&second)).await;
    assert!(ticket.has("[data-print-now]") && !ticket.has(".copy"));
    assert_eq!(prints(&shop, "claim ticket printed").await, 1);
}

#[tokio::test]
async fn a_copy_names_the_moment_of_the_print_before_it() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    shop.clock.set(Instant(MORNING.0 + 90 * MINUTE));
    let id = job.rsplit('/').next().unwrap();
    let pressed = desk.sends(&format!("/desk/papers/claim-ticket/{id}"), &[]).await;
    let copy = desk.opens_with_cookie(&pressed.location.clone().unwrap(), &flash(&pressed)).await;
    // 10:00 and 11:30 UTC, an hour later by the shop's clock
    assert_eq!(copy.all(".copy"), ["Copy: printed once before, last on Wed 14 Oct 2026 11:00"]);
}

#[tokio::test]
async fn a_label_is_printed_in_the_size_that_was_chosen() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let id = job.rsplit('/').next().unwrap();
    for label in ["tag", "shelf-label"] {
        let page = desk.opens(&format!("{job}/{label}?size=four-by-six")).await;
        let pressed = form(&page, &format!("/desk/papers/{label}/{id}")).sent_by(&desk).await;
        let printed = desk.opens_with_cookie(&pressed.location.clone().unwrap(), &flash(&pressed)).await;
        assert!(printed.has("body.four-by-six") && printed.has("[data-print-now]"), "{label}");
    }
}

#[tokio::test]
async fn a_scanner_works_on_papers_as_on_pages() {
    let shop = Shop::open().await;
    let (desk, ivo) = (shop.desk().await, shop.bench().await);
    let job = desk.checks_in("k").await;
    assert!(desk.opens(&format!("{job}/ticket")).await.has("script[src$='scanner.js']"));
    // who may not search has no use for it
    assert!(!ivo.opens(&format!("{job}/sheet")).await.has("script[src$='scanner.js']"));
}

#[tokio::test]
async fn a_shop_without_an_address_prints_no_qr_and_the_owner_is_told() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let job = desk.checks_in("k").await;
    let ticket = desk.opens(&format!("{job}/ticket")).await;
    assert!(!ticket.has("svg.qr") && ticket.has("svg.bars") && !ticket.all("main")[0].contains("/s/"));
    assert!(ticket.visible_text().contains("no address yet"), "{}", ticket.visible_text());
    assert!(owner.opens("/office").await.visible_text().contains("Claim tickets carry no QR"));

    let serving = Serving { public_origin: Some("http://millrace.example".to_owned()), ..Serving::default() };
    let shop = Shop::open_as(serving).await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let job = desk.checks_in("k").await;
    let ticket = desk.opens(&format!("{job}/ticket")).await;
    assert!(ticket.has("svg.qr") && ticket.visible_text().contains("http://millrace.example/s/"));
    assert!(!owner.opens("/office").await.visible_text().contains("Claim tickets carry no QR"));
}

/// What the list of what is not collected says of the only job, on a day after it became ready.
async fn on_day(shop: &Shop, day: i64) -> String {
    shop.clock.set(Instant(MORNING.0 + day * DAY));
    shop.desk().await.opens("/desk/uncollected").await.all("tbody tr").join(" ")
}

async fn ready(shop: &Shop, since: Instant) {
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE job SET stage = 'ready', stage_since = ?").bind(since.0).execute(&mut *write).await.unwrap();
    write.commit().await.unwrap();
}

#[tokio::test]
async fn a_letter_sent_twice_in_a_day_is_one_letter_and_the_next_keeps_its_distance() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let print = format!("/desk/papers/collection-letter/{}", job.rsplit('/').next().unwrap());
    let subject = format!("ready.{}", job.rsplit('/').next().unwrap());
    let sent = |key| [("form_key", key), ("subject", &*subject), ("how", "letter"), ("outcome", "left-word")];
    ready(&shop, MORNING).await;
    assert!(on_day(&shop, 14).await.contains("letter due"));
    // nobody found the time before day 29; the printer jammed once
    assert!(on_day(&shop, 29).await.contains("letter due"));
    let desk = shop.desk().await;
    desk.sends(&print, &[]).await;
    desk.sends(&print, &[]).await;
    assert!(on_day(&shop, 29).await.contains("none yet"), "one that was only printed was not sent");
    for key in ["one", "two"] {
        assert_eq!(desk.sends("/desk/to-tell", &sent(key)).await.status.as_u16(), 303);
    }
    let said = on_day(&shop, 29).await;
    assert!(said.contains("1, last on Thu 12 Nov 2026"), "{said}");
    assert!(
        desk.opens(&format!("{job}/collection-letter")).await.visible_text().contains("ready since Wed 14 Oct 2026")
    );
    assert!(!desk.opens(&format!("{job}/collection-letter")).await.visible_text().contains("letter number"));
    // 14, 30, 60: the second comes sixteen days after the first, not the next morning
    assert!(!on_day(&shop, 30).await.contains("letter due"));
    assert!(!on_day(&shop, 44).await.contains("letter due"));
    assert!(on_day(&shop, 45).await.contains("letter due"));
    let desk = shop.desk().await;
    assert!(desk.opens(&format!("{job}/collection-letter")).await.visible_text().contains("letter number 2"));
}

#[tokio::test]
async fn a_job_that_came_back_and_is_ready_again_begins_its_letters_anew() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let subject = format!("ready.{}", job.rsplit('/').next().unwrap());
    let sent = [("form_key", "l"), ("subject", subject.as_str()), ("how", "letter"), ("outcome", "left-word")];
    ready(&shop, MORNING).await;
    on_day(&shop, 14).await;
    assert_eq!(shop.desk().await.sends("/desk/to-tell", &sent).await.status.as_u16(), 303);
    ready(&shop, Instant(MORNING.0 + 20 * DAY)).await;
    let said = on_day(&shop, 34).await;
    assert!(said.contains("none yet") && said.contains("letter due"), "{said}");
}
