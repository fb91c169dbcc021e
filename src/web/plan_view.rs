//! A plan as pages and papers show it: the bench's page, its card, and the work-performed sheet.

use crate::setup::cut::CutOutput;
use crate::setup::plan::{Cause, Forecast, PlanOutput, Severity, Step, StepState, caution};

/// A plan ready to be printed.
#[derive(Debug, Clone)]
pub struct PlanView {
    /// In the order of work.
    pub findings: Vec<FindingView>,
    /// In the order of work.
    pub steps: Vec<StepView>,
    /// Something ended cutting.
    pub stopped: bool,
    /// Readings to take (again), in words.
    pub measure_again: Vec<&'static str>,
    /// Cautions in words.
    pub cautions: Vec<&'static str>,
}

/// One finding.
#[derive(Debug, Clone)]
pub struct FindingView {
    /// "stop", "work", "watch", "fine".
    pub severity: &'static str,
    /// In words.
    pub words: String,
    /// Likely causes.
    pub causes: Vec<Cause>,
    /// The figures behind it.
    pub figures: Vec<(String, String)>,
}

/// One step.
#[derive(Debug, Clone)]
pub struct StepView {
    /// "now", "after-measuring-again", "offer".
    pub state: &'static str,
    /// The same in words.
    pub state_words: &'static str,
    /// What it is called.
    pub title: String,
    /// What to do.
    pub words: String,
    /// Amounts string by string.
    pub amounts: Vec<Amount>,
    /// The straight cut at the saddle's foot.
    pub foot: Option<FootView>,
    /// What to expect, string by string.
    pub expected: Vec<(String, String)>,
    /// What is expected: heights, or removal.
    pub expected_title: &'static str,
    /// The amounts are removal at the saddle.
    pub has_top: bool,
}

/// One string's amounts.
#[derive(Debug, Clone)]
pub struct Amount {
    /// "1 E4".
    pub string: String,
    /// First pass, mm.
    pub first_pass: String,
    /// In all, mm.
    pub whole: String,
    /// Expanded uncertainty of the whole, mm.
    pub uncertainty: String,
    /// To shape on top, mm.
    pub on_top: String,
    /// "raise 0.35 mm, 2 shims".
    pub raise: String,
}

/// A straight cut.
#[derive(Debug, Clone)]
pub struct FootView {
    /// First pass at treble and bass, mm.
    pub first: (String, String),
    /// In all, mm.
    pub whole: (String, String),
    /// Saddle showing afterwards, mm.
    pub left: (String, String),
}

impl PlanView {
    /// From a plan; `names` are the strings in order.
    pub fn of(plan: &PlanOutput, names: &[String]) -> Self {
        Self {
            findings: plan
                .findings
                .iter()
                .filter(|finding| finding.severity != Severity::Fine)
                .map(|finding| FindingView {
                    severity: finding.severity.key(),
                    words: finding.words.clone(),
                    causes: finding.causes.clone(),
                    figures: finding.numbers.iter().map(|(name, value)| figure(name, *value)).collect(),
                })
                .collect(),
            steps: plan.steps.iter().map(|step| step_view(step, names)).collect(),
            stopped: plan.stopped,
            measure_again: plan.measure_again.iter().map(|key| reading_words(key)).collect(),
            cautions: plan.cautions.iter().filter_map(|key| caution(key)).collect(),
        }
    }
}

fn figure(name: &str, value: f64) -> (String, String) {
    let (words, unit, places) = match name.strip_suffix("_mm") {
        Some(words) => (words, " mm", 2),
        None => match name.strip_suffix("_percent") {
            Some(words) => (words, " %", 0),
            None => (name, "", if value.fract() == 0.0 { 0 } else { 1 }),
        },
    };
    (words.replace('_', " "), format!("{value:.places$}{unit}"))
}

/// What a reading's key is called at the bench.
pub fn reading_words(key: &str) -> &'static str {
    match key {
        "relief_mm" => "relief",
        "action_12_mm" => "heights at the 12th",
        "first_fret_mm" => "heights at the 1st",
        "gap_at_1_stopped_at_3_mm" => "gaps over the 1st, stopped at the 3rd",
        "saddle_showing_mm" => "saddle showing",
        "cents_at_12" => "cents at the 12th",
        "air" => "the air",
        _ => "the readings",
    }
}

fn step_view(step: &Step, names: &[String]) -> StepView {
    let (amounts, foot) = match (&step.cut, &step.turn_down_mm) {
        (Some(cut), _) => (cut_amounts(cut, names), foot_view(cut)),
        (None, Some(turns)) => (turn_amounts(turns, names), None),
        (None, None) => (Vec::new(), None),
    };
    StepView {
        state: step.state.key(),
        state_words: match step.state {
            StepState::Now => "now",
            StepState::AfterMeasuringAgain => "after measuring again",
            StepState::Offer => "offer",
        },
        title: title(&step.key).to_owned(),
        words: step.words.clone(),
        has_top: foot.is_some(),
        amounts,
        foot,
        expected: step.forecast.as_ref().map(|forecast| expected(forecast, names)).unwrap_or_default(),
        expected_title: step.forecast.as_ref().map_or("", |forecast| match forecast.quantity.as_str() {
            "action_12_mm" => "Expected height at the 12th",
            "saddle_setback_mm" => "Expected set-back, not yet to be set",
            _ => "Expected removal, not yet to be cut",
        }),
    }
}

/// What a step is called at the bench.
pub fn title(key: &str) -> &'static str {
    match key {
        "air-dry" | "air-damp" => "Let it recover",
        "crack" => "Crack",
        "bridge-lifting" => "Bridge",
        "brace-loose" => "Brace",
        "neck-angle" => "Neck angle",
        "back-bow" => "Back-bow",
        "nut-reversed" => "Nut the right way round",
        "saddle-reversed" => "Saddle the right way round",
        "edge-sharp" => "Sharp edge",
        "edge-rounded" => "Rounded edge",
        "strings-old" => "New strings",
        "relief-too-much" | "relief-too-little" => "Relief",
        "nut-high" => "Lower the nut slots",
        "nut-low" => "Raise the nut",
        "nut-beyond-shims" => "New nut",
        "saddle-high" => "Lower the saddle",
        "saddle-low" => "Raise the saddle",
        "saddle-glued" => "Free the saddle",
        "reading-missing" => "Read first",
        "readings-disagree" | "readings-too-uncertain" => "Read again",
        "saddle-spent" => "Beyond the saddle",
        "fret-high" => "High fret",
        "frets-worn" => "Worn frets",
        "board-rises" => "Last frets",
        "intonation-off" => "Intonation",
        "tuners-dry" => "Oil the tuners",
        "polish-slots" => "Polish the slots",
        "clean" => "Clean",
        _ => "Step",
    }
}

fn name(names: &[String], place: usize) -> String {
    names.get(place).cloned().unwrap_or_else(|| (place + 1).to_string())
}

fn cut_amounts(cut: &CutOutput, names: &[String]) -> Vec<Amount> {
    let rows = cut.strings.iter().enumerate().filter_map(|(place, string)| {
        let exact = string.exact_mm?;
        let raise = cut.raise.iter().find(|raise| raise.string == place + 1);
        let lowers = exact > 0.0;
        Some(Amount {
            string: name(names, place),
            first_pass: if !lowers { "–".to_owned() } else { mm(string.first_pass_mm) },
            whole: if lowers { mm(exact) } else { "–".to_owned() },
            // plans kept before it was told: about two standard uncertainties cover 95 %
            uncertainty: mm(string.expanded_mm.unwrap_or(2.0 * string.standard_uncertainty_mm)),
            on_top: string.on_top_mm.filter(|_| lowers).map_or_else(|| "–".to_owned(), mm),
            raise: raise.map_or_else(String::new, |raise| {
                let shims = if raise.shims == 1 { "1 shim".to_owned() } else { format!("{} shims", raise.shims) };
                format!("raise {}, {shims}", mm(raise.mm))
            }),
        })
    });
    rows.collect()
}

fn turn_amounts(turns: &[Option<f64>], names: &[String]) -> Vec<Amount> {
    let rows = turns.iter().enumerate().filter_map(|(place, turn)| {
        let turn = (*turn)?;
        let way = if turn >= 0.0 { "down" } else { "up" };
        Some(Amount {
            string: name(names, place),
            first_pass: format!("{way} {}", mm(turn.abs())),
            whole: String::new(),
            uncertainty: String::new(),
            on_top: String::new(),
            raise: String::new(),
        })
    });
    rows.collect()
}

fn foot_view(cut: &CutOutput) -> Option<FootView> {
    let (foot, first, left) = (cut.foot?, cut.foot_first_pass?, cut.left_showing_mm?);
    Some(FootView {
        first: (mm(first.treble_mm), mm(first.bass_mm)),
        whole: (mm(foot.treble_mm), mm(foot.bass_mm)),
        left: (mm(left.treble), mm(left.bass)),
    })
}

fn expected(forecast: &Forecast, names: &[String]) -> Vec<(String, String)> {
    let rows = forecast.strings.iter().enumerate().filter_map(|(place, range)| {
        let range = (*range)?;
        Some((name(names, place), format!("{:.2} to {:.2} mm", range.least, range.most)))
    });
    rows.collect()
}

/// Two decimals; the table's caption says mm.
fn mm(value: f64) -> String {
    format!("{value:.2}")
}
