//! `/desk/jobs/{id}/photos/uploads/{upload}`: one photograph in pieces. The browser names the upload by a
//! UUID; after a cut it asks how much is here and goes on from there. Answers are JSON for static/photos.js.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

use axum::body::Bytes;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use uuid::Uuid;

use crate::quantity::Instant;
use crate::records::photo::{self, PhotoEntry};
use crate::records::picture::{LARGEST_FILE, NotKept};
use crate::records::{ConditionId, Door, JobId, job};
use crate::web::form::{Id, LINE, Query};
use crate::web::page::RequestContext;
use crate::web::{Error, Result};

/// What nobody went on with for this long is thrown away: the picture is still in the tablet.
const KEPT_UNFINISHED_SECONDS: u64 = 48 * 3600;

/// What the browser is told.
#[derive(Debug, Default, Serialize)]
struct State {
    /// Bytes that are here: where to go on.
    received: usize,
    /// The photograph is in the books.
    done: bool,
    /// Why it is not kept.
    #[serde(skip_serializing_if = "Option::is_none")]
    refused: Option<String>,
}

fn answer(status: StatusCode, state: &State) -> Result {
    let body = serde_json::to_vec(state).map_err(Error::internal)?;
    let mut response: Response = (status, body).into_response();
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static("application/json"));
    Ok(response)
}

fn piece_path(context: &RequestContext, job: JobId, upload: Uuid) -> PathBuf {
    context.app.db.photos().arriving().join(format!("{}-{}", job.0.simple(), upload.simple()))
}

fn length(path: &Path) -> usize {
    std::fs::metadata(path).ok().and_then(|file| usize::try_from(file.len()).ok()).unwrap_or(0)
}

/// `GET /desk/jobs/{id}/photos/uploads/{upload}`: how much of it is here.
pub(in crate::web) async fn state(context: RequestContext, Id((job, upload)): Id<(JobId, Uuid)>) -> Result {
    job::find(context.app.db.read(), job).await?;
    let done = photo::by_key(context.app.db.read(), &upload.to_string()).await?.is_some();
    answer(StatusCode::OK, &State { received: length(&piece_path(&context, job, upload)), done, refused: None })
}

/// `POST /desk/jobs/{id}/photos/uploads/{upload}?from=0&of=123456&mark=…&caption=…&for_customer=yes`: the next
/// piece. The last one makes the photograph.
pub(in crate::web) async fn take(
    context: RequestContext,
    Id((job, upload)): Id<(JobId, Uuid)>,
    query: Query,
    piece: Bytes,
) -> Result {
    let whole = || Error::Unreadable("This piece says not where it belongs. Send the photograph again.");
    let number = |name: &str| query.value(name).parse::<usize>().map_err(|_| whole());
    let (from, of) = (number("from")?, number("of")?);
    if of > LARGEST_FILE {
        let refused = Some(NotKept::TooLarge.to_string());
        return answer(StatusCode::UNPROCESSABLE_ENTITY, &State { refused, ..State::default() });
    }
    let form_key = upload.to_string();
    if photo::by_key(context.app.db.read(), &form_key).await?.is_some() {
        return answer(StatusCode::OK, &State { received: of, done: true, refused: None });
    }
    photo::require_place(context.app.db.read(), job).await?;
    let path = piece_path(&context, job, upload);
    let lock = context.app.uploads.lock_of(upload);
    let _turn = lock.lock().await;
    let here = length(&path);
    if here != from || from + piece.len() > of {
        return answer(StatusCode::CONFLICT, &State { received: here, ..State::default() });
    }
    let received = from + piece.len();
    let (to, now) = (path.clone(), context.now());
    tokio::task::spawn_blocking(move || append(&to, &piece, now)).await.map_err(Error::internal)??;
    if received < of {
        return answer(StatusCode::OK, &State { received, ..State::default() });
    }
    let whole = path.clone();
    let stored = context.app.store_picture(move || std::fs::read(whole)).await?;
    let stored = match stored {
        Ok(stored) => stored,
        Err(why) => {
            std::fs::remove_file(&path)?;
            let refused = Some(why.to_string());
            return answer(StatusCode::UNPROCESSABLE_ENTITY, &State { refused, ..State::default() });
        }
    };
    let entry = PhotoEntry {
        condition_mark_id: query.value("mark").parse::<ConditionId>().ok(),
        caption: query.value("caption").chars().filter(|c| !c.is_control()).take(LINE).collect(),
        for_customer: query.is("for_customer", "yes"),
        set_aside: false,
    };
    let mut tx = context.app.db.write().await?;
    photo::add(&mut tx, &context.audit(Door::Desk), job, &form_key, &stored, &entry).await?;
    tx.commit().await?;
    std::fs::remove_file(&path)?;
    answer(StatusCode::OK, &State { received, done: true, refused: None })
}

fn append(path: &Path, piece: &[u8], now: Instant) -> std::io::Result<()> {
    let folder = path.parent().unwrap_or(Path::new("."));
    std::fs::create_dir_all(folder)?;
    sweep(folder, now);
    let mut file = std::fs::OpenOptions::new().create(true).append(true).open(path)?;
    file.write_all(piece)?;
    file.sync_data()
}

/// Throws away what nobody went on with. What cannot be read is left for the next time.
fn sweep(folder: &Path, now: Instant) {
    let Ok(files) = std::fs::read_dir(folder) else {
        return;
    };
    let kept_since = u64::try_from(now.seconds()).unwrap_or(0).saturating_sub(KEPT_UNFINISHED_SECONDS);
    for file in files.flatten() {
        let touched = file.metadata().and_then(|file| file.modified()).map(|at| at.duration_since(UNIX_EPOCH));
        if touched.is_ok_and(|touched| touched.is_ok_and(|touched| touched.as_secs() < kept_since)) {
            let _ = std::fs::remove_file(file.path());
        }
    }
}
