//! Forms as they were typed.
//!
//! Every field arrives as text and is read by a method that answers the value or notes a problem at
//! the field, so that a refused form comes back whole, with all problems at once.

use std::str::FromStr;

use axum::body::to_bytes;
use axum::extract::{FromRequest, FromRequestParts, Request};
use axum::http::request::Parts;
use axum::http::{StatusCode, header};
use serde::de::DeserializeOwned;
use time::Date;
use uuid::Uuid;

use super::app::App;
use super::error::{Error, Result};
use crate::quantity::{Currency, LengthUnit, Micrometres, Money, Thousandths, parse_day};
use crate::records;

/// No form of ours is larger; photographs have a route of their own.
const LARGEST_FORM: usize = 256 * 1024;
/// Fields of one form, at most.
const MOST_FIELDS: usize = 2000;
/// The longest single-line text taken.
pub const LINE: usize = 200;
/// The largest amount of money taken, in minor units, as the books hold it.
const MOST_MONEY: Money = Money(100_000_000);
/// The longest text of several lines taken.
pub const TEXT: usize = 4000;

/// What is wrong at a field, in words that say how to mend it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// The field's name.
    pub field: String,
    /// The words.
    pub message: String,
}

/// A form as it was typed, with the problems found so far.
#[derive(Debug, Clone, Default)]
pub struct FormData {
    pairs: Vec<(String, String)>,
    problems: Vec<Problem>,
    theirs: Vec<(String, String)>,
    /// Somebody else saved meanwhile, whether or not what they changed clashes.
    is_conflict: bool,
}

impl<S: Send + Sync> FromRequest<S> for FormData {
    type Rejection = Error;

    async fn from_request(request: Request, _: &S) -> Result<Self> {
        let kind = request.headers().get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).unwrap_or("");
        if !kind.starts_with("application/x-www-form-urlencoded") {
            return Err(Error::Unreadable("This page takes its own form only."));
        }
        let body = to_bytes(request.into_body(), LARGEST_FORM)
            .await
            .map_err(|_| Error::Unreadable("The form is larger than any of ours, or it did not arrive whole."))?;
        let pairs: Vec<(String, String)> = form_urlencoded::parse(&body).into_owned().take(MOST_FIELDS).collect();
        Ok(Self { pairs, ..Self::default() })
    }
}

impl FormData {
    /// A form nobody has typed into yet, with a fresh key against double presses.
    pub fn fresh() -> Self {
        Self::default().with("form_key", Uuid::new_v4().simple().to_string())
    }

    /// The same form with a field filled in.
    #[must_use]
    pub fn with(mut self, name: &str, value: impl Into<String>) -> Self {
        self.pairs.retain(|(present, _)| present != name);
        self.pairs.push((name.to_owned(), value.into()));
        self
    }

    /// The same form with one more value in a field that can hold several, such as ticked boxes.
    #[must_use]
    pub fn and(mut self, name: &str, value: impl Into<String>) -> Self {
        self.pairs.push((name.to_owned(), value.into()));
        self
    }

    /// What was typed into a field; "" where nothing was.
    pub fn value(&self, name: &str) -> &str {
        self.pairs.iter().find(|(present, _)| present == name).map_or("", |(_, value)| value)
    }

    /// Whether the form has such a field, empty or not.
    pub fn has(&self, name: &str) -> bool {
        self.pairs.iter().any(|(present, _)| present == name)
    }

    /// Everything typed into fields of one name, in order.
    pub fn values(&self, name: &str) -> impl Iterator<Item = &str> {
        self.pairs.iter().filter(move |(present, _)| present == name).map(|(_, value)| value.as_str())
    }

    /// The names of all fields, in order; one that came twice stands twice.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.pairs.iter().map(|(name, _)| name.as_str())
    }

    /// Whether a box is ticked, or a choice is the chosen one.
    pub fn is(&self, name: &str, value: &str) -> bool {
        self.values(name).any(|typed| typed == value)
    }

    /// What is wrong at a field.
    pub fn error(&self, name: &str) -> Option<&str> {
        self.problems.iter().find(|problem| problem.field == name).map(|problem| problem.message.as_str())
    }

    /// Everything that is wrong, in the order it was found.
    pub fn problems(&self) -> &[Problem] {
        &self.problems
    }

    /// Whether anything is wrong.
    pub fn refused(&self) -> bool {
        !self.problems.is_empty()
    }

    /// What somebody else saved into a field meanwhile, where it differs from what was typed.
    pub fn theirs(&self, name: &str) -> Option<&str> {
        self.theirs.iter().find(|(field, _)| field == name).map(|(_, value)| value.as_str())
    }

    /// Whether somebody else changed a field that was typed into, too.
    pub fn clashes(&self) -> bool {
        !self.theirs.is_empty()
    }

    /// Whether somebody else saved meanwhile.
    pub fn is_conflict(&self) -> bool {
        self.is_conflict
    }

    /// The fields as they stood when the form was opened, for a hidden field of that name: so that who changed
    /// what can be told when somebody else saves meanwhile.
    pub fn opened(&self) -> String {
        if self.has("opened") {
            return self.value("opened").to_owned();
        }
        serde_json::to_string(&self.fields()).unwrap_or_default()
    }

    fn fields(&self) -> Vec<(&str, &str)> {
        let own = ["form_key", "version", "opened"];
        let fields = self.pairs.iter().filter(|(name, _)| !own.contains(&name.as_str()));
        fields.map(|(name, value)| (name.as_str(), value.as_str())).collect()
    }

    /// Turns the form into one that shows both versions, with the new version so that the next press knows what
    /// it replaces. A field that only we changed keeps ours, one that only they changed takes theirs over, and
    /// where both did ours stays as typed and theirs stands beside it.
    pub fn conflict(&mut self, theirs: &Self, version: i64) {
        let opened = self.has("opened").then(|| self.value("opened"));
        let opened: Option<Vec<(String, String)>> = opened.and_then(|pairs| serde_json::from_str(pairs).ok());
        let base = opened.map(|pairs| Self { pairs, ..Self::default() });
        let is_same = |one: &str, other: &str| one.replace("\r\n", "\n").trim() == other.replace("\r\n", "\n").trim();
        let mut names: Vec<&str> = theirs.fields().into_iter().map(|(name, _)| name).collect();
        names.extend(base.iter().flat_map(Self::fields).map(|(name, _)| name).filter(|name| !theirs.has(name)));
        for name in names {
            let (ours, value) = (self.value(name), theirs.value(name));
            if is_same(ours, value) {
                continue;
            }
            match &base {
                Some(base) if is_same(base.value(name), ours) => *self = std::mem::take(self).with(name, value),
                Some(base) if is_same(base.value(name), value) => {}
                _ => self.theirs.push((name.to_owned(), value.to_owned())),
            }
        }
        let now = theirs.opened();
        *self = std::mem::take(self).with("opened", now).with("version", version.to_string());
        self.is_conflict = true;
    }

    /// Notes a problem at a field.
    pub fn refuse(&mut self, name: &str, message: impl Into<String>) {
        self.problems.push(Problem { field: name.to_owned(), message: message.into() });
    }

    /// This form with what was typed over it, and its problems: a page of several forms comes back whole.
    #[must_use]
    pub fn under(mut self, typed: Self) -> Self {
        let mut typed = typed;
        self.pairs.retain(|(name, _)| !typed.pairs.iter().any(|(over, _)| over == name));
        self.pairs.append(&mut typed.pairs);
        Self { pairs: self.pairs, ..typed }
    }

    /// Notes at a field what the books would not do, and answers the status to show the form with.
    ///
    /// # Errors
    /// What has nothing to do with what was typed.
    pub fn note(&mut self, name: &str, error: records::Error) -> Result<StatusCode> {
        match error {
            records::Error::Refused(words) => {
                self.refuse(name, words);
                Ok(StatusCode::UNPROCESSABLE_ENTITY)
            }
            records::Error::ChangedMeanwhile(what) => {
                self.refuse(
                    name,
                    format!(
                        "Somebody else changed this {what} meanwhile. Look at what stands now, then send it again."
                    ),
                );
                Ok(StatusCode::CONFLICT)
            }
            other => Err(other.into()),
        }
    }

    /// The key that makes a second press harmless.
    pub fn key(&self) -> &str {
        self.value("form_key")
    }

    /// The key, or a refusal when a script left it out.
    ///
    /// # Errors
    /// [`Error::Unreadable`] without a usable key.
    pub fn required_key(&self) -> Result<&str> {
        let key = self.key();
        if key.is_empty() || key.len() > 64 {
            return Err(Error::Unreadable("The form is not whole. Open its page again."));
        }
        Ok(key)
    }

    /// The version that was read when the form was opened.
    ///
    /// # Errors
    /// [`Error::Unreadable`] without one.
    pub fn version(&self) -> Result<i64> {
        self.value("version").parse().map_err(|_| Error::Unreadable("The form is not whole. Open its page again."))
    }

    /// A single line that must not be empty. `what` finishes "Type …".
    pub fn required(&mut self, name: &str, what: &str, most: usize) -> String {
        let text = self.line(name, most);
        if text.is_empty() && self.error(name).is_none() {
            self.refuse(name, format!("Type {what}."));
        }
        text
    }

    /// Several lines that must not be empty. `what` finishes "Type …".
    pub fn required_area(&mut self, name: &str, what: &str, most: usize) -> String {
        let text = self.area(name, most);
        if text.is_empty() && self.error(name).is_none() {
            self.refuse(name, format!("Type {what}."));
        }
        text
    }

    /// A single line that may be empty.
    pub fn line(&mut self, name: &str, most: usize) -> String {
        self.text_of(name, most, false)
    }

    /// Several lines that may be empty.
    pub fn area(&mut self, name: &str, most: usize) -> String {
        self.text_of(name, most, true)
    }

    fn text_of(&mut self, name: &str, most: usize, lines: bool) -> String {
        let text = self.value(name).replace("\r\n", "\n").trim().to_owned();
        let count = text.chars().count();
        if count > most {
            self.refuse(name, format!("This is {count} characters long; at most {most} fit. Shorten it."));
        }
        if text.chars().any(|c| c.is_control() && !(lines && (c == '\n' || c == '\t'))) {
            self.refuse(name, "This holds characters that cannot be printed. Type it by hand.");
        }
        text
    }

    /// One of a closed list. `what` finishes "Choose …".
    pub fn choice<T: FromStr>(&mut self, name: &str, what: &str) -> Option<T> {
        let chosen = self.value(name).parse().ok();
        if chosen.is_none() {
            self.refuse(name, format!("Choose {what}."));
        }
        chosen
    }

    /// A key from a hidden field or a choice; `None` where the field is empty.
    pub fn id<T: FromStr>(&mut self, name: &str) -> Option<T> {
        let typed = self.value(name);
        if typed.is_empty() {
            return None;
        }
        let id = typed.parse().ok();
        if id.is_none() {
            self.refuse(name, "Choose from the list again; this choice could not be read.");
        }
        id
    }

    /// A day; `None` where the field is empty.
    pub fn day(&mut self, name: &str) -> Option<Date> {
        let typed = self.value(name).trim().to_owned();
        if typed.is_empty() {
            return None;
        }
        match parse_day(&typed) {
            Ok(day) => Some(day),
            Err(words) => {
                self.refuse(name, words);
                None
            }
        }
    }

    /// A whole number within a range; `None` where the field is empty.
    pub fn number(&mut self, name: &str, range: std::ops::RangeInclusive<i64>) -> Option<i64> {
        let typed = self.value(name).trim().to_owned();
        if typed.is_empty() {
            return None;
        }
        match typed.parse::<i64>() {
            Ok(number) if range.contains(&number) => Some(number),
            _ => {
                self.refuse(name, format!("Type a whole number from {} to {}.", range.start(), range.end()));
                None
            }
        }
    }

    /// A length; `None` where the field is empty.
    pub fn length(&mut self, name: &str, unit: LengthUnit) -> Option<Micrometres> {
        let typed = self.value(name).trim().to_owned();
        if typed.is_empty() {
            return None;
        }
        match Micrometres::parse(&typed, unit) {
            Ok(length) => Some(length),
            Err(words) => {
                self.refuse(name, words);
                None
            }
        }
    }

    /// A length that may have a minus; `None` where the field is empty.
    pub fn signed_length(&mut self, name: &str, unit: LengthUnit) -> Option<Micrometres> {
        let typed = self.value(name).trim().to_owned();
        if typed.is_empty() {
            return None;
        }
        match Micrometres::parse_signed(&typed, unit) {
            Ok(length) => Some(length),
            Err(words) => {
                self.refuse(name, words);
                None
            }
        }
    }

    /// An amount with at most three decimals; `None` where the field is empty.
    pub fn thousandths(&mut self, name: &str) -> Option<Thousandths> {
        let typed = self.value(name).trim().to_owned();
        if typed.is_empty() {
            return None;
        }
        match Thousandths::parse(&typed) {
            Ok(amount) => Some(amount),
            Err(words) => {
                self.refuse(name, words);
                None
            }
        }
    }

    /// An amount of money, not negative; `None` where the field is empty.
    pub fn money(&mut self, name: &str, currency: &Currency) -> Option<Money> {
        let typed = self.value(name).trim().to_owned();
        if typed.is_empty() {
            return None;
        }
        match Money::parse(&typed, currency) {
            Ok(money) if (0..=MOST_MONEY.0).contains(&money.0) => Some(money),
            Ok(money) if money.0 > 0 => {
                self.refuse(name, format!("The most that fits here is {}.", MOST_MONEY.with_symbol(currency)));
                None
            }
            Ok(_) => {
                self.refuse(name, "Type the amount without a minus.");
                None
            }
            Err(words) => {
                self.refuse(name, words);
                None
            }
        }
    }
}

/// Whether a text can be an e-mail address at all; the only real check is that mail arrives.
pub fn looks_like_email(text: &str) -> bool {
    let sides = text.split_once('@');
    sides.is_some_and(|(user, host)| !user.is_empty() && !host.is_empty() && !host.contains('@'))
        && !text.chars().any(char::is_whitespace)
}

/// The key in a URL. A key that cannot be read is a page that does not exist.
#[derive(Debug, Clone, Copy)]
pub struct Id<T>(pub T);

impl<T: DeserializeOwned + Send> FromRequestParts<App> for Id<T> {
    type Rejection = Error;

    #[expect(clippy::disallowed_types, reason = "this is the one place that wraps it")]
    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self> {
        axum::extract::Path::<T>::from_request_parts(parts, app)
            .await
            .map(|axum::extract::Path(id)| Self(id))
            .map_err(|_| Error::NotFound("page"))
    }
}

/// The query of a URL, as typed fields.
#[derive(Debug, Clone, Default)]
pub struct Query(FormData);

impl FromRequestParts<App> for Query {
    type Rejection = Error;

    async fn from_request_parts(parts: &mut Parts, _: &App) -> Result<Self> {
        let query = parts.uri.query().unwrap_or("");
        let pairs = form_urlencoded::parse(query.as_bytes()).into_owned().take(MOST_FIELDS).collect();
        Ok(Self(FormData { pairs, ..FormData::default() }))
    }
}

impl std::ops::Deref for Query {
    type Target = FormData;
    fn deref(&self) -> &FormData {
        &self.0
    }
}
