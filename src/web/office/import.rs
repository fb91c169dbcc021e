//! `/office/import`: customers and instruments from a file: brought, its columns named, tried, brought in.
//!
//! A try is the run itself, on a copy of the shop's file. Both go on beside the requests; the page says how far they are.

use std::sync::Arc;

use askama::Template;
use axum::extract::Multipart;
use axum::extract::multipart::MultipartRejection;
use axum::http::{HeaderValue, header};
use axum::response::IntoResponse;

use crate::records::family::Family;
use crate::records::fold::folded;
use crate::records::import::{
    self, AGREED_TODAY, Column, Earlier, Import, ImportState, KEPT_DAYS, MOST_ROWS, Meanings, NOT_AGREED, Outcome,
    Table, Word,
};
use crate::records::{Door, ImportId, export};
use crate::web::app::App;
use crate::web::form::{Choice, FormData, Id};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::progress::Progress;
use crate::web::upload::Upload;
use crate::web::{Error, Result, unsent};

/// Bytes of a file, at most.
pub(in crate::web) const LARGEST_FILE: usize = 8 * 1024 * 1024;
/// What the form of the page may carry.
const FILE: Upload = Upload {
    field: "file",
    most_files: 1,
    too_many: "One file goes in one form.",
    largest_file: LARGEST_FILE,
    broken: "The file is larger than 8 MB, or it did not arrive whole.",
};
/// Rows shown to recognise the columns by, and refused rows shown with their reasons.
const FEW: usize = 5;
/// Words that are given a meaning in one form.
const MOST_SAID: usize = 200;
const REFUSED_SHOWN: usize = 20;

#[derive(Template)]
#[template(path = "office/import.html")]
struct ImportPage {
    layout: Layout,
    form: FormData,
    earlier: Vec<(Earlier, String)>,
}

impl ImportPage {
    fn most_rows(&self) -> usize {
        MOST_ROWS
    }
    fn kept_days(&self) -> i64 {
        KEPT_DAYS
    }
}

#[derive(Template)]
#[template(path = "office/import_file.html")]
struct FilePage {
    layout: Layout,
    form: FormData,
    import: Import,
    failure: Option<String>,
    /// Rows that are in the books or refused, where it was begun and something came in between.
    rows_done: Option<usize>,
    columns: Vec<ColumnView>,
    refused: Vec<(u64, String, String)>,
    /// Words of the file and what they mean here.
    words: Vec<WordView>,
    left_out: Vec<(u64, String)>,
    /// The day it was thrown away.
    thrown_away: Option<String>,
}

/// While it is at work: how far, and nothing else, so that looking costs next to nothing.
#[derive(Template)]
#[template(path = "office/import_running.html")]
struct RunningPage {
    layout: Layout,
    file_name: String,
    is_try: bool,
    done: usize,
    total: usize,
}

/// A column with its heading, and what stands in its first rows.
struct ColumnView {
    field: String,
    heading: String,
    first: String,
}

/// A word of the file with its field.
struct WordView {
    field: String,
    column_field: String,
    word_field: String,
    word: Word,
    choices: Vec<Choice>,
}

/// What a word of a column can mean.
fn choices_of(column: Column) -> Vec<Choice> {
    if column == Column::Family {
        return Family::ALL.iter().map(|family| Choice::new(family.key(), family.spoken())).collect();
    }
    vec![
        Choice::new(NOT_AGREED, "reminders are not agreed to"),
        Choice::new(AGREED_TODAY, "agreed to, from the day it is brought in"),
    ]
}

/// What was said of the words on the page.
fn said(form: &FormData) -> Meanings {
    let mut said = Meanings::new();
    for place in 0..MOST_SAID {
        let word = folded(form.value(&format!("word_{place}")));
        let meant = form.value(&format!("meant_{place}"));
        if !word.is_empty() && !meant.is_empty() {
            said.entry(form.value(&format!("word_column_{place}")).to_owned())
                .or_default()
                .insert(word, meant.to_owned());
        }
    }
    said
}

impl FilePage {
    fn choices(&self) -> &'static [Column] {
        Column::ALL
    }
    fn is_done(&self) -> bool {
        self.import.state == ImportState::Done
    }
    fn kept_days(&self) -> i64 {
        KEPT_DAYS
    }
    fn outcome(&self) -> Option<&Outcome> {
        self.import.outcome.as_ref()
    }
}

async fn import_page(context: &RequestContext, form: FormData) -> Result<ImportPage> {
    let earlier = import::latest(context.app.db.read(), 10).await?;
    let earlier =
        earlier.into_iter().map(|earlier| (context.moment(earlier.made_at), earlier)).map(|(at, it)| (it, at));
    Ok(ImportPage { layout: context.layout(), form, earlier: earlier.collect() })
}

/// `GET /office/import`; files whose time has come are thrown away first.
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    let due = import::to_throw_away(context.app.db.read(), context.now()).await?;
    let due: Vec<ImportId> = due.into_iter().filter(|id| context.app.imports.how_far(id.0).is_none()).collect();
    if !due.is_empty() {
        let mut tx = context.app.db.write().await?;
        for id in due {
            import::throw_away(&mut tx, &context.audit(Door::House), id).await?;
        }
        tx.commit().await?;
    }
    page(&import_page(&context, FormData::new()).await?)
}

/// `POST /office/import`: the file itself.
pub(in crate::web) async fn bring(
    context: RequestContext,
    parts: std::result::Result<Multipart, MultipartRejection>,
) -> Result {
    let (mut form, files) = FILE.receive(parts).await?;
    let (table, name) = match files.into_iter().next() {
        None => (Err("Choose a file first.".to_owned()), String::new()),
        Some(file) => (table_from_file(&file.name, file.bytes).await, file.name),
    };
    let table = match table {
        Ok(table) => table,
        Err(why) => {
            form.add_error("file", why);
            return page_with(form.status(), &import_page(&context, form).await?);
        }
    };
    let mut tx = context.app.db.write().await?;
    let id = import::keep(&mut tx, &context.audit(Door::Office), form.required_key()?, &name, &table).await?;
    tx.commit().await?;
    redirect_with_flash(&context, &format!("/office/import/{id}"), "The file is here. Nothing is brought in yet.")
}

/// Reads a file beside the requests: a large one takes a moment.
async fn table_from_file(name: &str, bytes: Vec<u8>) -> std::result::Result<Table, String> {
    let is_cards = name.to_lowercase().ends_with(".vcf") || bytes.starts_with(b"BEGIN:VCARD");
    let reading = move || match () {
        () if is_cards => import::cards(&bytes),
        () if import::is_spreadsheet(&bytes) => import::sheet(&bytes),
        () => Table::from_csv(&bytes),
    };
    tokio::task::spawn_blocking(reading).await.unwrap_or_else(|_| Err("The file could not be read.".to_owned()))
}

fn column_field(place: usize) -> String {
    format!("column_{place}")
}

async fn file_page(context: &RequestContext, id: ImportId, form: FormData) -> Result<FilePage> {
    let import = import::find(context.app.db.read(), id).await?;
    let named = import.columns.iter().enumerate();
    let named = named.fold(FormData::default(), |form, (place, column)| form.with(&column_field(place), column.key()));
    let form = named.overlaid_with(form);
    let columns = import.table.headings.iter().enumerate().map(|(place, heading)| {
        let first = import.table.rows.iter().take(FEW).filter_map(|row| row.cells.get(place));
        let first: Vec<String> = first.map(|cell| cell.chars().take(40).collect()).collect();
        ColumnView {
            heading: heading.clone(),
            first: first.into_iter().filter(|cell| !cell.is_empty()).collect::<Vec<_>>().join(" · "),
            field: column_field(place),
        }
    });
    let columns = columns.collect();
    let words = import::words_of(&import.table, &import.columns, &import.meanings);
    let mut form = form;
    let words: Vec<WordView> = (0..)
        .zip(words)
        .map(|(place, word)| WordView {
            field: format!("meant_{place}"),
            column_field: format!("word_column_{place}"),
            word_field: format!("word_{place}"),
            choices: choices_of(word.column),
            word,
        })
        .collect();
    for view in &words {
        if !form.has(&view.field) {
            form.set(&view.field, view.word.meant.as_str());
        }
    }
    let left_out = import.outcome.iter().flat_map(|outcome| outcome.left_out.clone()).take(REFUSED_SHOWN).collect();
    let refused = import.outcome.iter().flat_map(|outcome| &outcome.refused).take(REFUSED_SHOWN);
    let refused = refused
        .filter_map(|(place, why)| {
            let row = import.table.rows.get(*place)?;
            Some((row.line, why.clone(), row.cells.join(", ").chars().take(80).collect()))
        })
        .collect();
    Ok(FilePage {
        layout: context.layout(),
        failure: context.app.imports.failure(id.0),
        rows_done: import::rows_done(context.app.db.read(), id).await?,
        thrown_away: import.emptied_at.map(|at| context.day_of(at)),
        form,
        columns,
        refused,
        words,
        left_out,
        import,
    })
}

/// `GET /office/import/{id}`
pub(in crate::web) async fn file(context: RequestContext, Id(id): Id<ImportId>) -> Result {
    if let Some((done, total)) = context.app.imports.how_far(id.0) {
        let (file_name, state) = import::head(context.app.db.read(), id).await?;
        let is_try = state == ImportState::Read;
        return page(&RunningPage { layout: context.layout(), file_name, is_try, done, total });
    }
    let typed = unsent::brought_back(&context, &format!("/office/import/{id}/columns"), FormData::new()).await?;
    page(&file_page(&context, id, typed).await?)
}

/// `POST /office/import/{id}/columns`: the columns are named, and the file is tried.
pub(in crate::web) async fn columns(context: RequestContext, Id(id): Id<ImportId>, mut form: FormData) -> Result {
    let import = import::find(context.app.db.read(), id).await?;
    let named: Vec<Column> = (0..import.table.headings.len())
        .map(|place| form.value(&column_field(place)).parse().unwrap_or(Column::Nothing))
        .collect();
    let mut tx = context.app.db.write().await?;
    let meanings = said(&form);
    let taken = import::name_columns(&mut tx, id, &named, &meanings).await;
    if form.accept("column_0", taken)?.is_none() {
        drop(tx);
        return page_with(form.status(), &file_page(&context, id, form).await?);
    }
    unsent::sent(&mut tx, &context.audit(Door::Office), &format!("/office/import/{id}/columns"), &form).await?;
    tx.commit().await?;
    let (by, country) = (context.audit(Door::Office), context.settings.country.clone());
    let import = Import { columns: named, meanings, state: ImportState::Read, ..import };
    beside(&context.app, import, move |app, import, progress| async move {
        let day_of = |at| app.clock.local_date(at);
        import::try_out(&app.db, &by, &country, day_of, &import, &progress.done).await
    });
    redirect_with_flash(&context, &format!("/office/import/{id}"), "The file is being tried. Nothing is written.")
}

/// `POST /office/import/{id}`: it is brought in, or goes on where it was.
pub(in crate::web) async fn bring_in(context: RequestContext, Id(id): Id<ImportId>) -> Result {
    let import = import::find(context.app.db.read(), id).await?;
    match import.state {
        _ if import.emptied_at.is_some() => Err(Error::Refused("This file was thrown away.".to_owned())),
        ImportState::Read => Err(Error::Refused("Try the file first, so that you see what will happen.".to_owned())),
        ImportState::Done => {
            redirect_with_flash(&context, &format!("/office/import/{id}"), "It is brought in already.")
        }
        ImportState::Tried => {
            let mut tx = context.app.db.write().await?;
            import::begin(&mut tx, &context.audit(Door::Office), id).await?;
            tx.commit().await?;
            let country = context.settings.country.clone();
            beside(&context.app, import, move |app, import, progress| async move {
                let day_of = |at| app.clock.local_date(at);
                import::bring_in(&app.db, &country, day_of, &import, &progress.done).await
            });
            redirect_with_flash(&context, &format!("/office/import/{id}"), "The file is being brought in.")
        }
    }
}

/// Goes on with files that were being brought in when the program ended.
///
/// # Errors
/// When the books cannot be read.
pub async fn go_on_with_imports(app: &App) -> Result<()> {
    let country = app.settings.current(&app.db).await?.country.clone();
    for id in import::unfinished(app.db.read()).await? {
        let (import, country) = (import::find(app.db.read(), id).await?, country.clone());
        beside(app, import, move |app, import, progress| async move {
            let day_of = |at| app.clock.local_date(at);
            import::bring_in(&app.db, &country, day_of, &import, &progress.done).await
        });
    }
    Ok(())
}

/// Does some work on a file beside the requests. Pressed twice it is done once.
fn beside<F: Future<Output = crate::records::Result<()>> + Send>(
    app: &App,
    import: Import,
    work: impl FnOnce(App, Import, Arc<Progress>) -> F + Send + 'static,
) {
    let id = import.id;
    let Some(progress) = app.imports.begin(id.0, import.table.rows.len()) else { return };
    let app = app.clone();
    tokio::spawn(async move {
        let why = match work(app.clone(), import, progress).await {
            Ok(()) => None,
            Err(crate::records::Error::Refused(words)) => Some(words),
            Err(cause) => {
                tracing::error!(import = %id, cause = %cause, "import.failed");
                Some(match Error::from(cause) {
                    Error::DiskFull => "The disk is full: make room, and press again.".to_owned(),
                    _ => "Something went wrong on our side.".to_owned(),
                })
            }
        };
        app.imports.end(id.0, why);
    });
}

/// `POST /office/import/{id}/throw-away`: the file and what became of its rows go; what was brought in stays.
pub(in crate::web) async fn throw_away(context: RequestContext, Id(id): Id<ImportId>) -> Result {
    if context.app.imports.how_far(id.0).is_some() {
        return Err(Error::Refused("The file is being worked on. Wait until that is over.".to_owned()));
    }
    let mut tx = context.app.db.write().await?;
    import::throw_away(&mut tx, &context.audit(Door::Office), id).await?;
    tx.commit().await?;
    redirect_with_flash(&context, "/office/import", "The file is thrown away. What was brought in stays.")
}

/// `POST /office/import/{id}/refused.csv`: the rows that did not go in, as they came, each with its reason. A post,
/// because once they are saved elsewhere the file goes.
pub(in crate::web) async fn refused(context: RequestContext, Id(id): Id<ImportId>) -> Result {
    let import = import::find(context.app.db.read(), id).await?;
    let outcome = import.outcome.ok_or(Error::NotFound("list"))?;
    let mut tx = context.app.db.write().await?;
    import::refused_saved(&mut tx, &context.audit(Door::Office), id).await?;
    tx.commit().await?;
    // a row may be wider than the headings, or end early: line and reason stand under their headings all the same
    let rows = outcome.refused.iter().filter_map(|(place, _)| import.table.rows.get(*place));
    let width = rows.map(|row| row.cells.len()).max().unwrap_or(0).max(import.table.headings.len());
    let mut heading = padded(&import.table.headings, width);
    heading.extend(["Line of the file", "Why not"]);
    let lines: Vec<String> = import.table.rows.iter().map(|row| row.line.to_string()).collect();
    let rows = outcome.refused.iter().filter_map(|(place, why)| {
        let mut cells = padded(&import.table.rows.get(*place)?.cells, width);
        cells.extend([lines.get(*place)?.as_str(), why.as_str()]);
        Some(cells)
    });
    let csv = export::csv_of_text(std::iter::once(heading).chain(rows))?;
    Ok((csv_headers("refused-rows")?, csv).into_response())
}

/// Cells as a row of one width.
fn padded(cells: &[String], width: usize) -> Vec<&str> {
    cells.iter().map(String::as_str).chain(std::iter::repeat("")).take(width).collect()
}

/// The headers of a CSV that is saved.
pub(super) fn csv_headers(name: &str) -> Result<[(header::HeaderName, HeaderValue); 2]> {
    let kind = HeaderValue::from_static("text/csv; charset=utf-8; header=present");
    let saved = HeaderValue::from_str(&format!("attachment; filename=\"{name}.csv\"")).map_err(Error::internal)?;
    Ok([(header::CONTENT_TYPE, kind), (header::CONTENT_DISPOSITION, saved)])
}
