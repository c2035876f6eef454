//! The pages without a browser: who is let in, what is written down, what markup does.

use std::sync::Arc;
use std::time::Duration;

use anyhow::Result;
use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{Request, StatusCode, header};
use hushtally::clock::Clock;
use hushtally::interpret::{Details, Said};
use hushtally::plan::Plan;
use hushtally::review::align::{Onset, OnsetKind};
use hushtally::review::web::{self, Review};
use hushtally::session::Input;
use hushtally::store::Store;
use tower::ServiceExt;

use super::demo::{self, Demo};

const HERE: &str = "127.0.0.1:4321";
const SECRET: &str = "0123456789abcdef0123456789abcdef";

pub(super) struct Bench {
    router: Router,
    demo: Demo,
    /// Lets the long film be heard to its end.
    go_on: std::sync::mpsc::Sender<()>,
    _folder: tempfile::TempDir,
}

/// What came back.
pub(super) struct Answer {
    status: StatusCode,
    to: String,
    policy: String,
    pub(super) text: String,
}

pub(super) fn bench() -> Result<Bench> {
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("record.db");
    let demo = demo::fill(&file)?;
    let (clock, _hands) = Clock::fake("2026-04-01T10:00:00Z".parse()?);
    let (go_on, seen) = std::sync::mpsc::channel();
    let seen = std::sync::Mutex::new(seen);
    let hear = move |path: &std::path::Path, _: &Plan, progress: &mut dyn FnMut(u8)| {
        if path.ends_with("silent.mp4") {
            return Err("it has no sound".to_owned());
        }
        if path.ends_with("long.mp4") {
            progress(37);
            // Until the test has seen it, or gives up.
            let _seen = seen.lock().unwrap().recv_timeout(Duration::from_secs(30));
        }
        let beat = |n: u8| Onset { at_s: f64::from(n) * 1.7, kind: OnsetKind::Marker };
        Ok((0..40).map(beat).collect())
    };
    let store = Store::open(&file)?;
    let review = Review::new(store, clock, SECRET.into(), 4321, Box::new(hear));
    let router = web::router(Arc::clone(&review));
    Ok(Bench { router, demo, go_on, _folder: folder })
}

/// A page of any record, as a browser gets it.
pub(crate) async fn page_of(file: &std::path::Path, path: &str) -> Result<String> {
    let (clock, _hands) = Clock::fake("2026-04-01T10:00:00Z".parse()?);
    let deaf = |_: &std::path::Path, _: &Plan, _: &mut dyn FnMut(u8)| Err("deaf".to_owned());
    let review = Review::new(Store::open(file)?, clock, SECRET.into(), 4321, Box::new(deaf));
    let request =
        Request::get(format!("/{SECRET}/{path}")).header(header::HOST, HERE).body(Body::empty())?;
    let answer = web::router(Arc::clone(&review)).oneshot(request).await?;
    anyhow::ensure!(answer.status() == StatusCode::OK, "{path}: {}", answer.status());
    let body = to_bytes(answer.into_body(), 64 << 20).await?;
    Ok(String::from_utf8_lossy(&body).into_owned())
}

impl Bench {
    async fn send(&self, request: Request<Body>) -> Result<Answer> {
        let answer = self.router.clone().oneshot(request).await?;
        let head = |name| {
            let value = answer.headers().get(name);
            value.and_then(|v| v.to_str().ok()).unwrap_or_default().to_owned()
        };
        let (to, policy) = (head(header::LOCATION), head(header::CONTENT_SECURITY_POLICY));
        let status = answer.status();
        let body = to_bytes(answer.into_body(), 64 << 20).await?;
        Ok(Answer { status, to, policy, text: String::from_utf8_lossy(&body).into_owned() })
    }

    pub(super) async fn get(&self, path: &str) -> Result<Answer> {
        let request = Request::get(format!("/{SECRET}/{path}")).header(header::HOST, HERE);
        self.send(request.body(Body::empty())?).await
    }

    async fn post(&self, path: &str, form: &str) -> Result<Answer> {
        let request = Request::post(format!("/{SECRET}/{path}"))
            .header(header::HOST, HERE)
            .header(header::ORIGIN, format!("http://{HERE}"))
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
        self.send(request.body(Body::from(form.to_owned()))?).await
    }

    pub(super) fn session(&self, rest: &str) -> String {
        format!("session/{}{rest}", self.demo.rich)
    }
}

/// The values of a named field of the forms in a page.
fn values<'a>(page: &'a str, field: &str) -> Vec<&'a str> {
    let mark = format!("name=\"{field}\" value=\"");
    page.split(&mark).skip(1).filter_map(|rest| rest.split('"').next()).collect()
}

#[tokio::test]
async fn only_this_page_itself_is_let_in() -> Result<()> {
    let bench = bench()?;
    assert_eq!(bench.get("").await?.status, StatusCode::OK);
    let ask = |path: &str, headers: &[(&str, &str)], post: bool| {
        let method = if post { "POST" } else { "GET" };
        let mut request = Request::builder().method(method).uri(path);
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        request.body(Body::from("text=x")).map(|request| bench.send(request))
    };
    let inside = format!("/{SECRET}/");
    let note = format!("/{SECRET}/{}", bench.session("/note"));
    let wrong = [
        // A name that was made to resolve to this machine.
        (inside.as_str(), vec![("host", "rebound.example:4321")], false),
        (inside.as_str(), vec![("host", "127.0.0.1:80")], false),
        (inside.as_str(), vec![], false),
        // Another page in the same browser, by script, picture or form.
        (inside.as_str(), vec![("host", HERE), ("sec-fetch-site", "cross-site")], false),
        (inside.as_str(), vec![("host", HERE), ("sec-fetch-site", "same-site")], false),
        (inside.as_str(), vec![("host", HERE), ("origin", "http://elsewhere.example")], false),
        (note.as_str(), vec![("host", HERE), ("origin", "http://elsewhere.example")], true),
        (note.as_str(), vec![("host", HERE), ("origin", "null")], true),
        (note.as_str(), vec![("host", HERE)], true),
        (note.as_str(), vec![("host", HERE), ("origin", "http://127.0.0.1:4322")], true),
    ];
    for (path, headers, post) in wrong {
        let answer = ask(path, &headers, post)?.await?;
        assert_eq!(answer.status, StatusCode::FORBIDDEN, "{path} {headers:?}");
        assert!(!answer.text.contains("Pepino"));
    }
    for path in ["/", "/0123/", &format!("/{}/", SECRET.to_uppercase()), "/assets/review.js"] {
        let answer = ask(path, &[("host", HERE)], false)?.await?;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{path}");
        assert!(answer.policy.contains("default-src 'none'"));
    }
    Ok(())
}

#[tokio::test]
async fn the_sessions_of_one_sitting_lead_to_each_other() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("record.db");
    let store = Store::open(&file)?;
    let (clock, _hands) = Clock::fake("2026-03-01T07:30:00Z".parse()?);
    let yes = Said::Rep(Details::default());
    let tags = [(2.0, Input::said(yes.clone(), "yes")), (4.0, Input::said(yes, "yes"))];
    let first = demo::put(&store, &clock, demo::PLAN, 1, &tags)?;
    let second = demo::put_in(&store, &clock, demo::DONKEY, 1, &tags[..1], Some(first))?;
    let alone = demo::put(&store, &clock, demo::PLAN, 1, &tags)?;
    drop(store);
    let page = page_of(&file, &format!("session/{first}")).await?;
    assert!(page.contains(&format!("session/{second}\">Brindle")), "{page}");
    assert!(page.contains("In one sitting with") && page.contains("(1 try)"));
    let page = page_of(&file, &format!("session/{second}")).await?;
    assert!(page.contains(&format!("session/{first}\">Pepino")) && page.contains("(2 tries)"));
    assert!(!page_of(&file, &format!("session/{alone}")).await?.contains("In one sitting"));
    assert_eq!(page_of(&file, "").await?.matches("one of several").count(), 2);
    Ok(())
}

#[tokio::test]
async fn every_page_is_there_and_markup_in_names_stays_text() -> Result<()> {
    let bench = bench()?;
    let list = bench.get("").await?.text;
    assert!(list.contains("Brindle &lt;script&gt;"), "the donkey's name is escaped");
    let animals: Vec<&str> =
        list.split("/animal/").skip(1).filter_map(|rest| rest.split(['"', '?']).next()).collect();
    let mut pages = vec![bench.session("")];
    for animal in animals {
        for rest in ["", "/card", "/report.html", "/report.html?hide=1"] {
            pages.push(format!("animal/{animal}{rest}"));
        }
    }
    for rest in ["/report.html", "/report.html?hide=1", "/captions.vtt", "/chapters.vtt"] {
        pages.push(bench.session(rest));
    }
    for page in pages {
        let answer = bench.get(&page).await?;
        assert_eq!(answer.status, StatusCode::OK, "{page}: {}", answer.text);
        for raw in ["<script>window", "<i>three", "<b>one", "NaN"] {
            assert!(!answer.text.contains(raw), "{raw} in {page}");
        }
        if page.contains("hide=1") {
            for name in ["Pepino", "Brindle", "Ada", "kitchen"] {
                assert!(!answer.text.contains(name), "{name} in {page}");
            }
        }
    }
    for path in ["session/nonsense", "session/00000000-0000-0000-0000-000000000000", "animal/x"] {
        assert_eq!(bench.get(path).await?.status, StatusCode::NOT_FOUND, "{path}");
    }
    Ok(())
}

#[tokio::test]
async fn an_edit_is_a_new_event_that_can_be_taken_back() -> Result<()> {
    let bench = bench()?;
    let page = bench.get(&bench.session("")).await?.text;
    let rep = values(&page, "rep")[3].to_owned();
    let seen = values(&page, "seen")[0].to_owned();
    let form = format!("rep={rep}&do=jackpot&seen={seen}&by=Bo+%3Cb%3E&why=seen+on+film");
    let done = bench.post(&bench.session("/edit"), &form).await?;
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.text);
    assert!(done.to.contains(&rep));
    let after = bench.get(&bench.session("")).await?.text;
    assert!(after.contains("jackpot") && after.contains("by Bo &lt;b&gt;"));
    // Another browser, whose page is from before, may not overwrite what it never saw.
    let late = format!("rep={rep}&do=remove&seen={seen}");
    let refused = bench.post(&bench.session("/edit"), &late).await?;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    // But it may change another rep.
    let other = format!("rep={}&do=remove&seen={seen}", values(&page, "rep")[5]);
    assert_eq!(bench.post(&bench.session("/edit"), &other).await?.status, StatusCode::SEE_OTHER);
    let after = bench.get(&bench.session("")).await?.text;
    assert_eq!(values(&after, "rep").len(), bench.demo.reps - 1);
    // Taken back, latest first, until all is as it was; the history stays.
    for _ in 0..2 {
        let page = bench.get(&bench.session("")).await?.text;
        let history = page.split("History of edits").nth(1).unwrap_or_default();
        let live = history
            .split("<li")
            .skip(1)
            .find(|item| !item.starts_with(" class=\"undone\"") && !item.contains("took back"))
            .unwrap();
        let form = format!("event={}", values(live, "event")[0]);
        let done = bench.post(&bench.session("/undo"), &form).await?;
        assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.text);
        let again = bench.post(&bench.session("/undo"), &form).await?;
        assert_eq!(again.status, StatusCode::CONFLICT, "taken back twice");
    }
    let end = bench.get(&bench.session("")).await?.text;
    assert_eq!(values(&end, "rep").len(), bench.demo.reps);
    assert_eq!(end.matches("class=\"undone\"").count(), 2);
    Ok(())
}

#[tokio::test]
async fn doubts_are_settled_once() -> Result<()> {
    let bench = bench()?;
    let page = bench.get(&bench.session("")).await?.text;
    let doubts: Vec<String> = page
        .split("class=\"doubts\"")
        .nth(1)
        .and_then(|rest| rest.split("</ul>").next())
        .map(|list| values(list, "event").into_iter().map(str::to_owned).collect())
        .unwrap();
    assert!(doubts.len() >= 2);
    let settle = bench.session("/settle");
    for (doubt, what) in doubts.iter().zip(["rep", "none"]) {
        let form = format!("event={doubt}&do={what}");
        assert_eq!(bench.post(&settle, &form).await?.status, StatusCode::SEE_OTHER);
        assert_eq!(bench.post(&settle, &form).await?.status, StatusCode::CONFLICT);
    }
    let after = bench.get(&bench.session("")).await?.text;
    assert_eq!(values(&after, "rep").len(), bench.demo.reps + 1);
    Ok(())
}

#[tokio::test]
async fn a_megabyte_of_note_is_kept_and_more_is_refused() -> Result<()> {
    let bench = bench()?;
    let note = "n%3C".repeat(500_000);
    let done = bench.post(&bench.session("/note"), &format!("text={note}")).await?;
    assert_eq!(done.status, StatusCode::SEE_OTHER);
    assert!(bench.get(&bench.session("")).await?.text.contains("Whole note (1000000 letters)"));
    let huge =
        bench.post(&bench.session("/note"), &format!("text={}", "n".repeat(5 << 20))).await?;
    assert_eq!(huge.status, StatusCode::PAYLOAD_TOO_LARGE);
    assert_eq!(bench.post(&bench.session("/note"), "text=+").await?.status.as_u16(), 422);
    Ok(())
}

#[tokio::test]
async fn a_film_is_placed_or_the_reason_is_said() -> Result<()> {
    let bench = bench()?;
    let film = bench.session("/film");
    let hand = bench.post(&film, "offset_s=12.5").await?;
    assert_eq!(hand.status, StatusCode::SEE_OTHER);
    assert!(bench.get(&bench.session("")).await?.text.contains("data-offset=\"12.5\""));
    let chapters = bench.get(&bench.session("/chapters.vtt")).await?.text;
    let first = values(&bench.get(&bench.session("")).await?.text, "rep").len();
    assert_eq!(chapters.matches(" --> ").count(), first, "a chapter a rep");
    let begin = chapters.split("00:00:").nth(1).and_then(|rest| rest.split(' ').next()).unwrap();
    assert!(begin.parse::<f64>()? > 12.5 + 2.0, "the film's place is not counted in: {begin}");
    for (form, words) in [
        ("path=/films/silent.mp4", "no sound"),
        ("path=/films/another.mp4", "cannot be placed"),
        ("offset_s=soon", "number of seconds"),
    ] {
        let refused = bench.post(&film, form).await?;
        assert_eq!(refused.status.as_u16(), 422, "{form}");
        assert!(refused.text.contains(words), "{form}: {}", refused.text);
    }
    Ok(())
}

#[tokio::test]
async fn how_far_a_film_is_heard_can_be_asked_meanwhile() -> Result<()> {
    let bench = bench()?;
    let film = bench.session("/film");
    assert_eq!(bench.get(&film).await?.status, StatusCode::NO_CONTENT);
    let place = bench.post(&film, "path=/films/long.mp4");
    let ask = async {
        for _ in 0..500 {
            let answer = bench.get(&film).await?;
            if answer.status == StatusCode::OK {
                bench.go_on.send(())?;
                return Ok(answer.text);
            }
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        anyhow::bail!("it was never told")
    };
    let (placed, told) = tokio::join!(place, ask);
    assert_eq!(told?, "37");
    assert!(placed?.text.contains("cannot be placed"));
    assert_eq!(bench.get(&film).await?.status, StatusCode::NO_CONTENT);
    Ok(())
}

#[tokio::test]
async fn a_second_observer_sees_nothing_of_the_first_record() -> Result<()> {
    let bench = bench()?;
    let scoring = "01900000-0000-7000-8000-000000000001";
    let score = bench.session(&format!("/score/{scoring}"));
    let blind = bench.get(&format!("{score}?by=Cy")).await?;
    assert_eq!(blind.status, StatusCode::OK);
    assert!(!blind.text.contains("<svg") && values(&blind.text, "rep").is_empty());
    let page = bench.get(&bench.session("")).await?.text;
    for time in page.split("data-at=\"").skip(1).filter_map(|rest| rest.split('"').next()) {
        assert!(!blind.text.contains(time), "the first record's {time} s shows");
    }
    for form in ["at_s=5.5&step=2&paid=high&by=Cy", "at_s=9.5&step=1&paid=miss&by=Cy"] {
        assert_eq!(bench.post(&score, form).await?.status, StatusCode::SEE_OTHER);
    }
    assert_eq!(bench.post(&score, "at_s=-3&step=2&paid=high").await?.status.as_u16(), 422);
    let agree = bench.get(&bench.session(&format!("/agree/{scoring}"))).await?;
    assert_eq!(agree.status, StatusCode::OK, "{}", agree.text);
    assert!(agree.text.contains("Cy: 2 tries") && agree.text.contains("Kappa"));
    // The first record is as it was.
    let after = bench.get(&bench.session("")).await?.text;
    assert_eq!(values(&after, "rep").len(), bench.demo.reps);
    Ok(())
}

#[tokio::test]
async fn a_page_that_saw_more_than_there_is_changes_nothing() -> Result<()> {
    let bench = bench()?;
    let page = bench.get(&bench.session("")).await?.text;
    let rep = values(&page, "rep")[3].to_owned();
    let seen: usize = values(&page, "seen")[0].parse()?;
    for seen in ["99999999".to_owned(), (seen + 1).to_string(), u64::MAX.to_string()] {
        let form = format!("rep={rep}&do=jackpot&seen={seen}");
        let refused = bench.post(&bench.session("/edit"), &form).await?;
        assert_eq!(refused.status, StatusCode::CONFLICT, "{seen}: {}", refused.text);
    }
    // What was changed and changed back is not what the page showed either.
    let form = format!("rep={rep}&do=jackpot&seen={seen}");
    assert_eq!(bench.post(&bench.session("/edit"), &form).await?.status, StatusCode::SEE_OTHER);
    let page = bench.get(&bench.session("")).await?.text;
    let between: usize = values(&page, "seen")[0].parse()?;
    let history = page.split("History of edits").nth(1).unwrap_or_default();
    let form = format!("event={}", values(history, "event")[0]);
    assert_eq!(bench.post(&bench.session("/undo"), &form).await?.status, StatusCode::SEE_OTHER);
    let form = format!("rep={rep}&do=remove&seen={between}");
    assert_eq!(bench.post(&bench.session("/edit"), &form).await?.status, StatusCode::CONFLICT);
    Ok(())
}

#[test]
fn of_two_programs_that_saw_the_same_one_changes_it() -> Result<()> {
    let bench = bench()?;
    let file = bench._folder.path().join("record.db");
    let other = || -> Result<Router> {
        let deaf = |_: &std::path::Path, _: &Plan, _: &mut dyn FnMut(u8)| Err("deaf".to_owned());
        let store = Store::open(&file)?;
        let review = Review::new(store, Clock::real(), SECRET.into(), 4321, Box::new(deaf));
        Ok(web::router(review))
    };
    let programs = [bench.router.clone(), other()?];
    let runtime = || tokio::runtime::Builder::new_current_thread().enable_time().build();
    let session = bench.session("");
    let rep = values(&runtime()?.block_on(bench.get(&session))?.text, "rep")[3].to_owned();
    let mut both = 0;
    for round in 0..40 {
        let page = runtime()?.block_on(bench.get(&session))?.text;
        let seen = values(&page, "seen")[0].to_owned();
        let line = std::sync::Barrier::new(2);
        let accepted = std::thread::scope(|scope| {
            let ask = |router: &Router, what: &str| -> Result<bool> {
                let form = format!("rep={rep}&do={what}&seen={seen}");
                let request = Request::post(format!("/{SECRET}/{session}/edit"))
                    .header(header::HOST, HERE)
                    .header(header::ORIGIN, format!("http://{HERE}"))
                    .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
                    .body(Body::from(form))?;
                line.wait();
                let answer = runtime()?.block_on(router.clone().oneshot(request))?;
                assert!(matches!(answer.status(), StatusCode::SEE_OTHER | StatusCode::CONFLICT));
                Ok(answer.status() == StatusCode::SEE_OTHER)
            };
            let asked: Vec<_> = programs
                .iter()
                .zip(["low", "jackpot"])
                .map(|(router, what)| scope.spawn(move || ask(router, what)))
                .collect();
            asked.into_iter().map(|one| one.join().unwrap()).collect::<Result<Vec<bool>>>()
        })?;
        let accepted = accepted.into_iter().filter(|accepted| *accepted).count();
        assert!(accepted > 0, "round {round}");
        both += usize::from(accepted == 2);
    }
    assert_eq!(both, 0, "of 40 rounds");
    Ok(())
}
