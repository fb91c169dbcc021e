//! Why a job stands where it stands, in words.

use super::Outlook;
use crate::forecast::queue::{Place, Reason};
use crate::records::queue_move::QueuePlace;
use crate::records::stage::WaitingFor;

/// "2 h 30 min", "45 min"; whole hours from ten on.
pub(in crate::web) fn hours(minutes: f64) -> String {
    // nothing is never said as −0
    let whole = minutes.round().max(0.0);
    let (hours, rest) = ((whole / 60.0).floor(), whole % 60.0);
    if hours < 1.0 {
        format!("{rest:.0} min")
    } else if hours >= 10.0 {
        format!("{:.0} h", whole / 60.0)
    } else if rest < 1.0 {
        format!("{hours:.0} h")
    } else {
        format!("{hours:.0} h {rest:.0} min")
    }
}

/// Why a job stands at its place.
pub(in crate::web) fn reason(outlook: &Outlook, place: &Place) -> String {
    let entry = outlook.entry(place.job);
    let number = |job: usize| outlook.entry(job).map_or("another job", |entry| entry.row.number.as_str());
    match place.reason {
        Reason::InHand => "On the bench now.".to_owned(),
        Reason::ByHand => by_hand(outlook, place.job).unwrap_or_else(|| "Put here by hand.".to_owned()),
        Reason::Promise { days_left } => format!("Promised {}.", when(days_left)),
        Reason::Age { days, days_left } => {
            format!("No promise; here for {}, as long as is usual {}.", count(days, "day"), when(days_left))
        }
        Reason::Frees { jobs, days_left } => {
            let waiting = if jobs == 1 { "One job waits".to_owned() } else { format!("{jobs} jobs wait") };
            format!("{waiting} for it, promised {}.", when(days_left))
        }
        Reason::GoesBetween { minutes, jobs } => {
            let before = if jobs == 1 { "one job".to_owned() } else { format!("{jobs} jobs") };
            format!("Only {}: goes before {before}, and nothing becomes late by it.", hours(minutes))
        }
        Reason::Waits { days, .. } => {
            let what =
                entry.and_then(|entry| entry.row.waiting_for).map_or("an answer to the quote", WaitingFor::spoken);
            let waits = format!("Waits for {what}, {}.", since(days));
            // what somebody said of its place is read all the same
            match by_hand(outlook, place.job) {
                Some(moved) => format!("{waits} {moved}"),
                None => waits,
            }
        }
        Reason::WaitsForJob(before) => {
            let why = entry.and_then(|entry| outlook.move_of(entry.row.id)).map(|moved| moved.reason.as_str());
            format!("Not begun before {} is done: {}", number(before), why.unwrap_or("it waits for it"))
        }
    }
}

/// Where somebody put a job, who, and why.
fn by_hand(outlook: &Outlook, job: usize) -> Option<String> {
    let moved = outlook.move_of(outlook.entry(job)?.row.id)?;
    let beside = outlook.entries.iter().find(|other| Some(other.row.id) == moved.beside_job_id);
    let where_to = match (moved.place, beside) {
        (QueuePlace::First, _) | (_, None) => "in front".to_owned(),
        (place, Some(beside)) => format!("{} {}", place.spoken(), beside.row.number),
    };
    Some(format!("Put {where_to} by {}: {}", moved.who, moved.reason))
}

fn when(days_left: i64) -> String {
    match days_left {
        0 => "for today".to_owned(),
        1 => "for tomorrow".to_owned(),
        -1 => "for yesterday".to_owned(),
        2.. => format!("in {days_left} days"),
        ..0 => format!("{} days ago", -days_left),
    }
}

fn since(days: i64) -> String {
    if days == 0 { "since today".to_owned() } else { format!("for {}", count(days, "day")) }
}

/// "1 day", "3 days".
pub(in crate::web) fn count(number: i64, what: &str) -> String {
    if number == 1 { format!("1 {what}") } else { format!("{number} {what}s") }
}

#[cfg(test)]
mod tests {
    use super::{hours, since, when};

    #[test]
    fn minutes_and_days_are_said_as_people_say_them() {
        for (minutes, words) in [
            (0.0, "0 min"),
            (45.4, "45 min"),
            (60.0, "1 h"),
            (150.0, "2 h 30 min"),
            (119.8, "2 h"),
            (30_300.0, "505 h"),
        ] {
            assert_eq!(hours(minutes), words);
        }
        for (days, words) in [(0, "for today"), (1, "for tomorrow"), (5, "in 5 days"), (-3, "3 days ago")] {
            assert_eq!(when(days), words);
        }
        assert_eq!((since(0), since(1)), ("since today".to_owned(), "for 1 day".to_owned()));
    }
}
