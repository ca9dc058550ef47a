//! `scupper serve`: the office on a socket, until told to stop.

use super::Failure;
use super::home::Home;
use crate::accounts::Role;
use crate::{AppState, Door, Limits, Office, app, metrics_app};
use scupper_core::quote::RateBook;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::signal::unix::{SignalKind, signal};

/// How long open requests may take after the process was asked to stop.
const PATIENCE: Duration = Duration::from_secs(10);

/// Run the office: devices exchange with it, reviewers read it in a browser.
///
/// Everything is kept in one folder (SQLite and photo files), made if it is not there. A one-time
/// sign-in link for the review page is printed at the start. Ctrl-C or SIGTERM stops it after
/// open requests are done.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    home: Home,
    /// Address and port to listen on; port 0 takes a free one.
    #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:8417")]
    listen: SocketAddr,
    /// Address by which others reach this server through a TLS proxy, such as
    /// `https://office.example`.
    #[arg(long, value_name = "URL")]
    public_url: Option<String>,
    /// Address of a proxy in front, whose `Forwarded` or `X-Forwarded-For` is believed; may be
    /// given more than once. Without it tries are counted together for all who come through it.
    #[arg(long, value_name = "ADDR")]
    trusted_proxy: Vec<IpAddr>,
    /// Log in JSON, one object a line.
    #[arg(long)]
    log_json: bool,
    #[command(flatten)]
    rates: super::quote::Rates,
    /// Also serve figures for monitoring (OpenMetrics) on this address.
    #[arg(long, value_name = "ADDR")]
    metrics: Option<SocketAddr>,
    /// Listen beyond this machine without TLS. Tokens then cross the network readable.
    #[arg(long)]
    plain_http: bool,
    /// The firm that the printed sign-in link is for.
    #[arg(long, default_value = "office")]
    contractor: String,
    /// Name of the reviewer that the printed sign-in link is for.
    #[arg(long, default_value = "reviewer")]
    reviewer: String,
}

pub(super) fn run(args: Args) -> Result<(), Failure> {
    let https = args
        .public_url
        .as_deref()
        .is_some_and(|url| url.starts_with("https://"));
    if !args.listen.ip().is_loopback() && !https && !args.plain_http {
        return Err(Failure::Input(format!(
            "--listen {}: reachable from other machines without TLS; put a TLS proxy in front and \
             give --public-url https://…, or accept the risk with --plain-http",
            args.listen
        )));
    }
    log_to_stderr(args.log_json);
    let door = Door {
        https,
        trusted_proxies: args.trusted_proxy.clone(),
    };
    runtime()?.block_on(serve(args, door))
}

async fn serve(args: Args, door: Door) -> Result<(), Failure> {
    let book = args.rates.book()?;
    let state = open(&args.home, door, book)?;
    let contractor = state.accounts.contractor(&args.contractor)?;
    let life = state.limits.code_life;
    let code = state.accounts.admit(
        state.unix(),
        life,
        contractor,
        &args.reviewer,
        Role::Reviewer,
    )?;
    let listener = TcpListener::bind(args.listen).await.map_err(|error| {
        Failure::Other(format!(
            "--listen {}: {error}; choose another address",
            args.listen
        ))
    })?;
    let at = listener
        .local_addr()
        .map_err(|error| Failure::other("listening", error))?;
    let base = args
        .public_url
        .unwrap_or_else(|| format!("http://{}", reachable(at)));
    eprintln!("scupper: listening on {at}");
    eprintln!("scupper: data in {}", args.home.folder.data.display());
    super::files::answer(&format!("{}/sign-in/{code}\n", base.trim_end_matches('/')))?;
    eprintln!(
        "scupper: the line above signs {} in once, within {} minutes; Ctrl-C stops",
        args.reviewer,
        life.as_secs() / 60
    );
    if let Some(at) = args.metrics {
        let listener = bind("--metrics", at).await?;
        let figures = metrics_app(state.clone());
        tokio::spawn(async move { axum::serve(listener, figures).await });
    }
    let service = app(state.clone()).into_make_service_with_connect_info::<SocketAddr>();
    let (asked, heard) = tokio::sync::oneshot::channel();
    let stopping = async move {
        stop().await;
        eprintln!("scupper: stopping");
        state.live.close();
        let _ = asked.send(());
    };
    let serving = axum::serve(listener, service).with_graceful_shutdown(stopping);
    tokio::select! {
        served = serving => served.map_err(|error| Failure::other("serving", error))?,
        () = async { let _ = heard.await; tokio::time::sleep(PATIENCE).await; } => {
            eprintln!("scupper: some requests did not end in time");
        }
    }
    eprintln!("scupper: stopped");
    Ok(())
}

fn open(home: &Home, door: Door, book: RateBook) -> Result<AppState, Failure> {
    let (data, limits) = (&home.folder.data, Limits::default());
    #[cfg(feature = "postgres")]
    if let Some(place) = home.shared()? {
        return Ok(Office::open_shared(data, place, limits, door, book)?);
    }
    let key = home.folder.key()?;
    Ok(Office::open_keyed(data, key.as_ref(), limits, door, book)?)
}

async fn bind(option: &str, at: SocketAddr) -> Result<TcpListener, Failure> {
    TcpListener::bind(at)
        .await
        .map_err(|error| Failure::Other(format!("{option} {at}: {error}; choose another address")))
}

/// A listener on all addresses is reached by this machine's own.
fn reachable(at: SocketAddr) -> SocketAddr {
    if at.ip().is_unspecified() {
        (Ipv4Addr::LOCALHOST, at.port()).into()
    } else {
        at
    }
}

/// Resolves when the process is asked to stop.
pub(crate) async fn stop() {
    let asked = async {
        match signal(SignalKind::terminate()) {
            Ok(mut terminate) => {
                terminate.recv().await;
            }
            Err(_) => std::future::pending().await,
        }
    };
    tokio::select! {
        _ = tokio::signal::ctrl_c() => {}
        () = asked => {}
    }
}

/// The runtime of a serving command.
pub(crate) fn runtime() -> Result<tokio::runtime::Runtime, Failure> {
    tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(|error| Failure::other("starting threads", error))
}

/// Structured log lines on stderr; `SCUPPER_LOG` sets the level, `warn` by default.
pub(super) fn log_to_stderr(json: bool) {
    use tracing_subscriber::EnvFilter;
    let filter = EnvFilter::try_from_env("SCUPPER_LOG").unwrap_or_else(|_| EnvFilter::new("warn"));
    let log = tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr);
    let _ = match json {
        true => log.json().try_init(),
        false => log.try_init(),
    };
}
