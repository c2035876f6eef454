//! Lets in only what comes from this page itself.

use std::sync::Arc;

use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::{OPEN, Review};

/// Scripts, styles and pictures from here only, films from the disk only; no frame around it.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; \
    media-src blob:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Checks a request, and tells the browser to keep the answer to itself.
pub(super) async fn guard(
    State(review): State<Arc<Review>>,
    request: Request,
    next: Next,
) -> Response {
    // A file on the disk leads there, which is another site; who knows that address may come in once.
    let opening = request.method() == Method::GET && request.uri().path().starts_with(OPEN);
    let mut response = match refusal(&review, request.method(), request.headers(), opening) {
        Some(why) => (StatusCode::FORBIDDEN, why).into_response(),
        None => next.run(request).await,
    };
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::CACHE_CONTROL, "no-store"),
        (header::REFERRER_POLICY, "same-origin"),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::X_FRAME_OPTIONS, "DENY"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
        (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    ] {
        response.headers_mut().insert(name, HeaderValue::from_static(value));
    }
    response
}

/// Why a request is not let in; `None` when it is.
fn refusal(
    review: &Review,
    method: &Method,
    headers: &HeaderMap,
    opening: bool,
) -> Option<&'static str> {
    let own = |text: &str| {
        ["127.0.0.1", "localhost"].iter().any(|host| text == format!("{host}:{}", review.port))
    };
    let text = |name: HeaderName| headers.get(name).map(|value| value.to_str().unwrap_or(""));
    // A hostile name that resolves to this machine still sends its own name here.
    if !text(header::HOST).is_some_and(own) {
        return Some("this address is only for the computer that it runs on");
    }
    let origin = text(header::ORIGIN).map(|o| o.strip_prefix("http://").is_some_and(own));
    let site = text(HeaderName::from_static("sec-fetch-site"));
    let from_elsewhere =
        !opening && site.is_some_and(|site| site != "same-origin" && site != "none");
    let reading = method == Method::GET || method == Method::HEAD;
    match origin {
        Some(false) => Some("another page may not ask here"),
        None if !reading && site != Some("same-origin") => Some("another page may not ask here"),
        _ if from_elsewhere => Some("another page may not ask here"),
        _ => None,
    }
}
