//! What each string pulls, before and after: two bars a string, the present one an outline, the next solid.

use super::svg::{Svg, escaped, short};

/// One string's pull.
#[derive(Debug, Clone, PartialEq)]
pub struct TensionBar {
    /// "1 E4".
    pub name: String,
    /// With the string on it, N; `None` where it is not known.
    pub now_n: Option<f64>,
    /// With the string to come, N.
    pub next_n: f64,
}

const WIDTH: f64 = 640.0;
const LEFT: f64 = 74.0;
/// Room for the figure at a bar's end.
const RIGHT: f64 = 64.0;
const ROW: f64 = 46.0;
const TOP: f64 = 26.0;
const BAR: f64 = 15.0;

/// Draws the bars, all to one scale from nothing.
pub fn tension_bars(bars: &[TensionBar]) -> Svg {
    let most = bars.iter().flat_map(|bar| [bar.now_n.unwrap_or(0.0), bar.next_n]).fold(1.0, f64::max);
    let rows = f64::from(u32::try_from(bars.len()).unwrap_or(0));
    let height = TOP + rows * ROW + 4.0;
    let said = bars.iter().map(|bar| match bar.now_n {
        Some(now) => format!("{}: {now:.0} N now, {:.0} N next", bar.name, bar.next_n),
        None => format!("{}: not known now, {:.0} N next", bar.name, bar.next_n),
    });
    let said = format!("Pull of each string. {}.", said.collect::<Vec<_>>().join("; "));
    let mut drawn = format!(
        r#"<svg class="tension-bars" viewBox="0 0 {} {}" role="img" aria-label="{}">"#,
        short(WIDTH),
        short(height),
        escaped(&said)
    );
    drawn.push_str(&format!(
        r#"<rect class="tension-now" x="{LEFT}" y="4.5" width="22" height="{BAR}"/><text class="side-label" x="{}" y="17">on it now</text><rect class="tension-next" x="{}" y="4.5" width="22" height="{BAR}"/><text class="side-label" x="{}" y="17">to come</text>"#,
        short(LEFT + 30.0),
        short(LEFT + 120.0),
        short(LEFT + 150.0)
    ));
    let mut y = TOP + 6.0;
    for bar in bars {
        drawn.push_str(&format!(
            r#"<text class="side-label" x="{}" y="{}" text-anchor="end">{}</text>"#,
            short(LEFT - 8.0),
            short(y + BAR + 5.0),
            escaped(&bar.name)
        ));
        if let Some(now) = bar.now_n {
            drawn.push_str(&one("tension-now", y, now, most));
        }
        drawn.push_str(&one("tension-next", y + BAR + 3.0, bar.next_n, most));
        y += ROW;
    }
    drawn.push_str("</svg>");
    Svg::new(drawn)
}

fn one(class: &str, y: f64, pull_n: f64, most_n: f64) -> String {
    let length = (WIDTH - LEFT - RIGHT) * pull_n / most_n;
    format!(
        r#"<rect class="{class}" x="{}" y="{}" width="{}" height="{BAR}"/><text class="cell-figure" x="{}" y="{}">{pull_n:.0} N</text>"#,
        short(LEFT),
        short(y),
        short(length),
        short(LEFT + length + 7.0),
        short(y + 12.0)
    )
}
