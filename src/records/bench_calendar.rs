//! The bench calendar: who works how many minutes on which weekday, closed days, absences.

use serde::Serialize;
use time::{Date, Weekday};

use super::column::words;
use super::event::{self, AuditContext};
use super::fold::canonical;
use super::{AbsenceId, ClosedDaysId, Error, Result, StaffId, WriteTx};

/// Days of one stretch, at most.
const LONGEST_STRETCH_DAYS: i64 = 3_650;
/// Letters of a closed day's name, at most.
const LONGEST_NAME: usize = 120;

words! {
    /// Why the shop is closed.
    ClosedWhy {
        /// A public holiday.
        Holiday = "holiday" => "public holiday",
        /// The shop's own wish.
        Closure = "closure" => "closed",
    }
}

/// A person's hours.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Hours {
    /// Bench minutes of each weekday, Monday first.
    pub week_minutes: [u32; 7],
    /// First day; `None` has always been here.
    pub first_day: Option<Date>,
    /// Last day; `None` stays.
    pub last_day: Option<Date>,
}

/// A person of the bench, with the hours that hold on a day.
#[derive(Debug, Clone)]
pub struct Person {
    /// Key.
    pub staff_id: StaffId,
    /// Name.
    pub name: String,
    /// Whether they may still sign in.
    pub is_active: bool,
    /// Which row of the hours this is: what a form says it read. `None` where nobody entered any.
    pub hours_id: Option<i64>,
    /// The hours; `None` where nobody entered any.
    pub hours: Option<Hours>,
}

impl Person {
    /// Minutes of a weekday, before closed days and absences.
    pub fn minutes_on(&self, weekday: Weekday) -> u32 {
        let place = usize::from(weekday.number_days_from_monday());
        self.hours.as_ref().and_then(|hours| hours.week_minutes.get(place)).copied().unwrap_or(0)
    }
}

/// Whoever works at the bench, or ever had hours, with the hours that hold on `day`: by name.
pub async fn people(executor: impl sqlx::SqliteExecutor<'_>, day: Date) -> Result<Vec<Person>> {
    let rows = sqlx::query!(
        r#"SELECT staff.id AS "staff_id: StaffId", staff.name, staff.active AS "is_active: bool", week.id AS "hours_id?",
                  week.monday_minutes AS "monday?: u32", week.tuesday_minutes AS "tuesday?: u32",
                  week.wednesday_minutes AS "wednesday?: u32", week.thursday_minutes AS "thursday?: u32",
                  week.friday_minutes AS "friday?: u32", week.saturday_minutes AS "saturday?: u32",
                  week.sunday_minutes AS "sunday?: u32", week.first_day AS "first_day?: Date",
                  week.last_day AS "last_day?: Date"
           FROM staff LEFT JOIN bench_week AS week ON week.id =
               (SELECT id FROM bench_week WHERE staff_id = staff.id AND from_day <= ?
                ORDER BY from_day DESC, id DESC LIMIT 1)
           WHERE week.id IS NOT NULL OR (staff.active = 1 AND staff.is_bench = 1)
           ORDER BY staff.name_folded"#,
        day,
    )
    .fetch_all(executor)
    .await?;
    let person = rows.into_iter().map(|row| {
        let minutes = [row.monday, row.tuesday, row.wednesday, row.thursday, row.friday, row.saturday, row.sunday];
        Person {
            staff_id: row.staff_id,
            name: row.name,
            is_active: row.is_active,
            hours_id: row.hours_id,
            hours: row.hours_id.map(|_| Hours {
                week_minutes: minutes.map(Option::unwrap_or_default),
                first_day: row.first_day,
                last_day: row.last_day,
            }),
        }
    });
    Ok(person.collect())
}

/// Sets a person's hours from `today` on; what they were before stays for the days before. `read` is the row that the
/// form showed.
///
/// # Errors
/// [`Error::ChangedMeanwhile`] when somebody set other hours in between; refused when a weekday has more than a day has,
/// or the last day comes before the first.
pub async fn set_hours(
    tx: &mut WriteTx,
    by: &AuditContext,
    today: Date,
    staff: StaffId,
    read: Option<i64>,
    hours: &Hours,
) -> Result<()> {
    let person = by.person()?;
    let before = people(&mut **tx, today).await?.into_iter().find(|person| person.staff_id == staff);
    let before = before.ok_or(Error::NotFound("person at the bench"))?;
    if before.hours.as_ref() == Some(hours) {
        return Ok(()); // pressed twice
    }
    if before.hours_id != read {
        return Err(Error::ChangedMeanwhile("person's hours"));
    }
    if hours.week_minutes.iter().any(|minutes| *minutes > 24 * 60) {
        return Err(Error::refused("A day has 24 hours: type at most that."));
    }
    if hours.first_day.zip(hours.last_day).is_some_and(|(first, last)| last < first) {
        return Err(Error::refused("The last day comes before the first: correct one of them."));
    }
    let [monday, tuesday, wednesday, thursday, friday, saturday, sunday] = hours.week_minutes;
    sqlx::query!(
        "INSERT INTO bench_week (staff_id, from_day, monday_minutes, tuesday_minutes, wednesday_minutes,
             thursday_minutes, friday_minutes, saturday_minutes, sunday_minutes, first_day, last_day, set_by, set_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        staff,
        today,
        monday,
        tuesday,
        wednesday,
        thursday,
        friday,
        saturday,
        sunday,
        hours.first_day,
        hours.last_day,
        person,
        by.at,
    )
    .execute(&mut **tx)
    .await?;
    event::write(tx, by, "bench hours set", "staff", staff.0, before.hours.as_ref(), Some(hours)).await
}

/// Days on which nobody works.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct ClosedDays {
    pub id: ClosedDaysId,
    pub first_day: Date,
    pub last_day: Date,
    pub why: ClosedWhy,
    pub name: String,
    pub is_imported: bool,
}

/// Days to close on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct NewClosedDays {
    pub first_day: Date,
    pub last_day: Date,
    pub why: ClosedWhy,
    pub name: String,
    pub is_imported: bool,
}

/// The closed days that end on a day or later, the soonest first.
pub async fn closed_days(executor: impl sqlx::SqliteExecutor<'_>, from: Date) -> Result<Vec<ClosedDays>> {
    Ok(sqlx::query_as!(
        ClosedDays,
        r#"SELECT id AS "id: ClosedDaysId", first_day AS "first_day: Date", last_day AS "last_day: Date",
                  why AS "why: ClosedWhy", name, is_imported AS "is_imported: bool"
           FROM closed_days WHERE taken_back_at IS NULL AND last_day >= ? ORDER BY last_day, first_day, name"#,
        from,
    )
    .fetch_all(executor)
    .await?)
}

/// Closes the shop on days; those that are closed already by the same name are left. Answers how many stretches are new.
///
/// # Errors
/// Refused for a stretch that ends before it begins or lasts ten years, and without a name.
pub async fn close(tx: &mut WriteTx, by: &AuditContext, days: &[NewClosedDays]) -> Result<usize> {
    let person = by.person()?;
    let mut new = 0;
    for entry in days {
        check_stretch(entry.first_day, entry.last_day)?;
        let name: String = canonical(&entry.name).chars().take(LONGEST_NAME).collect();
        if name.is_empty() {
            return Err(Error::refused("Say what the day is called, such as “stocktaking”."));
        }
        let id = ClosedDaysId::new();
        let done = sqlx::query!(
            "INSERT INTO closed_days (id, first_day, last_day, why, name, is_imported, made_by, made_at)
             VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING",
            id,
            entry.first_day,
            entry.last_day,
            entry.why,
            name,
            entry.is_imported,
            person,
            by.at,
        )
        .execute(&mut **tx)
        .await?;
        if done.rows_affected() > 0 {
            new += 1;
            event::write(tx, by, "days closed", "closed_days", id.0, None, Some(entry)).await?;
        }
    }
    Ok(new)
}

/// Takes a closed stretch back. Pressed twice it does nothing.
pub async fn open_again(tx: &mut WriteTx, by: &AuditContext, id: ClosedDaysId) -> Result<()> {
    let before = sqlx::query_as!(
        NewClosedDays,
        r#"UPDATE closed_days SET taken_back_at = ? WHERE id = ? AND taken_back_at IS NULL
           RETURNING first_day AS "first_day: Date", last_day AS "last_day: Date", why AS "why: ClosedWhy", name,
                     is_imported AS "is_imported: bool""#,
        by.at,
        id,
    )
    .fetch_optional(&mut **tx)
    .await?;
    let Some(before) = before else { return Ok(()) };
    event::write(tx, by, "closed days taken back", "closed_days", id.0, Some(&before), None).await
}

/// Days of one person that are not as usual.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name, explained in the migration")]
pub struct Absence {
    pub id: AbsenceId,
    pub staff_id: StaffId,
    pub name: String,
    pub first_day: Date,
    pub last_day: Date,
    pub minutes_left: u32,
}

/// The absences that end on a day or later, the soonest first.
pub async fn absences(executor: impl sqlx::SqliteExecutor<'_>, from: Date) -> Result<Vec<Absence>> {
    Ok(sqlx::query_as!(
        Absence,
        r#"SELECT absence.id AS "id: AbsenceId", absence.staff_id AS "staff_id: StaffId", staff.name,
                  absence.first_day AS "first_day: Date", absence.last_day AS "last_day: Date",
                  absence.minutes_left AS "minutes_left: u32"
           FROM absence JOIN staff ON staff.id = absence.staff_id
           WHERE absence.taken_back_at IS NULL AND absence.last_day >= ?
           ORDER BY absence.last_day, absence.first_day, staff.name_folded"#,
        from,
    )
    .fetch_all(executor)
    .await?)
}

/// Writes down that somebody is away; the same days twice are written once.
///
/// # Errors
/// Refused for a stretch that ends before it begins or lasts ten years, and for more minutes than a day has.
pub async fn be_absent(
    tx: &mut WriteTx,
    by: &AuditContext,
    staff: StaffId,
    (first_day, last_day): (Date, Date),
    minutes_left: u32,
) -> Result<()> {
    let person = by.person()?;
    check_stretch(first_day, last_day)?;
    if minutes_left > 24 * 60 {
        return Err(Error::refused("A day has 24 hours: type at most that."));
    }
    let id = AbsenceId::new();
    let done = sqlx::query!(
        "INSERT INTO absence (id, staff_id, first_day, last_day, minutes_left, made_by, made_at)
         VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING",
        id,
        staff,
        first_day,
        last_day,
        minutes_left,
        person,
        by.at,
    )
    .execute(&mut **tx)
    .await?;
    if done.rows_affected() == 0 {
        return Ok(());
    }
    let after = (staff, first_day, last_day, minutes_left);
    event::write(tx, by, "absence written down", "staff", staff.0, None, Some(&after)).await
}

/// Takes an absence back. Pressed twice it does nothing.
pub async fn be_back(tx: &mut WriteTx, by: &AuditContext, id: AbsenceId) -> Result<()> {
    let before = sqlx::query!(
        r#"UPDATE absence SET taken_back_at = ? WHERE id = ? AND taken_back_at IS NULL
           RETURNING staff_id AS "staff_id: StaffId", first_day AS "first_day: Date", last_day AS "last_day: Date",
                     minutes_left"#,
        by.at,
        id,
    )
    .fetch_optional(&mut **tx)
    .await?;
    let Some(before) = before else { return Ok(()) };
    let said = (before.staff_id, before.first_day, before.last_day, before.minutes_left);
    event::write(tx, by, "absence taken back", "staff", before.staff_id.0, Some(&said), None).await
}

fn check_stretch(first_day: Date, last_day: Date) -> Result<()> {
    match (last_day - first_day).whole_days() {
        ..0 => Err(Error::refused("The last day comes before the first: correct one of them.")),
        0..LONGEST_STRETCH_DAYS => Ok(()),
        _ => Err(Error::refused("That is more than ten years: correct the last day.")),
    }
}

/// Everything that says who works when from a day on.
#[derive(Debug, Clone)]
pub struct Calendar {
    /// Whoever works at the bench.
    pub people: Vec<Person>,
    /// Days on which nobody does.
    pub closed: Vec<ClosedDays>,
    /// Days on which one does not, or less.
    pub absences: Vec<Absence>,
}

/// The calendar as it stands, with what ends on `from` or later: three statements.
pub async fn calendar(connection: &mut sqlx::SqliteConnection, today: Date, from: Date) -> Result<Calendar> {
    Ok(Calendar {
        people: people(&mut *connection, today).await?,
        closed: closed_days(&mut *connection, from).await?,
        absences: absences(&mut *connection, from).await?,
    })
}
