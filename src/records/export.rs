//! The shop's lists as CSV, and everything about one customer as JSON (`about`).
//!
//! CSV as RFC 4180 has it, with a byte order mark so that spreadsheets take it for UTF-8. A cell of text that a
//! spreadsheet would take for a formula begins with an apostrophe (CWE-1236); our own import takes it off.

mod about;

use sqlx::SqliteConnection;

use super::column::words;
use super::event::{self, AuditContext};
use super::{Db, Error, Result};
use crate::quantity::{Currency, Instant, Micrometres, Money};

pub use about::about_customer;

/// First characters that make a spreadsheet reckon.
pub const STARTS_A_FORMULA: [char; 11] = ['=', '+', '-', '@', '\t', '\r', '\0', '＝', '＋', '－', '＠'];

words! {
    /// A list of the shop.
    List {
        /// Who.
        Customers = "customers" => "customers",
        /// What.
        Instruments = "instruments" => "instruments",
        /// Each stay.
        Jobs = "jobs" => "jobs",
        /// Money in and back.
        Payments = "payments" => "payments",
        /// What is due when.
        Care = "care" => "yearly care",
    }
}

/// A cell: text is defused, a figure stands as it is.
enum Cell {
    Text(String),
    Figure(String),
}

impl Cell {
    fn written(self) -> String {
        match self {
            Self::Figure(figure) => figure,
            Self::Text(text) if text.starts_with(STARTS_A_FORMULA) => format!("'{text}"),
            Self::Text(text) => text,
        }
    }
}

fn text(cell: impl Into<String>) -> Cell {
    Cell::Text(cell.into())
}

fn figure(cell: impl ToString) -> Cell {
    Cell::Figure(cell.to_string())
}

/// A length as a figure in mm; empty where it is not known.
fn in_mm(micrometres: Option<i64>) -> Cell {
    let said = micrometres.map(|length| Micrometres(length).in_mm()).unwrap_or_default();
    Cell::Figure(said.trim_end_matches(" mm").replace('−', "-"))
}

/// Writes a list as CSV; that it leaves the house is an event, and nobody waits for the books while it is read.
/// `day_of` says the day of a moment in the shop.
///
/// # Errors
/// When the books cannot be read, or it cannot be written down that the list leaves the house.
pub async fn list(
    db: &Db,
    by: &AuditContext,
    list: List,
    currency: &Currency,
    day_of: impl Fn(Instant) -> String,
) -> Result<Vec<u8>> {
    let mut connection = db.read().acquire().await?;
    let (headings, rows) = match list {
        List::Customers => customers(&mut connection).await?,
        List::Instruments => instruments(&mut connection).await?,
        List::Jobs => jobs(&mut connection, day_of).await?,
        List::Payments => payments(&mut connection, currency, day_of).await?,
        List::Care => cares(&mut connection).await?,
    };
    drop(connection);
    let count = rows.len();
    let written = written(headings, rows)?;
    let mut tx = db.write().await?;
    event::write(&mut tx, by, "list exported", "export", uuid::Uuid::nil(), None, Some(&(list, count))).await?;
    tx.commit().await?;
    Ok(written)
}

/// Rows under headings as CSV, every cell as text.
///
/// # Errors
/// Only when memory ends.
pub fn csv_of_text<'a>(rows: impl Iterator<Item = Vec<&'a str>>) -> Result<Vec<u8>> {
    let rows: Vec<Vec<String>> = rows.map(|row| row.into_iter().map(|cell| text(cell).written()).collect()).collect();
    plain_csv(rows.iter().map(|row| row.iter().map(String::as_str).collect()))
}

fn plain_csv<'a>(rows: impl Iterator<Item = Vec<&'a str>>) -> Result<Vec<u8>> {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .flexible(true)
        .from_writer("\u{feff}".as_bytes().to_vec());
    for row in rows {
        writer.write_record(row).map_err(Error::unwritable)?;
    }
    writer.into_inner().map_err(|cause| Error::unwritable(cause.into_error()))
}

fn written(headings: &[&str], rows: Vec<Vec<Cell>>) -> Result<Vec<u8>> {
    let rows: Vec<Vec<String>> = rows.into_iter().map(|row| row.into_iter().map(Cell::written).collect()).collect();
    let heading = std::iter::once(headings.to_vec());
    plain_csv(heading.chain(rows.iter().map(|row| row.iter().map(String::as_str).collect())))
}

type Rows = (&'static [&'static str], Vec<Vec<Cell>>);

async fn customers(connection: &mut SqliteConnection) -> Result<Rows> {
    let rows = sqlx::query!(
        "SELECT name, telephone, email, address, reach_by, reminders_agreed_on, note FROM customer
         WHERE merged_into IS NULL ORDER BY name_folded, created_at"
    )
    .fetch_all(&mut *connection)
    .await?;
    let rows = rows.into_iter().map(|row| {
        vec![
            text(row.name),
            text(row.telephone),
            text(row.email),
            text(row.address),
            text(row.reach_by),
            figure(row.reminders_agreed_on.unwrap_or_default()),
            text(row.note),
        ]
    });
    let headings = &["Name", "Telephone", "E-mail", "Address", "Reached by", "Reminders agreed on", "Note"];
    Ok((headings, rows.collect()))
}

async fn instruments(connection: &mut SqliteConnection) -> Result<Rows> {
    let rows = sqlx::query!(
        r#"SELECT customer.name, customer.telephone, customer.email, family, maker, model, serial, year, finish,
                  scale_um, scale_bass_um, frets, string_set, instrument.note, bridge_kind, screw_pitch_um, post_treble_um,
                  post_bass_um, neck_joint, nut,
                  (SELECT group_concat(coalesce(starts_at_fret, 0), ' ' ORDER BY number) FROM instrument_string
                   WHERE instrument_id = instrument.id HAVING count(starts_at_fret) > 0) AS "starts?: String",
                  (SELECT group_concat(course, ' ' ORDER BY number) FROM instrument_string
                   WHERE instrument_id = instrument.id) AS "courses?: String"
           FROM instrument JOIN customer ON customer.id = instrument.customer_id
           ORDER BY customer.name_folded, maker, model"#
    )
    .fetch_all(&mut *connection)
    .await?;
    let rows = rows.into_iter().map(|row| {
        vec![
            text(row.name),
            text(row.telephone),
            text(row.email),
            text(row.family),
            text(row.maker),
            text(row.model),
            text(row.serial),
            figure(row.year.map(|year| year.to_string()).unwrap_or_default()),
            text(row.finish),
            figure(format!("{}.{:03}", row.scale_um / 1000, row.scale_um % 1000)),
            figure(row.frets),
            text(row.string_set),
            text(row.note),
            text(row.bridge_kind.unwrap_or_default()),
            in_mm(row.screw_pitch_um),
            in_mm(row.post_treble_um),
            in_mm(row.post_bass_um),
            text(row.neck_joint.unwrap_or_default()),
            text(row.nut.unwrap_or_default()),
            in_mm(row.scale_bass_um),
            text(row.starts.unwrap_or_default()),
            text(row.courses.unwrap_or_default()),
        ]
    });
    let headings = &[
        "Owner",
        "Owner telephone",
        "Owner e-mail",
        "Kind",
        "Maker",
        "Model",
        "Serial",
        "Year",
        "Finish",
        "Scale in mm",
        "Frets",
        "String set",
        "Instrument note",
        "Bridge kind",
        "Screw pitch in mm",
        "Treble post in mm",
        "Bass post in mm",
        "Neck joint",
        "Nut",
        "Bass scale in mm",
        "Strings begin at fret",
        "Strings in courses",
    ];
    Ok((headings, rows.collect()))
}

async fn jobs(connection: &mut SqliteConnection, day_of: impl Fn(Instant) -> String) -> Result<Rows> {
    let rows = sqlx::query!(
        r#"SELECT job.number, customer.name, instrument.maker, instrument.model, instrument.serial, job.complaint,
                  job.stage, job.checked_in_at AS "checked_in_at: Instant", job.promised_on,
                  job.stage_since AS "stage_since: Instant", job.rack
           FROM job JOIN customer ON customer.id = job.customer_id JOIN instrument ON instrument.id = job.instrument_id
           ORDER BY job.checked_in_at"#
    )
    .fetch_all(&mut *connection)
    .await?;
    let rows = rows.into_iter().map(|row| {
        vec![
            text(row.number),
            text(row.name),
            text(row.maker),
            text(row.model),
            text(row.serial),
            text(row.complaint),
            text(row.stage),
            figure(day_of(row.checked_in_at)),
            figure(row.promised_on.unwrap_or_default()),
            figure(day_of(row.stage_since)),
            text(row.rack),
        ]
    });
    let headings = &[
        "Job",
        "Customer",
        "Maker",
        "Model",
        "Serial",
        "Complaint",
        "Stage",
        "Checked in",
        "Promised",
        "At this stage since",
        "Rack",
    ];
    Ok((headings, rows.collect()))
}

async fn payments(
    connection: &mut SqliteConnection,
    currency: &Currency,
    day_of: impl Fn(Instant) -> String,
) -> Result<Rows> {
    let rows = sqlx::query!(
        r#"SELECT payment.taken_at AS "taken_at: Instant", job.number, customer.name, payment.kind, payment.method,
                  payment.amount AS "amount: Money", staff.name AS staff, payment.note
           FROM payment JOIN job ON job.id = payment.job_id JOIN customer ON customer.id = job.customer_id
           JOIN staff ON staff.id = payment.staff_id
           ORDER BY payment.taken_at, payment.id"#
    )
    .fetch_all(&mut *connection)
    .await?;
    let rows = rows.into_iter().map(|row| {
        vec![
            figure(day_of(row.taken_at)),
            text(row.number),
            text(row.name),
            text(row.kind),
            text(row.method),
            figure(row.amount.plain(currency)),
            text(currency.code),
            text(row.staff),
            text(row.note),
        ]
    });
    let headings = &["Day", "Job", "Customer", "For", "By", "Amount", "Currency", "Taken by", "Note"];
    Ok((headings, rows.collect()))
}

async fn cares(connection: &mut SqliteConnection) -> Result<Rows> {
    let rows = sqlx::query!(
        "SELECT customer.name, customer.telephone, customer.email, customer.reminders_agreed_on, instrument.maker,
                instrument.model, care_plan.kind, care_plan.every_months, care_plan.last_done_on, care_plan.next_due_on,
                care_plan.paused
         FROM care_plan JOIN instrument ON instrument.id = care_plan.instrument_id
         JOIN customer ON customer.id = instrument.customer_id
         ORDER BY care_plan.next_due_on, customer.name_folded"
    )
    .fetch_all(&mut *connection)
    .await?;
    let rows = rows.into_iter().map(|row| {
        vec![
            text(row.name),
            text(row.telephone),
            text(row.email),
            figure(row.reminders_agreed_on.unwrap_or_default()),
            text(row.maker),
            text(row.model),
            text(row.kind),
            figure(row.every_months),
            figure(row.last_done_on.unwrap_or_default()),
            figure(row.next_due_on),
            text(if row.paused == 0 { "" } else { "paused" }),
        ]
    });
    let headings = &[
        "Customer",
        "Telephone",
        "E-mail",
        "Reminders agreed on",
        "Maker",
        "Model",
        "Care",
        "Every months",
        "Last done",
        "Next due",
        "Paused",
    ];
    Ok((headings, rows.collect()))
}

#[cfg(test)]
mod tests {
    use super::{csv_of_text, figure, text};

    // CWE-1236; OWASP's list of first characters (CSV injection), the full-width ones from memory
    #[test]
    fn a_cell_of_text_never_begins_a_formula_and_a_figure_stays_bare() {
        for (typed, written) in [
            ("=1+1", "'=1+1"),
            ("+44 20 7946 0018", "'+44 20 7946 0018"),
            ("-3", "'-3"),
            ("@SUM(A1)", "'@SUM(A1)"),
            ("\t=x", "'\t=x"),
            ("\r=x", "'\r=x"),
            ("\0=x", "'\0=x"),
            ("＝1", "'＝1"),
            ("＋1", "'＋1"),
            ("－1", "'－1"),
            ("＠x", "'＠x"),
            ("O'Neil", "O'Neil"),
            ("\"=x\"", "\"=x\""),
            ("1-2", "1-2"),
            ("", ""),
        ] {
            assert_eq!(text(typed).written(), written, "{typed:?}");
        }
        assert_eq!(figure("-0.15").written(), "-0.15");
        assert_eq!(figure(-3).written(), "-3");
    }

    // RFC 4180, section 2: rules 1 (CRLF), 6 (what is quoted) and 7 (quotation marks doubled)
    #[test]
    fn lists_are_written_as_rfc_4180_has_it() {
        let rows = [vec!["a", "b,c", "say \"hi\""], vec!["one\ntwo", "one\r\ntwo", " a "], vec!["=1", "", "x"]];
        let written = csv_of_text(rows.into_iter()).unwrap();
        let expected = "\u{feff}a,\"b,c\",\"say \"\"hi\"\"\"\r\n\"one\ntwo\",\"one\r\ntwo\", a \r\n'=1,,x\r\n";
        assert_eq!(String::from_utf8(written).unwrap(), expected);
    }
}
