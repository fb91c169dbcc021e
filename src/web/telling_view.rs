//! A line of who is to be told what, as the desk, the owner's evening and messages say it.

use super::outbox::written::of_line;
use super::page::RequestContext;
use super::words::dial;
use crate::quantity::with_weekday;
use crate::records::customer::ReachBy;
use crate::records::telling::{Last, Matter, ToTell};

/// One line.
pub(super) struct TellingView {
    /// What a form sends of it.
    pub subject: String,
    /// Where it is mended.
    pub href: String,
    /// The job's number, or for care the instrument.
    pub name: String,
    pub instrument: String,
    /// What they are to be told.
    pub words: String,
    /// What was said last.
    pub last: Option<String>,
    /// The paper that says it, where there is one.
    pub letter: Option<String>,
    /// When it is due again.
    pub due: String,
    /// A day that they know is wrong.
    pub is_urgent: bool,
    /// A message of the house says it.
    is_written: bool,
}

/// Whom the lines are about.
pub(super) struct PersonView {
    pub id: String,
    pub name: String,
    pub telephone: String,
    pub dial: Option<String>,
    pub email: String,
    pub reach_by: ReachBy,
    /// What was dialled last was somebody else's number.
    pub wrong_number: Option<String>,
    pub lines: Vec<TellingView>,
}

impl PersonView {
    /// Whether a message can say any of it.
    pub(super) fn can_be_written(&self) -> bool {
        self.lines.iter().any(|line| line.is_written)
    }
}

/// The lines person by person, in the order of the most pressing of each.
pub(super) fn by_person<'a>(context: &RequestContext, lines: impl Iterator<Item = &'a ToTell>) -> Vec<PersonView> {
    let mut people: Vec<PersonView> = Vec::new();
    for line in lines {
        let id = line.person.id.to_string();
        let wrong = line.last.as_ref().filter(|last| last.is_wrong_number).map(|last| context.day_of(last.at));
        let view = TellingView::of(context, line);
        if let Some(known) = people.iter_mut().find(|person| person.id == id) {
            known.wrong_number = known.wrong_number.take().or(wrong);
            known.lines.push(view);
            continue;
        }
        people.push(PersonView {
            id,
            name: line.person.name.clone(),
            telephone: line.person.telephone.clone(),
            dial: dial(line.person.telephone_e164.as_deref()),
            email: line.person.email.clone(),
            reach_by: line.person.reach_by,
            wrong_number: wrong,
            lines: vec![view],
        });
    }
    people
}

impl TellingView {
    pub(super) fn of(context: &RequestContext, line: &ToTell) -> Self {
        let of = line.subject.of;
        let quote = line.quote.map(|quote| format!("/desk/quotes/{quote}"));
        let (href, letter) = match line.subject.matter {
            Matter::Quote => (quote.clone().unwrap_or_else(|| format!("/desk/jobs/{of}")), quote),
            Matter::Late => (format!("/desk/jobs/{of}/details"), None),
            Matter::Money => (format!("/desk/jobs/{of}/hand-over"), Some(format!("/desk/jobs/{of}/receipt"))),
            Matter::Ready => (format!("/desk/jobs/{of}"), Some(format!("/desk/jobs/{of}/collection-letter"))),
            Matter::Care => (format!("/desk/instruments/{of}"), Some(format!("/desk/instruments/{of}/care-letter"))),
            Matter::Question | Matter::Promise | Matter::Answer => (format!("/desk/jobs/{of}"), None),
        };
        Self {
            subject: line.subject.to_string(),
            href,
            letter,
            name: if line.number.is_empty() { line.instrument.clone() } else { line.number.clone() },
            instrument: if line.number.is_empty() { String::new() } else { line.instrument.clone() },
            words: words(context, line),
            last: line.last.as_ref().map(|last| last_words(context, last)),
            due: with_weekday(line.due_on),
            is_written: of_line(line).is_some(),
            is_urgent: matches!(line.subject.matter, Matter::Question | Matter::Promise | Matter::Late),
        }
    }
}

/// "ready for 3 days, £45.00 is owed".
fn words(context: &RequestContext, line: &ToTell) -> String {
    let day = line.day.map(with_weekday).unwrap_or_default();
    let amount = line.amount.map(|amount| context.money(amount)).unwrap_or_default();
    let days = (context.today() - line.since).whole_days();
    match line.subject.matter {
        Matter::Question => format!("asked: {}", line.words),
        Matter::Promise => match line.from_day {
            Some(from) => format!("promised for {day} now, instead of {}", with_weekday(from)),
            None => format!("promised for {day}"),
        },
        Matter::Late => format!("was promised for {day} and is not ready: give them a day that holds"),
        Matter::Answer => format!("an answer is wanted: {}", line.words),
        Matter::Ready => {
            let since = match days {
                ..=0 => "ready since today".to_owned(),
                1 => "ready since yesterday".to_owned(),
                _ => format!("ready for {days} days"),
            };
            if amount.is_empty() { since } else { format!("{since}, {amount} is owed") }
        }
        Matter::Quote => {
            let age = match days {
                ..=0 => "made today".to_owned(),
                1 => "made yesterday".to_owned(),
                _ => format!("no answer for {days} days"),
            };
            format!("the quote of {amount}: {age}")
        }
        Matter::Money => format!("{amount} is owed since it went home on {}", with_weekday(line.since)),
        Matter::Care => format!("care due on {day}: {}", line.words),
    }
}

fn last_words(context: &RequestContext, last: &Last) -> String {
    let who = last.who.as_ref().map(|who| format!(" ({who})")).unwrap_or_default();
    format!("{} {} on {}{who}", last.outcome, last.how, context.day_of(last.at))
}
