//! Photographs: what is kept of them, what is refused, and what goes on after a cut.

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use image::codecs::jpeg::JpegEncoder;
use image::codecs::png::PngEncoder;
use image::{ExtendedColorType, ImageEncoder, Rgb, RgbImage};

use crate::support::form::form;
use crate::support::{Answer, HOST, Person, Shop};

const UPLOAD: &str = "5b1f7a64-0f9a-4c39-9a52-6a3f5a0c1d2e";

/// A JPEG, left half red and right half blue, with an EXIF block (CIPA DC-008, the Exif standard): orientation
/// 6, which is "turn a quarter clockwise", a camera's name, and a GPS position.
pub(crate) fn jpeg_with_a_place(width: u32, height: u32) -> Vec<u8> {
    let picture =
        RgbImage::from_fn(width, height, |x, _| if x < width / 2 { Rgb([220, 20, 20]) } else { Rgb([20, 20, 220]) });
    let mut plain = Vec::new();
    JpegEncoder::new_with_quality(&mut plain, 90).encode_image(&picture).unwrap();
    let mut tiff = b"II\x2a\x00\x08\x00\x00\x00".to_vec();
    let entry = |tag: u16, kind: u16, count: u32, value: u32| {
        let mut bytes = Vec::new();
        bytes.extend(tag.to_le_bytes());
        bytes.extend(kind.to_le_bytes());
        bytes.extend(count.to_le_bytes());
        bytes.extend(value.to_le_bytes());
        bytes
    };
    // first directory at 8: make (0x010F), orientation (0x0112), pointer to the GPS directory (0x8825)
    tiff.extend(3_u16.to_le_bytes());
    let after_first = 8 + 2 + 3 * 12 + 4;
    let make = b"Weircam\0";
    tiff.extend(entry(0x010F, 2, 8, after_first));
    tiff.extend(entry(0x0112, 3, 1, 6));
    tiff.extend(entry(0x8825, 4, 1, after_first + 8));
    tiff.extend(0_u32.to_le_bytes());
    tiff.extend(make);
    // GPS: latitude reference "N", latitude as three rationals
    let after_gps = after_first + 8 + 2 + 2 * 12 + 4;
    tiff.extend(2_u16.to_le_bytes());
    tiff.extend(entry(0x0001, 2, 2, u32::from(b'N')));
    tiff.extend(entry(0x0002, 5, 3, after_gps));
    tiff.extend(0_u32.to_le_bytes());
    for number in [51_u32, 1, 30, 1, 12, 1] {
        tiff.extend(number.to_le_bytes());
    }
    let mut segment = b"Exif\0\0".to_vec();
    segment.extend(tiff);
    let mut with_place = plain[..2].to_vec();
    with_place.extend([0xFF, 0xE1]);
    with_place.extend(u16::try_from(segment.len() + 2).unwrap().to_be_bytes());
    with_place.extend(segment);
    with_place.extend(&plain[2..]);
    with_place
}

/// A small PNG that unfolds to a very large picture.
fn bomb(side: u32) -> Vec<u8> {
    let mut png = Vec::new();
    let clear = vec![0_u8; usize::try_from(side).unwrap() * usize::try_from(side).unwrap()];
    PngEncoder::new(&mut png).write_image(&clear, side, side, ExtendedColorType::L8).unwrap();
    png
}

pub(crate) async fn sends_files(person: &Person<'_>, path: &str, key: &str, files: &[(&str, &[u8])]) -> Answer {
    let boundary = "weir-weir-weir";
    let mut body = Vec::new();
    for (name, value) in [("form_key", key), ("caption", "The dent"), ("for_customer", "yes")] {
        body.extend(
            format!("--{boundary}\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n").bytes(),
        );
    }
    for (name, bytes) in files {
        let head = format!(
            "--{boundary}\r\nContent-Disposition: form-data; name=\"photos\"; filename=\"{name}\"\r\nContent-Type: image/jpeg\r\n\r\n"
        );
        body.extend(head.bytes());
        body.extend(*bytes);
        body.extend(b"\r\n");
    }
    body.extend(format!("--{boundary}--\r\n").bytes());
    person.sends_bytes(path, &format!("multipart/form-data; boundary={boundary}"), body).await
}

async fn sends_piece(person: &Person<'_>, job: &str, from: usize, of: usize, piece: &[u8]) -> Answer {
    let path = format!("{job}/photos/uploads/{UPLOAD}?from={from}&of={of}&caption=In+pieces");
    person.sends_bytes(&path, "application/octet-stream", piece.to_vec()).await
}

/// The picture at an address, its headers checked.
async fn picture(shop: &Shop, person: &Person<'_>, path: &str) -> Vec<u8> {
    let request = Request::get(path)
        .header(header::HOST, HOST)
        .header(header::COOKIE, person.cookie())
        .body(Body::empty())
        .unwrap();
    let response = tower::ServiceExt::oneshot(shop.router.clone(), request).await.unwrap();
    assert_eq!(response.status(), StatusCode::OK, "{path}");
    assert_eq!(response.headers()[header::CONTENT_TYPE], "image/jpeg");
    assert_eq!(response.headers()[header::X_CONTENT_TYPE_OPTIONS], "nosniff");
    assert!(response.headers()[header::CACHE_CONTROL].to_str().unwrap().starts_with("private"));
    axum::body::to_bytes(response.into_body(), 32 * 1024 * 1024).await.unwrap().to_vec()
}

async fn photo_ids(shop: &Shop) -> Vec<uuid::Uuid> {
    sqlx::query_scalar("SELECT id FROM photo ORDER BY id").fetch_all(shop.app.db.read()).await.unwrap()
}

fn holds(bytes: &[u8], wanted: &[u8]) -> bool {
    bytes.windows(wanted.len()).any(|window| window == wanted)
}

#[tokio::test]
async fn a_photograph_is_kept_upright_and_small_enough_and_says_nothing_of_where_it_was_taken() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let sent = jpeg_with_a_place(3000, 1000);
    assert!(holds(&sent, b"Exif") && holds(&sent, b"Weircam"));
    let answer = sends_files(&desk, &format!("{job}/photos"), "f", &[("a.jpg", &sent), ("b.jpg", &sent)]).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text);
    sends_files(&desk, &format!("{job}/photos"), "f", &[("a.jpg", &sent), ("b.jpg", &sent)]).await;
    let ids = photo_ids(&shop).await;
    assert_eq!(ids.len(), 2, "several at once; the same form twice keeps them once");
    for (path, longest) in [(format!("/photos/{}", ids[0]), 2400), (format!("/photos/{}/small", ids[0]), 480)] {
        let kept = picture(&shop, &desk, &path).await;
        for trace in [b"Exif".as_slice(), b"Weircam", b"http://ns.adobe.com", b"ICC_PROFILE"] {
            assert!(!holds(&kept, trace), "{path} still holds {}", String::from_utf8_lossy(trace));
        }
        let kept = image::load_from_memory(&kept).unwrap().to_rgb8();
        // orientation 6: the left edge as stored is the top as seen
        assert_eq!((kept.width(), kept.height()), (longest / 3, longest));
        let (top, bottom) = (kept.get_pixel(longest / 6, longest / 8), kept.get_pixel(longest / 6, longest * 7 / 8));
        assert!(top[0] > 180 && top[2] < 80 && bottom[2] > 180 && bottom[0] < 80, "{top:?} over {bottom:?}");
    }
    // where it is shown
    let instrument: uuid::Uuid =
        sqlx::query_scalar("SELECT id FROM instrument").fetch_one(shop.app.db.read()).await.unwrap();
    let bench = shop.bench().await;
    let bench_job = job.replace("/desk/", "/bench/");
    for (person, path) in [
        (&desk, job.clone()),
        (&desk, format!("{job}/photos")),
        (&bench, bench_job),
        (&bench, format!("/desk/instruments/{instrument}")),
    ] {
        let page = person.opens(&path).await;
        assert!(page.has(&format!("img[src='/photos/{}/small'][alt='The dent']", ids[0])), "{path}");
    }
    let stranger = shop.stranger().opens(&format!("/photos/{}", ids[0])).await;
    assert_eq!(stranger.status, StatusCode::SEE_OTHER, "to the sign-in page");
    // one file for two equal pictures, one for their small versions
    let files: usize = std::fs::read_dir(shop.folder().join("photos"))
        .unwrap()
        .map(|folder| std::fs::read_dir(folder.unwrap().path()).unwrap().count())
        .sum();
    assert_eq!(files, 2);
}

#[tokio::test]
async fn the_customer_sees_what_is_marked_for_them_and_nothing_that_was_set_aside() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let sent = jpeg_with_a_place(60, 20);
    sends_files(&desk, &format!("{job}/photos"), "f", &[("a.jpg", &sent), ("b.jpg", &sent)]).await;
    let ids = photo_ids(&shop).await;
    let job_id: uuid::Uuid = job.rsplit('/').next().unwrap().parse().unwrap();
    let token = shop.app.db.link_secret().token(thumbplane::records::JobId(job_id), 0);
    let mark: uuid::Uuid =
        sqlx::query_scalar("SELECT id FROM condition_mark").fetch_one(shop.app.db.read()).await.unwrap();
    let mark = mark.to_string();
    let inside = [("version", "1"), ("caption", "Inside, for us"), ("mark", mark.as_str())];
    let saved = desk.sends(&format!("/desk/photos/{}", ids[1]), &inside).await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.text);
    let stale = desk.sends(&format!("/desk/photos/{}", ids[1]), &inside).await;
    assert_eq!(stale.status, StatusCode::CONFLICT);
    let stranger = shop.stranger();
    let page = stranger.opens(&format!("/s/{token}")).await;
    assert_eq!(page.all(".photos li").len(), 1);
    assert_eq!(stranger.opens(&format!("/s/{token}/photos/{}/small", ids[0])).await.status, StatusCode::OK);
    assert_eq!(stranger.opens(&format!("/s/{token}/photos/{}", ids[1])).await.status, StatusCode::NOT_FOUND);
    assert_eq!(stranger.opens(&format!("/s/wrong/photos/{}", ids[0])).await.status, StatusCode::NOT_FOUND);
    let aside = [("version", "1"), ("caption", "The dent"), ("for_customer", "yes"), ("set_aside", "yes")];
    desk.sends(&format!("/desk/photos/{}", ids[0]), &aside).await;
    assert_eq!(stranger.opens(&format!("/s/{token}/photos/{}", ids[0])).await.status, StatusCode::NOT_FOUND);
    assert_eq!(desk.opens(&format!("{job}/photos")).await.all(".photo-cards .card").len(), 2, "kept all the same");
    let mut write = shop.app.db.write().await.unwrap();
    assert!(sqlx::query("DELETE FROM photo").execute(&mut *write).await.is_err());
}

// RFC 9110: 8.8.3 (a strong ETag), 13.1.2 and 15.4.5 (304 where the browser holds it); RFC 9111, 5.2.2.7 (private)
#[tokio::test]
async fn a_picture_the_browser_holds_is_not_sent_again() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    sends_files(&desk, &format!("{job}/photos"), "f", &[("a.jpg", &jpeg_with_a_place(60, 20))]).await;
    let path = format!("/photos/{}", photo_ids(&shop).await[0]);
    let etag = |answer: &Answer| answer.headers["etag"].to_str().unwrap().to_owned();
    let (whole, small) = (desk.opens(&path).await, desk.opens(&format!("{path}/small")).await);
    assert!(etag(&whole).starts_with('"') && etag(&whole).ends_with('"'), "{}", etag(&whole));
    let again = desk.sends_raw_get(&path, "if-none-match", &etag(&whole)).await;
    assert_eq!((again.status, again.text.as_str()), (StatusCode::NOT_MODIFIED, ""));
    assert_eq!(etag(&again), etag(&whole));
    assert_eq!(desk.sends_raw_get(&path, "if-none-match", "\"other\"").await.status, StatusCode::OK);
    assert_eq!(small.headers["cache-control"], whole.headers["cache-control"]);
    assert!(whole.headers["cache-control"].to_str().unwrap().starts_with("private"));
    // held or not, whoever is signed out gets nothing
    let stranger = shop.stranger().sends_raw_get(&path, "if-none-match", &etag(&whole)).await;
    assert_eq!(stranger.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn what_is_no_picture_or_unfolds_too_large_is_refused_in_words_and_the_others_are_kept() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let bomb = bomb(9000);
    assert!(bomb.len() < 1_000_000, "a small file: {}", bomb.len());
    let good = jpeg_with_a_place(60, 20);
    let files: [(&str, &[u8]); 5] = [
        ("note.jpg", b"Dear shop, this is a letter."),
        ("bomb.png", &bomb),
        ("moving.jpg", b"GIF89a\x01\x00\x01\x00\x00\x00\x00;"),
        ("cut.jpg", &good[..30]),
        ("good.jpg", &good),
    ];
    let refused = sends_files(&desk, &format!("{job}/photos"), "f", &files).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let said = refused.all(".message").join(" | ");
    for words in [
        "note.jpg: This is no JPEG, PNG or WebP picture",
        "bomb.png: This picture unfolds to 81 million dots",
        "moving.jpg: This is no JPEG, PNG or WebP picture",
        "cut.jpg: This picture is damaged",
        "One photograph is kept. Send only the others again.",
    ] {
        assert!(said.contains(words), "{words} in {said}");
    }
    assert_eq!(shop.count("photo").await, 1);
    // a form without a file
    let none = sends_files(&desk, &format!("{job}/photos"), "g", &[("", b"")]).await;
    assert_eq!(none.status, StatusCode::UNPROCESSABLE_ENTITY);
    // other forms stay as small as they were
    let large = "x".repeat(600 * 1024);
    let answer = desk.sends(&format!("{job}/condition"), &[("side", "front"), ("note", &large)]).await;
    assert!(answer.status.is_client_error(), "{}", answer.status);
}

#[tokio::test]
async fn an_upload_goes_on_after_a_cut_where_it_was() {
    let shop = Shop::open().await;
    let bench = shop.bench().await;
    let job = shop.desk().await.checks_in("k").await;
    let sent = jpeg_with_a_place(900, 600);
    let (of, half) = (sent.len(), sent.len() / 2);
    let state = |answer: &Answer| serde_json::from_str::<serde_json::Value>(&answer.text).unwrap();
    let first = sends_piece(&bench, &job, 0, of, &sent[..half]).await;
    assert_eq!((first.status, state(&first)["received"].as_u64()), (StatusCode::OK, u64::try_from(half).ok()));
    // the answer was lost: the browser asks, a piece that is here already is not taken again
    let again = sends_piece(&bench, &job, 0, of, &sent[..half]).await;
    assert_eq!(again.status, StatusCode::CONFLICT);
    let asked = bench.opens(&format!("{job}/photos/uploads/{UPLOAD}")).await;
    assert_eq!(state(&asked)["received"].as_u64(), u64::try_from(half).ok());
    assert_eq!(shop.count("photo").await, 0);
    let last = sends_piece(&bench, &job, half, of, &sent[half..]).await;
    assert_eq!((last.status, state(&last)["done"].as_bool()), (StatusCode::OK, Some(true)), "{}", last.text);
    let repeated = sends_piece(&bench, &job, half, of, &sent[half..]).await;
    assert_eq!(state(&repeated)["done"].as_bool(), Some(true));
    assert_eq!(shop.count("photo").await, 1);
    let kept = picture(&shop, &bench, &format!("/photos/{}", photo_ids(&shop).await[0])).await;
    let kept = image::load_from_memory(&kept).unwrap();
    assert_eq!((kept.width(), kept.height()), (600, 900));
    let left = std::fs::read_dir(shop.folder().join("photos/arriving")).unwrap().count();
    assert_eq!(left, 0, "nothing is left of the pieces");
    // a text in pieces is refused, too, and what says it is larger than a photograph is not begun
    let path = format!("{job}/photos/uploads/00000000-0000-4000-8000-000000000001?from=0&of=5");
    let text = bench.sends_bytes(&path, "application/octet-stream", b"hello".to_vec()).await;
    assert_eq!(text.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(state(&text)["refused"].as_str().unwrap().contains("no JPEG"));
    let huge = sends_piece(&bench, &job, 0, 900_000_000, b"x").await;
    assert_eq!(huge.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn the_check_notices_a_picture_that_is_missing_or_altered() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    sends_files(&desk, &format!("{job}/photos"), "f", &[("a.jpg", &jpeg_with_a_place(600, 300))]).await;
    assert!(shop.app.db.check().await.unwrap().faults.is_empty());
    let mut files = Vec::new();
    for folder in std::fs::read_dir(shop.folder().join("photos")).unwrap() {
        files.extend(std::fs::read_dir(folder.unwrap().path()).unwrap().map(|file| file.unwrap().path()));
    }
    assert_eq!(files.len(), 2);
    std::fs::remove_file(&files[0]).unwrap();
    let mut altered = std::fs::read(&files[1]).unwrap();
    *altered.last_mut().unwrap() ^= 1;
    std::fs::write(&files[1], altered).unwrap();
    let faults = shop.app.db.check().await.unwrap().faults;
    assert_eq!(faults.len(), 2, "{faults:?}");
    assert!(faults.iter().any(|fault| fault.contains("is missing")), "{faults:?}");
    assert!(faults.iter().any(|fault| fault.contains("was altered")), "{faults:?}");
    assert!(faults.iter().all(|fault| fault.contains("a photo of 26-0001")), "{faults:?}");
}

#[tokio::test]
async fn a_refused_caption_comes_back_at_its_photograph_and_a_change_of_two_is_seen() {
    let shop = Shop::open().await;
    let (desk, owner) = (shop.desk().await, shop.owner().await);
    let job = desk.checks_in("k").await;
    let picture = jpeg_with_a_place(64, 48);
    sends_files(&desk, &format!("{job}/photos"), "f", &[("a.jpg", &picture)]).await;
    let id = photo_ids(&shop).await.remove(0);
    let path = format!("/desk/photos/{id}");
    let opened = desk.opens(&format!("{job}/photos")).await;
    let long = "Along the grain, ".repeat(20);
    let refused = form(&opened, &path).with("caption", &long).without("for_customer").sent_by(&desk).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.has(&format!("#photo-{id} #error-caption_{id}")));
    let row = form(&refused, &path);
    assert_eq!((row.value("caption"), row.value("for_customer")), (long.as_str(), ""));
    assert_eq!(refused.value("caption"), "", "the form for new photographs is as it was");
    let first = form(&opened, &path).with("caption", "Crack by the bridge").sent_by(&owner).await;
    assert_eq!(first.status, StatusCode::SEE_OTHER);
    let second = form(&opened, &path).with("set_aside", "yes").sent_by(&desk).await;
    assert_eq!(second.status, StatusCode::CONFLICT);
    let both = form(&second, &path);
    assert_eq!((both.value("caption"), both.value("set_aside")), ("Crack by the bridge", "yes"));
}

#[tokio::test]
async fn a_refused_upload_keeps_its_mark_its_caption_and_whom_it_is_for() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let mark: uuid::Uuid =
        sqlx::query_scalar("SELECT id FROM condition_mark").fetch_one(shop.app.db.read()).await.unwrap();
    let mark = mark.to_string();
    let fields = [("form_key", "f"), ("caption", "The dent"), ("mark", mark.as_str()), ("for_customer", "yes")];
    let mut body = String::new();
    for (name, value) in fields {
        body.push_str(&format!("--weir\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n"));
    }
    body.push_str("--weir--\r\n");
    let path = format!("{job}/photos");
    let refused = desk.sends_bytes(&path, "multipart/form-data; boundary=weir", body.into_bytes()).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let kept = form(&refused, &path);
    assert_eq!((kept.value("caption"), kept.value("for_customer")), ("The dent", "yes"));
    assert_eq!(kept.value("mark"), mark);
}
