//! The fields of a customer, wherever one is written down. Used by templates/parts/customer_fields.html.

use time::Date;

use crate::quantity::telephone::to_e164;
use crate::records::customer::{Customer, CustomerEntry, ReachBy, Telephone};
use crate::web::form::{FormData, LINE, TEXT, looks_like_email};
use crate::web::page::RequestContext;

/// Numbers beside the first one.
pub(super) const MORE: [(&str, &str); 2] = [("telephone_2", "telephone_label_2"), ("telephone_3", "telephone_label_3")];

/// The form as it is opened for a known customer.
pub(super) fn form_of(customer: &Customer) -> FormData {
    let mut form = FormData::new()
        .with("version", customer.version.to_string())
        .with("name", customer.name.as_str())
        .with("nickname", customer.nickname.as_str())
        .with("telephone", customer.telephone.as_str())
        .with("telephone_label", customer.telephone_label.as_str())
        .with("email", customer.email.as_str())
        .with("address", customer.address.as_str())
        .with("reach_by", customer.reach_by.key())
        .with("reminders", if customer.reminders_agreed_on.is_some() { "yes" } else { "" })
        .with("note", customer.note.as_str());
    for (place, (number, label)) in MORE.iter().enumerate() {
        let more = customer.more_telephones.get(place).cloned().unwrap_or_default();
        form.set(number, more.number);
        form.set(label, more.label);
    }
    form
}

/// Reads the fields; `agreed` is the day of a yes to reminders that was given before.
pub(super) fn read(form: &mut FormData, context: &RequestContext, agreed: Option<Date>) -> Option<CustomerEntry> {
    let name = form.required_line("name", "the customer's name, or choose a known customer above", LINE);
    let nickname = form.line("nickname", LINE);
    let own = telephone(form, context, "telephone", "telephone_label");
    let more = MORE.map(|(number, label)| telephone(form, context, number, label));
    let email = form.line("email", 254);
    if !email.is_empty() && !looks_like_email(&email) {
        form.add_error("email", "An e-mail address has one @ with something on both sides, and no blanks.");
    }
    let address = form.area("address", 500);
    let reach_by = form.choice::<ReachBy>("reach_by", "how the customer likes to be reached");
    if reach_by == Some(ReachBy::Letter) && address.is_empty() {
        form.add_error("address", "A letter needs an address: type it, or choose another way to reach them.");
    }
    let note = form.area("note", TEXT);
    let reminders_agreed_on = form.is("reminders", "yes").then(|| agreed.unwrap_or_else(|| context.today()));
    Some(CustomerEntry {
        name,
        nickname,
        telephone: own.number,
        telephone_label: own.label,
        more_telephones: more.into_iter().filter(|more| !more.number.is_empty()).collect(),
        email,
        address,
        reach_by: reach_by?,
        reminders_agreed_on,
        note,
    })
}

/// A number and what it is. What the rules of its country do not know is taken where words say what it is.
fn telephone(form: &mut FormData, context: &RequestContext, number: &str, label: &str) -> Telephone {
    let read = Telephone { number: form.line(number, 60), label: form.line(label, 60) };
    // a shop that has not said its country yet knows no rules
    let has_rules = context.settings.country != "ZZ";
    // what is written in words is no slip of the pen: "ask at the mill"
    let is_number = !read.number.chars().any(char::is_alphabetic);
    if has_rules
        && is_number
        && !read.number.is_empty()
        && read.label.is_empty()
        && to_e164(&read.number, &context.settings.country).is_none()
    {
        form.add_error(
            number,
            "No telephone here has such a number. Correct it, or say in words beside it what it is.",
        );
    }
    read
}
