//! What pages ask the books: how much, and that no question grows with the shop's history.

use crate::support::{Shop, statements};

#[tokio::test]
async fn a_recording_hears_its_own_statements_alone() {
    let shop = Shop::open().await;
    let db = shop.app.db.clone();
    let count = |table: &'static str| {
        let db = db.clone();
        async move {
            sqlx::query_scalar::<_, i64>(sqlx::AssertSqlSafe(format!("SELECT count(*) FROM {table}")))
                .fetch_one(db.read())
                .await
                .unwrap()
        }
    };
    let (one, other) = tokio::join!(
        statements(async { (count("staff").await, count("job").await) }),
        statements(async { count("customer").await })
    );
    assert_eq!(one, ((3, 0), vec!["SELECT count(*) FROM staff".to_owned(), "SELECT count(*) FROM job".to_owned()]));
    assert_eq!(other, (0, vec!["SELECT count(*) FROM customer".to_owned()]));
}
