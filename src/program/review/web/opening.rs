//! How the browser is shown the page without the secret on its command line, where everybody on the computer could
//! read it: it is given a file that only its owner may read, which leads it to an address that works once.

use std::fs::OpenOptions;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use anyhow::Context;
use axum::extract::{Path as Part, State};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};

use super::Review;
use crate::private::PassingFolder;
use crate::wording::text;

/// A browser is there by then, or does not come.
const LASTS: Duration = Duration::from_secs(120);

/// What lets a browser in once.
pub(super) struct Opening {
    token: String,
    until: Duration,
    /// Goes away with the token.
    folder: PassingFolder,
}

impl Review {
    /// Makes a file for a browser to open, which leads to the pages once, within two minutes. It is gone when it was
    /// used, and with the review.
    ///
    /// # Errors
    /// The system has no place for it, or no entropy.
    pub fn opening(&self) -> anyhow::Result<PathBuf> {
        let token = self.clock.new_secret().context("the system gives no random numbers")?;
        let folder = PassingFolder::new("review")?;
        let file = folder.path().join("review.html");
        let to = format!("http://127.0.0.1:{}/open/{token}", self.port);
        write_private(&file, &leading(&text("page.open_review"), &to))?;
        let until = self.clock.now() + LASTS;
        *self.opened() = Some(Opening { token, until, folder });
        Ok(file)
    }
}

fn write_private(file: &Path, text: &str) -> std::io::Result<()> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(file)?.write_all(text.as_bytes())
}

/// A page that goes on to an address of ours by itself.
fn leading(words: &str, to: &str) -> String {
    let language = text("page.language");
    format!(
        "<!doctype html><html lang=\"{language}\"><meta charset=\"utf-8\"><title>Hushtally</title>\
         <meta name=\"referrer\" content=\"no-referrer\"><meta http-equiv=\"refresh\" content=\"0;url={to}\">\
         <p><a href=\"{to}\">{words}</a></p></html>\n"
    )
}

/// Lets the browser in that comes first with the token. A page of its own, since what follows is then asked for by us
/// and no longer by a file.
pub(super) async fn open(State(review): State<Arc<Review>>, Part(token): Part<String>) -> Response {
    let known = {
        let mut opened = review.opened();
        let known = opened.take_if(|opening| opening.token == token);
        known.filter(|opening| review.clock.now() < opening.until)
    };
    let Some(opening) = known else {
        return (StatusCode::GONE, text("page.opened_already")).into_response();
    };
    drop(opening.folder);
    Html(leading(&text("page.go_on_to_review"), &review.path(""))).into_response()
}
