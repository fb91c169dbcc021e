//! `/bench/jobs/{id}/intonation`: how sharp each note is and why, before and after the best set-backs.

use askama::Template;

use crate::drawing::Svg;
use crate::drawing::intonation_chart::{IntonationChart, intonation_chart};
use crate::records::JobId;
use crate::records::instrument::{self, InstrumentEntry};
use crate::records::job::{self, Job};
use crate::records::plan as kept;
use crate::records::reading::{self, ReadingKind, ReadingSet, scatter};
use crate::setup::intonation::{
    Chain, IntonationInput, IntonationOutput, IntonationUncertainty, SetBacks, explain, intonation, setback_to_add,
};
use crate::setup::plan::{PlanInput, cents_asked, intonation_question, length_asked};
use crate::setup::reading::{ReadingInput, ReadingOutput, reading as evaluated, supported};
use crate::web::Result;
use crate::web::form::{Id, Query};
use crate::web::page::{Layout, RequestContext, page};
use crate::web::readings_view::{first_fret, string_names};
use crate::web::working_view::WorkingView;
use crate::working::{Working, Workings};

/// A gauge is known to about 0.005 mm either way; rectangular.
const CORE_UNCERTAINTY_MM: f64 = 0.005 / 1.732_050_807_568_877_2;
/// √κ of measured strings is 7.1 ± 0.3 (Anderson and Beausoleil, JASA 156 (2024) 683): κ to about 8 %.
const STRETCH_UNCERTAINTY_PERCENT: f64 = 8.0;

#[derive(Template)]
#[template(path = "bench/intonation.html")]
struct IntonationPage {
    layout: Layout,
    job: Job,
    instrument: String,
    strings: Vec<StringView>,
    /// The note that was asked about.
    note: Option<NoteView>,
}

/// How one note's error came about.
struct NoteView {
    name: String,
    workings: Vec<WorkingView>,
}

struct StringView {
    name: String,
    /// Measured at the 12th, and the set-back to add.
    measured: Option<(String, String, WorkingView)>,
    forecast: std::result::Result<ForecastView, String>,
}

struct ForecastView {
    chart: Svg,
    best_saddle: String,
    best_pair: (String, String),
    rms: (String, String),
    tension: String,
    workings: Vec<WorkingView>,
    /// Fret, cents as it stands, and its four causes.
    frets: Vec<(usize, [String; 5])>,
}

/// `GET /bench/jobs/{id}/intonation`
/// `?string=1&fret=5` shows how that note's error came about.
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<JobId>, query: Query) -> Result {
    let mut connection = context.app.db.read().acquire().await?;
    let job = job::find(&mut *connection, id).await?;
    let entry = instrument::find(&mut connection, job.instrument_id).await?.entry;
    let sets = reading::of_job(&mut connection, id).await?;
    let scatters = scatter::of_all_tools(&mut connection).await?;
    drop(connection);
    let names = string_names(&entry);
    let mut note = None;
    let strings = match sets.last() {
        Some(set) => {
            let input = kept::of_kept_set(&entry, job.style, set, &[], &scatters);
            note = note_worked(&entry, set, &input, &names, &query);
            names.into_iter().enumerate().map(|(place, name)| string_view(&entry, set, &input, place, name)).collect()
        }
        None => Vec::new(),
    };
    page(&IntonationPage { layout: context.layout(), instrument: entry.title(), job, strings, note })
}

fn note_worked(
    entry: &InstrumentEntry,
    set: &ReadingSet,
    input: &PlanInput,
    names: &[String],
    query: &Query,
) -> Option<NoteView> {
    let string: usize = query.value("string").parse().ok()?;
    let fret: usize = query.value("fret").parse().ok()?;
    let place = string.checked_sub(1)?;
    let question = question(entry, set, input, place).ok()?;
    let found = intonation(&question).ok()?;
    let mut workings = Workings::of_one(format!("/cents/{}", fret.checked_sub(1)?));
    explain(&question, &found, &mut workings);
    let workings: Vec<WorkingView> = workings.into_list().iter().map(WorkingView::of).collect();
    let name = format!("{}, fret {fret}", names.get(place)?);
    (!workings.is_empty()).then_some(NoteView { name, workings })
}

fn string_view(entry: &InstrumentEntry, set: &ReadingSet, input: &PlanInput, place: usize, name: String) -> StringView {
    let readings = input.readings.strings.get(place);
    let cents = readings.map(|readings| readings.cents_at_12.as_slice()).unwrap_or_default();
    let question = question(entry, set, input, place);
    // of a fanned board or a short string its own
    let scale_mm = question.as_ref().map_or(input.instrument.scale_mm, |question| question.scale_mm);
    let measured = known(&cents_asked(cents)).map(|found| {
        let (cents, expanded) = (found.mean_mm, found.expanded_mm);
        // first order of the chain: one octave is 1200 cents, a set-back ΔS changes the 12th by 1200/ln 2·ΔS/L
        let per_cent = scale_mm * std::f64::consts::LN_2 / 1200.0;
        (
            format!("{} cents", supported(cents, expanded)),
            format!("{} mm", supported(cents * per_cent, expanded * per_cent)),
            WorkingView::of(&setback_to_add(String::new(), place + 1, cents, scale_mm, cents * per_cent)),
        )
    });
    let forecast = question.and_then(|question| forecast(&name, &question));
    StringView { name, measured, forecast }
}

/// Repeats of one place evaluated; `None` where it was not read.
fn known(asked: &ReadingInput) -> Option<ReadingOutput> {
    evaluated(asked).ok()
}

fn question(
    entry: &InstrumentEntry,
    set: &ReadingSet,
    input: &PlanInput,
    place: usize,
) -> std::result::Result<IntonationInput, String> {
    let number = i64::try_from(place + 1).unwrap_or(i64::MAX);
    let heights = first_fret(entry, set, number).zip(set.mean(ReadingKind::Height12, number));
    let (first_fret_mm, action_12_mm) =
        heights.ok_or("The heights over the 1st (or the gap stopped at the 3rd) and the 12th fret are needed.")?;
    let asked = intonation_question(input, place, first_fret_mm, action_12_mm)
        .ok_or("The string's note is needed on the instrument's page.")?;
    let of = |values: Option<&[f64]>| {
        known(&length_asked(values.unwrap_or_default(), &input.tool)).map_or(0.0, |found| found.standard_uncertainty_mm)
    };
    let readings = input.readings.strings.get(place);
    Ok(IntonationInput {
        relief_mm: set.mean(ReadingKind::Relief, 0).unwrap_or(0.0),
        body_fret: Some(input.instrument.body_fret),
        uncertainty: Some(IntonationUncertainty {
            first_fret_mm: of(readings.map(|readings| readings.first_fret_mm.as_slice())),
            action_12_mm: of(readings.map(|readings| readings.action_12_mm.as_slice())),
            core_diameter_mm: CORE_UNCERTAINTY_MM,
            stretch_percent: STRETCH_UNCERTAINTY_PERCENT,
        }),
        ..asked
    })
}

fn forecast(name: &str, question: &IntonationInput) -> std::result::Result<ForecastView, String> {
    let refused = |problems: crate::problem::Problems| {
        let first = problems.0.first().map(|problem| problem.detail.clone()).unwrap_or_default();
        format!("Not enough is known of this string: {first}.")
    };
    let found = intonation(question).map_err(refused)?;
    let chain = Chain::new(question, 0.0).map_err(refused)?;
    let nut = question.nut_setback_mm;
    let with_saddle = chain.cents(SetBacks { saddle_setback_mm: found.best_saddle_setback_mm, nut_setback_mm: nut });
    let with_pair = chain.cents(found.best_pair);
    let chart = intonation_chart(&IntonationChart {
        name,
        before: &found.cents,
        with_saddle: &with_saddle,
        with_pair: &with_pair,
    });
    let shown =
        |mm: f64, expanded: Option<f64>| format!("{} mm", supported(mm, expanded.unwrap_or(0.0))).replace('-', "−");
    let cents = |value: f64| format!("{value:+.1}").replace('-', "−");
    Ok(ForecastView {
        chart,
        best_saddle: shown(found.best_saddle_setback_mm, found.best_saddle_expanded_mm),
        best_pair: (
            shown(found.best_pair.saddle_setback_mm, found.best_pair_expanded.map(|pair| pair.saddle_setback_mm)),
            shown(found.best_pair.nut_setback_mm, found.best_pair_expanded.map(|pair| pair.nut_setback_mm)),
        ),
        rms: (format!("{:.1}", found.rms_cents.without), format!("{:.1}", found.rms_cents.with_best_pair)),
        tension: format!("{:.0} N", found.tension_n),
        workings: worked(question, &found),
        frets: (1..)
            .zip(found.cents.iter().zip(&found.parts))
            .map(|(fret, (whole, parts))| {
                let all = [*whole, parts.length, parts.mass, parts.tension, parts.stiffness];
                (fret, all.map(cents))
            })
            .collect(),
    })
}

/// How the figures beside the chart came about; what several share stands once.
fn worked(question: &IntonationInput, found: &IntonationOutput) -> Vec<WorkingView> {
    const SHOWN: [&str; 9] = [
        "/tension_n",
        "/best_saddle_setback_mm",
        "/best_saddle_expanded_mm",
        "/best_pair/saddle_setback_mm",
        "/best_pair/nut_setback_mm",
        "/best_pair_expanded/saddle_setback_mm",
        "/best_pair_expanded/nut_setback_mm",
        "/rms_cents/without",
        "/rms_cents/with_best_pair",
    ];
    let mut workings = Workings::of_all();
    explain(question, found, &mut workings);
    let mut chain: Vec<&Working> = Vec::new();
    for working in SHOWN.into_iter().flat_map(|pointer| workings.of(pointer)) {
        if !chain.contains(&working) {
            chain.push(working);
        }
    }
    chain.into_iter().map(WorkingView::of).collect()
}
