//! What every desk paper shares: its Print button, and the mark that says it is a copy.

use uuid::Uuid;

use super::Result;
use super::page::Visit;
use crate::records::paper::{PaperKind, prints};

/// A press of Print opens the printer's dialogue on the page it leads to, for this long.
const JUST_PRESSED_US: i64 = 30_000_000;

/// How a paper is printed.
#[derive(Debug, Clone)]
pub(super) struct Printing {
    /// Where the Print button posts to.
    pub action: String,
    /// Set on every print but the first.
    pub copy: Option<String>,
    /// Print was pressed just now.
    pub now: bool,
}

impl Printing {
    /// Of one paper about one record.
    pub(super) async fn of(visit: &Visit, kind: PaperKind, id: Uuid) -> Result<Self> {
        let prints = prints(visit.app.db.read(), kind, id).await?;
        let just_pressed = prints.last.is_some_and(|last| visit.now().0 - last.0 < JUST_PRESSED_US);
        let now = just_pressed && visit.layout().flash.is_some();
        let before = if now { prints.count - 1 } else { prints.count };
        let copy = prints.last.filter(|_| before > 0).map(|last| {
            let times = if before == 1 { "once".to_owned() } else { format!("{before} times") };
            format!("Copy: printed {times} before, last on {}", visit.moment(last))
        });
        Ok(Self { action: format!("/desk/papers/{}/{id}", kind.key()), copy, now })
    }
}
