//! Papers as the printer gets them: page size, and bars and QR read back by an independent decoder (ZBar).

use std::process::Command;

use super::driver::Browser;
use crate::command::Running;

#[tokio::test(flavor = "multi_thread")]
async fn the_claim_ticket_prints_on_one_page_and_its_codes_can_be_scanned() {
    let demo = Running::demo();
    let origin = format!("http://{}", demo.address);
    let desk = Browser::open(1280, 900, &[]).await;
    desk.signs_in(&origin, "Mirel", "desk by the weir").await;
    desk.goes_to(&format!("{origin}/desk")).await;
    desk.clicks(".queue tbody tr:last-child a").await;
    desk.clicks("a[href$='/ticket']").await;
    let number = desk.waits_for(".sheet .big").await.text().await.unwrap();
    let link = desk.text().await.split_whitespace().find(|word| word.contains("/s/")).unwrap().to_owned();

    let folder = tempfile::TempDir::new().unwrap();
    let pdf = folder.path().join("ticket.pdf");
    let printed = desk.page.print_page(Default::default()).await.unwrap();
    std::fs::write(&pdf, printed).unwrap();
    let run = |program: &str, arguments: &[&str]| {
        let output = Command::new(program)
            .args(arguments)
            .current_dir(folder.path())
            .output()
            .unwrap_or_else(|_| panic!("{program} is installed by tests/run"));
        String::from_utf8_lossy(&output.stdout).into_owned()
    };
    let about = run("pdfinfo", &["ticket.pdf"]);
    assert!(about.lines().any(|line| line.starts_with("Pages:") && line.trim_end().ends_with(" 1")), "{about}");
    // an office printer's 300 dots to the inch, and a label printer's 203
    for resolution in ["300", "203"] {
        run("pdftoppm", &["-r", resolution, "-gray", "-png", "ticket.pdf", resolution]);
        let page = std::fs::read_dir(folder.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .find(|name| name.starts_with(resolution) && name.ends_with("png"))
            .unwrap();
        let read = run("zbarimg", &["-q", &page]);
        assert!(read.contains(&format!("CODE-128:{number}")), "{resolution} dpi: {read}");
        assert!(read.contains(&format!("QR-Code:{link}")), "{resolution} dpi: {read}");
    }
    desk.closes().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn no_page_scrolls_two_ways_on_a_telephone() {
    let demo = Running::demo();
    let origin = format!("http://{}", demo.address);
    let owner = Browser::open(500, 844, &["--force-device-scale-factor=1"]).await;
    owner.signs_in(&origin, "Ottilie", "owner by the weir").await;
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
