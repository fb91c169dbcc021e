//! Quotes that let their reader decide: alternatives, discounts, a deposit, what changed, and each answer with who heard it.

use axum::http::StatusCode;

use crate::support::form::form;
use crate::support::{Answer, Person, Shop};

async fn proposes(desk: &Person<'_>, job: &str, key: &str, words: &str, price: &str, alternative: &str) {
    let line = [("form_key", key), ("service", ""), ("words", words), ("price", price), ("alternative", alternative)];
    assert_eq!(desk.sends(&format!("{job}/work"), &line).await.status, StatusCode::SEE_OTHER);
}

async fn quotes(desk: &Person<'_>, job: &str, fields: &[(&str, &str)]) -> String {
    let made = desk.sends(&format!("{job}/quote"), fields).await;
    assert_eq!(made.status, StatusCode::SEE_OTHER, "{}", made.visible_text());
    made.location.unwrap()
}

/// The setup, or the larger work; new strings with either.
async fn setup_or_more(desk: &Person<'_>) -> (String, String) {
    let job = desk.checks_in("k").await;
    proposes(desk, &job, "w1", "New strings", "10", "").await;
    proposes(desk, &job, "w2", "Set it up", "60", "The setup").await;
    proposes(desk, &job, "w3", "Set it up", "60", "The larger work").await;
    proposes(desk, &job, "w4", "Level the frets", "140", "The larger work").await;
    let quote = quotes(desk, &job, &[("form_key", "q")]).await;
    (job, quote)
}

async fn says(desk: &Person<'_>, quote: &str, answer: &str) -> Answer {
    let said = [("answer", answer), ("how", "e-mail"), ("answered_by", "Maren"), ("words", "The big one, please.")];
    desk.sends(&format!("{quote}/answer"), &said).await
}

#[tokio::test]
async fn of_several_ways_the_customer_chooses_one_and_pays_for_that_alone() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let (job, quote) = setup_or_more(&desk).await;
    let page = desk.opens(&quote).await;
    // 70.00 and 210.00, each with a fifth
    assert_eq!(page.all(".choice h3"), ["The setup", "The larger work"]);
    for words in
        ["£84.00", "£252.00", "you leave it as it is", "Yes: The setup, £84.00", "Yes: The larger work, £252.00"]
    {
        assert!(page.visible_text().contains(words), "{words} in {}", page.visible_text());
    }
    assert!(!page.has("input[value=agreed]"), "nobody says yes to both");
    let both = says(&desk, &quote, "agreed").await;
    assert_eq!(both.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(says(&desk, &quote, "choice-1").await.status, StatusCode::SEE_OTHER);
    let states: Vec<String> = sqlx::query_scalar("SELECT state FROM work_line ORDER BY position")
        .fetch_all(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(states, ["agreed", "declined", "agreed", "agreed"]);
    let seen = desk.opens(&format!("{job}/hand-over")).await.visible_text();
    assert!(seen.contains("£252.00 is owed."), "{seen}");
    let paper = desk.opens(&quote).await;
    assert_eq!(paper.all(".choice.chosen h3"), ["The larger work, chosen"]);
    let seen = paper.visible_text();
    for words in ["by e-mail", "heard by Mirel", "£252.00 with tax was shown", "The big one, please."] {
        assert!(seen.contains(words), "{words} in {seen}");
    }
    let page = desk.opens(&job).await;
    assert!(page.visible_text().contains("agreed") && !page.has("form[action$='/quote']"), "nothing is left to quote");
}

#[tokio::test]
async fn two_alternatives_cannot_both_be_ticked() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let (_, quote) = setup_or_more(&desk).await;
    let lines: Vec<uuid::Uuid> =
        sqlx::query_scalar("SELECT id FROM work_line ORDER BY position").fetch_all(shop.app.db.read()).await.unwrap();
    let (one, other) = (lines[1].to_string(), lines[3].to_string());
    let mut said =
        vec![("answer", "some"), ("how", "counter"), ("answered_by", "Maren"), ("line", &*one), ("line", &*other)];
    let shown = desk.sends(&format!("{quote}/answer"), &said).await.value("shown");
    said.push(("shown", &shown));
    let refused = desk.sends(&format!("{quote}/answer"), &said).await;
    assert!(
        refused.status.is_client_error() && refused.visible_text().contains("One of these is chosen"),
        "{}",
        refused.visible_text()
    );
}

#[tokio::test]
async fn a_yes_to_some_shows_what_it_comes_to_before_it_is_kept_and_says_how_many() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    for number in 1..=5 {
        proposes(&desk, &job, &format!("w{number}"), &format!("Work {number}"), "10.05", "").await;
    }
    let quote = quotes(&desk, &job, &[("form_key", "q")]).await;
    let lines: Vec<uuid::Uuid> =
        sqlx::query_scalar("SELECT id FROM work_line ORDER BY position").fetch_all(shop.app.db.read()).await.unwrap();
    let lines: Vec<String> = lines.iter().map(ToString::to_string).collect();
    let mut said = vec![("answer", "some"), ("how", "telephone"), ("answered_by", "Maren")];
    said.extend(lines[..3].iter().map(|line| ("line", line.as_str())));
    let asked = desk.sends(&format!("{quote}/answer"), &said).await;
    assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY);
    // 30.15 and a fifth, 6.03
    assert!(asked.visible_text().contains("Yes to 3 of 5 lines comes to £36.18 with tax"), "{}", asked.visible_text());
    assert_eq!(shop.count("quote_answer").await, 0);
    // another line is ticked before the second press: what was shown is not what would be kept
    let shown = asked.value("shown");
    let mut more = said.clone();
    more.extend([("line", lines[3].as_str()), ("shown", &shown)]);
    let refused = desk.sends(&format!("{quote}/answer"), &more).await;
    assert!(refused.visible_text().contains("Yes to 4 of 5 lines comes to £48.24 with tax"));
    said.push(("shown", &shown));
    let kept = desk.sends(&format!("{quote}/answer"), &said).await;
    assert_eq!(kept.status, StatusCode::SEE_OTHER);
    for path in [&job, &quote] {
        let page = desk.opens(path).await.visible_text();
        assert!(page.contains("3 of 5 agreed"), "{path}: {page}");
    }
    let shown: i64 =
        sqlx::query_scalar("SELECT shown_total FROM quote_answer").fetch_one(shop.app.db.read()).await.unwrap();
    assert_eq!(shown, 3618);
}

#[tokio::test]
async fn a_discount_comes_off_before_tax_and_a_deposit_is_asked_for() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    for (key, words, price) in [("w1", "Set it up", "123.45"), ("w2", "Nut", "49.90"), ("w3", "Frets", "80")] {
        proposes(&desk, &job, key, words, price, "").await;
    }
    let silent = desk.sends(&format!("{job}/quote"), &[("form_key", "q"), ("discount", "25")]).await;
    assert_eq!(silent.status, StatusCode::UNPROCESSABLE_ENTITY, "say what for");
    assert_eq!(silent.value("discount"), "25");
    let typed = [("form_key", "q"), ("discount", "25"), ("discount_for", "the third visit"), ("deposit_asked", "100")];
    let quote = quotes(&desk, &job, &typed).await;
    let off: Vec<i64> = sqlx::query_scalar("SELECT discount FROM quote_line ORDER BY position")
        .fetch_all(shop.app.db.read())
        .await
        .unwrap();
    // by largest remainder: 12.1816, 4.9240 and 7.8942 of 25.00
    assert_eq!(off, [1218, 492, 790]);
    let seen = desk.opens(&quote).await.visible_text();
    // 253.35 less 25.00, and a fifth of that
    for words in ["−£12.18", "Net £228.35", "VAT 20 % £45.67", "Total £274.02", "the third visit", "deposit of £100.00"]
    {
        assert!(seen.contains(words), "{words} in {seen}");
    }
    let percent = [("form_key", "q2"), ("discount", "10 %"), ("discount_for", "the third visit")];
    let second = quotes(&desk, &job, &percent).await;
    let seen = desk.opens(&second).await.visible_text();
    assert!(seen.contains("−£12.35") && seen.contains("Changed since revision 1"), "{seen}");
}

#[tokio::test]
async fn a_revision_says_what_changed_and_within_the_margin_nobody_is_asked() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let job = desk.checks_in("k").await;
    proposes(&desk, &job, "w1", "Set it up", "100", "").await;
    let first = quotes(&desk, &job, &[("form_key", "q1")]).await;
    assert_eq!(says(&desk, &first, "agreed").await.status, StatusCode::SEE_OTHER);
    let margin = form(&owner.opens("/office/settings").await, "/office/settings").with("quote_margin", "10");
    assert_eq!(margin.sent_by(&owner).await.status, StatusCode::SEE_OTHER);
    proposes(&desk, &job, "w2", "A strap button", "6", "").await;
    let second = quotes(&desk, &job, &[("form_key", "q2")]).await;
    let seen = desk.opens(&second).await.visible_text();
    assert!(seen.contains("New: A strap button, £6.00") && seen.contains("within the shop’s margin"), "{seen}");
    // 106.00 and 6.00 more is beyond a tenth of the 100.00 that the customer themselves agreed to
    proposes(&desk, &job, "w3", "Another one", "6", "").await;
    let third = quotes(&desk, &job, &[("form_key", "q3")]).await;
    assert!(desk.opens(&third).await.has("form[action$='/answer']"), "a new answer is asked for");
    assert!(desk.opens(&format!("{job}/hand-over")).await.visible_text().contains("Agreed £127.20"));
    let beyond = form(&owner.opens("/office/settings").await, "/office/settings").with("quote_margin", "25");
    assert_eq!(beyond.sent_by(&owner).await.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn prices_that_hold_the_tax_stay_what_they_are_and_a_shop_without_tax_names_none() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let sets = async |fields: &[(&str, &str)]| {
        let mut settings = form(&owner.opens("/office/settings").await, "/office/settings");
        for (name, value) in fields {
            settings = settings.with(name, value);
        }
        assert_eq!(settings.sent_by(&owner).await.status, StatusCode::SEE_OTHER);
    };
    sets(&[("prices_include_tax", "yes"), ("tax_number", "GB 123 4567 89")]).await;
    let job = desk.checks_in("k").await;
    proposes(&desk, &job, "w1", "Set it up", "1200", "").await;
    let quote = quotes(&desk, &job, &[("form_key", "q1")]).await;
    let seen = desk.opens(&quote).await.visible_text();
    for words in ["Total £1,200.00", "VAT 20 % in it, of £1,000.00 net £200.00", "VAT number GB 123 4567 89"] {
        assert!(seen.contains(words), "{words} in {seen}");
    }
    sets(&[("standard_tax_rate", "0"), ("reduced_tax_rate", "0"), ("tax_number", "")]).await;
    let second = quotes(&desk, &job, &[("form_key", "q2")]).await;
    let page = desk.opens(&second).await;
    let seen = page.visible_text();
    assert!(seen.contains("Total £1,200.00") && !seen.contains("VAT") && !seen.contains("0 %"), "{seen}");
    // the first says what it said, whatever was changed since
    assert!(desk.opens(&quote).await.visible_text().contains("VAT 20 %"));
}
