//! The whole program stands still for a moment, again and again, as on a machine with too much to do.

use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use anyhow::{Context, Result};
use hushtally::plan::{Command as Spoken, Role};

use super::listener::Stage;
use crate::needs;
use crate::room::Room;

const STALL: Duration = Duration::from_millis(50);
const BETWEEN: Duration = Duration::from_millis(200);

#[test]
fn stalls_of_50_ms_lose_no_sound_and_no_tag() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    if !needs::program("kill") {
        return Ok(());
    }
    let stage = Stage::new()?;
    let mut listener = stage.listen(&room, &["--quiet"])?;
    let child = listener.child.id().to_string();
    let over = Arc::new(AtomicBool::new(false));
    let stalls = {
        let over = Arc::clone(&over);
        std::thread::spawn(move || -> Result<u32> {
            let signal = |name: &str| {
                Command::new("kill").args([name, &child]).stderr(Stdio::null()).status()
            };
            let mut stalls = 0;
            while !over.load(Ordering::Acquire) && signal("-STOP")?.success() {
                std::thread::sleep(STALL);
                signal("-CONT")?;
                stalls += 1;
                std::thread::sleep(BETWEEN);
            }
            Ok(stalls)
        })
    };
    let marker: &[Role] = &[Role::Marker];
    stage.speak(&room, 1.2, &[marker; 8])?;
    let heard = listener.until("eight reps are told", |l| l.of("rep").len() == 8);
    over.store(true, Ordering::Release);
    let stalls = stalls.join().ok().context("the stalls stopped")??;
    heard?;
    stage.speak(&room, 1.0, &[&[Role::Command(Spoken::Finish)]])?;
    let status = listener.end()?;
    assert!(status.success(), "{status}:\n{}", listener.all());
    println!("{stalls} stalls of {STALL:?}");
    assert!(stalls > 20, "only {stalls} stalls");
    assert!(listener.of("gap").is_empty(), "sound was lost:\n{}", listener.all());
    Ok(())
}
