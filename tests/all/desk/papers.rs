//! Papers: printed from where they are made, and marked when printed again.

use thumbplane::web::Serving;

use crate::support::{HOST, MORNING, Shop, check_in_form};

#[tokio::test]
async fn checking_in_prints_the_ticket_and_a_second_print_says_it_is_a_copy() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let answer = desk.sends("/desk/check-in", &check_in_form("k")).await;
    let ticket = answer.location.clone().unwrap();
    let flash = answer.headers["set-cookie"].to_str().unwrap().split(';').next().unwrap().to_owned();
    let shown = desk.opens_with_cookie(&ticket, &flash).await;
    assert!(shown.has("[data-print-now]"), "the dialogue opens by itself");
    assert!(!shown.has(".copy"), "the first is no copy");
    // looked at again, what would be printed is a copy, and nothing opens by itself
    let again = desk.opens(&ticket).await;
    assert!(again.has(".copy") && !again.has("[data-print-now]"));
    let job = ticket.trim_end_matches("/ticket").trim_start_matches("/desk/jobs/");
    let printed = desk.sends(&format!("/desk/papers/claim-ticket/{job}"), &[]).await;
    assert_eq!(printed.location.as_deref(), Some(ticket.as_str()));
    assert!(desk.opens(&ticket).await.all(".copy")[0].starts_with("Copy: printed 2 times before"));
    let prints: i64 = sqlx::query_scalar("SELECT count(*) FROM event WHERE deed = 'claim ticket printed'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(prints, 2);
}

#[tokio::test]
async fn every_paper_opens_carries_the_shop_and_counts_its_prints() {
    let shop = Shop::with_story().await;
    let desk = shop.desk().await;
    let job: uuid::Uuid = sqlx::query_scalar(
        "SELECT job.id FROM job JOIN payment ON payment.job_id = job.id ORDER BY job.checked_in_at DESC LIMIT 1",
    )
    .fetch_one(shop.app.db.read())
    .await
    .unwrap();
    let instrument: uuid::Uuid =
        sqlx::query_scalar("SELECT instrument_id FROM care_plan LIMIT 1").fetch_one(shop.app.db.read()).await.unwrap();
    let quote: uuid::Uuid =
        sqlx::query_scalar("SELECT id FROM quote LIMIT 1").fetch_one(shop.app.db.read()).await.unwrap();
    for (kind, id, page) in [
        ("claim-ticket", job, format!("/desk/jobs/{job}/ticket")),
        ("tag", job, format!("/desk/jobs/{job}/tag")),
        ("shelf-label", job, format!("/desk/jobs/{job}/shelf-label")),
        ("quote", quote, format!("/desk/quotes/{quote}")),
        ("sheet", job, format!("/desk/jobs/{job}/sheet")),
        ("receipt", job, format!("/desk/jobs/{job}/receipt")),
        ("care-letter", instrument, format!("/desk/instruments/{instrument}/care-letter")),
        ("collection-letter", job, format!("/desk/jobs/{job}/collection-letter")),
    ] {
        let paper = desk.opens(&page).await;
        assert_eq!(paper.status.as_u16(), 200, "{page}");
        assert_eq!(paper.all("h1").len(), 1, "{page}");
        assert!(kind == "shelf-label" || paper.all("main")[0].contains("Millrace Strings"), "{page}");
        assert!(!paper.has(".copy"), "{page}");
        let pressed = desk.sends(&format!("/desk/papers/{kind}/{id}"), &[]).await;
        assert_eq!(pressed.location.as_deref(), Some(page.as_str()));
        // letters are each a new one, not a copy
        assert_eq!(desk.opens(&page).await.has(".copy"), kind != "collection-letter", "{page}");
    }
    assert_eq!(desk.sends(&format!("/desk/papers/poster/{job}"), &[]).await.status.as_u16(), 404);
}

#[tokio::test]
async fn several_instruments_of_one_visit_print_their_tickets_together() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let mut first = check_in_form("one");
    first.push(("then", "another"));
    let next = desk.sends("/desk/check-in", &first).await.location.unwrap();
    let page = desk.opens(&next).await;
    assert_eq!(page.value("promised_on"), "2026-10-28", "the promise is not asked twice");
    let customer = page.value("customer");
    let mut second = check_in_form("two");
    second.retain(|(field, _)| !matches!(*field, "name" | "telephone" | "email" | "is_new"));
    second.extend([("customer", customer.as_str()), ("instrument", "")]);
    second.iter_mut().find(|(field, _)| *field == "serial").unwrap().1 = "TW-2";
    let ticket = desk.sends("/desk/check-in", &second).await.location.unwrap();
    let whole = desk.opens(&format!("{ticket}?visit=whole")).await;
    assert_eq!(whole.all(".leaf").len(), 2);
    assert!(whole.visible_text().contains("26-0001") && whole.visible_text().contains("26-0002"));
    let job = ticket.trim_end_matches("/ticket").trim_start_matches("/desk/jobs/");
    let print = desk.sends(&format!("/desk/papers/claim-ticket/{job}"), &[("visit", "whole")]).await;
    assert_eq!(print.location, Some(format!("{ticket}?visit=whole")));
    // a visit on another day is another visit
    shop.clock.set(thumbplane::quantity::Instant(MORNING.0 + 86_400_000_000));
    let mut third = second.clone();
    third[0].1 = "three";
    third.iter_mut().find(|(field, _)| *field == "serial").unwrap().1 = "TW-3";
    let desk = shop.desk().await;
    let ticket = desk.sends("/desk/check-in", &third).await.location.unwrap();
    assert_eq!(desk.opens(&format!("{ticket}?visit=whole")).await.all(".leaf").len(), 1);
}

#[tokio::test]
async fn the_owner_sets_label_and_letters_and_letters_fall_due_by_their_days() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let job = desk.checks_in("k").await;
    let form =
        |days| [("version", "1"), ("label", "four-by-six"), ("letter_days", days), ("letter_words", "Please come.")];
    assert_eq!(owner.sends("/office/papers", &form("30, 14")).await.status.as_u16(), 422);
    assert_eq!(owner.sends("/office/papers", &form("soon")).await.status.as_u16(), 422);
    assert_eq!(owner.sends("/office/papers", &form("7, 30")).await.status.as_u16(), 303);
    assert!(desk.opens(&format!("{job}/tag")).await.has("body.label.four-by-six"));
    assert!(desk.opens(&format!("{job}/tag?size=roll-62")).await.has("body.label.roll-62"));
    sqlx_ready(&shop).await;
    let seen = |day: i64| {
        let shop = &shop;
        async move {
            shop.clock.set(thumbplane::quantity::Instant(MORNING.0 + day * 86_400_000_000));
            shop.desk().await.opens("/desk/uncollected").await
        }
    };
    assert!(!seen(6).await.visible_text().contains("letter due"));
    assert!(seen(7).await.visible_text().contains("letter due"));
    let id = job.trim_start_matches("/desk/jobs/");
    let desk = shop.desk().await;
    assert!(desk.opens(&format!("{job}/collection-letter")).await.visible_text().contains("Please come."));
    desk.sends(&format!("/desk/papers/collection-letter/{id}"), &[]).await;
    assert!(seen(7).await.visible_text().contains("letter due"), "one that was only printed was not sent");
    shop.clock.set(thumbplane::quantity::Instant(MORNING.0 + 7 * 86_400_000_000));
    let letter = desk.opens(&format!("{job}/collection-letter")).await;
    let sent = crate::support::form::form(&letter, "/desk/to-tell").with("outcome", "left-word");
    for _ in 0..2 {
        assert_eq!(sent.sent_by(&desk).await.status.as_u16(), 303, "pressed twice it is one letter");
    }
    assert_eq!(shop.count("telling").await, 1);
    assert!(!desk.opens(&format!("{job}/collection-letter")).await.has("form[action='/desk/to-tell']"));
    assert!(!seen(29).await.visible_text().contains("letter due"), "the first is sent");
    assert!(seen(30).await.visible_text().contains("letter due"), "the second has its own day");
}

/// Brings the only job to *ready* by the stages a job with nothing to measure goes through.
async fn sqlx_ready(shop: &Shop) {
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE job SET stage = 'ready'").execute(&mut *write).await.unwrap();
    write.commit().await.unwrap();
}

#[tokio::test]
async fn today_shows_who_is_to_be_called_with_the_number_there() {
    let shop = Shop::with_story().await;
    let desk = shop.desk().await;
    let page = desk.opens("/desk/day").await;
    assert!(page.has("a[href^='tel:+44']"), "{}", page.visible_text());
    for heading in [
        "To tell",
        "Promised for today, or late",
        "Ready to collect",
        "Quotes that wait for an answer",
        "Came in today",
    ] {
        assert!(page.all("h2").contains(&heading.to_owned()), "{heading}");
    }
    let ready: i64 = sqlx::query_scalar("SELECT count(*) FROM job WHERE stage = 'ready'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert!(page.all(".tally li").contains(&format!("{ready} ready to collect")), "{:?}", page.all(".tally li"));
}

/// A number of an attribute of the first such drawing on the page, without its unit.
fn measure(page: &crate::support::Answer, class: &str, attribute: &str) -> Vec<f64> {
    let html = page.page();
    let selector = scraper::Selector::parse(&format!("svg.{class}")).unwrap();
    let drawing = html.select(&selector).next().unwrap_or_else(|| panic!("no {class}"));
    let value = drawing.attr(attribute).unwrap();
    value.split_whitespace().map(|part| part.trim_end_matches("mm").parse().unwrap()).collect()
}

#[tokio::test]
async fn codes_on_paper_are_wide_enough_for_the_printer_that_prints_them() {
    let shop = Shop::open_as(Serving { public_origin: Some(format!("http://{HOST}")), ..Serving::default() }).await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    // bars: a quarter millimetre at least and a whole number of the printer's dots, 300 to the inch in an office, 203 on
    // labels; 12 mm high; from memory, and printers' manuals
    for (paper, dots, widest) in [
        ("ticket", 300.0, 180.0),
        ("tag?size=roll-62", 203.0, 58.0),
        ("shelf-label?size=roll-62", 203.0, 58.0),
        ("tag?size=four-by-six", 203.0, 100.0),
    ] {
        let page = desk.opens(&format!("{job}/{paper}")).await;
        let (width, modules) = (measure(&page, "bars", "width")[0], measure(&page, "bars", "viewBox")[2]);
        let module = width / modules;
        let in_dots = module * dots / 25.4;
        assert!(module >= 0.25 && (in_dots - in_dots.round()).abs() < 0.02, "{paper}: {module} mm are {in_dots} dots");
        assert!(measure(&page, "bars", "height")[0] >= 12.0 && width <= widest, "{paper}: {width} mm");
        assert!(page.visible_text().contains("26-0001"), "{paper}: the number stands beside its bars");
    }
    // QR: 0.4 mm a module and 20 mm in all, common practice; a link of its length at level M is version 4, 33 modules
    let page = desk.opens(&format!("{job}/ticket")).await;
    let (width, modules) = (measure(&page, "qr", "width")[0], measure(&page, "qr", "viewBox")[2]);
    assert!(width / modules >= 0.4 && width >= 20.0, "{width} mm for {modules} modules");
}

#[tokio::test]
async fn a_deed_on_a_job_that_is_not_there_is_a_page_that_is_not_there_and_writes_nothing() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let nowhere = "0197e2f0-0000-7000-8000-000000000000";
    let before = shop.count("event").await;
    let job = format!("/desk/jobs/{nowhere}");
    let pay = [("form_key", "p"), ("kind", "deposit"), ("method", "cash"), ("amount", "20"), ("note", "")];
    let mark = [("form_key", "m"), ("side", "back"), ("note", "scratch")];
    let signed = [("form_key", "s"), ("purpose", "condition"), ("strokes", "M1,1L2,2")];
    let forms: [(&str, &[(&str, &str)]); 3] = [("payment", &pay), ("condition", &mark), ("signature", &signed)];
    for (path, form) in forms {
        assert_eq!(desk.sends(&format!("{job}/{path}"), form).await.status.as_u16(), 404, "{path}");
    }
    for kind in ["claim-ticket", "tag", "shelf-label", "quote", "sheet", "receipt", "care-letter", "collection-letter"]
    {
        let printed = desk.sends(&format!("/desk/papers/{kind}/{nowhere}"), &[]).await;
        assert_eq!(printed.status.as_u16(), 404, "{kind}");
    }
    assert_eq!(shop.count("event").await, before);
}

#[tokio::test]
async fn each_letter_has_its_own_words_with_what_is_owed_and_asks_for_no_ticket() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let job = desk.checks_in("k").await;
    let line = [("form_key", "w"), ("service", ""), ("words", "Set it up"), ("price", "65.00")];
    desk.sends(&format!("{job}/work"), &line).await;
    desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "measured")]).await;
    let quote = desk.sends(&format!("{job}/quote"), &[("form_key", "q")]).await.location.unwrap();
    desk.sends(&format!("{quote}/answer"), &[("answer", "agreed"), ("how", "counter"), ("answered_by", "Maren")]).await;
    let page = owner.opens("/office/papers").await.form("/office/papers");
    let words = [
        ("letter_words", "First."),
        ("second_words", "Second."),
        ("last_words", "Last."),
        ("letter_days", "1, 2, 3, 4"),
    ];
    assert_eq!(owner.sends_form("/office/papers", &page, &words).await.status.as_u16(), 303);
    sqlx_ready(&shop).await;
    let subject = format!("ready.{}", job.trim_start_matches("/desk/jobs/"));
    for (day, expected) in [(0, "First."), (1, "Second."), (2, "Second."), (3, "Last.")] {
        shop.clock.set(thumbplane::quantity::Instant(MORNING.0 + day * 86_400_000_000));
        let desk = shop.desk().await;
        let letter = desk.opens(&format!("{job}/collection-letter")).await.all("main")[0].clone();
        assert!(letter.contains(expected) && letter.contains("Still owed: £78.00."), "{letter}");
        assert!(!letter.to_lowercase().contains("ticket"), "{letter}");
        let key = day.to_string();
        let sent = [("form_key", &*key), ("subject", &*subject), ("how", "letter"), ("outcome", "left-word")];
        assert_eq!(desk.sends("/desk/to-tell", &sent).await.status.as_u16(), 303, "{day}");
    }
}

#[tokio::test]
async fn the_customers_half_says_what_was_paid_bears_a_code_and_after_the_work_what_was_done() {
    let shop = Shop::open().await;
    let (desk, ivo) = (shop.desk().await, shop.bench().await);
    let job = desk.checks_in("k").await;
    let half = async || desk.opens(&format!("{job}/ticket")).await;
    let before = half().await;
    assert!(before.has("section.half:not(.tag) svg.bars") && before.has("section.tag svg.bars"));
    assert!(!before.visible_text().contains("Paid so far"));
    let deposit = [("form_key", "m"), ("kind", "deposit"), ("method", "cash"), ("amount", "10")];
    assert_eq!(desk.sends(&format!("{job}/payment"), &deposit).await.status.as_u16(), 303);
    assert!(half().await.all("section.half dl.facts")[0].contains("Paid so far £10.00"));
    let line = [("form_key", "w"), ("service", ""), ("words", "Set it up"), ("price", "65.00")];
    desk.sends(&format!("{job}/work"), &line).await;
    desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "measured")]).await;
    let quote = desk.sends(&format!("{job}/quote"), &[("form_key", "q")]).await.location.unwrap();
    desk.sends(&format!("{quote}/answer"), &[("answer", "agreed"), ("how", "counter"), ("answered_by", "Maren")]).await;
    let id: uuid::Uuid = sqlx::query_scalar("SELECT id FROM work_line").fetch_one(shop.app.db.read()).await.unwrap();
    ivo.sends(&format!("{}/work/{id}/done", job.replace("/desk/", "/bench/")), &[]).await;
    assert!(!half().await.visible_text().contains("Work performed"), "not before it is ready");
    sqlx_ready(&shop).await;
    let after = half().await.all("section.half")[0].clone();
    assert!(after.contains("Work performed Set it up") && after.contains("Still owed: £68.00."), "{after}");
}
