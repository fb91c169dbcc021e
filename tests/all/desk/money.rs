//! Out with proof: what is owed, signed for, and on paper.

use proptest::prelude::*;
use thumbplane::quantity::Money;
use thumbplane::records::balance::{Balance, Due};

use crate::support::Shop;

#[tokio::test]
async fn a_receipt_shows_every_payment_and_what_is_left() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    desk.sends(
        &format!("{job}/work"),
        &[("form_key", "w"), ("service", ""), ("words", "Set it up"), ("price", "65.00")],
    )
    .await;
    desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "measured")]).await;
    let quote = desk.sends(&format!("{job}/quote"), &[("form_key", "q")]).await.location.unwrap();
    desk.sends(&format!("{quote}/answer"), &[("answer", "agreed"), ("how", "counter"), ("answered_by", "Maren")]).await;
    for (key, kind, method, amount) in
        [("a", "deposit", "cash", "30"), ("b", "balance", "card", "50"), ("c", "refund", "cash", "5")]
    {
        // five given back of two too much: asked about, and meant
        let sure = ("sure", "refund-500");
        let form = [("form_key", key), ("kind", kind), ("method", method), ("amount", amount), sure];
        assert_eq!(desk.sends(&format!("{job}/payment"), &form).await.status.as_u16(), 303);
    }
    // 65.00 and 20 % make 78.00; 30 and 50 paid, 5 given back
    let receipt = desk.opens(&format!("{job}/receipt")).await.visible_text();
    for words in ["£78.00", "deposit, cash", "balance, card", "refund, cash", "Paid in all £75.00", "Still owed: £3.00"]
    {
        assert!(receipt.contains(words), "{words} in {receipt}");
    }
}

// What consumer law asks of estimates in many places: a detailed paper with its total, no charge beyond it without a
// yes, and a yes by telephone written down with who and when. California, Automotive Repair Act of 1971; Maryland,
// Commercial Law 14-1002; Illinois and Colorado by their summaries. Local law decides
#[tokio::test]
async fn nothing_beyond_what_was_agreed_is_ever_owed() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let line = |key: &'static str, words: &'static str, price: &'static str| {
        [("form_key", key), ("service", ""), ("words", words), ("price", price)]
    };
    desk.sends(&format!("{job}/work"), &line("w1", "Set it up", "65.00")).await;
    desk.sends(&format!("{job}/work"), &line("w2", "A new bone nut", "85.00")).await;
    desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "measured")]).await;
    let balance = || async { desk.opens(&format!("{job}/hand-over")).await.visible_text() };
    assert!(balance().await.contains("Agreed £0.00"), "proposed lines are owed by nobody");
    let quote = desk.sends(&format!("{job}/quote"), &[("form_key", "q")]).await.location.unwrap();
    let paper = desk.opens(&quote).await.visible_text();
    for words in [
        "Set it up",
        "£65.00",
        "A new bone nut",
        "£85.00",
        "Net £150.00",
        "VAT 20 % £30.00",
        "Total £180.00",
        "revision 1",
        "valid",
        "nothing is done without asking you",
    ] {
        assert!(paper.to_lowercase().contains(&words.to_lowercase()), "{words} in {paper}");
    }
    assert!(balance().await.contains("Agreed £0.00"), "a quote nobody answered is owed by nobody");
    let yes = [("answer", "agreed"), ("how", "telephone"), ("answered_by", "Maren Oakhollow")];
    desk.sends(&format!("{quote}/answer"), &yes).await;
    let answered = desk.opens(&quote).await.visible_text();
    for words in ["agreed", "Maren Oakhollow", "telephone", "Wed 14 Oct 2026 11:00"] {
        assert!(answered.contains(words), "{words} in {answered}");
    }
    assert!(balance().await.contains("Agreed £180.00"));
    // a line thought of later: the tolerance is nought
    desk.sends(&format!("{job}/work"), &line("w3", "Dress the frets", "175.00")).await;
    assert!(balance().await.contains("Agreed £180.00"));
    let receipt = desk.opens(&format!("{job}/receipt")).await.visible_text();
    assert!(receipt.contains("Total £180.00") && !receipt.contains("Dress the frets"), "{receipt}");
    // a changed quote is a new revision that says so, and what was agreed stands until it is answered
    let second = desk.sends(&format!("{job}/quote"), &[("form_key", "q2")]).await.location.unwrap();
    assert!(desk.opens(&second).await.visible_text().contains("revision 2"));
    assert!(balance().await.contains("£180.00"));
}

#[tokio::test]
async fn the_signature_at_collection_stands_on_the_sheet() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let sign = [("form_key", "s"), ("purpose", "collection"), ("strokes", "M5,5L60,60")];
    let answer = desk.sends(&format!("{job}/signature"), &sign).await;
    assert_eq!(answer.location, Some(format!("{job}/hand-over")));
    assert!(desk.opens(&format!("{job}/sheet")).await.text.contains("d=\"M5,5L60,60\""));
    let mut write = shop.app.db.write().await.unwrap();
    assert!(sqlx::query("UPDATE signature SET strokes = ''").execute(&mut *write).await.is_err());
}

#[tokio::test]
async fn a_deposit_before_anything_is_agreed_is_held_and_is_no_overpayment() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let line = [("form_key", "w"), ("service", ""), ("words", "Set it up"), ("price", "65.00")];
    desk.sends(&format!("{job}/work"), &line).await;
    let pay = [("form_key", "p"), ("kind", "deposit"), ("method", "cash"), ("amount", "30")];
    desk.sends(&format!("{job}/payment"), &pay).await;
    let pages = async || {
        let hand_over = desk.opens(&format!("{job}/hand-over")).await;
        let job_page = desk.opens(&job).await.visible_text();
        (hand_over, job_page, desk.opens(&format!("{job}/receipt")).await.visible_text())
    };
    let is_held = async |when: &str| {
        let (hand_over, job_page, receipt) = pages().await;
        assert!(
            hand_over.visible_text().contains("£30.00 is held as a deposit"),
            "{when}: {}",
            hand_over.visible_text()
        );
        assert!(
            !hand_over.visible_text().contains("too much") && !hand_over.visible_text().contains("give back"),
            "{when}"
        );
        assert!(!hand_over.has("input[name=kind][value=refund][checked]"), "{when}: no refund is suggested");
        assert_eq!(hand_over.value("amount"), "", "{when}");
        assert!(job_page.contains("Deposit held £30.00"), "{when}: {job_page}");
        assert!(receipt.contains("Held as a deposit: £30.00."), "{when}: {receipt}");
    };
    is_held("nothing quoted").await;
    desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "measured")]).await;
    let quote = desk.sends(&format!("{job}/quote"), &[("form_key", "q")]).await.location.unwrap();
    is_held("the quote waits for its answer").await;
    let says = |answer| [("answer", answer), ("how", "counter"), ("answered_by", "Maren")];
    desk.sends(&format!("{quote}/answer"), &says("declined")).await;
    let (hand_over, job_page, receipt) = pages().await;
    assert!(
        hand_over.visible_text().contains("£30.00 too much was paid: give it back."),
        "{}",
        hand_over.visible_text()
    );
    assert!(hand_over.has("input[name=kind][value=refund][checked]") && hand_over.value("amount") == "30.00");
    assert!(job_page.contains("To give back £30.00") && receipt.contains("To be given back: £30.00."), "{receipt}");
    // a new offer, and a yes: 65.00 and 20 % less the deposit
    let again = sqlx::query_scalar::<_, uuid::Uuid>("SELECT id FROM work_line").fetch_one(shop.app.db.read()).await;
    desk.sends(&format!("{job}/work/{}/again", again.unwrap()), &[]).await;
    let quote = desk.sends(&format!("{job}/quote"), &[("form_key", "q2")]).await.location.unwrap();
    is_held("a new revision waits").await;
    desk.sends(&format!("{quote}/answer"), &says("agreed")).await;
    let (hand_over, job_page, receipt) = pages().await;
    assert!(hand_over.visible_text().contains("£48.00 is owed."), "{}", hand_over.visible_text());
    assert!(job_page.contains("Balance £48.00") && receipt.contains("Still owed: £48.00."), "{receipt}");
}

#[tokio::test]
async fn a_deposit_is_given_back_when_the_instrument_goes_home_as_it_came() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let pay = [("form_key", "p"), ("kind", "deposit"), ("method", "cash"), ("amount", "30")];
    desk.sends(&format!("{job}/payment"), &pay).await;
    desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "closed-unrepaired"), ("reason", "No.")]).await;
    let page = desk.opens(&format!("{job}/hand-over")).await;
    assert!(page.visible_text().contains("£30.00 too much was paid: give it back."), "{}", page.visible_text());
    let back = [("form_key", "b"), ("kind", "refund"), ("method", "cash"), ("amount", "30")];
    desk.sends(&format!("{job}/payment"), &back).await;
    assert!(desk.opens(&format!("{job}/hand-over")).await.visible_text().contains("Nothing is owed."));
}

proptest! {
    // what bookkeeping asks of every account: both sides come to the same
    #[test]
    fn what_is_due_makes_up_the_difference_whatever_was_agreed_paid_and_given_back(
        agreed in 0..=1_000_000_000_i64, taken in 0..=1_000_000_000_i64, refunded in 0..=1_000_000_000_i64, waits: bool,
    ) {
        let found = Balance::of(Money(agreed), Money(taken), Money(refunded), waits).unwrap();
        prop_assert_eq!(found.paid.0, taken - refunded);
        let amount = found.due.amount().0;
        match found.due {
            Due::Nothing => prop_assert_eq!(found.paid.0, agreed),
            Due::Owed(_) => prop_assert!(amount > 0 && found.paid.0 + amount == agreed),
            Due::Deposit(_) => prop_assert!(waits && amount > 0 && found.paid.0 - amount == agreed),
            Due::GiveBack(_) => prop_assert!(!waits && amount > 0 && found.paid.0 - amount == agreed),
        }
    }

    #[test]
    fn amounts_beyond_the_books_are_refused_and_never_wrap(taken: i64, refunded: i64, agreed: i64) {
        let exact = i128::from(agreed) - (i128::from(taken) - i128::from(refunded));
        match Balance::of(Money(agreed), Money(taken), Money(refunded), false) {
            Ok(found) => prop_assert_eq!(i128::from(found.due.amount().0), exact.abs()),
            Err(refused) => prop_assert!(refused.to_string().contains("Check the payments")),
        }
    }
}
