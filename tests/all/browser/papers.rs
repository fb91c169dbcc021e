//! Papers as the printer gets them: page size, and bars and QR read back by an independent decoder (ZBar).

use std::path::Path;
use std::process::Command;

use super::driver::{Browser, demo, served};
use crate::support::Shop;

/// Prints the page as a person's browser does: with the size its style sheet asks for.
pub(super) async fn prints(browser: &Browser, pdf: &Path) {
    let options = serde_json::json!({ "preferCSSPageSize": true, "displayHeaderFooter": false });
    let printed = browser.page.cdp().send_raw("Page.printToPDF", options).await.unwrap();
    let bytes = data_encoding::BASE64.decode(printed["data"].as_str().unwrap().as_bytes()).unwrap();
    std::fs::write(pdf, bytes).unwrap();
}

/// What a program says of a file, and never nothing because it could not.
fn run(folder: &Path, program: &str, arguments: &[&str]) -> String {
    let output = Command::new(program)
        .args(arguments)
        .current_dir(folder)
        .output()
        .unwrap_or_else(|cause| panic!("{program}: {cause}. tests/run installs it."));
    // ZBar answers 4 where it reads no code, which is for the caller to judge
    let went_well = output.status.success() || (program == "zbarimg" && output.status.code() == Some(4));
    assert!(went_well, "{program} {arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// Pages, and the size of the first in points.
pub(super) fn about(folder: &Path, name: &str) -> (usize, f64, f64) {
    let said = run(folder, "pdfinfo", &[name]);
    let line = |start: &str| said.lines().find_map(|line| line.strip_prefix(start)).unwrap().trim().to_owned();
    let size = line("Page size:");
    let mut size = size.split_whitespace().filter_map(|part| part.parse::<f64>().ok());
    (line("Pages:").parse().unwrap(), size.next().unwrap(), size.next().unwrap())
}

/// What ZBar reads on the first page at a printer's resolution: 300 dots to the inch in an office, 203 on labels.
pub(super) fn codes(folder: &Path, name: &str, resolution: &str) -> String {
    let stem = format!("{name}-{resolution}");
    run(folder, "pdftoppm", &["-r", resolution, "-gray", "-png", "-f", "1", "-l", "1", "-singlefile", name, &stem]);
    run(folder, "zbarimg", &["-q", &format!("{stem}.png")])
}

#[tokio::test(flavor = "multi_thread")]
async fn every_paper_prints_on_a4_and_on_letter_and_labels_on_their_own_size() {
    let (_demo, origin) = demo();
    let owner = Browser::of(&origin, "Ottilie", (1280, 900), &[]).await;
    owner.goes_to(&format!("{origin}/desk")).await;
    let job = owner.finds(".queue tbody tr:last-child a").await.attr("href").await.unwrap().unwrap();
    owner.goes_to(&format!("{origin}{job}")).await;
    let number = owner.finds("h1.number").await.text().await.unwrap();
    let instrument = owner.finds("a[href^='/desk/instruments/']").await.attr("href").await.unwrap().unwrap();
    let folder = tempfile::TempDir::new().unwrap();
    let kept = std::env::var_os("THUMBPLANE_PAPERS").map(std::path::PathBuf::from);
    let folder = kept.as_deref().unwrap_or(folder.path());
    // ISO 216 and ANSI/ASME Y14.1, in points of 1/72 inch
    for (paper, width, height) in [("a4", 594.96, 841.92), ("letter", 612.0, 792.0)] {
        owner.goes_to(&format!("{origin}/office/settings")).await;
        owner.chooses("paper", paper).await;
        owner.clicks("main form button.primary").await;
        owner.waits_for(".flash").await;
        for (name, path) in [
            ("ticket", format!("{job}/ticket")),
            ("sheet", format!("{job}/sheet")),
            ("receipt", format!("{job}/receipt")),
            ("care-letter", format!("{instrument}/care-letter")),
            ("collection-letter", format!("{job}/collection-letter")),
            ("card", format!("{}/card", job.replace("/desk/", "/bench/"))),
        ] {
            owner.goes_to(&format!("{origin}{path}")).await;
            let pdf = format!("{name}-{paper}.pdf");
            prints(&owner, &folder.join(&pdf)).await;
            let (pages, wide, high) = about(folder, &pdf);
            assert!((wide - width).abs() < 0.5 && (high - height).abs() < 0.5, "{pdf}: {wide} by {high}");
            assert!(pages == 1 || name == "card", "{pdf}: {pages} pages");
        }
        for resolution in ["300", "203"] {
            let read = codes(folder, &format!("ticket-{paper}.pdf"), resolution);
            assert!(read.contains(&format!("CODE-128:{number}")) && read.contains("QR-Code:"), "{resolution}: {read}");
        }
    }
    // 62 by 100 mm and 4 by 6 inches
    for (size, width, height) in [("roll-62", 175.7, 283.5), ("four-by-six", 288.0, 432.0)] {
        for label in ["tag", "shelf-label"] {
            owner.goes_to(&format!("{origin}{job}/{label}?size={size}")).await;
            let pdf = format!("{label}-{size}.pdf");
            prints(&owner, &folder.join(&pdf)).await;
            let (pages, wide, high) = about(folder, &pdf);
            assert!((wide - width).abs() < 1.0 && (high - height).abs() < 1.0, "{pdf}: {wide} by {high}");
            assert_eq!(pages, 1, "{pdf}");
            for resolution in ["300", "203"] {
                let read = codes(folder, &pdf, resolution);
                assert!(read.contains(&format!("CODE-128:{number}")), "{pdf} at {resolution}: {read}");
            }
        }
    }
    owner.closes().await;
}

/// A ready job of so many agreed lines, partly paid: the pages of its quote and its receipt.
async fn with_lines(shop: &Shop, many: usize) -> (String, String, String) {
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    for number in 1..=many {
        let words = format!("Line {number}: dress the frets, polish them, and look each one over under a strong light");
        let key = format!("w{number}");
        let line = [("form_key", key.as_str()), ("service", ""), ("words", words.as_str()), ("price", "12.50")];
        assert_eq!(desk.sends(&format!("{job}/work"), &line).await.status.as_u16(), 303);
    }
    desk.sends(&format!("{job}/stage"), &[("version", "1"), ("to", "measured")]).await;
    let quote = desk.sends(&format!("{job}/quote"), &[("form_key", "q")]).await.location.unwrap();
    desk.sends(&format!("{quote}/answer"), &[("answer", "agreed"), ("how", "counter"), ("answered_by", "Maren")]).await;
    let deposit = [("form_key", "m"), ("kind", "deposit"), ("method", "cash"), ("amount", "10")];
    assert_eq!(desk.sends(&format!("{job}/payment"), &deposit).await.status.as_u16(), 303);
    (quote, format!("{job}/receipt"), job)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_quote_and_a_receipt_say_their_total_once_after_the_last_line_and_count_their_pages() {
    let folder = tempfile::TempDir::new().unwrap();
    let kept = std::env::var_os("THUMBPLANE_PAPERS").map(std::path::PathBuf::from);
    let folder = kept.as_deref().unwrap_or(folder.path());
    let browser = Browser::open(1280, 900, &[]).await;
    for many in [1, 20] {
        let (shop, origin) = served().await;
        let (quote, receipt, job) = with_lines(&shop, many).await;
        browser.is(&origin, &shop.owner().await).await;
        for paper in ["a4", "letter"] {
            let mut write = shop.app.db.write().await.unwrap();
            sqlx::query("UPDATE settings SET paper = ?").bind(paper).execute(&mut *write).await.unwrap();
            write.commit().await.unwrap();
            for (name, page, total) in [("quote", &quote, "Total"), ("receipt", &receipt, "Total")] {
                browser.goes_to(&format!("{origin}{page}")).await;
                let pdf = format!("{name}-{many}-{paper}.pdf");
                prints(&browser, &folder.join(&pdf)).await;
                let (pages, ..) = about(folder, &pdf);
                assert!(if many == 1 { pages == 1 } else { pages >= 2 }, "{pdf}: {pages}");
                let text = run(folder, "pdftotext", &["-layout", &pdf, "-"]);
                let totals: Vec<usize> = text.match_indices(total).map(|(at, _)| at).collect();
                let last = text.rfind(&format!("Line {many}:")).unwrap();
                assert!(totals.len() == 1 && totals[0] > last, "{pdf}: {text}");
                for page in 1..=pages {
                    assert!(text.contains(&format!("page {page} of {pages}")), "{pdf}: {text}");
                }
            }
            for (name, page) in [("ticket", format!("{job}/ticket")), ("sheet", format!("{job}/sheet"))] {
                browser.goes_to(&format!("{origin}{page}")).await;
                prints(&browser, &folder.join(format!("{name}-{many}-{paper}.pdf"))).await;
            }
        }
    }
    browser.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_label_holds_the_longest_texts_in_whole_words_on_one_label() {
    let (shop, origin) = served().await;
    let desk = shop.desk().await;
    let mut form = crate::support::check_in_form("k");
    for (field, value) in &mut form {
        match *field {
            "name" => *value = "Maximiliana Featherstonehaugh-Cholmondeley of the Upper Weir and the Lower Mill",
            "maker" => *value = "Donaudampfschifffahrtsgesellschaftsgitarrenbauwerkstatt",
            "model" => *value = "Grand Concert Auditorium Parlour No. 12 with the long scale",
            "brought_with" => *value = "hard case, strap, two capos, a slide, a set of strings, a tuner, its battery",
            "mark_note_1" => *value = "dent below the bridge, long as a thumb, a scratch beside it down to the wood",
            _ => {}
        }
    }
    let ticket = desk.sends("/desk/check-in", &form).await;
    let job = ticket.location.unwrap().trim_end_matches("/ticket").to_owned();
    for number in 0..6 {
        let key = format!("c{number}");
        let note = "another long scratch across the lower bout, seen under the lamp";
        desk.sends(&format!("{job}/condition"), &[("form_key", &key), ("side", "back"), ("note", note)]).await;
    }
    let folder = tempfile::TempDir::new().unwrap();
    let kept = std::env::var_os("THUMBPLANE_PAPERS").map(std::path::PathBuf::from);
    let folder = kept.as_deref().unwrap_or(folder.path());
    let browser = Browser::open(1280, 900, &[]).await;
    browser.is(&origin, &desk).await;
    for size in ["roll-62", "four-by-six"] {
        for label in ["tag", "shelf-label"] {
            browser.goes_to(&format!("{origin}{job}/{label}?size={size}")).await;
            let pdf = format!("long-{label}-{size}.pdf");
            prints(&browser, &folder.join(&pdf)).await;
            assert_eq!(about(folder, &pdf).0, 1, "{pdf}");
            // what does not fit would be cut off by the sheet's edge
            let over: i64 = browser
                .asks("const sheet = document.querySelector('.sheet'); return sheet.scrollHeight - sheet.clientHeight")
                .await;
            assert!(over <= 0, "{pdf}: {over} pixels are cut off");
        }
    }
    browser.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_claim_ticket_prints_on_one_page_and_its_codes_can_be_scanned() {
    let (_demo, origin) = demo();
    let desk = Browser::of(&origin, "Mirel", (1280, 900), &[]).await;
    desk.goes_to(&format!("{origin}/desk")).await;
    desk.clicks(".queue tbody tr:last-child a").await;
    desk.clicks("a[href$='/ticket']").await;
    let number = desk.waits_for(".sheet .big").await.text().await.unwrap();
    let link = desk.text().await.split_whitespace().find(|word| word.contains("/s/")).unwrap().to_owned();

    let folder = tempfile::TempDir::new().unwrap();
    let pdf = folder.path().join("ticket.pdf");
    let printed = desk.page.print_page(Default::default()).await.unwrap();
    std::fs::write(&pdf, printed).unwrap();
    assert_eq!(about(folder.path(), "ticket.pdf").0, 1, "one sheet");
    // an office printer's 300 dots to the inch, and a label printer's 203
    for resolution in ["300", "203"] {
        let read = codes(folder.path(), "ticket.pdf", resolution);
        assert!(read.contains(&format!("CODE-128:{number}")), "{resolution} dpi: {read}");
        assert!(read.contains(&format!("QR-Code:{link}")), "{resolution} dpi: {read}");
    }
    desk.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_saddles_drawing_prints_at_its_true_size() {
    let (_demo, origin) = demo();
    let bench = Browser::of(&origin, "Ivo", (1024, 768), &[]).await;
    bench.goes_to(&format!("{origin}/bench")).await;
    bench.waits_for("main a[href^='/bench/jobs/']").await;
    let links = bench.page.find_all(thirtyfour::By::Css("main a[href^='/bench/jobs/']")).await.unwrap();
    let mut drawn = None;
    let mut jobs = Vec::new();
    for link in links {
        jobs.push(link.attr("href").await.unwrap().unwrap());
    }
    for job in jobs {
        bench.goes_to(&format!("{origin}{job}/saddle")).await;
        if bench.page.find(thirtyfour::By::Css(".actual-size")).await.is_ok() {
            drawn = Some(job);
            break;
        }
    }
    assert!(drawn.is_some(), "the demo has a saddle to cut");
    let folder = tempfile::TempDir::new().unwrap();
    prints(&bench, &folder.path().join("saddle.pdf")).await;
    let arguments = ["-r", "300", "-gray", "-f", "1", "-l", "1", "-singlefile", "saddle.pdf", "page"];
    run(folder.path(), "pdftoppm", &arguments);
    let page = std::fs::read(folder.path().join("page.pgm")).unwrap();
    // 50 mm at 300 dots to the inch are 590.6 dots; the line's own ends may cover a dot more on each side
    let dots: Vec<usize> = dark_runs(&page).into_iter().filter(|run| (570..=610).contains(run)).collect();
    assert!(!dots.is_empty() && dots.iter().all(|run| (589..=593).contains(run)), "{dots:?}");
    bench.closes().await;
}

/// Lengths of the horizontal runs of dark dots in a binary PGM (P5) picture.
fn dark_runs(picture: &[u8]) -> Vec<usize> {
    let mut fields = picture.splitn(4, u8::is_ascii_whitespace);
    let mut number = || std::str::from_utf8(fields.next().unwrap()).unwrap().parse::<usize>().unwrap_or(0);
    let (_, width, height) = (number(), number(), number());
    let dots = &picture[picture.len() - width * height..];
    let rows = dots.chunks(width);
    rows.flat_map(|row| row.split(|dot| *dot >= 160).map(<[u8]>::len).filter(|run| *run > 0).collect::<Vec<_>>())
        .collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn no_page_scrolls_two_ways_on_a_telephone() {
    let (_demo, origin) = demo();
    let owner = Browser::of(&origin, "Ottilie", (500, 844), &["--force-device-scale-factor=1"]).await;
    owner.goes_to(&format!("{origin}/desk")).await;
    let job = owner.finds(".queue tbody tr:nth-child(5) a").await.attr("href").await.unwrap().unwrap();
    let bench = job.replace("/desk/", "/bench/");
    for path in ["/desk", "/desk/check-in", "/desk/care", &job, &bench, "/bench", "/office", "/office/staff"] {
        owner.goes_to(&format!("{origin}{path}")).await;
        let script = "return [document.documentElement.scrollWidth, document.documentElement.clientWidth]";
        let widths: Vec<i64> = owner.page.execute(script, vec![]).await.unwrap().convert().unwrap();
        assert!(widths[0] <= widths[1], "{path}: {widths:?}");
    }
    owner.closes().await;
}
