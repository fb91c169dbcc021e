//! Curves over days or months: shares of jobs done, medians by month, money by month. Each curve has a pattern of its
//! own beside its colour and its number at its end, so that they are told apart in black and white.

use super::svg::{Svg, escaped, short};

const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 290.0;
const LEFT: f64 = 64.0;
const RIGHT: f64 = 26.0;
const TOP: f64 = 14.0;
const BOTTOM: f64 = 44.0;
/// Curves that have a pattern of their own; more are not drawn.
pub const MOST: usize = 6;
/// Two numbers at the ends of curves stand at least so far apart.
const APART: f64 = 14.0;

/// One axis: what stands at which value, and its end. It begins at 0.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// What is counted along it.
    pub words: String,
    /// Values with their words.
    pub ticks: Vec<(f64, String)>,
    /// Its end.
    pub most: f64,
}

impl Axis {
    /// Up to `most` in steps that are easily read; `said` says a value.
    pub fn rising(words: &str, most: f64, said: impl Fn(f64) -> String) -> Self {
        let step = readable_step(most);
        let most = (most / step).ceil().max(1.0) * step;
        let ticks = (0..=8_u32).map(|tick| f64::from(tick) * step).take_while(|at| *at <= most + step / 100.0);
        Self { words: words.to_owned(), ticks: ticks.map(|at| (at, said(at))).collect(), most }
    }
}

/// 1, 2 or 5 times a power of ten, so that at most seven fit.
fn readable_step(most: f64) -> f64 {
    let mut power = 1.0;
    while power * 100.0 <= most {
        power *= 10.0;
    }
    let steps = [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0].map(|factor| factor * power);
    // what is counted in days, jobs and minor units has no halves
    steps.into_iter().filter(|step| *step >= 1.0).find(|step| most / step <= 7.0).unwrap_or(power * 50.0)
}

/// One curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// What it shows.
    pub name: String,
    /// Its points, from left to right; a gap where there is no value.
    pub points: Vec<(f64, Option<f64>)>,
    /// Between which limits it truly lies, in the same order: value, least, most.
    pub limits: Vec<(f64, f64, f64)>,
}

/// What one chart shows.
#[derive(Debug, Clone, PartialEq)]
pub struct CurveChart {
    /// The whole of it in words: what a reader who does not see it is told.
    pub alternative: String,
    /// Along.
    pub x: Axis,
    /// Up.
    pub y: Axis,
    /// Whether a value holds until the next point.
    pub steps: bool,
    /// The curves, of which the first [`MOST`] are drawn.
    pub curves: Vec<Curve>,
}

/// Draws the chart.
pub fn curves(chart: &CurveChart) -> Svg {
    let floor = HEIGHT - BOTTOM;
    let x = |value: f64| LEFT + (value / chart.x.most.max(f64::MIN_POSITIVE)).clamp(0.0, 1.0) * (WIDTH - LEFT - RIGHT);
    let y = |value: f64| floor - (value / chart.y.most.max(f64::MIN_POSITIVE)).clamp(0.0, 1.0) * (floor - TOP);
    let mut drawn = format!(
        r#"<svg class="curves" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{}">"#,
        escaped(&chart.alternative)
    );
    for (value, said) in &chart.y.ticks {
        let at = short(y(*value));
        drawn.push_str(&format!(r#"<path class="curve-grid" d="M{LEFT} {at}H{}"/>"#, WIDTH - RIGHT));
        drawn.push_str(&format!(
            r#"<text class="curve-words" x="{}" y="{}" text-anchor="end">{}</text>"#,
            short(LEFT - 8.0),
            short(y(*value) + 4.5),
            escaped(said)
        ));
    }
    for (value, said) in &chart.x.ticks {
        drawn.push_str(&format!(
            r#"<path class="curve-tick" d="M{0} {floor}v5"/><text class="curve-words" x="{0}" y="{1}" text-anchor="middle">{2}</text>"#,
            short(x(*value)),
            short(floor + 20.0),
            escaped(said)
        ));
    }
    drawn.push_str(&format!(r#"<path class="curve-axis" d="M{LEFT} {TOP}V{floor}H{}"/>"#, WIDTH - RIGHT));
    drawn.push_str(&format!(
        r#"<text class="curve-words" x="{}" y="{}" text-anchor="end">{}</text>"#,
        WIDTH - RIGHT,
        short(HEIGHT - 6.0),
        escaped(&chart.x.words)
    ));
    for curve in chart.curves.iter().take(MOST) {
        drawn.push_str(&band(curve, chart.steps, x, y));
    }
    let mut taken: Vec<f64> = Vec::new();
    for (number, curve) in (1..=MOST).zip(&chart.curves) {
        let path = path(curve, chart.steps, x, y);
        if path.is_empty() {
            continue;
        }
        drawn.push_str(&format!(r#"<path class="curve curve-{number}" d="{path}"/>"#));
        let last = curve.points.iter().rev().find_map(|(at, value)| value.map(|value| (*at, value)));
        // a single curve needs no number
        if let Some((at, value)) = last.filter(|_| chart.curves.len() > 1) {
            let mut beside = y(value) + 4.5;
            while taken.iter().any(|other: &f64| (other - beside).abs() < APART) {
                beside += APART;
            }
            taken.push(beside);
            drawn.push_str(&format!(
                r#"<text class="curve-number" x="{}" y="{}">{number}</text>"#,
                short(x(at) + 6.0),
                short(beside)
            ));
        }
    }
    drawn.push_str("</svg>");
    Svg::new(drawn)
}

fn path(curve: &Curve, steps: bool, x: impl Fn(f64) -> f64, y: impl Fn(f64) -> f64) -> String {
    let mut path = String::new();
    let mut is_begun = false;
    for (at, value) in &curve.points {
        let Some(value) = value else {
            is_begun = false;
            continue;
        };
        let (at, value) = (short(x(*at)), short(y(*value)));
        path.push_str(&match (is_begun, steps) {
            (false, _) => format!("M{at} {value}"),
            (true, true) => format!("H{at}V{value}"),
            (true, false) => format!("L{at} {value}"),
        });
        // a month between two gaps is seen as a dot
        if !is_begun && !steps {
            path.push_str("h.01");
        }
        is_begun = true;
    }
    path
}

fn band(curve: &Curve, steps: bool, x: impl Fn(f64) -> f64, y: impl Fn(f64) -> f64) -> String {
    let Some((first, rest)) = curve.limits.split_first() else {
        return String::new();
    };
    let mut path = format!("M{} {}", short(x(first.0)), short(y(first.1)));
    for (at, least, _) in rest {
        let (at, least) = (short(x(*at)), short(y(*least)));
        path.push_str(&if steps { format!("H{at}V{least}") } else { format!("L{at} {least}") });
    }
    for (place, (at, _, most)) in curve.limits.iter().enumerate().rev() {
        let most_y = short(y(*most));
        path.push_str(&format!("L{} {most_y}", short(x(*at))));
        // on the way back the step stands before its point
        if let Some((.., before)) = place.checked_sub(1).and_then(|before| curve.limits.get(before)).filter(|_| steps) {
            path.push_str(&format!("V{}", short(y(*before))));
        }
    }
    format!(r#"<path class="curve-band" d="{path}z"/>"#)
}

#[cfg(test)]
mod tests {
    use super::{Axis, Curve, CurveChart, curves};

    #[test]
    fn steps_are_easily_read_and_reach_the_end() {
        for (most, step, end) in [
            (1.0, 1.0, 1.0),
            (6.0, 1.0, 6.0),
            (9.0, 2.0, 10.0),
            (31.0, 5.0, 35.0),
            (180.0, 50.0, 200.0),
            (0.0, 1.0, 1.0),
        ] {
            let axis = Axis::rising("days", most, |at| at.to_string());
            assert_eq!((axis.ticks[1].0, axis.most), (step, end), "{most}");
        }
    }

    #[test]
    fn a_gap_is_a_gap_and_names_are_safe() {
        let chart = CurveChart {
            alternative: "a < b".to_owned(),
            x: Axis::rising("days", 2.0, |at| at.to_string()),
            y: Axis::rising("jobs", 2.0, |at| at.to_string()),
            steps: false,
            curves: vec![Curve {
                name: "one".to_owned(),
                points: vec![(0.0, Some(1.0)), (1.0, None), (2.0, Some(2.0))],
                limits: Vec::new(),
            }],
        };
        let drawn = curves(&chart);
        assert!(drawn.contains("a &lt; b"));
        assert_eq!(drawn.matches("h.01").count(), 2, "two pieces: {drawn}");
    }
}
