//! What the records refuse when a page is bypassed: each thing that can be done to a job, at each stage it can stand
//! at, sent through the real router.

use std::collections::BTreeSet;

use axum::http::{Method, StatusCode};
use thumbplane::records::stage::Stage;
use uuid::Uuid;

use crate::bench::high_saddle;
use crate::photos::{jpeg_with_a_place, sends_files};
use crate::support::{Answer, Person, Shop, check_in_form};

/// Posts that are about no job's stage: the house, people, instruments as such, care, the catalogue, the office.
const ELSEWHERE: &[&str] = &[
    "/sign-in",
    "/sign-out",
    "/first-start",
    "/account",
    "/unsent",
    "/unsent/throw-away",
    "/desk/customers/{id}",
    "/desk/customers/{id}/merge",
    "/desk/customers/new",
    "/desk/customers/{id}/export",
    "/desk/instruments/{id}",
    "/desk/instruments/{id}/strings",
    "/desk/instruments/{id}/owner",
    "/desk/care/{id}",
    "/desk/closing",
    "/desk/care/{id}/done",
    "/desk/care/{id}/pause",
    "/bench/habit",
    "/bench/calculations/{name}",
    "/bench/labour/stop",
    "/api/calc/{name}",
];

/// How something is sent.
enum Sent {
    Form(Vec<(String, String)>),
    Files,
    Piece,
}

struct Action {
    /// The row of the router.
    route: &'static str,
    what: &'static str,
    who: &'static str,
    path: String,
    sent: Sent,
    /// One letter a stage, in the order of [`Stage::ALL`].
    expected: &'static str,
}

/// A job with one of everything, and the keys of what hangs on it.
struct Full {
    shop: Shop,
    job: String,
    customer: String,
    instrument: String,
    mark: String,
    quote: String,
    photo: String,
    observation: String,
    movement: String,
    payment: String,
    part: String,
    stretch: String,
    item: String,
    service: &'static str,
    /// Done; agreed; declined; quoted and unanswered; proposed and in no quote.
    lines: [String; 5],
    /// A line of another job.
    other_line: String,
    measure_again: Vec<(String, String)>,
}

async fn key(shop: &Shop, sql: &'static str) -> String {
    sqlx::query_scalar::<_, Uuid>(sql).fetch_one(shop.app.db.read()).await.unwrap().to_string()
}

async fn does(person: &Person<'_>, path: &str, form: &[(&str, &str)]) -> Option<String> {
    let answer = person.sends(path, form).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{path}: {}", answer.visible_text());
    answer.location
}

async fn full_job() -> Full {
    let shop = Shop::open().await;
    let (desk, owner, ivo) = (shop.desk().await, shop.owner().await, shop.bench().await);
    let job = desk.checks_in("k").await;
    let bench = job.replace("/desk/", "/bench/");
    let proposes = async |key: &str, words: &str| {
        let line = [("form_key", key), ("service", ""), ("words", words), ("price", "20")];
        does(&desk, &format!("{job}/work"), &line).await;
        sqlx::query_scalar::<_, Uuid>("SELECT id FROM work_line WHERE words = ?")
            .bind(words)
            .fetch_one(shop.app.db.read())
            .await
            .unwrap()
            .to_string()
    };
    let read = ivo.sends_form(&format!("{bench}/readings"), &high_saddle("r"), &[]).await;
    assert_eq!(read.status, StatusCode::SEE_OTHER, "{}", read.visible_text());
    let (done, agreed) = (proposes("w1", "Lower the saddle").await, proposes("w2", "Clean it").await);
    let declined = proposes("w3", "Dress the frets").await;
    let first = does(&desk, &format!("{job}/quote"), &[("form_key", "q1")]).await.unwrap();
    let yes = [
        ("answer", "some"),
        // twice 20.00 and a fifth of it
        ("shown", "4800"),
        ("line", done.as_str()),
        ("line", agreed.as_str()),
        ("how", "counter"),
        ("answered_by", "Maren"),
    ];
    does(&desk, &format!("{first}/answer"), &yes).await;
    does(&ivo, &format!("{bench}/work/{done}/start"), &[]).await;
    does(&ivo, &format!("{bench}/work/{done}/done"), &[]).await;
    let quoted = proposes("w4", "A new nut").await;
    let quote = does(&desk, &format!("{job}/quote"), &[("form_key", "q2")]).await.unwrap();
    let proposed = proposes("w5", "A strap button").await;
    does(
        &ivo,
        &format!("{bench}/observations"),
        &[("form_key", "o"), ("key", "tuners-dry"), ("string", ""), ("fret", "")],
    )
    .await;
    let paid = [("form_key", "d"), ("kind", "deposit"), ("method", "cash"), ("amount", "5")];
    does(&desk, &format!("{job}/payment"), &paid).await;
    let new_part = [("form_key", "p"), ("name", "Bone blank"), ("unit", "piece")];
    does(&owner, "/office/parts", &new_part).await;
    let part = key(&shop, "SELECT id FROM part").await;
    does(&ivo, &format!("{bench}/parts"), &[("form_key", "t"), ("part", &part)]).await;
    let picture = jpeg_with_a_place(60, 40);
    let kept = sends_files(&desk, &format!("{job}/photos"), "f", &[("a.jpg", &picture)]).await;
    assert_eq!(kept.status, StatusCode::SEE_OTHER);
    let path = format!("{bench}/measure-again");
    let measure_again = ivo.opens(&bench).await.form(&path).to_vec();
    assert!(!measure_again.is_empty(), "a step is in hand");
    let mut other = check_in_form("other");
    for (field, value) in &mut other {
        match *field {
            "name" => *value = "Tobit Fennick",
            "serial" => *value = "TW-9",
            _ => {}
        }
    }
    let other = does(&desk, "/desk/check-in", &other).await.unwrap().trim_end_matches("/ticket").to_owned();
    let line = [("form_key", "w6"), ("service", ""), ("words", "Of the other"), ("price", "20")];
    does(&desk, &format!("{other}/work"), &line).await;
    Full {
        customer: key(&shop, "SELECT id FROM customer WHERE name LIKE 'Maren%'").await,
        instrument: key(&shop, "SELECT id FROM instrument WHERE serial = 'TW-4471'").await,
        mark: key(&shop, "SELECT id FROM condition_mark ORDER BY made_at LIMIT 1").await,
        photo: key(&shop, "SELECT id FROM photo").await,
        observation: key(&shop, "SELECT id FROM observation").await,
        movement: key(&shop, "SELECT id FROM part_movement WHERE kind = 'taken'").await,
        payment: key(&shop, "SELECT id FROM payment").await,
        stretch: key(&shop, "SELECT id FROM labour_entry").await,
        item: key(&shop, "SELECT id FROM check_item WHERE by_readings = 0 LIMIT 1").await,
        other_line: key(&shop, "SELECT id FROM work_line WHERE words = 'Of the other'").await,
        quote: quote.rsplit('/').next().unwrap().to_owned(),
        service: "saddle-lower:saddle-high",
        lines: [done, agreed, declined, quoted, proposed],
        job: job.rsplit('/').next().unwrap().to_owned(),
        part,
        measure_again,
        shop,
    }
}

/// `y` goes through, `s` is answered and changes nothing, `n` is refused in words, `-` is not there. The stages are
/// checked in, measured, quoted, agreed, on the bench, final check, ready; collected, closed unrepaired.
#[expect(clippy::too_many_lines, reason = "a table has as many lines as there are things to do")]
fn actions(of: &Full) -> Vec<Action> {
    const OPEN: &str = "yyyyyyynn";
    const ALWAYS: &str = "yyyyyyyyy";
    const NOWHERE: &str = "---------";
    let (desk, bench) = (format!("/desk/jobs/{}", of.job), format!("/bench/jobs/{}", of.job));
    let [done, agreed, declined, quoted, proposed] = &of.lines;
    let other = &of.other_line;
    let mut table = Vec::new();
    let mut row = |route, what, who, path: String, form: &[(&str, &str)], expected| {
        let form = form.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect();
        table.push(Action { route, what, who, path, sent: Sent::Form(form), expected });
    };
    // ---- the desk: the stage, by hand and with a reason
    for (to, expected) in [
        ("checked-in", "nynnnnnnn"),
        ("measured", "ynynnnnnn"),
        ("quoted", "nnnynnnnn"),
        ("agreed", "nnnnynnnn"),
        ("on-the-bench", "nnnynynnn"),
        ("final-check", "nnnnynynn"),
        // the list still asks
        ("ready", "nnnnnnnnn"),
        ("collected", "nnnnnnnnn"),
        ("closed-unrepaired", OPEN),
    ] {
        let form = [("version", "{job}"), ("to", to), ("reason", "As agreed.")];
        row("/desk/jobs/{id}/stage", to, "Mirel", format!("{desk}/stage"), &form, expected);
    }
    // ---- the bench presses forward only
    for (to, expected) in [("measured", "ynnnnnnnn"), ("on-the-bench", "nnnynnnnn"), ("final-check", "nnnnynnnn")] {
        let form = [("version", "{job}"), ("to", to)];
        row("/bench/jobs/{id}/stage", to, "Ivo", format!("{bench}/stage"), &form, expected);
    }
    for (door, who, route) in [(&desk, "Mirel", "/desk/jobs/{id}/wait"), (&bench, "Ivo", "/bench/jobs/{id}/wait")] {
        let aside = [("version", "{job}"), ("waiting_for", "part"), ("wait_reason", "A blank.")];
        row(route, "set aside", who, format!("{door}/wait"), &aside, OPEN);
        row(route, "take up what does not wait", who, format!("{door}/wait"), &[("version", "{job}")], "sssssssnn");
    }
    // money is open: without a word how it is settled nothing goes out
    row("/desk/jobs/{id}/hand-over", "hand over, no word", "Mirel", format!("{desk}/hand-over"), &[], "nnnnnnnsn");
    let word = [("open_words", "Pays on Friday."), ("collected_by", "Her brother")];
    row("/desk/jobs/{id}/hand-over", "hand over", "Mirel", format!("{desk}/hand-over"), &word, "nnnnnnysn");
    // it was not handed over: there is nothing to take back
    let back = [("back_reason", "The wrong job.")];
    let route = "/desk/jobs/{id}/hand-over/take-back";
    row(route, "take back", "Mirel", format!("{desk}/hand-over/take-back"), &back, "nnnnnnnnn");
    let right = [
        ("form_key", "r"),
        ("right_kind", "deposit"),
        ("right_method", "card"),
        ("right_amount", "4"),
        ("right_reason", "Mistyped."),
    ];
    let correct = |id: &str| format!("/desk/payments/{id}/correct");
    row("/desk/payments/{id}/correct", "correct", "Mirel", correct(&of.payment), &right, ALWAYS);
    row("/desk/payments/{id}/correct", "a payment of none", "Mirel", correct(other), &right, NOWHERE);
    // ---- what stands written
    let details = [
        ("version", "{job}"),
        ("complaint", "It buzzes."),
        ("style", "light"),
        ("rack", "C1"),
        ("promised_on", "2026-10-28"),
    ];
    row("/desk/jobs/{id}/details", "correct", "Mirel", format!("{desk}/details"), &details, ALWAYS);
    let right = [
        ("version", "{job}"),
        ("customer", of.customer.as_str()),
        ("instrument", "new"),
        ("family", "steel-string"),
        ("maker", "Quillfeather"),
        ("reason", "The wrong line was pressed."),
    ];
    row("/desk/jobs/{id}/put-right", "put right", "Mirel", format!("{desk}/put-right"), &right, OPEN);
    row("/desk/jobs/{id}/link", "new link", "Mirel", format!("{desk}/link"), &[("version", "{job}")], ALWAYS);
    let mark = [("form_key", "c"), ("side", "back"), ("note", "scratch")];
    row("/desk/jobs/{id}/condition", "mark", "Mirel", format!("{desk}/condition"), &mark, OPEN);
    let take_back = |id: &str| format!("/desk/condition/{id}/take-back");
    row("/desk/condition/{id}/take-back", "take a mark back", "Mirel", take_back(&of.mark), &[], OPEN);
    row("/desk/condition/{id}/take-back", "a mark of none", "Mirel", take_back(other), &[], NOWHERE);
    for purpose in ["condition", "collection"] {
        let form = [("form_key", "s"), ("purpose", purpose), ("strokes", "M1,1L2,2")];
        row("/desk/jobs/{id}/signature", purpose, "Mirel", format!("{desk}/signature"), &form, OPEN);
    }
    let payment = [("form_key", "m"), ("kind", "balance"), ("method", "card"), ("amount", "40")];
    row("/desk/jobs/{id}/payment", "pay", "Mirel", format!("{desk}/payment"), &payment, ALWAYS);
    let photo = [("version", "1"), ("caption", "The dent")];
    row("/desk/photos/{id}", "caption", "Mirel", format!("/desk/photos/{}", of.photo), &photo, ALWAYS);
    row("/desk/photos/{id}", "a photograph of none", "Mirel", format!("/desk/photos/{other}"), &photo, NOWHERE);
    for kind in ["claim-ticket", "tag", "shelf-label", "sheet", "receipt", "collection-letter"] {
        row("/desk/papers/{kind}/{id}", kind, "Mirel", format!("/desk/papers/{kind}/{}", of.job), &[], ALWAYS);
    }
    row("/desk/papers/{kind}/{id}", "quote", "Mirel", format!("/desk/papers/quote/{}", of.quote), &[], ALWAYS);
    row("/desk/papers/{kind}/{id}", "a paper of none", "Mirel", format!("/desk/papers/tag/{other}"), &[], NOWHERE);
    // ---- lines of work
    let line = [("form_key", "w"), ("service", ""), ("words", "Polish it"), ("price", "10")];
    row("/desk/jobs/{id}/work", "propose", "Mirel", format!("{desk}/work"), &line, OPEN);
    let from_findings = [("form_key", "x"), ("line", of.service)];
    row("/bench/jobs/{id}/propose", "propose", "Ivo", format!("{bench}/propose"), &from_findings, OPEN);
    let reason = [("reason", "She said so."), ("overrule_reason", "She nodded.")];
    for (route, what, who, line, expected) in [
        ("/desk/jobs/{id}/work/{line}/withdraw", "withdraw", "Mirel", proposed, OPEN),
        ("/desk/jobs/{id}/work/{line}/withdraw", "withdraw what a quote names", "Mirel", quoted, "nnnnnnnnn"),
        ("/desk/jobs/{id}/work/{line}/withdraw", "withdraw what is done", "Mirel", done, "nnnnnnnnn"),
        ("/desk/jobs/{id}/work/{line}/withdraw", "withdraw another job's", "Mirel", other, NOWHERE),
        ("/desk/jobs/{id}/work/{line}/decline", "decline", "Mirel", agreed, OPEN),
        ("/desk/jobs/{id}/work/{line}/decline", "decline what no quote names", "Mirel", proposed, "nnnnnnnnn"),
        ("/desk/jobs/{id}/work/{line}/decline", "decline what is done", "Mirel", done, "nnnnnnnnn"),
        ("/desk/jobs/{id}/work/{line}/decline", "decline another job's", "Mirel", other, NOWHERE),
        ("/desk/jobs/{id}/work/{line}/again", "offer again", "Mirel", declined, OPEN),
        ("/desk/jobs/{id}/work/{line}/again", "offer again what is offered", "Mirel", proposed, "sssssssnn"),
        ("/desk/jobs/{id}/work/{line}/again", "offer again what is done", "Mirel", done, "nnnnnnnnn"),
        ("/desk/jobs/{id}/work/{line}/again", "offer another job's", "Mirel", other, NOWHERE),
        ("/desk/jobs/{id}/work/{line}/overrule", "overrule", "Ottilie", proposed, OPEN),
        ("/desk/jobs/{id}/work/{line}/overrule", "overrule what was declined", "Ottilie", declined, "nnnnnnnnn"),
        ("/desk/jobs/{id}/work/{line}/overrule", "overrule another job's", "Ottilie", other, NOWHERE),
        ("/bench/jobs/{id}/work/{line}/start", "start", "Ivo", agreed, OPEN),
        ("/bench/jobs/{id}/work/{line}/start", "start what nobody agreed to", "Ivo", proposed, "nnnnnnnnn"),
        ("/bench/jobs/{id}/work/{line}/start", "start another job's", "Ivo", other, NOWHERE),
        ("/bench/jobs/{id}/work/{line}/done", "tick off", "Ivo", agreed, OPEN),
        ("/bench/jobs/{id}/work/{line}/done", "tick off what nobody agreed to", "Ivo", proposed, "nnnnnnnnn"),
        ("/bench/jobs/{id}/work/{line}/done", "tick off another job's", "Ivo", other, NOWHERE),
        ("/bench/jobs/{id}/work/{line}/reopen", "open again", "Ivo", done, OPEN),
        ("/bench/jobs/{id}/work/{line}/reopen", "open again what is open", "Ivo", agreed, "sssssssnn"),
        ("/bench/jobs/{id}/work/{line}/reopen", "open another job's", "Ivo", other, NOWHERE),
    ] {
        let path = route.replace("{id}", &of.job).replace("{line}", line);
        row(route, what, who, path, &reason, expected);
    }
    // ---- quotes: once a line was chosen, and not once it is ready
    row("/desk/jobs/{id}/quote", "quote", "Mirel", format!("{desk}/quote"), &[("form_key", "q")], "yyyyyynnn");
    let yes = [("answer", "agreed"), ("how", "counter"), ("answered_by", "Maren")];
    let answer = |id: &str| format!("/desk/quotes/{id}/answer");
    row("/desk/quotes/{id}/answer", "answer", "Mirel", answer(&of.quote), &yes, OPEN);
    row("/desk/quotes/{id}/answer", "a quote of none", "Mirel", answer(other), &yes, NOWHERE);
    // ---- the bench
    row("/bench/jobs/{id}/take-on", "take on", "Ivo", format!("{bench}/take-on"), &[], OPEN);
    let mut readings = high_saddle("again");
    readings.push(("sure".to_owned(), "yes".to_owned()));
    let readings: Vec<(&str, &str)> = readings.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    row("/bench/jobs/{id}/readings", "take readings", "Ivo", format!("{bench}/readings"), &readings, OPEN);
    row("/bench/jobs/{id}/readings/keep", "keep", "Ivo", format!("{bench}/readings/keep"), &readings, OPEN);
    let cell = [("key", "cell"), ("cell", "relief_0"), ("typed", "0.20"), ("replaces", "")];
    row("/bench/jobs/{id}/cells", "type a value", "Ivo", format!("{bench}/cells"), &cell, OPEN);
    let again: Vec<(&str, &str)> = of.measure_again.iter().map(|(name, value)| (&**name, &**value)).collect();
    row("/bench/jobs/{id}/measure-again", "measure again", "Ivo", format!("{bench}/measure-again"), &again, OPEN);
    let route = "/bench/jobs/{id}/measure-again/take-back";
    let back = format!("{bench}/measure-again/take-back");
    row(route, "take back what was not done", "Ivo", back, &[("draft", other.as_str())], "sssssssnn");
    let seen = [("form_key", "n"), ("key", "fraying"), ("string", "1")];
    row("/bench/jobs/{id}/observations", "note", "Ivo", format!("{bench}/observations"), &seen, OPEN);
    let clear = |id: &str| format!("{bench}/observations/{id}/clear");
    let route = "/bench/jobs/{id}/observations/{observation}/clear";
    row(route, "put right", "Ivo", clear(&of.observation), &[], OPEN);
    row(route, "put right what is not there", "Ivo", clear(other), &[], "-------nn");
    // nothing was heard there: taking it back is answered, and changes nothing
    for (what, place, expected) in [("tap", "5:2:note", OPEN), ("take a tap back", "6:3:take-back", "sssssssnn")] {
        let tap = [("form_key", "g"), ("hears", "buzz"), ("place", place)];
        row("/bench/jobs/{id}/fretboard", what, "Ivo", format!("{bench}/fretboard"), &tap, expected);
    }
    let note = [("form_key", "h"), ("hands", "Mind the inlay.")];
    row("/bench/jobs/{id}/notes", "write a note", "Ivo", format!("{bench}/notes"), &note, OPEN);
    let part = [("form_key", "b"), ("part", of.part.as_str())];
    row("/bench/jobs/{id}/parts", "take a part", "Ivo", format!("{bench}/parts"), &part, OPEN);
    let back = |id: &str| format!("{bench}/parts/{id}/back");
    row("/bench/jobs/{id}/parts/{movement}/back", "put a part back", "Ivo", back(&of.movement), &[], OPEN);
    row("/bench/jobs/{id}/parts/{movement}/back", "a part of none", "Ivo", back(other), &[], NOWHERE);
    let (minutes, why) = (format!("minutes_{}", of.stretch), format!("reason_{}", of.stretch));
    let correction = [("form_key", "l"), (minutes.as_str(), "20"), (why.as_str(), "Lunch.")];
    let correct = |id: &str| format!("/bench/labour/{id}/correct");
    row("/bench/labour/{entry}/correct", "correct time", "Ivo", correct(&of.stretch), &correction, ALWAYS);
    row("/bench/labour/{entry}/correct", "time of none", "Ivo", correct(other), &correction, NOWHERE);
    let item = format!("answer_{}", of.item);
    let check = [(item.as_str(), "yes")];
    row("/bench/jobs/{id}/final-check", "answer", "Ivo", format!("{bench}/final-check"), &check, "nnnnnynnn");
    // ---- the queue: a place by hand, and the promise; what is ready has kept its promise
    let queue = format!("/office/queue/{}", of.job);
    let put = [("form_key", "u"), ("to", "first"), ("reason", "It travels.")];
    row("/office/queue/{id}/move", "move", "Ottilie", format!("{queue}/move"), &put, OPEN);
    let back = [("form_key", "v")];
    let route = "/office/queue/{id}/take-back";
    row(route, "take back what was not moved", "Ottilie", format!("{queue}/take-back"), &back, "sssssssnn");
    let day = [("form_key", "d"), ("version", "{job}"), ("day", "2026-11-20")];
    row("/office/queue/{id}/promise", "promise", "Ottilie", format!("{queue}/promise"), &day, "yyyyyynnn");
    // ---- the customer's own answer, as long as the instrument is here
    let token = of.shop.app.db.link_secret().token(of.job.parse().unwrap(), 0);
    let no = [("quote", of.quote.as_str()), ("name", "Maren"), ("deed", "decline")];
    row("/s/{token}/answer", "decline by the link", "Mirel", format!("/s/{token}/answer"), &no, OPEN);
    // ---- messages are off: nothing is written
    let subject = format!("ready.{}", of.job);
    let ticked = [("subject", subject.as_str())];
    row("/desk/messages", "write", "Mirel", "/desk/messages".to_owned(), &ticked, "sssssssss");
    let again = format!("/desk/messages/{other}/again");
    row("/desk/messages/{id}/again", "a message of none", "Mirel", again, &[], NOWHERE);
    let receipt = format!("{desk}/receipt/message");
    row("/desk/jobs/{id}/receipt/message", "write a receipt", "Mirel", receipt, &[], "sssssssss");
    // ---- what customers are told: only what is so
    for (matter, expected) in [("quote", "yyyyyynnn"), ("ready", "nnnnnnynn")] {
        let subject = format!("{matter}.{}", of.job);
        let said = [("form_key", "t"), ("subject", subject.as_str()), ("how", "telephone"), ("outcome", "no-answer")];
        row("/desk/to-tell", matter, "Mirel", "/desk/to-tell".to_owned(), &said, expected);
    }
    // ---- what waits until the instrument has left the house
    let gone = "nnnnnnnyy";
    let archive = format!("/desk/instruments/{}/archive", of.instrument);
    let version = [("version", "{instrument}")];
    row("/desk/instruments/{id}/archive", "archive it", "Mirel", archive, &version, gone);
    let archive = format!("/desk/customers/{}/archive", of.customer);
    let version = [("version", "{customer}")];
    row("/desk/customers/{id}/archive", "archive them", "Mirel", archive, &version, gone);
    let forget = format!("/desk/customers/{}/anonymise", of.customer);
    let sure = [("version", "{customer}"), ("sure", "yes")];
    row("/desk/customers/{id}/anonymise", "forget them", "Ottilie", forget, &sure, gone);
    let known = [
        ("form_key", "z"),
        ("customer", of.customer.as_str()),
        ("instrument", of.instrument.as_str()),
        ("complaint", "Again."),
        ("style", "light"),
    ];
    row("/desk/check-in", "check it in again", "Mirel", "/desk/check-in".to_owned(), &known, gone);
    // ---- photographs
    let photos = format!("{desk}/photos");
    let piece = format!("{photos}/uploads/{}", Uuid::from_u128(7));
    let files = "/desk/jobs/{id}/photos";
    table.push(Action { route: files, what: "add", who: "Mirel", path: photos, sent: Sent::Files, expected: OPEN });
    let route = "/desk/jobs/{id}/photos/uploads/{upload}";
    table.push(Action { route, what: "send", who: "Mirel", path: piece, sent: Sent::Piece, expected: OPEN });
    table
}

async fn send(shop: &Shop, person: &Person<'_>, of: &Full, action: &Action) -> Answer {
    let picture = jpeg_with_a_place(30, 20);
    match &action.sent {
        Sent::Form(fields) => {
            let mut form = Vec::new();
            for (name, value) in fields {
                let sql = match value.as_str() {
                    "{job}" => Some(("SELECT version FROM job WHERE id = ?", &of.job)),
                    "{instrument}" => Some(("SELECT version FROM instrument WHERE id = ?", &of.instrument)),
                    "{customer}" => Some(("SELECT version FROM customer WHERE id = ?", &of.customer)),
                    _ => None,
                };
                let value = match sql {
                    None => value.clone(),
                    Some((sql, id)) => {
                        let id: Uuid = id.parse().unwrap();
                        let version: i64 =
                            sqlx::query_scalar(sql).bind(id).fetch_one(shop.app.db.read()).await.unwrap();
                        version.to_string()
                    }
                };
                form.push((name.clone(), value));
            }
            person.sends_form(&action.path, &form, &[]).await
        }
        Sent::Files => sends_files(person, &action.path, "files", &[("a.jpg", &picture)]).await,
        Sent::Piece => {
            let path = format!("{}?from=0&of={}", action.path, picture.len());
            person.sends_bytes(&path, "application/octet-stream", picture).await
        }
    }
}

/// Another number whenever anything was written by anybody else since it was last asked (SQLite's `data_version`).
async fn state(watch: &mut sqlx::SqliteConnection) -> i64 {
    sqlx::query_scalar("PRAGMA data_version").fetch_one(watch).await.unwrap()
}

#[tokio::test]
async fn each_thing_that_can_be_done_to_a_job_is_done_or_refused_by_the_record_at_each_stage() {
    let of = full_job().await;
    let table = actions(&of);
    let mut wrong = Vec::new();
    for (place, stage) in Stage::ALL.iter().enumerate() {
        let at_stage = of.shop.twin().await;
        let id: Uuid = of.job.parse().unwrap();
        let mut write = at_stage.app.db.write().await.unwrap();
        // put there without asking: what is looked at is what may be done from here
        sqlx::query("UPDATE job SET stage = ? WHERE id = ?")
            .bind(stage.key())
            .bind(id)
            .execute(&mut *write)
            .await
            .unwrap();
        write.commit().await.unwrap();
        let mut shop = at_stage.twin().await;
        for action in &table {
            let person = shop.person(action.who).await;
            let mut watch = shop.app.db.read().acquire().await.unwrap();
            let before = state(&mut watch).await;
            let answer = send(&shop, &person, &of, action).await;
            let is_written = state(&mut watch).await != before;
            drop(watch);
            let is_through = answer.status.is_success() || answer.status == StatusCode::SEE_OTHER;
            let is_refused = [StatusCode::CONFLICT, StatusCode::UNPROCESSABLE_ENTITY].contains(&answer.status);
            let found = match (is_through, is_written) {
                (true, true) => 'y',
                (true, false) => 's',
                (false, false) if answer.status == StatusCode::NOT_FOUND => '-',
                (false, false) if is_refused && !answer.text.is_empty() => 'n',
                (false, _) => '?',
            };
            let expected = action.expected.chars().nth(place).unwrap();
            if found != expected {
                let said: String = answer.visible_text().chars().take(160).collect();
                wrong.push(format!(
                    "{} ({}), {stage}: {expected} expected, {found} found ({}, {}): {said}",
                    action.route,
                    action.what,
                    answer.status,
                    if is_written { "written" } else { "nothing written" }
                ));
            }
            if is_written {
                shop = at_stage.twin().await;
            }
        }
    }
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), table.len() * Stage::ALL.len(), wrong.join("\n"));
}

#[tokio::test]
async fn every_post_of_the_router_stands_in_the_table_or_is_about_no_job() {
    let of = full_job().await;
    let table: BTreeSet<&str> = actions(&of).iter().map(|action| action.route).collect();
    let is_of_a_job = |path: &str| path.starts_with("/office/queue/{id}/");
    let is_elsewhere = |path: &str| ELSEWHERE.contains(&path) || (path.starts_with("/office/") && !is_of_a_job(path));
    for route in thumbplane::web::router::routes(&of.shop.app).iter().filter(|route| route.method == Method::POST) {
        let stands = (table.contains(route.path), is_elsewhere(route.path));
        assert!(stands.0 != stands.1, "{}: in the table {}, elsewhere {}", route.path, stands.0, stands.1);
    }
}

#[tokio::test]
async fn a_job_that_does_not_exist_is_not_found_by_any_post() {
    let of = full_job().await;
    let nobody = Uuid::from_u128(1).to_string();
    for action in actions(&of).iter().filter(|action| action.path.contains(&format!("jobs/{}", of.job))) {
        let (path, sent) = (
            action.path.replace(&of.job, &nobody),
            match &action.sent {
                Sent::Form(fields) => Sent::Form(fields.clone()),
                Sent::Files => Sent::Files,
                Sent::Piece => Sent::Piece,
            },
        );
        let elsewhere = Action { path, sent, ..*action };
        let person = of.shop.person(action.who).await;
        let answer = send(&of.shop, &person, &of, &elsewhere).await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{} ({})", action.route, action.what);
    }
}
