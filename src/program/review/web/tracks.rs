//! Text tracks of a film: tries as captions and as chapters.

use std::time::Duration;

use axum::extract::{Path, State};
use axum::response::Response;

use super::pages::{Loaded, Shared, load, or_trouble};
use super::render::text_file;
use crate::review::vtt::{self, Cue};

/// Reps as places in film time.
fn film_reps(loaded: &Loaded) -> (Vec<(f64, String)>, f64) {
    let view = loaded.view();
    let (offset, scale) =
        view.film.as_ref().map_or((0.0, 1.0), |film| (film.offset_s, 1.0 + film.drift_ppm * 1e-6));
    let place = |at_s: f64| offset + at_s * scale;
    let end = loaded.events.iter().map(|stored| stored.at.as_secs_f64()).fold(0.0, f64::max);
    let reps = view.reps.iter().map(|rep| (place(rep.at_s), rep.words.clone())).collect();
    (reps, place(end))
}

pub(super) async fn captions(State(review): Shared, Path(id): Path<String>) -> Response {
    or_trouble(&review, || {
        let (reps, _) = film_reps(&load(&review.store(), &id)?);
        let lasting = Duration::from_millis(1500).as_secs_f64();
        let cue = |(from_s, text): (f64, String)| Cue { from_s, to_s: from_s + lasting, text };
        let cues: Vec<Cue> = reps.into_iter().map(cue).collect();
        Ok(text_file("text/vtt; charset=utf-8", vtt::file(&cues)))
    })
}

pub(super) async fn chapters(State(review): Shared, Path(id): Path<String>) -> Response {
    or_trouble(&review, || {
        let (reps, end) = film_reps(&load(&review.store(), &id)?);
        let cues = vtt::chapters(&reps, end + 2.0);
        Ok(text_file("text/vtt; charset=utf-8", vtt::file(&cues)))
    })
}
