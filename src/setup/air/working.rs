//! How vapour, moisture and movement came about.

use super::{
    AirInput, AirOutput, AirTarget, LINEAR, Movement, Plate, PlateFollows, Sorption, absolute_humidity_g_m3,
    coefficient_from_shrinkage, dew_point_logarithm, vapour_pressure_pa,
};
use crate::working::{Working, Workings};

const MAGNUS: &str = "Magnus formula over water, WMO-No. 8, Annex 4.B";
const EMC: &str = "Wood Handbook FPL-GTR-282 (2021), eq. (4-5)";

/// The working of every number.
pub fn explain(input: &AirInput, output: &AirOutput, workings: &mut Workings) {
    workings.figure("", || vapour(input, output));
    workings.figure("/moisture_content_percent", || {
        moisture("/moisture_content_percent", input.temperature_c, input.rh_percent, output.moisture_content_percent)
    });
    surroundings(input, output, workings);
    let (Some(target), Some(rh_percent)) = (&output.target, input.target_rh_percent) else {
        return;
    };
    workings.figure("/target/moisture_content_percent", || {
        let of = "/target/moisture_content_percent";
        moisture(of, input.temperature_c, rh_percent, target.moisture_content_percent)
    });
    workings.figure("/target/movement_mm", || movements(input, output.moisture_content_percent, target));
    if let Some((hours, days)) = input.time_constant_h.zip(target.days_to_90_percent) {
        workings.figure("/target/days_to_90_percent", || {
            let told = Working::new(
                "/target/days_to_90_percent",
                "days until nine tenths of the way to the wished moisture",
                "d = τ·ln(10)/24",
            )
            .put("τ", "time constant of the instrument", hours, "h")
            .gives(
                days,
                "days",
                "first-order lag, 1 − exp(−t/τ) = 0.9; any text on control or heat transfer",
            );
            vec![told]
        });
    }
}

fn vapour(input: &AirInput, output: &AirOutput) -> Vec<Working> {
    let pressure = output.vapour_pressure_pa;
    let mut chain = vec![
        Working::new("/vapour_pressure_pa", "vapour pressure", "e = φ/100·611.2·exp(17.62·T/(243.12 + T))")
            .put("φ", "relative humidity", input.rh_percent, "%")
            .put("T", "temperature", input.temperature_c, "°C")
            .gives(pressure, "Pa", MAGNUS),
    ];
    if let Some(dew_point) = output.dew_point_c {
        let x = dew_point_logarithm(pressure);
        chain.push(
            Working::new("", "logarithm on the way to the dew point", "x = ln(e/611.2)")
                .put("e", "vapour pressure", pressure, "Pa")
                .gives(x, "", MAGNUS),
        );
        chain.push(
            Working::new("/dew_point_c", "dew point over water", "T_d = 243.12·x/(17.62 − x)")
                .put("x", "logarithm of e/611.2", x, "")
                .gives(dew_point, "°C", "the same formula solved for the temperature"),
        );
    }
    chain.push(
        Working::new("/absolute_humidity_g_m3", "water in the air", "a = 1000·e/(461.5·(T + 273.15))")
            .put("e", "vapour pressure", pressure, "Pa")
            .put("T", "temperature", input.temperature_c, "°C")
            .gives(output.absolute_humidity_g_m3, "g/m³", "ideal gas law, 461.5 J/(kg·K) for water vapour"),
    );
    chain
}

/// Moisture content of wood that has been in this air long enough.
pub(in crate::setup) fn moisture(of: &str, temperature_c: f64, rh_percent: f64, percent: f64) -> Vec<Working> {
    let at = Sorption::at(temperature_c);
    let coefficient = |what: &str, formula: &str, value: f64| {
        Working::new("", format!("{what} of the moisture equation"), formula)
            .put("T", "temperature", temperature_c, "°C")
            .gives(value, "", EMC)
    };
    let formula = "M = 1800/W·(K·h/(1 − K·h) + (K₁·K·h + 2·K₁·K₂·K²·h²)/(1 + K₁·K·h + K₁·K₂·K²·h²))";
    vec![
        coefficient("W", "W = 349 + 1.29·T + 0.0135·T²", at.w),
        coefficient("K", "K = 0.805 + 0.000736·T − 0.00000273·T²", at.k),
        coefficient("K₁", "K₁ = 6.27 − 0.00938·T − 0.000303·T²", at.k1),
        coefficient("K₂", "K₂ = 1.91 + 0.0407·T − 0.000293·T²", at.k2),
        Working::new(of, format!("moisture of wood at {rh_percent} % humidity, about"), formula)
            .put("W", "from the temperature", at.w, "")
            .put("K", "from the temperature", at.k, "")
            .put("h", "relative humidity as a fraction", rh_percent / 100.0, "")
            .put("K₁", "from the temperature", at.k1, "")
            .put("K₂", "from the temperature", at.k2, "")
            .gives(percent, "% of ovendry mass", EMC),
    ]
}

/// Each published figure's movement, and which is the least and the most of them.
fn movements(input: &AirInput, from: f64, target: &AirTarget) -> Vec<Working> {
    let (Some(Ok(figures)), Some(width_mm)) = (super::figures(input), input.width_mm) else {
        return Vec::new();
    };
    let Some([least, most]) = target.movement_mm else {
        return Vec::new();
    };
    let to = target.moisture_content_percent;
    let mut chain = Vec::new();
    for (place, which, result) in [(0, "lower", least), (1, "higher", most)] {
        let Some(figure) = figures.iter().find(|figure| figure.of(width_mm, from, to) == result) else {
            continue;
        };
        let what = format!("movement of the width, the {which} of the published figures; minus shrinks");
        chain.extend(movement(&format!("/target/movement_mm/{place}"), what, *figure, (width_mm, from, to), result));
    }
    chain
}

fn movement(
    of: &str,
    what: String,
    figure: Movement,
    (width_mm, from, to): (f64, f64, f64),
    result: f64,
) -> Vec<Working> {
    if !(LINEAR.contains(&from) && LINEAR.contains(&to)) {
        let told = Working::new(of, what, "ΔD = D·(min(M₂, M_f) − min(M₁, M_f))/(100·M_f/S − M_f + min(M₁, M_f))")
            .put("D", "width across the grain", width_mm, "mm")
            .put("M₂", "moisture content wished", to, "%")
            .put("M_f", "moisture content at which wood begins to shrink", figure.saturation, "%")
            .put("M₁", "moisture content now", from, "%")
            .put("S", "shrinkage from green to ovendry", figure.shrinkage, "%")
            .gives(result, "mm", "Wood Handbook FPL-GTR-282 (2021), eq. (13-3), form from memory; Tables 4-3 and 4-4");
        return vec![told];
    }
    let mut chain = Vec::new();
    if figure.is_from_shrinkage {
        let coefficient = coefficient_from_shrinkage(figure.shrinkage, figure.saturation);
        chain.push(
            Working::new("", "movement coefficient per % of moisture", "C = S/(100·M_f − (M_f − 10)·S)")
                .put("S", "shrinkage from green to ovendry", figure.shrinkage, "%")
                .put("M_f", "moisture content at which wood begins to shrink", figure.saturation, "%")
                .gives(coefficient, "per %", "derived here: Wood Handbook eq. (13-3) read at 10 % moisture"),
        );
    }
    chain.push(
        Working::new(of, what, "ΔD = D·C·(M₂ − M₁)")
            .put("D", "width across the grain", width_mm, "mm")
            .put("C", "movement coefficient per % of moisture", figure.coefficient, "per %")
            .put("M₂", "moisture content wished", to, "%")
            .put("M₁", "moisture content now", from, "%")
            .gives(result, "mm", "Wood Handbook FPL-GTR-282 (2021), eq. (13-2), Table 13-5"),
    );
    chain
}

/// Parts of the series that are put in: the later ones are gone long before half of the change.
const TOLD_MODES: usize = 10;

/// Of a case, a plate and the air outside.
fn surroundings(input: &AirInput, output: &AirOutput, workings: &mut Workings) {
    if let (Some(water), Some(litres), Some(wood_g), Some(target), Some(rh_percent)) =
        (output.case_water, input.case_volume_l, input.wood_g, &output.target, input.target_rh_percent)
    {
        workings.figure("/case_water/air_g", || {
            let wished = vapour_pressure_pa(input.temperature_c, rh_percent);
            let told = Working::new("/case_water/air_g", "water into the air of the case", "m = V·(a₂ − a₁)/1000")
                .put("V", "air in the case", litres, "l")
                .put("a₂", "absolute humidity wished", absolute_humidity_g_m3(input.temperature_c, wished), "g/m³")
                .put("a₁", "absolute humidity now", output.absolute_humidity_g_m3, "g/m³")
                .gives(water.air_g, "g", "a difference of masses of vapour");
            vec![told]
        });
        workings.figure("/case_water/wood_g", || {
            let weighed = input.wood_moisture_percent.unwrap_or(output.moisture_content_percent);
            let told = Working::new(
                "/case_water/wood_g",
                "water into the wood in the case",
                "m = m_w/(1 + M/100)·(M₂ − M₁)/100",
            )
            .put("m_w", "wood as weighed", wood_g, "g")
            .put("M", "its moisture content when weighed", weighed, "%")
            .put("M₂", "moisture content wished", target.moisture_content_percent, "%")
            .put("M₁", "moisture content now", output.moisture_content_percent, "%")
            .gives(water.wood_g, "g", "moisture content is water over ovendry mass, Wood Handbook ch. 4");
            vec![told]
        });
    }
    if let Some((plate, follows)) = input.plate.zip(output.plate) {
        workings.figure("/plate", || plate_follows(&plate, follows));
    }
    if let Some((outside, warmed)) = input.outside.zip(output.outside) {
        workings.figure("/outside/indoors_rh_percent", || {
            let told = Working::new(
                "/outside/indoors_rh_percent",
                "relative humidity of the outdoor air once it is inside",
                "φ = min(100·e/e_s, 100)",
            )
            .put("e", "its vapour pressure", vapour_pressure_pa(outside.temperature_c, outside.rh_percent), "Pa")
            .put("e_s", "saturation pressure indoors", vapour_pressure_pa(input.temperature_c, 100.0), "Pa")
            .gives(warmed.indoors_rh_percent, "%", MAGNUS);
            vec![told]
        });
    }
}

fn plate_follows(plate: &Plate, follows: PlateFollows) -> Vec<Working> {
    const CRANK: &str = "Crank, The Mathematics of Diffusion, from memory";
    let modes = plate.modes();
    let beta = modes.first().map_or(0.0, |mode| mode.beta);
    let mut chain = vec![
        Working::new("/plate/time_constant_h", "time constant of the plate's slowest part", "τ = L²/(D·β²)/3600")
            .put("L", "half the thickness, or the whole where one face breathes", plate.length_m(), "m")
            .put("D", "diffusivity of moisture in the wood", plate.diffusivity_m2_s, "m²/s")
            .put("β", "π/2, or with a film the first root of β·tan β = S·L/D", beta, "")
            .gives(follows.time_constant_h, "h", CRANK),
    ];
    for (field, share, time) in [("half_h", 0.5, follows.half_h), ("ninety_percent_h", 0.9, follows.ninety_percent_h)] {
        let what = format!("time until {} % of the change", share * 100.0);
        let told = &modes[..TOLD_MODES.min(modes.len())];
        chain.push(
            Working::new(format!("/plate/{field}"), what, "Σ(wᵢ·exp(−rᵢ·t)) = 1 − E")
                .put_each("w", "share of part", told.iter().map(|mode| mode.weight), "")
                .put_each("r", "rate of part", told.iter().map(|mode| mode.per_h), "1/h")
                .put("E", "share of the change", share, "")
                .gives(time, "h", CRANK),
        );
    }
    chain
}
