//! The intonation chart of one string: how sharp each fretted note is as it stands, with the best saddle,
//! and with the best saddle and nut.

use super::svg::{Svg, escaped, short};

const WIDTH: f64 = 420.0;
const HEIGHT: f64 = 190.0;
const LEFT: f64 = 44.0;
const RIGHT: f64 = 10.0;
const TOP: f64 = 12.0;
const BOTTOM: f64 = 30.0;
/// Lines of the grid, at most.
const MOST_LINES: f64 = 7.0;

/// What the chart shows; each list is fret 1 first, cents.
#[derive(Debug, Clone, PartialEq)]
pub struct IntonationChart<'a> {
    /// "3 G3".
    pub name: &'a str,
    /// As it stands.
    pub before: &'a [f64],
    /// With the best saddle.
    pub with_saddle: &'a [f64],
    /// With the best saddle and nut.
    pub with_pair: &'a [f64],
}

/// Draws the chart.
pub fn intonation_chart(chart: &IntonationChart<'_>) -> Svg {
    let all = || [chart.before, chart.with_saddle, chart.with_pair].into_iter().flatten().copied();
    let (lowest, highest) = (all().fold(-1.0, f64::min), all().fold(1.0, f64::max));
    let grid = [5.0, 10.0, 20.0, 50.0].into_iter().find(|grid| (highest - lowest) / grid < MOST_LINES).unwrap_or(100.0);
    let (least, most) = ((lowest / grid).floor() * grid, (highest / grid).ceil() * grid);
    let frets = chart.before.len();
    let step = (WIDTH - LEFT - RIGHT) / number(frets.max(1));
    let x = |fret: usize| LEFT + (number(fret) - 0.5) * step;
    let y = |cents: f64| TOP + (most - cents) / (most - least) * (HEIGHT - TOP - BOTTOM);
    let mut drawn = format!(
        r#"<svg class="intonation-chart" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{}">"#,
        escaped(&alt_text(chart))
    );
    let mut level = least;
    while level <= most + 0.5 {
        let class = if level == 0.0 { "chart-zero" } else { "chart-grid" };
        drawn.push_str(&format!(
            r#"<path class="{class}" d="M{} {}H{}"/><text class="side-label" x="{}" y="{}" text-anchor="end">{}</text>"#,
            short(LEFT),
            short(y(level)),
            short(WIDTH - RIGHT),
            short(LEFT - 6.0),
            short(y(level) + 4.0),
            if level == 0.0 { "0".to_owned() } else { format!("{level:+.0}").replace('-', "−") },
        ));
        level += grid;
    }
    for fret in (1..=frets).filter(|fret| matches!(fret, 1 | 3 | 5 | 7 | 9 | 12 | 15 | 17 | 19 | 21 | 24)) {
        drawn.push_str(&format!(
            r#"<text class="side-label" x="{}" y="{}" text-anchor="middle">{fret}</text>"#,
            short(x(fret)),
            short(HEIGHT - 8.0)
        ));
    }
    for (class, cents) in
        [("chart-pair", chart.with_pair), ("chart-saddle", chart.with_saddle), ("chart-before", chart.before)]
    {
        let points = (1..).zip(cents).map(|(fret, cents)| format!("{} {}", short(x(fret)), short(y(*cents))));
        drawn.push_str(&format!(r#"<path class="{class}" d="M{}"/>"#, points.collect::<Vec<_>>().join("L")));
    }
    for (fret, cents) in (1..).zip(chart.before) {
        drawn.push_str(&format!(
            r#"<circle class="chart-dot" cx="{}" cy="{}" r="3"/>"#,
            short(x(fret)),
            short(y(*cents))
        ));
    }
    drawn.push_str("</svg>");
    Svg::new(drawn)
}

/// The same in words.
fn alt_text(chart: &IntonationChart<'_>) -> String {
    let worst = |cents: &[f64]| {
        let worst = (1..).zip(cents).max_by(|(_, one), (_, other)| one.abs().total_cmp(&other.abs()));
        worst.map_or_else(String::new, |(fret, cents)| format!("at most {cents:+.1} cents, at fret {fret}"))
    };
    format!(
        "Intonation of string {}. As it stands: {}. With the best saddle: {}. With the best saddle and nut: {}.",
        chart.name,
        worst(chart.before),
        worst(chart.with_saddle),
        worst(chart.with_pair)
    )
}

fn number(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
