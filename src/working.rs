//! How a number came about: the formula in symbols, the numbers put in, and where the formula is from.
//!
//! Anybody with a textbook can follow it: the formula with the numbers put in gives the result shown.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The working of one number of an answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Working {
    /// JSON pointer (RFC 6901) to the number in the answer, such as `/strings/0/tension_n`.
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
