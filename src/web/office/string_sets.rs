//! `/office/string-sets`: the sets this shop fits, by family.

use askama::Template;

use crate::quantity::LengthUnit;
use crate::records::Door;
use crate::records::family::Family;
use crate::records::string_set::{self, StringSet, StringSetEntry, usual_strings};
use crate::web::Result;
use crate::web::form::{FormData, LINE};
use crate::web::page::{Layout, RequestContext, page, page_with, redirect_with_flash};
use crate::web::words::{length_unit, length_words};

#[derive(Template)]
#[template(path = "office/string_sets.html")]
struct StringSetsPage {
    layout: Layout,
    form: FormData,
    rows: Vec<Row>,
    /// "mm" or "inches".
    unit: &'static str,
}

struct Row {
    href: String,
    name: String,
    family: &'static str,
    strings: usize,
    gauges: String,
    archived: bool,
}

impl StringSetsPage {
    fn families(&self) -> &'static [Family] {
        Family::ALL
    }
}

fn row(set: &StringSet, unit: LengthUnit) -> Row {
    let gauges = set.entry.strings.iter().map(|string| {
        let wound = if string.wound { "w" } else { "" };
        format!("{}{wound}", length_words(string.gauge, unit).trim_end_matches([' ', 'm', 'i', 'n']))
    });
    Row {
        href: format!("/office/string-sets/{}", set.id),
        name: set.entry.name.clone(),
        family: set.entry.family.spoken(),
        strings: set.entry.strings.len(),
        gauges: gauges.collect::<Vec<_>>().join(" · "),
        archived: set.entry.archived,
    }
}

async fn string_sets_page(context: &RequestContext, form: FormData) -> Result<StringSetsPage> {
    let sets = string_set::read_all(context.app.db.read()).await?;
    let unit = length_unit(&context.settings);
    Ok(StringSetsPage {
        layout: context.layout(),
        form,
        rows: sets.iter().map(|set| row(set, unit)).collect(),
        unit: if unit == LengthUnit::Inch { "inches" } else { "mm" },
    })
}

/// `GET /office/string-sets`
pub(in crate::web) async fn show(context: RequestContext) -> Result {
    page(&string_sets_page(&context, FormData::new()).await?)
}

/// `POST /office/string-sets`: a new set begins with the strings usual for its family.
pub(in crate::web) async fn add(context: RequestContext, mut form: FormData) -> Result {
    let name = form.required_line("name", "what the shop calls the set", LINE);
    let family = form.choice("family", "what it is made for");
    let Some(family) = family.filter(|_| !form.has_errors()) else {
        return page_with(form.status(), &string_sets_page(&context, form).await?);
    };
    let entry = StringSetEntry { name, family, archived: false, strings: usual_strings(family) };
    let mut tx = context.app.db.write().await?;
    let id = string_set::add(&mut tx, &context.audit(Door::Office), form.required_key()?, &entry).await?;
    tx.commit().await?;
    let words = format!("“{}” is there, with the usual strings: correct them.", entry.name);
    redirect_with_flash(&context, &format!("/office/string-sets/{id}"), &words)
}

/// `POST /office/string-sets/usual`
pub(in crate::web) async fn load_usual(context: RequestContext) -> Result {
    let mut tx = context.app.db.write().await?;
    let added = string_set::load_usual(&mut tx, &context.audit(Door::Office)).await?;
    tx.commit().await?;
    let words = match added {
        0 => "All the usual sets were here already; nothing was changed.".to_owned(),
        1 => "One usual set was added.".to_owned(),
        many => format!("{many} usual sets were added."),
    };
    redirect_with_flash(&context, "/office/string-sets", &words)
}
