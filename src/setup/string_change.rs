//! `string-change`: another set on the same instrument, before anybody puts it on.
//!
//! Pull by T = μ(2Lf)² (see [`super::tension`]), set-backs and cents by the chain of [`super::intonation`],
//! load on the bridge by [`super::statics`]. What the neck does is told by its sign; by an amount only as a
//! wide range, from a stated assumption or from the instrument's own readings.

mod relief;
mod warnings;
mod working;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::clearance::StringHeights;
use super::intonation::{Chain, IntonationInput, IntonationString, SetBacks, intonation};
use super::limits::{A4_HZ, DIAMETER_MM, HEIGHT_MM, MOST_FRETS, MOST_STRINGS, SCALE_MM, SIGNED_MM};
use super::plan::PlanFamily;
use super::statics::{BreakAngle, FRICTION_PLAIN, FRICTION_WOUND, turning_moment_nm};
use super::tension::{
    Material, PITCH_FORM, linear_density, pitch_hz, standard_pitch, tension_n, wound_linear_density_g_m,
};
use crate::problem::Problems;

pub use relief::{ReliefEffect, ReliefFrom, ReliefPair, ReliefSign};
pub use warnings::{Warning, breaking_stress_mpa};
pub use working::explain;

/// What `string-change` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StringChangeInput {
    /// Nominal scale, mm.
    pub scale_mm: f64,
    /// How many frets.
    #[serde(default = "usual_frets")]
    pub frets: usize,
    /// Standard pitch, Hz.
    #[serde(default = "standard_pitch")]
    pub a4_hz: f64,
    /// What the instrument is, where known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub family: Option<PlanFamily>,
    /// The strings on it, string 1 first.
    pub now: Vec<ChangeString>,
    /// Those to come, as many, in the same order.
    pub next: Vec<ChangeString>,
    /// Heights of each string, where read: set-backs need them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heights: Option<Vec<StringHeights>>,
    /// Relief as it is, mm.
    #[serde(default)]
    pub relief_mm: f64,
    /// Fret at the body joint; needed with relief, and for an amount of relief to come.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub body_fret: Option<usize>,
    /// What earlier changes of pull did to this neck.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub relief_pairs: Vec<ReliefPair>,
    /// How the strings come down on both sides of the saddle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub break_angle: Option<BreakAngle>,
    /// Strings over the top at the bridge, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height_over_top_mm: Option<f64>,
}

fn usual_frets() -> usize {
    20
}

/// One string of a set.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChangeString {
    /// "E2", "F#3", "Bb1".
    pub pitch: String,
    /// Of the string, or of its core.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub material: Option<Material>,
    /// Outer diameter, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub diameter_mm: Option<f64>,
    /// Whether it is wound; it is when it has a core or a wrap.
    #[serde(default)]
    pub wound: bool,
    /// Core of a wound string, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub core_diameter_mm: Option<f64>,
    /// Wire of the wrap, mm; half of what the core leaves when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wrap_diameter_mm: Option<f64>,
    /// What is wrapped round; bronze when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wrap_metal: Option<WrapMetal>,
    /// Stated or weighed, g/m; wins over everything else.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub linear_density_g_m: Option<f64>,
    /// Of this string, where it is not the instrument's, mm: a banjo's fifth, fanned frets.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale_mm: Option<f64>,
}

/// What a string is wound with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum WrapMetal {
    /// 8800 kg/m³ (from memory).
    Bronze,
    /// Plated or stainless, 7850 kg/m³.
    Steel,
}

impl WrapMetal {
    fn density_kg_m3(self) -> f64 {
        match self {
            Self::Bronze => 8800.0,
            Self::Steel => 7850.0,
        }
    }
}

/// What `string-change` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StringChangeOutput {
    /// String by string.
    pub strings: Vec<StringChanged>,
    /// Pull of all together, N.
    pub total_n: Change,
    /// Turning moment on the bridge, N·m; with the height over the top.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bridge_moment_nm: Option<Change>,
    /// Pressed down on the saddle by all together, N; with the break angle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub saddle_down_n: Option<Change>,
    /// What the neck will do.
    pub relief: ReliefEffect,
    /// Whether one of the warnings says stop.
    pub stopped: bool,
    /// The gravest first.
    pub warnings: Vec<Warning>,
    /// Keys of the usual cautions.
    pub cautions: Vec<String>,
}

/// Before, after and between.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Change {
    /// With the strings on it.
    pub now: f64,
    /// With those to come.
    pub next: f64,
    /// Next less now.
    pub change: f64,
    /// The same as a share of now, %.
    pub change_percent: f64,
}

impl Change {
    fn new(now: f64, next: f64) -> Self {
        Self { now, next, change: next - now, change_percent: 100.0 * (next - now) / now }
    }
}

/// One string, before and after.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StringChanged {
    /// The string on it.
    pub now: OneString,
    /// The string to come.
    pub next: OneString,
    /// Pull, N.
    pub tension_n: Change,
    /// Error of the next string at the 12th where the saddle suits the present one, cents; null where the
    /// heights or a core are not known.
    pub cents_at_12_if_saddle_stays: Option<f64>,
    /// How much thicker the next is, mm; null where a diameter is not known.
    pub thicker_mm: Option<f64>,
}

/// One string's figures.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OneString {
    /// Hz.
    pub frequency_hz: f64,
    /// g/m.
    pub linear_density_g_m: f64,
    /// N.
    pub tension_n: f64,
    /// Saddle's set-back for the 12th in tune, mm; null where the heights or a core are not known.
    pub saddle_setback_mm: Option<f64>,
    /// Of a plain steel string's breaking stress; null for others, which no table here covers.
    pub share_of_breaking: Option<f64>,
    /// The least pull behind the saddle while friction holds, N; with the break angle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_behind_saddle_n: Option<f64>,
}

/// What another set does to an instrument.
///
/// # Errors
/// When a string is not described enough, the sets differ in number, or a number is out of range.
pub fn string_change(input: &StringChangeInput) -> Result<StringChangeOutput, Problems> {
    let mut problems = Problems::default();
    check(&mut problems, input);
    let now = set(&mut problems, input, "now", &input.now);
    let next = set(&mut problems, input, "next", &input.next);
    problems.check()?;

    let pairs = now.iter().zip(&next).zip(input.now.iter().zip(&input.next));
    let strings: Vec<StringChanged> = (0..)
        .zip(pairs)
        .map(|(place, ((now, next), (string_now, string_next)))| {
            let diameters = string_next.diameter_mm.zip(string_now.diameter_mm);
            StringChanged {
                now: *now,
                next: *next,
                tension_n: Change::new(now.tension_n, next.tension_n),
                cents_at_12_if_saddle_stays: now
                    .saddle_setback_mm
                    .and_then(|set_back| cents_at_12(input, place, string_next, set_back)),
                thicker_mm: diameters.map(|(next, now)| next - now),
            }
        })
        .collect();
    let sum = |set: &[OneString]| set.iter().map(|string| string.tension_n).sum::<f64>();
    let total_n = Change::new(sum(&now), sum(&next));
    let warnings = warnings::warnings(input, &strings, total_n);
    Ok(StringChangeOutput {
        total_n,
        bridge_moment_nm: input
            .height_over_top_mm
            .map(|height| Change::new(turning_moment_nm(total_n.now, height), turning_moment_nm(total_n.next, height))),
        saddle_down_n: input
            .break_angle
            .map(|angle| Change::new(angle.down_n(total_n.now), angle.down_n(total_n.next))),
        relief: relief::effect(input, total_n),
        stopped: warnings.iter().any(|warning| warning.stop),
        warnings,
        cautions: vec!["string-tension".to_owned()],
        strings,
    })
}

fn check(problems: &mut Problems, input: &StringChangeInput) {
    problems.within("/scale_mm", input.scale_mm, SCALE_MM.0, SCALE_MM.1);
    problems.require((1..=MOST_FRETS).contains(&input.frets), "/frets", format_args!("must be from 1 to {MOST_FRETS}"));
    problems.within("/a4_hz", input.a4_hz, A4_HZ.0, A4_HZ.1);
    problems.count("/now", input.now.len(), 1, MOST_STRINGS);
    problems.count("/next", input.next.len(), 1, MOST_STRINGS);
    let same = |length: usize| length == input.now.len();
    problems.require(
        same(input.next.len()),
        "/next",
        format_args!("must have as many strings as now ({})", input.now.len()),
    );
    if let Some(heights) = &input.heights {
        problems.require(
            same(heights.len()),
            "/heights",
            format_args!("must have one entry a string ({})", input.now.len()),
        );
        for (place, heights) in heights.iter().enumerate() {
            let at = format!("/heights/{place}");
            problems.within(format_args!("{at}/first_fret_mm"), heights.first_fret_mm, HEIGHT_MM.0, HEIGHT_MM.1);
            problems.within(format_args!("{at}/action_12_mm"), heights.action_12_mm, HEIGHT_MM.0, HEIGHT_MM.1);
        }
    }
    problems.within("/relief_mm", input.relief_mm, SIGNED_MM.0, SIGNED_MM.1);
    match input.body_fret {
        Some(body) => {
            problems.require(
                (2..=MOST_FRETS).contains(&body),
                "/body_fret",
                format_args!("must be from 2 to {MOST_FRETS}"),
            );
        }
        None => problems.require(input.relief_mm == 0.0, "/body_fret", "is needed with relief"),
    }
    relief::check(problems, &input.relief_pairs);
    if let Some(angle) = input.break_angle {
        angle.check(problems, "/break_angle");
    }
    problems.within_if_given("/height_over_top_mm", input.height_over_top_mm, HEIGHT_MM.0, HEIGHT_MM.1);
}

/// The figures of one set; shorter than the set where something is wrong, which is then noted.
fn set(problems: &mut Problems, input: &StringChangeInput, name: &str, strings: &[ChangeString]) -> Vec<OneString> {
    let rows = strings.iter().enumerate().filter_map(|(place, string)| {
        let at = format!("/{name}/{place}");
        let frequency = pitch_hz(&string.pitch, input.a4_hz);
        problems.require(frequency.is_some(), format_args!("{at}/pitch"), PITCH_FORM);
        problems.within_if_given(format_args!("{at}/scale_mm"), string.scale_mm, SCALE_MM.0, SCALE_MM.1);
        let density = density(problems, &at, string);
        let (frequency_hz, linear_density_g_m) = frequency.zip(density)?;
        let tension_n = tension_n(string.scale_mm.unwrap_or(input.scale_mm), frequency_hz, linear_density_g_m);
        Some(OneString {
            frequency_hz,
            linear_density_g_m,
            tension_n,
            saddle_setback_mm: saddle_setback_mm(input, place, string),
            share_of_breaking: warnings::share_of_breaking(string, tension_n),
            least_behind_saddle_n: input.break_angle.map(|angle| angle.least_beyond_n(tension_n, string.friction())),
        })
    });
    rows.collect()
}

impl ChangeString {
    /// The wrap's wire, mm: as stated, or half of what the core leaves.
    fn wrap_mm(&self) -> Option<f64> {
        let of_outer = self.diameter_mm.zip(self.core_diameter_mm).map(|(outer, core)| (outer - core) / 2.0);
        self.wrap_diameter_mm.or(of_outer)
    }

    fn wrap_kg_m3(&self) -> f64 {
        self.wrap_metal.unwrap_or(WrapMetal::Bronze).density_kg_m3()
    }

    fn friction(&self) -> f64 {
        if self.is_wound() { FRICTION_WOUND } else { FRICTION_PLAIN }
    }

    fn is_wound(&self) -> bool {
        self.wound || self.core_diameter_mm.is_some() || self.wrap_diameter_mm.is_some() || self.wrap_metal.is_some()
    }
}

fn density(problems: &mut Problems, at: &str, string: &ChangeString) -> Option<f64> {
    for (name, length) in [("core_diameter_mm", string.core_diameter_mm), ("wrap_diameter_mm", string.wrap_diameter_mm)]
    {
        problems.within_if_given(format_args!("{at}/{name}"), length, DIAMETER_MM.0, DIAMETER_MM.1);
    }
    if string.linear_density_g_m.is_some() || !string.is_wound() {
        return linear_density(problems, at, string.material, string.diameter_mm, string.linear_density_g_m);
    }
    problems.within_if_given(format_args!("{at}/diameter_mm"), string.diameter_mm, DIAMETER_MM.0, DIAMETER_MM.1);
    let stated = format!("{at}/linear_density_g_m");
    match (string.material, string.core_diameter_mm, string.wrap_mm()) {
        (Some(Material::Nylon | Material::Fluorocarbon), _, _) => {
            problems
                .note(stated, "must be stated for a wound string with a core of fine threads: no diameter gives it");
            None
        }
        (Some(material), Some(core), Some(wrap)) if wrap > 0.0 => {
            Some(wound_linear_density_g_m(core, material.density_kg_m3(), wrap, string.wrap_kg_m3()))
        }
        _ => {
            problems.note(
                stated,
                "give this of a wound string, or its material, core_diameter_mm and a thicker diameter_mm or \
                 wrap_diameter_mm",
            );
            None
        }
    }
}

/// The string as `intonation` takes it, on this board; `None` without its heights.
fn on_board(input: &StringChangeInput, place: usize, string: &ChangeString) -> Option<IntonationInput> {
    let heights = input.heights.as_ref()?.get(place)?;
    let is_bare_wound = string.is_wound() && string.core_diameter_mm.is_none();
    if is_bare_wound {
        return None;
    }
    let is_wound = string.is_wound();
    let density = density(&mut Problems::default(), "", string)?;
    Some(IntonationInput {
        scale_mm: string.scale_mm.unwrap_or(input.scale_mm),
        frets: input.frets.max(12),
        first_fret_mm: heights.first_fret_mm,
        action_12_mm: heights.action_12_mm,
        relief_mm: input.relief_mm,
        body_fret: input.body_fret,
        a4_hz: input.a4_hz,
        saddle_setback_mm: 0.0,
        nut_setback_mm: 0.0,
        clamped_ends: 1,
        uncertainty: None,
        string: IntonationString {
            pitch: string.pitch.clone(),
            material: string.material,
            diameter_mm: if is_wound { None } else { string.diameter_mm },
            core_diameter_mm: string.core_diameter_mm,
            linear_density_g_m: Some(density),
            modulus_gpa: None,
            stretch_ratio: None,
        },
    })
}

fn saddle_setback_mm(input: &StringChangeInput, place: usize, string: &ChangeString) -> Option<f64> {
    intonation(&on_board(input, place, string)?).ok().map(|found| found.best_saddle_setback_mm)
}

fn cents_at_12(input: &StringChangeInput, place: usize, string: &ChangeString, saddle_setback_mm: f64) -> Option<f64> {
    let chain = Chain::new(&on_board(input, place, string)?, 0.0).ok()?;
    let cents = chain.cents(SetBacks { saddle_setback_mm, nut_setback_mm: 0.0 });
    cents.get(11).copied().filter(|cents| cents.is_finite())
}
