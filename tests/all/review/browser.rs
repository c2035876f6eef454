//! The pages in a real browser: `tests/browser/review.mjs`, with Chromium, playwright-core and axe-core.

use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};

use anyhow::{Context, Result, ensure};

use super::demo;
use crate::needs;

/// A program that ends with the test.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Where `models/fetch --tests` puts the packages of the browser tests.
fn packages() -> PathBuf {
    let cache = std::env::var_os("XDG_CACHE_HOME").map(PathBuf::from).unwrap_or_else(|| {
        PathBuf::from(std::env::var_os("HOME").unwrap_or_default()).join(".cache")
    });
    cache.join("hushtally/browser")
}

#[test]
fn a_browser_finds_no_fault_with_any_page() -> Result<()> {
    let packages = packages();
    if !needs::program("chromium")
        || !needs::program("node")
        || !needs::program("ffmpeg")
        || !needs::thing(
            "browser-packages",
            packages.join("node_modules/axe-core/axe.min.js").is_file(),
        )
    {
        return Ok(());
    }
    let folder = tempfile::tempdir()?;
    let db = folder.path().join("record.db");
    let demo = demo::fill(&db)?;
    let film = folder.path().join("film.webm");
    let made = Command::new("ffmpeg")
        .args(["-v", "error", "-f", "lavfi", "-i", "testsrc=size=320x180:rate=25:duration=150"])
        .args([
            "-c:v",
            "libvpx",
            "-deadline",
            "realtime",
            "-cpu-used",
            "8",
            "-b:v",
            "200k",
            "-g",
            "25",
        ])
        .arg(&film)
        .stdin(Stdio::null())
        .status()?;
    ensure!(made.success(), "ffmpeg made no film");
    let mut review = Running(
        Command::new(env!("CARGO_BIN_EXE_hushtally"))
            .args(["review", "--no-open", "--db"])
            .arg(&db)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .spawn()?,
    );
    let mut line = String::new();
    let said = review.0.stdout.take().context("no output")?;
    BufReader::new(said).read_line(&mut line)?;
    let address = line.trim().strip_prefix("Review: ").context("no address")?.to_owned();
    let output = Command::new("node")
        .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/browser/review.mjs"))
        .args([&address, &demo.rich.to_string()])
        .arg(&film)
        .env("NODE_PATH", packages.join("node_modules"))
        .stdin(Stdio::null())
        .output()?;
    let (out, err) =
        (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    ensure!(output.status.success(), "{out}\n{err}");
    ensure!(out.contains("accessibility_violations\t0"), "{out}");
    // The bench reads it.
    print!("{out}");
    Ok(())
}
