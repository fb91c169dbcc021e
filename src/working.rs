//! How a number came about: the formula in symbols, the numbers put in, and where the formula is from.
//!
//! Anybody with a textbook can follow it: the formula with the numbers put in gives the result shown.
//!
//! # How a formula is written
//!
//! `symbol = expression`, every multiplication as `·`, powers as `²`, `⁴` or `^`, roots as `√(…)`, amounts
//! without their sign as `|…|`, rounding down and up as `⌊…⌋` and `⌈…⌉`. `Σ(…)` runs over the numbers
//! whose symbols end in ᵢ in the formula and in 1, 2, 3… among the numbers put in. `student(p, ν)` is the
//! quantile of Student's t below which a share p lies, `normal(p)` that of the normal distribution.
//! Where a result was searched for, the formula is the condition that it meets: its left side is then no
//! bare symbol, as in `c₁₂(ΔS, ΔN) = 0`.
//!
//! # Which numbers have a working
//!
//! All but copies of what was given and plain counts. Where many are alike (clearances over every fret)
//! the figures that somebody acts on always have theirs, and the rest while the list is shorter than
//! [`MOST`]; asking for one number by its pointer gives the working of any.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Length of a list of workings from which on only figures that somebody acts on are added.
pub const MOST: usize = 500;

/// The working of one number of an answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Working {
    /// JSON pointer (RFC 6901) to the number in the answer, such as `/strings/0/tension_n`; "" for a
    /// number on the way, which a later working puts in.
    pub of: String,
    /// What it is, in words.
    pub what: String,
    /// In symbols, such as `T = μ·(2·L·f)²`.
    pub formula: String,
    /// What was put in, in the order of the formula.
    pub with: Vec<PutIn>,
    /// What comes out, equal to the number pointed to.
    pub result: f64,
    /// Of the result: "mm", "N", "cents"; "" where it has none.
    pub unit: String,
    /// Where the formula is from.
    pub source: String,
}

/// One number put into a formula.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PutIn {
    /// As it stands in the formula.
    pub symbol: String,
    /// What it is.
    pub meaning: String,
    /// The number, in the unit beside it.
    pub value: f64,
    /// "mm", "kg/m"; "" where it has none.
    pub unit: String,
}

impl Working {
    /// Of the number at a pointer, or, with "", of one on the way there.
    pub fn new(of: impl Into<String>, what: impl Into<String>, formula: impl Into<String>) -> Self {
        Self {
            of: of.into(),
            what: what.into(),
            formula: formula.into(),
            with: Vec::new(),
            result: 0.0,
            unit: String::new(),
            source: String::new(),
        }
    }

    /// One more number put in.
    pub fn put(mut self, symbol: impl Into<String>, meaning: impl Into<String>, value: f64, unit: &str) -> Self {
        self.with.push(PutIn { symbol: symbol.into(), meaning: meaning.into(), value, unit: unit.to_owned() });
        self
    }

    /// A whole list of numbers: `symbol` with 1, 2, 3… below the line.
    pub fn put_each(mut self, symbol: &str, meaning: &str, values: impl IntoIterator<Item = f64>, unit: &str) -> Self {
        for (number, value) in (1..).zip(values) {
            self = self.put(format!("{symbol}{}", below(number)), format!("{meaning} {number}"), value, unit);
        }
        self
    }

    /// What comes out, and where the formula is from.
    pub fn gives(mut self, result: f64, unit: &str, source: &str) -> Self {
        self.result = result;
        unit.clone_into(&mut self.unit);
        source.clone_into(&mut self.source);
        self
    }
}

/// A number in figures below the line: 12 is ₁₂.
pub fn below(number: usize) -> String {
    number.to_string().chars().map(|digit| char::from_u32(u32::from(digit) + 0x2050).unwrap_or(digit)).collect()
}

/// The workings of an answer, in the order in which they follow from one another.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Workings {
    chains: Vec<Chain>,
    count: usize,
    under: String,
    asked: Option<String>,
}

/// Workings that follow from one another.
#[derive(Debug, Clone, PartialEq)]
struct Chain {
    /// The part of the answer whose every number follows from it too; `None`: its own numbers only.
    shared_under: Option<String>,
    workings: Vec<Working>,
}

impl Workings {
    /// For every number, up to the bound.
    pub fn of_all() -> Self {
        Self::default()
    }

    /// For one number only, whichever it is.
    pub fn of_one(pointer: impl Into<String>) -> Self {
        Self { asked: Some(pointer.into()), ..Self::default() }
    }

    /// Steps that several numbers here follow from.
    pub(crate) fn shared(&mut self, chain: Vec<Working>) {
        let under = self.under.clone();
        self.push(Some(under), chain);
    }

    /// A figure that somebody acts on, below `at`, with the steps to it.
    pub(crate) fn figure(&mut self, at: &str, chain: impl FnOnce() -> Vec<Working>) {
        if self.is_asked(at) {
            self.push(None, chain());
        }
    }

    /// One of many alike: left out where the list is long already.
    pub(crate) fn detail(&mut self, at: &str, chain: impl FnOnce() -> Vec<Working>) {
        if (self.count < MOST || self.asked.is_some()) && self.is_asked(at) {
            let chain = chain();
            if self.count + chain.len() <= MOST || self.asked.is_some() {
                self.push(None, chain);
            }
        }
    }

    /// The workings of a part that stands deeper in the answer.
    pub(crate) fn within(&mut self, at: &str, add: impl FnOnce(&mut Self)) {
        let outside = self.under.len();
        self.under.push_str(at);
        add(self);
        self.under.truncate(outside);
    }

    fn is_asked(&self, at: &str) -> bool {
        let Some(asked) = &self.asked else {
            return true;
        };
        let at = format!("{}{at}", self.under);
        at.starts_with(asked.as_str()) || asked.starts_with(&at)
    }

    fn push(&mut self, shared_under: Option<String>, mut workings: Vec<Working>) {
        if !self.under.is_empty() {
            for working in workings.iter_mut().filter(|working| !working.of.is_empty()) {
                working.of.insert_str(0, &self.under);
            }
        }
        self.count += workings.len();
        self.chains.push(Chain { shared_under, workings });
    }

    /// How one number came about: the steps to it in their order, itself the last. Empty where it has no
    /// working: a copy, a count, or nothing.
    pub fn of(&self, pointer: &str) -> Vec<&Working> {
        let found = self.chains.iter().enumerate().find_map(|(place, chain)| {
            let within = chain.workings.iter().position(|working| working.of == pointer)?;
            Some((place, within))
        });
        let Some((place, within)) = found else {
            return Vec::new();
        };
        let before = self.chains.iter().take(place).filter(|chain| {
            let under = chain.shared_under.as_deref();
            under.is_some_and(|under| pointer.strip_prefix(under).is_some_and(|rest| rest.starts_with('/')))
        });
        let own = self.chains.get(place).map(|chain| chain.workings.iter().take(within + 1));
        before.flat_map(|chain| &chain.workings).chain(own.into_iter().flatten()).collect()
    }

    /// The same, where what comes out is the number that is shown. A plan kept from before the house changed
    /// its targets shows other numbers: they have no working here.
    pub fn of_number(&self, pointer: &str, number: f64) -> Vec<&Working> {
        let found = self.of(pointer);
        let is_same = |working: &&Working| (working.result - number).abs() <= 1e-9 * number.abs().max(1.0);
        if found.last().is_some_and(is_same) { found } else { Vec::new() }
    }

    /// All of them.
    pub fn into_list(self) -> Vec<Working> {
        match &self.asked {
            Some(asked) => self.of(asked).into_iter().cloned().collect(),
            None => self.chains.into_iter().flat_map(|chain| chain.workings).collect(),
        }
    }
}
