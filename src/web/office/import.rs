//! `/office/import`: customers and instruments from a file: brought, its columns named, tried, brought in.
//!
//! A try is the run itself, taken back. Both go on beside the requests; the page says how far they are.

use askama::Template;
use axum::extract::Multipart;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::IntoResponse;

use crate::records::import::{self, Column, Earlier, Import, ImportState, MOST_ROWS, Outcome, Table};
use crate::records::{Door, ImportId, export};
use crate::web::form::{Id, Typed};
use crate::web::page::{Layout, Visit, page, page_with, see};
use crate::web::{Error, Result};

/// Bytes of a file, at most.
pub(in crate::web) const LARGEST_FILE: usize = 8 * 1024 * 1024;
/// Rows shown to recognise the columns by, and refused rows shown with their reasons.
const FEW: usize = 5;
const REFUSED_SHOWN: usize = 20;

#[derive(Template)]
#[template(path = "office/import.html")]
struct ImportPage {
    layout: Layout,
    form: Typed,
    earlier: Vec<(Earlier, String)>,
}

impl ImportPage {
    fn most_rows(&self) -> usize {
        MOST_ROWS
    }
}

#[derive(Template)]
#[template(path = "office/import_file.html")]
struct FilePage {
    layout: Layout,
    form: Typed,
    import: Import,
    failure: Option<String>,
    columns: Vec<ColumnSeen>,
    refused: Vec<(u64, String, String)>,
}

/// While it is at work: how far, and nothing else, so that looking costs next to nothing.
#[derive(Template)]
#[template(path = "office/import_running.html")]
struct RunningPage {
    layout: Layout,
    file_name: String,
    done: usize,
    total: usize,
}

/// A column with its heading, what it is named, and what stands in its first rows.
struct ColumnSeen {
    field: String,
    heading: String,
    named: Column,
    first: String,
}

impl FilePage {
    fn choices(&self) -> &'static [Column] {
        Column::ALL
    }
    fn is_done(&self) -> bool {
        self.import.state == ImportState::Done
    }
    fn outcome(&self) -> Option<&Outcome> {
        self.import.outcome.as_ref()
    }
}

async fn import_page(visit: &Visit, form: Typed) -> Result<ImportPage> {
    let earlier = import::latest(visit.app.db.read(), 10).await?;
    let earlier = earlier.into_iter().map(|earlier| (visit.moment(earlier.made_at), earlier)).map(|(at, it)| (it, at));
    Ok(ImportPage { layout: visit.layout(), form, earlier: earlier.collect() })
}

/// `GET /office/import`
pub(in crate::web) async fn show(visit: Visit) -> Result {
    page(&import_page(&visit, Typed::fresh()).await?)
}

/// `POST /office/import`: the file itself.
pub(in crate::web) async fn bring(
    visit: Visit,
    body: std::result::Result<Multipart, axum::extract::multipart::MultipartRejection>,
) -> Result {
    let mut body = body.map_err(|_| Error::Unreadable("This page takes its own form only."))?;
    let too_large = |_| Error::Unreadable("The file is larger than 8 MB, or it did not arrive whole.");
    let (mut key, mut name, mut bytes) = (String::new(), String::new(), Vec::new());
    while let Some(field) = body.next_field().await.map_err(too_large)? {
        match field.name() {
            Some("form_key") => key = field.text().await.map_err(too_large)?,
            Some("file") => {
                name = field.file_name().unwrap_or("file").chars().filter(|c| !c.is_control()).take(200).collect();
                bytes = field.bytes().await.map_err(too_large)?.to_vec();
            }
            _ => {}
        }
    }
    let mut form = Typed::fresh().with("form_key", key);
    let table = match bytes.is_empty() {
        true => Err("Choose a file first.".to_owned()),
        false => read(&name, bytes).await,
    };
    let table = match table {
        Ok(table) => table,
        Err(why) => {
            form.refuse("file", why);
            return page_with(StatusCode::UNPROCESSABLE_ENTITY, &import_page(&visit, form).await?);
        }
    };
    let mut write = visit.app.db.write().await?;
    let id = import::keep(&mut write, &visit.by(Door::Office), form.required_key()?, &name, &table).await?;
    write.commit().await?;
    see(&visit, &format!("/office/import/{id}"), "The file is here. Nothing is brought in yet.")
}

/// Reads a file beside the requests: a large one takes a moment.
async fn read(name: &str, bytes: Vec<u8>) -> std::result::Result<Table, String> {
    let is_cards = name.to_lowercase().ends_with(".vcf") || bytes.starts_with(b"BEGIN:VCARD");
    let reading = move || if is_cards { import::cards(&bytes) } else { Table::from_csv(&bytes) };
    tokio::task::spawn_blocking(reading).await.unwrap_or_else(|_| Err("The file could not be read.".to_owned()))
}

async fn file_page(visit: &Visit, id: ImportId, form: Typed) -> Result<FilePage> {
    let import = import::find(visit.app.db.read(), id).await?;
    let columns = import.table.headings.iter().zip(&import.columns).enumerate().map(|(place, (heading, named))| {
        let first = import.table.rows.iter().take(FEW).filter_map(|row| row.cells.get(place));
        let first: Vec<String> = first.map(|cell| cell.chars().take(40).collect()).collect();
        let field = format!("column_{place}");
        ColumnSeen {
            named: form.value(&field).parse().unwrap_or(*named),
            heading: heading.clone(),
            first: first.into_iter().filter(|cell| !cell.is_empty()).collect::<Vec<_>>().join(" · "),
            field,
        }
    });
    let columns = columns.collect();
    let refused = import.outcome.iter().flat_map(|outcome| &outcome.refused).take(REFUSED_SHOWN);
    let refused = refused
        .filter_map(|(place, why)| {
            let row = import.table.rows.get(*place)?;
            Some((row.line, why.clone(), row.cells.join(", ").chars().take(80).collect()))
        })
        .collect();
    Ok(FilePage { layout: visit.layout(), failure: visit.app.imports.failure(id.0), form, columns, refused, import })
}

/// `GET /office/import/{id}`
pub(in crate::web) async fn file(visit: Visit, Id(id): Id<ImportId>) -> Result {
    if let Some((done, total)) = visit.app.imports.how_far(id.0) {
        let file_name = import::file_name(visit.app.db.read(), id).await?;
        return page(&RunningPage { layout: visit.layout(), file_name, done, total });
    }
    page(&file_page(&visit, id, Typed::fresh()).await?)
}

/// `POST /office/import/{id}/columns`: the columns are named, and the file is tried.
pub(in crate::web) async fn columns(visit: Visit, Id(id): Id<ImportId>, mut form: Typed) -> Result {
    let import = import::find(visit.app.db.read(), id).await?;
    let named: Vec<Column> = (0..import.table.headings.len())
        .map(|place| form.value(&format!("column_{place}")).parse().unwrap_or(Column::Nothing))
        .collect();
    let mut write = visit.app.db.write().await?;
    if let Err(error) = import::name_columns(&mut write, id, &named).await {
        drop(write);
        let status = form.note("column_0", error)?;
        return page_with(status, &file_page(&visit, id, form).await?);
    }
    write.commit().await?;
    begin(&visit, Import { columns: named, state: ImportState::Read, ..import }, ForReal::No);
    see(&visit, &format!("/office/import/{id}"), "The file is being tried. Nothing is written.")
}

/// `POST /office/import/{id}`: it is brought in.
pub(in crate::web) async fn bring_in(visit: Visit, Id(id): Id<ImportId>) -> Result {
    let import = import::find(visit.app.db.read(), id).await?;
    match import.state {
        ImportState::Read => Err(Error::Refused("Try the file first, so that you see what will happen.".to_owned())),
        ImportState::Done => see(&visit, &format!("/office/import/{id}"), "It is brought in already."),
        ImportState::Tried => {
            begin(&visit, import, ForReal::Yes);
            see(&visit, &format!("/office/import/{id}"), "The file is being brought in.")
        }
    }
}

/// Whether a run is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum ForReal {
    Yes,
    No,
}

/// Begins the run beside the requests. Pressed twice it runs once.
fn begin(visit: &Visit, import: Import, for_real: ForReal) {
    let Some(progress) = visit.app.imports.begin(import.id.0, import.table.rows.len()) else { return };
    let (app, by) = (visit.app.clone(), visit.by(Door::Office));
    let (country, today) = (visit.settings.country.clone(), visit.today());
    tokio::spawn(async move {
        let id = import.id;
        let work = async {
            let mut write = app.db.write().await?;
            let outcome = import::run(&mut write, &by, &country, today, &import, &progress.done).await?;
            if for_real == ForReal::Yes {
                import::done(&mut write, &by, &import, &outcome).await?;
            } else {
                // what was tried is taken back; only what it would have done is kept
                write.rollback().await?;
                write = app.db.write().await?;
                import::tried(&mut write, id, &outcome).await?;
            }
            write.commit().await.map_err(crate::records::Error::from)
        };
        let why = match work.await {
            Ok(()) => None,
            Err(crate::records::Error::Refused(words)) => Some(words),
            Err(cause) => {
                tracing::error!(import = %id, cause = %cause, "import.failed");
                Some("Something went wrong on our side.".to_owned())
            }
        };
        app.imports.end(id.0, why);
    });
}

/// `GET /office/import/{id}/refused.csv`: the rows that did not go in, each with its reason. What a
/// spreadsheet would take for a formula is defused; brought in again it is what it was.
pub(in crate::web) async fn refused(visit: Visit, Id(id): Id<ImportId>) -> Result {
    let import = import::find(visit.app.db.read(), id).await?;
    let outcome = import.outcome.ok_or(Error::NotFound("list"))?;
    let mut heading: Vec<&str> = import.table.headings.iter().map(String::as_str).collect();
    heading.extend(["Line of the file", "Why not"]);
    let lines: Vec<String> = import.table.rows.iter().map(|row| row.line.to_string()).collect();
    let rows = outcome.refused.iter().filter_map(|(place, why)| {
        let mut cells: Vec<&str> = import.table.rows.get(*place)?.cells.iter().map(String::as_str).collect();
        cells.extend([lines.get(*place)?.as_str(), why.as_str()]);
        Some(cells)
    });
    let csv = export::csv_of_text(std::iter::once(heading).chain(rows))?;
    Ok((csv_headers("refused-rows")?, csv).into_response())
}

/// The headers of a CSV that is saved.
pub(super) fn csv_headers(name: &str) -> Result<[(header::HeaderName, HeaderValue); 2]> {
    let kind = HeaderValue::from_static("text/csv; charset=utf-8; header=present");
    let saved = HeaderValue::from_str(&format!("attachment; filename=\"{name}.csv\"")).map_err(Error::internal)?;
    Ok([(header::CONTENT_TYPE, kind), (header::CONTENT_DISPOSITION, saved)])
}
