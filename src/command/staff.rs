//! `thumbplane staff add`: somebody new, from the console.

use std::io::{BufRead, IsTerminal};
use std::process::ExitCode;

use clap::{Args, Subcommand, ValueEnum};

use super::console::{DataFolder, Said, on_runtime, say, say_error};
use super::furnish::furnish;
use crate::clock::Clock;
use crate::records::staff::Roles;
use crate::records::{AuditContext, Db, Door, password, settings, staff};

#[derive(Debug, Args)]
pub(super) struct Options {
    #[command(subcommand)]
    command: StaffCommand,
}

#[derive(Debug, Subcommand)]
enum StaffCommand {
    /// Add somebody; their password is read from the first line of standard input
    Add {
        #[command(flatten)]
        data: DataFolder,
        /// The name they sign in with
        #[arg(long)]
        name: String,
        /// What they may do; say it once for each role
        #[arg(long, value_enum, required = true)]
        role: Vec<RoleName>,
    },
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum RoleName {
    /// Checks in, quotes, takes money, hands over
    Desk,
    /// Measures and works
    Bench,
    /// Everything, and the shop's settings
    Owner,
}

pub(super) fn run(options: Options) -> Result<ExitCode, Said> {
    let StaffCommand::Add { data, name, role } = options.command;
    if std::io::stdin().is_terminal() {
        say_error("Type a password (at least 12 characters) and press Enter. It is shown as you type.");
    }
    let mut typed = String::new();
    std::io::stdin().lock().read_line(&mut typed)?;
    let typed = typed.trim_end_matches(['\r', '\n']).to_owned();
    on_runtime(async {
        let db = Db::open(&data.data).await?;
        let mut tx = db.write().await?;
        furnish(&mut tx, Clock::system("UTC")?.now()).await?;
        let shop = settings::current(&mut *tx).await?;
        if let Some(words) = password::objection(&typed, &[&shop.shop_name, &name]) {
            return Err(words.into());
        }
        let by = AuditContext { staff: None, door: Door::Command, at: Clock::system(&shop.time_zone)?.now() };
        let has = |wanted| role.contains(&wanted);
        let roles = Roles { desk: has(RoleName::Desk), bench: has(RoleName::Bench), owner: has(RoleName::Owner) };
        staff::add(&mut tx, &by, None, &name, roles, &password::hash(&typed)?).await?;
        tx.commit().await?;
        db.close().await;
        say(&format!("{name} may sign in as {}.", roles.spoken()));
        Ok(ExitCode::SUCCESS)
    })
}
