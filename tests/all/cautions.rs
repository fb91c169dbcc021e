//! The usual cautions: what each line says and rests on, and that it stands where the work can hurt.

use std::collections::{BTreeMap, BTreeSet};

use thumbplane::records::caution::{Backing, Place, caution, cautions};

use crate::support::{Answer, Shop, paired};

/// The file as it is, with what a line waits for.
fn lines() -> Vec<toml::Table> {
    let file: toml::Table = toml::from_str(include_str!("../../seed-data/cautions.toml")).unwrap();
    file["caution"].as_array().unwrap().iter().map(|line| line.as_table().unwrap().clone()).collect()
}

fn strings<'a>(line: &'a toml::Table, what: &str) -> Vec<&'a str> {
    line.get(what).and_then(toml::Value::as_array).into_iter().flatten().map(|text| text.as_str().unwrap()).collect()
}

fn folded(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn every_line_says_what_to_do_and_what_stands_behind_it() {
    let services: toml::Table = toml::from_str(include_str!("../../seed-data/services.toml")).unwrap();
    let services: BTreeSet<&str> =
        services["service"].as_array().unwrap().iter().map(|service| service["key"].as_str().unwrap()).collect();
    let keys: BTreeSet<&str> = cautions().iter().map(|line| line.key.as_str()).collect();
    assert_eq!((keys.len(), lines().len()), (cautions().len(), cautions().len()), "each key once");
    for (line, written) in paired(cautions(), lines()) {
        let key = &line.key;
        assert!(line.words.ends_with('.') && line.words.len() > 40 && line.words.len() < 320, "{key}");
        // a line never calls anything safe, and never reckons with what the shop typed
        assert!(!line.words.to_lowercase().split(|c: char| !c.is_alphabetic()).any(|word| word == "safe"), "{key}");
        assert!(!line.places.is_empty(), "{key} stands nowhere");
        match line.backing {
            Backing::Published | Backing::Quoted => {
                assert!(!line.source.is_empty(), "{key} names nobody");
                assert!(line.backed_by().starts_with(&line.source), "{key}");
                assert!(line.year.is_none_or(|year| line.backed_by().contains(&year.to_string())), "{key}");
            }
            Backing::Memory | Backing::Habit => assert_eq!(line.backed_by(), "shop habit", "{key}"),
            Backing::House => assert_eq!(line.backed_by(), "house rule", "{key}"),
        }
        for service in strings(&written, "services") {
            assert!(services.contains(service), "{key}: there is no service {service}");
        }
        for word in strings(&written, "named") {
            assert!(!word.contains(' ') && word == word.to_lowercase(), "{key}: {word} is never heard");
        }
        if let Some(subject) = &line.subject {
            let general = cautions().iter().find(|general| general.key == *subject);
            assert!(general.is_some_and(|general| general.places == line.places), "{key} stands for {subject}");
            assert!(!strings(&written, "countries").is_empty(), "{key} is of no country");
        }
    }
}

#[test]
fn figures_are_those_of_the_bodies_named() {
    // limits in the air, by the body beside each
    for (key, body, figures) in [
        // NIOSH concurrence and OSHA comment of 1989
        ("thin-glue", "NIOSH and OSHA, 1989", &["2 ppm", "4 ppm"][..]),
        // NIOSH; OSHA 29 CFR 1910.1000, particulates not otherwise regulated; IARC volume 100C
        ("wood-dust", "IARC 100C", &["1 mg/m³", "15", "5 respirable"]),
        // ACGIH, as OSHA lists it
        ("redcedar", "ACGIH", &["0.5 mg/m³", "other woods 1"]),
        // Orriols and others, European Respiratory Journal 10 (1997), page 780
        ("shell-dust", "Eur Respir J 10, 780", &["6 of 26"]),
        // NIOSH; OSHA 29 CFR 1926.1153 and 1910.1053: micrograms
        ("silica", "NIOSH", &["0.05 mg/m³", "50", "25 µg/m³"]),
        // NIOSH Pocket Guide; OSHA 29 CFR 1910.1025
        ("lead-solder", "1910.1025", &["0.050 mg/m³"]),
        // HSE SIM 03/2002/26
        ("flux-fume", "HSE SIM 03/2002/26", &["0.05", "0.15 mg/m³", "250 to 400 °C", "threefold"]),
        // OSHA 29 CFR 1910.107 and 1910.94(c); NFPA 33
        ("solvent-finish", "1910.94(c); NFPA 33", &["earthed", "extinguisher"]),
        // OSHA 29 CFR 1910.133; ANSI Z87.1
        ("string-tension", "1910.133", &["slacken", "shield the eyes"]),
        // ECHA registration, first aid
        ("thin-glue-skin", "ECHA", &["soapy water", "never pull", "a doctor"]),
        // USDA Forest Products Laboratory
        ("ebony", "USDA", &["skin"]),
        // Padfield, citing Ayerst (1969)
        ("case-humidifier", "Ayerst, 1969", &["75 %", "weekly"]),
        ("damp-instrument", "Ayerst, 1969", &["75 %", "mould"]),
        // NIOSH, from memory
        ("loud-testing", "shop habit", &["85 dB(A)"]),
        // CITES appendices and conferences
        ("brazilian-rosewood", "CITES Appendix I, 1992", &["Dalbergia nigra", "Appendix I."]),
        (
            "rosewoods",
            "CoP18, confirmed at CoP20, 2025",
            &["Appendix II, annotation 15", "cochinchinensis", "boards are not"],
        ),
        ("pernambuco", "CoP20", &["Paubrasilia echinata", "annotation 10", "February 2026"]),
        ("bigleaf-mahogany", "CITES Appendix II", &["Swietenia macrophylla", "annotation"]),
        ("travel-certificate", "Res. Conf. 16.8", &["many crossings"]),
        // US Fish and Wildlife Service, rule amended 29 March 2024
        ("ivory-us", "29 March 2024", &["6 July 2016", "possession allowed"]),
        ("wild-origin", "3-177", &["declaration"]),
        ("lacey-act", "16 U.S.C. 3371 to 3378", &["declaration", "lawful origin"]),
        // Torts (Interference with Goods) Act 1977
        ("uncollected-uk", "ss. 12 and 13, Sch. 1", &["recorded post", "three months"]),
        ("lien-nz", "Act of 1987", &["two months", "auction"]),
        ("sales-tax-eu", "C-484/06 and C-302/07", &["a line at a time or on the total"]),
    ] {
        let line = cautions().iter().find(|line| line.key == key).unwrap_or_else(|| panic!("no line {key}"));
        assert!(line.backed_by().contains(body), "{key} rests on {}", line.backed_by());
        for figure in figures {
            assert!(line.words.contains(figure), "{key}: {figure} in {}", line.words);
        }
    }
}

#[test]
fn every_caution_of_the_trade_has_its_line() {
    // glue, finish, dust and fume; body and bench; electricity; wood and case; borders; money, law and keeping. Common
    // practice, no source: which dangers a repair shop's papers usually name
    let told: BTreeMap<&str, &str> = cautions().iter().map(|line| (line.key.as_str(), line.words.as_str())).collect();
    for (key, about) in [
        ("thin-glue", "Fumes"),
        ("thin-glue-heat", "cotton"),
        ("thin-glue-skin", "peel"),
        ("wood-dust", "mask"),
        ("redcedar", "asthma"),
        ("ebony", "gloves"),
        ("rosewood-skin", "sensitise"),
        ("shell-dust", "wet"),
        ("bone-dust", "mask"),
        ("silica", "mask"),
        ("fret-dust", "nickel"),
        ("solvent-finish", "no flame"),
        ("isocyanate", "supplied air"),
        ("oily-rags", "flat outdoors"),
        ("old-finish", "lead"),
        ("celluloid", "flammable"),
        ("lead-solder", "Wash before food"),
        ("flux-fume", "at the tip"),
        ("string-tension", "whip"),
        ("slacken-before-glue", "evenly"),
        ("truss-rod", "Quarter turns"),
        ("heat", "not the clock"),
        ("power-tools", "no gloves"),
        ("loud-testing", "hearing"),
        ("mains", "licensed technician"),
        ("pickup-wiring", "battery and passive"),
        ("battery", "lithium"),
        ("dry-instrument", "never on a heater"),
        ("case-humidifier", "no longer drips"),
        ("cleaner", "hidden spot"),
        ("customers-measurement", "report"),
        ("border", "both countries"),
        ("brazilian-rosewood", "permits"),
        ("rosewoods", "exempt"),
        ("pernambuco", "permit"),
        ("bigleaf-mahogany", "veneer"),
        ("ivory", "ask the authority"),
        ("tortoiseshell", "Do not fit"),
        ("wild-origin", "horn"),
        ("lacey-act", "plants"),
        ("travel-certificate", "certificate"),
        ("species-said", "said to be"),
        ("uncollected", "notices"),
        ("lien", "keep the goods"),
        ("storage-fee", "in writing at check-in"),
        ("sales-tax", "local law"),
        ("estimate-passed", "get a yes"),
        ("valuation", "declared by the owner"),
        ("personal-data", "as long as they are needed"),
        ("photographs", "before any work"),
    ] {
        let words = told.get(key).unwrap_or_else(|| panic!("no line {key}"));
        assert!(words.to_lowercase().contains(&about.to_lowercase()), "{key}: {about} in {words}");
        assert_eq!(caution(key), Some(*words));
    }
}

/// A job whose instrument is made of everything any line waits for, with every service on it.
async fn job_of_everything(shop: &Shop) -> (String, uuid::Uuid) {
    let desk = shop.desk().await;
    let job = desk.checks_in("everything").await;
    let services: Vec<uuid::Uuid> =
        sqlx::query_scalar("SELECT id FROM service").fetch_all(shop.app.db.read()).await.unwrap();
    for service in &services {
        let service = service.to_string();
        let form = [("form_key", service.as_str()), ("service", service.as_str()), ("words", ""), ("price", "")];
        assert_eq!(desk.sends(&format!("{job}/work"), &form).await.status.as_u16(), 303);
    }
    let named: BTreeSet<String> =
        lines().iter().flat_map(|line| strings(line, "named")).map(str::to_owned).collect::<BTreeSet<_>>();
    let note = named.into_iter().collect::<Vec<_>>().join(", ");
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE instrument SET note = ?, family = 'electric'").bind(note).execute(&mut *write).await.unwrap();
    write.commit().await.unwrap();
    let instrument = sqlx::query_scalar("SELECT id FROM instrument").fetch_one(shop.app.db.read()).await.unwrap();
    (job, instrument)
}

async fn lives_in(shop: &Shop, country: &str) {
    let mut write = shop.app.db.write().await.unwrap();
    sqlx::query("UPDATE settings SET country = ?").bind(country).execute(&mut *write).await.unwrap();
    write.commit().await.unwrap();
}

/// The pages and papers of a place.
fn pages(place: Place, job: &str, instrument: uuid::Uuid, customer: uuid::Uuid) -> Vec<String> {
    let bench = job.replace("/desk/", "/bench/");
    match place {
        Place::CheckIn => vec!["/desk/check-in".to_owned()],
        Place::Ticket => vec![format!("{job}/ticket")],
        Place::Instrument => vec![format!("/desk/instruments/{instrument}")],
        Place::Customer => vec![format!("/desk/customers/{customer}")],
        Place::Job => vec![job.to_owned()],
        Place::Work => vec![bench.clone(), format!("{bench}/card")],
        Place::HandOver => vec![format!("{job}/hand-over")],
        Place::Sheet => vec![format!("{job}/sheet")],
        Place::Uncollected => vec!["/desk/uncollected".to_owned()],
        Place::Settings => vec!["/office/settings".to_owned()],
    }
}

#[tokio::test]
async fn every_line_stands_on_the_pages_and_papers_where_the_work_can_hurt() {
    let shop = Shop::open().await;
    let (job, instrument) = job_of_everything(&shop).await;
    let customer: uuid::Uuid =
        sqlx::query_scalar("SELECT id FROM customer").fetch_one(shop.app.db.read()).await.unwrap();
    let owner = shop.owner().await;
    let mut stood: BTreeSet<&str> = BTreeSet::new();
    for country in ["US", "GB", "DE", "NZ", "CA"] {
        lives_in(&shop, country).await;
        for place in Place::ALL {
            for path in pages(*place, &job, instrument, customer) {
                let page: Answer = owner.opens(&path).await;
                assert_eq!(page.status.as_u16(), 200, "{path}");
                let seen = page.visible_text();
                for (line, written) in paired(cautions(), lines()) {
                    let countries = strings(&written, "countries");
                    let here = line.places.contains(place) && (countries.is_empty() || countries.contains(&country));
                    let general = written.get("general").is_some();
                    let replaced = general
                        && lines().iter().any(|own| {
                            own.get("subject").and_then(toml::Value::as_str) == Some(&line.key)
                                && strings(own, "countries").contains(&country)
                        });
                    let shown = seen.contains(&folded(&line.words));
                    assert_eq!(shown, here && !replaced, "{} on {path} in {country}", line.key);
                    if shown {
                        stood.insert(line.key.as_str());
                        // a ticket and a sheet have room for the words alone
                        let brief = matches!(place, Place::Ticket | Place::Sheet);
                        let backed = format!("{} ({})", folded(&line.words), line.backed_by());
                        assert!(brief || seen.contains(&backed), "{} on {path} hides what backs it", line.key);
                    }
                }
            }
        }
    }
    let never: Vec<&str> = cautions().iter().map(|line| line.key.as_str()).filter(|key| !stood.contains(key)).collect();
    assert!(never.is_empty(), "these stand nowhere: {never:?}");
}

#[tokio::test]
async fn an_ordinary_setup_names_what_it_does_and_nothing_it_is_not_made_of() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let setup: uuid::Uuid =
        sqlx::query_scalar("SELECT id FROM service WHERE key = 'setup'").fetch_one(shop.app.db.read()).await.unwrap();
    let setup = setup.to_string();
    desk.sends(&format!("{job}/work"), &[("form_key", "w"), ("service", &setup), ("words", ""), ("price", "")]).await;
    let (owner, bench) = (shop.owner().await, job.replace("/desk/", "/bench/"));
    let seen = owner.opens(&bench).await.visible_text();
    for key in ["string-tension", "truss-rod", "estimate-passed"] {
        assert!(seen.contains(caution(key).unwrap()), "{key}");
    }
    // the counter is told what it is to say, and nothing of dust and fume
    let counter = desk.opens(&job).await.visible_text();
    assert!(counter.contains(caution("estimate-passed").unwrap()) && !counter.contains(caution("truss-rod").unwrap()));
    for key in ["ivory", "rosewood-skin", "isocyanate", "flux-fume", "mains", "loud-testing", "shell-dust", "battery"] {
        assert!(!seen.contains(caution(key).unwrap()), "{key}");
    }
    // what was declined or taken off hurts nobody
    let line: uuid::Uuid = sqlx::query_scalar("SELECT id FROM work_line").fetch_one(shop.app.db.read()).await.unwrap();
    assert_eq!(desk.sends(&format!("{job}/work/{line}/withdraw"), &[]).await.status.as_u16(), 303);
    assert!(!owner.opens(&bench).await.visible_text().contains(caution("truss-rod").unwrap()));
}

#[tokio::test]
async fn an_amplifier_at_the_counter_is_sent_on() {
    // OSHA 29 CFR 1910.331 to .335, qualified persons: from memory. The rule is the house's
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let form = [("form_key", "w"), ("service", ""), ("words", "Look at the valve amplifier"), ("price", "10")];
    desk.sends(&format!("{job}/work"), &form).await;
    for path in [job.clone(), job.replace("/desk/", "/bench/")] {
        let seen = shop.owner().await.opens(&path).await.visible_text();
        assert!(seen.contains("We do not open mains equipment.") && seen.contains("(house rule)"), "{path}");
    }
}
