//! The fields of the condition marks of a check-in.

use crate::web::form::FormData;

/// Condition marks on the form before one is written; there is always room for one more.
const AT_FIRST: usize = 4;
/// Condition marks of one check-in, at most.
const MOST: usize = 24;
/// The fields of one condition mark.
pub(super) struct MarkFields {
    pub(super) side_field: String,
    pub(super) side_label: String,
    pub(super) note_field: String,
    pub(super) note_label: String,
}

impl MarkFields {
    fn of(number: usize) -> Self {
        Self {
            side_field: format!("mark_side_{number}"),
            side_label: format!("Mark {number} on the"),
            note_field: format!("mark_note_{number}"),
            note_label: format!("Mark {number}: what"),
        }
    }

    /// As many as were written, and room for more.
    pub(super) fn shown(form: &FormData) -> Vec<Self> {
        let written = (1..=MOST).filter(|number| !form.value(&Self::of(*number).note_field).is_empty());
        let shown = (written.max().unwrap_or(0) + 1).clamp(AT_FIRST, MOST);
        (1..=shown).map(Self::of).collect()
    }

    /// All that a form can hold.
    pub(super) fn all() -> impl Iterator<Item = Self> {
        (1..=MOST).map(Self::of)
    }
}
