//! `thumbplane check`: whether the shop's file is whole, and every photograph what it was.

use std::process::ExitCode;

use clap::Args;

use super::console::{DataFolder, Said, on_runtime, say, say_error};
use crate::records::Db;

#[derive(Debug, Args)]
pub(super) struct Options {
    #[command(flatten)]
    data: DataFolder,
}

pub(super) fn run(options: &Options) -> Result<ExitCode, Said> {
    let folder = &options.data.data;
    if !folder.join("thumbplane.db").exists() {
        return Err(format!("there is no shop in {}. Name its folder with --data.", folder.display()).into());
    }
    on_runtime(async {
        let db = Db::open(folder).await?;
        let report = db.check().await?;
        db.close().await;
        if report.faults.is_empty() {
            say(&format!(
                "The shop's file is whole: {} customers, {} instruments, {} jobs.",
                report.customers, report.instruments, report.jobs
            ));
            return Ok(ExitCode::SUCCESS);
        }
        say_error(&format!(
            "thumbplane: the file has faults. Stop the shop, keep a copy of {}, and go back to the last good backup:",
            folder.display()
        ));
        for fault in report.faults {
            say_error(&format!("  {fault}"));
        }
        Ok(ExitCode::FAILURE)
    })
}
