//! The review page on the loopback address.
//!
//! Who may come in: only requests to this very address (`Host`), with the secret in their path, and not
//! made by another page (`Origin`, `Sec-Fetch-Site`). A browser that we open learns the secret by a file and an
//! address that works once (`opening`). Nothing is loaded from anywhere else, no other page
//! may read an answer, and nothing is kept in the browser's cache.

mod actions;
mod guard;
mod health;
mod opening;
mod pages;
pub(crate) mod render;
mod server;
mod shown;
mod tracks;

use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use axum::extract::DefaultBodyLimit;
use axum::routing::{get, post};
use axum::{Router, middleware};
use minijinja::Environment;
use tokio::net::TcpListener;

pub use server::serve;

use super::align::Onset;
use crate::clock::Clock;
use crate::plan::Plan;
use crate::store::Store;
use opening::Opening;

/// Where a browser that we open comes in.
const OPEN: &str = "/open/";

/// Hears a film with a plan's words, and reports each percent of it; what goes wrong is in words for a person.
pub type HearFilm =
    dyn Fn(&Path, &Plan, &mut dyn FnMut(u8)) -> Result<Vec<Onset>, String> + Send + Sync;

/// What every request shares.
pub struct Review {
    store: Mutex<Store>,
    clock: Clock,
    secret: String,
    port: u16,
    templates: Environment<'static>,
    hear: Box<HearFilm>,
    /// How far films are heard that are being heard now, in percent, by the session's key.
    heard: Mutex<BTreeMap<String, u8>>,
    /// What lets the browser in that we open.
    opened: Mutex<Option<Opening>>,
}

impl Review {
    /// A review of `store`, to be served at `port` under `secret`.
    pub fn new(
        store: Store,
        clock: Clock,
        secret: String,
        port: u16,
        hear: Box<HearFilm>,
    ) -> Arc<Self> {
        let store = Mutex::new(store);
        let (templates, heard, opened) = (render::templates(), Mutex::default(), Mutex::default());
        Arc::new(Review { store, clock, secret, port, templates, hear, heard, opened })
    }

    /// Where it is.
    pub fn address(&self) -> String {
        format!("http://127.0.0.1:{}/{}/", self.port, self.secret)
    }

    fn store(&self) -> MutexGuard<'_, Store> {
        // A request that panicked has rolled its transaction back.
        self.store.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn heard(&self) -> MutexGuard<'_, BTreeMap<String, u8>> {
        self.heard.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn opened(&self) -> MutexGuard<'_, Option<Opening>> {
        self.opened.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A path below the secret.
    fn path(&self, rest: &str) -> String {
        format!("/{}/{rest}", self.secret)
    }
}

/// Every page and action, guarded.
pub fn router(review: Arc<Review>) -> Router {
    let inside = Router::new()
        .route("/", get(pages::sessions))
        .route("/assets/{file}", get(pages::asset))
        .route("/session/{id}", get(pages::session))
        .route("/session/{id}/captions.vtt", get(tracks::captions))
        .route("/session/{id}/chapters.vtt", get(tracks::chapters))
        .route("/session/{id}/report.html", get(pages::session_report))
        .route("/session/{id}/edit", post(actions::edit))
        .route("/session/{id}/settle", post(actions::settle))
        .route("/session/{id}/undo", post(actions::undo))
        .route("/session/{id}/note", post(actions::note))
        .route("/session/{id}/film", get(actions::film_heard).post(actions::film))
        .route("/session/{id}/score/{scoring}", get(pages::score).post(actions::score))
        .route("/session/{id}/agree/{scoring}", get(pages::agree))
        .route("/animal/{id}", get(pages::animal))
        .route("/animal/{id}/card", get(pages::card))
        .route("/animal/{id}/health", post(health::answer))
        .route("/animal/{id}/report.html", get(pages::animal_report))
        // What comes in is limited there.
        .layer(DefaultBodyLimit::disable())
        .layer(middleware::from_fn(server::whole));
    let secret = format!("/{}", review.secret);
    Router::new()
        // Nested routes do not answer to the bare folder with its slash.
        .route(&format!("{secret}/"), get(pages::sessions))
        .nest(&secret, inside)
        .route(&format!("{OPEN}{{token}}"), get(opening::open))
        .fallback(pages::nothing_here)
        .layer(middleware::from_fn_with_state(review.clone(), guard::guard))
        .with_state(review)
}

/// Takes a port of the loopback address; 0 for any that is free.
///
/// # Errors
/// The port is taken.
pub async fn bind(port: u16) -> std::io::Result<TcpListener> {
    TcpListener::bind(SocketAddr::from(([127, 0, 0, 1], port))).await
}
