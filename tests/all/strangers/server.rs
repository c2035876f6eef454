//! The review and those who send it half a request, too many, or a film that is none.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context, Result};

use super::{Stage, ended, text, until};
use crate::needs;

struct Review {
    child: Child,
    port: u16,
    secret: String,
}

impl Review {
    fn start(stage: &Stage) -> Result<Self> {
        let mut command = stage.command();
        command.args(["review", "--no-open"]).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn()?;
        let mut line = String::new();
        BufReader::new(child.stdout.as_mut().context("no output")?).read_line(&mut line)?;
        let address =
            line.trim().strip_prefix("Review: http://127.0.0.1:").context("no address")?;
        let (port, rest) = address.split_once('/').context("no path")?;
        Ok(Review { port: port.parse()?, secret: rest.trim_end_matches('/').to_owned(), child })
    }

    fn connect(&self) -> Result<TcpStream> {
        let stream = TcpStream::connect(("127.0.0.1", self.port))?;
        stream.set_read_timeout(Some(Duration::from_secs(30)))?;
        Ok(stream)
    }

    fn ask(&self, request: &str) -> Result<String> {
        let mut stream = self.connect()?;
        let host = format!("Host: 127.0.0.1:{}\r\nConnection: close\r\n", self.port);
        stream.write_all(request.replace("HEAD", &host).as_bytes())?;
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer)?;
        Ok(text(&answer))
    }

    fn page(&self, path: &str) -> Result<String> {
        self.ask(&format!("GET /{}/{path} HTTP/1.1\r\nHEAD\r\n", self.secret))
    }

    fn interrupt(self) -> Result<(Duration, std::process::Output)> {
        let begun = Instant::now();
        Command::new("kill").args(["-INT", &self.child.id().to_string()]).status()?;
        let output = ended(self.child)?;
        Ok((begun.elapsed(), output))
    }
}

#[test]
fn control_c_ends_it_whatever_is_open() -> Result<()> {
    let stage = Stage::new("")?;
    let review = Review::start(&stage)?;
    assert!(review.page("")?.contains("Pepino"));
    let mut half = review.connect()?;
    half.write_all(b"GET / HTTP/1.1\r\nHost: ")?;
    let mut form = review.connect()?;
    let head = format!(
        "POST /{0}/session/x/note HTTP/1.1\r\nHost: 127.0.0.1:{1}\r\nOrigin: http://127.0.0.1:{1}\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 900\r\n\r\ntext=",
        review.secret, review.port
    );
    form.write_all(head.as_bytes())?;
    let _silent = review.connect()?;
    std::thread::sleep(Duration::from_millis(300));
    let (took, output) = review.interrupt()?;
    assert!(took < Duration::from_secs(8), "it took {took:?}");
    assert!(output.status.success(), "{}", text(&output.stderr));
    Ok(())
}

#[test]
fn who_sends_too_slowly_is_sent_away_and_many_do_not_shut_others_out() -> Result<()> {
    let stage = Stage::new("")?;
    let review = Review::start(&stage)?;
    let begun = Instant::now();
    // More than there is room for, each with half a request.
    let mut crowd = Vec::new();
    for _ in 0..100 {
        let mut stream = review.connect()?;
        stream.write_all(b"GET / HTTP/1.1\r\n")?;
        crowd.push(stream);
    }
    let handles = std::fs::read_dir(format!("/proc/{}/fd", review.child.id()))?.count();
    assert!(handles < 90, "{handles} files are open");
    // In its turn, when the first of them were sent away.
    assert!(review.page("")?.contains("Pepino"));
    assert!(begun.elapsed() < Duration::from_secs(50), "{:?}", begun.elapsed());
    let mut first = crowd.swap_remove(0);
    let mut rest = Vec::new();
    let read = first.read_to_end(&mut rest);
    let gone = |error: &std::io::Error| error.kind() == std::io::ErrorKind::ConnectionReset;
    assert!(read.as_ref().is_ok() || read.as_ref().is_err_and(gone), "{read:?}");
    review.interrupt()?;
    Ok(())
}

#[test]
fn a_film_that_is_a_pipe_is_refused_and_the_pages_go_on() -> Result<()> {
    let stage = Stage::new("")?;
    let pipe = stage.work("film.mp4");
    assert!(Command::new("mkfifo").arg(&pipe).status()?.success());
    let review = Review::start(&stage)?;
    let list = review.page("")?;
    let key = list.split("session/").nth(1).and_then(|rest| rest.get(..36)).context("no key")?;
    let form = format!("path={}", pipe.display());
    let answer = review.ask(&format!(
        "POST /{0}/session/{key}/film HTTP/1.1\r\nHEADOrigin: http://127.0.0.1:{1}\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: {2}\r\n\r\n{form}",
        review.secret,
        review.port,
        form.len()
    ))?;
    assert!(answer.starts_with("HTTP/1.1 422") && answer.contains("is not a file"), "{answer}");
    assert!(review.page("")?.contains("Pepino"));
    let (took, _) = review.interrupt()?;
    assert!(took < Duration::from_secs(8), "it took {took:?}");
    Ok(())
}

/// A review that asks for a browser, and the file that the browser was asked to open.
fn opened(stage: &Stage) -> Result<(Review, std::path::PathBuf)> {
    use std::os::unix::fs::PermissionsExt;
    // In place of the desktop's way to open a browser: writes down how it was called, and stays.
    let tools = stage.folder.path().join("tools");
    std::fs::create_dir(&tools)?;
    let script = tools.join("written");
    std::fs::write(&script, "#!/bin/sh\necho \"$@\" > \"$HOME/asked\"\nexec sleep 30\n")?;
    std::fs::set_permissions(&script, std::fs::Permissions::from_mode(0o755))?;
    assert!(
        Command::new("cp").arg("-p").args([&script, &tools.join("xdg-open")]).status()?.success()
    );
    let path = format!("{}:{}", tools.display(), std::env::var("PATH")?);
    let mut command = stage.command();
    command.arg("review").env("PATH", path).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn()?;
    let mut line = String::new();
    BufReader::new(child.stdout.as_mut().context("no output")?).read_line(&mut line)?;
    let address = line.trim().strip_prefix("Review: http://127.0.0.1:").context("no address")?;
    let (port, rest) = address.split_once('/').context("no path")?;
    let review =
        Review { port: port.parse()?, secret: rest.trim_end_matches('/').to_owned(), child };
    let asked = stage.folder.path().join("home/asked");
    until("the browser is asked", || {
        std::fs::read_to_string(&asked).is_ok_and(|t| t.ends_with('\n'))
    })?;
    let asked = std::fs::read_to_string(asked)?;
    assert!(!asked.contains(&review.secret) && !asked.contains("http"), "{asked}");
    Ok((review, asked.trim().into()))
}

#[test]
fn the_file_for_the_browser_lets_in_once_and_is_gone_then() -> Result<()> {
    let stage = Stage::new("")?;
    let (review, file) = opened(&stage)?;
    let file = file.as_path();
    assert_eq!(
        (super::mode(file)?, super::mode(file.parent().context("no folder")?)?),
        (0o600, 0o700)
    );
    let page = std::fs::read_to_string(file)?;
    assert!(!page.contains(&review.secret));
    let once = page.split("url=http://127.0.0.1:").nth(1).and_then(|rest| rest.split('"').next());
    let once = once.and_then(|rest| rest.split_once('/')).context("no address")?.1;
    // As a browser comes from a file, which is another site to it.
    let from_file = format!("GET /{once} HTTP/1.1\r\nHEADSec-Fetch-Site: cross-site\r\n\r\n");
    let first = review.ask(&from_file)?;
    assert!(first.starts_with("HTTP/1.1 200") && first.contains(&review.secret), "{first}");
    assert!(!file.exists());
    let again = review.ask(&from_file)?;
    assert!(again.starts_with("HTTP/1.1 410") && !again.contains(&review.secret), "{again}");
    review.interrupt()?;
    Ok(())
}

#[test]
fn a_real_browser_is_led_from_the_file_to_the_pages() -> Result<()> {
    if !needs::program("chromium") {
        return Ok(());
    }
    // A browser that prints not even an empty page has not started, for want of memory or time: that is not ours.
    for _ in 0..2 {
        if led(&Stage::new("")?)? {
            return Ok(());
        }
    }
    assert!(led(&Stage::new("")?)?, "the browser never started");
    Ok(())
}

/// Whether a real browser got from the file to the pages; false when it printed nothing at all.
fn led(stage: &Stage) -> Result<bool> {
    let (review, file) = opened(stage)?;
    let mut browser = Command::new("chromium");
    browser
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--virtual-time-budget=5000"])
        .arg(format!("--user-data-dir={}", stage.work("profile").display()))
        .arg("--dump-dom")
        .arg(format!("file://{}", file.display()));
    browser.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::null());
    let page = text(&ended(browser.spawn()?)?.stdout);
    if page.trim().is_empty() {
        review.interrupt()?;
        return Ok(false);
    }
    assert!(page.contains("Pepino"), "{page}");
    assert!(!file.exists());
    review.interrupt()?;
    Ok(true)
}
