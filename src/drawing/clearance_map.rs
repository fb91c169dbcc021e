//! The clearance map: strings by frets, each cell how far the stopped string stands over the next fret
//! it could touch, in hundredths of a millimetre; the tightest cell ringed.

use super::svg::{Svg, escaped, short};
use crate::setup::clearance::ClearanceOutput;

const CELL_WIDTH: f64 = 38.0;
const CELL_HEIGHT: f64 = 26.0;
const LEFT: f64 = 74.0;
const TOP: f64 = 26.0;
/// Clearance at which a cell is drawn without shade, mm.
const PLENTY_MM: f64 = 0.35;

/// Draws the map. Strings are named in order.
pub fn clearance_map(clearance: &ClearanceOutput, names: &[String]) -> Svg {
    let rows: Vec<Vec<f64>> = clearance
        .strings
        .iter()
        .map(|string| {
            string
                .stopped
                .iter()
                .map(|stopped| stopped.clearance_mm.iter().copied().fold(f64::INFINITY, f64::min))
                .collect()
        })
        .collect();
    let columns = rows.first().map_or(0, Vec::len);
    let (width, height) = (LEFT + number(columns) * CELL_WIDTH + 4.0, TOP + number(rows.len()) * CELL_HEIGHT + 4.0);
    let tightest = rows
        .iter()
        .enumerate()
        .flat_map(|(row, cells)| cells.iter().enumerate().map(move |(column, gap)| (row, column, *gap)))
        .min_by(|one, other| one.2.total_cmp(&other.2));
    let said = tightest.map_or_else(String::new, |(row, column, gap)| {
        let name = names.get(row).cloned().unwrap_or_else(|| format!("string {}", row + 1));
        format!("Tightest: {name} stopped at fret {column}, {gap:.2} mm.")
    });
    let mut drawn = format!(
        r#"<svg class="clearance-map" viewBox="0 0 {} {}" role="img" aria-label="{}">"#,
        short(width),
        short(height),
        escaped(&format!("Clearance of each string stopped at each fret, in hundredths of a millimetre. {said}"))
    );
    for column in 0..columns {
        let x = LEFT + (number(column) + 0.5) * CELL_WIDTH;
        let label = if column == 0 { "open".to_owned() } else { column.to_string() };
        drawn.push_str(&format!(
            r#"<text class="side-label" x="{}" y="17" text-anchor="middle">{label}</text>"#,
            short(x)
        ));
    }
    for (row, cells) in rows.iter().enumerate() {
        let y = TOP + number(row) * CELL_HEIGHT;
        let name = names.get(row).cloned().unwrap_or_else(|| format!("string {}", row + 1));
        drawn.push_str(&format!(
            r#"<text class="side-label" x="{}" y="{}" text-anchor="end">{}</text>"#,
            short(LEFT - 6.0),
            short(y + 18.0),
            escaped(&name)
        ));
        for (column, gap) in cells.iter().enumerate() {
            let x = LEFT + number(column) * CELL_WIDTH;
            let shade = ((PLENTY_MM - gap) / PLENTY_MM).clamp(0.0, 1.0) * 0.55;
            let class = if *gap <= 0.0 { "cell-touch" } else { "cell-shade" };
            drawn.push_str(&format!(
                r#"<rect class="{class}" fill-opacity="{}" x="{}" y="{}" width="{}" height="{}"/>"#,
                short(shade),
                short(x),
                short(y),
                short(CELL_WIDTH - 2.0),
                short(CELL_HEIGHT - 2.0)
            ));
            drawn.push_str(&format!(
                r#"<text class="cell-figure" x="{}" y="{}" text-anchor="middle">{}</text>"#,
                short(x + CELL_WIDTH / 2.0 - 1.0),
                short(y + 17.0),
                format_args!("{:.0}", gap * 100.0)
            ));
            if tightest.is_some_and(|(tight_row, tight_column, _)| (tight_row, tight_column) == (row, column)) {
                drawn.push_str(&format!(
                    r#"<rect class="cell-ring" x="{}" y="{}" width="{}" height="{}" rx="4"/>"#,
                    short(x),
                    short(y),
                    short(CELL_WIDTH - 2.0),
                    short(CELL_HEIGHT - 2.0)
                ));
            }
        }
    }
    drawn.push_str("</svg>");
    Svg::new(drawn)
}

fn number(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
