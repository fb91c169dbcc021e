//! Papers as the printer gets them: page size, and bars and QR read back by an independent decoder (ZBar).

use std::path::Path;
use std::process::Command;

use super::driver::{Browser, demo};

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
