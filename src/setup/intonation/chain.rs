//! The chain of length, mass, tension and stiffness of one string on one board.

use super::input::{IntonationInput, IntonationString, MOST_BEHIND_MM};
use super::output::{Parts, SetBacks};
use crate::problem::Problems;
use crate::setup::frame::{Board, Frame, StringLine, fret_position_mm, ratio};
use crate::setup::limits::{A4_HZ, DIAMETER_MM, HEIGHT_MM, MOST_FRETS, SCALE_MM, SIGNED_MM};
use crate::setup::tension::{Material, PITCH_FORM, linear_density, pitch_hz, tension_n};

/// κ = EA/T of nylon, fluorocarbon and wound nylon: their modulus rises with stress, so the ratio stays
/// (Anderson and Beausoleil: √κ = 7.1 ± 0.3).
const USUAL_STRETCH_RATIO: f64 = 50.0;

/// How a string stretches.
#[derive(Debug, Clone, Copy)]
pub(super) enum Stretch {
    /// κ = EA/T.
    Ratio(f64),
    /// Young's modulus, GPa.
    Modulus(f64),
}

impl IntonationString {
    /// As stated, else as usual for the material.
    pub(super) fn stretch(&self) -> Stretch {
        match (self.stretch_ratio, self.modulus_gpa, self.material) {
            (Some(ratio), _, _) => Stretch::Ratio(ratio),
            (None, Some(modulus), _) => Stretch::Modulus(modulus),
            (None, None, Some(Material::Steel)) => Stretch::Modulus(200.0),
            (None, None, Some(Material::Gut)) => Stretch::Modulus(6.0),
            (None, None, Some(Material::Nylon | Material::Fluorocarbon) | None) => Stretch::Ratio(USUAL_STRETCH_RATIO),
        }
    }
}

/// Cents in a ratio of e: 1200/ln 2.
pub(super) const CENTS_PER_E: f64 = 1200.0 / std::f64::consts::LN_2;

/// One string on one board, ready to be asked for any set-backs.
#[derive(Debug, Clone)]
pub struct Chain {
    pub(super) frame: Frame,
    pub(super) line: StringLine,
    pub(super) frets: usize,
    pub(super) finger_mm: f64,
    pub(super) clamped_ends: f64,
    pub(super) tension_n: f64,
    pub(super) stretch_ratio: f64,
    pub(super) core_mm: f64,
    /// √(EI/T), mm; over a length it is ε.
    pub(super) stiffness_mm: f64,
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

    /// Nominal tension, N.
    pub fn tension_n(&self) -> f64 {
        self.tension_n
    }

    /// κ = EA/T.
    pub fn stretch_ratio(&self) -> f64 {
        self.stretch_ratio
    }

    /// ε = √(EI/(TL²)) of a length, mm.
    pub fn stiffness(&self, length_mm: f64) -> f64 {
        self.stiffness_mm / length_mm
    }

    /// The same string with its κ times `factor`.
    pub(super) fn with_stretch(&self, factor: f64) -> Self {
        Self {
            stretch_ratio: self.stretch_ratio * factor,
            stiffness_mm: self.stiffness_mm * factor.sqrt(),
            ..self.clone()
        }
    }

    /// The same string with a core that is thicker by `more_mm`, at the same modulus and mass.
    pub(super) fn with_core(&self, more_mm: f64) -> Self {
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

    pub(super) fn at(&self, fret: usize, set: SetBacks) -> Parts {
        let on = self.on_the_way(fret, set);
        let (stretch, pull) = (on.stretch, self.stretch_ratio * on.stretch);
        Parts {
            length: CENTS_PER_E * (on.open_mm / (ratio(fret) * on.sounding_mm)).ln(),
            mass: CENTS_PER_E * stretch.ln_1p() / 2.0,
            tension: CENTS_PER_E * pull.ln_1p() / 2.0,
            stiffness: CENTS_PER_E * (self.sharpening(on.epsilon) / self.sharpening(on.epsilon_open)).ln(),
        }
    }

    pub(super) fn on_the_way(&self, fret: usize, set: SetBacks) -> OnTheWay {
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
    pub(super) fn sharpening(&self, epsilon: f64) -> f64 {
        let k = self.clamped_ends;
        1.0 + k * epsilon + (k * k + std::f64::consts::PI.powi(2) / 2.0) * epsilon * epsilon
    }
}

/// Length of a straight piece that runs and rises so much, mm. Lengths of a string need no `hypot`, which
/// guards against overflow at ten times the price.
pub(super) fn slant(run_mm: f64, rise_mm: f64) -> f64 {
    (run_mm * run_mm + rise_mm * rise_mm).sqrt()
}

/// What lies between a fret and its parts.
#[derive(Debug, Clone, Copy)]
pub(super) struct OnTheWay {
    pub(super) open_mm: f64,
    pub(super) saddle_over_mm: f64,
    pub(super) nut_over_mm: f64,
    pub(super) sounding_mm: f64,
    /// The piece between nut and finger.
    pub(super) before_finger_mm: f64,
    pub(super) behind_mm: f64,
    pub(super) stretch: f64,
    pub(super) epsilon_open: f64,
    pub(super) epsilon: f64,
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
    // behind fret 1 the nut is as far as half the space
    let space = fret_position_mm(input.scale_mm.max(SCALE_MM.0), 1) / 2.0;
    problems.within("/finger_behind_mm", input.finger_behind_mm, 0.0, MOST_BEHIND_MM.min(space));
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

pub(super) fn board(input: &IntonationInput) -> Board<'static> {
    Board { body_fret: input.body_fret, relief_mm: input.relief_mm, ..Board::default() }
}
