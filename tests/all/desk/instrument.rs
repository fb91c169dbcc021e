//! The instrument's own page: lengths as the shop measures, bounds, rows, and visits of many years.

use axum::http::StatusCode;
use uuid::Uuid;

use crate::support::Shop;

async fn instrument(shop: &Shop) -> String {
    let id: Uuid = sqlx::query_scalar("SELECT id FROM instrument").fetch_one(shop.app.db.read()).await.unwrap();
    format!("/desk/instruments/{id}")
}

async fn measures_in_inches(shop: &Shop) {
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE settings SET length_unit = 'inch'").execute(&mut *write).await.unwrap();
    write.commit().await.unwrap();
}

#[tokio::test]
async fn in_a_shop_that_measures_in_inches_a_page_saved_untouched_changes_no_length() {
    let shop = Shop::open().await;
    measures_in_inches(&shop).await;
    let desk = shop.desk().await;
    desk.checks_in("k").await;
    let path = instrument(&shop).await;
    let lengths = "SELECT group_concat(coalesce(gauge_um, '') || ' ' || coalesce(core_um, '') || ' ' ||
                       coalesce(position_um, '') || ' ' || coalesce(linear_density_ug_per_m, ''))
                   || ' ' || scale_um || ' ' || coalesce(radius_nut_um, '') || ' ' || coalesce(radius_end_um, '')
                   || ' ' || coalesce(top_width_um, '')
                   FROM instrument JOIN instrument_string ON instrument_id = instrument.id";
    // a top width, so that every length of the page is there
    let page = desk.opens(&path).await;
    assert!(page.visible_text().contains("inches, or add mm"), "{}", page.visible_text());
    let wide = desk.sends_form(&path, &page.form(&path), &[("top_width", "15 5/8")]).await;
    assert_eq!(wide.status, StatusCode::SEE_OTHER, "{}", wide.text);
    let before: String = sqlx::query_scalar(lengths).fetch_one(shop.app.db.read()).await.unwrap();
    assert!(before.ends_with(" 396875"), "15 5/8 in: {before}");
    let page = desk.opens(&path).await;
    let saved = desk.sends_form(&path, &page.form(&path), &[]).await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.text);
    let after: String = sqlx::query_scalar(lengths).fetch_one(shop.app.db.read()).await.unwrap();
    assert_eq!(before, after);
}

#[tokio::test]
async fn in_a_shop_that_measures_in_inches_history_and_strings_are_said_in_inches() {
    let shop = Shop::with_story().await;
    measures_in_inches(&shop).await;
    let desk = shop.desk().await;
    let busiest: Uuid = sqlx::query_scalar(
        "SELECT job.instrument_id FROM job JOIN reading_set ON reading_set.job_id = job.id
         GROUP BY job.instrument_id ORDER BY count(DISTINCT job.id) DESC, count(*) DESC LIMIT 1",
    )
    .fetch_one(shop.app.db.read())
    .await
    .unwrap();
    let history = desk.opens(&format!("/desk/instruments/{busiest}/history")).await;
    let read = history.all("section details td.figure");
    assert!(read.iter().any(|value| value.ends_with(" in")) && !read.iter().any(|value| value.ends_with(" mm")));
    let proofs = history.all("#last-plan td.figure");
    assert!(!proofs.is_empty() && !proofs.iter().any(|value| value.contains("mm")), "{proofs:?}");
    let sets = shop.owner().await.opens("/office/string-sets").await;
    assert!(
        sets.visible_text().contains("Gauges in inches, w: wound") && sets.visible_text().contains("0.012"),
        "{}",
        sets.visible_text()
    );
}

#[tokio::test]
async fn a_board_or_a_top_of_nothing_is_refused_at_its_field() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("k").await;
    let path = instrument(&shop).await;
    let form = desk.opens(&path).await.form(&path);
    for (typed, at) in [
        (vec![("top_width", "0")], "top_width"),
        (vec![("radius_nut", "0"), ("radius_end", "")], "radius_nut"),
        (vec![("radius_nut", "0"), ("radius_end", "300")], "radius_nut"),
        (vec![("radius_nut", "400"), ("radius_end", "300")], "radius_end"),
        (vec![("frets", "20"), ("body_fret", "22")], "body_fret"),
    ] {
        let refused = desk.sends_form(&path, &form, &typed).await;
        assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{typed:?}");
        assert!(refused.has(&format!("#error-{at}")) && refused.has(&format!(".problems a[href='#field-{at}']")));
        assert_eq!(refused.value(typed[0].0), typed[0].1, "what was typed comes back");
    }
}

#[tokio::test]
async fn a_price_beyond_what_the_books_hold_is_refused_at_its_field() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let job = desk.checks_in("k").await;
    let line = [("form_key", "w"), ("service", ""), ("words", "Build it anew"), ("price", "1000000.01")];
    let refused = desk.sends(&format!("{job}/work"), &line).await;
    assert_eq!((refused.status, refused.value("price").as_str()), (StatusCode::UNPROCESSABLE_ENTITY, "1000000.01"));
    assert!(refused.visible_text().contains("The most that fits here is £1,000,000.00"), "{}", refused.visible_text());
    let part = [("form_key", "p"), ("name", "Gold wire"), ("unit", "metre"), ("price", "1000000.01")];
    assert_eq!(owner.sends("/office/parts", &part).await.status, StatusCode::UNPROCESSABLE_ENTITY);
    let most = [("form_key", "w"), ("service", ""), ("words", "Build it anew"), ("price", "1000000.00")];
    assert_eq!(desk.sends(&format!("{job}/work"), &most).await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn an_instrument_of_many_strings_gets_its_rows_at_once_and_keeps_what_was_typed() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    desk.checks_in("k").await;
    let path = instrument(&shop).await;
    let set: Uuid =
        sqlx::query_scalar("SELECT id FROM string_set LIMIT 1").fetch_one(shop.app.db.read()).await.unwrap();
    let set = format!("/office/string-sets/{set}");
    for (person, path, changed) in [(&desk, &path, "maker"), (&owner, &set, "name")] {
        let page = person.opens(path).await;
        assert!(!page.has("[name=pitch_12]"));
        let more = [("rows", "12"), ("then", "rows"), (changed, "Half typed")];
        let shown = person.sends_form(path, &page.form(path), &more).await;
        assert_eq!(shown.status, StatusCode::OK, "{path}");
        assert!(shown.has("[name=pitch_12]"), "{path}");
        assert_eq!(shown.value(changed), "Half typed");
        assert_eq!(person.opens(path).await.value(changed), page.value(changed), "nothing is saved by it");
    }
}

#[tokio::test]
async fn the_visits_of_many_years_come_a_page_at_a_time() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    for visit in 0..23 {
        let key = format!("v{visit}");
        let id: Option<Uuid> =
            sqlx::query_scalar("SELECT id FROM instrument").fetch_optional(shop.app.db.read()).await.unwrap();
        let job = match id {
            None => desk.checks_in(&key).await,
            Some(id) => {
                let owner: Uuid =
                    sqlx::query_scalar("SELECT id FROM customer").fetch_one(shop.app.db.read()).await.unwrap();
                let (id, owner) = (id.to_string(), owner.to_string());
                let form = [
                    ("form_key", key.as_str()),
                    ("customer", owner.as_str()),
                    ("instrument", id.as_str()),
                    ("complaint", "Again."),
                    ("style", "light"),
                ];
                let ticket = desk.sends("/desk/check-in", &form).await.location.unwrap();
                ticket.trim_end_matches("/ticket").to_owned()
            }
        };
        let home = [("version", "1"), ("to", "closed-unrepaired"), ("reason", "No.")];
        assert_eq!(desk.sends(&format!("{job}/stage"), &home).await.status, StatusCode::SEE_OTHER);
    }
    let owner: Uuid = sqlx::query_scalar("SELECT id FROM customer").fetch_one(shop.app.db.read()).await.unwrap();
    let numbers = |from: i64, to: i64| (to..=from).rev().map(|n| format!("26-{n:04}")).collect::<Vec<_>>();
    for (path, cell) in [
        (instrument(&shop).await, ".columns section:first-child .hits strong"),
        (format!("/desk/customers/{owner}"), ".two section:first-child tbody td:first-child"),
    ] {
        let newest = desk.opens(&path).await;
        assert_eq!(newest.all(cell), numbers(23, 4), "{path}");
        let older = scraper::Selector::parse("a[href*='?older=']").unwrap();
        let older = newest.page().select(&older).next().unwrap().value().attr("href").unwrap().to_owned();
        let older = desk.opens(&older).await;
        assert_eq!(older.all(cell), numbers(3, 1), "{path}");
        assert!(older.has(&format!("a[href='{path}']")) && !older.visible_text().contains("Older visits"));
    }
}

#[tokio::test]
async fn bridge_neck_nut_and_strings_are_kept_as_typed_and_a_page_saved_untouched_changes_nothing() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("k").await;
    let path = instrument(&shop).await;
    // what cannot be turned has no pitch, and every string a course of its own: neither is asked
    let page = desk.opens(&path).await;
    assert!(!page.has("#field-screw_pitch") && !page.has("#field-post_bass") && !page.has("#field-course_1"));
    assert!(page.all("#field-bridge_kind option")[0].contains("as usual for this kind: fixed saddle"));
    let built = [
        ("family", "electric"),
        ("bridge_kind", "sprung"),
        ("screw_pitch", "0.75"),
        ("post_treble", "-11.5"),
        ("post_bass", "63"),
        ("neck_joint", "bolted"),
        ("nut", "clamping"),
        ("scale_bass", "686"),
        ("starts_at_fret_6", "5"),
        ("course_1", "1"),
        ("course_2", "1"),
        ("course_3", "2"),
        ("course_4", "2"),
        ("course_5", "3"),
        ("course_6", "3"),
    ];
    let saved = desk.sends_form(&path, &page.form(&path), &built).await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.text);
    let stands = "SELECT concat_ws(' ', bridge_kind, screw_pitch_um, post_treble_um, post_bass_um, neck_joint, nut,
                      scale_bass_um, (SELECT group_concat(coalesce(starts_at_fret, 0) || '/' || course ORDER BY number)
                                      FROM instrument_string WHERE instrument_id = instrument.id)) FROM instrument";
    let as_typed = "sprung 750 -11500 63000 bolted clamping 686000 0/1,0/1,0/2,0/2,0/3,5/3";
    let kept: String = sqlx::query_scalar(stands).fetch_one(shop.app.db.read()).await.unwrap();
    assert_eq!(kept, as_typed);
    let page = desk.opens(&path).await;
    let again = desk.sends_form(&path, &page.form(&path), &[]).await;
    assert_eq!(again.status, StatusCode::SEE_OTHER, "{}", again.text);
    let kept: String = sqlx::query_scalar(stands).fetch_one(shop.app.db.read()).await.unwrap();
    assert_eq!(kept, as_typed);
    // what the list takes elsewhere, another shop's books take in
    let out = shop.owner().await.sends("/office/export/instruments", &[]).await;
    assert!(out.text.contains("sprung,0.75,-11.5,63,bolted,clamping,686,0 0 0 0 0 5,1 1 2 2 3 3"), "{}", out.text);
}

#[tokio::test]
async fn what_cannot_be_built_is_refused_at_its_field_with_what_was_typed() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("k").await;
    let path = instrument(&shop).await;
    let form = desk.opens(&path).await.form(&path);
    for (typed, at) in [
        (vec![("screw_pitch", "50")], "screw_pitch"),
        (vec![("post_treble", "40"), ("post_bass", "-10")], "post_bass"),
        (vec![("post_treble", "40")], "post_bass"),
        (vec![("scale_bass", "20")], "scale_bass"),
        (vec![("starts_at_fret_5", "12")], "starts_at_fret_5"),
        (vec![("course_1", "1"), ("course_2", "3")], "course_1"),
        (vec![("bridge_kind", "rubber")], "bridge_kind"),
    ] {
        let refused = desk.sends_form(&path, &form, &typed).await;
        assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{typed:?}");
        assert!(refused.has(&format!("#error-{at}")), "{typed:?}: {}", refused.visible_text());
        for (name, value) in typed.iter().filter(|(name, _)| *name != "bridge_kind") {
            assert_eq!(refused.value(name), *value, "{typed:?}");
        }
    }
}

#[tokio::test]
async fn other_strings_put_on_a_banjo_leave_its_fifth_where_it_begins() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let mut form = crate::support::check_in_form("k");
    form.iter_mut().filter(|(name, _)| *name == "family").for_each(|(_, value)| *value = "banjo");
    desk.sends("/desk/check-in", &form).await;
    let path = format!("{}/strings", instrument(&shop).await);
    let set: Uuid = sqlx::query_scalar("SELECT id FROM string_set WHERE family = 'banjo' ORDER BY name LIMIT 1")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    let page = desk.opens(&format!("{path}?set={set}")).await;
    let put_on = desk.sends_form(&path, &page.form(&path), &[("all_the_same", "yes")]).await;
    assert_eq!(put_on.status, StatusCode::SEE_OTHER, "{}", put_on.text);
    let starts: String = sqlx::query_scalar(
        "SELECT group_concat(coalesce(starts_at_fret, 0), ' ' ORDER BY number) FROM instrument_string",
    )
    .fetch_one(shop.app.db.read())
    .await
    .unwrap();
    assert_eq!(starts, "0 0 0 0 5");
}
