//! One quantity of an instrument over the years: as received hollow, as it left filled, each visit joined by
//! a firm line and the time between visits by a dotted one.

use super::svg::{Svg, escaped, short};

const WIDTH: f64 = 320.0;
const HEIGHT: f64 = 130.0;
const LEFT: f64 = 46.0;
const RIGHT: f64 = 14.0;
const TOP: f64 = 12.0;
const BOTTOM: f64 = 26.0;

/// One reading in time.
#[derive(Debug, Clone, PartialEq)]
pub struct HistoryPoint {
    /// Days since any fixed day.
    pub day: f64,
    /// "14 Oct 2026".
    pub said: String,
    /// The value.
    pub value: f64,
    /// As it left, not as it came.
    pub is_final: bool,
    /// Which visit: points of one visit are joined firmly.
    pub visit: usize,
}

/// What one chart shows.
#[derive(Debug, Clone, PartialEq)]
pub struct HistoryChart {
    /// "Height at the 12th fret, bass".
    pub title: String,
    /// "mm", "%".
    pub unit: String,
    /// Decimals of its figures.
    pub decimals: usize,
    /// Oldest first.
    pub points: Vec<HistoryPoint>,
}

/// Draws the chart. Nothing to show makes an empty frame that says so.
pub fn history_chart(chart: &HistoryChart) -> Svg {
    let mut drawn = format!(
        r#"<svg class="history-chart" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{}">"#,
        escaped(&alt_text(chart))
    );
    let ends = |pick: fn(&HistoryPoint) -> f64| {
        let values = chart.points.iter().map(pick);
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), value| (least.min(value), most.max(value)))
    };
    let ((first, last), (least, most)) = (ends(|point| point.day), ends(|point| point.value));
    let floor = HEIGHT - BOTTOM;
    drawn.push_str(&format!(r#"<path class="history-axis" d="M{LEFT} {TOP}V{floor}H{}"/>"#, WIDTH - RIGHT));
    if chart.points.is_empty() {
        drawn
            .push_str(&format!(r#"<text class="side-label" x="{}" y="60">nothing was read</text></svg>"#, LEFT + 12.0));
        return Svg::new(drawn);
    }
    // one value, or one day, stands in the middle
    let along = |value: f64, (low, high): (f64, f64), (from, to): (f64, f64)| {
        let part = if high > low { (value - low) / (high - low) } else { 0.5 };
        from + part * (to - from)
    };
    let x = |point: &HistoryPoint| along(point.day, (first, last), (LEFT + 12.0, WIDTH - RIGHT - 8.0));
    let y = |value: f64| along(value, (least, most), (floor - 10.0, TOP + 8.0));
    for value in if most > least { vec![least, most] } else { vec![least] } {
        drawn.push_str(&format!(
            r#"<text class="side-label" x="{}" y="{}" text-anchor="end">{value:.*}</text>"#,
            short(LEFT - 6.0),
            short(y(value) + 4.0),
            chart.decimals,
        ));
    }
    for pair in chart.points.windows(2) {
        if let [one, other] = pair {
            let class = if one.visit == other.visit { "history-visit" } else { "history-between" };
            drawn.push_str(&format!(
                r#"<path class="{class}" d="M{} {}L{} {}"/>"#,
                short(x(one)),
                short(y(one.value)),
                short(x(other)),
                short(y(other.value))
            ));
        }
    }
    for point in &chart.points {
        let class = if point.is_final { "history-final" } else { "history-received" };
        drawn.push_str(&format!(
            r#"<circle class="{class}" cx="{}" cy="{}" r="4.5"/>"#,
            short(x(point)),
            short(y(point.value))
        ));
    }
    let label = |point: Option<&HistoryPoint>, at: f64, anchor: &str| {
        let words = point.map_or("", |point| point.said.as_str());
        format!(
            r#"<text class="side-label" x="{}" y="{}" text-anchor="{anchor}">{}</text>"#,
            short(at),
            short(HEIGHT - 8.0),
            escaped(words)
        )
    };
    drawn.push_str(&label(chart.points.first(), LEFT, "start"));
    if last > first {
        drawn.push_str(&label(chart.points.last(), WIDTH - RIGHT, "end"));
    }
    drawn.push_str("</svg>");
    Svg::new(drawn)
}

/// The same in words.
fn alt_text(chart: &HistoryChart) -> String {
    if chart.points.is_empty() {
        return format!("{}: nothing was read.", chart.title);
    }
    let points = chart.points.iter().map(|point| {
        let when = if point.is_final { "as it left" } else { "as received" };
        format!("{} {when} {:.*} {}", point.said, chart.decimals, point.value, chart.unit)
    });
    format!("{} over the years: {}.", chart.title, points.collect::<Vec<_>>().join("; "))
}
