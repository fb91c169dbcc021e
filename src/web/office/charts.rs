//! Drawings of the pages of figures.

use crate::drawing::Svg;
use crate::drawing::curves::Axis;

/// Months between two that are named below a chart.
const NAMED_EVERY: [usize; 3] = [1, 2, 4];
/// Names that fit below one.
const MOST_NAMED: usize = 8;

/// A drawing of ours.
pub(super) struct ChartView {
    pub(super) map: Svg,
}

/// Places along an axis: 0, 1, 2…
pub(super) fn places() -> impl Iterator<Item = f64> {
    (0_u32..).map(f64::from)
}

/// An axis of months, of which as many are named as fit.
pub(super) fn month_axis<'a>(months: impl ExactSizeIterator<Item = &'a str>) -> Axis {
    let count = months.len();
    let every = NAMED_EVERY.into_iter().find(|every| count.div_ceil(*every) <= MOST_NAMED).unwrap_or(6);
    let most = places().nth(count.saturating_sub(1)).unwrap_or(0.0).max(1.0);
    let ticks = places().zip(months).enumerate().filter(|(place, _)| place % every == 0);
    Axis { words: String::new(), ticks: ticks.map(|(_, (at, month))| (at, month.to_owned())).collect(), most }
}
