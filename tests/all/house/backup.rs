//! A shop that lost its computer goes on from its backup; a backup that is not whole is found out before it is needed.

use std::path::{Path, PathBuf};

use axum::http::StatusCode;
use thumbplane::quantity::Instant;
use thumbplane::records::backup::{self, Backup, BackupError, Keep, Progress};
use thumbplane::records::{Db, check_beside};
use time::{Duration, OffsetDateTime};

use crate::photos::{jpeg_with_a_place, sends_files};
use crate::support::{Shop, check_in_form};

/// A shop with one job and one photograph, and the path of the job.
async fn shop_with_a_photograph() -> (Shop, String) {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let job = desk.checks_in("k").await;
    let added = sends_files(&desk, &format!("{job}/photos"), "p", &[("top.jpg", &jpeg_with_a_place(1000, 800))]).await;
    assert_eq!(added.status, StatusCode::SEE_OTHER, "{}", added.visible_text());
    (shop, job)
}

async fn made(shop: &Shop, to: &Path) -> Backup {
    backup::make(shop.folder(), to, shop.clock.now(), |_| ()).await.unwrap()
}

/// Every file below a folder.
fn files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() { found.extend(files(&path)) } else { found.push(path) }
    }
    found.sort();
    found
}

#[tokio::test]
async fn a_backup_of_the_open_shop_brought_back_elsewhere_serves_the_same_pages() {
    let (shop, job) = shop_with_a_photograph().await;
    let elsewhere = tempfile::TempDir::new().unwrap();
    let to = elsewhere.path().join("backups");
    let said = std::sync::Mutex::new(Vec::new());
    let backup = backup::make(shop.folder(), &to, shop.clock.now(), |step| said.lock().unwrap().push(step)).await;
    let backup = backup.unwrap();
    assert_eq!(*said.lock().unwrap(), [Progress::Books, Progress::ReadingBack, Progress::Photographs(2)]);
    assert_eq!(backup.folder.file_name().unwrap(), "2026-10-14T100000Z");
    assert_eq!(backup.manifest.last_job.as_deref(), Some("26-0001"));
    assert_eq!((backup.manifest.photographs, backup.manifest.rows["job"]), (2, 1));
    assert!(backup.faults(|_| ()).await.unwrap().is_empty());
    // what came in afterwards is not in it
    let desk = shop.desk().await;
    desk.checks_in("later").await;

    let data = elsewhere.path().join("shop");
    let restored = backup::restore(&backup::find(&to).unwrap(), &data, |_| ()).await.unwrap();
    assert_eq!((restored.customers, restored.instruments, restored.jobs, restored.photographs), (1, 1, 1, 2));
    assert_eq!(restored.last_job.as_deref(), Some("26-0001"));
    let again = Db::open(&data).await.unwrap();
    assert!(again.check().await.unwrap().faults.is_empty());
    let id = "SELECT id FROM job";
    let job_id: uuid::Uuid = sqlx::query_scalar(id).fetch_one(again.read()).await.unwrap();
    assert!(job.ends_with(&job_id.to_string()));
    // the customers' private links go on working: the secret came along
    let of = thumbplane::records::JobId(job_id);
    assert_eq!(again.link_secret().token(of, 0), shop.app.db.link_secret().token(of, 0));
    again.close().await;
}

// every file of the backup in turn: a bit in its middle
#[tokio::test]
async fn one_altered_bit_in_any_file_of_a_backup_is_named_and_nothing_is_brought_back() {
    let (shop, _) = shop_with_a_photograph().await;
    let to = tempfile::TempDir::new().unwrap();
    let backup = made(&shop, to.path()).await;
    let mut altered = Vec::new();
    for file in files(to.path()) {
        if file.ends_with("lock") || file.ends_with("manifest.json") {
            continue;
        }
        let whole = std::fs::read(&file).unwrap();
        let mut bytes = whole.clone();
        bytes[whole.len() / 2] ^= 1;
        std::fs::write(&file, &bytes).unwrap();
        let faults = backup.faults(|_| ()).await.unwrap();
        let name = file.file_name().unwrap().to_string_lossy().into_owned();
        assert!(faults.iter().any(|fault| fault.contains(&name) && fault.contains("altered")), "{name}: {faults:?}");
        let data = to.path().join("restored");
        let refused = backup::restore(&backup, &data, |_| ()).await.unwrap_err().to_string();
        assert!(refused.contains(&name) && refused.contains("Nothing was brought back"), "{name}: {refused}");
        assert!(!data.exists() && !to.path().join("restored.restoring").exists());
        std::fs::remove_file(&file).unwrap();
        let faults = backup.faults(|_| ()).await.unwrap();
        assert!(faults.iter().any(|fault| fault.contains(&name) && fault.contains("missing")), "{name}: {faults:?}");
        std::fs::write(&file, &whole).unwrap();
        altered.push(name);
    }
    assert_eq!(altered.len(), 4, "books, secret, photograph, small photograph: {altered:?}");
    assert!(backup.faults(|_| ()).await.unwrap().is_empty());
}

#[tokio::test]
async fn a_folder_that_holds_anything_is_never_overwritten() {
    let (shop, _) = shop_with_a_photograph().await;
    let to = tempfile::TempDir::new().unwrap();
    let backup = made(&shop, to.path()).await;
    let taken = tempfile::TempDir::new().unwrap();
    std::fs::write(taken.path().join("letter.txt"), "dear").unwrap();
    let refused = backup::restore(&backup, taken.path(), |_| ()).await.unwrap_err();
    assert!(matches!(refused, BackupError::NotEmpty(_)), "{refused}");
    assert_eq!(files(taken.path()), [taken.path().join("letter.txt")]);
    // an empty folder was made for it
    let empty = tempfile::TempDir::new().unwrap();
    backup::restore(&backup, empty.path(), |_| ()).await.unwrap();
    assert!(check_beside(empty.path()).await.unwrap().faults.is_empty());
}

#[tokio::test]
async fn while_people_save_a_backup_is_one_moment() {
    let shop = Shop::open().await;
    let desk = shop.desk().await;
    let to = tempfile::TempDir::new().unwrap();
    let keys: Vec<String> = (0..30).map(|number| number.to_string()).collect();
    let saving = async {
        for key in &keys {
            assert_eq!(desk.sends("/desk/check-in", &check_in_form(key)).await.status, StatusCode::SEE_OTHER);
        }
    };
    let copying = async {
        let mut backups = Vec::new();
        for _ in 0..4 {
            backups.push(made(&shop, to.path()).await);
        }
        backups
    };
    let ((), backups) = tokio::join!(saving, copying);
    let names: std::collections::BTreeSet<_> = backups.iter().map(|backup| backup.folder.clone()).collect();
    assert_eq!(names.len(), 4, "four within one second have four names");
    for backup in backups {
        assert!(backup.faults(|_| ()).await.unwrap().is_empty());
        let rows = &backup.manifest.rows;
        assert_eq!(rows["job"], rows["customer"], "whole deeds only");
        assert_eq!(rows["job"] * 6, rows["instrument_string"]);
    }
}

#[tokio::test]
async fn old_backups_go_by_the_rule_and_photographs_of_the_forgotten_with_the_last_that_named_them() {
    let (shop, job) = shop_with_a_photograph().await;
    let to = tempfile::TempDir::new().unwrap();
    let day = |at: Instant| at.utc().unwrap().date();
    made(&shop, to.path()).await;
    let pictures = || files(&to.path().join("photos")).len();
    assert_eq!(pictures(), 2);
    // an earlier one that the power cut short, and somebody's own folder
    std::fs::create_dir_all(to.path().join("unfinished-2026-10-13T100000Z")).unwrap();
    std::fs::create_dir_all(to.path().join("letters")).unwrap();

    let owner = shop.owner().await;
    let customer: uuid::Uuid =
        sqlx::query_scalar("SELECT customer_id FROM job").fetch_one(shop.app.db.read()).await.unwrap();
    let home = [("version", "1"), ("to", "closed-unrepaired"), ("reason", "No.")];
    let closed = owner.sends(&format!("{job}/stage"), &home).await;
    assert_eq!(closed.status, StatusCode::SEE_OTHER, "{}", closed.visible_text());
    let sure = [("version", "1"), ("sure", "yes")];
    let gone = owner.sends(&format!("/desk/customers/{customer}/anonymise"), &sure).await;
    assert!(gone.status.is_redirection(), "{}", gone.visible_text());
    for days in 1..=3 {
        shop.clock
            .set(Instant::from_utc(OffsetDateTime::from_unix_timestamp(1_791_972_000).unwrap() + Duration::days(days)));
        made(&shop, to.path()).await;
    }
    assert!(!to.path().join("unfinished-2026-10-13T100000Z").exists());
    assert_eq!((backup::all(to.path()).unwrap().len(), pictures()), (4, 2));
    let keep = Keep { days: 4, weeks: 0, months: 0 };
    assert_eq!(backup::throw_away_old(to.path(), keep, day).await.unwrap(), 0);
    assert_eq!(pictures(), 2, "the first still names them");
    assert_eq!(backup::throw_away_old(to.path(), Keep { days: 3, ..keep }, day).await.unwrap(), 1);
    assert_eq!((backup::all(to.path()).unwrap().len(), pictures()), (3, 0));
    assert!(to.path().join("letters").exists(), "what is not ours stays");
}

#[tokio::test]
async fn a_backup_that_cannot_be_made_leaves_the_last_good_one() {
    let (shop, _) = shop_with_a_photograph().await;
    let to = tempfile::TempDir::new().unwrap();
    let good = made(&shop, to.path()).await;
    // a photograph was lost: the books are worth having all the same, and it is said what lacks
    for file in files(&shop.folder().join("photos")) {
        std::fs::remove_file(file).unwrap();
    }
    for file in files(&to.path().join("photos")) {
        std::fs::remove_file(file).unwrap();
    }
    let lacking = made(&shop, to.path()).await;
    assert_eq!(lacking.manifest.faults.len(), 2, "{:?}", lacking.manifest.faults);
    assert!(lacking.manifest.faults.iter().all(|fault| fault.starts_with("a photograph is missing")));
    // no folder, no shop, no backups
    let file = to.path().join("file");
    std::fs::write(&file, "").unwrap();
    let refused = backup::make(shop.folder(), &file, shop.clock.now(), |_| ()).await.unwrap_err();
    assert!(matches!(refused, BackupError::Folder(..)), "{refused}");
    let refused = backup::make(&to.path().join("nothing"), to.path(), shop.clock.now(), |_| ()).await.unwrap_err();
    assert!(matches!(refused, BackupError::NoShop(_)), "{refused}");
    let empty = tempfile::TempDir::new().unwrap();
    assert!(matches!(backup::find(empty.path()).unwrap_err(), BackupError::NoBackup(_)));
    // a form of another time is refused by its number
    let manifest = good.folder.join("manifest.json");
    let text = std::fs::read_to_string(&manifest).unwrap();
    assert!(text.contains("\"form\": 1"));
    std::fs::write(&manifest, text.replace("\"form\": 1", "\"form\": 7")).unwrap();
    let refused = backup::find(&good.folder).unwrap_err().to_string();
    assert!(refused.contains("form 7"), "{refused}");
}
