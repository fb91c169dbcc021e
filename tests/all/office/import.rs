//! Customers and instruments brought from elsewhere, and taken elsewhere again.

use std::fmt::Write;

use crate::support::{Answer, Person, Shop};

/// Waits until the file's page no longer says that it is at work. Each look is a request: no sleeping.
async fn when_done(owner: &Person<'_>, path: &str) -> Answer {
    for _ in 0..1_000_000 {
        let page = owner.opens(path).await;
        if !page.has("progress") {
            return page;
        }
        tokio::task::yield_now().await;
    }
    panic!("it is never done");
}

fn columns(names: &[&'static str]) -> Vec<(String, &'static str)> {
    names.iter().enumerate().map(|(place, name)| (format!("column_{place}"), *name)).collect()
}

async fn tries(owner: &Person<'_>, path: &str, named: &[&'static str]) -> Answer {
    let form = columns(named);
    let form: Vec<(&str, &str)> = form.iter().map(|(field, name)| (field.as_str(), *name)).collect();
    let answer = owner.sends(&format!("{path}/columns"), &form).await;
    assert_eq!(answer.status.as_u16(), 303, "{}", answer.text);
    when_done(owner, path).await
}

#[tokio::test]
async fn ten_thousand_rows_with_five_hundred_bad_ones_are_tried_and_then_brought_in_whole() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let mut csv = String::from("\u{feff}Name;Phone;E-mail;Type;Make;Serial\r\n");
    for row in 0..10_000 {
        // every twentieth is bad, each in one of four ways
        let line = match (row % 20, row / 20 % 4) {
            (7, 0) => format!(";07700 {row:06};;ukulele;Brookside;{row}\r\n"),
            (7, 1) => format!("Customer {row};07700 {row:06};not an address;kazoo;Brookside;{row}\r\n"),
            (7, 2) => format!("Customer {row};07700 {row:06};;harmonica;Brookside;{row}\r\n"),
            (7, _) => format!("Customer {row};07700 {row:06};one cell too few\r\n"),
            _ => format!("Customer {row};07700 {row:06};c{row}@weir.example;ukulele;Brookside;{row}\r\n"),
        };
        csv.push_str(&line);
    }
    let brought = owner.brings("/office/import", "file", "people.csv", csv.as_bytes()).await;
    assert_eq!(brought.status.as_u16(), 303, "{}", brought.text);
    let path = brought.location.unwrap();
    let again = owner.brings("/office/import", "file", "people.csv", csv.as_bytes()).await;
    assert_eq!(again.location.as_deref(), Some(path.as_str()), "a second press brings one file");
    let early = owner.sends(&path, &[]).await;
    assert_eq!(early.status.as_u16(), 409, "tried first");
    // the columns are guessed by their headings
    let page = owner.opens(&path).await;
    assert_eq!(page.all("select option[selected]").len(), 6);
    assert!(page.all("select option[selected]").contains(&"customer: telephone".to_owned()));

    let tried = tries(&owner, &path, &["name", "telephone", "email", "family", "maker", "serial"]).await;
    assert_eq!(tried.all("dl.facts dd"), ["10000", "9500", "0", "9500", "0", "500"], "{}", tried.visible_text());
    assert_eq!((shop.count("customer").await, shop.count("instrument").await), (0, 0), "a try writes nothing");
    let refused = owner.sends(&format!("{path}/refused.csv"), &[]).await;
    let rows: Vec<&str> = refused.text.trim_end().split("\r\n").collect();
    assert_eq!(rows.len(), 501);
    assert_eq!(rows[0], "\u{feff}Name,Phone,E-mail,Type,Make,Serial,Line of the file,Why not");
    assert_eq!(rows[1], ",07700 000007,,ukulele,Brookside,7,9,There is no customer's name.");
    assert_eq!(
        rows[4], "Customer 67,07700 000067,one cell too few,,,,69,This row has 3 cells under 6 headings.",
        "line and reason stand under their headings"
    );

    assert_eq!(owner.sends(&path, &[]).await.status.as_u16(), 303);
    let done = when_done(&owner, &path).await;
    assert!(done.visible_text().contains("Brought in Rows 10000"), "{}", done.visible_text());
    assert_eq!((shop.count("customer").await, shop.count("instrument").await), (9500, 9500));
    assert_eq!(owner.sends(&path, &[]).await.location.as_deref(), Some(path.as_str()), "a second press does nothing");
    assert_eq!(shop.count("customer").await, 9500);
    let refused = owner.sends(&format!("{path}/refused.csv"), &[]).await;
    assert_eq!(refused.text.trim_end().split("\r\n").count(), 501, "the refused rows stay to be mended");
    let found = owner.opens("/desk/search?part=hits&q=c9999%40weir.example").await;
    assert_eq!(found.all(".hits strong"), ["Customer 9999"]);
}

#[tokio::test]
async fn a_file_brought_twice_adds_only_what_is_new() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    shop.desk().await.checks_in("k").await;
    let csv = "name,telephone,kind,maker,model,serial\n\
               maren OAKHOLLOW,+44 1632 960101,steel-string,Thistlewade,OM-2,TW-4471\n\
               Maren Oakhollow,01632 960101,ukulele,Brookside,Soprano,\n\
               Maren Oakhollow,07700 900777,,,,\n";
    let path = owner.brings("/office/import", "f", "more.csv", csv.as_bytes()).await.location.unwrap();
    let named = ["name", "telephone", "family", "maker", "model", "serial"];
    let tried = tries(&owner, &path, &named).await;
    // her known guitar, a new ukulele, and somebody of the same name with another number
    assert_eq!(tried.all("dl.facts dd"), ["3", "1", "2", "1", "1", "0"], "{}", tried.visible_text());
    let twice = columns(&["name", "name", "nothing", "nothing", "nothing", "nothing"]);
    let twice: Vec<(&str, &str)> = twice.iter().map(|(field, name)| (field.as_str(), *name)).collect();
    assert_eq!(owner.sends(&format!("{path}/columns"), &twice).await.status.as_u16(), 422);
}

#[tokio::test]
async fn a_damaged_file_is_refused_with_its_line_and_keeps_nothing() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let wide = format!("name{}\nMaren\n", ",x".repeat(1_000_000));
    let damaged: [(&str, &[u8], &str); 6] = [
        ("a.csv", wide.as_bytes(), "Line 1 has more than 200 columns"),
        ("a.csv", b"name,phone\nM\xc3\xbcller,1\nM\xfcller,2", "Line 3 is not UTF-8"),
        ("a.csv", b"name,phone\n\"open,1\n", "never closed"),
        ("a.csv", b"name\n", "at least one row"),
        ("a.vcf", b"BEGIN:VCARD\nFN:A\n", "no END:VCARD"),
        ("a.csv", b"", "Choose a file first"),
    ];
    for (name, content, words) in damaged {
        let answer = owner.brings("/office/import", "k", name, content).await;
        assert_eq!(answer.status.as_u16(), 422, "{words}");
        assert!(answer.visible_text().contains(words), "{words}: {}", answer.visible_text());
    }
    assert_eq!(shop.count("import").await, 0);
    let large = vec![b'a'; 9 * 1024 * 1024];
    assert_eq!(owner.brings("/office/import", "k", "a.csv", &large).await.status.as_u16(), 400);
}

#[tokio::test]
async fn an_address_books_cards_become_customers() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let cards = "BEGIN:VCARD\r\nVERSION:4.0\r\nFN:Ana Żak\r\nTEL;VALUE=uri:tel:+44-7700-900123\r\nEND:VCARD\r\n\
                 BEGIN:VCARD\r\nVERSION:3.0\r\nN:Stent;Corin;;;\r\nTEL;TYPE=CELL:07700 900124\r\nADR:;;3 Sluice Lane;Netherford;;;\r\nEND:VCARD\r\n";
    let path = owner.brings("/office/import", "f", "book.vcf", cards.as_bytes()).await.location.unwrap();
    tries(&owner, &path, &["name", "telephone", "email", "address", "note"]).await;
    owner.sends(&path, &[]).await;
    when_done(&owner, &path).await;
    let rows: Vec<(String, Option<String>, String)> =
        sqlx::query_as("SELECT name, telephone_e164, address FROM customer ORDER BY name")
            .fetch_all(shop.app.db.read())
            .await
            .unwrap();
    assert_eq!(
        rows,
        [
            ("Ana Żak".to_owned(), Some("+447700900123".to_owned()), String::new()),
            ("Corin Stent".to_owned(), Some("+447700900124".to_owned()), "3 Sluice Lane\nNetherford".to_owned()),
        ]
    );
}

#[tokio::test]
async fn lists_go_out_defused_and_come_back_as_they_were() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let mut csv = String::from("name,telephone,note\n");
    // CWE-1236 and OWASP's list of characters that begin a formula
    let notes = ["=1+1", "+44 is not a sum", "-3", "@SUM(A1)", "plain, with \"quotes\"", "O'Neil", "two\nlines"];
    for (row, note) in notes.iter().enumerate() {
        writeln!(csv, "Customer {row},+44 7700 90000{row},\"{}\"", note.replace('"', "\"\"")).unwrap();
    }
    let path = owner.brings("/office/import", "f", "notes.csv", csv.as_bytes()).await.location.unwrap();
    tries(&owner, &path, &["name", "telephone", "note"]).await;
    owner.sends(&path, &[]).await;
    when_done(&owner, &path).await;
    let out = owner.sends("/office/export/customers", &[]).await;
    assert_eq!(out.headers["content-type"], "text/csv; charset=utf-8; header=present");
    for defused in ["'=1+1", "'+44 is not a sum", "'-3", "'@SUM(A1)", ",'+44 7700 900000,", "O'Neil", "\"two\nlines\""]
    {
        assert!(out.text.contains(defused), "{defused} in {}", out.text);
    }
    // into another shop, and the notes are what they were
    let other = Shop::open().await;
    let there = other.owner().await;
    let path = there.brings("/office/import", "f", "customers.csv", out.text.as_bytes()).await.location.unwrap();
    tries(&there, &path, &["name", "telephone", "email", "address", "nothing", "reminders-agreed-on", "note"]).await;
    there.sends(&path, &[]).await;
    when_done(&there, &path).await;
    let came: Vec<String> =
        sqlx::query_scalar("SELECT note FROM customer ORDER BY name").fetch_all(other.app.db.read()).await.unwrap();
    assert_eq!(came, notes);
    assert_eq!(shop.desk().await.sends("/office/export/customers", &[]).await.status.as_u16(), 403);
}

// CWE-1236; RFC 6266, 4.1 and 4.2: saved, not shown, under a name of ours
#[tokio::test]
async fn rows_that_go_back_to_be_mended_begin_no_formula() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let csv = "name,telephone,e-mail\n=cmd|x,+44 7700 900001,no address,=1\nMaren,-1,@x,=1\n";
    let path = owner.brings("/office/import", "f", "=evil.csv", csv.as_bytes()).await.location.unwrap();
    tries(&owner, &path, &["name", "telephone", "email"]).await;
    let back = owner.sends(&format!("{path}/refused.csv"), &[]).await;
    assert!(back.text.contains("\r\n'=cmd|x,'+44 7700 900001,no address,'=1,2,"), "{}", back.text);
    assert!(back.text.contains("\r\nMaren,'-1,'@x,'=1,3,"), "{}", back.text);
    assert_eq!(back.headers["content-disposition"], "attachment; filename=\"refused-rows.csv\"");
    assert_eq!(back.headers["content-type"], "text/csv; charset=utf-8; header=present");
}

#[tokio::test]
async fn every_list_is_exported_with_a_row_for_each_record_and_that_is_written_down() {
    let shop = Shop::with_story().await;
    let owner = shop.owner().await;
    for (list, table) in [
        ("customers", "customer"),
        ("instruments", "instrument"),
        ("jobs", "job"),
        ("payments", "payment"),
        ("care", "care_plan"),
    ] {
        let out = owner.sends(&format!("/office/export/{list}"), &[]).await;
        let rows = csv::Reader::from_reader(out.text.trim_start_matches('\u{feff}').as_bytes()).into_records();
        let rows = rows.collect::<Result<Vec<_>, _>>().unwrap().len();
        assert_eq!(i64::try_from(rows).unwrap(), shop.count(table).await, "{list}");
    }
    let told: i64 = sqlx::query_scalar("SELECT count(*) FROM event WHERE deed = 'list exported'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(told, 5);
    assert_eq!(owner.sends("/office/export/secrets", &[]).await.status.as_u16(), 404);
}

async fn content(shop: &Shop) -> (String, Option<String>) {
    sqlx::query_as("SELECT content, outcome FROM import").fetch_one(shop.app.db.read()).await.unwrap()
}

#[tokio::test]
async fn a_file_is_thrown_away_by_a_button_and_what_was_brought_in_stays() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let csv = "name,email\nMaren Oakhollow,maren@oakhollow.example\nJory Pennock,no address,too many\n";
    let path = owner.brings("/office/import", "f", "people.csv", csv.as_bytes()).await.location.unwrap();
    tries(&owner, &path, &["name", "email"]).await;
    owner.sends(&path, &[]).await;
    let done = when_done(&owner, &path).await;
    assert!(done.visible_text().contains("holds people's data"), "{}", done.visible_text());
    assert!(content(&shop).await.0.contains("Pennock"));
    for press in ["once", "twice"] {
        let gone = owner.sends(&format!("{path}/throw-away"), &[]).await;
        assert_eq!(gone.location.as_deref(), Some("/office/import"), "{press}");
    }
    let (content, outcome) = content(&shop).await;
    assert!(!content.contains("Pennock") && outcome.is_none(), "{content}");
    assert_eq!(shop.count("customer").await, 1, "what was brought in stays");
    let page = owner.opens(&path).await;
    assert!(page.visible_text().contains("thrown away on Wed 14 Oct 2026"), "{}", page.visible_text());
    assert!(owner.opens("/office/import").await.visible_text().contains("brought in, thrown away"));
    // nothing can be done with it any more
    assert_eq!(owner.sends(&path, &[]).await.status.as_u16(), 409);
    assert_eq!(owner.sends(&format!("{path}/columns"), &[("column_0", "name")]).await.status.as_u16(), 422);
    assert_eq!(owner.sends(&format!("{path}/refused.csv"), &[]).await.status.as_u16(), 404);
}

#[tokio::test]
async fn a_file_goes_by_itself_once_its_refused_rows_were_saved_or_a_month_has_passed() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let csv = "name,email\nMaren Oakhollow,\nJory Pennock,no address,too many\n";
    let path = owner.brings("/office/import", "f", "people.csv", csv.as_bytes()).await.location.unwrap();
    tries(&owner, &path, &["name", "email"]).await;
    // saved after the try, it is still needed
    owner.sends(&format!("{path}/refused.csv"), &[]).await;
    owner.opens("/office/import").await;
    assert!(content(&shop).await.0.contains("Maren"));
    owner.sends(&path, &[]).await;
    when_done(&owner, &path).await;
    owner.opens("/office/import").await;
    assert!(content(&shop).await.0.contains("Pennock"), "its refused rows were not saved since it was brought in");
    let saved = owner.sends(&format!("{path}/refused.csv"), &[]).await;
    assert!(saved.text.contains("Pennock"));
    owner.opens("/office/import").await;
    assert!(!content(&shop).await.0.contains("Pennock"));

    let shop = Shop::open().await;
    let path = shop.owner().await.brings("/office/import", "f", "people.csv", csv.as_bytes()).await.location.unwrap();
    for (days, is_kept) in [(29, true), (31, false)] {
        shop.clock.set(thumbplane::quantity::Instant(crate::support::MORNING.0 + days * 86_400_000_000));
        let owner = shop.owner().await;
        owner.opens("/office/import").await;
        assert_eq!(content(&shop).await.0.contains("Pennock"), is_kept, "after {days} days");
        assert_eq!(owner.opens(&path).await.visible_text().contains("Thrown away"), !is_kept);
    }
}

#[tokio::test]
async fn a_file_of_an_older_spreadsheet_is_read_and_the_page_says_in_which_letters() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let path = owner.brings("/office/import", "f", "a.csv", b"name\nJ\xf6rg M\xfchlrad").await.location.unwrap();
    let page = owner.opens(&path).await;
    assert!(
        page.visible_text().contains("Read as windows-1252") && page.visible_text().contains("Jörg Mühlrad"),
        "{}",
        page.visible_text()
    );
    let path = owner.brings("/office/import", "g", "b.csv", "name\nJörg".as_bytes()).await.location.unwrap();
    assert!(owner.opens(&path).await.visible_text().contains("Read as UTF-8"));
}

#[tokio::test]
async fn a_note_about_no_instrument_is_refused_and_every_refused_row_keeps_its_columns() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let csv = "name,maker,remark\nMaren Oakhollow,,Neck reset in 1990\nToo,many,cells,here\nToo few\n";
    let path = owner.brings("/office/import", "f", "a.csv", csv.as_bytes()).await.location.unwrap();
    let tried = tries(&owner, &path, &["name", "maker", "instrument-note"]).await;
    assert_eq!(tried.all("dl.facts dd").last().map(String::as_str), Some("3"), "{}", tried.visible_text());
    let refused = owner.sends(&format!("{path}/refused.csv"), &[]).await;
    let rows: Vec<&str> = refused.text.trim_start_matches('\u{feff}').trim_end().split("\r\n").collect();
    assert_eq!(rows[0], "name,maker,remark,,Line of the file,Why not");
    assert!(
        rows[1].starts_with("Maren Oakhollow,,Neck reset in 1990,,2,\"There is a note about an instrument"),
        "{rows:?}"
    );
    assert!(rows[2].starts_with("Too,many,cells,here,3,"), "{rows:?}");
    assert!(rows[3].starts_with("Too few,,,,4,"), "{rows:?}");
}

fn people(rows: usize) -> String {
    let mut csv = String::from("name,telephone,kind,maker,serial\n");
    for row in 0..rows {
        writeln!(csv, "Customer {row},07700 {row:06},ukulele,Brookside,{row}").unwrap();
    }
    csv
}

const PEOPLE: [&str; 5] = ["name", "telephone", "family", "maker", "serial"];

#[tokio::test]
async fn the_desk_checks_in_while_a_file_is_brought_in() {
    let shop = Shop::open().await;
    let (owner, desk) = (shop.owner().await, shop.desk().await);
    let csv = people(1_000);
    let path = owner.brings("/office/import", "f", "people.csv", csv.as_bytes()).await.location.unwrap();
    tries(&owner, &path, &PEOPLE).await;
    assert_eq!(owner.sends(&path, &[]).await.status.as_u16(), 303);
    for number in 0..3 {
        desk.checks_in(&format!("k{number}")).await;
        let page = owner.opens(&path).await;
        assert!(page.has("progress"), "it still goes on: {}", page.visible_text());
        // neither the columns nor the file are anybody's to change meanwhile
        let renamed = owner.sends(&format!("{path}/columns"), &[("column_0", "name")]).await;
        assert_eq!(renamed.status.as_u16(), 422, "{}", renamed.visible_text());
        assert_eq!(owner.sends(&format!("{path}/throw-away"), &[]).await.status.as_u16(), 409);
    }
    let before = shop.count("customer").await;
    assert!(before > 3 && before < 1_003, "some rows are in, and not all: {before}");
    let done = when_done(&owner, &path).await;
    assert!(done.visible_text().contains("Brought in Rows 1000"), "{}", done.visible_text());
    assert_eq!((shop.count("customer").await, shop.count("job").await), (1_003, 3));
}

#[tokio::test]
async fn a_file_goes_on_where_it_was_when_the_program_ended_and_no_row_goes_in_twice() {
    use std::sync::atomic::{AtomicUsize, Ordering};
    use thumbplane::records::{AuditContext, Door, ImportId, import};

    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let csv = people(200) + "Nobody,07700 900900,harmonica,,\n";
    let path = owner.brings("/office/import", "f", "people.csv", csv.as_bytes()).await.location.unwrap();
    tries(&owner, &path, &PEOPLE).await;
    let id: ImportId = path.rsplit('/').next().unwrap().parse().unwrap();
    let by =
        AuditContext { staff: Some(shop.staff_id("Ottilie").await), door: Door::Office, at: crate::support::MORNING };
    let mut tx = shop.app.db.write().await.unwrap();
    import::begin(&mut tx, &by, id).await.unwrap();
    tx.commit().await.unwrap();
    let file = import::find(shop.app.db.read(), id).await.unwrap();
    let progress = AtomicUsize::new(0);
    let day = |_| time::macros::date!(2026 - 10 - 14);
    let some = async {
        while progress.load(Ordering::Relaxed) < 60 {
            tokio::task::yield_now().await;
        }
    };
    // the power goes in the middle of it
    tokio::select! {
        biased;
        () = some => {}
        whole = import::bring_in(&shop.app.db, "GB", day, &file, &progress) => panic!("it was not interrupted: {whole:?}"),
    }
    drop(owner);
    let shop = shop.again().await;
    let there = shop.count("customer").await;
    assert!((60..200).contains(&there), "{there}");
    let owner = shop.owner().await;
    let page = owner.opens(&path).await;
    assert!(
        page.visible_text().contains(&format!("{there} of 201 rows are worked through")),
        "{}",
        page.visible_text()
    );
    assert!(!page.has(&format!("form[action='{path}/columns']")), "what is begun keeps its columns");

    thumbplane::web::go_on_with_imports(&shop.app).await.unwrap();
    let done = when_done(&owner, &path).await;
    assert_eq!(done.all("dl.facts dd"), ["201", "200", "0", "200", "0", "1"], "{}", done.visible_text());
    assert_eq!((shop.count("customer").await, shop.count("instrument").await), (200, 200));
    let events: i64 = sqlx::query_scalar("SELECT count(*) FROM event WHERE deed = 'customer added'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(events, 200);
    assert_eq!(shop.count("import_run").await, 0);
    thumbplane::web::go_on_with_imports(&shop.app).await.unwrap();
    assert_eq!(shop.count("customer").await, 200, "what is done is not begun again");
}

#[tokio::test]
async fn a_try_leaves_no_copy_of_the_shops_file_behind_even_where_the_program_ended_in_between() {
    let copies = |shop: &Shop| {
        let files = std::fs::read_dir(shop.folder()).unwrap().map(|file| file.unwrap().file_name());
        files.filter(|name| name.to_string_lossy().starts_with("copy-")).count()
    };
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let path = owner.brings("/office/import", "f", "people.csv", people(50).as_bytes()).await.location.unwrap();
    let tried = tries(&owner, &path, &PEOPLE).await;
    assert_eq!(tried.all("dl.facts dd"), ["50", "50", "0", "50", "0", "0"]);
    assert_eq!((copies(&shop), shop.count("customer").await, shop.count("import_run").await), (0, 0, 0));
    drop(owner);
    for name in ["copy-left.db", "copy-left.db-journal"] {
        std::fs::write(shop.folder().join(name), "people's data").unwrap();
    }
    assert_eq!(copies(&shop), 2);
    let shop = shop.again().await;
    assert_eq!(copies(&shop), 0);
}

#[tokio::test]
async fn how_an_instrument_is_built_comes_in_under_the_headings_it_goes_out_with() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let csv = "Owner,Kind,Maker,Bridge kind,Screw pitch in mm,Treble post in mm,Bass post in mm,Neck joint,Nut,\
               Bass scale in mm,Strings begin at fret,Strings in courses\n\
               Maren Oakhollow,electric,Corvane,sprung,0.75,-11.5,63,bolted,clamping,686,0 0 0 0 0 5,1 1 2 2 3 3\n\
               Jory Pennock,banjo,Harrowmere,,,,,,,,,\n\
               Ewart Tarn,bass,Quillstone,rubber,,,,,,,,\n\
               Willa Hatch,bass,Quillstone,,,5,,,,,,\n\
               Isla Brae,bass,Quillstone,,,,,,,,0 0 0,\n";
    let path = owner.brings("/office/import", "f", "built.csv", csv.as_bytes()).await.location.unwrap();
    let guessed = owner.opens(&path).await.all("select option[selected]");
    assert!(guessed.contains(&"instrument: bridge kind".to_owned()), "{guessed:?}");
    let named = [
        "name",
        "family",
        "maker",
        "bridge-kind",
        "screw-pitch",
        "post-treble",
        "post-bass",
        "neck-joint",
        "nut",
        "scale-bass",
        "strings-begin",
        "courses",
    ];
    let tried = tries(&owner, &path, &named).await;
    assert_eq!(tried.all("dl.facts dd").last().map(String::as_str), Some("3"), "{}", tried.visible_text());
    owner.sends(&path, &[]).await;
    when_done(&owner, &path).await;
    let out = owner.sends("/office/export/instruments", &[]).await;
    assert!(out.text.contains("sprung,0.75,-11.5,63,bolted,clamping,686,0 0 0 0 0 5,1 1 2 2 3 3"), "{}", out.text);
    assert!(out.text.contains(",0 0 0 0 5,"), "a banjo's fifth begins at the fifth: {}", out.text);
}

#[tokio::test]
async fn words_of_the_trade_are_translated_by_a_table_that_the_owner_sees_and_mends() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let csv = "Customer,Mobile,E-Mail addr.,Type,Mfr,S/N,Reminder OK,Nickname,Phone\n\
               Ruben Hask,07700 900111,ruben@hask.example,Acoustic,Corvane,CV-1,Y,Flatpick,01632 960111\n\
               Isla Brae,07700 900114,not an address,Uke,Pellowick,PK-1,2026-01-05,,\n\
               Tom Sprigg,07700 900123,,Zither,Brookside,Z-1,,,\n";
    let path = owner.brings("/office/import", "f", "people.csv", csv.as_bytes()).await.location.unwrap();
    let page = owner.opens(&path).await;
    let columns = page.form(&format!("{path}/columns"));
    let guessed: Vec<&str> = (0..9)
        .map(|place| columns.iter().find(|(name, _)| *name == format!("column_{place}")).unwrap().1.as_str())
        .collect();
    let wanted =
        ["name", "telephone-2", "email", "family", "maker", "serial", "reminders-agreed-on", "nickname", "telephone"];
    assert_eq!(guessed, wanted, "usual headings are known");
    let words = page.all("#words tbody th");
    assert_eq!(words, ["Acoustic", "Uke", "Zither", "Y"]);
    assert_eq!(columns.value("meant_0"), "steel-string");
    assert_eq!(columns.value("meant_2"), "", "nobody guesses what a zither is");
    // the owner mends it
    let tried = columns.with("meant_0", "classical").with("meant_2", "other").sent_by(&owner).await;
    assert_eq!(tried.status.as_u16(), 303, "{}", tried.visible_text());
    let tried = when_done(&owner, &path).await;
    let text = tried.visible_text();
    assert!(text.contains("Line 3: “not an address” is no e-mail address: the row goes in without it."), "{text}");
    assert!(text.contains("Line 2: “Y” says no day: reminders are not agreed to. Ask again."), "{text}");
    owner.sends(&path, &[]).await;
    when_done(&owner, &path).await;
    let families: Vec<String> = sqlx::query_scalar("SELECT family FROM instrument ORDER BY serial")
        .fetch_all(shop.app.db.read())
        .await
        .unwrap();
    assert_eq!(families, ["classical", "ukulele", "other"]);
    let ruben: (String, String, String, Option<String>) = sqlx::query_as(
        "SELECT telephone, more_telephones ->> '$[0].number', nickname, reminders_agreed_on FROM customer WHERE name = 'Ruben Hask'",
    )
    .fetch_one(shop.app.db.read())
    .await
    .unwrap();
    let wanted = ("01632 960111".to_owned(), "07700 900111".to_owned(), "Flatpick".to_owned(), None);
    assert_eq!(ruben, wanted, "both numbers and the nickname, and no consent without a day");
    let isla: (String, Option<String>) =
        sqlx::query_as("SELECT email, reminders_agreed_on FROM customer WHERE name = 'Isla Brae'")
            .fetch_one(shop.app.db.read())
            .await
            .unwrap();
    assert_eq!(isla, (String::new(), Some("2026-01-05".to_owned())));
}

#[tokio::test]
async fn a_row_tells_all_its_reasons_at_once() {
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let csv = "name,kind,year,reminders\n,zither,soon,2099-01-01\n";
    let path = owner.brings("/office/import", "f", "people.csv", csv.as_bytes()).await.location.unwrap();
    let tried = tries(&owner, &path, &["name", "family", "year", "reminders-agreed-on"]).await;
    let text = tried.visible_text();
    for reason in ["no customer's name", "still to come", "“soon” is no year", "“zither” is no kind"] {
        assert!(text.contains(reason), "{reason} in {text}");
    }
}

/// The check of a ZIP archive (ISO 3309; the polynomial as APPNOTE 6.3, 4.4.7 names it).
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |crc, _| if crc & 1 == 1 { (crc >> 1) ^ 0xEDB8_8320 } else { crc >> 1 })
    })
}

/// A ZIP archive of files as they are (APPNOTE 6.3, 4.3), which is what a spreadsheet file is.
fn archive(files: &[(&str, &str)]) -> Vec<u8> {
    let (mut bytes, mut list) = (Vec::new(), Vec::new());
    for (name, content) in files {
        let size = u32::try_from(content.len()).unwrap().to_le_bytes();
        let offset = u32::try_from(bytes.len()).unwrap().to_le_bytes();
        let name_length = u16::try_from(name.len()).unwrap().to_le_bytes();
        let mut common = vec![20, 0, 0, 0, 0, 0, 0, 0, 0, 0];
        common.extend(crc32(content.as_bytes()).to_le_bytes());
        common.extend([size, size].concat());
        common.extend(name_length);
        common.extend([0, 0]);
        bytes.extend(b"PK\x03\x04");
        bytes.extend(&common);
        bytes.extend(name.as_bytes());
        bytes.extend(content.as_bytes());
        list.extend(b"PK\x01\x02\x14\x00");
        list.extend(&common);
        list.extend([0; 10]);
        list.extend(offset);
        list.extend(name.as_bytes());
    }
    let count = u16::try_from(files.len()).unwrap().to_le_bytes();
    let (size, start) = (u32::try_from(list.len()).unwrap(), u32::try_from(bytes.len()).unwrap());
    bytes.extend(&list);
    bytes.extend(b"PK\x05\x06\0\0\0\0");
    bytes.extend([count, count].concat());
    bytes.extend(size.to_le_bytes());
    bytes.extend(start.to_le_bytes());
    bytes.extend([0, 0]);
    bytes
}

// ECMA-376 (2016), part 1: the smallest workbook with text in its cells, and a number where a year stands
#[tokio::test]
async fn a_spreadsheet_is_read_as_it_is_and_another_file_gets_a_plain_sentence() {
    let cell = |text: &str| format!("<c t=\"inlineStr\"><is><t>{text}</t></is></c>");
    let sheet = format!(
        "<?xml version=\"1.0\"?><worksheet xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\"><sheetData>\
         <row r=\"1\">{}{}{}</row><row r=\"2\">{}{}<c><v>1994</v></c></row></sheetData></worksheet>",
        cell("Name"),
        cell("Mfr"),
        cell("Year"),
        cell("Żaneta Wierzbówka"),
        cell("Osmerel")
    );
    let main = "http://schemas.openxmlformats.org";
    let book = format!(
        "<?xml version=\"1.0\"?><workbook xmlns=\"{main}/spreadsheetml/2006/main\" \
         xmlns:r=\"{main}/officeDocument/2006/relationships\"><sheets><sheet name=\"People\" sheetId=\"1\" r:id=\"a\"/></sheets></workbook>"
    );
    let relations = format!(
        "<?xml version=\"1.0\"?><Relationships xmlns=\"{main}/package/2006/relationships\"><Relationship Id=\"a\" \
         Type=\"{main}/officeDocument/2006/relationships/worksheet\" Target=\"worksheets/sheet1.xml\"/></Relationships>"
    );
    let package = format!(
        "<?xml version=\"1.0\"?><Relationships xmlns=\"{main}/package/2006/relationships\"><Relationship Id=\"b\" \
         Type=\"{main}/officeDocument/2006/relationships/officeDocument\" Target=\"xl/workbook.xml\"/></Relationships>"
    );
    let types = format!("<?xml version=\"1.0\"?><Types xmlns=\"{main}/package/2006/content-types\"/>");
    let file = archive(&[
        ("[Content_Types].xml", &types),
        ("_rels/.rels", &package),
        ("xl/workbook.xml", &book),
        ("xl/_rels/workbook.xml.rels", &relations),
        ("xl/worksheets/sheet1.xml", &sheet),
    ]);
    let shop = Shop::open().await;
    let owner = shop.owner().await;
    let brought = owner.brings("/office/import", "f", "people.xlsx", &file).await;
    assert_eq!(brought.status.as_u16(), 303, "{}", brought.visible_text());
    let path = brought.location.unwrap();
    assert!(owner.opens(&path).await.visible_text().contains("Żaneta Wierzbówka"));
    tries(&owner, &path, &["name", "maker", "year"]).await;
    owner.sends(&path, &[]).await;
    when_done(&owner, &path).await;
    let year: i64 = sqlx::query_scalar("SELECT year FROM instrument").fetch_one(shop.app.db.read()).await.unwrap();
    assert_eq!(year, 1994);
    let broken = owner.brings("/office/import", "g", "people.xlsx", b"PK\x03\x04 and then nothing").await;
    assert_eq!(broken.status.as_u16(), 422);
    assert!(broken.visible_text().contains("Save it as CSV"), "{}", broken.visible_text());
}
