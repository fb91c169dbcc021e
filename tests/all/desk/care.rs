//! Yearly care: who is due, what is changed, and what the letter says.

use axum::http::StatusCode;
use thumbplane::quantity::parse_day;
use thumbplane::records::care::next_due;
use time::macros::date;

use crate::support::Shop;
use crate::support::form::form;

/// A customer whose steel-string is due for a look over, and oil in autumn; answers the instrument's key.
async fn due(shop: &Shop) -> uuid::Uuid {
    shop.desk().await.checks_in("k").await;
    let id: uuid::Uuid = sqlx::query_scalar("SELECT id FROM instrument").fetch_one(shop.app.db.read()).await.unwrap();
    let mut write = shop.app.db.write().await.unwrap();
    for (kind, day) in [("look-over", "2026-10-20"), ("oil-tuners", "2026-10-21")] {
        sqlx::query(
            "INSERT INTO care_plan (id, instrument_id, kind, every_months, last_done_on, next_due_on)
             VALUES (?, ?, ?, 12, '2025-10-20', ?)",
        )
        .bind(uuid::Uuid::now_v7())
        .bind(id)
        .bind(kind)
        .bind(day)
        .execute(&mut *write)
        .await
        .unwrap();
    }
    write.commit().await.unwrap();
    id
}

async fn changes(shop: &Shop, sql: &'static str) {
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::query(sql).execute(&mut *write).await.unwrap();
    write.commit().await.unwrap();
}

#[tokio::test]
async fn what_is_put_away_and_who_is_forgotten_is_nobody_to_write_to() {
    for change in [
        "UPDATE instrument SET archived_on = '2026-10-01'",
        "UPDATE customer SET archived_on = '2026-10-01'",
        "UPDATE customer SET anonymised_on = '2026-10-01'",
    ] {
        let shop = Shop::open().await;
        due(&shop).await;
        let (desk, owner) = (shop.desk().await, shop.owner().await);
        assert!(desk.opens("/desk/care").await.visible_text().contains("Maren Oakhollow"));
        changes(&shop, change).await;
        assert!(!desk.opens("/desk/care").await.has("tbody tr"), "{change}");
        assert!(owner.opens("/office").await.all(".tally li").contains(&"0 cares due soon".to_owned()), "{change}");
    }
}

#[tokio::test]
async fn paused_care_is_taken_up_again_from_the_instrument() {
    let shop = Shop::open().await;
    let id = due(&shop).await;
    let desk = shop.desk().await;
    let care: uuid::Uuid = sqlx::query_scalar("SELECT id FROM care_plan WHERE kind = 'look-over'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    desk.sends(&format!("/desk/care/{care}/pause"), &[]).await;
    let instrument = desk.opens(&format!("/desk/instruments/{id}")).await;
    assert!(instrument.has(&format!("a[href='/desk/care/{care}']")) && instrument.visible_text().contains("paused"));
    let path = format!("/desk/care/{care}");
    let page = form(&desk.opens(&path).await, &path);
    assert_eq!(page.value("paused"), "yes");
    let taken_up = page.without("paused").sent_by(&desk).await;
    assert_eq!(taken_up.location, Some(format!("/desk/instruments/{id}")));
    assert!(desk.opens("/desk/care").await.visible_text().contains("look the instrument over"));
}

#[tokio::test]
async fn how_often_and_in_which_month_is_the_desks_to_change_and_the_next_day_follows() {
    let shop = Shop::open().await;
    due(&shop).await;
    let desk = shop.desk().await;
    let care: uuid::Uuid = sqlx::query_scalar("SELECT id FROM care_plan WHERE kind = 'look-over'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    let path = format!("/desk/care/{care}");
    let opened = form(&desk.opens(&path).await, &path);
    let refused = opened.with("every_months", "often").sent_by(&desk).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(refused.value("every_months"), "often");
    let half = form(&refused, &path).with("every_months", "6").sent_by(&desk).await;
    assert_eq!(half.status, StatusCode::SEE_OTHER);
    let next = || sqlx::query_scalar::<_, String>("SELECT next_due_on FROM care_plan WHERE kind = 'look-over'");
    assert_eq!(next().fetch_one(shop.app.db.read()).await.unwrap(), "2026-04-20");
    let may = form(&desk.opens(&path).await, &path).with("every_months", "12").with("suits_month", "5");
    assert_eq!(may.sent_by(&desk).await.status, StatusCode::SEE_OTHER);
    assert_eq!(next().fetch_one(shop.app.db.read()).await.unwrap(), "2026-05-01");
    // two people
    assert_eq!(may.sent_by(&desk).await.status, StatusCode::CONFLICT);
}

#[test]
fn care_every_other_year_leaves_one_season_out() {
    assert_eq!(next_due(date!(2026 - 10 - 14), 12, Some(10)), date!(2027 - 10 - 01));
    assert_eq!(next_due(date!(2026 - 10 - 14), 24, Some(10)), date!(2028 - 10 - 01));
    assert_eq!(next_due(date!(2026 - 05 - 02), 12, Some(10)), parse_day("2026-10-01").unwrap());
}

#[tokio::test]
async fn an_instrument_without_a_maker_is_called_by_its_kind_everywhere() {
    let shop = Shop::open().await;
    let id = due(&shop).await;
    changes(&shop, "UPDATE instrument SET maker = '', model = ' '").await;
    let desk = shop.desk().await;
    let link = format!("a[href='/desk/instruments/{id}']");
    let customer: uuid::Uuid =
        sqlx::query_scalar("SELECT id FROM customer").fetch_one(shop.app.db.read()).await.unwrap();
    for page in
        ["/desk/care".to_owned(), format!("/desk/customers/{customer}"), "/desk/search?part=hits&q=TW-4471".to_owned()]
    {
        let named = desk.opens(&page).await.all(&link);
        assert!(
            named.iter().all(|name| name.contains("steel-string guitar")) && !named.is_empty(),
            "{page}: {named:?}"
        );
    }
    assert!(desk.opens("/desk").await.visible_text().contains("steel-string guitar"));
}

#[tokio::test]
async fn the_care_letter_says_what_the_owner_wrote() {
    let shop = Shop::open().await;
    let id = due(&shop).await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let letter = format!("/desk/instruments/{id}/care-letter");
    assert!(desk.opens(&letter).await.visible_text().contains("Once a year an instrument needs a little attention"));
    let papers = form(&owner.opens("/office/papers").await, "/office/papers");
    let saved = papers.with("care_words", "The weir is low, and so is the air.").sent_by(&owner).await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.visible_text());
    let said = desk.opens(&letter).await.visible_text();
    assert!(
        said.contains("The weir is low, and so is the air.") && said.contains("look the instrument over"),
        "{said}"
    );
    assert!(!said.contains("Once a year an instrument"), "{said}");
}

#[tokio::test]
async fn what_has_been_due_for_years_does_not_hide_what_is_due_now() {
    let shop = Shop::open().await;
    due(&shop).await;
    // two hundred and fifty instruments of hers that nobody brought since
    changes(
        &shop,
        "INSERT INTO instrument (id, customer_id, family, maker, model, serial, finish, handedness, scale_um, frets, body_fret,
             courses, truss_rod, bridge, saddle, nut_material, saddle_material, string_set, top_wood, note, created_at, form_key)
         SELECT unhex(printf('%032x', value)), customer_id, family, 'Old', 'No. ' || value, '', '', handedness, scale_um, frets,
             body_fret, courses, truss_rod, '', '', '', '', '', '', '', 0, 'old' || value
         FROM instrument, (WITH RECURSIVE n (value) AS (SELECT 1 UNION ALL SELECT value + 1 FROM n WHERE value < 250)
                           SELECT value FROM n)",
    )
    .await;
    changes(
        &shop,
        "INSERT INTO care_plan (id, instrument_id, kind, every_months, next_due_on)
         SELECT id, id, 'look-over', 12, date('2019-01-01', '+' || CAST(substr(form_key, 4) AS INTEGER) || ' days')
         FROM instrument WHERE maker = 'Old'",
    )
    .await;
    let desk = shop.desk().await;
    let now = desk.opens("/desk/care").await;
    assert!(
        now.visible_text().contains("Thistlewade OM-2") && now.visible_text().contains("Tue 20 Oct 2026"),
        "{}",
        now.visible_text()
    );
    assert!(!now.visible_text().contains("Old No. 1 "), "the oldest are on another page");
    let longer = scraper::Selector::parse("a[href^='/desk/care?before=']").unwrap();
    let longer = now.page().select(&longer).next().unwrap().attr("href").unwrap().to_owned();
    let then = desk.opens(&longer).await;
    assert!(
        then.visible_text().contains("Old No. 1 ") && !then.visible_text().contains("Thistlewade"),
        "{}",
        then.visible_text()
    );
    // soonest first on each, every line on one of them
    let lines = |page: &crate::support::Answer| page.all("form[action$='/done']").len();
    assert_eq!((lines(&now), lines(&then)), (200, 52));
    assert!(then.has("a[href='/desk/care']") && !then.has("a[href^='/desk/care?']"));
}
