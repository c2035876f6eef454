//! Connections: not too many, none that sends too slowly, and none that keeps the program from ending.

use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;

use axum::body::{Body, to_bytes};
use axum::extract::Request;
use axum::http::StatusCode;
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use tokio::net::TcpListener;
use tokio::sync::Semaphore;
use tokio::task::JoinSet;
use tokio::time::{sleep, timeout};

use super::{Review, router};

/// Largest form taken, in bytes: a note of a megabyte fits, also when every letter of it is coded.
const LARGEST_FORM: usize = 4 << 20;
/// This many connections are open at a time; a browser makes six.
const MOST_CONNECTIONS: usize = 64;
/// The head of a request must be whole within this time, and within it again its form.
const PATIENCE: Duration = Duration::from_secs(10);
/// At the end, answers that are on their way get this time.
const LAST_ANSWERS: Duration = Duration::from_secs(2);
/// When no connection can be taken, as when too many files are open, it is tried again after this time.
const AGAIN: Duration = Duration::from_millis(200);

/// Serves until `stop` comes, and no longer, whatever is still open then.
///
/// # Errors
/// None that would end it so far: a connection that fails is its own affair.
pub async fn serve(
    listener: TcpListener,
    review: Arc<Review>,
    stop: impl Future<Output = ()> + Send + 'static,
) -> std::io::Result<()> {
    let service = TowerToHyperService::new(router(review));
    let room = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    let (ending, mut connections) = (GracefulShutdown::new(), JoinSet::new());
    let mut stop = pin!(stop);
    loop {
        let next = async {
            let place = Arc::clone(&room).acquire_owned().await;
            (place, listener.accept().await)
        };
        let (place, accepted) = tokio::select! {
            () = &mut stop => break,
            next = next => next,
        };
        while connections.try_join_next().is_some() {}
        let Ok((stream, _)) = accepted else {
            sleep(AGAIN).await;
            continue;
        };
        let connection = http1::Builder::new()
            .timer(TokioTimer::new())
            .header_read_timeout(PATIENCE)
            .serve_connection(TokioIo::new(stream), service.clone());
        let connection = ending.watch(connection);
        connections.spawn(async move {
            // A browser that went away is not a fault.
            let _gone = connection.await;
            drop(place);
        });
    }
    drop(listener);
    let _late = timeout(LAST_ANSWERS, ending.shutdown()).await;
    Ok(())
}

/// Takes in the whole of a form before anything is done, so that nobody holds up the record by sending slowly.
pub(super) async fn whole(request: Request, next: Next) -> Response {
    let (head, body) = request.into_parts();
    match timeout(PATIENCE, to_bytes(body, LARGEST_FORM)).await {
        Ok(Ok(form)) => next.run(Request::from_parts(head, Body::from(form))).await,
        Ok(Err(_)) => (StatusCode::PAYLOAD_TOO_LARGE, "this is too much").into_response(),
        Err(_) => (StatusCode::REQUEST_TIMEOUT, "this came too slowly").into_response(),
    }
}
