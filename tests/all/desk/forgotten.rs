//! Whoever asks is forgotten: no sentence about them stays, and what was worked, read and paid does.

use axum::http::StatusCode;
use uuid::Uuid;

use crate::bench::high_saddle;
use crate::photos::{jpeg_with_a_place, sends_files};
use crate::support::{Person, Shop, check_in_form, statements};

/// Every planted sentence holds this word, and no other text of a shop does.
const PLANTED: &str = "heron";

/// Where the word stands: table, column and how often.
async fn found(shop: &Shop) -> Vec<(String, i64)> {
    let read = shop.app.db.read();
    let tables: Vec<String> = sqlx::query_scalar(
        "SELECT name FROM pragma_table_list WHERE schema = 'main' AND type IN ('table', 'virtual', 'shadow')",
    )
    .fetch_all(read)
    .await
    .unwrap();
    let mut found = Vec::new();
    for table in tables {
        let columns: Vec<String> =
            sqlx::query_scalar(sqlx::AssertSqlSafe(format!("SELECT name FROM pragma_table_info('{table}')")))
                .fetch_all(read)
                .await
                .unwrap();
        for column in columns {
            let sql = format!("SELECT count(*) FROM \"{table}\" WHERE CAST(\"{column}\" AS TEXT) LIKE '%{PLANTED}%'");
            let times: i64 = sqlx::query_scalar(sqlx::AssertSqlSafe(sql)).fetch_one(read).await.unwrap();
            if times > 0 {
                found.push((format!("{table}.{column}"), times));
            }
        }
    }
    let mut indexed = 0;
    for index in ["customer_search", "instrument_search", "job_search"] {
        let asked = format!("SELECT count(*) FROM {index} WHERE {index} MATCH '{PLANTED}*'");
        indexed += sqlx::query_scalar::<_, i64>(sqlx::AssertSqlSafe(asked)).fetch_one(read).await.unwrap();
    }
    if indexed > 0 {
        found.push(("the search index".to_owned(), indexed));
    }
    found
}

async fn does(person: &Person<'_>, path: &str, form: &[(&str, &str)]) -> Option<String> {
    let answer = person.sends(path, form).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{path}: {}", answer.text);
    answer.location
}

/// A whole job of Maren's with something said at every turn; answers the job's page.
async fn a_job_full_of_words(shop: &Shop) -> String {
    let (desk, owner, ivo) = (shop.desk().await, shop.owner().await, shop.bench().await);
    let mut form = check_in_form("k");
    for (field, value) in &mut form {
        match *field {
            "name" => *value = "Maren Heron",
            "email" => *value = "maren@heron.example",
            "complaint" => *value = "Mrs Heron hears a buzz.",
            "brought_with" => *value = "heron's case",
            "mark_note_1" => *value = "dent, says Heron",
            _ => {}
        }
    }
    let job = does(&desk, "/desk/check-in", &form).await.unwrap().trim_end_matches("/ticket").to_owned();
    let bench = job.replace("/desk/", "/bench/");
    does(&desk, &format!("{job}/condition"), &[("form_key", "c"), ("side", "back"), ("note", "heron scratch")]).await;
    let seen = [("form_key", "o"), ("key", "fraying"), ("string", "1"), ("seen_note", "where Heron's ring rubs")];
    let mut readings = high_saddle("r");
    readings.push(("note".to_owned(), "read with Heron beside".to_owned()));
    readings.push(("height-1_6".to_owned(), "not measurable: heron tape".to_owned()));
    let cell = [("key", "cell"), ("cell", "height-1_6"), ("typed", "not measurable: heron tape"), ("replaces", "")];
    assert_eq!(ivo.sends(&format!("{bench}/cells"), &cell).await.status, StatusCode::OK);
    let taken = ivo.sends_form(&format!("{bench}/readings"), &readings, &[]).await;
    assert_eq!(taken.status, StatusCode::SEE_OTHER, "{}", taken.text);
    let step = ivo.opens(&bench).await.form(&format!("{bench}/measure-again")).to_vec();
    assert_eq!(ivo.sends_form(&format!("{bench}/measure-again"), &step, &[]).await.status, StatusCode::SEE_OTHER);
    let back = format!("{bench}/measure-again/take-back");
    let not_done = ivo.opens(&bench).await.form(&back).to_vec();
    let why = [("words", "Heron came by and stopped it.")];
    assert_eq!(ivo.sends_form(&back, &not_done, &why).await.status, StatusCode::SEE_OTHER);
    does(&ivo, &format!("{bench}/observations"), &seen).await;
    does(&ivo, &format!("{bench}/notes"), &[("form_key", "n"), ("hands", "Call Heron first.")]).await;
    does(&ivo, &format!("{bench}/propose"), &[("form_key", "p"), ("line", "saddle-lower:saddle-high")]).await;
    let line: Uuid = sqlx::query_scalar("SELECT id FROM work_line").fetch_one(shop.app.db.read()).await.unwrap();
    does(&owner, &format!("{job}/work/{line}/overrule"), &[("overrule_reason", "Heron nodded.")]).await;
    does(&ivo, &format!("{bench}/work/{line}/start"), &[]).await;
    does(&ivo, "/bench/labour/stop", &[]).await;
    let stretch: Uuid = sqlx::query_scalar("SELECT id FROM labour_entry").fetch_one(shop.app.db.read()).await.unwrap();
    let (minutes, reason) = (format!("minutes_{stretch}"), format!("reason_{stretch}"));
    let correction = [("form_key", "l"), (minutes.as_str(), "20"), (reason.as_str(), "Heron came in.")];
    does(&ivo, &format!("/bench/labour/{stretch}/correct"), &correction).await;
    let service: Uuid =
        sqlx::query_scalar("SELECT service_id FROM work_line").fetch_one(shop.app.db.read()).await.unwrap();
    let out = [("service", &*service.to_string()), ("reason", "Heron talked all the while.")];
    does(&owner, &format!("/office/minutes/lines/{line}/leave-out"), &out).await;
    let quote = does(&desk, &format!("{job}/quote"), &[("form_key", "q"), ("note", "As Heron wished.")]).await.unwrap();
    let yes = [("answer", "agreed"), ("how", "telephone"), ("answered_by", "Mr Heron")];
    does(&desk, &format!("{quote}/answer"), &yes).await;
    let pay = [("form_key", "m"), ("kind", "deposit"), ("method", "cash"), ("amount", "20"), ("note", "from Heron jr")];
    does(&desk, &format!("{job}/payment"), &pay).await;
    let picture = jpeg_with_a_place(600, 200);
    assert_eq!(sends_files(&desk, &format!("{job}/photos"), "f", &[("a.jpg", &picture)]).await.status.as_u16(), 303);
    let photo: Uuid = sqlx::query_scalar("SELECT id FROM photo").fetch_one(shop.app.db.read()).await.unwrap();
    let caption = [("version", "1"), ("caption", "Heron holding it"), ("for_customer", "yes")];
    does(&desk, &format!("/desk/photos/{photo}"), &caption).await;
    let signed = [("form_key", "s"), ("purpose", "condition"), ("strokes", "M1,1L2,2")];
    does(&desk, &format!("{job}/signature"), &signed).await;
    let instrument: Uuid = sqlx::query_scalar("SELECT id FROM instrument").fetch_one(shop.app.db.read()).await.unwrap();
    let path = format!("/desk/instruments/{instrument}");
    for note in ["Bought of old Heron.", "Bought of old Heron in 1990."] {
        let page = desk.opens(&path).await.form(&path);
        let noted = desk.sends_form(&path, &page, &[("note", note)]).await;
        assert_eq!(noted.status, StatusCode::SEE_OTHER, "{}", noted.text);
    }
    let queue = job.replace("/desk/jobs/", "/office/queue/");
    let first = [("form_key", "u"), ("to", "first"), ("reason", "Heron travels on Friday.")];
    does(&owner, &format!("{queue}/move"), &first).await;
    let version = desk.opens(&job).await.value("version");
    let wait = [("version", version.as_str()), ("waiting_for", "customer"), ("wait_reason", "Heron is away")];
    does(&desk, &format!("{job}/wait"), &wait).await;
    let told = [
        ("form_key", "tell"),
        ("subject", &*format!("answer.{}", job.rsplit('/').next().unwrap())),
        ("how", "telephone"),
        ("outcome", "left-word"),
        ("note", "with Heron's sister"),
    ];
    does(&desk, "/desk/to-tell", &told).await;
    let version = desk.opens(&job).await.value("version");
    let home = [("version", version.as_str()), ("to", "closed-unrepaired"), ("reason", "Heron moves house.")];
    does(&desk, &format!("{job}/stage"), &home).await;
    job
}

fn pictures(folder: &std::path::Path) -> usize {
    let Ok(entries) = std::fs::read_dir(folder) else { return 0 };
    let entries = entries.map(|entry| entry.unwrap().path());
    entries.map(|path| if path.is_dir() { pictures(&path) } else { 1 }).sum()
}

#[tokio::test]
async fn no_sentence_about_somebody_forgotten_stays_and_what_was_worked_read_and_paid_does() {
    let shop = Shop::open().await;
    let job = a_job_full_of_words(&shop).await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let planted: Vec<String> = found(&shop).await.into_iter().map(|(place, _)| place).collect();
    for place in [
        "customer.name",
        "customer.email",
        "job.complaint",
        "job.brought_with",
        "queue_move.reason",
        "telling.note",
        "condition_mark.note",
        "reading_set.note",
        "reading_entry.typed",
        "observation.note",
        "plan.input_json",
        "plan.output_json",
        "job_note.words",
        "labour_correction.reason",
        "minutes_left_out.reason",
        "quote.note",
        "quote.answered_by",
        "payment.note",
        "photo.caption",
        "instrument.note",
        "event.after_json",
        "event.before_json",
        "search_entry.words",
        "the search index",
    ] {
        assert!(planted.contains(&place.to_owned()), "{place} was planted: {planted:?}");
    }
    let token = shop.app.db.link_secret().token(job.rsplit('/').next().unwrap().parse().unwrap(), 0);
    assert_eq!(shop.stranger().opens(&format!("/s/{token}")).await.status, StatusCode::OK);
    let photos = shop.folder().join("photos");
    assert!(pictures(&photos) >= 2);
    let kept = "SELECT (SELECT count(*) FROM reading) || ' ' || (SELECT sum(amount) FROM payment) || ' ' ||
                       (SELECT sum(total) FROM quote) || ' ' || (SELECT group_concat(words) FROM work_line) || ' ' ||
                       (SELECT sum(minutes) FROM labour_correction) || ' ' || (SELECT count(*) FROM event) || ' ' ||
                       (SELECT group_concat(after_json ->> 'stage') FROM event WHERE deed = 'stage moved')";
    let before: String = sqlx::query_scalar(kept).fetch_one(shop.app.db.read()).await.unwrap();
    let id: Uuid = sqlx::query_scalar("SELECT id FROM customer").fetch_one(shop.app.db.read()).await.unwrap();
    does(&owner, &format!("/desk/customers/{id}/anonymise"), &[("version", "1"), ("sure", "yes")]).await;

    assert_eq!(found(&shop).await, []);
    assert_eq!(pictures(&photos), 0, "the pictures are deleted, not only their rows blanked");
    assert_eq!(shop.count("signature").await, 0);
    let after: String = sqlx::query_scalar(kept).fetch_one(shop.app.db.read()).await.unwrap();
    let one_more = |text: &str| {
        let mut words: Vec<String> = text.split(' ').map(str::to_owned).collect();
        let last = words.len() - 2;
        words[last] = (words[last].parse::<i64>().unwrap() + 1).to_string();
        words.join(" ")
    };
    assert_eq!(after, one_more(&before), "and that it was done is one event more");
    // the pages still open, the file is whole, and the link has ended
    for page in [job.clone(), format!("{job}/photos"), format!("{job}/condition"), job.replace("/desk/", "/bench/")] {
        assert_eq!(owner.opens(&page).await.status, StatusCode::OK, "{page}");
    }
    assert_eq!(shop.app.db.check().await.unwrap().faults, Vec::<String>::new());
    let ended = shop.stranger().opens(&format!("/s/{token}")).await;
    assert_eq!(ended.status, StatusCode::NOT_FOUND);
    assert!(!desk.opens(&job).await.has(&format!("form[action='{job}/link']")));
    let renewed = desk.sends(&format!("{job}/link"), &[("version", "9")]).await;
    assert_eq!(renewed.status, StatusCode::CONFLICT);
    assert!(
        renewed.visible_text().contains("asked to be forgotten"),
        "and no new one is made: {}",
        renewed.visible_text()
    );
    // what was deleted is overwritten: no free page of the file holds it either
    shop.app.db.close().await;
    let file = std::fs::read(shop.folder().join("thumbplane.db")).unwrap().to_ascii_lowercase();
    let left = file.windows(PLANTED.len()).filter(|bytes| *bytes == PLANTED.as_bytes()).count();
    assert_eq!(left, 0, "times in the bytes of the file");
}

#[tokio::test]
async fn append_only_tables_open_for_the_forgotten_alone_and_for_nothing_but_their_words() {
    let shop = Shop::open().await;
    let job = a_job_full_of_words(&shop).await;
    let owner = shop.owner().await;
    let forbidden = [
        "UPDATE job_note SET words = 'anonymised'",
        "UPDATE payment SET note = ''",
        "UPDATE labour_correction SET reason = 'anonymised'",
        "UPDATE step_correction SET words = ''",
        "UPDATE minutes_left_out SET reason = 'anonymised'",
        "UPDATE reading_entry SET typed = ''",
        "UPDATE plan SET output_json = '{}'",
        "UPDATE event SET after_json = '{}'",
    ];
    let refuses = async |sql: &'static str, when: &str| {
        let mut write = shop.app.db.write().await.unwrap();
        assert!(sqlx::query(sqlx::AssertSqlSafe(sql)).execute(&mut *write).await.is_err(), "{sql}, {when}");
    };
    for sql in forbidden {
        refuses(sql, "of somebody known").await;
    }
    let id: Uuid = sqlx::query_scalar("SELECT id FROM customer").fetch_one(shop.app.db.read()).await.unwrap();
    does(&owner, &format!("/desk/customers/{id}/anonymise"), &[("version", "1"), ("sure", "yes")]).await;
    for sql in [
        "UPDATE job_note SET words = 'something else'",
        "UPDATE payment SET amount = 1, note = ''",
        "UPDATE labour_correction SET minutes = 1, reason = 'anonymised'",
        "UPDATE step_correction SET steps = '[]', words = ''",
        "UPDATE minutes_left_out SET reason = 'something else'",
        "UPDATE reading_entry SET typed = '1.75'",
        "UPDATE event SET after_json = '{\"stage\":\"ready\"}'",
        "DELETE FROM payment",
        "DELETE FROM job_note",
    ] {
        refuses(sql, "of somebody forgotten").await;
    }
    assert!(owner.opens(&job).await.visible_text().contains("anonymised"));
}

#[tokio::test]
async fn nothing_new_goes_into_the_record_of_somebody_forgotten() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let job = desk.checks_in("first").await;
    let other = desk.checks_in("second").await;
    for job in [&job, &other] {
        let home = [("version", "1"), ("to", "closed-unrepaired"), ("reason", "No.")];
        does(&desk, &format!("{job}/stage"), &home).await;
    }
    let ids: Vec<Uuid> = sqlx::query_scalar("SELECT id FROM customer ORDER BY created_at, id")
        .fetch_all(shop.app.db.read())
        .await
        .unwrap();
    let (gone, stays) = (ids[0].to_string(), ids[1].to_string());
    let page = format!("/desk/customers/{gone}");
    does(&owner, &format!("{page}/anonymise"), &[("version", "1"), ("sure", "yes")]).await;
    let shown = desk.opens(&page).await;
    assert!(!shown.has("#field-telephone") && !shown.has("a[href$='/merge']") && !shown.has("a[href*='check-in?']"));
    let save = [("version", "2"), ("name", "Maren again"), ("reach_by", "telephone")];
    let saved = desk.sends(&page, &save).await;
    assert_eq!(saved.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(saved.visible_text().contains("asked to be forgotten"), "{}", saved.visible_text());
    let check_in = [("form_key", "x"), ("customer", gone.as_str()), ("complaint", "Again."), ("style", "light")];
    assert_eq!(desk.sends("/desk/check-in", &check_in).await.status, StatusCode::CONFLICT);
    assert_eq!(desk.opens(&format!("/desk/check-in?customer={gone}")).await.status, StatusCode::CONFLICT);
    for (from, into, versions) in [(&gone, &stays, ("2", "1")), (&stays, &gone, ("1", "2"))] {
        let merge = [("from", from.as_str()), ("from_version", versions.0), ("version", versions.1)];
        let merged = desk.sends(&format!("/desk/customers/{into}/merge"), &merge).await;
        assert_eq!(merged.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", merged.text);
    }
    let theirs: Uuid = sqlx::query_scalar("SELECT id FROM instrument WHERE customer_id = ?")
        .bind(ids[1])
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    let hands = [("version", "1"), ("to", gone.as_str()), ("on_day", "2026-10-01")];
    let handed = desk.sends(&format!("/desk/instruments/{theirs}/owner"), &hands).await;
    assert_eq!(handed.status, StatusCode::UNPROCESSABLE_ENTITY);
    let found = desk.opens("/desk/search?part=hits&for=check-in&q=anonymised").await;
    assert!(found.all(".hits strong").is_empty(), "and they are nobody to choose");
}

#[tokio::test]
async fn a_picture_that_somebody_else_shows_too_stays_and_what_is_gone_is_not_looked_for_again() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let picture = jpeg_with_a_place(600, 400);
    let mut people = Vec::new();
    for (key, name) in [("a", "Maren Heron"), ("b", "Corin Stent")] {
        let mut form = check_in_form(key);
        form.iter_mut().find(|(field, _)| *field == "name").unwrap().1 = name;
        let job = desk.sends("/desk/check-in", &form).await.location.unwrap().trim_end_matches("/ticket").to_owned();
        sends_files(&desk, &format!("{job}/photos"), key, &[("a.jpg", &picture)]).await;
        let home = [("version", "1"), ("to", "closed-unrepaired"), ("reason", "No.")];
        does(&desk, &format!("{job}/stage"), &home).await;
        let id: Uuid = sqlx::query_scalar("SELECT id FROM customer WHERE name = ?")
            .bind(name)
            .fetch_one(shop.app.db.read())
            .await
            .unwrap();
        people.push(id);
    }
    let photos = shop.folder().join("photos");
    assert_eq!(pictures(&photos), 2, "one picture and its small one, shown by both");
    let sure = [("version", "1"), ("sure", "yes")];
    does(&owner, &format!("/desk/customers/{}/anonymise", people[0]), &sure).await;
    assert_eq!(pictures(&photos), 2, "the other still shows it");
    does(&owner, &format!("/desk/customers/{}/anonymise", people[1]), &sure).await;
    assert_eq!(pictures(&photos), 0);
    // the next start asks once, and finds nothing to do
    let (done, asked) = statements(thumbplane::records::photo::remove_forgotten(&shop.app.db)).await;
    done.unwrap();
    assert_eq!(asked.len(), 1, "{asked:#?}");
}
