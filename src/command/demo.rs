//! `thumbplane demo`: a throw-away shop, *Millrace Strings*, filled from `seed-data/millrace.toml` with
//! days counted back from today, so that it never ages.

mod story;

use std::net::SocketAddr;
use std::process::ExitCode;

use clap::Args;

use super::console::{Said, on_runtime, say};
use super::furnish::furnish_millrace;
use super::serve::{listen, log_to_console, reachable, told_to_stop};
use crate::clock::Clock;
use crate::records::staff::Roles;
use crate::records::{AuditContext, Db, Door, check_seed_data, password, settings, staff};
use crate::web::serve::serve;
use crate::web::{App, Serving};

#[derive(Debug, Args)]
pub(super) struct Options {
    /// The address to answer on; this computer only
    #[arg(long, value_name = "ADDR", env = "THUMBPLANE_LISTEN", default_value = "127.0.0.1:8750")]
    listen: SocketAddr,
}

/// Who may sign in to the demo.
#[derive(Debug, Clone, Copy)]
pub struct SignIn {
    /// Sign-in name.
    pub name: &'static str,
    /// Password. The demo answers this computer only.
    pub password: &'static str,
    /// What they may do.
    pub roles: Roles,
}

const fn roles(desk: bool, bench: bool, owner: bool) -> Roles {
    Roles { desk, bench, owner }
}

/// The people of Millrace Strings.
pub const PEOPLE: [SignIn; 4] = [
    SignIn { name: "Ottilie", password: "owner by the weir", roles: roles(true, true, true) },
    SignIn { name: "Mirel", password: "desk by the weir", roles: roles(true, false, false) },
    SignIn { name: "Ivo", password: "bench by the weir", roles: roles(false, true, false) },
    SignIn { name: "Tamsa", password: "second bench by the weir", roles: roles(false, true, false) },
];

pub(super) fn run(options: &Options) -> Result<ExitCode, Said> {
    log_to_console();
    if !options.listen.ip().is_loopback() {
        return Err(
            "the demo has known passwords, so it answers this computer only. Use --listen 127.0.0.1:PORT.".into()
        );
    }
    check_seed_data()?;
    on_runtime(async {
        let folder = std::env::temp_dir().join(format!("thumbplane-demo-{}", uuid::Uuid::new_v4().simple()));
        let listener = listen(options.listen).await?;
        let address = reachable(listener.local_addr()?);
        let db = Db::open(&folder).await?;
        let clock = Clock::system("Europe/London")?;
        fill(&db, &clock).await?;
        say(&format!("Millrace Strings, a throw-away demo, answers on http://{address}"));
        for person in PEOPLE {
            say(&format!("  {:22} name {:8} password {}", person.roles.spoken(), person.name, person.password));
        }
        say("Everything is gone when you stop it (Ctrl-C).");
        let serving = Serving { public_origin: Some(format!("http://{address}")), demo: true, ..Serving::default() };
        serve(listener, App::new(db, clock, serving), told_to_stop()).await?;
        std::fs::remove_dir_all(&folder)?;
        Ok(ExitCode::SUCCESS)
    })
}

/// Fills an empty shop with the people and the story of Millrace Strings.
///
/// # Errors
/// When the seed data cannot be read, or the books cannot be written.
pub async fn fill(db: &Db, clock: &Clock) -> Result<(), Said> {
    let hashes = PEOPLE.map(|person| std::thread::spawn(move || password::hash(person.password)));
    let mut tx = db.write().await?;
    furnish_millrace(&mut tx, clock.now()).await?;
    let by = AuditContext { staff: None, door: Door::Command, at: clock.now() };
    let mut people = Vec::new();
    for (person, hash) in PEOPLE.iter().zip(hashes) {
        let hash = hash.join().map_err(|_| "a password could not be hashed")??;
        people.push((person.name, staff::add(&mut tx, &by, None, person.name, person.roles, &hash).await?));
    }
    let shop = settings::current(&mut *tx).await?;
    story::tell(&mut tx, db, clock, &shop, &people).await?;
    tx.commit().await?;
    Ok(())
}
