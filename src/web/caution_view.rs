//! The usual cautions as pages and papers show them. Used by templates/parts/cautions.html.

use super::page::RequestContext;
use crate::records::caution::{About, Caution, Place, at};

/// A line with what stands behind it.
#[derive(Debug, Clone)]
pub(super) struct CautionView {
    /// The line.
    pub(super) words: &'static str,
    /// "HSE SIM 03/2002/26", "shop habit".
    pub(super) backed_by: String,
}

impl RequestContext {
    /// The lines of a place. Those whose keys stand on the page already are left out.
    pub(super) fn cautions(&self, place: Place, about: &About, there: &[String]) -> Vec<CautionView> {
        let lines = at(place, about, &self.settings.country);
        lines.into_iter().filter(|line| !there.contains(&line.key)).map(caution_view).collect()
    }
}

fn caution_view(line: &'static Caution) -> CautionView {
    CautionView { words: &line.words, backed_by: line.backed_by() }
}
