//! `/desk/instruments/{id}/strings`: what another set would do to this instrument, before it goes on.

use askama::Template;

use crate::drawing::Svg;
use crate::drawing::tension_bars::{TensionBar, tension_bars};
use crate::problem::Problems;
use crate::quantity::{LengthUnit, Micrometres};
use crate::records::caution::words_of;
use crate::records::instrument::{self, Instrument, InstrumentString};
use crate::records::reading::{self, ReadingSet};
use crate::records::staff::Role;
use crate::records::string_set::{self, StringSet, change_input};
use crate::records::{self, Door, InstrumentId, StringSetId};
use crate::setup::string_change::{
    ReliefFrom, ReliefSign, StringChangeInput, StringChangeOutput, StringChanged, explain, string_change,
};
use crate::web::Result;
use crate::web::form::{Choice, FormData, Id, Query};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::words::{length_unit, length_words, reckoned};
use crate::web::working_view::WorkingView;
use crate::working::Workings;

/// A cent or two is not heard: a change within it is said to be none.
const UNHEARD_CENTS: f64 = 2.0;

#[derive(Template)]
#[template(path = "desk/strings.html")]
struct StringsPage {
    layout: Layout,
    form: FormData,
    id: InstrumentId,
    title: String,
    worn: String,
    sets: Vec<Choice>,
    is_owner: bool,
    compared: Option<Compared>,
}

/// The comparison with one set.
struct Compared {
    name: String,
    set: StringSetId,
    /// What is missing of the strings on it; without it nothing is compared.
    unknown: Vec<String>,
    warnings: Vec<Warned>,
    stopped: bool,
    rows: Vec<Row>,
    total_now: String,
    total_next: String,
    total_change: String,
    relief_words: String,
    relief_amount: Option<(&'static str, String)>,
    has_setbacks: bool,
    bars: Svg,
    cautions: Vec<&'static str>,
    workings: Vec<WorkingView>,
}

struct Warned {
    stop: bool,
    words: String,
}

struct Row {
    name: String,
    now: String,
    next: String,
    now_n: String,
    next_n: String,
    change: String,
    setback_now: String,
    setback_next: String,
    cents: String,
}

/// What the page knows before it compares.
struct Loaded {
    unit: LengthUnit,
    instrument: Instrument,
    sets: Vec<StringSet>,
    newest: Option<ReadingSet>,
}

async fn load(context: &RequestContext, id: InstrumentId) -> Result<Loaded> {
    let mut connection = context.app.db.read().acquire().await.map_err(crate::records::Error::from)?;
    Ok(Loaded {
        unit: length_unit(&context.settings),
        instrument: instrument::find(&mut connection, id).await?,
        sets: string_set::all(&mut connection).await?,
        newest: reading::newest_of_instrument(&mut connection, id).await?,
    })
}

impl Loaded {
    /// Sets this instrument can take: as many strings, its own family first.
    fn fitting(&self) -> Vec<&StringSet> {
        let entry = &self.instrument.entry;
        let fits = |set: &&StringSet| !set.entry.archived && set.entry.strings.len() == entry.strings.len();
        let mut sets: Vec<&StringSet> = self.sets.iter().filter(fits).collect();
        sets.sort_by_key(|set| set.entry.family != entry.family);
        sets
    }

    fn set(&self, id: Option<StringSetId>) -> Option<&StringSet> {
        self.fitting().into_iter().find(|set| Some(set.id) == id)
    }

    fn asked(&self, set: &StringSet) -> StringChangeInput {
        change_input(&self.instrument.entry, &set.entry.strings, self.newest.as_ref())
    }
}

/// The strings of a set with itself: what it pulls where the present strings are not known.
fn alone(asked: StringChangeInput) -> StringChangeInput {
    StringChangeInput { now: asked.next.clone(), ..asked }
}

fn strings_page(context: &RequestContext, bench: &Loaded, chosen: Option<StringSetId>, form: FormData) -> StringsPage {
    let set = bench.set(chosen);
    StringsPage {
        layout: context.layout(),
        form: FormData::new()
            .with("version", bench.instrument.version.to_string())
            .with("set", chosen.map(|set| set.to_string()).unwrap_or_default())
            .overlaid_with(form),
        id: bench.instrument.id,
        title: bench.instrument.entry.title(),
        worn: bench.instrument.entry.string_set.clone(),
        sets: bench
            .fitting()
            .iter()
            .map(|set| Choice::new(set.id, format!("{} ({})", set.entry.name, set.entry.family)))
            .collect(),
        is_owner: context.may_act_as(Role::Owner),
        compared: set.map(|set| compare(bench, set)),
    }
}

fn compare(bench: &Loaded, set: &StringSet) -> Compared {
    let asked = bench.asked(set);
    match string_change(&asked) {
        Ok(answer) => {
            Compared { workings: worked(&asked, &answer), ..compared(bench, set, Some(&answer), &answer, Vec::new()) }
        }
        Err(problems) => {
            let unknown = missing(&problems, &asked);
            let asked = alone(asked);
            match string_change(&asked) {
                Ok(answer) => {
                    Compared { workings: worked(&asked, &answer), ..compared(bench, set, None, &answer, unknown) }
                }
                Err(more) => nothing(set, missing(&more, &bench.asked(set))),
            }
        }
    }
}

/// How the figures came about.
fn worked(asked: &StringChangeInput, answer: &StringChangeOutput) -> Vec<WorkingView> {
    let mut workings = Workings::of_all();
    explain(asked, answer, &mut workings);
    workings.into_list().iter().map(WorkingView::of).collect()
}

/// What the engine misses, in words: each string once.
fn missing(problems: &Problems, asked: &StringChangeInput) -> Vec<String> {
    let mut told: Vec<String> = Vec::new();
    for problem in &problems.0 {
        let mut steps = problem.pointer.split('/').skip(1);
        let (which, place) = (steps.next().unwrap_or(""), steps.next().and_then(|place| place.parse::<usize>().ok()));
        let words = match place {
            Some(place) => {
                let (whose, strings) =
                    if which == "next" { ("the set", &asked.next) } else { ("the instrument", &asked.now) };
                let pitch = strings.get(place).map_or("", |string| string.pitch.as_str());
                format!(
                    "String {} ({pitch}) of {whose}: gauge and material, or of a wound string its mass per length or core.",
                    place + 1
                )
            }
            None => format!("{} {}", problem.pointer, problem.detail),
        };
        if !told.contains(&words) {
            told.push(words);
        }
    }
    told
}

fn nothing(set: &StringSet, unknown: Vec<String>) -> Compared {
    Compared {
        name: set.entry.name.clone(),
        set: set.id,
        unknown,
        warnings: Vec::new(),
        stopped: false,
        rows: Vec::new(),
        total_now: String::new(),
        total_next: String::new(),
        total_change: String::new(),
        relief_words: String::new(),
        relief_amount: None,
        has_setbacks: false,
        bars: Svg::default(),
        cautions: Vec::new(),
        workings: Vec::new(),
    }
}

/// `whole` is the comparison where both sets are known; `answer` always knows the set to come.
fn compared(
    bench: &Loaded,
    set: &StringSet,
    whole: Option<&StringChangeOutput>,
    answer: &StringChangeOutput,
    unknown: Vec<String>,
) -> Compared {
    let present = &bench.instrument.entry.strings;
    let pairs = (1..).zip(answer.strings.iter().zip(present.iter().zip(&set.entry.strings)));
    let rows = pairs.map(|(number, (string, (now, next)))| {
        let known = whole.is_some();
        let or_dash = |text: String| if known { text } else { "–".to_owned() };
        Row {
            name: format!("{number} {}", next.pitch),
            now: described(now.gauge, now.wound, bench.unit),
            next: described(Some(next.gauge), next.wound, bench.unit),
            now_n: or_dash(newtons(string.now.tension_n)),
            next_n: newtons(string.next.tension_n),
            change: or_dash(signed(string.tension_n.change, string.tension_n.change_percent)),
            setback_now: or_dash(setback(string.now.saddle_setback_mm, bench.unit)),
            setback_next: setback(string.next.saddle_setback_mm, bench.unit),
            cents: or_dash(cents(string.cents_at_12_if_saddle_stays)),
        }
    });
    let bars: Vec<TensionBar> = answer
        .strings
        .iter()
        .zip((1..).zip(&set.entry.strings))
        .map(|(string, (number, next))| TensionBar {
            name: format!("{number} {}", next.pitch),
            now_n: whole.map(|_| string.now.tension_n),
            next_n: string.next.tension_n,
        })
        .collect();
    let total = answer.total_n;
    Compared {
        rows: rows.collect(),
        warnings: warned(answer, bench.unit),
        stopped: answer.stopped,
        total_now: if whole.is_some() { newtons(total.now) } else { "–".to_owned() },
        total_next: newtons(total.next),
        total_change: if whole.is_some() { signed(total.change, total.change_percent) } else { "–".to_owned() },
        relief_words: whole.map_or_else(
            || "Without the strings on it nothing is said of the neck: measure before and after.".to_owned(),
            |whole| whole.relief.words.clone(),
        ),
        relief_amount: whole.and_then(|whole| relief_amount(whole, bench.unit)),
        has_setbacks: answer.strings.iter().any(|string| string.next.saddle_setback_mm.is_some()),
        bars: tension_bars(&bars),
        cautions: answer.cautions.iter().map(|key| words_of(key)).collect(),
        ..nothing(set, unknown)
    }
}

/// A string's figure in a warning, with its unit.
type Figure = fn(&StringChanged, LengthUnit) -> String;

/// The warnings, those of one kind on several strings as one sentence.
fn warned(answer: &StringChangeOutput, unit: LengthUnit) -> Vec<Warned> {
    let whole = answer.warnings.iter().filter(|warning| warning.string.is_none());
    let mut told: Vec<Warned> =
        whole.map(|warning| Warned { stop: warning.stop, words: warning.words.clone() }).collect();
    let kinds: [(&str, &str, &str, Figure); 3] = [
        (
            "near-breaking",
            "Near breaking while tuned up, as a share of music wire’s least strength:",
            "Shield the eyes, or choose another gauge or pitch.",
            |string, _| format!("{:.0} %", string.next.share_of_breaking.unwrap_or(0.0) * 100.0),
        ),
        ("string-pull-up", "Strings that pull much more than those on it:", "", |string, _| {
            format!("{:.0} % more", string.tension_n.change_percent)
        }),
        (
            "slot-too-narrow",
            "Thicker than the strings whose nut slots they will lie in, so they ride high and may pinch:",
            "Widen the slots first.",
            |string, unit| reckoned(string.thicker_mm.unwrap_or(0.0), 2, unit),
        ),
    ];
    for (key, before, after, figure) in kinds {
        let numbers = answer.warnings.iter().filter(|warning| warning.key == key).filter_map(|warning| warning.string);
        let strings = numbers
            .filter_map(|number| Some(format!("string {number}: {}", figure(answer.strings.get(number - 1)?, unit))));
        let strings: Vec<String> = strings.collect();
        if !strings.is_empty() {
            told.push(Warned {
                stop: false,
                words: format!("{before} {}. {after}", strings.join("; ")).trim_end().to_owned(),
            });
        }
    }
    told
}

/// What the amount rests on, and the amount.
fn relief_amount(answer: &StringChangeOutput, unit: LengthUnit) -> Option<(&'static str, String)> {
    let relief = &answer.relief;
    let [least, most] = relief.change_mm.filter(|_| relief.sign != ReliefSign::Same)?;
    let (near, far) = if least.abs() <= most.abs() { (least.abs(), most.abs()) } else { (most.abs(), least.abs()) };
    let direction = if relief.sign == ReliefSign::More { "more" } else { "less" };
    let basis = match relief.from? {
        ReliefFrom::Assumption => "assumption, no source",
        ReliefFrom::OwnPairs => "from its own readings",
    };
    Some((basis, format!("{} to {} {direction}", reckoned(near, 2, unit), reckoned(far, 2, unit))))
}

fn described(gauge: Option<Micrometres>, wound: bool, unit: LengthUnit) -> String {
    let gauge = gauge.map_or_else(|| "gauge not known".to_owned(), |gauge| length_words(gauge, unit));
    format!("{gauge}{}", if wound { " wound" } else { "" })
}

/// A gauge is sure to 0.005 mm, which is 3 % on a thin string: no decimals of a newton.
fn newtons(pull_n: f64) -> String {
    format!("{pull_n:.0} N")
}

fn signed(change_n: f64, percent: f64) -> String {
    if change_n.abs() < 0.5 {
        return "none".to_owned();
    }
    let sign = if change_n > 0.0 { "+" } else { "−" };
    format!("{sign}{:.0} N ({sign}{:.0} %)", change_n.abs(), percent.abs())
}

fn setback(length_mm: Option<f64>, unit: LengthUnit) -> String {
    length_mm.map_or_else(|| "–".to_owned(), |length| reckoned(length, 1, unit))
}

fn cents(cents: Option<f64>) -> String {
    match cents {
        None => "–".to_owned(),
        Some(cents) if cents.abs() < UNHEARD_CENTS => "as now".to_owned(),
        Some(cents) if cents > 0.0 => format!("{cents:.0} cents sharp"),
        Some(cents) => format!("{:.0} cents flat", cents.abs()),
    }
}

/// `GET /desk/instruments/{id}/strings?set=…`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<InstrumentId>, query: Query) -> Result {
    let bench = load(&context, id).await?;
    page(&strings_page(&context, &bench, query.value("set").parse().ok(), FormData::default()))
}

/// `POST /desk/instruments/{id}/strings`: these are on it now.
pub(in crate::web) async fn put_on(context: RequestContext, Id(id): Id<InstrumentId>, mut form: FormData) -> Result {
    let bench = load(&context, id).await?;
    let chosen: Option<StringSetId> = form.id("set");
    let version = form.version()?;
    let Some(set) = bench.set(chosen) else {
        form.add_error("set", "Choose a set with as many strings as the instrument has.");
        return page_with(form.status(), &strings_page(&context, &bench, None, form));
    };
    let asked = bench.asked(set);
    let answer = string_change(&asked).or_else(|_| string_change(&alone(asked)));
    let Ok(answer) = answer else {
        form.add_error("set", "The set is not described enough: complete it in the office first.");
        return page_with(form.status(), &strings_page(&context, &bench, chosen, form));
    };
    if answer.stopped && !form.is("all_the_same", "yes") {
        form.add_error("all_the_same", "Tick that they are on it all the same, or choose another set.");
        return page_with(form.status(), &strings_page(&context, &bench, chosen, form));
    }
    let strings: Vec<InstrumentString> = set
        .entry
        .strings
        .iter()
        .zip(&answer.strings)
        .map(|(string, found)| string.on_instrument(found.next.linear_density_g_m))
        .collect();
    let done = format!("/desk/instruments/{id}");
    let words = format!("“{}” is on {} now.", set.entry.name, bench.instrument.entry.title());
    let mut tx = context.app.db.write().await?;
    let by = context.audit(Door::Desk);
    let put_on = instrument::put_strings_on(&mut tx, &by, id, version, &set.entry.name, &strings).await;
    let is_on_already = matches!(put_on, Err(records::Error::ChangedMeanwhile(_))) && bench.wears(set, &strings);
    // pressed twice: the first press did it
    if is_on_already {
        return redirect_with_flash(&context, &done, &words);
    }
    if form.accept("set", put_on)?.is_none() {
        drop(tx);
        form.set("version", bench.instrument.version.to_string());
        return page_with(form.status(), &strings_page(&context, &bench, chosen, form));
    }
    tx.commit().await?;
    redirect_with_flash(&context, &done, &words)
}

impl Loaded {
    fn wears(&self, set: &StringSet, strings: &[InstrumentString]) -> bool {
        let present = self.instrument.entry.strings.iter();
        let alike = present.zip(strings).all(|(now, next)| now.unplaced() == *next);
        alike && self.instrument.entry.string_set == set.entry.name
    }
}
