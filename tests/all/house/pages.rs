//! Templates, style sheets and static files: what must hold for all of them.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use scraper::{ElementRef, Selector};

use crate::support::{Answer, Shop, check_in_form, paired};

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
        // a drawing knows by its type that it is one of ours
        for unescaped in ["|safe", "| safe", "|escape(\"none\")", "escape \"none\""] {
            assert!(!text.contains(unescaped), "{said}: printed unescaped");
        }
    }
    for (path, text) in files("src", "rs") {
        let is_the_drawings_own = path.ends_with("drawing/svg.rs");
        for marked in ["HtmlSafe", "filters::Safe", "escape = \"none\""] {
            assert!(is_the_drawings_own || !text.contains(marked), "{}: printed unescaped", path.display());
        }
    }
}

#[test]
fn templates_are_laid_out_to_be_read() {
    for (path, text) in files("templates", "html") {
        for (number, line) in (1..).zip(text.lines()) {
            let length = line.chars().count();
            assert!(length <= 160, "{}:{number} is {length} characters long", path.display());
        }
    }
}

/// What stands between the marks of the template engine, with the number of its line.
fn engine_code(text: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    for (open, close) in [("{%", "%}"), ("{{", "}}")] {
        let mut from = 0;
        while let Some(start) = text[from..].find(open).map(|start| from + start) {
            let end = start + text[start..].find(close).unwrap_or_else(|| panic!("{open} without {close}: {text}"));
            found
                .push((text[..start].lines().count().max(1), text[start + 2..end].trim_matches('-').trim().to_owned()));
            from = end + 2;
        }
    }
    found
}

/// The same with every text in quotes empty, so that words of a page are not taken for code.
fn without_texts(code: &str) -> String {
    let parts = code.split('"').enumerate().filter(|(place, _)| place % 2 == 0);
    parts.map(|(_, part)| part).collect::<Vec<_>>().join("\"\"")
}

/// Why a piece of a template is a decision. What may stand there: how many there are, where one or none is said in
/// another way than many; which of several the page itself has marked (`is`, `==` between two of its own values); and
/// whether something is there at all.
fn decision(code: &str) -> Option<String> {
    let code = without_texts(code);
    for reads in ["split", "parse(", "starts_with(", "ends_with(", "contains(", "strip_", "trim", "find(", "index()"] {
        if code.contains(reads) {
            return Some(format!("it takes a value apart: {reads}"));
        }
    }
    for (sign, rest) in [" == ", " != ", " < ", " > ", " <= ", " >= "].iter().filter_map(|sign| {
        let (_, rest) = code.split_once(sign)?;
        Some((sign, rest.trim_start().to_owned()))
    }) {
        if rest.starts_with("\"\"") {
            return Some("it compares with a word".to_owned());
        }
        if rest.contains("::") {
            return Some("it compares with one of a closed list".to_owned());
        }
        let number: String = rest.chars().take_while(char::is_ascii_digit).collect();
        let counts = matches!((*sign, number.as_str()), (" == " | " != " | " > ", "0" | "1"));
        if !number.is_empty() && !counts {
            return Some(format!("it knows a limit:{sign}{number}"));
        }
        if number.is_empty() && !matches!(*sign, " == " | " != ") {
            return Some(format!("it weighs two values:{sign}"));
        }
        // a key is how a value is written down, not what it means
        if rest.contains(".key()") || code.split(sign).next().is_some_and(|left| left.ends_with(".key()")) {
            return Some("it compares keys".to_owned());
        }
        if code.split(sign).next().is_some_and(|left| left.ends_with(|c: char| c.is_ascii_digit())) {
            return Some("it looks into a value".to_owned());
        }
    }
    None
}

#[test]
fn a_template_formats_and_does_not_decide() {
    // the scan itself: what it must find, and what is only said in other words
    for decides in [
        "if job.stage.key() == \"ready\"",
        "if job.stage.index() < 5",
        "if let Some((value, unsure)) = figure.split_once(\" ± \")",
        "if !cell.field.starts_with(\"cents\")",
        "if part.on_hand.0 < 0",
        "if control.kind == Kind::Day",
        "if row.answer == answer.key()",
        "if row.days > 30",
    ] {
        assert!(decision(decides).is_some(), "{decides}");
    }
    for says in ["if row.days == 1", "if notes.len() > 1", "if *unit == habit.unit", "if form.is(\"mark\", \"a < b\")"]
    {
        assert_eq!(decision(says), None, "{says}");
    }
    for (path, text) in files("templates", "html") {
        for (line, code) in engine_code(&text) {
            if let Some(why) = decision(&code) {
                panic!("{}:{line}: {{% {code} %}} decides: {why}", path.display());
            }
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
    // the formula against its own published ends: black on white is 21; #767676 is the lightest grey that passes as
    // text, #949494 the lightest that passes as an edge (WCAG 2.2, understanding 1.4.3 and 1.4.11); never rounded up
    for (grey, on_white) in [("#000000", 21.00), ("#767676", 4.54), ("#777777", 4.48), ("#949494", 3.03)] {
        let found = contrast(grey, "#FFFFFF");
        assert!((found - on_white).abs() < 0.005, "{grey}: {found}");
    }
    let css = files("static", "css").into_iter().find(|(path, _)| path.ends_with("tokens.css")).unwrap().1;
    let screen = css.split("@media print").next().unwrap();
    let schemes: Vec<&str> = screen.split("prefers-color-scheme: dark").collect();
    for (scheme, text) in paired(["light", "dark"], schemes) {
        let tokens: BTreeMap<&str, &str> = text
            .split("--")
            .skip(1)
            .filter_map(|token| {
                let (name, rest) = token.split_once(':')?;
                let value = rest.split(';').next()?.trim();
                (value.len() == 7 && value.starts_with('#')).then_some((name.trim(), value))
            })
            .collect();
        for text in ["ink", "faded", "heading", "brass", "brass-deep", "spruce", "rosewood", "slate"] {
            for ground in ["paper", "card"] {
                let found = contrast(tokens[text], tokens[ground]);
                assert!(found >= 4.5, "{scheme}: {text} on {ground} is {found:.2}");
            }
        }
        // borders of fields and buttons, and the ring round what has the focus: 1.4.11 and 2.4.7
        for edge in ["edge", "brass"] {
            for ground in ["paper", "card", "field"] {
                let found = contrast(tokens[edge], tokens[ground]);
                assert!(found >= 3.0, "{scheme}: {edge} on {ground} is {found:.2}");
            }
        }
        if scheme == "light" {
            // worked by another program over the same formula
            for (text, on_paper, on_card) in [
                ("ink", 14.68, 16.00),
                ("faded", 6.74, 7.35),
                ("walnut", 10.37, 11.30),
                ("brass", 6.48, 7.06),
                ("spruce", 7.10, 7.74),
                ("rosewood", 7.72, 8.41),
                ("slate", 8.32, 9.06),
                ("rule", 1.39, 1.52),
            ] {
                let found = (contrast(tokens[text], tokens["paper"]), contrast(tokens[text], tokens["card"]));
                assert!(
                    (found.0 - on_paper).abs() < 0.006 && (found.1 - on_card).abs() < 0.006,
                    "{text} on paper and card: {found:?}"
                );
            }
        }
        for (text, ground) in [("on-walnut", "walnut"), ("on-brass", "brass"), ("on-rosewood", "rosewood")] {
            let found = contrast(tokens[text], tokens[ground]);
            assert!(found >= 4.5, "{scheme}: {text} on {ground} is {found:.2}");
        }
    }
}

/// What pages are checked for without a browser, by the numbers of WCAG 2.2 and the HTML standard: 3.1.1 (language),
/// 4.1.2 and 3.3.2 (each control has a name), 1.3.1 (headings of tables, groups of choices), 1.1.1 (pictures in
/// words); HTML: each id once, references lead somewhere. OWASP ASVS 5.0.0, V1.2.2 (addresses), V3.2.2 and V3.4.3 (no
/// script or style in the page).
fn is_well_made(answer: &Answer, path: &str) {
    let page = answer.page();
    let all = |selector: &str| -> Vec<ElementRef<'_>> { page.select(&Selector::parse(selector).unwrap()).collect() };
    let text = |element: &ElementRef<'_>| element.text().collect::<String>().trim().to_owned();
    assert_eq!(all("html").first().and_then(|html| html.attr("lang")), Some("en"), "{path}");
    let mut ids = std::collections::BTreeSet::new();
    for element in all("[id]") {
        let id = element.attr("id").unwrap();
        assert!(!id.is_empty() && !id.contains(' ') && ids.insert(id), "{path}: the id {id:?} twice");
    }
    for attribute in ["for", "aria-describedby", "aria-labelledby", "aria-controls", "aria-activedescendant", "list"] {
        for element in all(&format!("[{attribute}]")) {
            for id in element.attr(attribute).unwrap().split_whitespace() {
                assert!(ids.contains(id), "{path}: {attribute} names {id}, which is not there");
            }
        }
    }
    let labelled: std::collections::BTreeSet<&str> = all("label[for]")
        .iter()
        .filter(|label| !text(label).is_empty())
        .filter_map(|label| label.attr("for"))
        .collect();
    for control in all("input:not([type=hidden]), select, textarea") {
        let in_label = control
            .ancestors()
            .filter_map(ElementRef::wrap)
            .any(|above| above.value().name() == "label" && !text(&above).is_empty());
        let named = control.attr("id").is_some_and(|id| labelled.contains(id))
            || in_label
            || ["aria-label", "aria-labelledby", "alt"]
                .iter()
                .any(|name| control.attr(name).is_some_and(|said| !said.is_empty()));
        assert!(named, "{path}: {} has no name", control.html());
        let kind = control.attr("type").unwrap_or("text");
        assert!(kind != "number", "{path}: {}", control.html());
        // other people's data: the browser offers nobody the last customer's address (1.3.5 is of the user's own)
        let typed =
            control.value().name() == "textarea" || ["text", "search", "email", "tel", "password"].contains(&kind);
        assert!(
            !typed || control.value().name() != "input" || control.attr("autocomplete").is_some(),
            "{path}: {}",
            control.html()
        );
        assert!(control.attr("required").is_none() && control.attr("pattern").is_none(), "{path}: {}", control.html());
    }
    for cell in all("th") {
        assert!(cell.attr("scope").is_some(), "{path}: {}", cell.html());
    }
    for group in all("fieldset") {
        let legend = group.children().filter_map(ElementRef::wrap).next();
        let is_legend = legend.is_some_and(|legend| legend.value().name() == "legend" && !text(&legend).is_empty());
        assert!(is_legend, "{path}: a group without a legend");
    }
    for picture in all("img") {
        assert!(picture.attr("alt").is_some(), "{path}: {}", picture.html());
    }
    for drawing in all("svg") {
        let said = drawing.attr("aria-label").is_some_and(|said| !said.is_empty());
        assert!(said || drawing.attr("aria-hidden") == Some("true"), "{path}: a drawing without words");
    }
    for (selector, attribute) in
        [("a[href]", "href"), ("form[action]", "action"), ("[src]", "src"), ("link[href]", "href")]
    {
        for element in all(selector) {
            let to = element.attr(attribute).unwrap();
            let ours =
                ["/", "#", "?", "tel:+", "mailto:"].iter().any(|start| to.starts_with(start)) && !to.starts_with("//");
            assert!(ours, "{path}: {attribute}={to:?} leads out of the house");
        }
    }
    for script in all("script") {
        let data = script.attr("type") == Some("application/json");
        assert!(data || text(&script).is_empty(), "{path}: a script in the page");
    }
    for element in all("*") {
        for (name, _) in element.value().attrs() {
            assert!(!name.starts_with("on") && name != "style", "{path}: {name} on {}", element.value().name());
        }
    }
    // 4.1.3: what is announced later has its place from the start
    assert!(!all("[role=status]").is_empty() || !all(".on-paper").is_empty(), "{path}");
}

// WCAG 2.2, 3.3.1 and 3.3.3; how public services show errors: "Error: " before the title, the summary first, one link
// to each field, the same words in both, the focus on the summary
#[tokio::test]
async fn a_refused_form_says_first_what_to_mend_and_where() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let job = owner.checks_in("k").await;
    let bench = job.replace("/desk/", "/bench/");
    let work = [("form_key", "w"), ("service", ""), ("words", "Set it up"), ("price", "65")];
    owner.sends(&format!("{job}/work"), &work).await;
    owner.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "measured")]).await;
    let quote = owner.sends(&format!("{job}/quote"), &[("form_key", "q")]).await.location.unwrap();
    let id = |table: &str| {
        let sql = format!("SELECT id FROM {table}");
        let db = shop.app.db.clone();
        async move { sqlx::query_scalar::<_, uuid::Uuid>(sqlx::AssertSqlSafe(sql)).fetch_one(db.read()).await.unwrap() }
    };
    let (customer, instrument) = (id("customer").await, id("instrument").await);
    let version: i64 = sqlx::query_scalar("SELECT version FROM job").fetch_one(shop.app.db.read()).await.unwrap();
    let version = version.to_string();
    let mut check_in = check_in_form("refused");
    for (name, value) in &mut check_in {
        match *name {
            "name" | "family" | "complaint" | "style" => *value = "",
            "promised_on" => *value = "03/04/2026",
            "email" => *value = "maren at oakhollow",
            _ => {}
        }
    }
    for (path, form) in [
        ("/desk/check-in".to_owned(), check_in),
        (
            format!("/desk/customers/{customer}"),
            vec![("version", "1"), ("name", " "), ("email", "x"), ("reach_by", "owl")],
        ),
        (
            format!("/desk/instruments/{instrument}"),
            vec![
                ("version", "1"),
                ("family", "lute"),
                ("scale", "long"),
                ("frets", "-2"),
                ("pitch_1", "H9"),
                ("gauge_1", "1e3"),
            ],
        ),
        (
            format!("{job}/details"),
            vec![("version", "2"), ("complaint", ""), ("style", "loud"), ("promised_on", "soon")],
        ),
        (format!("{job}/work"), vec![("form_key", "x"), ("service", ""), ("words", ""), ("price", "cheap")]),
        (format!("{job}/payment"), vec![("form_key", "p"), ("kind", "gift"), ("method", "shells"), ("amount", "much")]),
        (format!("{quote}/answer"), vec![("answer", "agreed"), ("how", "owl"), ("answered_by", " ")]),
        (format!("{bench}/wait"), vec![("version", version.as_str()), ("waiting_for", "part"), ("wait_reason", " ")]),
        (
            "/office/settings".to_owned(),
            vec![("version", "1"), ("shop_name", ""), ("currency", "XXX"), ("standard_tax_rate", "x")],
        ),
        ("/office/staff".to_owned(), vec![("name", ""), ("password", "short")]),
        (
            "/office/services".to_owned(),
            vec![("form_key", "s"), ("key", ""), ("name", ""), ("minutes", "x"), ("price", "x")],
        ),
        ("/office/parts".to_owned(), vec![("form_key", "s"), ("name", ""), ("price", "x")]),
        ("/account".to_owned(), vec![("present", ""), ("password", "short")]),
        ("/sign-in".to_owned(), vec![("name", ""), ("password", "")]),
    ] {
        let answer = owner.sends(&path, &form).await;
        assert_eq!(answer.status.as_u16(), 422, "{path}: {}", answer.visible_text());
        assert!(answer.all("title")[0].starts_with("Error: "), "{path}: {:?}", answer.all("title"));
        is_well_made(&answer, &path);
        let page = answer.page();
        let summary = Selector::parse("section.problems").unwrap();
        let summary = page.select(&summary).next().unwrap_or_else(|| panic!("{path} has no summary"));
        assert!(summary.attr("autofocus").is_some() && summary.attr("tabindex") == Some("-1"), "{path}");
        assert!(
            answer.text.find("class=\"problems\"") < answer.text.find("<h1") || answer.has(".answer .problems"),
            "{path}"
        );
        let links: Vec<(String, String)> = summary
            .select(&Selector::parse("a").unwrap())
            .map(|link| (link.attr("href").unwrap().to_owned(), link.text().collect::<String>()))
            .collect();
        assert!(!links.is_empty(), "{path}");
        for (to, words) in links {
            let field = to.strip_prefix("#field-").unwrap_or_else(|| panic!("{path}: {to}"));
            assert!(answer.has(&format!("[id='field-{field}']")), "{path}: {to} leads nowhere");
            let messages = answer.all(".message");
            let folded = words.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(messages.contains(&folded), "{path}: {words:?} does not stand at its field: {messages:?}");
            let wired =
                answer.has(&format!("[id='field-{field}'][aria-invalid='true'][aria-describedby~='error-{field}']"));
            assert!(wired, "{path}: the field {field} does not say that it is wrong");
        }
        for (name, value) in form {
            let back = answer.has(&format!("[name='{name}']")) && !name.contains("password") && name != "present";
            let typed = Selector::parse(&format!("input[name='{name}'][type=text], textarea[name='{name}']")).unwrap();
            // a page of several forms may have the same field in each
            if back && page.select(&typed).count() == 1 {
                assert_eq!(answer.value(name).trim(), value.trim(), "{path}: {name} comes back as typed");
            }
        }
    }
}

#[test]
fn scripts_write_text_and_send_nothing_by_themselves() {
    let scripts = files("static", "js");
    assert!(scripts.len() > 5);
    for (path, text) in scripts {
        let said = path.display();
        // OWASP ASVS 5.0.0, V3.2.2: words are written as text
        for markup in ["innerHTML", "outerHTML =", "insertAdjacentHTML", "document.write", "eval(", "new Function"] {
            assert!(!text.contains(markup), "{said}: {markup}");
        }
        // WCAG 2.2, 3.2.2: changing a field does not leave the page
        for after in text.split("addEventListener(\"change\"").skip(1) {
            let handler: String = after.chars().take(600).collect();
            let handler = handler.split("\n});").next().unwrap_or("");
            assert!(!handler.contains("ubmit(") && !handler.contains("location."), "{said}: a change sends the form");
        }
        for elsewhere in ["http://", "https://"] {
            assert!(!text.replace("http://www.w3.org/", "").contains(elsewhere), "{said} asks another house");
        }
    }
}

#[test]
fn a_hairline_is_never_the_only_edge_of_what_one_presses() {
    // WCAG 2.2, 1.4.11: borders of fields and buttons have 3 to 1; the hairline between rows has less
    let mut rules = 0;
    for (path, text) in files("static", "css") {
        for rule in text.split('}') {
            let Some((selector, body)) = rule.rsplit_once('{') else { continue };
            rules += 1;
            let pressed = ["input", "select", "textarea", "button", ".button", ":focus", ".tile"]
                .iter()
                .any(|control| selector.rsplit("*/").next().unwrap().contains(control));
            let hair = body.lines().any(|line| line.trim_start().starts_with("border:") && line.contains("--rule"));
            assert!(!(pressed && hair), "{}: {selector}", path.display());
            assert!(
                !body.lines().any(|line| line.contains("outline") && line.contains("--rule")),
                "{}",
                path.display()
            );
        }
    }
    assert!(rules > 200, "{rules}");
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
        "/desk/to-tell",
        "/office/telling",
        "/office/telling/words/ready",
        "/desk/messages",
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
        "/office/queue",
        "/office/queue?danger=yes&family=classical",
        "/office/calendar",
        "/office/turnaround",
        "/office/turnaround?by=family&until=collected&months=24",
        "/office/turnaround?by=service",
        "/office/turnaround?by=person",
        "/office/turnaround?by=season",
        "/office/promises",
        "/office/minutes",
        "/office/money",
        "/office/to-order",
        "/office/audit",
        "/office/audit?find=26-0001",
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
    let services: Vec<uuid::Uuid> =
        sqlx::query_scalar("SELECT id FROM service").fetch_all(shop.app.db.read()).await.unwrap();
    paths.extend(services.iter().map(|service| format!("/office/minutes/{service}")));
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
        is_well_made(&answer, &path);
        assert!(answer.all("title")[0].ends_with("Millrace Strings"), "{path}");
        for empty in answer.all("a, button") {
            assert!(!empty.is_empty(), "{path}: a link or button without words");
        }
    }
}
