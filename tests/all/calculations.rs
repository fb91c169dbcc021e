//! The calculator by hand: every calculation's page opens, works out its example and shows its faults.

use axum::http::StatusCode;
use scraper::Selector;
use serde_json::Value;
use thumbplane::calc::{CALCULATIONS, calc};

use crate::support::form::form_by;
use crate::support::{Answer, Shop};

fn fields(page: &Answer) -> Vec<(String, String)> {
    form_by(page, "form.calculation").to_vec()
}

fn borrowed(fields: &[(String, String)]) -> Vec<(&str, &str)> {
    fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect()
}

fn set(fields: &mut [(String, String)], name: &str, value: &str) {
    let field = fields.iter_mut().find(|(known, _)| known == name).unwrap_or_else(|| panic!("no field {name}"));
    value.clone_into(&mut field.1);
}

fn json(page: &Answer, id: &str) -> Value {
    let text = page.all(&format!("#{id}"));
    serde_json::from_str(&text[0]).unwrap()
}

#[tokio::test]
async fn every_calculation_has_a_page_that_works_out_its_example() {
    let shop = Shop::open().await;
    let bench = shop.bench().await;
    let list = bench.opens("/bench/calculations").await;
    let links = list.all(".hits a");
    assert_eq!(links.len(), CALCULATIONS.len());
    for calculation in CALCULATIONS.iter() {
        let path = format!("/bench/calculations/{}", calculation.name);
        assert!(list.has(&format!(".hits a[href='{path}']")), "{path}");
        assert!(links.iter().any(|words| words.contains(calculation.sentence)));
        let page = bench.opens(&path).await;
        assert_eq!(page.status, StatusCode::OK, "{path}");
        assert_eq!(page.all("h1").len(), 1, "{path}");
        let fields = fields(&page);
        assert!(!fields.is_empty(), "{path}");

        let worked_out = bench.sends(&path, &borrowed(&fields)).await;
        assert_eq!(worked_out.status, StatusCode::OK, "{path}: {}", worked_out.visible_text());
        let example = calculation.example();
        assert_eq!(json(&worked_out, "asked-json"), example, "{path}: what was typed is what was meant");
        let expected = calc(calculation.name, example.to_string().as_bytes()).unwrap();
        assert_eq!(json(&worked_out, "answer-json"), expected, "{path}");
        assert_eq!(self::fields(&worked_out), fields, "{path}: what was typed stays");

        // every number of the answer stands on the page, unrounded where it was rounded
        let document = worked_out.page();
        let shown = Selector::parse(".answer data").unwrap();
        let exact: std::collections::BTreeSet<&str> =
            document.select(&shown).filter_map(|number| number.value().attr("value")).collect();
        let mut numbers = Vec::new();
        collect(&expected, &mut numbers);
        let seen = worked_out.visible_text();
        for number in numbers {
            let rounded_to_itself = seen.contains(&number.to_string().replace('-', "−"));
            let whole = number.as_f64().is_some_and(|value| value.fract() == 0.0);
            assert!(exact.contains(number.to_string().as_str()) || rounded_to_itself || whole, "{path}: {number}");
        }
    }
}

fn collect(value: &Value, numbers: &mut Vec<serde_json::Number>) {
    match value {
        Value::Number(number) if number.is_f64() => numbers.push(number.clone()),
        Value::Array(entries) => entries.iter().for_each(|entry| collect(entry, numbers)),
        Value::Object(fields) => fields.values().for_each(|field| collect(field, numbers)),
        _ => {}
    }
}

#[tokio::test]
async fn a_fault_stands_at_its_field_with_what_was_typed() {
    let shop = Shop::open().await;
    let bench = shop.bench().await;
    let path = "/bench/calculations/tension";
    let mut typed = fields(&bench.opens(path).await);
    set(&mut typed, "/scale_mm", "5");
    set(&mut typed, "/strings/1/pitch", "H9");
    let refused = bench.sends(path, &borrowed(&typed)).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(refused.all(".problems a").len(), 2);
    for (at, words) in [("/scale_mm", "from 50 to 3000"), ("/strings/1/pitch", "note name")] {
        assert!(refused.has(&format!(".problems a[href='#field-{at}']")), "{at}");
        assert!(
            refused.has(&format!("[id='field-{at}'][aria-invalid='true'][aria-describedby~='error-{at}']")),
            "{at}"
        );
        let message = refused.all(&format!("[id='error-{at}']"));
        assert!(message[0].contains(words), "{message:?}");
    }
    assert!(refused.all(".problems a")[1].starts_with("String 2, pitch"), "{:?}", refused.all(".problems a"));
    assert_eq!(fields(&refused), typed);
    assert!(!refused.has("#answer"));

    set(&mut typed, "/scale_mm", "about 645");
    let unreadable = bench.sends(path, &borrowed(&typed)).await;
    assert_eq!(unreadable.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(unreadable.all("[id='error-/scale_mm']")[0].contains("must be a number, such as 2.15"));
    assert_eq!(unreadable.value("/scale_mm"), "about 645");
}

#[tokio::test]
async fn a_fault_of_a_list_or_of_the_whole_stands_where_it_can_be_mended() {
    let shop = Shop::open().await;
    let bench = shop.bench().await;
    let path = "/bench/calculations/promise";
    let mut typed = fields(&bench.opens(path).await);
    set(&mut typed, "/week_hours", "6; 6; 6; 6; 6; 999; 0");
    let refused = bench.sends(path, &borrowed(&typed)).await;
    assert!(refused.all("[id='error-/week_hours']")[0].contains("entry 6"), "{:?}", refused.all(".message"));
    set(&mut typed, "/week_hours", "0 0 0 0 0 0 0");
    let idle = bench.sends(path, &borrowed(&typed)).await;
    assert_eq!(idle.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(!idle.all(".problems li").is_empty());
}

#[tokio::test]
async fn numbers_may_have_a_decimal_comma_and_lists_any_of_three_gaps() {
    let shop = Shop::open().await;
    let bench = shop.bench().await;
    let path = "/bench/calculations/reading";
    let mut typed = fields(&bench.opens(path).await);
    set(&mut typed, "/resolution_mm", "0,05 mm");
    let mut answers = Vec::new();
    for values in ["2,15; 2,10; 2,20", "2.15 2.10 2.20", "2.15\n2.10\n2.20", "2.15, 2.10, 2.20"] {
        set(&mut typed, "/values_mm", values);
        let page = bench.sends(path, &borrowed(&typed)).await;
        assert_eq!(page.status, StatusCode::OK, "{values}: {}", page.visible_text());
        answers.push(json(&page, "answer-json"));
    }
    assert!((answers[0]["mean_mm"].as_f64().unwrap() - 2.15).abs() < 1e-9);
    assert!(answers.windows(2).all(|pair| pair[0] == pair[1]), "{answers:?}");
}

#[tokio::test]
async fn rows_come_and_go_by_a_press_and_an_empty_one_is_no_row() {
    let shop = Shop::open().await;
    let bench = shop.bench().await;
    let path = "/bench/calculations/clearance";
    let typed = fields(&bench.opens(path).await);
    let pressed = |button: &'static str, typed: &[(String, String)]| {
        let mut all = typed.to_vec();
        all.push((button.to_owned(), "/strings".to_owned()));
        all
    };
    let more = bench.sends(path, &borrowed(&pressed("more", &typed))).await;
    assert_eq!(more.status, StatusCode::OK);
    let longer = fields(&more);
    assert_eq!(longer.len(), typed.len() + 2);
    assert!(longer.contains(&("/strings/2/action_12_mm".to_owned(), String::new())));
    assert!(!more.has("#answer"));
    let worked_out = bench.sends(path, &borrowed(&longer)).await;
    assert_eq!(worked_out.status, StatusCode::OK, "{}", worked_out.visible_text());
    assert_eq!(json(&worked_out, "answer-json")["strings"].as_array().unwrap().len(), 2);
    let fewer = bench.sends(path, &borrowed(&pressed("fewer", &typed))).await;
    let shorter = bench.sends(path, &borrowed(&fields(&fewer))).await;
    assert_eq!(json(&shorter, "answer-json")["strings"].as_array().unwrap().len(), 1);
    // Enter presses the first button of the form: it works out, it adds no row
    let first = more.page();
    let buttons = Selector::parse("form.calculation button").unwrap();
    assert_eq!(first.select(&buttons).next().unwrap().value().attr("name"), None);
}

#[tokio::test]
async fn what_is_left_empty_is_left_out() {
    let shop = Shop::open().await;
    let bench = shop.bench().await;
    let path = "/bench/calculations/air";
    let mut typed = fields(&bench.opens(path).await);
    for (name, value) in &mut typed {
        if !["/temperature_c", "/rh_percent"].contains(&name.as_str()) {
            value.clear();
        }
    }
    let page = bench.sends(path, &borrowed(&typed)).await;
    assert_eq!(page.status, StatusCode::OK, "{}", page.visible_text());
    assert_eq!(json(&page, "asked-json").as_object().unwrap().len(), 2);
    let nothing = bench.sends(path, &[("/temperature_c", "")]).await;
    assert_eq!(nothing.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(nothing.all("[id='error-/temperature_c']")[0].contains("is missing"), "{:?}", nothing.all(".message"));
}

#[tokio::test]
async fn a_calculation_nobody_knows_has_no_page() {
    let shop = Shop::open().await;
    let bench = shop.bench().await;
    assert_eq!(bench.opens("/bench/calculations/horoscope").await.status, StatusCode::NOT_FOUND);
    assert_eq!(bench.sends("/bench/calculations/horoscope", &[]).await.status, StatusCode::NOT_FOUND);
    // a list as long as nobody could type stays a page
    let long =
        bench.sends("/bench/calculations/tension", &[("/strings/4000000000/pitch", "E2"), ("more", "/strings")]).await;
    assert_eq!(long.status, StatusCode::OK);
}
