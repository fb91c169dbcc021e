//! Quantities of the shop: lengths, money, days, moments, telephone numbers.
//!
//! What is counted is an integer in a newtype; what is typed is parsed here, once, for pages, imports
//! and the command line alike. No database, no HTTP, no clock.

mod currency;
mod day;
mod instant;
mod length;
mod money;
mod notation;
mod plausible;
pub mod telephone;
mod thousandths;

pub use currency::Currency;
pub use day::{add_months_clamped, month_words, next_anniversary, parse_day, with_weekday};
pub use instant::Instant;
pub use length::{LengthUnit, Micrometres};
pub use money::{
    Money, Rounding, TaxLevel, TaxOfRate, TaxRate, TaxRule, Taxed, shared_out, tax_in_gross, tax_on_lines, taxed,
    to_nearest,
};
pub use notation::Notation;
pub use plausible::{Place, Question, question};
pub use thousandths::Thousandths;
