//! Plain HTTP on the shop's own network: browsers throw Secure cookies away there and send no Fetch
//! Metadata, and signing in must work all the same, with a word to the owner.

use super::driver::Browser;
use crate::command::Running;

#[tokio::test(flavor = "multi_thread")]
async fn signing_in_over_the_shops_own_network_works_and_warns_the_owner() {
    let demo = Running::demo();
    let port = demo.address.rsplit(':').next().unwrap().to_owned();
    let owner = Browser::open(1280, 900, &["--host-resolver-rules=MAP shop.example 127.0.0.1"]).await;
    let origin = format!("http://shop.example:{port}");
    owner.signs_in(&origin, "Ottilie").await;
    assert!(owner.text().await.contains("Not private"), "{}", owner.text().await);
    // and a form still passes the cross-site check
    owner.goes_to(&format!("{origin}/desk/care")).await;
    owner.clicks("form[action$='/pause'] button").await;
    owner.waits_for(".flash").await;
    owner.closes().await;

    let desk = Browser::of(&origin, "Mirel", (1280, 900), &["--host-resolver-rules=MAP shop.example 127.0.0.1"]).await;
    assert!(!desk.text().await.contains("Not private"), "only the owner is told");
    desk.closes().await;
}
