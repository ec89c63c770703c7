//! The server: the page, its pictures, the updates, and nothing else; on this computer only.

use std::net::Ipv4Addr;
use std::sync::Arc;
use std::time::Duration;

use axum::body::{Body, Bytes, to_bytes};
use axum::extract::rejection::QueryRejection;
use axum::extract::{DefaultBodyLimit, Path, Query, State};
use axum::http::{HeaderValue, Method, Request, Response, StatusCode, header};
use axum::middleware::{self, Next};
use axum::response::IntoResponse;
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::routing::{get, post};
use axum::{Json, Router};
use futures_util::stream;
use hitchwork_draw::fabric::View;
use hitchwork_rules::load::FileKind;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use serde::Deserialize;
use serde_json::json;
use tokio::net::TcpListener;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

use super::guard::{Guard, said};
use super::page;
use super::painting::Acts;
use super::session::Session;
use super::settings::{Memory, SettingsChange};
use crate::folder::reason;
use crate::trouble::Trouble;

/// The most bytes that the page sends.
const MOST_BYTES: usize = 64 << 10;
/// The most pages that listen for updates.
const MOST_STREAMS: usize = 256;
/// The most connections at a time.
const MOST_CONNECTIONS: usize = 512;
/// How long somebody may take to say what they want.
const PATIENCE: Duration = Duration::from_secs(5);

#[derive(Clone)]
struct House {
    session: Arc<Session>,
    guard: Arc<Guard>,
    streams: Arc<Semaphore>,
}

/// Serves the page until Ctrl-C, on the first of these ports that is free; `ready` is told
/// its address.
pub(super) fn serve(
    session: Arc<Session>,
    ports: &[u16],
    ready: &dyn Fn(&str) -> Result<(), Trouble>,
) -> Result<(), Trouble> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build();
    let runtime = runtime.map_err(|error| {
        Trouble::new(
            format!("the page cannot be served: {}", reason(&error)),
            "try again",
        )
    })?;
    let outcome = runtime.block_on(listen(session, ports, ready));
    // Streams that wait for updates would wait without end.
    runtime.shutdown_background();
    outcome
}

/// Takes the first of these ports that is free.
async fn bound(ports: &[u16]) -> Result<(TcpListener, u16), Trouble> {
    let mut refused = Trouble::new("there is no port to serve the page on", "choose one");
    for port in ports {
        let taken = TcpListener::bind((Ipv4Addr::LOCALHOST, *port)).await;
        match taken.and_then(|listener| Ok((listener.local_addr()?.port(), listener))) {
            Ok((port, listener)) => return Ok((listener, port)),
            Err(error) => {
                refused = Trouble::new(
                    format!(
                        "port {port} of this computer cannot be used: {}",
                        reason(&error)
                    ),
                    "choose another with --port, or leave it out and take one that is free",
                );
            }
        }
    }
    Err(refused)
}

async fn listen(
    session: Arc<Session>,
    ports: &[u16],
    ready: &dyn Fn(&str) -> Result<(), Trouble>,
) -> Result<(), Trouble> {
    let (listener, port) = bound(ports).await?;
    let house = House {
        session,
        guard: Arc::new(Guard::new(port)),
        streams: Arc::new(Semaphore::new(MOST_STREAMS)),
    };
    let routes = routes(house);
    // Whoever reads the address may stop the command at once.
    let asked_to_stop = crate::stopping::asked_to_stop();
    ready(&format!("http://127.0.0.1:{port}/"))?;
    let connections = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    let accepting = async {
        loop {
            let Ok(room) = Arc::clone(&connections).acquire_owned().await else {
                return;
            };
            let Ok((socket, _)) = listener.accept().await else {
                continue;
            };
            let _ = socket.set_nodelay(true);
            let service = TowerToHyperService::new(routes.clone());
            tokio::spawn(async move {
                let mut http = hyper::server::conn::http1::Builder::new();
                http.timer(TokioTimer::new()).header_read_timeout(PATIENCE);
                let _ = http.serve_connection(TokioIo::new(socket), service).await;
                drop(room);
            });
        }
    };
    tokio::select! {
        () = accepting => {}
        () = asked_to_stop => {}
    }
    Ok(())
}

fn routes(house: House) -> Router {
    Router::new()
        .route("/", get(the_page))
        .route("/news", get(updates))
        .route("/fabric.png", get(picture))
        .route("/strands", get(charts))
        .route("/strands/{page}", get(chart))
        .route("/sheet.txt", get(steps))
        .route("/difficulty", get(difficulty))
        .route("/wish", post(wish))
        .route("/memory", post(memory))
        .route("/save/{what}", post(save))
        .route("/painting/strokes", post(strokes))
        .route("/painting/dropped", post(dropped))
        .route("/painting/save", post(save_picture))
        .route("/painting/cells", get(cells))
        .route("/painting/knots", get(knots))
        .fallback(|| async { said(StatusCode::NOT_FOUND, "there is nothing here") })
        // The guard lets in no more of a body than each place takes.
        .layer(DefaultBodyLimit::disable())
        .layer(middleware::from_fn_with_state(house.clone(), guarded))
        .with_state(house)
}

/// Lets in whom the guard lets in, and forbids to keep or to frame what is given.
async fn guarded(State(house): State<House>, request: Request<Body>, next: Next) -> Response<Body> {
    let mut response = match house.guard.refuses(&request) {
        Some(refusal) => refusal,
        None => match whole(request).await {
            Ok(request) => next.run(request).await,
            Err(refusal) => refusal,
        },
    };
    let headers = response.headers_mut();
    for (name, value) in [
        (header::CACHE_CONTROL, "no-store"),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::X_FRAME_OPTIONS, "DENY"),
        (header::REFERRER_POLICY, "no-referrer"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers.insert(
        "cross-origin-resource-policy",
        HeaderValue::from_static("same-origin"),
    );
    response
}

/// A request with all that belongs to it, which is not waited for longer than for its head: who
/// begins a request and never ends it keeps others out for a while, and not for good.
async fn whole(request: Request<Body>) -> Result<Request<Body>, Response<Body>> {
    if request.method() != Method::POST {
        return Ok(request);
    }
    let (head, body) = request.into_parts();
    let most = match head.uri.path() {
        "/painting/dropped" => FileKind::Picture.most_bytes(),
        _ => MOST_BYTES,
    };
    match tokio::time::timeout(PATIENCE, to_bytes(body, most)).await {
        Ok(Ok(bytes)) => Ok(Request::from_parts(head, bytes.into())),
        Ok(Err(_)) => Err(said(
            StatusCode::PAYLOAD_TOO_LARGE,
            "that request is too long, or was broken off",
        )),
        Err(_) => {
            let mut late = said(
                StatusCode::REQUEST_TIMEOUT,
                "that request was begun and not ended",
            );
            let close = HeaderValue::from_static("close");
            late.headers_mut().insert(header::CONNECTION, close);
            Err(late)
        }
    }
}

async fn the_page(State(house): State<House>) -> impl IntoResponse {
    let (text, policy) = page::page(house.session.name(), house.guard.token());
    (
        [
            (header::CONTENT_TYPE, "text/html; charset=utf-8".to_owned()),
            (header::CONTENT_SECURITY_POLICY, policy),
        ],
        text,
    )
}

/// What of the picture somebody looks at.
#[derive(Deserialize)]
struct Looked {
    scale: f64,
    left: u32,
    top: u32,
    width: u32,
    height: u32,
}

async fn picture(
    State(house): State<House>,
    looked: Result<Query<Looked>, QueryRejection>,
) -> Response<Body> {
    let Ok(Query(looked)) = looked else {
        return said(StatusCode::BAD_REQUEST, "that is not a view of a picture");
    };
    let view = View {
        scale: looked.scale,
        left: looked.left,
        top: looked.top,
        width: looked.width,
        height: looked.height,
    };
    let painting = tokio::task::spawn_blocking(move || house.session.picture(&view));
    match painting.await {
        Ok(Some(Ok(png))) => ([(header::CONTENT_TYPE, "image/png")], png).into_response(),
        Ok(Some(Err(error))) => said(StatusCode::BAD_REQUEST, &error.to_string()),
        Ok(None) => said(StatusCode::NOT_FOUND, "there is no picture yet"),
        Err(_) => said(StatusCode::INTERNAL_SERVER_ERROR, "it could not be painted"),
    }
}

/// How many pages the working chart has.
async fn charts(State(house): State<House>) -> Response<Body> {
    Json(json!({ "pages": drawn(house).await.len() })).into_response()
}

async fn chart(State(house): State<House>, Path(page): Path<usize>) -> Response<Body> {
    let chart = page.checked_sub(1).zip(Some(drawn(house).await));
    match chart.and_then(|(at, charts)| charts.into_iter().nth(at)) {
        Some(svg) => svg_of(svg),
        None => said(StatusCode::NOT_FOUND, "the chart has no such page"),
    }
}

/// The pages of the working chart, drawn where that keeps nobody waiting.
async fn drawn(house: House) -> Vec<String> {
    let drawing = tokio::task::spawn_blocking(move || house.session.charts());
    drawing.await.unwrap_or_default()
}

fn svg_of(svg: String) -> Response<Body> {
    ([(header::CONTENT_TYPE, "image/svg+xml")], svg).into_response()
}

async fn steps(State(house): State<House>) -> Response<Body> {
    words_of(move || house.session.steps()).await
}

/// How hard the band is: the page asks for it when it shows the band already.
async fn difficulty(State(house): State<House>) -> Response<Body> {
    words_of(move || house.session.difficulty()).await
}

/// Words that take a while, worked out where that keeps nobody waiting.
async fn words_of(words: impl FnOnce() -> Option<String> + Send + 'static) -> Response<Body> {
    match tokio::task::spawn_blocking(words).await {
        Ok(Some(words)) => {
            ([(header::CONTENT_TYPE, "text/plain; charset=utf-8")], words).into_response()
        }
        Ok(None) => said(StatusCode::NOT_FOUND, "there is no band yet"),
        Err(_) => said(
            StatusCode::INTERNAL_SERVER_ERROR,
            "that could not be worked out",
        ),
    }
}

/// What a touch on the page changes.
async fn wish(State(house): State<House>, body: Bytes) -> Response<Body> {
    let Ok(changes) = serde_json::from_slice::<SettingsChange>(&body) else {
        return said(StatusCode::BAD_REQUEST, "that request cannot be read");
    };
    match house.session.change(changes) {
        Ok(wish) => Json(json!({ "wish": wish })).into_response(),
        Err(reason) => said(StatusCode::BAD_REQUEST, reason),
    }
}

/// What a page knows that was open before the command started again.
async fn memory(State(house): State<House>, body: Bytes) -> Response<Body> {
    match serde_json::from_slice::<Memory>(&body) {
        Ok(memory) => Json(json!({ "wish": house.session.remember(&memory) })).into_response(),
        Err(_) => said(StatusCode::BAD_REQUEST, "those settings cannot be read"),
    }
}

async fn save(State(house): State<House>, Path(what): Path<String>) -> Response<Body> {
    let session = Arc::clone(&house.session);
    let saved = tokio::task::spawn_blocking(move || session.save(&what)).await;
    match saved {
        Ok(Ok(path)) => Json(json!({ "path": path })).into_response(),
        Ok(Err(Trouble::Plain(plain))) => refused(&plain.message, plain.help.as_deref()),
        _ => said(StatusCode::INTERNAL_SERVER_ERROR, "it could not be saved"),
    }
}

/// Why something that was well asked for cannot be done, and what to do about it.
fn refused(message: &str, help: Option<&str>) -> Response<Body> {
    let words = json!({ "message": message, "help": help });
    (StatusCode::CONFLICT, Json(words)).into_response()
}

/// What has been painted, undone, done again.
async fn strokes(State(house): State<House>, body: Bytes) -> Response<Body> {
    let Ok(acts) = serde_json::from_slice::<Acts>(&body) else {
        return said(StatusCode::BAD_REQUEST, "those strokes cannot be read");
    };
    let painting = tokio::task::spawn_blocking(move || house.session.paint(acts));
    match painting.await {
        Ok(Ok(version)) => Json(json!({ "version": version })).into_response(),
        Ok(Err(reason)) => said(StatusCode::BAD_REQUEST, reason),
        Err(_) => said(StatusCode::INTERNAL_SERVER_ERROR, "it could not be painted"),
    }
}

/// A picture of the rule, by its name.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PictureName {
    file: String,
}

async fn dropped(
    State(house): State<House>,
    name: Result<Query<PictureName>, QueryRejection>,
    body: Bytes,
) -> Response<Body> {
    let Ok(Query(PictureName { file })) = name else {
        return said(StatusCode::BAD_REQUEST, "say in whose place it is");
    };
    let fitting = tokio::task::spawn_blocking(move || {
        let outcome = house.session.dropped(&file, &body);
        outcome.map_err(|trouble| house.session.shown(trouble))
    });
    match fitting.await {
        Ok(Ok((version, fit))) => Json(json!({ "version": version, "fit": fit })).into_response(),
        Ok(Err(problems)) => match problems.first() {
            Some(problem) => refused(&problem.message, problem.help.as_deref()),
            None => said(StatusCode::CONFLICT, "the rule makes no band of it"),
        },
        Err(_) => said(StatusCode::INTERNAL_SERVER_ERROR, "it could not be read"),
    }
}

async fn save_picture(State(house): State<House>, body: Bytes) -> Response<Body> {
    let Ok(PictureName { file }) = serde_json::from_slice(&body) else {
        return said(StatusCode::BAD_REQUEST, "say which picture");
    };
    let saved = tokio::task::spawn_blocking(move || house.session.save_picture(&file)).await;
    match saved {
        Ok(Ok(saved)) => {
            let path = saved.path.display().to_string();
            Json(json!({ "path": path, "advice": saved.advice, "call": saved.call }))
                .into_response()
        }
        Ok(Err(Trouble::Plain(plain))) => refused(&plain.message, plain.help.as_deref()),
        _ => said(StatusCode::INTERNAL_SERVER_ERROR, "it could not be saved"),
    }
}

async fn cells(
    State(house): State<House>,
    name: Result<Query<PictureName>, QueryRejection>,
) -> Response<Body> {
    let found = name
        .ok()
        .and_then(|Query(name)| house.session.cells(&name.file));
    match found {
        Some(cells) => Json(cells).into_response(),
        None => said(StatusCode::NOT_FOUND, "the rule reads no such picture"),
    }
}

/// A part of the picture of the band, at its own size.
#[derive(Deserialize)]
struct PicturePart {
    left: f64,
    top: f64,
    right: f64,
    bottom: f64,
}

async fn knots(
    State(house): State<House>,
    part: Result<Query<PicturePart>, QueryRejection>,
) -> Response<Body> {
    let Ok(Query(part)) = part else {
        return said(StatusCode::BAD_REQUEST, "that is not a part of a picture");
    };
    match house.session.good() {
        Some(good) => {
            let part = [part.left, part.top, part.right, part.bottom];
            Json(good.knots_in(part)).into_response()
        }
        None => said(StatusCode::NOT_FOUND, "there is no band yet"),
    }
}

/// The newest update at once, and then every newer one.
async fn updates(State(house): State<House>) -> Response<Body> {
    let Ok(room) = Arc::clone(&house.streams).try_acquire_owned() else {
        return said(StatusCode::SERVICE_UNAVAILABLE, "too many pages are open");
    };
    let mut receiver = house.session.updates();
    receiver.mark_changed();
    let next = |(mut receiver, room): (tokio::sync::watch::Receiver<_>, OwnedSemaphorePermit)| async move {
        receiver.changed().await.ok()?;
        let update = Arc::clone(&*receiver.borrow_and_update());
        let event = Event::default().json_data(&*update).ok()?;
        Some((Ok::<_, std::convert::Infallible>(event), (receiver, room)))
    };
    let stream = stream::unfold((receiver, room), next);
    Sse::new(stream)
        .keep_alive(KeepAlive::default())
        .into_response()
}
