//! `air`: what the air says about wood.
//!
//! Vapour: the Magnus form of WMO-No. 8, Annex 4.B (611.2, 17.62, 243.12), over water. Equilibrium
//! moisture: Wood Handbook (USDA Forest Products Laboratory, FPL-GTR-282), eq. 4-5. Movement: eq. 13-2 from
//! 6 to 14 %, eq. 13-3 (form from memory) outside. Never millimetres of string height from humidity.

mod plate;
pub(super) mod working;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use self::plate::{Plate, PlateFollows};
use crate::problem::Problems;

pub use working::explain;

/// Gas constant of water vapour, J/(kg·K).
const VAPOUR_GAS_CONSTANT: f64 = 461.5;
/// Where the linear movement equation holds, % moisture content.
const LINEAR: std::ops::RangeInclusive<f64> = 6.0..=14.0;
/// Moisture content at which wood begins to shrink, %.
const FIBRE_SATURATION: f64 = 30.0;
/// The same for western redcedar and redwood: published coefficients fit only with this.
const FIBRE_SATURATION_REDCEDAR: f64 = 22.0;

/// Least temperature of the handbook's moisture table, °C; its greatest is beyond what is accepted.
const TABLE_LEAST_C: f64 = -1.1;
/// Relative humidities of the handbook's moisture table, %.
const TABLE_RH_PERCENT: std::ops::RangeInclusive<f64> = 5.0..=95.0;
/// No wood has a longer name.
const MOST_NAME_BYTES: usize = 100;

/// What `air` takes.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AirInput {
    /// °C.
    #[schemars(range(min = -40.0, max = 60.0))]
    pub temperature_c: f64,
    /// Relative humidity, %.
    #[schemars(range(min = 0.0, max = 100.0))]
    pub rh_percent: f64,
    /// Wished, %.
    #[serde(default)]
    pub target_rh_percent: Option<f64>,
    /// "sitka spruce"; with grain and width.
    #[serde(default)]
    pub species: Option<String>,
    /// Which way the width runs.
    #[serde(default)]
    pub grain: Option<Grain>,
    /// Width across the grain, mm.
    #[serde(default)]
    pub width_mm: Option<f64>,
    /// Shrinkage from green to ovendry of one's own instead of a species', % of the green width; with the width.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shrinkage_percent: Option<f64>,
    /// How slowly the instrument follows, hours.
    #[serde(default)]
    pub time_constant_h: Option<f64>,
    /// Air in a case, litres; with `wood_g` and a target.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub case_volume_l: Option<f64>,
    /// Bare wood in that case, g as weighed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wood_g: Option<f64>,
    /// Of the wood when weighed, %; as settled in this air when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wood_moisture_percent: Option<f64>,
    /// A plate that follows this air.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plate: Option<Plate>,
    /// Outdoor air, to be warmed to `temperature_c`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outside: Option<OutsideAir>,
}

/// Outdoor air.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OutsideAir {
    /// °C.
    pub temperature_c: f64,
    /// Over water, as weather reports give it, %.
    pub rh_percent: f64,
}

/// Which way a width runs in the tree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Grain {
    /// Across a quarter-sawn board.
    Radial,
    /// Across a flat-sawn board.
    Tangential,
}

/// What `air` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AirOutput {
    /// Pa.
    pub vapour_pressure_pa: f64,
    /// °C, over water; null at 0 % humidity.
    pub dew_point_c: Option<f64>,
    /// g/m³.
    pub absolute_humidity_g_m3: f64,
    /// Of wood that has been in this air long enough, % of ovendry mass.
    pub moisture_content_percent: f64,
    /// Whether the air lies outside the handbook's table (5 to 95 %, from −1.1 °C): then the moisture
    /// content is an extrapolation.
    pub outside_table: bool,
    /// Towards the wished humidity at the same temperature.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target: Option<AirTarget>,
    /// Water that a case takes to reach the wished humidity.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub case_water: Option<CaseWater>,
    /// How fast the plate follows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plate: Option<PlateFollows>,
    /// The outdoor air once it is inside.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outside: Option<OutsideWarmed>,
}

/// Water to bring a closed case to the wished humidity, g; minus is given off. The wood drinks some hundred
/// times what the air does: a gauge says "50 %" long before the wood is there.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CaseWater {
    /// Into the air.
    pub air_g: f64,
    /// Into the wood.
    pub wood_g: f64,
}

/// Outdoor air brought to the temperature indoors, nothing added or taken.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OutsideWarmed {
    /// Relative humidity indoors, %; 100 where it condenses.
    pub indoors_rh_percent: f64,
    /// Whether water comes out of it.
    pub condensation: bool,
}

/// What reaching the wished humidity means.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AirTarget {
    /// % of ovendry mass.
    pub moisture_content_percent: f64,
    /// Free movement of the width, the lower and the higher number, mm; minus shrinks; null where no
    /// source gives a figure or no species was named.
    pub movement_mm: Option<[f64; 2]>,
    /// Why there is no figure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub movement_reason: Option<String>,
    /// Until nine tenths of the way, days; first-order.
    pub days_to_90_percent: Option<f64>,
}

/// Vapour, moisture and movement of wood in air.
///
/// # Errors
/// When a number is out of range, or a species comes without grain and width.
pub fn air(input: &AirInput) -> Result<AirOutput, Problems> {
    let mut problems = Problems::default();
    problems.within("/temperature_c", input.temperature_c, -40.0, 60.0);
    problems.within("/rh_percent", input.rh_percent, 0.0, 100.0);
    problems.within_if_given("/target_rh_percent", input.target_rh_percent, 0.0, 100.0);
    problems.within_if_given("/width_mm", input.width_mm, 0.1, 5000.0);
    let longest_name = input.species.as_ref().map_or(0, String::len);
    problems.require(longest_name <= MOST_NAME_BYTES, "/species", "must be the name of a wood, such as sitka spruce");
    problems.within_if_given("/time_constant_h", input.time_constant_h, 0.01, 100_000.0);
    if input.species.is_some() {
        problems.require(input.grain.is_some(), "/grain", "is needed with species: radial or tangential");
        problems.require(input.width_mm.is_some(), "/width_mm", "is needed with species, in mm");
    }
    problems.within_if_given("/shrinkage_percent", input.shrinkage_percent, 0.1, 30.0);
    if input.shrinkage_percent.is_some() {
        problems.require(input.species.is_none(), "/shrinkage_percent", "give either this or species");
        problems.require(input.width_mm.is_some(), "/width_mm", "is needed with shrinkage_percent, in mm");
    }
    check_surroundings(&mut problems, input);
    problems.check()?;
    let pressure = vapour_pressure_pa(input.temperature_c, input.rh_percent);
    let moisture = moisture_content_percent(input.temperature_c, input.rh_percent);
    let target = input.target_rh_percent.map(|rh_percent| {
        let wished = moisture_content_percent(input.temperature_c, rh_percent);
        let (movement_mm, movement_reason) = match (figures(input), input.width_mm) {
            (Some(Ok(figures)), Some(width_mm)) => (Some(movement(&figures, width_mm, moisture, wished)), None),
            (Some(Err(reason)), Some(_)) => (None, Some(reason)),
            _ => (None, Some("Name the species and its grain, or a shrinkage, and the width for a figure.".to_owned())),
        };
        AirTarget {
            moisture_content_percent: wished,
            movement_mm,
            movement_reason,
            days_to_90_percent: input.time_constant_h.map(|hours| hours * std::f64::consts::LN_10 / 24.0),
        }
    });
    Ok(AirOutput {
        vapour_pressure_pa: pressure,
        dew_point_c: dew_point_c(pressure),
        absolute_humidity_g_m3: absolute_humidity_g_m3(input.temperature_c, pressure),
        moisture_content_percent: moisture,
        outside_table: is_outside_table(input),
        target,
        case_water: case_water(input, moisture),
        plate: input.plate.map(|plate| plate.follows()),
        outside: input.outside.map(|outside| warmed(outside, input.temperature_c)),
    })
}

fn check_surroundings(problems: &mut Problems, input: &AirInput) {
    problems.within_if_given("/case_volume_l", input.case_volume_l, 0.1, 10_000.0);
    problems.within_if_given("/wood_g", input.wood_g, 0.1, 100_000.0);
    problems.within_if_given("/wood_moisture_percent", input.wood_moisture_percent, 0.0, 30.0);
    if [input.case_volume_l, input.wood_g, input.wood_moisture_percent].iter().any(Option::is_some) {
        problems.require(
            input.case_volume_l.is_some(),
            "/case_volume_l",
            "is needed for the water of a case, in litres",
        );
        problems.require(input.wood_g.is_some(), "/wood_g", "is needed for the water of a case, in g");
        let has_target = input.target_rh_percent.is_some();
        problems.require(has_target, "/target_rh_percent", "is needed for the water of a case, in %");
    }
    if let Some(plate) = &input.plate {
        plate.check(problems);
    }
    if let Some(outside) = input.outside {
        problems.within("/outside/temperature_c", outside.temperature_c, -60.0, 60.0);
        problems.within("/outside/rh_percent", outside.rh_percent, 0.0, 100.0);
    }
}

fn absolute_humidity_g_m3(temperature_c: f64, vapour_pressure_pa: f64) -> f64 {
    1000.0 * vapour_pressure_pa / (VAPOUR_GAS_CONSTANT * (temperature_c + 273.15))
}

/// Air: V·ΔAH. Wood: its dry mass times the change of moisture content.
fn case_water(input: &AirInput, moisture: f64) -> Option<CaseWater> {
    let (volume_l, wood_g, target) = (input.case_volume_l?, input.wood_g?, input.target_rh_percent?);
    let temperature = input.temperature_c;
    let vapour = |rh_percent: f64| absolute_humidity_g_m3(temperature, vapour_pressure_pa(temperature, rh_percent));
    let dry_g = wood_g / (1.0 + input.wood_moisture_percent.unwrap_or(moisture) / 100.0);
    Some(CaseWater {
        air_g: volume_l / 1000.0 * (vapour(target) - vapour(input.rh_percent)),
        wood_g: dry_g * (moisture_content_percent(temperature, target) - moisture) / 100.0,
    })
}

fn warmed(outside: OutsideAir, indoors_c: f64) -> OutsideWarmed {
    let vapour = vapour_pressure_pa(outside.temperature_c, outside.rh_percent);
    let indoors = 100.0 * vapour / vapour_pressure_pa(indoors_c, 100.0);
    OutsideWarmed { indoors_rh_percent: indoors.min(100.0), condensation: indoors > 100.0 }
}

fn is_outside_table(input: &AirInput) -> bool {
    let humidities = [Some(input.rh_percent), input.target_rh_percent];
    !humidities.into_iter().flatten().all(|rh_percent| is_in_table(input.temperature_c, rh_percent))
}

/// Whether the handbook's table covers an air.
pub(super) fn is_in_table(temperature_c: f64, rh_percent: f64) -> bool {
    temperature_c >= TABLE_LEAST_C && TABLE_RH_PERCENT.contains(&rh_percent)
}

/// Vapour pressure, Pa.
pub fn vapour_pressure_pa(temperature_c: f64, rh_percent: f64) -> f64 {
    rh_percent / 100.0 * 611.2 * (17.62 * temperature_c / (243.12 + temperature_c)).exp()
}

/// Dew point over water, °C; `None` without any vapour.
pub fn dew_point_c(vapour_pressure_pa: f64) -> Option<f64> {
    (vapour_pressure_pa > 0.0).then(|| {
        let x = dew_point_logarithm(vapour_pressure_pa);
        243.12 * x / (17.62 - x)
    })
}

fn dew_point_logarithm(vapour_pressure_pa: f64) -> f64 {
    (vapour_pressure_pa / 611.2).ln()
}

/// Equilibrium moisture content, % of ovendry mass. Values lie midway between wetting and drying.
pub fn moisture_content_percent(temperature_c: f64, rh_percent: f64) -> f64 {
    let Sorption { w, k, k1, k2 } = Sorption::at(temperature_c);
    let kh = k * (rh_percent / 100.0);
    let both = k1 * k2 * kh * kh;
    1800.0 / w * (kh / (1.0 - kh) + (k1 * kh + 2.0 * both) / (1.0 + k1 * kh + both))
}

/// What the moisture equation makes of a temperature.
#[derive(Debug, Clone, Copy)]
struct Sorption {
    w: f64,
    k: f64,
    k1: f64,
    k2: f64,
}

impl Sorption {
    fn at(temperature_c: f64) -> Self {
        let t = temperature_c;
        Self {
            w: 349.0 + 1.29 * t + 0.0135 * t * t,
            k: 0.805 + 0.000_736 * t - 0.000_002_73 * t * t,
            k1: 6.27 - 0.009_38 * t - 0.000_303 * t * t,
            k2: 1.91 + 0.0407 * t - 0.000_293 * t * t,
        }
    }
}

/// The relative humidity in which wood comes to a moisture content, %, by bisection: it rises. Moisture
/// beyond what any air gives answers the end of the scale.
pub fn equivalent_rh_percent(temperature_c: f64, moisture_percent: f64) -> f64 {
    let (mut least, mut most) = (0.0, 100.0);
    for _ in 0..60 {
        let middle = f64::midpoint(least, most);
        if moisture_content_percent(temperature_c, middle) < moisture_percent { least = middle } else { most = middle }
    }
    f64::midpoint(least, most)
}

/// One published pair of movement figures: coefficient per % and shrinkage from green to ovendry, %.
#[derive(Debug, Clone, Copy)]
struct Movement {
    coefficient: f64,
    shrinkage: f64,
    saturation: f64,
    /// The coefficient is not published, but follows from the shrinkage.
    is_from_shrinkage: bool,
}

impl Movement {
    const fn published(coefficient: f64, shrinkage: f64) -> Self {
        Self { coefficient, shrinkage, saturation: FIBRE_SATURATION, is_from_shrinkage: false }
    }

    fn from_shrinkage(shrinkage: f64) -> Self {
        let coefficient = coefficient_from_shrinkage(shrinkage, FIBRE_SATURATION);
        Self { is_from_shrinkage: true, ..Self::published(coefficient, shrinkage) }
    }

    fn of(self, width_mm: f64, from: f64, to: f64) -> f64 {
        if LINEAR.contains(&from) && LINEAR.contains(&to) {
            return linear_movement_mm(width_mm, self.coefficient, from, to);
        }
        let capped = |moisture: f64| moisture.min(self.saturation);
        let (from, to) = (capped(from), capped(to));
        width_mm * (to - from) / (self.saturation * 100.0 / self.shrinkage - self.saturation + from)
    }
}

/// Movement of a width across the grain, mm, plus swells: Wood Handbook eq. 13-2, for moisture contents
/// (%) from 6 to 14. The coefficient is per % of moisture.
pub fn linear_movement_mm(width_mm: f64, coefficient: f64, from: f64, to: f64) -> f64 {
    width_mm * coefficient * (to - from)
}

/// Movement coefficient per % of moisture from a shrinkage (green to ovendry, %): eq. 13-3 read at 10 %
/// moisture, which is how the handbook's table was made.
pub fn coefficient_from_shrinkage(shrinkage: f64, fibre_saturation: f64) -> f64 {
    shrinkage / (100.0 * fibre_saturation - (fibre_saturation - 10.0) * shrinkage)
}

/// Published figures, radial then tangential. Wood Handbook Tables 13-5 and 4-3/4-4; shrinkages of
/// sitka spruce, maples, pine and redcedar partly from memory.
fn published(species: &str, grain: Grain) -> Result<Vec<Movement>, String> {
    let pick = |radial: Movement, tangential: Movement| match grain {
        Grain::Radial => radial,
        Grain::Tangential => tangential,
    };
    let plain = Movement::published;
    let redcedar = |coefficient, shrinkage| Movement {
        saturation: FIBRE_SATURATION_REDCEDAR,
        ..Movement::published(coefficient, shrinkage)
    };
    Ok(match species {
        "sitka spruce" => vec![pick(plain(0.001_48, 4.3), plain(0.002_63, 7.5))],
        "western redcedar" => vec![pick(redcedar(0.001_11, 2.4), redcedar(0.002_34, 5.0))],
        "sugar maple" => vec![pick(plain(0.001_65, 4.8), plain(0.003_53, 9.9))],
        "bigleaf maple" => vec![pick(plain(0.001_26, 3.7), plain(0.002_48, 7.1))],
        "black walnut" => vec![pick(plain(0.001_90, 5.5), plain(0.002_74, 7.8))],
        "eastern white pine" => vec![pick(plain(0.000_71, 2.1), plain(0.002_12, 6.1))],
        "indian rosewood" => vec![pick(Movement::from_shrinkage(2.7), Movement::from_shrinkage(5.8))],
        // two published tables disagree: both are shown
        "mahogany" => vec![
            pick(Movement::from_shrinkage(3.0), Movement::from_shrinkage(4.1)),
            pick(plain(0.001_72, 5.0), plain(0.002_38, 6.8)),
        ],
        "african ebony" => {
            return Err(
                "The published shrinkage of ebony runs to 12 % moisture, not to ovendry: it cannot be used here."
                    .to_owned(),
            );
        }
        "koa" => return Err("The literature on koa is inconsistent: no figure without a source.".to_owned()),
        other => return Err(format!("No source here gives a figure for “{other}”.")),
    })
}

fn plain_name(species: &str) -> String {
    species.trim().to_lowercase()
}

/// What is known of the wood: its own shrinkage, else as published of its species; `None` where neither is named.
fn figures(input: &AirInput) -> Option<Result<Vec<Movement>, String>> {
    match (input.shrinkage_percent, &input.species, input.grain) {
        (Some(shrinkage), _, _) => Some(Ok(vec![Movement::from_shrinkage(shrinkage)])),
        (None, Some(species), Some(grain)) => Some(published(&plain_name(species), grain)),
        (None, _, _) => None,
    }
}

/// The lower and the higher of what the figures say, mm.
fn movement(figures: &[Movement], width_mm: f64, from: f64, to: f64) -> [f64; 2] {
    let moved = figures.iter().map(|movement| movement.of(width_mm, from, to));
    let (least, most) =
        moved.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), moved| (least.min(moved), most.max(moved)));
    [least, most]
}
