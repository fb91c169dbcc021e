//! On which days a job may be done: a bar a day, those up to the promised day filled.

use super::svg::{Svg, escaped, short};

const HEIGHT: f64 = 120.0;
const FOOT: f64 = 22.0;
const HEAD: f64 = 16.0;
/// Days that are drawn, at most: a bar is to be seen.
pub const MOST: usize = 42;
const WIDTH: f64 = 640.0;

/// One day.
#[derive(Debug, Clone, PartialEq)]
pub struct DayBar {
    /// What stands below it, where anything does.
    pub words: String,
    /// Its share, 0 to 1.
    pub share: f64,
    /// Up to the promised day.
    pub is_by_then: bool,
    /// The promised day itself.
    pub is_promised: bool,
}

/// The bars. `words` say the same; days beyond [`MOST`] are left out.
pub fn day_shares(days: &[DayBar], words: &str) -> Svg {
    let shown = days.get(..days.len().min(MOST)).unwrap_or(days);
    let most = shown.iter().fold(0.0_f64, |most, day| most.max(day.share)).max(1e-9);
    let step = WIDTH / f64::from(u32::try_from(shown.len().max(1)).unwrap_or(1));
    let bar = |(place, day): (u32, &DayBar)| {
        let (left, height) = (f64::from(place) * step, (HEIGHT - HEAD) * day.share / most);
        let (x, y, width) = (short(left + step * 0.1), short(HEIGHT - height), short(step * 0.8));
        let kind = if day.is_by_then { "day-by" } else { "day-after" };
        let middle = short(left + step / 2.0);
        let mark = if day.is_promised {
            format!(r#"<path class="day-promised" d="M{middle} {} l-5 -9 h10 z"/>"#, short(HEIGHT - height - 2.0))
        } else {
            String::new()
        };
        let label = if day.words.is_empty() {
            String::new()
        } else {
            format!(
                r#"<text x="{middle}" y="{}" text-anchor="middle">{}</text>"#,
                short(HEIGHT + 15.0),
                escaped(&day.words)
            )
        };
        format!(r#"<rect class="{kind}" x="{x}" y="{y}" width="{width}" height="{}"/>{mark}{label}"#, short(height))
    };
    let bars: String = (0..).zip(shown).map(bar).collect();
    Svg::new(format!(
        r#"<svg class="day-shares" viewBox="0 0 {WIDTH} {}" role="img" aria-label="{}">{bars}<path class="day-ground" d="M0 {HEIGHT}h{WIDTH}"/></svg>"#,
        short(HEIGHT + FOOT),
        escaped(words),
    ))
}
