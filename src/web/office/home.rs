//! `/office`: the owner's evening on one sheet: what tomorrow begins with, what is in danger, what stands still, who is
//! to be told, who owes, what is to be ordered, and whether the books are safe. Each line leads to where it is mended.

use std::path::PathBuf;

use askama::Template;
use time::Duration;

use super::queue::view::{self, Danger, Forecasts, Still, View};
use crate::forecast::queue::{Place, Reason};
use crate::quantity::{Money, with_weekday};
use crate::records::account::Owing;
use crate::records::backup::{self, Backup, BackupError};
use crate::records::first_hour::{self, Step};
use crate::records::queue::QueueRow;
use crate::records::stage::{Stage, is_late};
use crate::records::telling::ToTell;
use crate::records::{account, care, part, queue, telling};
use crate::web::outlook::{self, Outlook, reason};
use crate::web::page::{Layout, RequestContext, page};
use crate::web::telling_view::TellingView;
use crate::web::words::{Promise, instrument_title};
use crate::web::{Error, Result};

/// Care that is counted, at most.
const MOST_CARE: i64 = 200;
/// Days ahead in which care is due soon.
const CARE_DAYS: i64 = 45;
/// What tomorrow begins with.
const FIRST: usize = 5;
/// Lines of one list; the others are counted below it.
const MOST: usize = 8;
/// A copy that is older was not made last night.
const OLDEST_COPY_US: i64 = 26 * 3_600_000_000;

#[derive(Template)]
#[template(path = "office/home.html")]
struct OfficeHome {
    layout: Layout,
    today: String,
    open: usize,
    late: usize,
    /// Jobs that wait for something, an answer or another job.
    standing: usize,
    ready: usize,
    /// How much care is due, or that it is more than anybody writes letters for.
    care_due: String,
    oldest: Option<(String, String, i64)>,
    /// The day the bench goes on.
    first_heading: String,
    first: Lines,
    danger: Lines,
    blocked: Lines,
    /// What nobody has entered, so that days are not sure: the queue says what.
    missing: usize,
    tell: Lines,
    owing: Lines,
    owed_now: String,
    low: Lines,
    /// The copies of the books, folder by folder; none where nobody gave a folder.
    copies: Vec<Line>,
    /// Customers cannot open their page from home: the shop has no address that leads here.
    is_unreachable: bool,
    /// A step of the first hour is still to be done.
    is_first_hour: bool,
}

/// Lines of one list, and how many more there are.
struct Lines {
    lines: Vec<Line>,
    more: usize,
}

/// One line: where it is mended, what it is called, and what is to be said of it.
struct Line {
    href: String,
    name: String,
    words: String,
    /// It cannot wait.
    is_urgent: bool,
}

impl Lines {
    fn of(lines: impl Iterator<Item = Line>, most: usize) -> Self {
        let all: Vec<Line> = lines.collect();
        let more = all.len().saturating_sub(most);
        Self { lines: all.into_iter().take(most).collect(), more }
    }
}

/// `GET /office`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    let reading = context.app.db.read();
    let today = context.today();
    let open = queue::open_jobs(reading).await?;
    let care = care::due_until(reading, today + Duration::days(CARE_DAYS), None, MOST_CARE).await?;
    let mut connection = reading.acquire().await.map_err(crate::records::Error::from)?;
    let to_tell = telling::to_tell(&mut connection, today, |at| context.app.clock.local_date(at)).await?;
    drop(connection);
    let owing = account::owing(reading).await?;
    let parts = part::all(reading).await?;
    let outlook = outlook::read(&context.app, &context.settings).await?;
    let forecasts = Forecasts(outlook::as_it_stands(&context.app, &context.settings, &outlook).await?);
    let shown = View::new(&outlook, &forecasts);
    let still = shown.still();
    let oldest = open.iter().min_by_key(|row| row.checked_in_at);
    let late = |row: &&QueueRow| is_late(row.stage, row.promised_on, today);
    page(&OfficeHome {
        layout: context.layout(),
        today: with_weekday(today),
        late: open.iter().filter(late).count(),
        ready: open.iter().filter(|row| row.stage == Stage::Ready).count(),
        oldest: oldest
            .map(|row| (format!("/desk/jobs/{}", row.id), row.number.clone(), context.days_since(row.checked_in_at))),
        care_due: match i64::try_from(care.len()) {
            Ok(..MOST_CARE) => care.len().to_string(),
            _ => format!("{MOST_CARE} or more"),
        },
        first_heading: first_heading(&outlook),
        first: first(&outlook),
        danger: danger(shown.danger()),
        standing: still.len(),
        blocked: blocked(still),
        missing: view::missing(&outlook).len(),
        tell: tell(&to_tell, &context),
        owed_now: context.money(Money(owing.iter().filter(|owing| owing.is_due()).map(|owing| owing.owed.0).sum())),
        owing: owing_lines(&owing, &context),
        low: low(&parts),
        copies: copies(&context).await?,
        is_unreachable: context.public_address().is_none(),
        is_first_hour: first_hour::done(reading).await?.len() < Step::ALL.len(),
        open: open.len(),
    })
}

/// The newest copy in each folder that the shop is copied to.
async fn copies(context: &RequestContext) -> Result<Vec<Line>> {
    let folders = context.app.serving.backup_to.clone();
    let newest = move || folders.into_iter().map(|folder| (backup::find(&folder), folder)).collect::<Vec<_>>();
    let found = tokio::task::spawn_blocking(newest).await.map_err(Error::internal)?;
    let line = |(newest, folder): (std::result::Result<Backup, BackupError>, PathBuf)| {
        let (words, is_urgent) = match newest {
            Ok(newest) => {
                let manifest = newest.manifest;
                let is_old = context.now().0 - manifest.made_at.0 > OLDEST_COPY_US;
                let faults = match manifest.faults.len() {
                    0 => String::new(),
                    1 => ", without one photograph".to_owned(),
                    many => format!(", without {many} photographs"),
                };
                let old = if is_old { ", older than a day" } else { "" };
                (format!("{}{faults}{old}", context.moment(manifest.made_at)), is_old || !manifest.faults.is_empty())
            }
            Err(BackupError::NoBackup(_)) => ("no copy yet".to_owned(), true),
            Err(cause) => (cause.to_string(), true),
        };
        Line { href: String::new(), name: folder.display().to_string(), words, is_urgent }
    };
    Ok(found.into_iter().map(line).collect())
}

/// The day on which somebody works next: a Sunday's first five would be nobody's.
fn first_heading(outlook: &Outlook) -> String {
    match outlook.next_working_day() {
        Some(day) if day == outlook.today + Duration::days(1) => "Tomorrow’s first five".to_owned(),
        Some(day) => format!("The first five of {}", with_weekday(day)),
        None => "Next, once somebody works".to_owned(),
    }
}

/// What can be gone on with, in the order of the queue.
fn first(outlook: &Outlook) -> Lines {
    let line = |place: &Place| {
        let row = &outlook.entry(place.job)?.row;
        let can_begin = !matches!(place.reason, Reason::Waits { .. } | Reason::WaitsForJob(_));
        // what was measured goes on at the desk: somebody quotes it
        let (door, next) = match row.stage {
            Stage::Measured => ("desk", ", to be quoted"),
            _ => ("bench", ""),
        };
        let promise = Promise::as_of(row.stage, row.promised_on, outlook.today);
        can_begin.then(|| Line {
            href: format!("/{door}/jobs/{}", row.id),
            name: format!("{} {}", row.number, instrument_title(row.family, &row.maker, &row.model)),
            words: match place.reason {
                Reason::Promise { .. } => format!("{}{next}; {}", row.stage, promise.sentence()),
                _ => format!("{}{next}; {}. {}", row.stage, promise.sentence(), reason(outlook, place)),
            },
            is_urgent: promise.is_late,
        })
    };
    let mut lines = Lines::of(outlook.queue.places.iter().filter_map(line), FIRST);
    lines.more = 0;
    lines
}

/// The promises that are broken or likely to be.
fn danger(danger: Vec<Danger>) -> Lines {
    let line = |row: Danger| Line {
        words: format!("{}; {}; {}", row.promise.sentence(), row.chance, row.telephone),
        is_urgent: row.promise.is_late,
        name: format!("{} {}", row.number, row.customer),
        href: row.href,
    };
    Lines::of(danger.into_iter().map(line), MOST)
}

/// What stands still, for whom and since when.
fn blocked(still: Vec<Still>) -> Lines {
    let line = |row: Still| Line {
        name: format!("{} {}", row.number, row.instrument),
        words: match row.since.as_str() {
            "" => format!("for {}; {}", row.what.trim_end_matches('.'), row.who),
            since => format!("for {}, {since}; {}", row.what.trim_end_matches('.'), row.who),
        },
        is_urgent: false,
        href: row.href,
    };
    Lines::of(still.into_iter().map(line), MOST)
}

/// Who is to be told something, and what.
fn tell(to_tell: &[ToTell], context: &RequestContext) -> Lines {
    let line = |line: &ToTell| {
        let TellingView { href, name, words, is_urgent, .. } = TellingView::of(context, line);
        let words = format!("{words}; {}", line.person.telephone);
        Line { href, name: format!("{name} {}", line.person.name), words, is_urgent }
    };
    Lines::of(to_tell.iter().filter(|line| line.is_due(context.today())).map(line), MOST)
}

/// Who owes now; what is owed once a job is ready is no debt yet.
fn owing_lines(owing: &[Owing], context: &RequestContext) -> Lines {
    let line = |owing: &Owing| Line {
        href: format!("/desk/jobs/{}/hand-over", owing.job_id),
        name: format!("{} {}", owing.number, owing.customer),
        words: format!("{}, {}", context.money(owing.owed), owing.stage),
        is_urgent: !owing.stage.is_open(),
    };
    Lines::of(owing.iter().filter(|owing| owing.is_due()).map(line), MOST)
}

fn low(parts: &[part::Part]) -> Lines {
    let line = |part: &part::Part| Line {
        href: format!("/office/parts/{}", part.id),
        name: part.name.clone(),
        words: format!("{} there", part.on_hand_words()),
        is_urgent: part.is_miscounted(),
    };
    Lines::of(parts.iter().filter(|part| part.is_low()).map(line), MOST)
}
