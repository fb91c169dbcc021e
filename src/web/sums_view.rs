//! What lines come to, as papers and pages write it: without tax, the tax of each rate, the total; of prices that hold the
//! tax already, the total and what is in it. Where nothing is taxed, the total alone.

use super::page::RequestContext;
use super::words::currency;
use crate::quantity::{TaxRate, Taxed};

/// One row of the sums.
pub(super) struct SumRow {
    pub words: String,
    pub amount: String,
    pub is_total: bool,
}

/// The sums of a paper.
pub(super) struct SumsView {
    pub rows: Vec<SumRow>,
    /// The total by itself.
    pub total: String,
    /// Something is taxed, so that each line says its rate.
    pub has_tax: bool,
}

impl SumsView {
    pub(super) fn of(context: &RequestContext, tax_name: &str, is_inclusive: bool, sums: &Taxed) -> Self {
        let taxed: Vec<_> = sums.by_rate.iter().filter(|of| of.rate != TaxRate(0)).collect();
        let rate = |rate: TaxRate| rate_words(context, rate);
        let row = |words: String, amount, is_total| SumRow { words, amount: context.money(amount), is_total };
        let total = row("Total".to_owned(), sums.total, true);
        let mut rows = Vec::new();
        if is_inclusive {
            rows.push(total);
            rows.extend(taxed.iter().map(|of| {
                let words = format!("{tax_name} {} in it, of {} net", rate(of.rate), context.money(of.net));
                row(words, of.tax, false)
            }));
        } else {
            if !taxed.is_empty() {
                rows.push(row("Net".to_owned(), sums.net, false));
            }
            let several = sums.by_rate.len() > 1;
            rows.extend(taxed.iter().map(|of| {
                let on = if several { format!(" on {}", context.money(of.net)) } else { String::new() };
                row(format!("{tax_name} {}{on}", rate(of.rate)), of.tax, false)
            }));
            rows.push(total);
        }
        Self { rows, total: context.money(sums.total), has_tax: !taxed.is_empty() }
    }
}

/// "20 %", as the shop's country writes it; a dash where nothing is taxed.
pub(super) fn rate_words(context: &RequestContext, rate: TaxRate) -> String {
    if rate == TaxRate(0) { "–".to_owned() } else { rate.percent_in(currency(&context.settings).notation) }
}
