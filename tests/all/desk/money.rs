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
    let receipt = desk.opens(&format!("{job}/receipt")).await.seen();
    for words in ["£78.00", "deposit, cash", "balance, card", "refund, cash", "Paid in all £75.00", "Still owed: £3.00"]
    {
        assert!(receipt.contains(words), "{words} in {receipt}");
    }
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
