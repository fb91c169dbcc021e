//! What every desk paper shares: its Print button, and the mark that says it is a copy.

use uuid::Uuid;

use super::Result;
use super::page::RequestContext;
use crate::records::paper::{PaperKind, prints, replaced};

/// A press of Print opens the printer's dialogue on the page it leads to, for this long.
const JUST_PRESSED_US: i64 = 30_000_000;

/// Why nothing is printed in a shop without a name.
pub(super) const NOT_OWN: &str = "Nothing was printed: papers carry the shop's name and address, and nobody has said them \
                                  yet. The owner does, in the office.";

/// How a paper is printed.
#[derive(Debug, Clone)]
pub(super) struct Printing {
    /// Where the Print button posts to.
    pub action: String,
    /// Set on every print but the first, and on the first after the job was put right.
    pub copy: Option<String>,
    /// Print was pressed just now.
    pub now: bool,
    /// What was chosen on the page, and is still chosen once it is printed.
    pub chosen: Option<(&'static str, String)>,
}

impl Printing {
    /// Of one paper about one record.
    pub(super) async fn of(context: &RequestContext, kind: PaperKind, id: Uuid) -> Result<Self> {
        let mut before = prints(context.app.db.read(), kind, id).await?;
        let just_pressed = before.first().is_some_and(|last| context.now().0 - last.0 < JUST_PRESSED_US);
        let now = just_pressed && context.layout().flash.is_some();
        if now {
            before.remove(0);
        }
        let replaced = replaced(context.app.db.read(), kind, id).await?;
        let copies: Vec<_> =
            before.iter().filter(|print| replaced.is_none_or(|replaced| **print > replaced.at)).collect();
        let is_first = before.is_empty();
        let copy = match (replaced, copies.as_slice()) {
            (_, [last, ..]) => {
                let times = if copies.len() == 1 { "once".to_owned() } else { format!("{} times", copies.len()) };
                Some(format!("Copy: printed {times} before, last on {}", context.moment(**last)))
            }
            (Some(replaced), []) if replaced.is_corrected => {
                Some(format!("Corrected on {}: this replaces what was printed before", context.day_of(replaced.at)))
            }
            (Some(_), []) if !is_first => Some("With the initials: this replaces what was printed before".to_owned()),
            _ => None,
        };
        Ok(Self { action: format!("/desk/papers/{}/{id}", kind.key()), copy, now, chosen: None })
    }
}
