//! A day's closing as a list says it. Used by templates/parts/closings.html.

use super::page::RequestContext;
use crate::quantity::{Money, with_weekday};
use crate::records::day_closing::{Closing, ClosingCount};

/// One closing.
pub(super) struct ClosingRow {
    pub number: i64,
    pub day: String,
    pub who: String,
    pub payments: String,
    pub counts: Vec<CountRow>,
    /// "£15.00 taken out: stamps", and what stayed in the drawer.
    pub drawer: String,
}

/// One way of paying in it.
pub(super) struct CountRow {
    pub method: &'static str,
    pub counted: String,
    /// "−£0.25: a coin short"; empty where both agree.
    pub difference: String,
}

impl ClosingRow {
    pub(super) fn all(context: &RequestContext, closings: Vec<Closing>, counts: &[ClosingCount]) -> Vec<Self> {
        let row = |closing: Closing| {
            let of = counts.iter().filter(|count| count.closing == closing.number);
            // a way of paying that nobody used says nothing
            let of = of.filter(|count| count.expected.0 != 0 || count.counted.0 != 0 || count.taken.0 != 0);
            Self {
                number: closing.number,
                day: with_weekday(closing.day),
                payments: match closing.last_payment - closing.first_payment {
                    ..0 => "none".to_owned(),
                    0 => closing.first_payment.to_string(),
                    _ => format!("{} to {}", closing.first_payment, closing.last_payment),
                },
                counts: of.map(|count| count_row(context, count)).collect(),
                drawer: drawer(context, &closing),
                who: closing.who,
            }
        };
        closings.into_iter().map(row).collect()
    }
}

fn count_row(context: &RequestContext, count: &ClosingCount) -> CountRow {
    let difference = Money(count.counted.0 - count.expected.0);
    let sign = if difference.0 > 0 { "+" } else { "" };
    CountRow {
        method: count.method.spoken(),
        counted: context.money(count.counted),
        difference: match difference.0 {
            0 => String::new(),
            _ => format!("{sign}{}: {}", context.money(difference), count.explanation),
        },
    }
}

fn drawer(context: &RequestContext, closing: &Closing) -> String {
    let kept = format!("{} stayed in the drawer.", context.money(closing.kept));
    match closing.paid_out.0 {
        0 => kept,
        _ => format!("{} taken out for {}. {kept}", context.money(closing.paid_out), closing.paid_out_for),
    }
}
