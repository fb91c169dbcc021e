//! `thumbplane serve`: the shop, open.

use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use tokio::net::TcpListener;
use tokio::signal::unix::{SignalKind, signal};
use tracing_subscriber::EnvFilter;

use super::backup::Kept;
use super::console::{DataFolder, Said, on_runtime, say};
use super::furnish::furnish;
use super::nightly;
use crate::clock::Clock;
use crate::records::{AuditContext, Db, Door, check_seed_data, import, photo, settings, staff};
use crate::web::serve::serve;
use crate::web::{App, Serving, go_on_with_imports};

#[derive(Debug, Args)]
pub(super) struct Options {
    #[command(flatten)]
    data: DataFolder,
    /// The address to answer on
    #[arg(long, value_name = "ADDR", env = "THUMBPLANE_LISTEN", default_value = "127.0.0.1:8750")]
    listen: SocketAddr,
    /// The address people type, such as <https://shop.example>, when a server with TLS stands in front
    #[arg(long, value_name = "URL", env = "THUMBPLANE_PUBLIC_ORIGIN")]
    public_origin: Option<String>,
    /// Answer other computers without TLS: whoever shares the network can read passwords on the way
    #[arg(long, env = "THUMBPLANE_PLAIN_HTTP")]
    plain_http: bool,
    /// The address of a proxy in front, such as 127.0.0.1: guesses are then counted by the last address of
    /// X-Forwarded-For, not all together by the proxy's own. Once for each proxy
    #[arg(long, value_name = "IP", env = "THUMBPLANE_TRUSTED_PROXY", value_delimiter = ',')]
    trusted_proxy: Vec<IpAddr>,
    /// Each night, copy the shop to this folder, best on another disk; once for each
    #[arg(long, value_name = "DIR", env = "THUMBPLANE_BACKUP_TO", value_delimiter = ',')]
    backup_to: Vec<PathBuf>,
    #[command(flatten)]
    keep: Kept,
}

pub(super) fn run(options: &Options) -> Result<ExitCode, Said> {
    log_to_console();
    let tls = options.public_origin.as_deref().is_some_and(|origin| origin.starts_with("https://"));
    if !options.listen.ip().is_loopback() && !tls && !options.plain_http {
        return Err(format!(
            "{} can be reached from other computers without TLS. Add --public-origin https://… when a server with TLS \
             stands in front, or --plain-http to accept that passwords can be read on the network.",
            options.listen
        )
        .into());
    }
    check_seed_data()?;
    on_runtime(async {
        let db = Db::open(&options.data.data).await?;
        let mut tx = db.write().await?;
        furnish(&mut tx, Clock::system("UTC")?.now()).await?;
        let code = staff::first_start_code(&mut tx).await?;
        let by = AuditContext { staff: None, door: Door::House, at: Clock::system("UTC")?.now() };
        for id in import::to_throw_away(&mut *tx, by.at).await? {
            import::throw_away(&mut tx, &by, id).await?;
        }
        tx.commit().await?;
        photo::remove_forgotten(&db).await?;
        let zone = settings::current(db.read()).await?.time_zone;
        let clock = Clock::system(&zone)?;
        let listener = listen(options.listen).await?;
        let address = listener.local_addr()?;
        if let Some(code) = code {
            say(&format!(
                "Nobody can sign in yet. Open http://{}/first-start and type this one-time code:\n\n    {code}\n",
                reachable(address)
            ));
        }
        say(&format!("Thumbplane answers on http://{}", reachable(address)));
        let serving = Serving {
            public_origin: options.public_origin.as_deref().map(|origin| origin.trim_end_matches('/').to_owned()),
            demo: false,
            trusted_proxies: options.trusted_proxy.iter().map(IpAddr::to_canonical).collect(),
            backup_to: options.backup_to.clone(),
        };
        let nightly =
            nightly::backups(options.data.data.clone(), options.backup_to.clone(), options.keep, clock.clone());
        tokio::spawn(nightly);
        let app = App::new(db, clock, serving);
        go_on_with_imports(&app).await.map_err(|_| "files that were being brought in could not be gone on with")?;
        serve(listener, app, told_to_stop()).await?;
        Ok(ExitCode::SUCCESS)
    })
}

pub(super) async fn listen(address: SocketAddr) -> Result<TcpListener, Said> {
    TcpListener::bind(address)
        .await
        .map_err(|cause| format!("cannot answer on {address}: {cause}. Choose another address with --listen.").into())
}

/// An address a person can type: 0.0.0.0 means this computer.
pub(super) fn reachable(address: SocketAddr) -> SocketAddr {
    match address.ip() {
        IpAddr::V4(ip) if ip.is_unspecified() => SocketAddr::from(([127, 0, 0, 1], address.port())),
        _ => address,
    }
}

/// Ctrl-C, or the system's polite request.
pub(super) async fn told_to_stop() {
    let asked = async {
        match signal(SignalKind::terminate()) {
            Ok(mut asked) => {
                asked.recv().await;
            }
            Err(_) => std::future::pending().await,
        }
    };
    tokio::select! {
        pressed = tokio::signal::ctrl_c() => { if pressed.is_err() { std::future::pending::<()>().await; } }
        () = asked => {}
    }
    tracing::info!("server.stopping");
}

pub(super) fn log_to_console() {
    let filter = EnvFilter::try_from_env("THUMBPLANE_LOG").unwrap_or_else(|_| EnvFilter::new("warn,thumbplane=info"));
    // a second start in one process (tests) finds a subscriber already there
    let _ = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr).try_init();
}
