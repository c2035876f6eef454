//! Records of earlier builds, as those wrote them: `engine_2.db` is by the build of commit 602ce15, which replayed an
//! invented session and the demo's, both spoken by a synthetic voice. In the first one "miss left" and "miss two" were
//! said, which that build gave to the try before.

use std::path::Path;

use anyhow::Result;
use hushtally::plan::Side;
use hushtally::store::{Filter, Store};

use crate::end_to_end::{complaint, hushtally};

const ENGINE_2: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/all/golden/engine_2.db");

fn copy(folder: &Path) -> Result<std::path::PathBuf> {
    let file = folder.join("record.db");
    // Not its permissions: the record is written to.
    std::fs::write(&file, std::fs::read(ENGINE_2)?)?;
    Ok(file)
}

#[test]
fn a_record_of_an_earlier_build_is_sound() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let file = copy(folder.path())?;
    let output = hushtally(&["verify", "--db"]).arg(&file).output()?;
    assert!(output.status.success(), "{}", complaint(&output));
    let output = hushtally(&["sessions", "--db"]).arg(&file).output()?;
    assert!(output.status.success(), "{}", complaint(&output));
    let output = hushtally(&["verify", "--db"]).arg(&file).output()?;
    assert!(output.status.success(), "{}", complaint(&output));
    Ok(())
}

#[test]
fn what_was_said_with_a_miss_is_the_misss_own_in_earlier_records_too() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let store = Store::open(&copy(folder.path())?)?;
    let rows = store.sessions(&Filter::default())?;
    let tries: Vec<_> = store
        .reps(&Filter::session(rows[0].id))?
        .into_iter()
        .map(|row| (row.rep.rewarded(), row.rep.side, row.rep.step))
        .collect();
    let left = Some(Side::Left);
    assert_eq!(
        tries,
        [(true, None, 1), (false, left, 1), (true, None, 1), (true, left, 1), (false, None, 2),]
    );
    assert_eq!((rows[0].best_step, rows[0].unsure), (Some(1), 1));
    // The demo's session has corrections, and counts as it did.
    assert_eq!((rows[1].rewarded, rows[1].missed, rows[1].best_step), (11, 1, Some(3)));
    Ok(())
}
