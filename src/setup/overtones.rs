//! `overtones`: how far the partials of a stiff string stand over whole multiples of its note.
//!
//! fₙ = n·f₁·√((1 + B·n²)/(1 + B)) with B = π²ε², ε = √(EI/(TL²)), both ends hinged (Fletcher, "Normal vibration
//! frequencies of a stiff piano string", JASA 36 (1964) 203). The first partial sounds the stated pitch.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::intonation::{Chain, IntonationInput, IntonationString, working as intonation_working};
use super::limits::{A4_HZ, SCALE_MM};
use super::tension::{pitch_hz, standard_pitch};
use crate::problem::Problems;
use crate::working::{Working, Workings};

/// Partials of one string, at most.
const MOST_PARTIALS: usize = 40;
const FLETCHER: &str = "Fletcher, JASA 36 (1964) 203, hinged ends";

/// What `overtones` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OvertonesInput {
    /// Nominal scale, mm.
    #[schemars(range(min = SCALE_MM.0, max = SCALE_MM.1))]
    pub scale_mm: f64,
    /// Standard pitch, Hz.
    #[serde(default = "standard_pitch")]
    #[schemars(range(min = A4_HZ.0, max = A4_HZ.1))]
    pub a4_hz: f64,
    /// The string.
    pub string: IntonationString,
    /// How many partials.
    #[serde(default = "usual_partials")]
    #[schemars(range(min = 1, max = MOST_PARTIALS))]
    pub partials: usize,
}

fn usual_partials() -> usize {
    12
}

/// What `overtones` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OvertonesOutput {
    /// Nominal tension, N.
    pub tension_n: f64,
    /// κ used.
    pub stretch_ratio: f64,
    /// ε = √(EI/(TL²)) used.
    pub stiffness: f64,
    /// B = π²ε².
    pub inharmonicity: f64,
    /// The first one first.
    pub partials: Vec<Partial>,
}

/// One partial.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Partial {
    /// Hz.
    pub frequency_hz: f64,
    /// Over the whole multiple of the first, cents.
    pub cents: f64,
}

/// The partials of one string.
///
/// # Errors
/// When the string is not described enough, or a number is out of range.
pub fn overtones(input: &OvertonesInput) -> Result<OvertonesOutput, Problems> {
    let mut problems = Problems::default();
    problems.require(
        (1..=MOST_PARTIALS).contains(&input.partials),
        "/partials",
        format_args!("must be from 1 to {MOST_PARTIALS}"),
    );
    let chain = match Chain::new(&unpressed(input), 0.0) {
        Ok(chain) => chain,
        Err(faults) => {
            problems.0.extend(faults.0);
            return Err(problems);
        }
    };
    problems.check()?;
    let stiffness = chain.stiffness(input.scale_mm);
    let inharmonicity = (std::f64::consts::PI * stiffness).powi(2);
    let first_hz = pitch_hz(&input.string.pitch, input.a4_hz).unwrap_or_default();
    let partial = |number: u32| {
        let n = f64::from(number);
        let over = (1.0 + inharmonicity * n * n) / (1.0 + inharmonicity);
        Partial { frequency_hz: n * first_hz * over.sqrt(), cents: 600.0 * over.log2() }
    };
    let last = u32::try_from(input.partials).unwrap_or(1);
    Ok(OvertonesOutput {
        tension_n: chain.tension_n(),
        stretch_ratio: chain.stretch_ratio(),
        stiffness,
        inharmonicity,
        partials: (1..=last).map(partial).collect(),
    })
}

/// The string as the chain takes it: no finger presses it, so heights play no part.
fn unpressed(input: &OvertonesInput) -> IntonationInput {
    IntonationInput {
        scale_mm: input.scale_mm,
        frets: 12,
        first_fret_mm: 0.0,
        action_12_mm: 0.0,
        relief_mm: 0.0,
        body_fret: None,
        a4_hz: input.a4_hz,
        saddle_setback_mm: 0.0,
        nut_setback_mm: 0.0,
        finger_behind_mm: 0.0,
        clamped_ends: 0,
        string: input.string.clone(),
        uncertainty: None,
    }
}

/// The working of every number.
pub fn explain(input: &OvertonesInput, output: &OvertonesOutput, workings: &mut Workings) {
    let asked = unpressed(input);
    let Ok(chain) = Chain::new(&asked, 0.0) else {
        return;
    };
    workings.shared(intonation_working::stiffness(&asked, &chain, true));
    workings.figure("/inharmonicity", || {
        vec![
            Working::new("/inharmonicity", "inharmonicity of the string", "B = (π·ε)²")
                .put("ε", "bending stiffness of the nominal length", output.stiffness, "")
                .gives(output.inharmonicity, "", FLETCHER),
        ]
    });
    let first_hz = pitch_hz(&input.string.pitch, input.a4_hz).unwrap_or_default();
    for (number, (place, partial)) in (1_u32..).zip(output.partials.iter().enumerate()) {
        workings.figure(&format!("/partials/{place}"), || {
            let of = |name: &str| format!("/partials/{place}/{name}");
            vec![
                Working::new(
                    of("frequency_hz"),
                    format!("frequency of partial {number}"),
                    "fₙ = n·f₁·√((1 + B·n²)/(1 + B))",
                )
                .put("n", "which partial", f64::from(number), "")
                .put("f₁", "frequency of the first, the note", first_hz, "Hz")
                .put("B", "inharmonicity", output.inharmonicity, "")
                .gives(partial.frequency_hz, "Hz", FLETCHER),
                Working::new(
                    of("cents"),
                    format!("partial {number} over the whole multiple of the first"),
                    "c = 600·log2((1 + B·n²)/(1 + B))",
                )
                .put("B", "inharmonicity", output.inharmonicity, "")
                .put("n", "which partial", f64::from(number), "")
                .gives(partial.cents, "cents", FLETCHER),
            ]
        });
    }
}
