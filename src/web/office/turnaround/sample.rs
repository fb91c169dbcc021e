//! Stays that are followed to their end, or to today where they have none.

use crate::forecast::turnaround::{TurnaroundInput, TurnaroundOutput, turnaround};
use crate::records::stays::Stay;
use crate::web::form::FormData;
use crate::web::page::RequestContext;

/// What a stay is followed to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Until {
    Ready,
    Collected,
}

impl Until {
    pub(super) fn of(query: &FormData) -> Self {
        if query.is("until", "collected") { Self::Collected } else { Self::Ready }
    }

    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Ready => "ready",
            Self::Collected => "collected",
        }
    }

    /// Days from check-in by the shop's calendar, and whether it came to that: what is still open is followed to
    /// today, what went home as it came to that day.
    pub(super) fn followed(self, stay: &Stay, context: &RequestContext) -> (f64, bool) {
        let end = match self {
            Self::Ready => stay.ready_at,
            Self::Collected => stay.left_at.filter(|_| !stay.is_unrepaired()),
        };
        let day = |at| context.app.clock.local_date(at);
        let last = end.or(stay.left_at).map_or_else(|| context.today(), day);
        let days = (last - day(stay.checked_in_at)).whole_days().max(0);
        (days_as_number(days), end.is_some())
    }
}

fn days_as_number(days: i64) -> f64 {
    f64::from(i32::try_from(days).unwrap_or(i32::MAX))
}

/// Followed stays of one kind.
#[derive(Debug, Clone, Default)]
pub(super) struct Sample {
    pub(super) input: TurnaroundInput,
}

impl Sample {
    pub(super) fn push(&mut self, (days, is_finished): (f64, bool)) {
        self.input.durations_days.push(days);
        self.input.finished.push(is_finished);
    }

    pub(super) fn jobs(&self) -> usize {
        self.input.finished.len()
    }

    pub(super) fn finished(&self) -> usize {
        self.input.finished.iter().filter(|finished| **finished).count()
    }

    pub(super) fn longest(&self) -> f64 {
        self.input.durations_days.iter().copied().fold(0.0, f64::max)
    }

    /// `None` of nothing, and of more than is reckoned at once.
    pub(super) fn worked_out(&self) -> Option<TurnaroundOutput> {
        turnaround(&self.input).ok()
    }

    /// "9 days", or that so many are open still.
    pub(super) fn days_words(&self, days: Option<f64>, still_open: &str) -> String {
        days.map_or_else(|| format!("more than {still_open} still open after {} days", self.longest()), days_words)
    }
}

/// "1 day", "9 days".
pub(super) fn days_words(days: f64) -> String {
    if days == 1.0 { "1 day".to_owned() } else { format!("{days} days") }
}

/// "8–10", "8 or more"; empty where nothing is known.
pub(super) fn between(least: Option<f64>, most: Option<f64>) -> String {
    match (least, most) {
        (Some(least), Some(most)) if least == most => least.to_string(),
        (Some(least), Some(most)) => format!("{least}–{most}"),
        (Some(least), None) => format!("{least} or more"),
        (None, _) => String::new(),
    }
}
