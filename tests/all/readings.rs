//! Readings value by value: kept once, merged by cell, and read again after a step.

use axum::http::StatusCode;
use serde_json::Value;

use crate::support::{Person, Shop, paired};

async fn to_bench(shop: &Shop) -> String {
    shop.desk().await.checks_in("job").await.replace("/desk/", "/bench/")
}

/// One value as a tablet sends it.
async fn enters(person: &Person<'_>, job: &str, fields: &[(&str, &str)]) -> Value {
    let answer = person.sends(&format!("{job}/cells"), fields).await;
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.text);
    assert_eq!(answer.headers["content-type"], "application/json");
    serde_json::from_str(&answer.text).unwrap()
}

fn value<'a>(key: &'a str, cell: &'a str, typed: &'a str, replaces: &'a str) -> Vec<(&'a str, &'a str)> {
    vec![("key", key), ("cell", cell), ("typed", typed), ("replaces", replaces), ("after", ""), ("since", "0")]
}

/// A whole set of a steel-string whose saddle stands high, value by value.
async fn measures(person: &Person<'_>, job: &str) {
    for string in 1..=6_u8 {
        let height = 2.5 + 0.08 * f64::from(string - 1);
        // twice, because a single reading is not enough to cut by
        let height = format!("{height:.2}; {height:.2}");
        enters(person, job, &value(&format!("h{string}"), &format!("height-12_{string}"), &height, "")).await;
        enters(
            person,
            job,
            &value(&format!("g{string}"), &format!("gap-1-stopped-3_{string}"), "0.07; 0.08; 0.07", ""),
        )
        .await;
    }
    for (cell, typed) in [
        ("relief_0", "0.15; 0.16; 0.15"),
        ("saddle-treble_0", "3.6"),
        ("saddle-bass_0", "4.4"),
        ("temperature", "20"),
        ("humidity", "48"),
        ("tool", "dial"),
    ] {
        enters(person, job, &value(cell, cell, typed, "")).await;
    }
}

#[tokio::test]
async fn a_value_sent_twice_is_there_once_and_one_that_cannot_be_meant_is_asked_about() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    for _ in 0..3 {
        let answer = enters(&ivo, &job, &value("k1", "height-12_1", "2.50", "")).await;
        assert_eq!(answer["outcome"], "stands");
    }
    assert_eq!(ivo.opens(&job).await.all("#about-height-12_1 [data-echo]"), ["2.50 mm · 0.098 in"]);
    assert_eq!(shop.count("reading_entry").await, 1);
    // 0.10 in is 2.54 mm exactly (international yard and pound agreement of 1959)
    let asked = enters(&ivo, &job, &value("k2", "height-12_2", "0.10", "")).await;
    assert_eq!((asked["outcome"].as_str(), asked["likely"].as_str()), (Some("questioned"), Some("2.54 mm")));
    for (cell, typed) in
        [("height-12_2", "two"), ("height-12_2", "not measurable:"), ("temperature", "warm"), ("tool", "axe")]
    {
        let answer = enters(&ivo, &job, &value("k3", cell, typed, "")).await;
        assert_eq!(answer["outcome"], "unreadable", "{cell} {typed}");
        assert!(!answer["words"].as_str().unwrap().is_empty());
    }
    assert_eq!(shop.count("reading_entry").await, 1);
    let mut sure = value("k4", "height-12_2", "0.10", "");
    sure.push(("sure", "yes"));
    assert_eq!(enters(&ivo, &job, &sure).await["outcome"], "stands");
    // no such string, and no such place
    for cell in ["height-12_7", "relief_1", "colour"] {
        let answer = ivo.sends(&format!("{job}/cells"), &value("k5", cell, "1", "")).await;
        assert_eq!(answer.status, StatusCode::BAD_REQUEST, "{cell}");
    }
}

#[tokio::test]
async fn two_tablets_on_one_cell_keep_both_values_and_ask_which() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let (ivo, owner) = (shop.bench().await, shop.owner().await);
    enters(&ivo, &job, &value("i1", "height-12_3", "2.20", "")).await;
    // she had not seen his value, and he goes on by his own
    let met = enters(&owner, &job, &value("o1", "height-12_3", "2.15", "")).await;
    assert_eq!(met["outcome"], "disputed");
    assert_eq!((met["cells"][0]["typed"].as_str(), met["cells"][0]["who"].as_str()), (Some("2.20"), Some("Ivo")));
    assert_eq!(
        (met["disputes"][0]["typed"].as_str(), met["disputes"][0]["mine"].as_bool()),
        (Some("2.15"), Some(true))
    );
    let dispute = met["disputes"][0]["id"].as_i64().unwrap().to_string();
    // the page says it too, without a script
    assert!(
        ivo.opens(&job).await.visible_text().contains("2.15 by Ottilie at"),
        "{}",
        ivo.opens(&job).await.visible_text()
    );
    assert_eq!(ivo.opens(&job).await.value("height-12_3"), "2.20", "nothing was overwritten");
    // the same value typed by both is no conflict, and other cells merge
    assert_eq!(enters(&owner, &job, &value("o2", "height-12_3", "2.20", "")).await["outcome"], "stands");
    assert_eq!(enters(&owner, &job, &value("o3", "height-12_4", "2.30", "")).await["outcome"], "stands");
    let mut settling = value("o4", "height-12_3", "2.15", "o2");
    settling.push(("settles", &dispute));
    let settled = enters(&owner, &job, &settling).await;
    assert_eq!(settled["outcome"], "stands");
    assert!(settled["disputes"].as_array().unwrap().is_empty());
    assert_eq!(ivo.opens(&job).await.value("height-12_3"), "2.15");
    // a tablet that typed twice while it had no connection replaces its own value
    enters(&ivo, &job, &value("i2", "height-12_5", "2.40", "")).await;
    assert_eq!(enters(&ivo, &job, &value("i3", "height-12_5", "2.41", "i2")).await["outcome"], "stands");
}

#[tokio::test]
async fn the_plan_follows_values_under_way_and_the_set_is_taken_with_the_form() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    enters(&ivo, &job, &value("first", "height-12_1", "2.50; 2.50", "")).await;
    let early = ivo.opens(&format!("{job}/plan")).await;
    assert!(early.all(".step.now h3")[0].contains("Read first"), "{}", early.visible_text());
    assert_eq!(shop.count("plan").await, 0, "nothing was cut by it");
    measures(&ivo, &job).await;
    let plan = ivo.opens(&format!("{job}/plan")).await;
    assert!(plan.all(".step.now h3")[0].contains("Bring the strings down at the bridge"), "{}", plan.visible_text());
    // 2.50 over a target of 1.90 is 1.20 at the saddle by similar triangles; what shows loses as much
    let rows = plan.all(".in-hand.by-end tbody tr");
    assert!(rows[2].starts_with("in all 1.20"), "{rows:?}");
    // two readings of a tool that scatters by 0.03 mm as far as is known (pooled: s² = 5·0.03²/6, over √2), doubled at the
    // saddle, with what cutting adds
    assert!(rows[3].starts_with("sure to ± 0.12"), "{rows:?}");
    // 3.6 less 1.2, and how sure that is; a bar is stopped at what the readings of it support
    assert!(rows[4].starts_with("will be left 2.40 ± "), "{rows:?}");
    assert!(rows[1].contains(" ± "), "{rows:?}");
    let figure = |row: &str, words: &str| -> f64 {
        row.trim_start_matches(words).split_whitespace().next().unwrap().parse().unwrap()
    };
    let (pass, stop) = (figure(&rows[0], "first pass"), figure(&rows[1], "stop at, showing"));
    assert!(pass > 0.0 && pass < 1.2 && (pass + stop - 3.6).abs() < 0.011, "{rows:?}");

    // the same form without a script: what is shown is what is saved
    let page = ivo.opens(&job).await;
    let mut form: Vec<(String, String)> = vec![("form_key".to_owned(), "take".to_owned())];
    for name in ["after", "seen", "tuned_to", "temperature", "humidity", "relief_0", "saddle-treble_0", "saddle-bass_0"]
    {
        form.push((name.to_owned(), page.value(name)));
    }
    form.extend([("stage", "received"), ("tool", "dial")].map(|(name, value)| (name.to_owned(), value.to_owned())));
    for string in 1..=6 {
        for kind in ["height-12", "gap-1-stopped-3"] {
            let name = format!("{kind}_{string}");
            form.push((name.clone(), page.value(&name)));
        }
    }
    // somebody typed meanwhile: the form comes back with both
    let owner = shop.owner().await;
    enters(&owner, &job, &value("late", "height-12_2", "2.61", "h2")).await;
    let fields: Vec<(&str, &str)> = form.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    let met = ivo.sends(&format!("{job}/readings"), &fields).await;
    assert_eq!(met.status, StatusCode::CONFLICT, "{}", met.text);
    assert!(met.visible_text().contains("Saved by somebody else: 2.61"), "{}", met.visible_text());
    assert_eq!(shop.count("reading_set").await, 0);
    // pressed again it is his word against a value he has seen
    let seen = met.value("seen");
    let again: Vec<(&str, &str)> = fields
        .iter()
        .map(|(name, value)| if *name == "seen" { (*name, seen.as_str()) } else { (*name, *value) })
        .collect();
    assert_eq!(ivo.sends(&format!("{job}/readings"), &again).await.status, StatusCode::SEE_OTHER);
    assert_eq!((shop.count("reading_set").await, shop.count("plan").await), (1, 1));

    // a tablet that slept through it still had a value: kept, named, not mixed into the next set
    let late = enters(&owner, &job, &value("slept", "height-12_6", "2.95", "h6")).await;
    assert_eq!(late["outcome"], "late");
    let page = ivo.opens(&job).await;
    assert!(page.visible_text().contains("2.95 by Ottilie at"), "{}", page.visible_text());
    // and a form that was open since before is not taken for the next set in silence
    let mut stale: Vec<(&str, &str)> = again.clone();
    stale[0] = ("form_key", "another");
    assert_eq!(ivo.sends(&format!("{job}/readings"), &stale).await.status, StatusCode::CONFLICT);
}

#[tokio::test]
async fn after_done_the_stale_is_struck_through_and_read_again_against_the_forecast() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    measures(&ivo, &job).await;
    let shown = ivo.opens(&job).await;
    let [after, seen, steps] = ["after", "seen", "steps"].map(|name| shown.value(name));
    let pressed = [("after", after.as_str()), ("seen", seen.as_str()), ("steps", steps.as_str())];
    let done = ivo.sends(&format!("{job}/measure-again"), &pressed).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.text);
    assert!(done.location.as_deref().unwrap().ends_with("#field-height-12_1"), "{:?}", done.location);
    // what the step was done by is a set with its plan
    assert_eq!((shop.count("reading_set").await, shop.count("plan").await), (1, 1));
    let page = ivo.opens(&job).await;
    assert_eq!(page.value("height-12_1"), "");
    assert_eq!(page.all("#about-height-12_1 s"), ["2.50"]);
    assert!(!page.has("#about-relief_0 s"), "relief stays fresh");
    assert!(page.visible_text().contains("Done: Bring the strings down at the bridge"), "{}", page.visible_text());
    assert!(page.all(".step.now h3")[0].contains("Read first"), "nothing is cut by stale heights");
    let set: String = page.value("after");
    // pressed twice it is done once
    let again = ivo.sends(&format!("{job}/measure-again"), &pressed).await;
    assert_eq!((again.status, &again.location), (StatusCode::SEE_OTHER, &done.location), "{}", again.text);
    assert_eq!((shop.count("reading_set").await, shop.count("reading_draft").await), (1, 2));
    // and every other tablet hears of it at its next look
    let look = ivo.opens(&format!("{job}/cells?since=0")).await;
    let look: Value = serde_json::from_str(&look.text).unwrap();
    assert_eq!(look["done"], "Bring the strings down at the bridge");
    assert!(!look["plan"].as_str().unwrap().is_empty());

    for string in 1..=6_u8 {
        let height = format!("{:.2}", 1.95 + 0.08 * f64::from(string - 1));
        let (key, cell) = (format!("again{string}"), format!("height-12_{string}"));
        let mut entry = value(&key, &cell, &height, "");
        entry[4] = ("after", &set);
        assert_eq!(enters(&ivo, &job, &entry).await["outcome"], "stands");
    }
    let plan = ivo.opens(&format!("{job}/plan")).await;
    assert!(
        plan.all(".moved summary")[0].contains("Bring the strings down at the bridge: moved as expected"),
        "{}",
        plan.visible_text()
    );
    let rows = plan.all(".moved tbody tr");
    assert!(rows.iter().any(|row| row.starts_with("1 E4, 12th 2.50 1.95 −0.55")), "{rows:?}");
    assert_eq!(ivo.opens(&job).await.value("height-12_1"), "1.95");
}

#[tokio::test]
async fn a_place_that_cannot_be_measured_says_why_in_the_set() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    enters(&ivo, &job, &value("a", "height-12_1", "2.50", "")).await;
    enters(&ivo, &job, &value("b", "height-12_2", "not measurable: string is missing", "")).await;
    let page = ivo.opens(&job).await;
    let fields = ["after", "seen", "stage", "tuned_to", "height-12_1", "height-12_2"];
    let values = fields.map(|name| if name == "stage" { "received".to_owned() } else { page.value(name) });
    let mut form = vec![("form_key", "set"), ("tool", "dial")];
    form.extend(paired(fields, &values).map(|(name, value)| (name, value.as_str())));
    let taken = ivo.sends(&format!("{job}/readings"), &form).await;
    assert_eq!(taken.status, StatusCode::SEE_OTHER, "{}", taken.text);
    let note: String = sqlx::query_scalar("SELECT note FROM reading_set").fetch_one(shop.app.db.read()).await.unwrap();
    assert_eq!(note, "String 2 B3, height at the 12th fret not measurable: string is missing.");
}

#[tokio::test]
async fn without_a_script_what_was_typed_so_far_can_be_kept() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    let form = [
        ("form_key", "keep"),
        ("after", ""),
        ("seen", "0"),
        ("stage", "received"),
        ("tool", "dial"),
        ("tuned_to", "standard"),
        ("height-12_1", "2.50"),
        ("height-12_2", ""),
        ("humidity", "48"),
    ];
    for _ in 0..2 {
        let kept = ivo.sends(&format!("{job}/readings/keep"), &form).await;
        assert_eq!(kept.status, StatusCode::SEE_OTHER, "{}", kept.text);
    }
    // the height, the humidity, the tool; what stood there anyway is no entry
    assert_eq!(shop.count("reading_entry").await, 3);
    let page = ivo.opens(&job).await;
    assert_eq!((page.value("height-12_1"), page.value("humidity")), ("2.50".to_owned(), "48".to_owned()));
    assert!(page.visible_text().contains("From the readings under way: 1 of"), "{}", page.visible_text());
    assert_eq!(shop.count("reading_set").await, 0);
}

#[tokio::test]
async fn the_order_of_travel_is_each_persons_own() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let (ivo, owner) = (shop.bench().await, shop.owner().await);
    let id = job.rsplit('/').next().unwrap();
    let habit = [("travel", "by-place"), ("unit", "64ths"), ("job", id)];
    assert_eq!(ivo.sends("/bench/habit", &habit).await.location.as_deref(), Some(job.as_str()));
    assert!(ivo.opens(&job).await.has("[data-grid][data-travel=by-place][data-typing='64ths']"));
    assert!(owner.opens(&job).await.has("[data-grid][data-travel=by-string][data-typing=mm]"));
    assert_eq!(
        ivo.sends("/bench/habit", &[("travel", "by-bus"), ("unit", "mm")]).await.status,
        StatusCode::BAD_REQUEST
    );
}

#[tokio::test]
async fn the_bench_has_a_worker_that_nobody_else_may_have() {
    let shop = Shop::open().await;
    let worker = shop.bench().await.opens("/bench/worker.js").await;
    assert_eq!(worker.headers["content-type"], "text/javascript; charset=utf-8");
    assert!(worker.text.contains("addEventListener(\"fetch\""));
    assert_eq!(shop.desk().await.opens("/bench/worker.js").await.status, StatusCode::FORBIDDEN);
}
