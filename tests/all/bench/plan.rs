//! What the plan offers and says in figures.

use thumbplane::calc::USUAL_TARGETS;

use super::{high_saddle, sends, to_bench};
use crate::support::Shop;

/// The same instrument with other values in some fields.
fn with(changes: &[(&str, &str)]) -> Vec<(String, String)> {
    let mut form = high_saddle("r1");
    for (name, value) in &mut form {
        if let Some((_, other)) = changes.iter().find(|(start, _)| name.starts_with(start)) {
            *value = (*other).to_owned();
        }
    }
    form
}

#[tokio::test]
async fn what_is_only_watched_is_offered_and_not_ticked() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    // a saddle that stands high is work
    sends(&ivo, &format!("{job}/readings"), &high_saddle("r1")).await;
    assert!(ivo.opens(&job).await.has("#work input[name=line][value^='saddle-lower:'][checked]"));
    // once it waits for something else it may turn out otherwise: offered, and pressed upon nobody
    let glued = [("form_key", "o"), ("key", "saddle-glued"), ("string", ""), ("fret", ""), ("seen_note", "")];
    ivo.sends(&format!("{job}/observations"), &glued).await;
    let offered = |page: &crate::support::Answer| {
        assert!(page.has("#work input[name=line][value^='saddle-lower:']"), "{}", page.visible_text());
        assert!(!page.has("#work input[name=line][value^='saddle-lower:'][checked]"));
    };
    offered(&ivo.opens(&job).await);
    // heights where they should be, and a saddle that is glued in: to be known, not to be sold
    let mut form = high_saddle("r2");
    for (name, value) in &mut form {
        if let Some(string) = name.strip_prefix("height-12_").and_then(|string| string.parse::<u8>().ok()) {
            *value = format!("{:.2}", 1.9 + 0.08 * f64::from(string - 1));
        }
    }
    sends(&ivo, &format!("{job}/readings"), &form).await;
    offered(&ivo.opens(&job).await);
}

#[tokio::test]
async fn a_slot_that_is_raised_says_by_how_much_and_how_sure_that_is() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    sends(&ivo, &format!("{job}/readings"), &with(&[("gap-1", "0.00; 0.00; 0.00")])).await;
    let page = ivo.opens(&job).await;
    let html = page.page();
    let rows = scraper::Selector::parse(".in-hand.by-string tbody tr").unwrap();
    let cells = scraper::Selector::parse("td").unwrap();
    let heads = page.all(".in-hand.by-string thead th");
    let rows: Vec<Vec<String>> =
        html.select(&rows).map(|row| row.select(&cells).map(|cell| cell.text().collect()).collect()).collect();
    assert!(!rows.is_empty(), "{}", page.visible_text());
    for row in &rows {
        assert_eq!(row.len(), heads.len(), "{row:?} under {heads:?}");
        assert!(row[0].starts_with("raise 0.") && row[3].parse::<f64>().is_ok_and(|sure| sure > 0.0), "{row:?}");
    }
}

#[tokio::test]
async fn readings_that_are_only_too_uncertain_are_read_again_and_nothing_is_called_done() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let ivo = shop.bench().await;
    // a house whose files cut no finer than most of a millimetre
    let targets = USUAL_TARGETS.replace("cut_uncertainty_mm = 0.03", "cut_uncertainty_mm = 0.9");
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE settings SET targets = ?").bind(targets).execute(&mut *write).await.unwrap();
    write.commit().await.unwrap();
    let form = with(&[("gap-1", "0.25; 0.25; 0.25")]);
    sends(&ivo, &format!("{job}/readings"), &form).await;
    let page = ivo.opens(&job).await;
    assert!(page.all(".step.now h3").iter().any(|title| title.contains("Read again")), "{:?}", page.all(".step h3"));
    assert!(!page.has("#plan form[action$='/measure-again']"), "{}", page.visible_text());
}

#[tokio::test]
async fn target_values_that_cannot_be_read_are_said_and_nothing_is_planned_by_others() {
    let shop = Shop::open().await;
    let job = to_bench(&shop).await;
    let (ivo, owner) = (shop.bench().await, shop.owner().await);
    sends(&ivo, &format!("{job}/readings"), &high_saddle("r1")).await;
    let mut write = shop.app.db.write().await.unwrap();
    let broken = USUAL_TARGETS.replacen("cents_tolerance", "cents_allowed", 1);
    assert_ne!(broken, USUAL_TARGETS);
    sqlx::query("UPDATE settings SET targets = ?").bind(&broken).execute(&mut *write).await.unwrap();
    write.commit().await.unwrap();
    let kept = shop.count("plan").await;
    for path in [job.clone(), format!("{job}/plan"), format!("{job}/card"), format!("{job}/working")] {
        let page = ivo.opens(&path).await;
        assert_eq!(page.status.as_u16(), 409, "{path}");
        for words in ["target values cannot be read", "cents_allowed", "Office, Target values"] {
            assert!(page.visible_text().contains(words), "{path}: {words} in {}", page.visible_text());
        }
    }
    let taken = sends(&ivo, &format!("{job}/readings"), &high_saddle("r2")).await;
    assert_eq!(taken.status.as_u16(), 409, "{}", taken.visible_text());
    assert_eq!((shop.count("plan").await, shop.count("reading_set").await), (kept, 1));
    // the owner is told where they mend it, and then all goes on
    let page = owner.opens("/office/targets").await;
    assert!(page.all("#error-targets")[0].contains("cents_allowed"), "{}", page.visible_text());
    assert_eq!(page.value("targets").trim(), broken.trim(), "as it stands");
    let version = page.value("version");
    let mended = owner.sends("/office/targets", &[("version", &version), ("targets", USUAL_TARGETS)]).await;
    assert_eq!(mended.status.as_u16(), 303, "{}", mended.visible_text());
    assert!(ivo.opens(&job).await.has(".step.now"));
}
