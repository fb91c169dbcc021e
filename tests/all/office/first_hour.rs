//! `/office/first-hour`: an empty folder becomes a shop of its own; nothing of another shop is in it.

use axum::http::StatusCode;
use thumbplane::clock::Clock;
use thumbplane::records::{AuditContext, Door, staff::Roles};
use thumbplane::records::{Db, session, staff};

use crate::support::{MORNING, Shop, check_in_form};

/// A shop out of an empty folder, with its owner alone.
async fn new_shop() -> (Shop, String) {
    let shop = Shop::open().await;
    // the furnished file is emptied of what only the test's shop has
    let folder = tempfile::TempDir::new().unwrap();
    let db = Db::open(folder.path()).await.unwrap();
    let mut tx = db.write().await.unwrap();
    thumbplane::command::furnish(&mut tx, MORNING).await.unwrap();
    let by = AuditContext { staff: None, door: Door::Command, at: MORNING };
    let roles = Roles { desk: true, bench: true, owner: true };
    let id = staff::add(&mut tx, &by, None, "Sorrel", roles, "no password").await.unwrap();
    let token = session::begin(&mut tx, id, "test", MORNING).await.unwrap();
    tx.commit().await.unwrap();
    let clock = Clock::fixed(MORNING, "UTC").unwrap();
    (shop.in_place_of(db, clock, folder), token)
}

#[tokio::test]
async fn a_new_shop_has_nothing_of_another_shop() {
    let (shop, token) = new_shop().await;
    let owner = shop.with_token(&token);
    for page in ["/office/first-hour", "/office/settings", "/office", "/desk"] {
        let text = owner.opens(page).await.text;
        for foreign in ["Millrace", "Sluice Lane", "01632", "millrace.example", "VAT"] {
            assert!(!text.contains(foreign), "{foreign} on {page}");
        }
    }
}

#[tokio::test]
async fn five_steps_lead_to_a_shop_of_ones_own_and_until_then_nothing_is_printed() {
    let (shop, token) = new_shop().await;
    let owner = shop.with_token(&token);
    let checked_in = owner.sends("/desk/check-in", &check_in_form("early")).await;
    assert_eq!(checked_in.status, StatusCode::SEE_OTHER, "{}", checked_in.visible_text());
    assert_eq!(shop.count("paper_print").await, 0, "no ticket without a name");
    let job = checked_in.location.unwrap();
    let id = job.trim_start_matches("/desk/jobs/").trim_end_matches("/ticket").to_owned();
    owner.sends(&format!("/desk/papers/claim-ticket/{id}"), &[]).await;
    assert_eq!(shop.count("paper_print").await, 0);
    let path = "/office/first-hour";
    let missing = owner.opens(path).await.form(path).sent_by(&owner).await;
    assert_eq!(missing.status, StatusCode::UNPROCESSABLE_ENTITY);
    for field in ["shop_name", "address", "country"] {
        assert!(missing.has(&format!("#error-{field}")), "{field}: {}", missing.visible_text());
    }
    let form = owner.opens(path).await.form(path);
    let typed = [
        ("shop_name", "Weirside Strings"),
        ("address", "1 Mill Walk\nNetherford"),
        ("country", "IE"),
        ("time_zone", "Europe/Dublin"),
        ("public_address", "https://repairs.example/"),
    ];
    let done = owner.sends_form(path, &form, &typed).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.visible_text());
    let test_print = owner.opens("/office/first-hour/test-print").await;
    assert!(test_print.visible_text().contains("Weirside Strings") && test_print.has("svg.bars"));
    for _ in ["money", "people", "hours", "targets"] {
        let step = owner.opens(path).await.form(path).sent_by(&owner).await;
        assert_eq!(step.status, StatusCode::SEE_OTHER, "{}", step.visible_text());
    }
    assert!(owner.opens(path).await.has("a[href='/desk/check-in']"), "and then the first instrument");
    // the hours that were right are those of the calendar
    let week = owner.opens("/office/calendar").await.all("table.week tbody td");
    assert_eq!((week.first().map(String::as_str), week.last().map(String::as_str)), (Some("6 h"), Some("30 h")));
    owner.sends(&format!("/desk/papers/claim-ticket/{id}"), &[]).await;
    assert_eq!(shop.count("paper_print").await, 1);
    let ticket = owner.opens(&job).await;
    assert!(ticket.visible_text().contains("Weirside Strings"));
    assert!(ticket.visible_text().contains("https://repairs.example/s/"), "{}", ticket.visible_text());
}

#[tokio::test]
async fn the_public_address_is_a_scheme_and_a_name_and_nothing_else() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    for (typed, status) in [
        ("repairs.example", 422),
        ("https://repairs.example/desk", 422),
        ("https://", 422),
        ("https://repairs.example", 303),
        ("", 303),
    ] {
        let form = owner.opens("/office/settings").await.form("/office/settings").with("public_address", typed);
        assert_eq!(form.sent_by(&owner).await.status.as_u16(), status, "{typed}");
    }
}
