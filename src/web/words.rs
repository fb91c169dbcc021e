//! How records are said on pages: money, days, moments, stages.

use time::Date;

use super::form::FormData;
use super::page::RequestContext;
use super::{Error, Result};
use crate::drawing::Svg;
use crate::drawing::inlay::{Side, inlay, inlay_again, inlays};
use crate::quantity::{Currency, Instant, LengthUnit, Micrometres, Money, with_weekday};
use crate::records::balance::{Balance, Due};
pub(super) use crate::records::family::instrument_title;
use crate::records::settings::{LengthUnitSetting, Settings};
use crate::records::stage::{Stage, WaitingFor, is_late};

/// The shop's currency, written as its country does. The settings page takes only currencies we know.
pub(super) fn currency(settings: &Settings) -> Currency {
    Currency::known(&settings.currency).unwrap_or_default().written_in(&settings.country)
}

/// The unit that a bare number means in this shop.
pub(super) fn length_unit(settings: &Settings) -> LengthUnit {
    match settings.length_unit {
        LengthUnitSetting::Millimetre => LengthUnit::Millimetre,
        LengthUnitSetting::Inch => LengthUnit::Inch,
    }
}

/// A number to so many significant digits, without empty ones; in powers of ten where it is very small.
pub(super) fn figures(number: f64, digits: i32) -> String {
    if number == 0.0 || !number.is_finite() {
        return "0".to_owned();
    }
    // what 9.9996 is to four digits has one place more before the point
    let size = format!("{number:.0$e}", usize::try_from(digits - 1).unwrap_or(0));
    let (digits_said, power) = size.split_once('e').unwrap_or((&size, "0"));
    let power: i32 = power.parse().unwrap_or(0);
    let trimmed = |text: &str| {
        let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { text };
        text.replace('-', "−")
    };
    if power < -6 {
        return format!("{}e{power}", trimmed(digits_said));
    }
    let places = usize::try_from(digits - 1 - power).unwrap_or(0);
    trimmed(&format!("{number:.places$}"))
}

/// A length as it can be typed back: bare where a bare number means mm, else with its unit.
pub(super) fn shown(length: Option<Micrometres>, unit: LengthUnit) -> String {
    let text = length.map(Micrometres::in_mm).unwrap_or_default();
    match unit {
        LengthUnit::Millimetre => text.trim_end_matches(" mm").to_owned(),
        LengthUnit::Inch => text,
    }
}

/// A length in the shop's unit: "1.75 mm", "0.069 in".
pub(super) fn length_words(length: Micrometres, unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Millimetre => length.in_mm(),
        LengthUnit::Inch => length.in_inches(),
    }
}

/// Millimetres that were reckoned, in the shop's unit: with as many decimals in mm, to the thousandth in inches.
pub(super) fn reckoned(length_mm: f64, decimals: usize, unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Millimetre => format!("{length_mm:.decimals$} mm"),
        LengthUnit::Inch => format!("{:.3} in", length_mm / MM_PER_INCH),
    }
}

/// Millimetres in an inch, exactly.
pub(super) const MM_PER_INCH: f64 = 25.4;

impl RequestContext {
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

/// The account of a job as pages and papers say it.
pub(super) struct BalanceView {
    pub agreed: String,
    pub paid: String,
    /// What is owed, held or to be given back, without a sign.
    pub amount: String,
    pub due: Due,
}

impl BalanceView {
    pub(super) fn of(context: &RequestContext, balance: &Balance) -> Self {
        Self {
            agreed: context.money(balance.agreed),
            paid: context.money(balance.paid),
            amount: context.money(balance.due.amount()),
            due: balance.due,
        }
    }

    /// What the amount is.
    pub(super) fn label(&self) -> &'static str {
        match self.due {
            Due::Nothing | Due::Owed(_) => "Balance",
            Due::Deposit(_) => "Deposit held",
            Due::GiveBack(_) => "To give back",
        }
    }

    /// "£3.00 is owed."
    pub(super) fn sentence(&self) -> String {
        let amount = &self.amount;
        match self.due {
            Due::Nothing => "Nothing is owed.".to_owned(),
            Due::Owed(_) => format!("{amount} is owed."),
            Due::Deposit(_) => format!("{amount} is held as a deposit until a quote is agreed to."),
            Due::GiveBack(_) => format!("{amount} too much was paid: give it back."),
        }
    }

    /// The same to the customer: "Still owed: £3.00."
    pub(super) fn for_customer(&self) -> String {
        let amount = &self.amount;
        match self.due {
            Due::Nothing => "Nothing is owed.".to_owned(),
            Due::Owed(_) => format!("Still owed: {amount}."),
            Due::Deposit(_) => format!("Held as a deposit: {amount}."),
            Due::GiveBack(_) => format!("To be given back: {amount}."),
        }
    }

    /// Nobody has to do anything about it.
    pub(super) fn is_settled(&self) -> bool {
        matches!(self.due, Due::Nothing | Due::Deposit(_))
    }

    /// Money is open, one way or the other.
    pub(super) fn is_open(&self) -> bool {
        self.due != Due::Nothing
    }

    /// "Handed over, £3.00 stays owed"
    pub(super) fn hand_over_words(&self) -> String {
        let amount = &self.amount;
        match self.due {
            Due::Nothing => "Handed over".to_owned(),
            Due::Owed(_) => format!("Handed over, {amount} stays owed"),
            Due::Deposit(_) | Due::GiveBack(_) => format!("Handed over, {amount} stays to be given back"),
        }
    }
}

/// Instead of a day.
const NO_DAY: &str = "no day promised";

/// A promise as a queue says it.
#[derive(Debug, Clone)]
pub(super) struct Promise {
    /// "Thu 26 Nov 2026", or "no day promised".
    pub day: String,
    /// "today", "in 3 days", "2 days late"; empty without a day.
    pub distance: String,
    /// The day is past.
    pub is_late: bool,
    /// It is today, and still to be kept.
    pub is_today: bool,
}

impl Promise {
    /// Says a promise as seen today. What is ready keeps it, however long it then waits.
    pub(super) fn as_of(stage: Stage, promised_on: Option<Date>, today: Date) -> Self {
        let Some(day) = promised_on else {
            return Self { day: NO_DAY.to_owned(), distance: String::new(), is_late: false, is_today: false };
        };
        let ahead = (day - today).whole_days();
        let distance = match ahead {
            0 => "today".to_owned(),
            1 => "tomorrow".to_owned(),
            2.. => format!("in {ahead} days"),
            ..0 if !is_late(stage, promised_on, today) => String::new(),
            -1 => "1 day late".to_owned(),
            _ => format!("{} days late", -ahead),
        };
        let is_late = is_late(stage, promised_on, today);
        let is_today = ahead == 0 && !stage.keeps_promise();
        Self { day: with_weekday(day), distance, is_late, is_today }
    }

    /// "promised Wed 21 Oct 2026, in 7 days".
    pub(super) fn sentence(&self) -> String {
        match self {
            Self { day, .. } if day == NO_DAY => day.clone(),
            Self { day, distance, .. } if distance.is_empty() => format!("promised {day}"),
            Self { day, distance, .. } => format!("promised {day}, {distance}"),
        }
    }
}

/// A stage as it is drawn and said wherever a job is named.
#[derive(Debug, Clone)]
pub(super) struct StageView {
    /// The strip of fretboard.
    pub inlay: Svg,
    /// "on the bench", or "waiting for a part".
    pub words: String,
    /// Set aside.
    pub is_waiting: bool,
}

impl StageView {
    /// Draws and says a stage.
    pub(super) fn of(stage: Stage, waiting_for: Option<WaitingFor>) -> Self {
        let words = stage_words(stage, waiting_for);
        let inlay = inlay(stage.index(), side(stage, waiting_for), &words);
        Self { inlay, words, is_waiting: waiting_for.is_some() }
    }
}

/// "on the bench", or "agreed, waiting for a part".
pub(super) fn stage_words(stage: Stage, waiting_for: Option<WaitingFor>) -> String {
    match waiting_for {
        Some(waiting_for) => format!("{stage}, waiting for {waiting_for}"),
        None => stage.spoken().to_owned(),
    }
}

fn side(stage: Stage, waiting_for: Option<WaitingFor>) -> Option<Side> {
    match (waiting_for, stage) {
        (Some(_), _) => Some(Side::Waiting),
        (None, Stage::ClosedUnrepaired) => Some(Side::Closed),
        (None, _) => None,
    }
}

/// The stages of a page that names many jobs: each strip is drawn once, and shown wherever it is meant.
#[derive(Debug, Default)]
pub(super) struct StageViews {
    strips: Vec<(Stage, Option<Side>)>,
}

impl StageViews {
    /// Says a stage, and shows its strip.
    pub(super) fn of(&mut self, stage: Stage, waiting_for: Option<WaitingFor>) -> StageView {
        let side = side(stage, waiting_for);
        if !self.strips.contains(&(stage, side)) {
            self.strips.push((stage, side));
        }
        StageView {
            inlay: inlay_again(stage.index(), side),
            words: stage_words(stage, waiting_for),
            is_waiting: waiting_for.is_some(),
        }
    }

    /// The strips themselves; they stand before the first place where one is shown.
    pub(super) fn drawn(&self) -> Svg {
        inlays(self.strips.iter().map(|(stage, side)| (stage.index(), *side)))
    }
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

/// What a job is to wait for by its form; `None` takes it up again.
///
/// # Errors
/// [`Error::Unreadable`] for a word that is none of ours.
pub(crate) fn waiting_for(form: &FormData) -> Result<Option<WaitingFor>> {
    match form.value("waiting_for") {
        "" => Ok(None),
        chosen => {
            let unreadable = |()| Error::Unreadable("The form is not whole. Open its page again.");
            chosen.parse().map(Some).map_err(unreadable)
        }
    }
}

/// What a job that was set aside, or taken up again, is told.
pub(crate) fn wait_words(waiting_for: Option<WaitingFor>) -> String {
    waiting_for
        .map_or_else(|| "Taken up again.".to_owned(), |waiting_for| format!("Set aside, waiting for {waiting_for}."))
}

#[cfg(test)]
mod tests {
    use super::figures;

    #[test]
    fn numbers_keep_their_digits_and_no_empty_ones() {
        for (number, digits, length_words) in [
            (0.009_169_5, 5, "0.0091695"),
            (104.588_23, 5, "104.59"),
            (648.0, 8, "648"),
            (-0.25, 4, "−0.25"),
            (0.0, 4, "0"),
            (9.999_96, 4, "10"),
            (200_000.0, 4, "200000"),
            (3.979_4e-5, 5, "0.000039794"),
            (1.234_6e-9, 4, "1.235e-9"),
            (f64::NAN, 4, "0"),
        ] {
            assert_eq!(figures(number, digits), length_words);
        }
    }
}
