//! How fast a search answers over a hundred thousand customers, each with an instrument: `cargo bench --bench search`.
//!
//! Prints the median and the slowest of each question, and fails when a median is over twenty milliseconds.

#![expect(clippy::unwrap_used, clippy::print_stdout, reason = "a measurement that cannot go on says where")]

use std::process::ExitCode;
use std::time::{Duration, Instant};

use thumbplane::records::{Db, search};

const CUSTOMERS: i64 = 100_000;
const TIMES: usize = 51;
const AT_MOST: Duration = Duration::from_millis(20);

/// What is typed at a counter: a letter, beginnings, both names, ends of numbers, serials, tickets, nothing there.
const TYPED: [&str; 12] = [
    "m",
    "ma",
    "oakh",
    "maren oakhollow",
    "żan wie",
    "01632 96",
    "+44 1632 960101",
    "0101",
    "TW-004471",
    "thistle",
    "26-0417",
    "nobody of this name",
];

fn main() -> ExitCode {
    tokio::runtime::Builder::new_multi_thread().enable_all().build().unwrap().block_on(measure())
}

async fn measure() -> ExitCode {
    let folder = tempfile::TempDir::new().unwrap();
    let db = Db::open(folder.path()).await.unwrap();
    let began = Instant::now();
    fill(&db).await;
    println!("{CUSTOMERS} customers with an instrument each, indexed in {:.1} s", began.elapsed().as_secs_f64());
    let mut slow = false;
    for typed in TYPED {
        let mut times = Vec::with_capacity(TIMES);
        let mut found = 0;
        for _ in 0..TIMES {
            let began = Instant::now();
            let answer = search::find(db.read(), typed, 12).await.unwrap();
            times.push(began.elapsed());
            found = answer.customers.len() + answer.instruments.len() + answer.jobs.len();
        }
        times.sort_unstable();
        let (median, slowest) = (times[TIMES / 2], times[TIMES - 1]);
        slow |= median > AT_MOST;
        println!("{typed:22} median {:7.2} ms, slowest {:7.2} ms, {found} shown", ms(median), ms(slowest));
    }
    db.close().await;
    if slow { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}

fn ms(time: Duration) -> f64 {
    time.as_secs_f64() * 1000.0
}

async fn fill(db: &Db) {
    let first =
        r#"["maren","zaneta","kenji","lucia","chidi","isla","anders","willa","ewart","corin","philippa","ruben"]"#;
    let last = r#"["oakhollow","wierzbowka","nakamori","fairweather","pennock","sallow","quistgaard","ibbotsen","brae","hatch","stent","vane","lund"]"#;
    let mut write = db.write().await.unwrap();
    sqlx::query(
        "WITH RECURSIVE
            n (i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i + 1 < ?1),
            person (i, name, digits) AS (
                SELECT i, json_extract(?2, '$[' || (i % 12) || ']') || ' ' || json_extract(?3, '$[' || (i / 12 % 13) || ']')
                       || iif(i < 156, '', ' ' || char(97 + i / 156 % 26, 97 + i / 4056 % 26)),
                       printf('01632%06d', i * 7919 % 1000000)
                FROM n)
         INSERT INTO customer (id, name, name_folded, telephone, telephone_e164, telephone_digits, email, address, reach_by,
             note, created_at, form_key)
         SELECT randomblob(16), name, name, digits, '+44' || substr(digits, 2), digits, 'c' || i || '@weir.example', '',
             'telephone', '', i, 'c' || i
         FROM person",
    )
    .bind(CUSTOMERS)
    .bind(first)
    .bind(last)
    .execute(&mut *write)
    .await
    .unwrap();
    sqlx::query(
        "INSERT INTO instrument (id, customer_id, family, maker, model, serial, finish, handedness, scale_um, frets,
             body_fret, courses, truss_rod, bridge, saddle, nut_material, saddle_material, string_set, top_wood, note,
             created_at, form_key)
         SELECT randomblob(16), id, 'steel-string', json_extract('[\"Thistlewade\",\"Alderbrook\",\"Brookside\"]', '$[' || (created_at % 3) || ']'),
             'OM-' || (created_at % 9), printf('TW-%06d', created_at), '', 'right', 645000, 20, 14, 6, 'two-way', '', '', '', '',
             '', '', '', created_at, form_key
         FROM customer",
    )
    .execute(&mut *write)
    .await
    .unwrap();
    write.commit().await.unwrap();
}
