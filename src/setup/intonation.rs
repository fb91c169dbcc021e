//! `intonation`: how sharp each fretted note is, why, and which set-backs mend it.
//!
//! The chain of length, mass, tension and stiffness as in Anderson and Beausoleil, "Classical guitar
//! intonation and compensation", JASA 156 (2024) 683, with one clamped end (k = 1): clamped at fret or
//! nut, hinged at the saddle. The line through the two height readings is kept when set-backs vary.
//! Measured cents of a real string outrank this forecast; hearing studies find the last cent inaudible.

mod search;
mod unsure;
pub(super) mod working;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::frame::{Board, Frame, StringLine, ratio};
use super::limits::{A4_HZ, DIAMETER_MM, HEIGHT_MM, MOST_FRETS, SCALE_MM, SIGNED_MM};
use super::tension::{Material, PITCH_FORM, linear_density, pitch_hz, standard_pitch, tension_n};
use crate::problem::Problems;

pub use unsure::IntonationUncertainty;
pub use working::{explain, setback_to_add};

/// κ = EA/T of nylon, fluorocarbon and wound nylon: their modulus rises with stress, so the ratio stays
/// (Anderson and Beausoleil: √κ = 7.1 ± 0.3).
const USUAL_STRETCH_RATIO: f64 = 50.0;
/// Cents in a ratio of e: 1200/ln 2.
const CENTS_PER_E: f64 = 1200.0 / std::f64::consts::LN_2;

/// What `intonation` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct IntonationInput {
    /// Nominal scale, mm.
    #[schemars(range(min = SCALE_MM.0, max = SCALE_MM.1))]
    pub scale_mm: f64,
    /// How many frets.
    pub frets: usize,
    /// Open height over fret 1, mm.
    #[schemars(range(min = HEIGHT_MM.0, max = HEIGHT_MM.1))]
    pub first_fret_mm: f64,
    /// Height over fret 12, mm.
    #[schemars(range(min = HEIGHT_MM.0, max = HEIGHT_MM.1))]
    pub action_12_mm: f64,
    /// Relief, mm.
    #[serde(default)]
    #[schemars(range(min = SIGNED_MM.0, max = SIGNED_MM.1))]
    pub relief_mm: f64,
    /// Fret at the body joint; needed with relief.
    #[serde(default)]
    pub body_fret: Option<usize>,
    /// Standard pitch, Hz.
    #[serde(default = "standard_pitch")]
    #[schemars(range(min = A4_HZ.0, max = A4_HZ.1))]
    pub a4_hz: f64,
    /// Plus is away from the frets, mm.
    #[serde(default)]
    pub saddle_setback_mm: f64,
    /// Plus is away from the frets, mm.
    #[serde(default)]
    pub nut_setback_mm: f64,
    /// Ends held stiffly: 0, 1 or 2.
    #[serde(default = "one_clamped_end")]
    pub clamped_ends: u8,
    /// The string.
    pub string: IntonationString,
    /// How well the inputs are known; with it the best set-back carries its expanded uncertainty.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<IntonationUncertainty>,
}

fn one_clamped_end() -> u8 {
    1
}

/// The string. Its core stretches and bends; a winding only adds mass.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct IntonationString {
    /// "B3".
    pub pitch: String,
    /// Of the string, or of its core.
    #[serde(default)]
    pub material: Option<Material>,
    /// Outer diameter, mm.
    #[serde(default)]
    pub diameter_mm: Option<f64>,
    /// Core diameter of a wound string, mm.
    #[serde(default)]
    pub core_diameter_mm: Option<f64>,
    /// Mass per length, g/m.
    #[serde(default)]
    pub linear_density_g_m: Option<f64>,
    /// Young's modulus of the core, GPa.
    #[serde(default)]
    pub modulus_gpa: Option<f64>,
    /// κ = EA/T, instead of a modulus.
    #[serde(default)]
    pub stretch_ratio: Option<f64>,
}

/// How a string stretches.
#[derive(Debug, Clone, Copy)]
enum Stretch {
    /// κ = EA/T.
    Ratio(f64),
    /// Young's modulus, GPa.
    Modulus(f64),
}

impl IntonationString {
    /// As stated, else as usual for the material.
    fn stretch(&self) -> Stretch {
        match (self.stretch_ratio, self.modulus_gpa, self.material) {
            (Some(ratio), _, _) => Stretch::Ratio(ratio),
            (None, Some(modulus), _) => Stretch::Modulus(modulus),
            (None, None, Some(Material::Steel)) => Stretch::Modulus(200.0),
            (None, None, Some(Material::Gut)) => Stretch::Modulus(6.0),
            (None, None, Some(Material::Nylon | Material::Fluorocarbon) | None) => Stretch::Ratio(USUAL_STRETCH_RATIO),
        }
    }
}

/// What `intonation` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct IntonationOutput {
    /// Error of each fretted note at the given set-backs, cents, fret 1 first.
    pub cents: Vec<f64>,
    /// What it is made of.
    pub parts: Vec<Parts>,
    /// Set-back that puts the 12th in tune with the nut as given, mm.
    pub best_saddle_setback_mm: f64,
    /// Expanded uncertainty (95 %) of that, mm, where the inputs' uncertainties were given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub best_saddle_expanded_mm: Option<f64>,
    /// Least squares over all frets.
    pub best_pair: SetBacks,
    /// Expanded uncertainties (95 %) of that pair, mm, where the inputs' uncertainties were given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub best_pair_expanded: Option<SetBacks>,
    /// Root mean square over all frets.
    pub rms_cents: Rms,
    /// Nominal tension, N.
    pub tension_n: f64,
    /// κ used.
    pub stretch_ratio: f64,
    /// ε = √(EI/(TL²)) used.
    pub stiffness: f64,
}

/// Shares of one note's error, cents.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Parts {
    /// The sounding part is not the nominal length.
    pub length: f64,
    /// Stretched string is lighter.
    pub mass: f64,
    /// Pressing stretches.
    pub tension: f64,
    /// Bending stiffness shortens what sounds.
    pub stiffness: f64,
}

/// Two set-backs, mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SetBacks {
    /// At the saddle.
    pub saddle_setback_mm: f64,
    /// At the nut.
    pub nut_setback_mm: f64,
}

/// Root mean square errors, cents.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Rms {
    /// With no set-back at all.
    pub without: f64,
    /// With the best pair.
    pub with_best_pair: f64,
}

/// Errors and best set-backs of one string.
///
/// # Errors
/// When the string is not described enough, a number is out of range, or the numbers together make no
/// string that could be brought into tune.
pub fn intonation(input: &IntonationInput) -> Result<IntonationOutput, Problems> {
    let chain = Chain::new(input, 0.0)?;
    let given = SetBacks { saddle_setback_mm: input.saddle_setback_mm, nut_setback_mm: input.nut_setback_mm };
    let parts = chain.parts(given);
    let cents: Vec<f64> = parts.iter().map(Parts::sum).collect();
    let best_saddle = chain.best_saddle(input.nut_setback_mm);
    let (best_pair, rms_cents) = chain.best_pair();

    // a search that ran away makes things worse, or no number at all
    let (Some(best_saddle_setback_mm), true) = (best_saddle, rms_cents.with_best_pair <= rms_cents.without) else {
        let mut problems = Problems::default();
        problems.note("/string", "cannot be tuned with these heights and this scale: check pitch, diameter and mass");
        return Err(problems);
    };
    let (best_saddle_expanded_mm, best_pair_expanded) = match input.uncertainty {
        Some(of) => {
            let shifts = unsure::Shifts::of(input, of, best_saddle_setback_mm, best_pair)?;
            (shifts.expanded_mm(|best| best.saddle_mm), shifts.pair_expanded())
        }
        None => (None, None),
    };
    Ok(IntonationOutput {
        cents,
        parts,
        best_saddle_setback_mm,
        best_saddle_expanded_mm,
        best_pair,
        best_pair_expanded,
        rms_cents,
        tension_n: chain.tension_n,
        stretch_ratio: chain.stretch_ratio,
        stiffness: chain.stiffness_mm / input.scale_mm,
    })
}

impl Parts {
    /// The whole error, cents.
    pub fn sum(&self) -> f64 {
        self.length + self.mass + self.tension + self.stiffness
    }
}

/// One string on one board, ready to be asked for any set-backs.
#[derive(Debug, Clone)]
pub struct Chain {
    frame: Frame,
    line: StringLine,
    frets: usize,
    finger_mm: f64,
    clamped_ends: f64,
    tension_n: f64,
    stretch_ratio: f64,
    core_mm: f64,
    /// √(EI/T), mm; over a length it is ε.
    stiffness_mm: f64,
}

impl Chain {
    /// From an input and the distance of the finger behind the fret (0: the bend is left out), mm.
    ///
    /// # Errors
    /// When the string is not described enough, or a number is out of range.
    pub fn new(input: &IntonationInput, finger_mm: f64) -> Result<Self, Problems> {
        let mut problems = Problems::default();
        check(&mut problems, input);
        let string = &input.string;
        let frequency = pitch_hz(&string.pitch, input.a4_hz);
        problems.require(frequency.is_some(), "/string/pitch", PITCH_FORM);
        let density =
            linear_density(&mut problems, "/string", string.material, string.diameter_mm, string.linear_density_g_m);
        let core = string.core_diameter_mm.or(string.diameter_mm);
        problems.require(
            core.is_some(),
            "/string/core_diameter_mm",
            "give this, or diameter_mm of a plain string: bending needs it",
        );
        problems.check()?;
        let (Some(frequency), Some(density), Some(core)) = (frequency, density, core) else {
            return Err(problems);
        };

        let tension = tension_n(input.scale_mm, frequency, density);
        let area_mm2 = std::f64::consts::PI * core * core / 4.0;
        // 1 GPa·mm² is 1000 N
        let of_modulus = |modulus_gpa: f64| modulus_gpa * 1000.0 * area_mm2 / tension;
        let stretch_ratio = match string.stretch() {
            Stretch::Ratio(ratio) => ratio,
            Stretch::Modulus(modulus_gpa) => of_modulus(modulus_gpa),
        };
        let board = board(input);
        let frame = Frame::new(input.scale_mm, input.frets, &board);
        Ok(Self {
            line: frame.string(input.first_fret_mm, input.action_12_mm),
            frame,
            frets: input.frets,
            finger_mm,
            clamped_ends: f64::from(input.clamped_ends),
            tension_n: tension,
            stretch_ratio,
            core_mm: core,
            // EI/T = κ·I/A = κ·d²/16
            stiffness_mm: stretch_ratio.sqrt() * core / 4.0,
        })
    }

    /// The same string with its κ times `factor`.
    fn with_stretch(&self, factor: f64) -> Self {
        Self {
            stretch_ratio: self.stretch_ratio * factor,
            stiffness_mm: self.stiffness_mm * factor.sqrt(),
            ..self.clone()
        }
    }

    /// The same string with a core that is thicker by `more_mm`, at the same modulus and mass.
    fn with_core(&self, more_mm: f64) -> Self {
        let factor = (self.core_mm + more_mm) / self.core_mm;
        Self {
            core_mm: self.core_mm + more_mm,
            // EA/T grows with d², √(EI/T) with d²
            stretch_ratio: self.stretch_ratio * factor * factor,
            stiffness_mm: self.stiffness_mm * factor * factor,
            ..self.clone()
        }
    }

    /// Errors at given set-backs, cents, fret 1 first.
    pub fn cents(&self, set: SetBacks) -> Vec<f64> {
        (1..=self.frets).map(|fret| self.cents_at(fret, set)).collect()
    }

    /// Error of one fretted note at given set-backs, cents.
    pub fn cents_at(&self, fret: usize, set: SetBacks) -> f64 {
        self.note(fret, set).cents
    }

    /// Errors by cause at given set-backs.
    pub fn parts(&self, set: SetBacks) -> Vec<Parts> {
        (1..=self.frets).map(|fret| self.at(fret, set)).collect()
    }

    fn at(&self, fret: usize, set: SetBacks) -> Parts {
        let on = self.on_the_way(fret, set);
        let (stretch, pull) = (on.stretch, self.stretch_ratio * on.stretch);
        Parts {
            length: CENTS_PER_E * (on.open_mm / (ratio(fret) * on.sounding_mm)).ln(),
            mass: CENTS_PER_E * stretch.ln_1p() / 2.0,
            tension: CENTS_PER_E * pull.ln_1p() / 2.0,
            stiffness: CENTS_PER_E * (self.sharpening(on.epsilon) / self.sharpening(on.epsilon_open)).ln(),
        }
    }

    fn on_the_way(&self, fret: usize, set: SetBacks) -> OnTheWay {
        let scale = self.frame.scale_mm();
        let (x, top) = (self.frame.position_mm(fret), self.frame.top_mm(fret));
        let (saddle_x, nut_x) = (scale + set.saddle_setback_mm, -set.nut_setback_mm);
        let open = (saddle_x - nut_x) * slant(1.0, self.line.slope);
        let saddle_over = self.line.height_mm(saddle_x) - top;
        let nut_over = self.line.height_mm(nut_x) - top;
        let sounding = slant(saddle_x - x, saddle_over);
        let dip = saddle_over / (saddle_x - x);
        let finger = self.finger_mm;
        let before_finger = slant(x - nut_x - finger, nut_over + dip * finger);
        let behind = finger * slant(1.0, dip) + before_finger;
        let stretch = (sounding + behind - open) / open;
        let pull = 1.0 + self.stretch_ratio * stretch;
        OnTheWay {
            open_mm: open,
            saddle_over_mm: saddle_over,
            nut_over_mm: nut_over,
            sounding_mm: sounding,
            before_finger_mm: before_finger,
            behind_mm: behind,
            stretch,
            epsilon_open: self.stiffness_mm / open,
            epsilon: self.stiffness_mm / (sounding * pull.sqrt()),
        }
    }

    /// S(ε) = 1 + kε + (k² + π²/2)ε².
    fn sharpening(&self, epsilon: f64) -> f64 {
        let k = self.clamped_ends;
        1.0 + k * epsilon + (k * k + std::f64::consts::PI.powi(2) / 2.0) * epsilon * epsilon
    }
}

/// Length of a straight piece that runs and rises so much, mm. Lengths of a string need no `hypot`, which
/// guards against overflow at ten times the price.
fn slant(run_mm: f64, rise_mm: f64) -> f64 {
    (run_mm * run_mm + rise_mm * rise_mm).sqrt()
}

/// What lies between a fret and its parts.
#[derive(Debug, Clone, Copy)]
struct OnTheWay {
    open_mm: f64,
    saddle_over_mm: f64,
    nut_over_mm: f64,
    sounding_mm: f64,
    /// The piece between nut and finger.
    before_finger_mm: f64,
    behind_mm: f64,
    stretch: f64,
    epsilon_open: f64,
    epsilon: f64,
}

fn check(problems: &mut Problems, input: &IntonationInput) {
    problems.within("/scale_mm", input.scale_mm, SCALE_MM.0, SCALE_MM.1);
    // one fret alone cannot tell two set-backs apart
    problems.require((2..=MOST_FRETS).contains(&input.frets), "/frets", format_args!("must be from 2 to {MOST_FRETS}"));
    problems.within("/first_fret_mm", input.first_fret_mm, HEIGHT_MM.0, HEIGHT_MM.1);
    problems.within("/action_12_mm", input.action_12_mm, HEIGHT_MM.0, HEIGHT_MM.1);
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
    problems.within("/a4_hz", input.a4_hz, A4_HZ.0, A4_HZ.1);
    // a fiftieth of the scale is far beyond any saddle; where the scale is at fault itself, of the nearest that is not
    let most = (input.scale_mm.max(SCALE_MM.0) / 50.0).min(SIGNED_MM.1);
    problems.within("/saddle_setback_mm", input.saddle_setback_mm, -most, most);
    problems.within("/nut_setback_mm", input.nut_setback_mm, -most, most);
    problems.require(input.clamped_ends <= 2, "/clamped_ends", "must be 0, 1 or 2");
    let string = &input.string;
    problems.within_if_given("/string/core_diameter_mm", string.core_diameter_mm, DIAMETER_MM.0, DIAMETER_MM.1);
    problems.within_if_given("/string/modulus_gpa", string.modulus_gpa, 0.1, 500.0);
    problems.within_if_given("/string/stretch_ratio", string.stretch_ratio, 1.0, 2000.0);
    let both = string.modulus_gpa.is_some() && string.stretch_ratio.is_some();
    problems.require(!both, "/string/stretch_ratio", "give either this or modulus_gpa");
    if let Some(uncertainty) = &input.uncertainty {
        uncertainty.check(problems);
    }
}

fn board(input: &IntonationInput) -> Board<'static> {
    Board { body_fret: input.body_fret, relief_mm: input.relief_mm, ..Board::default() }
}
