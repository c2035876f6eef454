//! Templates and how answers are made of them.

use std::collections::BTreeMap;

use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Response};
use minijinja::value::{Kwargs, Serde};
use minijinja::{Environment, HtmlEscape, Value, context};
use serde::Serialize;

use super::Review;
use crate::review::corrections::Refused;
use crate::store::StoreError;
use crate::wording::{self, Wording, text};

/// The style sheet, also put into reports.
pub(crate) const STYLE: &str = include_str!("../pages/review.css");
pub(super) const SCRIPT: &str = include_str!("../pages/review.js");

const TEMPLATES: [(&str, &str); 14] = [
    ("base.html", include_str!("../pages/base.html")),
    ("film.html", include_str!("../pages/film.html")),
    ("sessions.html", include_str!("../pages/sessions.html")),
    ("session.html", include_str!("../pages/session.html")),
    ("score.html", include_str!("../pages/score.html")),
    ("agree.html", include_str!("../pages/agree.html")),
    ("key.html", include_str!("../pages/key.html")),
    ("health.html", include_str!("../pages/health.html")),
    ("animal.html", include_str!("../pages/animal.html")),
    ("card.html", include_str!("../pages/card.html")),
    ("trouble.html", include_str!("../pages/trouble.html")),
    ("report.html", include_str!("../pages/report.html")),
    ("links.html", include_str!("../pages/links.html")),
    ("progress.html", include_str!("../pages/progress.html")),
];

/// Every template; what is put into them is escaped, since their names end in `.html`.
pub(crate) fn templates() -> Environment<'static> {
    let mut templates = Environment::new();
    templates.add_function("t", said);
    templates.add_filter("keys", keys);
    templates.add_filter("fixed", |number: f64, digits: usize| format!("{number:.digits$}"));
    templates.add_filter("part", part);
    templates.add_global("script", Wording::english().script().to_owned());
    for (name, text) in TEMPLATES {
        templates.add_template(name, text).expect("the embedded templates are tested");
    }
    templates
}

/// The text of this name in `prompts/en/pages.toml`, filled with what is named beside it: `t('look_at', at=place.at)`.
fn said(name: &str, values: Kwargs) -> Result<String, minijinja::Error> {
    let filled = values.args().map(|name| Ok((name, values.get::<Value>(name)?)));
    let filled: BTreeMap<&str, Value> = filled.collect::<Result<_, minijinja::Error>>()?;
    wording::try_filled(&format!("page.{name}"), Value::from(Serde(filled)))
}

/// Text with its keys as keys, `[p]`, and its commands as commands, `` `hushtally listen` ``.
fn keys(text: &str) -> Value {
    let escaped = HtmlEscape(text).to_string();
    let mut html = String::new();
    for (place, part) in escaped.split('`').enumerate() {
        let (open, close) = if place % 2 == 1 { ("<code>", "</code>") } else { ("", "") };
        html += &format!("{open}{part}{close}");
    }
    Value::from_safe_string(html.replace('[', "<kbd>").replace(']', "</kbd>"))
}

/// Text as the value of one part of an address.
fn part(text: String) -> String {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b"-_.~".contains(&byte);
    text.bytes()
        .map(|byte| if plain(byte) { char::from(byte).to_string() } else { format!("%{byte:02X}") })
        .collect()
}

impl Review {
    /// A page.
    pub(super) fn page(&self, template: &str, values: impl Serialize) -> Response {
        self.page_with(StatusCode::OK, template, values)
    }

    pub(super) fn page_with(
        &self,
        status: StatusCode,
        template: &str,
        values: impl Serialize,
    ) -> Response {
        let home = self.path("");
        let values = context! { home, ..Value::from(Serde(&values)) };
        let made = self.templates.get_template(template).and_then(|t| t.render(values));
        match made {
            Ok(text) => (status, Html(text)).into_response(),
            Err(error) => {
                tracing::error!("{template}: {error:#}");
                (StatusCode::INTERNAL_SERVER_ERROR, text("page.cannot_be_shown")).into_response()
            }
        }
    }

    /// A page that says what went wrong.
    pub(super) fn trouble(&self, trouble: Trouble) -> Response {
        let Trouble { status, text } = trouble;
        self.page_with(status, "trouble.html", TroublePage { text })
    }
}

/// `trouble.html`.
#[derive(Serialize)]
struct TroublePage {
    text: String,
}

/// What went wrong, for a person.
pub(super) struct Trouble {
    pub(super) status: StatusCode,
    pub(super) text: String,
}

impl Trouble {
    pub(super) fn new(status: StatusCode, text: impl Into<String>) -> Self {
        Trouble { status, text: text.into() }
    }

    pub(super) fn missing(what: &str) -> Self {
        Trouble::new(StatusCode::NOT_FOUND, text(&format!("page.no_such_{what}")))
    }

    pub(super) fn wrong(text: impl Into<String>) -> Self {
        Trouble::new(StatusCode::UNPROCESSABLE_ENTITY, text)
    }
}

impl From<StoreError> for Trouble {
    fn from(error: StoreError) -> Self {
        let status = match error {
            StoreError::NoSession(_) | StoreError::NoAnimal(_) => StatusCode::NOT_FOUND,
            _ => StatusCode::INTERNAL_SERVER_ERROR,
        };
        Trouble::new(status, error.to_string())
    }
}

impl From<Refused> for Trouble {
    fn from(refused: Refused) -> Self {
        let conflict = |name| Trouble::new(StatusCode::CONFLICT, text(name));
        match refused {
            Refused::NoSuchEdit => Trouble::missing("edit"),
            Refused::ChangedSince => conflict("page.trouble_somebody_changed_this_try_after"),
            Refused::AlreadyTakenBack => conflict("page.trouble_this_is_already_taken_back"),
            Refused::ScoredAlready => conflict("page.trouble_scored_already"),
        }
    }
}

/// A text file.
pub(super) fn text_file(kind: &'static str, text: String) -> Response {
    ([(header::CONTENT_TYPE, kind)], text).into_response()
}
