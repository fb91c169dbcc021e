//! Runs the migrations into a scratch database, so that the `query!` macros check every statement
//! against the real schema on each build: no cached query data, no extra tool.

use std::error::Error;
use std::path::{Path, PathBuf};

use sqlx::migrate::Migrator;
use sqlx::sqlite::{SqliteConnectOptions, SqlitePoolOptions};

fn main() -> Result<(), Box<dyn Error>> {
    // Both folders are read at compile time by macros; Cargo must hear of a new file in them.
    println!("cargo:rerun-if-changed=migrations");
    println!("cargo:rerun-if-changed=static");
    println!("cargo:rerun-if-changed=seed-data");
    let scratch = PathBuf::from(std::env::var("OUT_DIR")?).join("schema.db");
    if scratch.exists() {
        std::fs::remove_file(&scratch)?;
    }
    tokio::runtime::Builder::new_current_thread().enable_all().build()?.block_on(migrate_into(&scratch))?;
    println!("cargo:rustc-env=DATABASE_URL=sqlite://{}", scratch.display());
    Ok(())
}

async fn migrate_into(file: &Path) -> Result<(), Box<dyn Error>> {
    let options = SqliteConnectOptions::new().filename(file).create_if_missing(true);
    let pool = SqlitePoolOptions::new().max_connections(1).connect_with(options).await?;
    Migrator::new(Path::new("migrations")).await?.run(&pool).await?;
    pool.close().await;
    Ok(())
}
