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
    let fields = of("input[name], textarea[name], select[name]");
    let fields =
        form.select(&fields).filter_map(|field| Some((field.attr("name").unwrap().to_owned(), sent(field)?))).collect();
    Form { action: form.attr("action").unwrap_or_default().to_owned(), fields }
}

/// What a field sends, if anything (HTML, constructing the entry list): nothing of buttons, of what is disabled, or of a
/// box or tile that is not ticked; of a list what is chosen.
fn sent(field: ElementRef<'_>) -> Option<String> {
    if field.attr("disabled").is_some() {
        return None;
    }
    let value = || field.attr("value").map(str::to_owned);
    match (field.value().name(), field.attr("type")) {
        ("textarea", _) => Some(field.text().collect::<String>().trim_start_matches('\n').to_owned()),
        ("select", _) => {
            let options = Selector::parse("option").unwrap();
            let chosen = field.select(&options).find(|option| option.attr("selected").is_some());
            let option = chosen.or_else(|| field.select(&options).next())?;
            Some(option.attr("value").map_or_else(|| option.text().collect(), str::to_owned))
        }
        (_, Some("submit" | "button" | "reset" | "image" | "file")) => None,
        (_, Some("radio" | "checkbox")) => field.attr("checked").map(|_| value().unwrap_or_else(|| "on".to_owned())),
        _ => Some(value().unwrap_or_default()),
    }
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
