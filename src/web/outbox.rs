//! The outbox: messages that wait in the books are sent one after the other, beside the requests.
//!
//! Each is marked as begun, sent, and marked with what came of it, in that order, so that a program that ends between the
//! two sends it at most once more, with the same Message-ID. Where the server cannot be trusted or takes no password,
//! nothing more is sent until somebody has looked.

mod smtp;
pub(super) mod written;

use std::time::Duration;

use tokio::time::{MissedTickBehavior, interval};

use super::Result;
use super::app::App;
use crate::records::message::{self, Attempt, MailSettings};
pub use smtp::Patience;

/// How often it is looked whether a message is due, where nobody says so.
const EVERY: Duration = Duration::from_secs(60);

/// Sends what is due, for as long as the shop is open.
pub(super) async fn go_on(app: App) {
    let mut stopping = app.stopping();
    let mut looks = interval(EVERY);
    looks.set_missed_tick_behavior(MissedTickBehavior::Delay);
    if let Err(cause) = begin(&app).await {
        tracing::error!(cause = ?cause, "messages.failed");
    }
    loop {
        tokio::select! {
            _ = stopping.wait_for(|stopping| *stopping) => return,
            _ = looks.tick() => {}
            () = app.message_written.notified() => {}
        }
        let sent = tokio::select! {
            // what is being sent is found in hand at the next start
            _ = stopping.wait_for(|stopping| *stopping) => return,
            sent = send_due(&app, Patience::default()) => sent,
        };
        if let Err(cause) = sent {
            tracing::error!(cause = ?cause, "messages.failed");
        }
    }
}

/// What was in hand when the program ended may have arrived.
///
/// # Errors
/// When the books cannot be written.
pub async fn begin(app: &App) -> Result<()> {
    let mut tx = app.db.write().await?;
    let now = app.clock.now();
    message::found_in_hand(&mut tx, now).await?;
    message::forget_texts(&mut tx, now).await?;
    tx.commit().await?;
    Ok(())
}

/// Writes what the house writes by itself, and sends everything that is due.
///
/// # Errors
/// When the books cannot be read or written; a server that does not answer is none.
pub async fn send_due(app: &App, patience: Patience) -> Result<()> {
    let settings = message::mail_settings(app.db.read()).await?;
    if !settings.is_on {
        return Ok(());
    }
    if settings.by_itself {
        written::by_itself(app).await?;
    }
    while is_going(app).await? {
        let mut tx = app.db.write().await?;
        let next = message::take_next(&mut tx, app.clock.now()).await?;
        tx.commit().await?;
        let Some(next) = next else { return Ok(()) };
        let attempt = smtp::send(&settings, &next.to, &next.raw, patience).await;
        let mut tx = app.db.write().await?;
        message::attempted(&mut tx, app.clock.now(), next.id, &attempt).await?;
        if let Attempt::Stop(why) = &attempt {
            message::stop(&mut tx, why).await?;
        }
        tx.commit().await?;
        tracing::info!(message = %next.id, came_of_it = %name(&attempt), "message.attempted");
    }
    Ok(())
}

/// Whether messages are sent: switched on, and not stopped.
async fn is_going(app: &App) -> Result<bool> {
    let MailSettings { is_on, stopped_why, .. } = message::mail_settings(app.db.read()).await?;
    Ok(is_on && stopped_why.is_empty())
}

fn name(attempt: &Attempt) -> &'static str {
    match attempt {
        Attempt::Sent => "sent",
        Attempt::Later(_) => "later",
        Attempt::Refused(_) => "refused",
        Attempt::Unsure(_) => "unsure",
        Attempt::Stop(_) => "stopped",
    }
}
