//! What the form of the grid holds before anybody types into this page: what the last plan leaves fresh, under what
//! was typed since.

use uuid::Uuid;

use super::bench_job::BenchJob;
use super::circumstances::read_circumstances;
use super::grid;
use crate::records::reading::{ReadingSet, ReadingStage};
use crate::records::{ReadingSetId, StaffId, moves};
use crate::web::form::FormData;

impl BenchJob {
    /// The form as it stands for everybody.
    pub(super) fn fresh_form(&self) -> FormData {
        let stage = moves::reading_here(self.job.stage, &self.lines);
        let last = self.sets.last();
        let tool = last.map_or("ruler-010", |set| set.circumstances.tool.as_str());
        let mut form = FormData::new()
            .with("stage", stage.key())
            .with("tool", tool)
            .with("tuned_to", last.map_or("standard", |set| &set.circumstances.tuned_to))
            .with("after", last.map(|set| set.id.to_string()).unwrap_or_default())
            .with("seen", self.draft.as_ref().map_or(0, |draft| draft.seen).to_string());
        if stage == ReadingStage::During && !self.carried.is_empty() {
            form = grid::carry(form.with("carried", "yes"), &self.carried);
        }
        let typed = self.draft.iter().flat_map(|draft| draft.cells.values());
        typed.fold(form, |form, entry| form.with(&entry.cell, entry.typed.clone()))
    }

    /// The readings under way as a set, where something was typed or done since the newest one. It has no key
    /// and no place in the books yet. What cannot be read is left out; its cell says so.
    pub(super) fn under_way(&self, form: &FormData) -> Option<ReadingSet> {
        self.draft.as_ref()?;
        let mut form = form.clone().with("sure", "yes");
        let readings = grid::readings_from_form(&mut form, &self.instrument.entry, self.unit, None, &self.carried);
        Some(ReadingSet {
            id: ReadingSetId(Uuid::nil()),
            job_id: self.job.id,
            taken_at: self.now,
            staff_id: StaffId(Uuid::nil()),
            circumstances: read_circumstances(&mut form)?,
            readings,
            version: 0,
        })
    }
}
