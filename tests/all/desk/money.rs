//! Out with proof: what is owed, signed for, and on paper.

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
        let form = [("form_key", key), ("kind", kind), ("method", method), ("amount", amount)];
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
        "VAT £30.00",
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
