//! How each position came about.

use super::{FretsInput, FretsOutput};
use crate::setup::frame;
use crate::working::Workings;

/// The working of every position.
pub fn explain(input: &FretsInput, output: &FretsOutput, workings: &mut Workings) {
    for place in 0..output.positions_mm.len() {
        let at = format!("/positions_mm/{place}");
        workings.detail(&at, || vec![frame::working::position(&at, "x", input.scale_mm, place + 1)]);
    }
}
