//! Two programs on one record, each in session: what one acknowledges stays in its own session.

use std::io::Write;
use std::process::{Child, ChildStdin, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail};
use hushtally::plan::{Command, Role};
use hushtally::store::{Filter, Store};

use super::listener::Stage;
use crate::room::Room;

/// A program that is typed to, and the number of tries that it has reported so far.
struct Typed {
    child: Child,
    keys: ChildStdin,
    out: std::path::PathBuf,
}

impl Typed {
    fn start(stage: &Stage, room: &Room, name: &str) -> Result<Self> {
        let out = stage.folder.path().join(name);
        let file = std::fs::File::create(&out)?;
        let mut child = room
            .command(env!("CARGO_BIN_EXE_hushtally"))
            .args(["listen", "--type", "--quiet", "--json", "--person", name, "--db"])
            .arg(stage.record())
            .arg(stage.plan_file())
            .stdin(Stdio::piped())
            .stdout(file.try_clone()?)
            .stderr(file)
            .spawn()?;
        let keys = child.stdin.take().context("no input")?;
        let typed = Typed { child, keys, out };
        typed.until("listening on", 1)?;
        Ok(typed)
    }

    fn told(&self) -> Result<String> {
        Ok(std::fs::read_to_string(&self.out)?)
    }

    fn until(&self, what: &str, times: usize) -> Result<()> {
        let begun = Instant::now();
        while self.told()?.matches(what).count() < times {
            if begun.elapsed() > Duration::from_secs(60) {
                bail!("waited in vain for {what} {times} times:\n{}", self.told()?);
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        Ok(())
    }

    fn type_line(&mut self, line: &str) -> Result<()> {
        writeln!(self.keys, "{line}")?;
        Ok(self.keys.flush()?)
    }

    fn tries(&mut self, words: &str, from: usize, to: usize) -> Result<()> {
        for n in from..=to {
            self.type_line(words)?;
            self.until("\"kind\":\"rep\"", n)?;
        }
        Ok(())
    }

    fn finish(mut self, words: &str) -> Result<()> {
        self.type_line(words)?;
        self.until("\"kind\":\"finished\"", 1)?;
        drop(self.keys);
        if !self.child.wait()?.success() {
            bail!("{}", std::fs::read_to_string(&self.out)?);
        }
        Ok(())
    }
}

#[test]
fn what_one_acknowledges_while_another_begins_is_shown() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let stage = Stage::new()?;
    let [marker, finish, go_on] =
        [&[Role::Marker][..], &[Role::Command(Command::Finish)], &[Role::Command(Command::GoOn)]]
            .map(|roles| stage.words(roles));
    let mut ada = Typed::start(&stage, &room, "Ada")?;
    ada.tries(&marker, 1, 3)?;
    // Bo is told of Ada, and tries all the same to go on with what there is.
    let mut bo = Typed::start(&stage, &room, "Bo")?;
    bo.until("Ada has been in session with Pepino", 1)?;
    bo.type_line(&go_on)?;
    bo.tries(&marker, 1, 2)?;
    ada.tries(&marker, 4, 5)?;
    bo.finish(&finish)?;
    ada.tries(&marker, 6, 7)?;
    ada.finish(&finish)?;

    let store = Store::open(&stage.record())?;
    let rows = store.sessions(&Filter::default())?;
    let mut shown: Vec<_> =
        rows.iter().map(|row| (row.person.clone().unwrap_or_default(), row.rewarded)).collect();
    shown.sort();
    assert_eq!(shown, [("Ada".to_owned(), 7), ("Bo".to_owned(), 2)]);
    let verdict = store.verify(concat!("hushtally ", env!("CARGO_PKG_VERSION")))?;
    assert!(verdict.is_sound(), "{verdict:?}");
    Ok(())
}
