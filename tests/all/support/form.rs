//! A form as a browser would send it: every field with what stands in it.

use scraper::{ElementRef, Selector};

use super::{Answer, Person};

/// The fields of one form, to be changed and sent.
pub(crate) struct Form {
    action: String,
    fields: Vec<(String, String)>,
}

/// The form of a page that goes to `action`.
pub(crate) fn form(page: &Answer, action: &str) -> Form {
    form_by(page, &format!("form[method=post][action='{action}']"))
}

/// The form of a page that a selector finds.
pub(crate) fn form_by(page: &Answer, selector: &str) -> Form {
    let html = page.page();
    let of = |words: &str| Selector::parse(words).unwrap();
    let form = html.select(&of(selector)).next().unwrap_or_else(|| panic!("no form {selector}"));
    let mut fields = Vec::new();
    for field in form.select(&of("input[name], textarea[name], select[name]")) {
        let name = field.attr("name").unwrap().to_owned();
        let value = match field.value().name() {
            "textarea" => Some(field.text().collect::<String>().trim_start_matches('\n').to_owned()),
            "select" => chosen(field),
            _ if matches!(field.attr("type"), Some("radio" | "checkbox")) && field.attr("checked").is_none() => None,
            _ if field.attr("disabled").is_some() => None,
            _ => Some(field.attr("value").unwrap_or_default().to_owned()),
        };
        fields.extend(value.map(|value| (name, value)));
    }
    Form { action: form.attr("action").unwrap_or_default().to_owned(), fields }
}

fn chosen(select: ElementRef<'_>) -> Option<String> {
    let options = Selector::parse("option").unwrap();
    let chosen = select.select(&options).find(|option| option.attr("selected").is_some());
    chosen.or_else(|| select.select(&options).next())?.attr("value").map(str::to_owned)
}

impl std::ops::Deref for Form {
    type Target = [(String, String)];
    fn deref(&self) -> &Self::Target {
        &self.fields
    }
}

impl Form {
    /// With something else typed into a field.
    pub(crate) fn with(mut self, name: &str, value: &str) -> Self {
        self.fields.retain(|(present, _)| present != name);
        self.fields.push((name.to_owned(), value.to_owned()));
        self
    }

    /// With a box no longer ticked.
    pub(crate) fn without(mut self, name: &str) -> Self {
        self.fields.retain(|(present, _)| present != name);
        self
    }

    /// What stands in a field.
    pub(crate) fn value(&self, name: &str) -> &str {
        self.fields.iter().find(|(present, _)| present == name).map_or("", |(_, value)| value)
    }

    pub(crate) async fn sent_by(&self, person: &Person<'_>) -> Answer {
        let fields: Vec<(&str, &str)> =
            self.fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
        person.sends(&self.action, &fields).await
    }
}
