//! How records are said on pages: money, days, moments, stages.

use time::Date;

use super::page::Visit;
use crate::drawing::inlay::{Side, inlay};
use crate::quantity::{Currency, Instant, LengthUnit, Money, with_weekday};
use crate::records::settings::{LengthUnitSetting, Settings};
use crate::records::stage::{Stage, WaitingFor};

/// The shop's currency. The settings page takes only currencies we know.
pub(super) fn currency(settings: &Settings) -> Currency {
    Currency::known(&settings.currency).unwrap_or_default()
}

/// The unit that a bare number means in this shop.
pub(super) fn length_unit(settings: &Settings) -> LengthUnit {
    match settings.length_unit {
        LengthUnitSetting::Millimetre => LengthUnit::Millimetre,
        LengthUnitSetting::Inch => LengthUnit::Inch,
    }
}

impl Visit {
    /// "€12.50".
    pub fn money(&self, amount: Money) -> String {
        amount.with_symbol(&currency(&self.settings))
    }

    /// "Thu 26 Nov 2026 14:05", in the shop's time.
    pub fn moment(&self, at: Instant) -> String {
        let local = self.app.clock.local_time(at);
        format!("{} {:02}:{:02}", with_weekday(local.date()), local.hour(), local.minute())
    }

    /// "14:02", with the day where it is not today's.
    pub fn clock_words(&self, at: Instant) -> String {
        let local = self.app.clock.local_time(at);
        if local.date() == self.today() {
            format!("{:02}:{:02}", local.hour(), local.minute())
        } else {
            self.moment(at)
        }
    }

    /// "Thu 26 Nov 2026", in the shop's time.
    pub fn day_of(&self, at: Instant) -> String {
        with_weekday(self.app.clock.local_date(at))
    }

    /// Whole days since a moment, by the shop's calendar.
    pub fn days_since(&self, at: Instant) -> i64 {
        (self.today() - self.app.clock.local_date(at)).whole_days()
    }
}

/// A promise as a queue says it.
#[derive(Debug, Clone)]
pub(super) struct Promise {
    /// "Thu 26 Nov 2026", or "no day promised".
    pub day: String,
    /// "today", "in 3 days", "2 days late"; empty without a day.
    pub distance: String,
    /// The day is past.
    pub is_late: bool,
    /// It is today.
    pub is_today: bool,
}

impl Promise {
    /// Says a promise as seen today.
    pub(super) fn seen(promised_on: Option<Date>, today: Date) -> Self {
        let Some(day) = promised_on else {
            return Self {
                day: "no day promised".to_owned(),
                distance: String::new(),
                is_late: false,
                is_today: false,
            };
        };
        let ahead = (day - today).whole_days();
        let distance = match ahead {
            0 => "today".to_owned(),
            1 => "tomorrow".to_owned(),
            -1 => "1 day late".to_owned(),
            2.. => format!("in {ahead} days"),
            _ => format!("{} days late", -ahead),
        };
        Self { day: with_weekday(day), distance, is_late: ahead < 0, is_today: ahead == 0 }
    }
}

/// A stage as it is drawn and said wherever a job is named.
#[derive(Debug, Clone)]
pub(super) struct StageSeen {
    /// The strip of fretboard, SVG of our own drawing.
    pub inlay: String,
    /// "on the bench", or "waiting for a part".
    pub words: String,
    /// Set aside.
    pub is_waiting: bool,
}

impl StageSeen {
    /// Draws and says a stage.
    pub(super) fn of(stage: Stage, waiting_for: Option<WaitingFor>) -> Self {
        let words = match waiting_for {
            Some(waiting_for) => format!("{stage}, waiting for {waiting_for}"),
            None => stage.spoken().to_owned(),
        };
        let side = match (waiting_for, stage) {
            (Some(_), _) => Some(Side::Waiting),
            (None, Stage::ClosedUnrepaired) => Some(Side::Closed),
            (None, _) => None,
        };
        Self { inlay: inlay(stage.index(), side, &words), words, is_waiting: waiting_for.is_some() }
    }
}

/// "Alderbrook OM-2", or the family where no maker is known.
pub(super) fn instrument_title(family: crate::records::family::Family, maker: &str, model: &str) -> String {
    let name = [maker, model].into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ");
    if name.is_empty() { family.spoken().to_owned() } else { name }
}

/// The telephone as a link target: the dialling form where one is known.
pub(super) fn dial(e164: Option<&str>) -> Option<String> {
    e164.map(|number| format!("tel:{number}"))
}

/// The shop's head on every paper.
#[derive(Debug, Clone)]
pub(super) struct Shop {
    /// Name.
    pub name: String,
    /// Address, line by line.
    pub address: Vec<String>,
    /// Telephone.
    pub telephone: String,
    /// E-mail.
    pub email: String,
    /// "paper-a4" or "paper-letter".
    pub paper_class: &'static str,
}

impl Shop {
    /// From the settings.
    pub(super) fn of(settings: &Settings) -> Self {
        Self {
            name: settings.shop_name.clone(),
            address: settings.address.lines().map(str::to_owned).collect(),
            telephone: settings.telephone.clone(),
            email: settings.email.clone(),
            paper_class: match settings.paper {
                crate::records::settings::Paper::A4 => "paper-a4",
                crate::records::settings::Paper::Letter => "paper-letter",
            },
        }
    }
}

/// What a job that was set aside, or taken up again, is told.
pub(crate) fn wait_words(waiting_for: Option<WaitingFor>) -> String {
    waiting_for
        .map_or_else(|| "Taken up again.".to_owned(), |waiting_for| format!("Set aside, waiting for {waiting_for}."))
}
