//! The office as the owner reads it: on one sheet of paper, and on a telephone.

use super::driver::{Browser, demo};
use super::papers::{about, prints};

const PAGES: [&str; 17] = [
    "/office",
    "/office/queue",
    "/office/calendar",
    "/office/turnaround",
    "/office/turnaround?by=family",
    "/office/promises",
    "/office/minutes",
    "/office/money",
    "/office/to-order",
    "/office/audit",
    "/office/services",
    "/office/parts",
    "/office/targets",
    "/office/settings",
    "/office/papers",
    "/office/import",
    "/office/export",
];

#[tokio::test(flavor = "multi_thread")]
async fn the_evening_goes_on_one_sheet_and_no_page_of_the_office_scrolls_two_ways_on_a_telephone() {
    let (_demo, origin) = demo();
    let owner = Browser::of(&origin, "Ottilie", (1280, 900), &[]).await;
    let folder = tempfile::TempDir::new().unwrap();
    owner.goes_to(&format!("{origin}/office")).await;
    prints(&owner, &folder.path().join("evening.pdf")).await;
    assert_eq!(about(folder.path(), "evening.pdf").0, 1, "pages");
    let telephone = serde_json::json!({ "width": 390, "height": 844, "deviceScaleFactor": 1, "mobile": true });
    owner.devtools("Emulation.setDeviceMetricsOverride", telephone).await;
    let mut wide = Vec::new();
    for path in PAGES {
        owner.goes_to(&format!("{origin}{path}")).await;
        let over: i64 =
            owner.asks("return document.documentElement.scrollWidth - document.documentElement.clientWidth").await;
        if over > 0 {
            wide.push(format!("{path} by {over}"));
        }
    }
    assert!(wide.is_empty(), "{wide:?}");
    owner.closes().await;
}
