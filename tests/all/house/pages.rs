//! Templates, style sheets and static files: what must hold for all of them.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::support::Shop;

fn files(folder: &str, kind: &str) -> Vec<(PathBuf, String)> {
    fn walk(below: &Path, kind: &str, found: &mut Vec<(PathBuf, String)>) {
        for entry in std::fs::read_dir(below).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(&path, kind, found);
            } else if path.extension().is_some_and(|extension| extension == kind) {
                let text = std::fs::read_to_string(&path).unwrap();
                found.push((path, text));
            }
        }
    }
    let mut found = Vec::new();
    walk(&Path::new(env!("CARGO_MANIFEST_DIR")).join(folder), kind, &mut found);
    found
}

#[test]
fn templates_keep_to_what_the_security_policy_and_old_tablets_allow() {
    let templates = files("templates", "html");
    assert!(templates.len() > 25);
    for (path, text) in templates {
        let said = path.display();
        assert!(!text.contains("style="), "{said}: inline style");
        assert!(!text.contains("type=\"number\""), "{said}: a number field turns 1,75 into 175");
        assert!(!text.contains(" onclick") && !text.contains(" onsubmit"), "{said}: inline script");
        for button in text.split("<button").skip(1) {
            assert!(button.split('>').next().unwrap().contains("type="), "{said}: a button without a type");
        }
        let pieces: Vec<&str> = text.split("|safe").collect();
        for before in &pieces[..pieces.len() - 1] {
            let name = before.rsplit("{{").next().unwrap().trim();
            let drawings = [
                "stage.inlay",
                "qr",
                "bars",
                "side",
                "map",
                "chart.map",
                "compared.bars",
                "face",
                "outline",
                "drawn.at_size",
                "drawn.enlarged",
                "forecast.chart",
            ];
            assert!(drawings.contains(&name), "{said}: {name} is printed unescaped and is no drawing of ours");
        }
    }
}

#[test]
fn every_static_file_a_template_names_is_there() {
    let mut named = 0;
    for (path, text) in files("templates", "html") {
        for name in text.split("assets::url(\"").skip(1).map(|rest| rest.split('"').next().unwrap()) {
            named += 1;
            assert!(!thumbplane::web::assets::url(name).contains("missing"), "{} names {name}", path.display());
        }
    }
    assert!(named > 5);
}

#[tokio::test]
async fn static_files_are_kept_for_a_year_and_answer_unchanged() {
    let shop = Shop::open().await;
    for name in thumbplane::web::assets::names() {
        let url = thumbplane::web::assets::url(&name);
        let first = shop.stranger().opens(&url).await;
        assert_eq!(first.status.as_u16(), 200, "{url}");
        assert!(first.headers["cache-control"].to_str().unwrap().contains("immutable"), "{url}");
        let etag = first.headers["etag"].to_str().unwrap().to_owned();
        let again = shop.stranger().sends_raw_get(&url, "if-none-match", &etag).await;
        assert_eq!(again.status.as_u16(), 304, "{url}");
    }
}

/// Relative luminance and contrast as WCAG 2.2 defines them.
fn contrast(one: &str, other: &str) -> f64 {
    let luminance = |colour: &str| {
        let channel = |from: usize| {
            let value = f64::from(u8::from_str_radix(&colour[from..from + 2], 16).unwrap()) / 255.0;
            if value <= 0.040_45 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
    };
    let (one, other) = (luminance(one), luminance(other));
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

#[test]
fn contrast_of_the_house_colours_meets_wcag() {
    // the formula against its own published ends: black on white is 21; #767676 is the lightest grey that passes
    assert!((contrast("#000000", "#FFFFFF") - 21.0).abs() < 1e-9);
    assert!(contrast("#767676", "#FFFFFF") >= 4.5 && contrast("#777777", "#FFFFFF") < 4.5);
    let css = files("static", "css").into_iter().find(|(path, _)| path.ends_with("tokens.css")).unwrap().1;
    let screen = css.split("@media print").next().unwrap();
    let schemes: Vec<&str> = screen.split("prefers-color-scheme: dark").collect();
    assert_eq!(schemes.len(), 2, "a light and a dark scheme");
    for (scheme, text) in ["light", "dark"].iter().zip(schemes) {
        let tokens: BTreeMap<&str, &str> = text
            .split("--")
            .skip(1)
            .filter_map(|token| {
                let (name, rest) = token.split_once(':')?;
                let value = rest.split(';').next()?.trim();
                (value.len() == 7 && value.starts_with('#')).then_some((name.trim(), value))
            })
            .collect();
        for text in ["ink", "faded", "brass", "spruce", "rosewood", "slate"] {
            for ground in ["paper", "card"] {
                let found = contrast(tokens[text], tokens[ground]);
                assert!(found >= 4.5, "{scheme}: {text} on {ground} is {found:.2}");
            }
        }
        for (text, ground) in [("on-walnut", "walnut"), ("on-brass", "brass")] {
            let found = contrast(tokens[text], tokens[ground]);
            assert!(found >= 4.5, "{scheme}: {text} on {ground} is {found:.2}");
        }
    }
}

#[tokio::test]
async fn every_page_of_the_story_opens_with_one_heading_and_a_title() {
    let shop = Shop::with_story().await;
    let owner = shop.owner().await;
    let mut paths: Vec<String> = [
        "/desk",
        "/desk/check-in",
        "/desk/care",
        "/desk/day",
        "/desk/uncollected",
        "/desk/search?q=a",
        "/bench",
        "/office",
        "/office/settings",
        "/office/services",
        "/office/string-sets",
        "/office/staff",
        "/office/targets",
        "/office/tokens",
        "/bench/calculations",
        "/office/final-check",
        "/office/parts",
        "/bench/labour",
        "/office/papers",
        "/office/import",
        "/office/export",
        "/account",
    ]
    .map(str::to_owned)
    .to_vec();
    let jobs: Vec<uuid::Uuid> = sqlx::query_scalar("SELECT id FROM job").fetch_all(shop.app.db.read()).await.unwrap();
    for job in jobs {
        for page in [
            "",
            "/ticket",
            "/sheet",
            "/hand-over",
            "/details",
            "/condition",
            "/receipt",
            "/tag",
            "/shelf-label",
            "/photos",
        ] {
            paths.push(format!("/desk/jobs/{job}{page}"));
        }
        for page in ["", "/card", "/final-check", "/fretboard"] {
            paths.push(format!("/bench/jobs/{job}{page}"));
        }
    }
    for (table, door) in [("customer", "customers"), ("instrument", "instruments"), ("quote", "quotes")] {
        let sql = format!("SELECT id FROM {table}");
        let ids: Vec<uuid::Uuid> =
            sqlx::query_scalar(sqlx::AssertSqlSafe(sql)).fetch_all(shop.app.db.read()).await.unwrap();
        paths.extend(ids.iter().map(|id| format!("/desk/{door}/{id}")));
        if table == "instrument" {
            paths.extend(ids.iter().map(|id| format!("/desk/instruments/{id}/history")));
        }
    }
    assert!(paths.len() > 500);
    for path in paths {
        let answer = owner.opens(&path).await;
        assert_eq!(answer.status.as_u16(), 200, "{path}");
        assert_eq!(answer.all("h1").len(), 1, "{path}");
        assert!(answer.all("title")[0].ends_with("Millrace Strings"), "{path}");
        for empty in answer.all("a, button") {
            assert!(!empty.is_empty(), "{path}: a link or button without words");
        }
    }
}
