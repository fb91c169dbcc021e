//! What every desk paper shares: its Print button, and the mark that says it is a copy.

use uuid::Uuid;

use super::Result;
use super::page::RequestContext;
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
        let copy = before.first().map(|last| {
            let times = if before.len() == 1 { "once".to_owned() } else { format!("{} times", before.len()) };
            format!("Copy: printed {times} before, last on {}", context.moment(*last))
        });
        Ok(Self { action: format!("/desk/papers/{}/{id}", kind.key()), copy, now, chosen: None })
    }
}
