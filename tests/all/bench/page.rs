//! What a look at the bench costs: few statements and one plan, however much was measured and noted.

use axum::http::StatusCode;
use serde_json::json;
use thumbplane::records::bench::page_context;
use thumbplane::records::part::MovementKind;
use thumbplane::records::{JobId, PhotoId, labour, note, part, photo, service};

use super::again::{enters, says_done};
use super::final_check::at_the_final_check;
use super::{high_saddle, sends, to_bench};
use crate::support::Shop;
use crate::support::log::listen;

/// Statements of one page, with those that find out who asks and how the shop is set up.
const MOST_STATEMENTS: usize = 10;

/// Opens a page and answers how many plans were worked out for it.
async fn opened(shop: &Shop, path: &str, when: &str) -> usize {
    let ivo = shop.bench().await;
    // the settings are read once until they change
    ivo.opens("/bench").await;
    let (page, logged) = listen(ivo.opens(path)).await;
    assert!(page.status.is_success(), "{when}: {}", page.text);
    let statements = &logged.statements;
    // the look itself: whose session, the job and its instrument
    assert!(statements.len() >= 3, "{when}: the log was not heard: {statements:#?}");
    assert!(statements.len() <= MOST_STATEMENTS, "{when}: {} statements: {statements:#?}", statements.len());
    logged.lines.iter().filter(|line| line.contains("plan.worked_out")).count()
}

#[tokio::test]
async fn the_bench_page_costs_ten_statements_and_one_plan_from_the_first_look_to_the_last() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    assert_eq!(opened(&shop, &job, "before the first reading").await, 0);
    enters(&ivo, &job, ["e1", "height-12_1", "2.50", ""]).await;
    assert_eq!(opened(&shop, &job, "a first value").await, 1);
    sends(&ivo, &format!("{job}/readings"), &high_saddle("r1")).await;
    assert_eq!(opened(&shop, &job, "a set").await, 1);
    says_done(&ivo, &job).await;
    assert_eq!(opened(&shop, &job, "a step is done").await, 1);
    let page = ivo.opens(&job).await;
    enters(&ivo, &job, ["e2", "height-12_1", "1.92", &page.value("after")]).await;
    assert_eq!(opened(&shop, &job, "a value after the step").await, 1);
    assert_eq!(opened(&shop, &format!("{job}/plan"), "the plan by itself").await, 1);
    assert_eq!(opened(&shop, &format!("{job}/card"), "the card").await, 1);
    assert_eq!(opened(&shop, &format!("{job}/saddle"), "the saddle").await, 1);
    assert_eq!(opened(&shop, &format!("{job}/working"), "the workings").await, 1);
}

#[tokio::test]
async fn a_job_with_final_readings_notes_parts_and_photographs_costs_no_more() {
    let shop = Shop::open().await;
    let job = at_the_final_check(&shop, false).await;
    let ivo = shop.bench().await;
    ivo.sends(&format!("{job}/notes"), &[("form_key", "n"), ("hands", "The nut is soft.")]).await;
    assert_eq!(opened(&shop, &job, "measured twice").await, 1);
    let shop = Shop::with_story().await;
    let jobs: Vec<uuid::Uuid> = sqlx::query_scalar("SELECT id FROM job").fetch_all(shop.app.db.read()).await.unwrap();
    assert!(jobs.len() > 10);
    for job in jobs {
        assert!(opened(&shop, &format!("/bench/jobs/{job}"), &job.to_string()).await <= 1);
    }
}

#[tokio::test]
async fn a_plan_under_way_follows_an_instrument_that_was_corrected_meanwhile() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    sends(&ivo, &format!("{job}/readings"), &high_saddle("r1")).await;
    says_done(&ivo, &job).await;
    assert_eq!(opened(&shop, &job, "as it was asked").await, 1);
    let mut tx = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE instrument SET body_fret = 12").execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
    // the set was planned for another neck: its plan is worked out anew, and that of what is under way
    assert_eq!(opened(&shop, &job, "another body joint").await, 2);
}

/// The page asks for everything at once; each record is also read by itself, for other pages. Both say the same.
#[tokio::test]
async fn what_the_page_reads_at_one_go_is_what_each_record_says_by_itself() {
    let shop = Shop::with_story().await;
    let books = shop.app.db.read();
    let jobs: Vec<JobId> = sqlx::query_scalar("SELECT id FROM job").fetch_all(books).await.unwrap();
    let open: JobId = sqlx::query_scalar("SELECT id FROM job WHERE is_open = 1").fetch_one(books).await.unwrap();
    let spare = part::all(books).await.unwrap()[0].id.to_string();
    let ivo = shop.bench().await;
    for (path, form) in [
        ("notes", [("form_key", "n"), ("hands", "The nut is soft.")]),
        ("parts", [("form_key", "p"), ("part", spare.as_str())]),
    ] {
        assert_eq!(
            ivo.sends(&format!("/bench/jobs/{open}/{path}"), &form).await.status,
            StatusCode::SEE_OTHER,
            "{path}"
        );
    }
    add_a_photograph(&shop, jobs[0]).await;
    let mut seen = [0; 6];
    for job in jobs {
        let at_once = page_context(&mut books.acquire().await.unwrap(), job, None).await.unwrap();
        let labour = labour::of_job(books, job).await.unwrap();
        let notes = note::of_job(books, job).await.unwrap();
        let mut photos = photo::of_job(books, job).await.unwrap();
        photos.retain(|photo| !photo.set_aside);
        let mut parts = part::all(books).await.unwrap();
        parts.retain(|part| !part.archived);
        let services = service::all(books).await.unwrap();
        let mut taken = part::of_job(books, job).await.unwrap();
        taken.retain(|movement| movement.kind == MovementKind::Taken && !movement.was_put_back);
        let taken = taken
            .into_iter()
            .map(|taken| (taken.id, taken.part, taken.unit, -taken.quantity.0, taken.line, taken.who, taken.at));
        let taken_at_once = at_once
            .taken
            .into_iter()
            .map(|taken| (taken.id, taken.part, taken.unit, taken.quantity.0, taken.line, taken.who, taken.at));
        let (taken, taken_at_once) = (taken.collect::<Vec<_>>(), taken_at_once.collect::<Vec<_>>());
        assert_eq!(taken_at_once, taken);
        let told = [
            (json!(at_once.labour), json!(labour)),
            (json!(at_once.notes), json!(notes)),
            (json!(at_once.photos), json!(photos)),
            (json!(at_once.parts), json!(parts)),
            (json!(at_once.services), json!(services)),
        ];
        for ((at_once, by_itself), seen) in told.into_iter().zip(&mut seen) {
            assert_eq!(at_once, by_itself, "{job}");
            *seen += by_itself.as_array().unwrap().len();
        }
        seen[5] += taken.len();
    }
    assert!(seen.iter().all(|count| *count > 0), "labour, notes, photographs, parts, services, parts taken: {seen:?}");
}

/// A row without its picture: only the books are read.
async fn add_a_photograph(shop: &Shop, job: JobId) {
    let mut tx = shop.app.db.write().await.unwrap();
    let added = sqlx::query(
        "INSERT INTO photo (id, job_id, sha256, small_sha256, width, height, bytes, caption, for_customer, staff_id,
             added_at, form_key)
         SELECT ?1, ?2, randomblob(32), randomblob(32), 400, 300, 9000, 'the soundhole', 1, staff.id, 5, 'a photograph'
         FROM staff LIMIT 1",
    );
    added.bind(PhotoId::new()).bind(job).execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
}

#[tokio::test]
async fn without_scripts_the_page_has_all_its_parts_and_a_table_of_contents() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let page = shop.bench().await.opens(&job).await;
    for part in ["readings", "seen", "work", "drawings", "notes"] {
        assert!(page.has(&format!("nav.places a[href='#part-{part}']")), "{part}");
        assert!(page.has(&format!("#part-{part}:not([hidden])")), "{part}");
    }
    // what is next is said by one button, whatever the script does
    assert_eq!(page.all(".next-action .button"), ["Measure"]);
    assert!(page.has(".next-action a[href='#field-height-12_1']"));
}

#[tokio::test]
async fn what_belongs_to_a_form_elsewhere_on_the_page_names_one_that_is_there() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    sends(&ivo, &format!("{job}/readings"), &high_saddle("r1")).await;
    let answer = ivo.opens(&job).await;
    let page = answer.page();
    let elsewhere = scraper::Selector::parse("[form]").unwrap();
    let forms: Vec<&str> = page.select(&elsewhere).filter_map(|element| element.attr("form")).collect();
    assert!(forms.contains(&"habit"), "{forms:?}");
    for form in forms {
        assert!(answer.has(&format!("form#{form}")), "{form}");
    }
    assert!(answer.visible_text().contains("From the set as received, Wed 14 Oct 2026"), "{}", answer.visible_text());
}
