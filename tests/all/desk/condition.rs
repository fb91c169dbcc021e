//! Nobody argues about a scratch: marks on a drawing, seen and initialled.

use crate::support::Shop;

#[tokio::test]
async fn a_tap_on_the_drawing_becomes_a_mark_without_any_script() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let page = desk.opens(&format!("{job}/condition")).await;
    assert_eq!(page.all("form input[type=image]").len(), 4, "front, back, side, headstock");
    // HTML: an image button named "at" sends at.x and at.y, pixels from its top left
    let tapped = desk.opens(&format!("{job}/condition?side=back&at.x=60&at.y=270")).await;
    assert_eq!((tapped.value("x_permille").as_str(), tapped.value("y_permille").as_str()), ("250", "750"));
    let mark = [
        ("form_key", "m"),
        ("side", "back"),
        ("x_permille", "250"),
        ("y_permille", "750"),
        ("what", "scratch"),
        ("note", "2 cm"),
    ];
    assert_eq!(desk.sends(&format!("{job}/condition"), &mark).await.status.as_u16(), 303);
    assert_eq!(desk.sends(&format!("{job}/condition"), &mark).await.status.as_u16(), 303, "pressed twice");
    assert_eq!(shop.count("condition_mark").await, 2, "with the one of the check-in");
    let picture = desk.opens(&format!("{job}/condition/back.svg")).await;
    assert_eq!(picture.headers["content-type"], "image/svg+xml");
    assert!(picture.text.contains("aria-label=\"Outline of the back with mark 2\""), "{}", picture.text);
    assert!(picture.text.contains("cx=\"60\" cy=\"270\""), "where it was tapped");
    let ticket = desk.opens(&format!("{job}/ticket")).await;
    assert!(ticket.visible_text().contains("back: scratch, 2 cm"));
    assert_eq!(ticket.all(".faces svg.outline").len(), 1, "only faces with a placed mark are drawn");
}

#[tokio::test]
async fn a_mark_says_what_it_is_and_lies_on_the_instrument() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let silent = [("form_key", "s"), ("side", "back"), ("x_permille", "250"), ("y_permille", "750")];
    let refused = desk.sends(&format!("{job}/condition"), &silent).await;
    assert_eq!(refused.status.as_u16(), 422);
    assert_eq!(refused.value("x_permille"), "250", "the place is not lost");
    let beside = [("form_key", "b"), ("side", "back"), ("x_permille", "1250"), ("y_permille", "750"), ("what", "dent")];
    assert_eq!(desk.sends(&format!("{job}/condition"), &beside).await.status.as_u16(), 422);
    assert_eq!(shop.count("condition_mark").await, 1);
}

#[tokio::test]
async fn initials_count_for_the_marks_that_stood_there() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let sign = |key, strokes| [("form_key", key), ("purpose", "condition"), ("strokes", strokes)];
    let path = format!("{job}/signature");
    assert_eq!(desk.sends(&path, &sign("s0", "M1,1\"/><script>")).await.status.as_u16(), 409);
    assert_eq!(desk.sends(&path, &sign("s1", "M10,20L30,40L50,20")).await.status.as_u16(), 303);
    assert_eq!(desk.sends(&path, &sign("s1", "M10,20L30,40L50,20")).await.status.as_u16(), 303);
    assert_eq!(shop.count("signature").await, 1);
    let ticket = desk.opens(&format!("{job}/ticket")).await;
    assert!(ticket.text.contains("d=\"M10,20L30,40L50,20\""));
    // a mark made afterwards was not seen by who signed
    desk.sends(&format!("{job}/condition"), &[("form_key", "a"), ("side", "front"), ("note", "another dent")]).await;
    assert!(!desk.opens(&format!("{job}/ticket")).await.text.contains("M10,20"));
    assert!(desk.opens(&format!("{job}/condition")).await.visible_text().contains("sign again"));
}

#[tokio::test]
async fn a_slip_is_taken_back_stays_on_record_and_asks_for_new_initials() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let path = format!("{job}/condition");
    desk.sends(&path, &[("form_key", "a"), ("side", "back"), ("note", "scratch that was dirt")]).await;
    let signed = [("form_key", "s"), ("purpose", "condition"), ("strokes", "M10,20L30,40")];
    desk.sends(&format!("{job}/signature"), &signed).await;
    let slip: uuid::Uuid = sqlx::query_scalar("SELECT id FROM condition_mark WHERE number = 2")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    let back = format!("/desk/condition/{slip}/take-back");
    assert!(desk.opens(&path).await.has(&format!("form[action='{back}']")));
    for press in ["once", "twice"] {
        assert_eq!(desk.sends(&back, &[]).await.location.as_deref(), Some(path.as_str()), "{press}");
    }
    // a new mark takes no old number, and makes up for nothing that was signed
    desk.sends(&path, &[("form_key", "b"), ("side", "front"), ("note", "nick at the edge")]).await;
    let page = desk.opens(&path).await;
    assert!(!page.visible_text().contains("dirt") && page.has("ol li[value='3']"), "{}", page.visible_text());
    assert!(page.visible_text().contains("sign again"));
    assert!(!desk.opens(&format!("{job}/ticket")).await.text.contains("M10,20"));
    let kept: i64 = sqlx::query_scalar(
        "SELECT count(*) FROM event WHERE deed = 'condition mark taken back' AND before_json LIKE '%dirt%'",
    )
    .fetch_one(shop.app.db.read())
    .await
    .unwrap();
    assert_eq!(kept, 1, "once, with what it said");
    // once it has gone home the state it came in is settled
    let home = [("version", "1"), ("to", "closed-unrepaired"), ("reason", "No.")];
    desk.sends(&format!("{job}/stage"), &home).await;
    let late = desk.sends(&path, &[("form_key", "c"), ("side", "back"), ("note", "new crack")]).await;
    assert_eq!(late.status.as_u16(), 422, "{}", late.visible_text());
    assert!(late.visible_text().contains("26-0001 has left the house"), "{}", late.visible_text());
    assert_eq!(desk.sends(&back, &[]).await.status.as_u16(), 303, "it is taken back already");
    let first: uuid::Uuid = sqlx::query_scalar("SELECT id FROM condition_mark WHERE number = 1")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(desk.sends(&format!("/desk/condition/{first}/take-back"), &[]).await.status.as_u16(), 409);
}

#[tokio::test]
async fn every_family_is_drawn_on_every_side() {
    use thumbplane::drawing::outline::{Body, Mark, MarkSize, View, outline};
    let waisted = Body::Waisted { upper: 70.0, waist: 58.0, lower: 98.0 };
    for body in [waisted, Body::Horned, Body::Drop, Body::Round] {
        for view in [View::Front, View::Back, View::Side, View::Headstock] {
            let mark = Mark { number: Some(7), x_permille: 1000, y_permille: -5 };
            let svg = outline(body, view, 3, &[mark], MarkSize::Screen, "a \"b\" <c>");
            assert!(
                svg.contains("viewBox=\"0 0 240 360\"") && svg.contains("aria-label=\"a &quot;b&quot; &lt;c&gt;\"")
            );
            assert!(svg.contains("cx=\"240\" cy=\"0\"") && svg.contains(">7</text>"), "held on the drawing: {svg}");
            assert!(!svg.contains("style="));
        }
    }
}

#[tokio::test]
async fn marks_and_initials_come_before_the_ticket_and_the_signed_ticket_is_no_copy() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let mut form = crate::support::check_in_form("k");
    form.retain(|(name, _)| !name.starts_with("mark_"));
    form.push(("then", "condition"));
    // more than four are written at once
    for (side, note) in [
        ("mark_side_1", "mark_note_1"),
        ("mark_side_2", "mark_note_2"),
        ("mark_side_3", "mark_note_3"),
        ("mark_side_4", "mark_note_4"),
        ("mark_side_5", "mark_note_5"),
        ("mark_side_6", "mark_note_6"),
    ] {
        form.extend([(side, "front"), (note, "dent")]);
    }
    let condition = desk.sends("/desk/check-in", &form).await.location.unwrap();
    assert!(condition.ends_with("/condition"), "{condition}");
    assert_eq!((shop.count("condition_mark").await, shop.count("paper_print").await), (6, 0), "nothing is printed yet");
    let job = condition.trim_end_matches("/condition").to_owned();
    let print = format!("/desk/papers/claim-ticket/{}", job.rsplit('/').next().unwrap());
    assert!(desk.opens(&condition).await.has(&format!("form[action='{print}'] button")), "the state's page prints it");
    desk.sends(&print, &[]).await;
    assert!(!desk.opens(&condition).await.has(&format!("form[action='{print}'] button")));
    // initialled afterwards, the ticket with the initials replaces the one before: it is the original
    shop.clock.set(thumbplane::quantity::Instant(crate::support::MORNING.0 + 60_000_000));
    let drawn = [("form_key", "s"), ("purpose", "condition"), ("strokes", "M1,1L2,2")];
    desk.sends(&format!("{job}/signature"), &drawn).await;
    let ticket = desk.opens(&format!("{job}/ticket")).await;
    assert_eq!(ticket.all(".copy"), ["With the initials: this replaces what was printed before"]);
    shop.clock.set(thumbplane::quantity::Instant(crate::support::MORNING.0 + 90_000_000));
    desk.sends(&print, &[]).await;
    shop.clock.set(thumbplane::quantity::Instant(crate::support::MORNING.0 + 180_000_000));
    assert!(desk.opens(&format!("{job}/ticket")).await.all(".copy")[0].starts_with("Copy: printed once before"));
}

#[tokio::test]
async fn a_ticket_without_marks_says_that_no_damage_was_seen() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let mut form = crate::support::check_in_form("k");
    form.retain(|(name, _)| !name.starts_with("mark_"));
    let ticket = desk.sends("/desk/check-in", &form).await.location.unwrap();
    assert!(desk.opens(&ticket).await.visible_text().contains("State it came in: no damage seen."));
    let marked = desk.checks_in("marked").await;
    assert!(!desk.opens(&format!("{marked}/ticket")).await.visible_text().contains("no damage seen"));
}
