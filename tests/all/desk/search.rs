//! Anything is found by what somebody remembers of it.

use thumbplane::web::Serving;

use crate::support::{HOST, Shop, check_in_form};

async fn hits(shop: &Shop, typed: &str) -> Vec<String> {
    let encoded: String = form_urlencoded::byte_serialize(typed.as_bytes()).collect();
    shop.desk().await.opens(&format!("/desk/search?part=hits&q={encoded}")).await.all(".hits strong")
}

#[tokio::test]
async fn names_are_found_in_part_without_accents_and_in_any_order() {
    let shop = Shop::with_story().await;
    for (typed, found) in [
        ("wierzb", "Żaneta Wierzbówka"),
        ("WIERZBÓWKA zan", "Żaneta Wierzbówka"),
        ("thi lam", "Nguyễn Thị Lam"),
        ("o'dell", "O'Dell Fairweather"),
        ("dell fair", "O'Dell Fairweather"),
        ("okoro-l", "Chidi Okoro-Lund"),
        ("lund", "Chidi Okoro-Lund"),
        ("kenji@naka", "Kenji Nakamori"),
    ] {
        let hits = hits(&shop, typed).await;
        assert!(hits.contains(&found.to_owned()), "{typed}: {hits:?}");
    }
}

#[tokio::test]
async fn a_telephone_is_found_in_any_spelling_and_by_its_end() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("k").await;
    // 01632 960xxx is reserved for drama by Ofcom; written as people and telephones write it
    for typed in [
        "01632 960101",
        "01632960101",
        "(01632) 960-101",
        "+44 1632 960101",
        "+44 (0)1632 960101",
        "0044 1632 960101",
        "960101",
        "0101",
        "01632 96",
        "١٦٣٢ ٩٦٠١٠١",
    ] {
        assert!(hits(&shop, typed).await.contains(&"Maren Oakhollow".to_owned()), "{typed}");
    }
    assert!(hits(&shop, "01632 960102").await.is_empty());
}

#[tokio::test]
async fn instruments_are_found_by_maker_model_and_serial_with_their_owner() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("k").await;
    for typed in ["tw-4471", "TW4471", "thistle om", "4471"] {
        let encoded: String = form_urlencoded::byte_serialize(typed.as_bytes()).collect();
        let page = desk.opens(&format!("/desk/search?part=hits&q={encoded}")).await;
        assert!(page.all(".hits a").iter().any(|hit| hit.contains("TW-4471") && hit.contains("Maren")), "{typed}");
    }
    // the only thing found opens by itself when Enter is pressed
    let straight = desk.opens("/desk/search?q=TW-4471").await;
    assert!(straight.location.unwrap().starts_with("/desk/instruments/"));
}

#[tokio::test]
async fn a_ticket_is_found_by_its_number_its_bars_and_its_qr() {
    let shop = Shop::open_as(Serving { public_origin: Some(format!("http://{HOST}")), ..Serving::default() }).await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let link = desk.opens(&format!("{job}/ticket")).await;
    let link = link.visible_text().split_whitespace().find(|word| word.contains("/s/")).unwrap().to_owned();
    let encoded: String = form_urlencoded::byte_serialize(link.as_bytes()).collect();
    for scanned in ["26-0001", encoded.as_str()] {
        let answer = desk.opens(&format!("/desk/search?q={scanned}")).await;
        assert_eq!(answer.location.as_deref(), Some(job.as_str()), "{scanned}");
    }
    for said in ["26-00", "260001", "1"] {
        assert!(hits(&shop, said).await.contains(&"26-0001".to_owned()), "{said}");
    }
    assert_eq!(desk.opens("/desk/search?q=http%3A%2F%2Fshop%2Fs%2Fguessed").await.status.as_u16(), 200);
}

#[tokio::test]
async fn nothing_typed_breaks_the_search_and_what_is_not_found_can_be_added() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("k").await;
    for typed in
        ["\"", "* OR", "name:x", "(", "-", "NEAR(a b)", "kind : customer", "'; DROP TABLE customer", "%", "\u{0}"]
    {
        let encoded: String = form_urlencoded::byte_serialize(typed.as_bytes()).collect();
        let answer = desk.opens(&format!("/desk/search?q={encoded}")).await;
        assert_eq!(answer.status.as_u16(), 200, "{typed}");
        assert!(!answer.visible_text().contains("Maren Oakhollow"), "{typed}");
    }
    let nobody = desk.opens("/desk/search?q=Quillon").await;
    assert!(nobody.has("a[href='/desk/check-in?find=Quillon']"));
    assert_eq!(desk.opens("/desk/check-in?find=Quillon").await.value("name"), "Quillon");
}

#[tokio::test]
async fn the_index_follows_every_change() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("k").await;
    let id: uuid::Uuid = sqlx::query_scalar("SELECT id FROM customer").fetch_one(shop.app.db.read()).await.unwrap();
    let form = [
        ("version", "1"),
        ("name", "Łucja Oakhollow"),
        ("telephone", "07700 900321"),
        ("email", ""),
        ("address", "3 Sluice Lane"),
        ("reach_by", "letter"),
    ];
    assert_eq!(desk.sends(&format!("/desk/customers/{id}"), &form).await.status.as_u16(), 303);
    assert_eq!(hits(&shop, "lucja").await, ["Łucja Oakhollow"]);
    assert_eq!(hits(&shop, "900321").await, ["Łucja Oakhollow"]);
    assert!(hits(&shop, "maren").await.is_empty() && hits(&shop, "960101").await.is_empty());
    // the index itself agrees with its rows (FTS5's own check)
    let mut write = shop.app.db.write().await.unwrap();
    for index in ["customer_search", "instrument_search", "job_search"] {
        let check = format!("INSERT INTO {index} ({index}, rank) VALUES ('integrity-check', 1)");
        sqlx::query(sqlx::AssertSqlSafe(check)).execute(&mut *write).await.unwrap();
    }
}

#[tokio::test]
async fn a_second_record_of_a_person_is_not_made_unseen() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("first").await;
    let known: uuid::Uuid = sqlx::query_scalar("SELECT id FROM customer").fetch_one(shop.app.db.read()).await.unwrap();
    let known = known.to_string();
    // the same name in another spelling, the same telephone, the same e-mail
    for (key, name, telephone, email) in [
        ("a", "MAREN  oakhollow", "", ""),
        ("b", "Somebody Else", "+44 1632 960101", ""),
        ("c", "Somebody Else", "", "Maren@Oakhollow.example"),
    ] {
        let mut form = check_in_form("second");
        form.retain(|(field, _)| *field != "is_new");
        for (field, value) in &mut form {
            match *field {
                "name" => *value = name,
                "telephone" => *value = telephone,
                "email" => *value = email,
                "serial" => *value = key,
                _ => {}
            }
        }
        let asked = desk.sends("/desk/check-in", &form).await;
        assert_eq!(asked.status.as_u16(), 422, "{name} {telephone} {email}");
        assert!(asked.has(&format!("button[name=customer][value='{known}']")), "{}", asked.visible_text());
        assert_eq!(asked.value("complaint"), "It buzzes when I dig in,\nmostly low down.", "nothing typed is lost");
        assert_eq!(shop.count("customer").await, 1);
        // it is them, with another instrument: the same form, with their key
        let mut theirs = form.clone();
        theirs.insert(0, ("customer", known.as_str()));
        theirs.insert(1, ("instrument", ""));
        theirs.iter_mut().find(|(field, _)| *field == "form_key").unwrap().1 = key;
        assert_eq!(desk.sends("/desk/check-in", &theirs).await.status.as_u16(), 303);
        assert_eq!(shop.count("customer").await, 1);
        // and the same instrument is not written down a second time either
        theirs.iter_mut().find(|(field, _)| *field == "form_key").unwrap().1 = "again";
        theirs.retain(|(field, _)| *field != "another_serial");
        let twice = desk.sends("/desk/check-in", &theirs).await;
        assert!(
            twice.has("#field-same_serial") && twice.visible_text().contains("with this serial already"),
            "{}",
            twice.visible_text()
        );
    }
    assert_eq!(shop.count("job").await, 4);
}

#[tokio::test]
async fn letters_with_a_stroke_are_found_as_they_are_typed_and_without() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let mut form = check_in_form("k");
    for (field, value) in &mut form {
        match *field {
            "maker" => *value = "Małgorzatøn",
            "model" => *value = "Weißbaum",
            "complaint" => *value = "Brzęczy na łączeniu, æolisk.",
            _ => {}
        }
    }
    desk.sends("/desk/check-in", &form).await;
    for typed in ["małgorzatøn", "MAŁGORZATØN", "malgorzaton", "Weißbaum", "weissbaum"] {
        assert!(hits(&shop, typed).await.contains(&"Małgorzatøn Weißbaum".to_owned()), "{typed}");
    }
    for typed in ["łączeniu", "laczeniu", "æolisk", "aeolisk"] {
        assert_eq!(hits(&shop, typed).await, ["26-0001"], "{typed}");
    }
}

#[tokio::test]
async fn a_number_with_an_extension_is_found_from_its_end_and_with_it() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let mut form = check_in_form("k");
    form.iter_mut().find(|(field, _)| *field == "telephone").unwrap().1 = "01632 960101 ext. 12";
    desk.sends("/desk/check-in", &form).await;
    for typed in ["960101", "+44 1632 960101", "01632 960101 ext 12", "01632960101 x12"] {
        assert_eq!(hits(&shop, typed).await, ["Maren Oakhollow"], "{typed}");
    }
    // who gives the number without the extension is asked about
    form.retain(|(field, _)| *field != "is_new");
    for (field, value) in &mut form {
        match *field {
            "form_key" => *value = "other",
            "name" => *value = "Somebody Else",
            "telephone" => *value = "+44 1632 960101",
            "email" => *value = "",
            _ => {}
        }
    }
    assert!(desk.sends("/desk/check-in", &form).await.has("#field-same"));
}

#[tokio::test]
async fn what_was_put_away_is_found_last() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    for (key, name) in [("a", "Maren Oakhollow"), ("b", "Maren Brook")] {
        let mut form = check_in_form(key);
        form.iter_mut().find(|(field, _)| *field == "name").unwrap().1 = name;
        let job = desk.sends("/desk/check-in", &form).await.location.unwrap();
        let home = [("version", "1"), ("to", "closed-unrepaired"), ("reason", "No.")];
        desk.sends(&format!("{}/stage", job.trim_end_matches("/ticket")), &home).await;
    }
    assert_eq!(hits(&shop, "maren").await[..2], ["Maren Brook", "Maren Oakhollow"], "what came last first");
    let brook: uuid::Uuid = sqlx::query_scalar("SELECT id FROM customer WHERE name = 'Maren Brook'")
        .fetch_one(shop.app.db.read())
        .await
        .unwrap();
    desk.sends(&format!("/desk/customers/{brook}/archive"), &[("version", "1")]).await;
    assert_eq!(hits(&shop, "maren").await[..2], ["Maren Oakhollow", "Maren Brook"]);
    let asked = desk.opens("/desk/check-in?find=maren").await;
    assert_eq!(asked.all(".hits strong"), ["Maren Oakhollow", "Maren Brook"]);
    assert!(asked.all(".hits a")[1].contains("archived"), "and it says so at check-in");
}

/// What somebody remembers, and who or what must stand first.
const HALF_REMEMBERED: &[(&str, &str)] = &[
    // names: in part, swapped, without what the keyboard lacks
    ("oakhollow", "Maren Oakhollow"),
    ("maren oak", "Maren Oakhollow"),
    ("oakhollow, maren", "Maren Oakhollow"),
    ("OAKHOLLOW MAREN", "Maren Oakhollow"),
    ("oak mar", "Maren Oakhollow"),
    ("odell", "O'Dell Fairweather"),
    ("o dell", "O'Dell Fairweather"),
    ("o’dell", "O'Dell Fairweather"),
    ("odell fairweather", "O'Dell Fairweather"),
    ("fair weather", "O'Dell Fairweather"),
    ("zaneta", "Żaneta Wierzbówka"),
    ("wierzbowka", "Żaneta Wierzbówka"),
    ("wierzbowka zaneta", "Żaneta Wierzbówka"),
    ("nguyen", "Nguyễn Thị Lam"),
    ("lam nguyen", "Nguyễn Thị Lam"),
    ("quistgård", "Anders Quistgaard"),
    ("quistgard", "Anders Quistgaard"),
    ("quist anders", "Anders Quistgaard"),
    ("della corte", "Lucia della Corte"),
    ("dellacorte", "Lucia della Corte"),
    ("corte lucia", "Lucia della Corte"),
    ("okoro lund", "Chidi Okoro-Lund"),
    ("okorolund", "Chidi Okoro-Lund"),
    ("lund chidi", "Chidi Okoro-Lund"),
    ("rene", "René Duvalier"),
    ("duvalier rene", "René Duvalier"),
    ("mulberry", "The Mulberry School"),
    ("school", "The Mulberry School"),
    // a letter wrong
    ("oakholow", "Maren Oakhollow"),
    ("fairwaether", "O'Dell Fairweather"),
    ("ibotsen", "Philippa Ibbotsen"),
    ("nakamory", "Kenji Nakamori"),
    ("rookwod", "Silas Rookwood"),
    ("petersam", "Agnes Petersham"),
    ("kestel", "Hedda Kestle"),
    // telephones and e-mail
    ("01632 960105", "Jory Pennock"),
    ("+44 1632 960105", "Jory Pennock"),
    ("960105", "Jory Pennock"),
    ("07700900103", "Żaneta Wierzbówka"),
    ("0044 7700 900 103", "Żaneta Wierzbówka"),
    ("pippa@ibbotsen.example", "Philippa Ibbotsen"),
    ("pippa", "Philippa Ibbotsen"),
    ("kenji@nak", "Kenji Nakamori"),
    // instruments: maker, model, serial with and without dashes, with whose they are
    ("thistlewade parlour", "Thistlewade Parlour"),
    ("thistle parlour", "Thistlewade Parlour"),
    ("TW-1203", "Thistlewade Parlour"),
    ("tw1203", "Thistlewade Parlour"),
    ("tw 1203", "Thistlewade Parlour"),
    ("os-1994-03", "Osmerel Maestra"),
    ("OS199403", "Osmerel Maestra"),
    ("os 1994 03", "Osmerel Maestra"),
    ("n1609", "Netherby Archtop 16"),
    ("archtop", "Netherby Archtop 16"),
    ("ruben corvane", "Corvane Skiff"),
    ("corvane ruben", "Corvane Skiff"),
    ("hask quillstone", "Quillstone Keel"),
    ("lucia osmerel maestra", "Osmerel Maestra"),
    ("kenji auditorium", "Ilexwood Auditorium"),
    ("jory dread", "Ilexwood Dreadnought 7"),
    ("tenor brae", "Pellowick Tenor"),
];

#[tokio::test]
async fn sixty_half_remembered_questions_find_first_what_was_meant() {
    assert_eq!(HALF_REMEMBERED.len(), 60);
    let shop = Shop::with_story().await;
    let mut wrong = Vec::new();
    for (typed, meant) in HALF_REMEMBERED {
        let hits = hits(&shop, typed).await;
        if hits.first().map(String::as_str) != Some(*meant) {
            wrong.push(format!("{typed}: {meant} is not first of {hits:?}"));
        }
    }
    assert!(wrong.is_empty(), "{} of 60: {wrong:#?}", wrong.len());
}

#[tokio::test]
async fn a_place_on_the_rack_leads_to_what_stands_there() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    desk.checks_in("k").await;
    for typed in ["B3", "b3", "b 3"] {
        assert_eq!(hits(&shop, typed).await.first().map(String::as_str), Some("26-0001"), "{typed}");
    }
}

#[tokio::test]
async fn a_serial_written_without_its_dash_is_found_with_it() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let mut form = check_in_form("k");
    form.iter_mut().find(|(field, _)| *field == "serial").unwrap().1 = "TW4471";
    desk.sends("/desk/check-in", &form).await;
    for typed in ["TW-4471", "tw 4471", "tw4471", "TW-44"] {
        assert!(hits(&shop, typed).await.contains(&"Thistlewade OM-2".to_owned()), "{typed}");
    }
}

#[tokio::test]
async fn whoever_is_written_differently_is_asked_about_before_a_second_record_is_made() {
    for (known, typed) in [
        ("Ruben Corvane", "Corvane, Ruben"),
        ("Ruben Corvane", "R. Corvane"),
        ("Ruben Corvane", "Ruben Corvan"),
        ("Siobhán O'Brien", "siobhan obrien"),
        ("Isla McAllister", "Isla Mc Allister"),
        ("Isla Mc Allister", "Isla McAllister"),
        ("Jürgen Müller", "Juergen Mueller"),
        ("Søren Ågård", "Soeren Aagaard"),
    ] {
        let shop = Shop::open().await;
        let desk = shop.desk().await;
        for (key, name, status) in [("one", known, 303), ("two", typed, 422)] {
            let mut form = check_in_form(key);
            form.retain(|(field, _)| !["is_new", "telephone", "email"].contains(field));
            form.iter_mut().find(|(field, _)| *field == "name").unwrap().1 = name;
            let answer = desk.sends("/desk/check-in", &form).await;
            assert_eq!(answer.status.as_u16(), status, "{typed} where {known} is known: {}", answer.visible_text());
        }
        assert_eq!(shop.count("customer").await, 1);
    }
}
