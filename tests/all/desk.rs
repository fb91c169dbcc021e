//! The front desk's day.

mod answers;
mod care;
mod check_in;
mod condition;
mod conflicts;
mod day;
mod details;
mod forgotten;
mod instrument;
mod likeness;
mod merge;
mod money;
mod papers;
mod people;
mod printing;
mod put_right;
mod search;
mod telling;
mod unsent;

use axum::http::StatusCode;

use crate::support::{Shop, check_in_form};

#[tokio::test]
async fn a_new_customer_is_checked_in_on_one_page_and_gets_a_ticket() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("one").await;
    let ticket = desk.opens(&format!("{job}/ticket")).await;
    let seen = ticket.visible_text();
    for words in [
        "26-0001",
        "Maren Oakhollow",
        "Thistlewade OM-2",
        "hard case, strap",
        "Wed 28 Oct 2026",
        "dent below the bridge",
        "local law decides",
    ] {
        assert!(seen.contains(words), "{words} in {seen}");
    }
    assert!(ticket.has("svg.bars"));
    let page = desk.opens(&job).await;
    assert!(page.visible_text().contains("checked in") && page.visible_text().contains("It buzzes when I dig in"));
    // the bench starts from a usual steel-string: scale and six strings are there
    let instrument = page.page();
    let link = scraper::Selector::parse("a[href^='/desk/instruments/']").unwrap();
    let href = instrument.select(&link).next().unwrap().value().attr("href").unwrap().to_owned();
    drop(instrument);
    let instrument = desk.opens(&href).await;
    assert_eq!(instrument.value("scale"), "645");
    assert_eq!(instrument.value("pitch_6"), "E2");
}

/// Names as people bear them; the examples are common in guides on names (World Wide Web Consortium, from memory).
const NAMES: &[&str] = &[
    "O'Neil",
    "Anne-Marie de la Cruz",
    "Nguyễn Văn A",
    "李小龙",
    "X Æ",
    "Null",
    "Jr.",
    "Q",
    "Þóra Ægisdóttir",
    "محمد بن علي",
    "van der Werf, Cornelis Jan Pieter Hendrik Theodorus",
    "Donaudampfschifffahrtselektrizitätenhauptbetriebswerkbauunterbeamter",
    "true",
    "-1",
    "E\u{301}lodie",
];

#[tokio::test]
async fn any_name_is_taken_as_it_is_borne_and_found_again() {
    use unicode_normalization::UnicodeNormalization;
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    for (place, name) in NAMES.iter().enumerate() {
        let key = format!("name {place}");
        let mut form = check_in_form(&key);
        form.retain(|(field, _)| *field != "name");
        form.push(("name", name));
        let made = desk.sends("/desk/check-in", &form).await;
        assert_eq!(made.status, StatusCode::SEE_OTHER, "{name}: {}", made.visible_text());
        let ticket = desk.opens(&made.location.unwrap()).await;
        // Unicode Standard Annex 15: kept in normal form C, else letter for letter
        let kept: String = name.nfc().collect();
        assert_eq!(ticket.all("bdi"), [kept.as_str()], "{name}: a name is set apart from the words around it");
        let asked: String = form_urlencoded::byte_serialize(name.as_bytes()).collect();
        let found = desk.opens(&format!("/desk/search?part=hits&q={asked}")).await;
        assert!(found.all(".hits strong").contains(&kept), "{name} is not found: {}", found.visible_text());
    }
    // whoever shares a name is somebody else, and nothing is a key of a person
    assert_eq!(usize::try_from(shop.count("customer").await).unwrap(), NAMES.len());
}

#[tokio::test]
async fn a_telephone_is_shown_as_it_was_typed_and_kept_in_its_international_form() {
    // ITU-T E.164; numbers reserved for drama by Ofcom, and 555-01xx in North America
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    for (place, (typed, kept)) in [
        ("(020) 7946-0018", Some("+442079460018")),
        ("07700 900123 (evenings)", None),
        ("+1 212-555-0100", Some("+12125550100")),
        ("ask at the mill", None),
        ("01632 960001", Some("+441632960001")),
    ]
    .into_iter()
    .enumerate()
    {
        let key = format!("telephone {place}");
        let mut form = check_in_form(&key);
        form.retain(|(field, _)| *field != "telephone");
        form.push(("telephone", typed));
        let made = desk.sends("/desk/check-in", &form).await;
        assert_eq!(made.status, StatusCode::SEE_OTHER, "{typed}: never refused because a list does not know it");
        let job = made.location.unwrap().trim_end_matches("/ticket").to_owned();
        let page = desk.opens(&job).await;
        assert!(page.visible_text().contains(typed), "{typed}");
        let stored: Option<String> = sqlx::query_scalar("SELECT telephone_e164 FROM customer WHERE telephone = ?")
            .bind(typed)
            .fetch_one(shop.app.db.read())
            .await
            .unwrap();
        if let Some(kept) = kept {
            assert_eq!(stored.as_deref(), Some(kept), "{typed}");
            assert!(page.has(&format!("a[href='tel:{kept}']")), "{typed} can be dialled");
        } else {
            assert!(stored.is_none_or(|number| number.starts_with('+')), "{typed}");
        }
    }
}

#[tokio::test]
async fn a_double_press_on_check_in_makes_one_job() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let form = check_in_form("same-key");
    let (one, other) = tokio::join!(desk.sends("/desk/check-in", &form), desk.sends("/desk/check-in", &form));
    assert_eq!(one.location, other.location);
    assert_eq!((shop.count("job").await, shop.count("customer").await, shop.count("instrument").await), (1, 1, 1));
}

#[tokio::test]
async fn a_refused_check_in_comes_back_whole_and_writes_nothing() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let mut form = check_in_form("refused");
    form.retain(|(name, _)| !matches!(*name, "complaint" | "family"));
    for (name, value) in &mut form {
        match *name {
            "email" => *value = "maren at oakhollow",
            "promised_on" => *value = "2026-10-01",
            _ => {}
        }
    }
    let answer = desk.sends("/desk/check-in", &form).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(answer.value("name"), "Maren Oakhollow");
    assert_eq!(answer.value("email"), "maren at oakhollow");
    assert_eq!(answer.value("mark_note_1"), "dent below the bridge");
    let links = answer.all(".problems a");
    assert_eq!(links.len(), 4, "{links:?}");
    for field in ["complaint", "family", "email", "promised_on"] {
        assert!(answer.has(&format!(".problems a[href='#field-{field}']")), "summary links to {field}");
        assert!(answer.has(&format!("#field-{field}")), "{field} can be jumped to");
        assert!(answer.has(&format!("#error-{field}")), "{field} says what is wrong");
    }
    assert!(answer.all("title")[0].starts_with("Error: "));
    assert_eq!(
        (shop.count("job").await, shop.count("customer").await, shop.count("event").await),
        (0, 0, shop.count("event").await)
    );
}

#[tokio::test]
async fn a_returning_customer_is_found_by_name_telephone_or_ticket() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("first").await;
    for typed in ["oakHOLLOW", "oakh", "960101", "+44 1632 960101", "26-0001", "01632-960101"] {
        let encoded: String = form_urlencoded::byte_serialize(typed.as_bytes()).collect();
        let hits = desk.opens(&format!("/desk/search?part=hits&for=check-in&q={encoded}")).await;
        assert_eq!(hits.all(".hits strong"), ["Maren Oakhollow"], "{typed}");
    }
    // a scanned ticket lands on its job
    let scanned = desk.opens("/desk/search?q=26-0001").await;
    assert_eq!(scanned.location.as_deref(), Some(job.as_str()));
    let nobody = desk.opens("/desk/search?q=zzz").await;
    assert!(nobody.has("a[href='/desk/check-in?find=zzz']"));
}

#[tokio::test]
async fn a_known_instrument_comes_back_linked_to_its_earlier_job() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("first").await;
    let hits = desk.opens("/desk/search?part=hits&for=check-in&q=maren").await;
    let href = hits.text.split("href=\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
    let page = desk.opens(&href).await;
    let choice = scraper::Selector::parse("input[name=instrument]").unwrap();
    let known = page.page().select(&choice).next().unwrap().value().attr("value").unwrap().to_owned();
    let customer = page.value("customer");
    let job_page = desk.opens("/desk/search?q=26-0001").await.location.unwrap();
    let still_here = [
        ("form_key", "too-early"),
        ("customer", customer.as_str()),
        ("instrument", known.as_str()),
        ("complaint", "Again."),
        ("style", "light"),
    ];
    let refused = desk.sends("/desk/check-in", &still_here).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.visible_text().contains("in the house already, as 26-0001"), "{}", refused.visible_text());
    let home = [("version", "1"), ("to", "closed-unrepaired"), ("reason", "Changed her mind.")];
    assert_eq!(desk.sends(&format!("{job_page}/stage"), &home).await.status, StatusCode::SEE_OTHER);
    let form = [
        ("form_key", "second"),
        ("customer", customer.as_str()),
        ("instrument", known.as_str()),
        ("complaint", "Again."),
        ("style", "light"),
        ("promised_on", ""),
    ];
    let answer = desk.sends("/desk/check-in", &form).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text);
    let job = desk.opens(answer.location.unwrap().trim_end_matches("/ticket")).await;
    assert!(job.visible_text().contains("Was here before 26-0001"), "{}", job.visible_text());
    assert_eq!((shop.count("customer").await, shop.count("instrument").await, shop.count("job").await), (1, 1, 2));
}

#[tokio::test]
async fn two_people_saving_one_customer_lose_nothing() {
    let shop = Shop::open().await;
    let (mirel, ottilie) = (shop.desk().await, shop.owner().await);
    mirel.checks_in("k").await;
    let id: uuid::Uuid = sqlx::query_scalar("SELECT id FROM customer").fetch_one(shop.app.db.read()).await.unwrap();
    let path = format!("/desk/customers/{id}");
    let form = |telephone: &'static str, note: &'static str| {
        vec![
            ("version", "1"),
            ("name", "Maren Oakhollow"),
            ("telephone", telephone),
            ("email", "maren@oakhollow.example"),
            ("reach_by", "telephone"),
            ("reminders", "yes"),
            ("address", ""),
            ("note", note),
        ]
    };
    assert_eq!(ottilie.sends(&path, &form("07700 900999", "")).await.status, StatusCode::SEE_OTHER);
    let second = mirel.sends(&path, &form("01632 960101", "Rings at noon.")).await;
    assert_eq!(second.status, StatusCode::CONFLICT);
    // what Mirel typed is there, and what Ottilie saved stands beside it
    assert_eq!(second.value("note"), "Rings at noon.");
    assert_eq!(second.value("telephone"), "01632 960101");
    assert!(second.all("#theirs-telephone")[0].contains("07700 900999"));
    assert_eq!(second.value("version"), "2");
    // knowing both, she saves
    let mut again = form("07700 900999", "Rings at noon.");
    again[0] = ("version", "2");
    assert_eq!(mirel.sends(&path, &again).await.status, StatusCode::SEE_OTHER);
    let page = mirel.opens(&format!("{path}/change")).await;
    assert_eq!((page.value("telephone").as_str(), page.value("note").as_str()), ("07700 900999", "Rings at noon."));
}

#[tokio::test]
async fn a_quote_needs_readings_freezes_its_lines_and_takes_one_answer() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let propose = [("form_key", "w1"), ("service", ""), ("words", "Set it up"), ("price", "65.00")];
    assert_eq!(desk.sends(&format!("{job}/work"), &propose).await.status, StatusCode::SEE_OTHER);
    let early = desk.sends(&format!("{job}/quote"), &[("form_key", "q0")]).await;
    assert_eq!(early.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(early.visible_text().contains("Nothing was measured yet"));
    let measured = [("version", "1"), ("to", "measured")];
    assert_eq!(desk.sends(&format!("{job}/stage"), &measured).await.status, StatusCode::SEE_OTHER);
    let made = desk.sends(&format!("{job}/quote"), &[("form_key", "q1")]).await;
    let quote = made.location.unwrap();
    let paper = desk.opens(&quote).await;
    // 65.00 at 20 %: 13.00 tax, 78.00 in all
    assert!(
        paper.visible_text().contains("£13.00")
            && paper.visible_text().contains("£78.00")
            && paper.visible_text().contains("revision 1"),
        "{}",
        paper.visible_text()
    );
    let yes = [("answer", "agreed"), ("how", "telephone"), ("answered_by", "Maren")];
    assert_eq!(desk.sends(&format!("{quote}/answer"), &yes).await.status, StatusCode::SEE_OTHER);
    let no = [("answer", "declined"), ("how", "counter"), ("answered_by", "Maren")];
    assert_eq!(desk.sends(&format!("{quote}/answer"), &no).await.status, StatusCode::CONFLICT);
    let page = desk.opens(&job).await;
    assert!(page.visible_text().contains("Balance £78.00"), "{}", page.visible_text());
    assert!(page.all(".stage")[0].contains("agreed"));
}

#[tokio::test]
async fn a_payment_is_taken_once_and_put_right_by_a_new_row() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let pay = [("form_key", "p1"), ("kind", "deposit"), ("method", "cash"), ("amount", "20"), ("note", "")];
    desk.sends(&format!("{job}/payment"), &pay).await;
    desk.sends(&format!("{job}/payment"), &pay).await;
    assert_eq!(shop.count("payment").await, 1);
    let too_much = [("form_key", "p2"), ("kind", "refund"), ("method", "cash"), ("amount", "20.01"), ("note", "")];
    let refused = desk.sends(&format!("{job}/payment"), &too_much).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(refused.value("amount"), "20.01");
    let refund =
        [("form_key", "p3"), ("kind", "refund"), ("method", "cash"), ("amount", "20"), ("note", "typed twice")];
    assert_eq!(desk.sends(&format!("{job}/payment"), &refund).await.status, StatusCode::SEE_OTHER);
    assert!(desk.opens(&format!("{job}/hand-over")).await.visible_text().contains("Paid £0.00"));
    // and the file itself refuses to forget
    let mut write = shop.app.db.write().await.unwrap();
    assert!(sqlx::query("DELETE FROM payment").execute(&mut *write).await.is_err());
}

#[tokio::test]
async fn the_queue_shows_what_is_due_first_and_what_is_late() {
    let shop = Shop::with_story().await;
    let desk = shop.desk().await;
    let queue = desk.opens("/desk").await;
    let distances = queue.all(".queue .promise small");
    assert!(distances.len() > 10, "{distances:?}");
    assert!(distances[0].contains("late"), "{distances:?}");
    let days = |words: &String| match words.as_str() {
        "today" => 0,
        "tomorrow" => 1,
        words => {
            let number: i64 = words.split_whitespace().find_map(|word| word.parse().ok()).unwrap();
            if words.contains("late") { -number } else { number }
        }
    };
    let ahead: Vec<i64> = distances.iter().map(days).collect();
    assert!(ahead.is_sorted(), "{ahead:?}");
    assert!(queue.has(".queue svg.inlay"));
}

#[tokio::test]
async fn an_unknown_or_garbled_key_is_a_plain_page_that_is_not_there() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    for path in [
        "/desk/jobs/0197e2f0-0000-7000-8000-000000000000",
        "/desk/jobs/not-a-key",
        "/desk/customers/0197e2f0-0000-7000-8000-000000000000",
        "/desk/quotes/1",
        "/bench/jobs/0197e2f0-0000-7000-8000-000000000000",
        "/nothing/here",
        "/static/x/none.css",
    ] {
        let answer = owner.opens(path).await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{path}");
        assert!(answer.all("h1")[0].starts_with("There is no such"), "{path}");
        assert!(answer.has("main a[href='/']"), "{path} has a way out");
    }
}

#[tokio::test]
async fn the_history_of_an_instrument_shows_each_visit_as_it_came_and_as_it_left() {
    let shop = Shop::with_story().await;
    let desk = shop.desk().await;
    let busiest: uuid::Uuid = sqlx::query_scalar(
        "SELECT job.instrument_id FROM job JOIN reading_set ON reading_set.job_id = job.id
         GROUP BY job.instrument_id ORDER BY count(DISTINCT job.id) DESC, count(*) DESC LIMIT 1",
    )
    .fetch_one(shop.app.db.read())
    .await
    .unwrap();
    let visits: i64 = sqlx::query_scalar(
        "SELECT count(DISTINCT job.id) FROM job JOIN reading_set ON reading_set.job_id = job.id
         WHERE job.instrument_id = ? AND reading_set.stage = 'received'",
    )
    .bind(busiest)
    .fetch_one(shop.app.db.read())
    .await
    .unwrap();
    assert!(visits >= 2, "the story has somebody who came back");
    let page = desk.opens(&format!("/desk/instruments/{busiest}/history")).await;
    assert_eq!(page.all("svg.history-chart").len(), 7);
    let hollow = page.all("section:first-child circle.history-received").len();
    assert_eq!(i64::try_from(hollow).unwrap(), visits, "one hollow mark a visit");
    // every mark of a drawing stands in its table, too
    let (marks, rows) = (page.all("svg.history-chart circle").len(), page.all("section details tbody tr").len());
    assert_eq!(marks, rows);
    assert!(page.visible_text().contains("places are proved"), "{}", page.visible_text());
    // of seven charts only the hygrometer's figure is read as it stands
    assert_eq!(page.all("section details h3").len(), 6);
    // heights against moisture and the saddle's years, treble and bass, each told or said why not
    assert_eq!(page.all("#drift > ul > li").len(), 4, "{}", page.visible_text());
    assert!(page.visible_text().contains("Height at the 12th fret, bass"));
    assert!(desk.opens(&format!("/desk/instruments/{busiest}")).await.has("a[href$='/history']"));
}
