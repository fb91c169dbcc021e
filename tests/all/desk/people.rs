//! Customers as such: written down without a check-in, with as many numbers as they have, and merged field by field.

use axum::http::StatusCode;
use uuid::Uuid;

use crate::support::{Shop, check_in_form};

async fn hits(shop: &Shop, typed: &str) -> Vec<String> {
    let encoded: String = form_urlencoded::byte_serialize(typed.as_bytes()).collect();
    shop.desk().await.opens(&format!("/desk/search?part=hits&q={encoded}")).await.all(".hits strong")
}

#[tokio::test]
async fn somebody_is_written_down_without_an_instrument_with_three_numbers_and_a_nickname() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let page = desk.opens("/desk/customers/new?name=Ruben").await;
    assert_eq!(page.value("name"), "Ruben");
    let form = page.form("/desk/customers/new");
    let typed = [
        ("name", "Ruben Hask"),
        ("nickname", "Flatpick"),
        ("telephone", "01632 960101"),
        ("telephone_2", "07700 900321"),
        ("telephone_label_2", "his brother"),
        ("telephone_3", "ring at the bakery"),
        ("telephone_label_3", "no telephone of his own"),
    ];
    let added = desk.sends_form("/desk/customers/new", &form, &typed).await;
    assert_eq!(added.status, StatusCode::SEE_OTHER, "{}", added.visible_text());
    let seen = desk.opens(&added.location.unwrap()).await.visible_text();
    for words in ["Flatpick", "his brother", "07700 900321", "ring at the bakery", "no telephone of his own"] {
        assert!(seen.contains(words), "{words} in {seen}");
    }
    for asked in ["flatpick", "07700 900321", "900321", "+44 7700 900321"] {
        assert_eq!(hits(&shop, asked).await, ["Ruben Hask"], "{asked}");
    }
    // the same person is asked about here, too
    let page = desk.opens("/desk/customers/new").await;
    let again =
        desk.sends_form("/desk/customers/new", &page.form("/desk/customers/new"), &[("name", "Hask, Ruben")]).await;
    assert_eq!(again.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(shop.count("customer").await, 1);
}

#[tokio::test]
async fn a_number_that_no_telephone_has_needs_words_and_a_letter_needs_an_address() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let refused = async |typed: &[(&str, &str)], field: &str| {
        let page = desk.opens("/desk/customers/new").await;
        let answer = desk.sends_form("/desk/customers/new", &page.form("/desk/customers/new"), typed).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{typed:?}");
        assert!(answer.has(&format!("#error-{field}")), "{typed:?}: {}", answer.visible_text());
    };
    refused(&[("name", "A"), ("telephone", "0163")], "telephone").await;
    refused(&[("name", "A"), ("telephone_2", "0163")], "telephone_2").await;
    refused(&[("name", "A"), ("reach_by", "letter")], "address").await;
    // words say what it is: beside it, or in its place
    for (place, typed) in [
        [("telephone", "0163"), ("telephone_label", "inside the mill")],
        [("telephone", "ask at the mill"), ("telephone_label", "")],
    ]
    .iter()
    .enumerate()
    {
        let page = desk.opens("/desk/customers/new").await;
        let name = if place == 0 { "Wren Hollow" } else { "Tom Sprigg" };
        let typed = [typed.as_slice(), &[("name", name)]].concat();
        let taken = desk.sends_form("/desk/customers/new", &page.form("/desk/customers/new"), &typed).await;
        assert_eq!(taken.status, StatusCode::SEE_OTHER, "{typed:?}: {}", taken.visible_text());
    }
    let mut form = check_in_form("letter");
    form.iter_mut().find(|(field, _)| *field == "reach_by").unwrap().1 = "letter";
    let asked = desk.sends("/desk/check-in", &form).await;
    assert!(asked.has("#error-address"), "{}", asked.visible_text());
    form.push(("address", "3 Sluice Lane"));
    assert_eq!(desk.sends("/desk/check-in", &form).await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn two_records_become_one_field_by_field() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("one").await;
    let mut second = check_in_form("two");
    for (field, value) in &mut second {
        match *field {
            "name" => *value = "Maren Oakholow-Brook",
            "telephone" => *value = "07700 900321",
            "email" => *value = "maren@brook.example",
            "serial" => *value = "TW-9",
            _ => {}
        }
    }
    desk.sends("/desk/check-in", &second).await;
    let ids: Vec<Uuid> = sqlx::query_scalar("SELECT id FROM customer ORDER BY created_at, id")
        .fetch_all(shop.app.db.read())
        .await
        .unwrap();
    let (kept, lost) = (ids[0], ids[1]);
    let path = format!("/desk/customers/{kept}/merge");
    let page = desk.opens(&format!("{path}?from={lost}")).await;
    let form = page.form(&path).with("name", "other").with("email", "other");
    let merged = form.sent_by(&desk).await;
    assert_eq!(merged.status, StatusCode::SEE_OTHER, "{}", merged.visible_text());
    let change = desk.opens(&format!("/desk/customers/{kept}/change")).await;
    assert_eq!(change.value("name"), "Maren Oakholow-Brook");
    assert_eq!(change.value("telephone"), "01632 960101");
    assert_eq!(change.value("telephone_2"), "07700 900321", "the other number is one more");
    assert_eq!(change.value("email"), "maren@brook.example");
    let note = change.value("note");
    assert!(note.contains("Also Maren Oakhollow") && note.contains("Also maren@oakhollow.example"), "{note}");
}
