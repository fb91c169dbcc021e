//! Forms as they were typed.
//!
//! Every field arrives as text and is read by a method (`fields`) that answers the value or adds an error at the
//! field, so that a refused form comes back whole, with all errors at once. Whatever the books then say is added by
//! [`FormData::accept`] or [`FormData::accept_save`], and [`FormData::status`] says how the form goes back.

mod fields;

use axum::body::to_bytes;
use axum::extract::{FromRequest, FromRequestParts, Request};
use axum::http::request::Parts;
use axum::http::{StatusCode, header};
use serde::de::DeserializeOwned;
use uuid::Uuid;

use super::app::App;
use super::error::{Error, Result};
use crate::records;

/// No form of ours is larger; photographs have a route of their own.
const LARGEST_FORM: usize = 256 * 1024;
/// Fields of one form, at most.
const MOST_FIELDS: usize = 2000;
/// The longest single-line text taken.
pub const LINE: usize = 200;
/// The longest text of several lines taken.
pub const TEXT: usize = 4000;

/// What is wrong at a field, in words that say how to mend it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldError {
    /// The field's name.
    pub field: String,
    /// The words.
    pub message: String,
}

/// A form as it was typed, with the errors found so far.
#[derive(Debug, Clone, Default)]
pub struct FormData {
    pairs: Vec<(String, String)>,
    errors: Vec<FieldError>,
    theirs: Vec<(String, String)>,
    /// Somebody else saved meanwhile, whether or not what they changed clashes.
    is_conflict: bool,
    /// What was looked at when the form was filled in stands no longer.
    is_outdated: bool,
    /// Words that were typed before and not sent stand in it again.
    before: Option<FromBefore>,
    /// The row it belongs to, where several forms of one kind stand on a page.
    row: String,
}

/// What a form was filled with from a draft.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FromBefore {
    /// The address under which it is kept.
    pub form: String,
    /// When it was last kept, in words.
    pub at: String,
}

/// One choice of a list, for the field template.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    key: String,
    words: String,
}

impl Choice {
    /// A choice that is sent as `key`.
    pub fn new(key: impl ToString, words: impl Into<String>) -> Self {
        Self { key: key.to_string(), words: words.into() }
    }

    /// What is sent.
    pub fn key(&self) -> &str {
        &self.key
    }

    /// What is read.
    pub fn spoken(&self) -> &str {
        &self.words
    }
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
    pub fn new() -> Self {
        Self::default().with("form_key", Uuid::new_v4().simple().to_string())
    }

    /// A form as a browser sends it: `name=Maren&style=light`.
    pub fn sent(fields: &str) -> Self {
        let pairs = form_urlencoded::parse(fields.as_bytes()).into_owned().take(MOST_FIELDS).collect();
        Self { pairs, ..Self::default() }
    }

    /// The same form as one that was filled from a draft.
    #[must_use]
    pub fn with_words_from_before(mut self, before: FromBefore) -> Self {
        self.before = Some(before);
        self
    }

    /// The draft that it was filled from, if it was.
    pub fn before(&self) -> Option<&FromBefore> {
        self.before.as_ref()
    }

    /// Takes fields out, whatever stood in them.
    #[must_use]
    pub fn without(mut self, names: &[&str]) -> Self {
        self.pairs.retain(|(name, _)| !names.contains(&name.as_str()));
        self
    }

    /// The same form with a field filled in.
    #[must_use]
    pub fn with(mut self, name: &str, value: impl Into<String>) -> Self {
        self.set(name, value);
        self
    }

    /// Fills a field in, whatever stood there.
    pub fn set(&mut self, name: &str, value: impl Into<String>) {
        self.pairs.retain(|(present, _)| present != name);
        self.pairs.push((name.to_owned(), value.into()));
    }

    /// The same form with one more value in a field that can hold several, such as ticked boxes.
    #[must_use]
    pub fn append(mut self, name: &str, value: impl Into<String>) -> Self {
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

    /// The same form as that of one row of a page with several of its kind.
    #[must_use]
    pub fn of_row(mut self, row: impl ToString) -> Self {
        self.row = row.to_string();
        self
    }

    /// What the field's elements are called on the page: its name, and the row's where there are several forms.
    pub fn anchor(&self, name: &str) -> String {
        if self.row.is_empty() { name.to_owned() } else { format!("{name}_{}", self.row) }
    }

    /// What is wrong at a field.
    pub fn error(&self, name: &str) -> Option<&str> {
        self.errors.iter().find(|error| error.field == name).map(|error| error.message.as_str())
    }

    /// Everything that is wrong at a field.
    pub fn errors_at<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a str> {
        self.errors.iter().filter(move |error| error.field == name).map(|error| error.message.as_str())
    }

    /// The part of a page's form that belongs to one of its rows: what stands in `NAME_ROW`, and what is wrong with it,
    /// as the field `NAME` of a form of that row.
    #[must_use]
    pub fn row(&self, row: impl ToString, names: &[&str]) -> Self {
        let mut form = Self::default().of_row(row);
        for name in names {
            let whole = form.anchor(name);
            form.set(name, self.value(&whole));
            for message in self.errors_at(&whole) {
                form.add_error(name, message);
            }
        }
        form
    }

    /// Puts a row's form back into the whole: what stands in it, what is wrong with it, and what somebody else saved.
    pub fn put_row(&mut self, row: impl ToString, names: &[&str], form: &Self) {
        let whole = Self::default().of_row(row);
        for name in names {
            let own = whole.anchor(name);
            self.pairs.retain(|(present, _)| *present != own);
            if form.has(name) {
                self.pairs.push((own.clone(), form.value(name).to_owned()));
            }
            self.errors.extend(
                form.errors_at(name).map(|message| FieldError { field: own.clone(), message: message.to_owned() }),
            );
            self.theirs.extend(form.theirs(name).map(|theirs| (own.clone(), theirs.to_owned())));
        }
        self.is_conflict |= form.is_conflict;
        self.is_outdated |= form.is_outdated;
    }

    /// The same form without the fields of a row.
    #[must_use]
    pub fn without_row(mut self, row: impl ToString, names: &[&str]) -> Self {
        let whole = Self::default().of_row(row);
        let own: Vec<String> = names.iter().map(|name| whole.anchor(name)).collect();
        self.pairs.retain(|(present, _)| !own.contains(present));
        self
    }

    /// Whether anything stands otherwise than when the form was opened; `false` where it does not say how that was.
    pub fn is_touched(&self) -> bool {
        let opened: Option<Vec<(String, String)>> = serde_json::from_str(self.value("opened")).ok();
        let is_same = |one: &str, other: &str| one.replace("\r\n", "\n").trim() == other.replace("\r\n", "\n").trim();
        opened.is_some_and(|opened| opened.iter().any(|(name, value)| !is_same(self.value(name), value)))
    }

    /// The ids of what stands beside a field's control: its hint, its error, what somebody else saved.
    pub fn describers(&self, name: &str, hint: &str) -> String {
        let anchor = self.anchor(name);
        let beside = [
            ("hint", !hint.is_empty()),
            ("error", self.error(name).is_some()),
            ("theirs", self.theirs(name).is_some()),
        ];
        let ids = beside.iter().filter(|(_, stands)| *stands).map(|(kind, _)| format!("{kind}-{anchor}"));
        ids.collect::<Vec<_>>().join(" ")
    }

    /// Whether anything stands beside a field's control.
    pub fn is_described(&self, name: &str, hint: &str) -> bool {
        !self.describers(name, hint).is_empty()
    }

    /// Everything that is wrong, in the order it was found.
    pub fn errors(&self) -> &[FieldError] {
        &self.errors
    }

    /// Whether anything is wrong.
    pub fn has_errors(&self) -> bool {
        !self.errors.is_empty()
    }

    /// How the form goes back: 409 where what it was filled in by has changed meanwhile, 422 where something is wrong
    /// with it, else 200.
    pub fn status(&self) -> StatusCode {
        match (self.is_conflict || self.is_outdated, self.has_errors()) {
            (true, _) => StatusCode::CONFLICT,
            (false, true) => StatusCode::UNPROCESSABLE_ENTITY,
            (false, false) => StatusCode::OK,
        }
    }

    /// What somebody else saved into a field meanwhile, where it differs from what was typed.
    pub fn theirs(&self, name: &str) -> Option<&str> {
        self.theirs.iter().find(|(field, _)| field == name).map(|(_, value)| value.as_str())
    }

    /// Whether somebody else saved this into a field meanwhile.
    pub fn is_theirs(&self, name: &str, value: &str) -> bool {
        self.theirs(name) == Some(value)
    }

    /// Whether somebody else changed a field that was typed into, too.
    pub fn has_clashes(&self) -> bool {
        !self.theirs.is_empty()
    }

    /// Whether what was looked at when the form was filled in stands no longer.
    pub fn is_outdated(&self) -> bool {
        self.is_outdated
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
    pub fn merge(&mut self, theirs: &Self) {
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
                Some(base) if is_same(base.value(name), ours) => self.set(name, value),
                Some(base) if is_same(base.value(name), value) => {}
                _ => self.theirs.push((name.to_owned(), value.to_owned())),
            }
        }
        self.set("opened", theirs.opened());
        if theirs.has("version") {
            self.set("version", theirs.value("version"));
        }
        self.is_conflict = true;
    }

    /// The same, where [`FormData::accept_save`] found that somebody else saved meanwhile; else nothing.
    pub fn merge_on_conflict(&mut self, theirs: &Self) {
        if self.is_conflict {
            self.merge(theirs);
        }
    }

    /// Adds an error at a field.
    pub fn add_error(&mut self, name: &str, message: impl Into<String>) {
        self.errors.push(FieldError { field: name.to_owned(), message: message.into() });
    }

    /// Adds an error, because what was looked at when the form was filled in stands no longer.
    pub fn add_outdated(&mut self, name: &str, message: impl Into<String>) {
        self.add_error(name, message);
        self.is_outdated = true;
    }

    /// This form with what was typed over it, and its errors: a page of several forms comes back whole.
    #[must_use]
    pub fn overlaid_with(mut self, typed: Self) -> Self {
        let mut typed = typed;
        self.pairs.retain(|(name, _)| !typed.pairs.iter().any(|(over, _)| over == name));
        self.pairs.append(&mut typed.pairs);
        Self { pairs: self.pairs, ..typed }
    }

    /// Takes the books' answer to a deed: what they did, or `None` with their refusal at the field.
    ///
    /// # Errors
    /// What has nothing to do with what was typed.
    pub fn accept<T>(&mut self, name: &str, answer: records::Result<T>) -> Result<Option<T>> {
        match answer {
            Ok(done) => Ok(Some(done)),
            Err(records::Error::Refused(words)) => {
                self.add_error(name, words);
                Ok(None)
            }
            Err(records::Error::ChangedMeanwhile(what)) => {
                let words = "meanwhile. Look at what stands now, then send it again.";
                self.add_outdated(name, format!("Somebody else changed this {what} {words}"));
                Ok(None)
            }
            Err(other) => Err(other.into()),
        }
    }

    /// The same of a record that is saved whole: where somebody else saved it meanwhile, nothing is said at the field.
    /// The record is read anew, and both versions are shown: [`FormData::merge_on_conflict`].
    ///
    /// # Errors
    /// What has nothing to do with what was typed.
    pub fn accept_save<T>(&mut self, name: &str, answer: records::Result<T>) -> Result<Option<T>> {
        if let Err(records::Error::ChangedMeanwhile(_)) = answer {
            self.is_conflict = true;
            return Ok(None);
        }
        self.accept(name, answer)
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
        let pairs = form_urlencoded::parse(query.as_bytes()).take(MOST_FIELDS);
        // what is looked up is one line: a control character, which no keyboard types, is a blank
        let printable = |text: std::borrow::Cow<str>| text.replace(char::is_control, " ");
        let pairs = pairs.map(|(name, value)| (name.into_owned(), printable(value))).collect();
        Ok(Self(FormData { pairs, ..FormData::default() }))
    }
}

impl std::ops::Deref for Query {
    type Target = FormData;
    fn deref(&self) -> &FormData {
        &self.0
    }
}
