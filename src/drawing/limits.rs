//! Shares with their limits, one below the other, each beside the share that was stated: a dot with its bar, and a tick.

use super::svg::{Svg, escaped, short};

const WIDTH: f64 = 640.0;
const LEFT: f64 = 130.0;
const RIGHT: f64 = 30.0;
const ROW: f64 = 34.0;
const BOTTOM: f64 = 30.0;

/// One share.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitsRow {
    /// Of what.
    pub name: String,
    /// The share.
    pub value: f64,
    /// Its limits, least and most.
    pub limits: [f64; 2],
    /// The share that was stated.
    pub stated: Option<f64>,
}

/// Draws the rows; `title` says what they are shares of.
pub fn limits(title: &str, rows: &[LimitsRow]) -> Svg {
    let count = f64::from(u32::try_from(rows.len()).unwrap_or(0));
    let floor = count * ROW + 8.0;
    let x = |share: f64| LEFT + share.clamp(0.0, 1.0) * (WIDTH - LEFT - RIGHT);
    let percent = |share: f64| format!("{:.0} %", share * 100.0);
    let said = rows.iter().map(|row| {
        let [least, most] = row.limits;
        let stated = row.stated.map(|stated| format!(", stated {}", percent(stated))).unwrap_or_default();
        format!("{}: {} ({} to {}){stated}", row.name, percent(row.value), percent(least), percent(most))
    });
    let alternative = format!("{title}. {}.", said.collect::<Vec<_>>().join("; "));
    let mut drawn = format!(
        r#"<svg class="curves" viewBox="0 0 {WIDTH} {}" role="img" aria-label="{}">"#,
        short(floor + BOTTOM),
        escaped(&alternative)
    );
    for share in [0.0, 0.25, 0.5, 0.75, 0.9, 1.0] {
        drawn.push_str(&format!(
            r#"<path class="curve-grid" d="M{0} 0V{1}"/><text class="curve-words" x="{0}" y="{2}" text-anchor="middle">{3}</text>"#,
            short(x(share)),
            short(floor),
            short(floor + 20.0),
            percent(share)
        ));
    }
    for (place, row) in (0_u32..).zip(rows) {
        let y = (f64::from(place) + 0.5) * ROW + 4.0;
        let [least, most] = row.limits;
        drawn.push_str(&format!(
            r#"<text class="curve-words" x="{}" y="{}" text-anchor="end">{}</text>"#,
            short(LEFT - 14.0),
            short(y + 4.5),
            escaped(&row.name)
        ));
        drawn.push_str(&format!(
            r#"<path class="limits-bar" d="M{0} {1}H{2}M{0} {3}v10M{2} {3}v10"/><circle class="limits-dot" cx="{4}" cy="{1}" r="5"/>"#,
            short(x(least)),
            short(y),
            short(x(most)),
            short(y - 5.0),
            short(x(row.value))
        ));
        if let Some(stated) = row.stated {
            drawn.push_str(&format!(
                r#"<path class="limits-stated" d="M{} {}v24"/>"#,
                short(x(stated)),
                short(y - 12.0)
            ));
        }
    }
    drawn.push_str("</svg>");
    Svg::new(drawn)
}
