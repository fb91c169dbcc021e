//! A plan as pages and papers show it: the bench's page, its card, and the work-performed sheet.

use super::adjusted_view::{self, Adjusted};
use super::readings_view::string_name;
use super::working_view::WorkingLinks;
use crate::records::caution::words_of;
use crate::setup::cut::{CutOutput, Raise, Top};
use crate::setup::plan::{Cause, Finding, Forecast, PlanOutput, Severity, Step, StepState};
use crate::setup::reading::supported;

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
    pub figures: Vec<Figure>,
}

/// One figure with the place of its working.
#[derive(Debug, Clone)]
pub struct Figure {
    /// In words.
    pub what: String,
    /// With its unit, to the decimal that its uncertainty supports.
    pub value: String,
    /// Where its working stands; "" on paper.
    pub how: String,
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
    /// What is cut or raised, string by string.
    pub amounts: Vec<Amount>,
    /// What is turned, moved or put under.
    pub adjusted: Option<Adjusted>,
    /// The straight cut at the saddle's foot.
    pub foot: Option<FootView>,
    /// What to expect, string by string.
    pub expected: Vec<Figure>,
    /// What is expected: heights, or removal.
    pub expected_title: &'static str,
    /// The amounts are removal at the saddle.
    pub has_top: bool,
    /// The shape of the saddle's top over a curved board.
    pub top: Option<TopView>,
}

/// A top over a curved board: how far each string stands over the straight line between the outer two.
#[derive(Debug, Clone)]
pub struct TopView {
    /// Of the top, mm.
    pub radius: Figure,
    /// String by string.
    pub strings: Vec<TopRow>,
}

/// One string over that line, mm.
#[derive(Debug, Clone)]
pub struct TopRow {
    /// "1 E4".
    pub string: String,
    /// On the radius.
    pub ideal: String,
    /// As read.
    pub present: String,
    /// Once the whole amount is off.
    pub after: String,
    /// Where the working stands; "" on paper.
    pub how: String,
}

/// One string's amounts.
#[derive(Debug, Clone)]
pub struct Amount {
    /// "1 E4".
    pub string: String,
    /// First pass, mm.
    pub first_pass: String,
    /// In all, mm, to the decimal that its uncertainty supports.
    pub whole: String,
    /// Expanded uncertainty of the whole, mm.
    pub uncertainty: String,
    /// To shape on top, mm.
    pub on_top: String,
    /// "raise 0.35 ± 0.05, 2 shims".
    pub raise: String,
    /// Where the working stands; "" on paper.
    pub how: String,
}

/// A straight cut.
#[derive(Debug, Clone)]
pub struct FootView {
    /// First pass at treble and bass, mm.
    pub first: (String, String),
    /// In all, mm, with its expanded uncertainty.
    pub whole: (String, String),
    /// Saddle showing afterwards, mm, with its expanded uncertainty.
    pub left: (String, String),
    /// Where the working of each of these stands; "" on paper.
    pub how: [String; 3],
}

impl PlanView {
    /// From a plan, for paper; `names` are the strings in order.
    pub fn of(plan: &PlanOutput, names: &[String]) -> Self {
        Self::with_working(plan, names, "")
    }

    /// The same for a page: each figure leads to its working at `working_at`.
    pub fn with_working(plan: &PlanOutput, names: &[String], working_at: &str) -> Self {
        let shown = plan.findings.iter().enumerate().filter(|(_, finding)| finding.severity != Severity::Fine);
        let steps = plan.steps.iter().enumerate();
        Self {
            findings: shown
                .map(|(place, finding)| FindingView {
                    severity: finding.severity.key(),
                    words: finding.words.clone(),
                    causes: finding.causes.clone(),
                    figures: figures(finding, &WorkingLinks::new(working_at, format!("/findings/{place}/numbers"))),
                })
                .collect(),
            steps: steps
                .map(|(place, step)| step_view(step, names, &WorkingLinks::new(working_at, format!("/steps/{place}"))))
                .collect(),
            stopped: plan.stopped,
            measure_again: plan.measure_again.iter().map(|key| reading_words(key)).collect(),
            cautions: plan.cautions.iter().map(|key| words_of(key)).collect(),
        }
    }
}

impl StepView {
    /// Whether it names amounts to act by.
    pub fn has_amounts(&self) -> bool {
        !self.amounts.is_empty() || self.adjusted.is_some()
    }
}

/// The figures of a step that somebody acts on: their pointers below `under`, and what they are.
pub fn figures_of(under: &str, step: &Step, names: &[String]) -> Vec<(String, String)> {
    let mut figures = Vec::new();
    let mut add = |pointer: String, what: String| figures.push((format!("{under}{pointer}"), what));
    if let Some(cut) = &step.cut {
        if cut.foot.is_some() {
            for (field, what) in
                [("foot_first_pass", "foot, first pass"), ("foot", "foot, in all"), ("left_showing_mm", "left showing")]
            {
                let (treble, bass) =
                    if field == "left_showing_mm" { ("treble", "bass") } else { ("treble_mm", "bass_mm") };
                add(format!("/cut/{field}/{treble}"), format!("{what}, treble"));
                add(format!("/cut/{field}/{bass}"), format!("{what}, bass"));
            }
            for (field, what) in [
                ("foot/treble_expanded_mm", "foot, treble: how sure"),
                ("foot/bass_expanded_mm", "foot, bass: how sure"),
                ("left_showing_expanded_mm/treble", "left showing, treble: how sure"),
                ("left_showing_expanded_mm/bass", "left showing, bass: how sure"),
            ] {
                add(format!("/cut/{field}"), what.to_owned());
            }
        }
        for (place, string) in cut.strings.iter().enumerate().filter(|(_, string)| string.exact_mm.is_some()) {
            for (field, what) in [("exact_mm", "in all"), ("expanded_mm", "how sure"), ("first_pass_mm", "first pass")]
            {
                add(format!("/cut/strings/{place}/{field}"), format!("string {}, {what}", string_name(names, place)));
            }
            // what the computer's rounding leaves is nothing to shape
            if string.on_top_mm.is_some_and(|amount| amount > 1e-9) {
                add(format!("/cut/strings/{place}/on_top_mm"), format!("string {}, on top", string_name(names, place)));
            }
        }
        if let Some(top) = &cut.top {
            add("/cut/top/top_radius_mm".to_owned(), "radius of the top".to_owned());
            for (place, string) in top.strings.iter().enumerate() {
                for (field, what, is_known) in [
                    ("ideal_over_chord_mm", "on the radius", true),
                    ("present_over_chord_mm", "as read", string.present_over_chord_mm.is_some()),
                    ("after_cut_over_chord_mm", "after the cut", string.after_cut_over_chord_mm.is_some()),
                ] {
                    if is_known {
                        let what =
                            format!("string {}, over the line of the outer two, {what}", string_name(names, place));
                        add(format!("/cut/top/strings/{place}/{field}"), what);
                    }
                }
            }
        }
        for (place, raise) in cut.raise.iter().enumerate() {
            add(
                format!("/cut/raise/{place}/mm"),
                format!("string {}, raise", string_name(names, raise.string.saturating_sub(1))),
            );
        }
    }
    for (pointer, what) in adjusted_view::figures(step, names) {
        add(pointer, what);
    }
    for (place, range) in step.forecast.iter().flat_map(|forecast| &forecast.strings).enumerate() {
        if range.is_some() {
            add(format!("/forecast/strings/{place}/least"), format!("string {}, at least", string_name(names, place)));
            add(format!("/forecast/strings/{place}/most"), format!("string {}, at most", string_name(names, place)));
        }
    }
    figures
}

/// The numbers of a finding. One that was read carries its uncertainty.
fn figures(finding: &Finding, how: &WorkingLinks<'_>) -> Vec<Figure> {
    let expanded = |name: &str| {
        let of_unit = if name.starts_with("cents") { "expanded_cents" } else { "expanded_mm" };
        finding.numbers.get(of_unit).copied().filter(|_| READ.contains(&name))
    };
    let shown = finding.numbers.iter().filter(|(name, _)| !name.starts_with("expanded"));
    shown
        .map(|(name, value)| {
            let (what, unit, places) = words_and_unit(name, *value);
            let value = expanded(name)
                .map_or_else(|| format!("{value:.places$}"), |expanded| supported(*value, expanded).to_string());
            Figure { what, value: format!("{value}{unit}"), how: how.at(&format!("/{name}")) }
        })
        .collect()
}

/// Numbers that are readings, so that the finding's expanded uncertainty is theirs.
const READ: [&str; 7] =
    ["relief_mm", "action_12_mm", "gap_at_1_stopped_at_3_mm", "first_fret_mm", "showing_mm", "value_mm", "cents_at_12"];

fn words_and_unit(name: &str, value: f64) -> (String, &'static str, usize) {
    let (words, unit, places) = match name.strip_suffix("_mm") {
        Some(words) => (words, " mm", 2),
        None => match name.strip_suffix("_percent") {
            Some(words) => (words, " %", 0),
            None => (name, "", if value.fract() == 0.0 { 0 } else { 1 }),
        },
    };
    (words.replace('_', " "), unit, places)
}

/// What a reading's key is called at the bench.
pub fn reading_words(key: &str) -> &'static str {
    match key {
        "relief_mm" => "relief",
        "action_12_mm" => "heights at the 12th",
        "first_fret_mm" => "heights at the 1st",
        "gap_at_1_stopped_at_3_mm" => "gaps over the 1st, stopped at the 3rd",
        "saddle_showing_mm" => "saddle showing, or travel left",
        "cents_at_12" => "cents at the 12th",
        "from_12_to_saddle_mm" => "distances from the 12th to the saddle",
        "bridge" => "what kind of bridge it has (on the instrument's page)",
        "air" => "the air",
        _ => "the readings",
    }
}

fn step_view(step: &Step, names: &[String], how: &WorkingLinks<'_>) -> StepView {
    let cut = step.cut.as_ref();
    let foot = cut.and_then(|cut| foot_view(cut, how));
    StepView {
        state: step.state.key(),
        state_words: match step.state {
            StepState::Now => "now",
            StepState::AfterMeasuringAgain if step.key.starts_with("reading") => "after that",
            StepState::AfterMeasuringAgain => "after measuring again",
            StepState::Offer => "offer",
        },
        title: step_title(step).to_owned(),
        words: step.words.clone(),
        has_top: foot.is_some(),
        top: step.cut.as_ref().and_then(|cut| top_view(cut.top.as_ref()?, names, how)),
        amounts: cut.map(|cut| cut_amounts(cut, names, how)).unwrap_or_default(),
        adjusted: cut.is_none().then(|| adjusted_view::adjusted(step, names, how)).flatten(),
        foot,
        expected: step.forecast.as_ref().map(|forecast| expected(forecast, names, how)).unwrap_or_default(),
        expected_title: step.forecast.as_ref().map_or("", |forecast| match forecast.quantity.as_str() {
            "action_12_mm" => "Expected height at the 12th",
            "saddle_setback_mm" => "Expected set-back, not yet to be set",
            "saddle_removal_mm" if step.reversible => "Expected change at the bridge, plus is down; not yet to be done",
            _ => "Expected removal, not yet to be cut",
        }),
    }
}

/// A nut that moves as one has no slots: what is done to it can be undone.
fn step_title(step: &Step) -> &'static str {
    match step.key.as_str() {
        "nut-high" if step.reversible => "Bring the nut down",
        key => title(key),
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
        "neck-bends" => "The neck bends",
        "head-slack" => "Head tension",
        "bridge-tilts" => "Bridge upright",
        "sharp-everywhere" | "sharp-low-frets" => "Why it is sharp",
        "buzz" | "choke" => "Why it buzzes",
        "fraying" => "Where it frays",
        "edge-sharp" => "Sharp edge",
        "edge-rounded" => "Rounded edge",
        "strings-old" => "New strings",
        "relief-too-much" | "relief-too-little" => "Relief",
        "nut-high" => "Lower the nut slots",
        "nut-low" => "Raise the nut",
        "nut-beyond-shims" => "New nut",
        "saddle-high" => "Bring the strings down at the bridge",
        "saddle-low" => "Raise the strings at the bridge",
        "saddle-glued" => "Free the saddle",
        "reading-missing" => "Read first",
        "readings-disagree" | "readings-too-uncertain" => "Read again",
        "saddle-spent" => "The bridge can go no further",
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

/// Steps in words; one that is said twice stands once.
pub fn titles<T: AsRef<str>>(steps: &[T]) -> String {
    let mut titles: Vec<&str> = steps.iter().map(|step| title(step.as_ref())).collect();
    titles.dedup();
    titles.join(", ")
}

fn cut_amounts(cut: &CutOutput, names: &[String], how: &WorkingLinks<'_>) -> Vec<Amount> {
    let rows = cut.strings.iter().enumerate().filter_map(|(place, string)| {
        let exact = string.exact_mm?;
        let whole = supported(exact, string.expanded_mm.unwrap_or(2.0 * string.standard_uncertainty_mm));
        let raise = cut.raise.iter().enumerate().find(|(_, raise)| raise.string == place + 1);
        let lowers = exact > 0.0;
        let or_dash = |text: String| if lowers { text } else { "–".to_owned() };
        Some(Amount {
            string: string_name(names, place),
            first_pass: or_dash(mm(string.first_pass_mm)),
            whole: or_dash(whole.value),
            uncertainty: whole.expanded,
            on_top: string.on_top_mm.map_or_else(|| "–".to_owned(), |amount| or_dash(mm(amount))),
            raise: raise.map_or_else(String::new, |(_, raise)| raise_words(raise)),
            how: how.at(&raise.map_or_else(
                || format!("/cut/strings/{place}/first_pass_mm"),
                |(raised, _)| format!("/cut/raise/{raised}/mm"),
            )),
        })
    });
    rows.collect()
}

fn raise_words(raise: &Raise) -> String {
    let shims = if raise.shims == 1 { "1 shim".to_owned() } else { format!("{} shims", raise.shims) };
    format!("raise {}, {shims}", supported(raise.mm, raise.expanded_mm.unwrap_or(0.0)))
}

fn foot_view(cut: &CutOutput, how: &WorkingLinks<'_>) -> Option<FootView> {
    let (foot, first, left) = (cut.foot?, cut.foot_first_pass?, cut.left_showing_mm?);
    let shown = |value: f64, expanded: Option<f64>| supported(value, expanded.unwrap_or(0.0)).to_string();
    let unsure = cut.left_showing_expanded_mm;
    Some(FootView {
        first: (mm_down(first.treble_mm), mm_down(first.bass_mm)),
        whole: (shown(foot.treble_mm, foot.treble_expanded_mm), shown(foot.bass_mm, foot.bass_expanded_mm)),
        left: (
            shown(left.treble, unsure.map(|unsure| unsure.treble)),
            shown(left.bass, unsure.map(|unsure| unsure.bass)),
        ),
        how: ["/cut/foot_first_pass/treble_mm", "/cut/foot/treble_mm", "/cut/left_showing_mm/treble"]
            .map(|pointer| how.at(pointer)),
    })
}

/// The outer strings are the ends of the line: between them is what there is to shape.
fn top_view(top: &Top, names: &[String], how: &WorkingLinks<'_>) -> Option<TopView> {
    let inner = top.strings.len().checked_sub(2).filter(|inner| *inner > 0)?;
    let shown = |over: Option<f64>| over.map_or_else(|| "–".to_owned(), mm);
    let rows = top.strings.iter().enumerate().skip(1).take(inner);
    Some(TopView {
        radius: Figure {
            what: "radius of the top".to_owned(),
            value: format!("{:.0} mm", top.top_radius_mm),
            how: how.at("/cut/top/top_radius_mm"),
        },
        strings: rows
            .map(|(place, string)| TopRow {
                string: string_name(names, place),
                ideal: mm(string.ideal_over_chord_mm),
                present: shown(string.present_over_chord_mm),
                after: shown(string.after_cut_over_chord_mm),
                how: how.at(&format!("/cut/top/strings/{place}/ideal_over_chord_mm")),
            })
            .collect(),
    })
}

fn expected(forecast: &Forecast, names: &[String], how: &WorkingLinks<'_>) -> Vec<Figure> {
    let rows = forecast.strings.iter().enumerate().filter_map(|(place, range)| {
        let range = (*range)?;
        Some(Figure {
            what: string_name(names, place),
            value: format!("{:.2} to {:.2} mm", range.least, range.most),
            how: how.at(&format!("/forecast/strings/{place}/least")),
        })
    });
    rows.collect()
}

/// Two decimals; the table's caption says mm.
fn mm(value: f64) -> String {
    format!("{value:.2}")
}

/// The same, never more than the amount itself: what comes off does not come back.
fn mm_down(value: f64) -> String {
    const HAIR: f64 = 1e-6;
    mm((value * 100.0 + HAIR).floor() / 100.0)
}
