//! `/office/string-sets/{id}`: one set, string by string.

use askama::Template;

use crate::problem::Problems;
use crate::quantity::{LengthUnit, Micrometres};
use crate::records::family::{Family, StringMaterial};
use crate::records::instrument::micrograms_per_metre;
use crate::records::string_set::{self, MOST_STRINGS, SetString, StringSet, StringSetEntry};
use crate::records::{Door, StringSetId};
use crate::setup::string_change::{StringChangeInput, string_change};
use crate::web::Result;
use crate::web::form::{FormData, Id, LINE};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::string_grid::{Column, StringGrid};
use crate::web::words::{length_unit, shown};

#[derive(Template)]
#[template(path = "office/string_set.html")]
struct StringSetPage {
    layout: Layout,
    form: FormData,
    id: StringSetId,
    name: String,
    grid: StringGrid,
}

impl StringSetPage {
    fn families(&self) -> &'static [Family] {
        Family::ALL
    }
}

/// The covering of a wound string.
const WRAP: Column = Column { name: "wrap", heading: "Wrap wire", words: "wrap wire", keypad: "decimal" };

fn form_of(set: &StringSet, context: &RequestContext) -> FormData {
    let unit = length_unit(&context.settings);
    let entry = &set.entry;
    let mut form = FormData::new()
        .with("version", set.version.to_string())
        .with("name", entry.name.as_str())
        .with("family", entry.family.key())
        .with("archived", if entry.archived { "yes" } else { "" });
    for (number, string) in (1..).zip(&entry.strings) {
        let density = string.linear_density_ug_per_m.map(|density| Micrometres(density / 1000));
        form = form
            .with(&format!("pitch_{number}"), string.pitch.as_str())
            .with(&format!("gauge_{number}"), shown(Some(string.gauge), unit))
            .with(&format!("material_{number}"), string.material.key())
            .with(&format!("wound_{number}"), if string.wound { "yes" } else { "" })
            .with(&format!("core_{number}"), shown(string.core, unit))
            .with(&format!("wrap_{number}"), shown(string.wrap, unit))
            .with(&format!("density_{number}"), shown(density, LengthUnit::Millimetre));
    }
    form
}

fn string_set_page(context: &RequestContext, set: &StringSet, form: FormData) -> StringSetPage {
    let asked = form.value("rows").parse().unwrap_or(0);
    let count = asked.max(set.entry.strings.len() + 1).clamp(6, MOST_STRINGS);
    let columns = vec![Column::NOTE, Column::GAUGE, Column::CORE, WRAP, Column::DENSITY];
    let grid = StringGrid::new(count, columns, "Material, of the core", Vec::new());
    StringSetPage { layout: context.layout(), form, id: set.id, name: set.entry.name.clone(), grid }
}

/// `GET /office/string-sets/{id}`
pub(in crate::web) async fn show(context: RequestContext, Id(id): Id<StringSetId>) -> Result {
    let set = string_set::load(context.app.db.read(), id).await?;
    page(&string_set_page(&context, &set, form_of(&set, &context)))
}

/// `POST /office/string-sets/{id}`
pub(in crate::web) async fn save(context: RequestContext, Id(id): Id<StringSetId>, mut form: FormData) -> Result {
    let present = string_set::load(context.app.db.read(), id).await?;
    if form.is("then", "rows") {
        form.number("rows", 1..=i64::try_from(MOST_STRINGS).unwrap_or(i64::MAX));
        return page(&string_set_page(&context, &present, form));
    }
    let Some(entry) = string_set_entry(&mut form, &context) else {
        return page_with(form.status(), &string_set_page(&context, &present, form));
    };
    let mut tx = context.app.db.write().await?;
    let saved = string_set::save(&mut tx, &context.audit(Door::Office), id, form.version()?, &entry).await;
    if form.accept_save("name", saved)?.is_none() {
        drop(tx);
        let present = string_set::load(context.app.db.read(), id).await?;
        form.merge_on_conflict(&form_of(&present, &context));
        return page_with(form.status(), &string_set_page(&context, &present, form));
    }
    tx.commit().await?;
    redirect_with_flash(
        &context,
        "/office/string-sets",
        &format!("“{}” is saved. Instruments keep what is on them.", entry.name),
    )
}

fn string_set_entry(form: &mut FormData, context: &RequestContext) -> Option<StringSetEntry> {
    let name = form.required_line("name", "what the shop calls the set", LINE);
    let family = form.choice("family", "what it is made for");
    let strings = read_strings(form, length_unit(&context.settings));
    if let Some(family) = family.filter(|_| !form.has_errors()) {
        describe_enough(form, family, &strings);
    }
    if form.has_errors() {
        return None;
    }
    let strings = strings.into_iter().map(|(_, string)| string).collect();
    Some(StringSetEntry { name, family: family?, archived: form.is("archived", "yes"), strings })
}

/// The strings with the rows they were typed in; an empty note leaves a row out.
fn read_strings(form: &mut FormData, unit: LengthUnit) -> Vec<(usize, SetString)> {
    let mut strings = Vec::new();
    for number in 1..=MOST_STRINGS {
        let at = |field: &str| format!("{field}_{number}");
        let pitch = form.line(&at("pitch"), 8);
        if pitch.is_empty() {
            continue;
        }
        let gauge = form.length(&at("gauge"), unit);
        match gauge {
            Some(gauge) if !(100..=5000).contains(&gauge.0) => {
                form.add_error(&at("gauge"), "A string is between 0.1 and 5 mm thick.");
            }
            None if form.error(&at("gauge")).is_none() => form.add_error(&at("gauge"), "Type how thick the string is."),
            _ => {}
        }
        let core = form.length(&at("core"), unit);
        let wrap = form.length(&at("wrap"), unit);
        for (field, length, least) in [("core", core, 50), ("wrap", wrap, 20)] {
            if length.is_some_and(|length| !(least..=5000).contains(&length.0)) {
                form.add_error(&at(field), "This wire is thinner or thicker than any string's.");
            }
        }
        // read as a length in mm to share its decimal comma; the unit beside the field is g/m
        let density = form.length(&at("density"), LengthUnit::Millimetre).map(Micrometres::mm);
        let string = SetString {
            pitch,
            material: form
                .choice(&at("material"), "what the string or its core is made of")
                .unwrap_or(StringMaterial::Steel),
            gauge: gauge.unwrap_or(Micrometres(0)),
            wound: form.is(&at("wound"), "yes"),
            core,
            wrap,
            linear_density_ug_per_m: density.and_then(micrograms_per_metre),
        };
        strings.push((number, string));
    }
    if strings.is_empty() {
        form.add_error("pitch_1", "A set has at least one string: type its note.");
    }
    strings
}

/// The engine must be able to say what each string pulls; what it misses is noted at its field.
fn describe_enough(form: &mut FormData, family: Family, strings: &[(usize, SetString)]) {
    let set: Vec<_> = strings.iter().map(|(_, string)| string.for_engine(family)).collect();
    let asked = StringChangeInput {
        scale_mm: 650.0,
        frets: 20,
        a4_hz: 440.0,
        family: None,
        now: set.clone(),
        next: set,
        heights: None,
        relief_mm: 0.0,
        body_fret: None,
        relief_pairs: Vec::new(),
        break_angle: None,
        height_over_top_mm: None,
    };
    let Err(Problems(problems)) = string_change(&asked) else { return };
    for problem in problems {
        let Some((place, field)) = problem.pointer.strip_prefix("/now/").and_then(|rest| rest.split_once('/')) else {
            continue;
        };
        let number = place.parse().ok().and_then(|place: usize| strings.get(place)).map_or(1, |(number, _)| *number);
        let (field, words) = match field {
            "pitch" => ("pitch", "Type a note name with its octave, such as E4, F#3 or Bb1."),
            "diameter_mm" => ("gauge", "A string is between 0.1 and 5 mm thick."),
            "core_diameter_mm" => ("core", "This core is thinner or thicker than any string's."),
            "wrap_diameter_mm" => ("wrap", "This wire is thinner or thicker than any string's."),
            _ => (
                "density",
                "Of a wound string type its mass per length, or, on a steel or gut core, how thick the core is.",
            ),
        };
        form.add_error(&format!("{field}_{number}"), words);
    }
}
