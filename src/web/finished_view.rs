//! Steps of the plan that are done: the amounts they were done by, the first pass and where to stop, the readings they
//! followed, and what was corrected afterwards. The bench's page and card show them, and the instrument's history.

use super::form::FormData;
use super::in_hand::{InHand, in_hand};
use super::page::RequestContext;
use super::plan_view::{PlanView, StepView, titles};
use super::readings_view::{kinds_per_string, mean_words, once, string_names};
use crate::quantity::LengthUnit;
use crate::records::draft::{Draft, Drafts};
use crate::records::instrument::InstrumentEntry;
use crate::records::reading::ReadingSet;
use crate::setup::plan::{PlanInput, PlanOutput, StepState};

/// What was done at one go, and by which readings.
pub(super) struct FinishedView {
    /// The readings under way that it began.
    pub(super) draft: String,
    /// "Relief, Lower the nut slots"; empty where all of it was taken back.
    pub(super) titles: String,
    /// "Ivo, Wed 14 Oct 2026 10:00".
    pub(super) by: String,
    /// Each step as it was said, with its large figures.
    pub(super) steps: Vec<(StepView, Option<InHand>)>,
    /// The readings it followed, string by string.
    pub(super) columns: Vec<&'static str>,
    pub(super) rows: Vec<(String, Vec<String>)>,
    /// What was read once: what it is, and what was read.
    pub(super) once: Vec<(String, String)>,
    /// What was taken back, a sentence each.
    pub(super) corrections: Vec<String>,
    /// Nothing was read since: it is taken back without a word.
    pub(super) is_fresh: bool,
    /// The word that corrects it, as it was typed.
    pub(super) form: FormData,
}

/// All of a job, newest first. `sets` are its reading sets, `form` is what was typed on the page.
pub(super) fn finished(
    drafts: &Drafts,
    sets: &[ReadingSet],
    entry: &InstrumentEntry,
    (context, unit, form): (&RequestContext, LengthUnit, &FormData),
) -> Vec<FinishedView> {
    let one = |draft: &&Draft| {
        let names = string_names(entry);
        let set = sets.iter().find(|set| Some(set.id) == draft.after);
        let kinds = kinds_per_string(set, None);
        let means = |number: i64| kinds.iter().map(|kind| mean_words(set, *kind, number, unit)).collect();
        FinishedView {
            draft: draft.id.to_string(),
            titles: titles(&draft.done_steps),
            by: format!("{}, {}", draft.done_by, context.moment(draft.done_at)),
            steps: set.map(|set| steps(draft, set, &names)).unwrap_or_default(),
            columns: kinds.iter().map(|kind| kind.spoken()).collect(),
            rows: if kinds.is_empty() {
                Vec::new()
            } else {
                (1_i64..).zip(&names).map(|(number, name)| (name.clone(), means(number))).collect()
            },
            once: once(entry, set, None, unit).into_iter().map(|row| (row.what, row.before)).collect(),
            corrections: draft
                .corrections
                .iter()
                .map(|correction| {
                    let what = titles(&correction.steps);
                    let who = format!("{}, {}", correction.who, context.moment(correction.at));
                    if correction.words.is_empty() {
                        format!("Taken back: {what} ({who}).")
                    } else {
                        format!("Corrected: {what} was not done as said ({who}): {}", correction.words)
                    }
                })
                .collect(),
            is_fresh: draft.cells.is_empty() && sets.last().map(|set| set.id) == draft.after,
            form: form.row(draft.id, &["words"]),
        }
    };
    drafts.finished().iter().map(one).collect()
}

/// The steps as the kept plan said them; none where its engine's words are no longer read.
fn steps(draft: &Draft, set: &ReadingSet, names: &[String]) -> Vec<(StepView, Option<InHand>)> {
    let Some((input, output)) = &draft.done_plan else { return Vec::new() };
    let (Ok(input), Ok(output)) =
        (serde_json::from_str::<PlanInput>(input), serde_json::from_str::<PlanOutput>(output))
    else {
        return Vec::new();
    };
    let view = PlanView::of(&output, names);
    let all = view.steps.into_iter().zip(&output.steps);
    all.filter(|(_, step)| step.state == StepState::Now && draft.done_steps.contains(&step.key))
        .map(|(shown, step)| {
            let large = in_hand(step, &shown, &input, set, names);
            (shown, large)
        })
        .collect()
}
