//! `drift`: what an instrument does from visit to visit.
//!
//! Its action against the moisture in its wood: ordinary least squares, a + b·moisture, with the standard
//! error of b from the residuals. Geometry gives no such figure, so it is drawn from the instrument's own
//! readings or not at all: from three visits over ten points of humidity. And how much saddle each year
//! takes, so how many years of lowering remain.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use time::Date;
use time::format_description::BorrowedFormatItem;
use time::macros::format_description;

use super::air::{equivalent_rh_percent, moisture_content_percent};
use super::limits::HEIGHT_MM;
use crate::problem::Problems;
use crate::working::{Working, Workings};

/// Visits with moisture and action from which a slope is told. Chosen here.
pub const LEAST_VISITS: usize = 3;
/// How far apart their air must lie, points of relative humidity at [`ROOM_C`]. Chosen here.
pub const LEAST_SPREAD_RH_POINTS: f64 = 10.0;
/// A moisture content is told as the humidity of a room of this temperature, °C.
pub const ROOM_C: f64 = 20.0;
/// A saddle that shows this much more than before was replaced or raised, mm. Chosen here.
const RAISED_MM: f64 = 0.2;
/// Over a shorter time no rate is told, years. Chosen here.
const LEAST_YEARS: f64 = 0.5;
/// A saddle that loses less than this a year is not being spent, mm: no tool reads it.
const SPENT_MM_A_YEAR: f64 = 0.005;
/// Visits of one instrument, at most.
const MOST_VISITS: usize = 1000;
/// Mean length of a civil year, days.
const DAYS_A_YEAR: f64 = 365.2425;

const DAY: &[BorrowedFormatItem<'_>] = format_description!("[year]-[month]-[day]");

/// What `drift` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DriftInput {
    /// The oldest first.
    pub visits: Vec<DriftVisit>,
}

/// One visit. What was not read is left out.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct DriftVisit {
    /// The day, as 2026-06-01; or `years`.
    #[schemars(extend("format" = "date"))]
    pub day: Option<String>,
    /// Years from any fixed start; or `day`.
    pub years: Option<f64>,
    /// Height over fret 12, mm: treble, bass or mean, the same at each visit.
    pub action_12_mm: Option<f64>,
    /// Of the wood, % of ovendry mass; or `air`.
    pub moisture_content_percent: Option<f64>,
    /// The air it had been in; or `moisture_content_percent`.
    pub air: Option<DriftAir>,
    /// Saddle above the bridge, mm.
    pub saddle_showing_mm: Option<f64>,
    /// Expanded uncertainty of that, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub saddle_showing_expanded_mm: Option<f64>,
    /// What must stay above the bridge, mm.
    pub least_showing_mm: Option<f64>,
}

/// The air an instrument had been in.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DriftAir {
    /// °C.
    pub temperature_c: f64,
    /// %.
    pub rh_percent: f64,
}

/// What `drift` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DriftOutput {
    /// Action against moisture content.
    pub action_by_moisture: ActionByMoisture,
    /// The saddle, year by year.
    pub saddle: SaddleSpent,
}

/// Action against moisture content.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ActionByMoisture {
    /// mm per point of moisture content; null with the reason.
    pub slope_mm_per_percent: Option<f64>,
    /// Of the slope.
    pub standard_error_mm_per_percent: Option<f64>,
    /// Action at no moisture by the line, mm: for drawing it only.
    pub intercept_mm: Option<f64>,
    /// Visits with both readings.
    pub visits: usize,
    /// How far their air lies apart, points of relative humidity at 20 °C.
    pub spread_rh_points: f64,
    /// Why there is no slope.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// What the years take off a saddle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SaddleSpent {
    /// mm a year, since the saddle was last replaced or raised; null with the reason.
    pub spent_mm_a_year: Option<f64>,
    /// Expanded uncertainty of that, mm a year, where both readings' are known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spent_expanded_mm_a_year: Option<f64>,
    /// Until no more than the least shows, at that rate; null with the reason.
    pub years_of_lowering_left: Option<f64>,
    /// What is missing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// A straight line through points, by least squares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Where x is 0.
    pub intercept: f64,
    /// Per unit of x.
    pub slope: f64,
    /// Of the slope, from the residuals at n − 2 degrees of freedom.
    pub slope_standard_error: f64,
}

/// The line through (x, y); `None` from fewer than three points, or where all x are equal.
pub fn line(points: &[(f64, f64)]) -> Option<Line> {
    if points.len() < 3 {
        return None;
    }
    let count = f64::from(u32::try_from(points.len()).ok()?);
    let mean_x = points.iter().map(|(x, _)| x).sum::<f64>() / count;
    let mean_y = points.iter().map(|(_, y)| y).sum::<f64>() / count;
    let spread: f64 = points.iter().map(|(x, _)| (x - mean_x).powi(2)).sum();
    if spread <= 0.0 {
        return None;
    }
    let slope = points.iter().map(|(x, y)| (x - mean_x) * (y - mean_y)).sum::<f64>() / spread;
    let intercept = mean_y - slope * mean_x;
    let residual: f64 = points.iter().map(|(x, y)| (y - intercept - slope * x).powi(2)).sum();
    Some(Line { intercept, slope, slope_standard_error: (residual / (count - 2.0) / spread).sqrt() })
}

/// Drift of action with moisture, and the saddle's years.
///
/// # Errors
/// When a visit has no date, or a number is out of range.
pub fn drift(input: &DriftInput) -> Result<DriftOutput, Problems> {
    let years = check(input)?;
    Ok(DriftOutput { action_by_moisture: action_by_moisture(input), saddle: saddle(input, &years) })
}

/// Each visit's time in years from the first.
fn check(input: &DriftInput) -> Result<Vec<f64>, Problems> {
    let mut problems = Problems::default();
    problems.count("/visits", input.visits.len(), 1, MOST_VISITS);
    let in_days = input.visits.first().is_some_and(|visit| visit.day.is_some());
    let mut years = Vec::with_capacity(input.visits.len());
    for (place, visit) in input.visits.iter().enumerate() {
        let at = format!("/visits/{place}");
        problems.within_if_given(format_args!("{at}/years"), visit.years, -10_000.0, 10_000.0);
        // ten letters: no sign before the year
        let day = visit.day.as_deref().map(|day| Date::parse(day, DAY).ok().filter(|_| day.len() == 10).ok_or(()));
        if matches!(day, Some(Err(()))) {
            problems.note(format_args!("{at}/day"), "must be a day such as 2026-06-01");
        }
        match (day, visit.years) {
            (Some(_), Some(_)) => problems.note(format_args!("{at}/years"), "give either this or day"),
            (None, None) => problems.note(format_args!("{at}/day"), "is needed, or years"),
            (Some(Ok(day)), None) if in_days => years.push(f64::from(day.to_julian_day()) / DAYS_A_YEAR),
            (None, Some(time)) if !in_days => years.push(time),
            (Some(Err(_)), None) => {}
            _ => problems.note(at.clone(), "must give its time as the first visit does: all by day, or all by years"),
        }
        problems.within_if_given(format_args!("{at}/action_12_mm"), visit.action_12_mm, HEIGHT_MM.0, HEIGHT_MM.1);
        problems.within_if_given(
            format_args!("{at}/moisture_content_percent"),
            visit.moisture_content_percent,
            0.0,
            30.0,
        );
        if let Some(air) = visit.air {
            problems.within(format_args!("{at}/air/temperature_c"), air.temperature_c, -40.0, 60.0);
            problems.within(format_args!("{at}/air/rh_percent"), air.rh_percent, 0.0, 100.0);
            let one = visit.moisture_content_percent.is_none();
            problems.require(one, format_args!("{at}/air"), "give either this or moisture_content_percent");
        }
        problems.within_if_given(
            format_args!("{at}/saddle_showing_mm"),
            visit.saddle_showing_mm,
            HEIGHT_MM.0,
            HEIGHT_MM.1,
        );
        problems.within_if_given(
            format_args!("{at}/saddle_showing_expanded_mm"),
            visit.saddle_showing_expanded_mm,
            0.0,
            HEIGHT_MM.1,
        );
        problems.within_if_given(
            format_args!("{at}/least_showing_mm"),
            visit.least_showing_mm,
            HEIGHT_MM.0,
            HEIGHT_MM.1,
        );
    }
    problems.check()?;
    let in_order = years.windows(2).all(|pair| pair[1] >= pair[0]);
    problems.require(in_order, "/visits", "must run from the oldest to the newest");
    problems.check()?;
    let first = years.first().copied().unwrap_or(0.0);
    Ok(years.into_iter().map(|year| year - first).collect())
}

/// Moisture content and action of each visit that has both.
fn points(input: &DriftInput) -> Vec<(f64, f64)> {
    let moisture = |visit: &DriftVisit| {
        let of_air = |air: DriftAir| moisture_content_percent(air.temperature_c, air.rh_percent);
        visit.moisture_content_percent.or_else(|| visit.air.map(of_air))
    };
    input.visits.iter().filter_map(|visit| moisture(visit).zip(visit.action_12_mm)).collect()
}

fn action_by_moisture(input: &DriftInput) -> ActionByMoisture {
    let points = points(input);
    let humidities = || points.iter().map(|(moisture, _)| equivalent_rh_percent(ROOM_C, *moisture));
    let spread = (humidities().fold(f64::NEG_INFINITY, f64::max) - humidities().fold(f64::INFINITY, f64::min)).max(0.0);
    let reason = if points.len() < LEAST_VISITS {
        Some(format!("It takes {LEAST_VISITS} visits with both the action and the air; there are {}.", points.len()))
    } else if spread < LEAST_SPREAD_RH_POINTS {
        Some(format!(
            "The visits' air lies {spread:.0} points of humidity apart; below {LEAST_SPREAD_RH_POINTS} a slope would \
             be chance."
        ))
    } else {
        None
    };
    let found = if reason.is_none() { line(&points) } else { None };
    ActionByMoisture {
        slope_mm_per_percent: found.map(|line| line.slope),
        standard_error_mm_per_percent: found.map(|line| line.slope_standard_error),
        intercept_mm: found.map(|line| line.intercept),
        visits: points.len(),
        spread_rh_points: spread,
        reason,
    }
}

/// What shows of a saddle at one visit.
#[derive(Debug, Clone, Copy)]
struct Shows {
    year: f64,
    mm: f64,
    expanded_mm: Option<f64>,
}

/// The first and the last reading of the saddle that is on it now.
fn showing(input: &DriftInput, years: &[f64]) -> Option<(Shows, Shows)> {
    let mut found: Option<(Shows, Shows)> = None;
    for (year, visit) in years.iter().zip(&input.visits) {
        let Some(mm) = visit.saddle_showing_mm else { continue };
        let now = Shows { year: *year, mm, expanded_mm: visit.saddle_showing_expanded_mm };
        found = match found {
            Some((first, before)) if mm <= before.mm + RAISED_MM => Some((first, now)),
            _ => Some((now, now)),
        };
    }
    found
}

fn saddle(input: &DriftInput, years: &[f64]) -> SaddleSpent {
    let nothing = |words: &str| SaddleSpent {
        spent_mm_a_year: None,
        spent_expanded_mm_a_year: None,
        years_of_lowering_left: None,
        reason: Some(words.to_owned()),
    };
    let Some((first, last)) = showing(input, years) else {
        return nothing("No visit has the saddle's height.");
    };
    let over = last.year - first.year;
    if over < LEAST_YEARS {
        return nothing("It takes half a year between two readings of the same saddle.");
    }
    let spent = (first.mm - last.mm) / over;
    let expanded = first.expanded_mm.zip(last.expanded_mm).map(|(first, last)| first.hypot(last) / over);
    let told = SaddleSpent {
        spent_mm_a_year: Some(spent.max(0.0)),
        spent_expanded_mm_a_year: expanded,
        ..nothing("Nothing is being spent.")
    };
    if spent < SPENT_MM_A_YEAR {
        return told;
    }
    let least = input.visits.iter().rev().find_map(|visit| visit.least_showing_mm);
    SaddleSpent {
        years_of_lowering_left: least.map(|least| (last.mm - least).max(0.0) / spent),
        reason: least.is_none().then(|| "No visit says what must stay above the bridge.".to_owned()),
        ..told
    }
}

/// The working of every number but the count of visits.
pub fn explain(input: &DriftInput, output: &DriftOutput, workings: &mut Workings) {
    const SQUARES: &str = "ordinary least squares; any text on regression";
    let points = points(input);
    let found = &output.action_by_moisture;
    workings.figure("/action_by_moisture/spread_rh_points", || {
        let rh = || points.iter().map(|(moisture, _)| equivalent_rh_percent(ROOM_C, *moisture));
        let of = "/action_by_moisture/spread_rh_points";
        let (most, least) = (rh().fold(f64::NEG_INFINITY, f64::max), rh().fold(f64::INFINITY, f64::min));
        if points.is_empty() {
            return vec![Working::new(of, "spread of the air of no visits", "s = 0").gives(
                0.0,
                "points",
                "nothing read",
            )];
        }
        let told = Working::new(of, "how far the visits' air lies apart", "s = φ₂ − φ₁")
            .put("φ₂", "humidity that gives the most moisture met, at 20 °C", most, "%")
            .put("φ₁", "humidity that gives the least", least, "%")
            .gives(found.spread_rh_points, "points", "Wood Handbook FPL-GTR-282 (2021), eq. (4-5), turned round");
        vec![told]
    });
    if let (Some(slope), Some(error), Some(intercept)) =
        (found.slope_mm_per_percent, found.standard_error_mm_per_percent, found.intercept_mm)
    {
        let count = f64::from(u32::try_from(points.len()).unwrap_or(u32::MAX));
        let mean_x = points.iter().map(|(x, _)| x).sum::<f64>() / count;
        let mean_y = points.iter().map(|(_, y)| y).sum::<f64>() / count;
        let with_points = |working: Working| {
            working
                .put_each("x", "moisture content at visit", points.iter().map(|(x, _)| *x), "%")
                .put("x̄", "their mean", mean_x, "%")
                .put_each("y", "action at visit", points.iter().map(|(_, y)| *y), "mm")
        };
        workings.figure("/action_by_moisture", || {
            let at = |name: &str| format!("/action_by_moisture/{name}");
            let sloped = Working::new(
                at("slope_mm_per_percent"),
                "action per point of moisture content",
                "b = Σ((xᵢ − x̄)·(yᵢ − ȳ))/Σ((xᵢ − x̄)²)",
            );
            let level = Working::new(at("intercept_mm"), "action at no moisture, by the line", "a = ȳ − b·x̄");
            let strayed = Working::new(
                at("standard_error_mm_per_percent"),
                "standard error of the slope",
                "s = √(Σ((yᵢ − a − b·xᵢ)²)/(n − 2)/Σ((xᵢ − x̄)²))",
            );
            vec![
                with_points(sloped).put("ȳ", "mean action", mean_y, "mm").gives(slope, "mm per %", SQUARES),
                level
                    .put("ȳ", "mean action", mean_y, "mm")
                    .put("b", "slope", slope, "mm per %")
                    .put("x̄", "mean moisture content", mean_x, "%")
                    .gives(intercept, "mm", SQUARES),
                with_points(strayed)
                    .put("a", "intercept", intercept, "mm")
                    .put("b", "slope", slope, "mm per %")
                    .put("n", "visits", count, "")
                    .gives(error, "mm per %", SQUARES),
            ]
        });
    }
    if let Ok(years) = check(input) {
        workings.figure("/saddle", || saddle_working(input, &years, &output.saddle));
    }
}

fn saddle_working(input: &DriftInput, years: &[f64], saddle: &SaddleSpent) -> Vec<Working> {
    let (Some((first, last)), Some(spent)) = (showing(input, years), saddle.spent_mm_a_year) else {
        return Vec::new();
    };
    let times = |working: Working| {
        working.put("t₂", "time of the last, from the first visit", last.year, "years").put(
            "t₁",
            "time of the first",
            first.year,
            "years",
        )
    };
    let rate = Working::new("/saddle/spent_mm_a_year", "saddle spent each year", "v = max((s₁ − s₂)/(t₂ − t₁), 0)")
        .put("s₁", "showing at the first reading of this saddle", first.mm, "mm")
        .put("s₂", "showing at the last", last.mm, "mm");
    let unsure =
        first.expanded_mm.zip(last.expanded_mm).zip(saddle.spent_expanded_mm_a_year).map(|((one, other), unsure)| {
            let of = "/saddle/spent_expanded_mm_a_year";
            let told =
                Working::new(of, "expanded uncertainty of what is spent each year", "U = √(U₁² + U₂²)/(t₂ − t₁)")
                    .put("U₁", "of the first reading", one, "mm")
                    .put("U₂", "of the last", other, "mm");
            times(told).gives(unsure, "mm a year", "JCGM 100:2008 (GUM) 5.1.2")
        });
    let least = input.visits.iter().rev().find_map(|visit| visit.least_showing_mm);
    let left = saddle.years_of_lowering_left.zip(least).map(|(years, least)| {
        Working::new("/saddle/years_of_lowering_left", "years of lowering that remain", "t = max(s₂ − s₀, 0)/v")
            .put("s₂", "showing now", last.mm, "mm")
            .put("s₀", "what must stay above the bridge", least, "mm")
            .put("v", "spent each year", spent, "mm a year")
            .gives(years, "years", "a rate")
    });
    [times(rate).gives(spent, "mm a year", "a rate")].into_iter().chain(unsure).chain(left).collect()
}
