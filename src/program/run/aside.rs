//! What takes the stage of the dialogue for a while: a machine of its own under the same driver, with the same keys and
//! switches. What it keeps is on disk when it gives way again.

use super::driver::Driver;
use super::quiz::quiz_on;
use super::settle::settle_on;
use super::soundcheck::check_on;
use super::teach::teach_on;
use super::{CheckUp, LiveEnd, Quizzing, Settling, Shelf, Teaching, Tuning};
use crate::audio::choice::DeviceChoice;
use crate::dialogue::Aside;

/// What an aside is made of.
pub enum OnStage {
    /// Settling what was not heard surely.
    Settle(Settling),
    /// The quiz of the nudges' sounds.
    Quiz(Quizzing),
    /// Teaching one's own sounds.
    Lesson(Teaching),
    /// The whole sound check.
    SetUp(CheckUp),
}

/// What is listened and spoken with.
pub struct Devices {
    /// The microphone.
    pub microphone: DeviceChoice,
    /// The ear, and how it is tuned; none where nothing is to be played.
    pub ear: Option<(DeviceChoice, Tuning)>,
}

/// Lets it take the stage to its end. What cannot be done is told, and does not end the program.
pub(super) async fn perform(
    aside: Aside,
    chosen: Option<usize>,
    shelf: &mut dyn Shelf,
    driver: &mut Driver<'_>,
    microphone: &mut DeviceChoice,
) -> (LiveEnd, Option<String>) {
    let done = match shelf.aside(aside, chosen) {
        Ok(on_stage) => play(on_stage, driver, microphone.clone()).await,
        Err(error) => Err(error),
    };
    let (end, saved, failed) = match done {
        Ok((end, saved)) => (end, saved, None),
        Err(error) => (LiveEnd::Finished, false, Some(error)),
    };
    let after = shelf.after_aside(saved).map(|devices| {
        if aside == Aside::SetUp {
            *microphone = devices.microphone;
            talk_through(devices.ear, driver);
        }
    });
    (end, failed.or(after.err()).map(|error| format!("{error:#}")))
}

/// How it ended, and whether a sound check saved what it found.
async fn play(
    on_stage: OnStage,
    driver: &mut Driver<'_>,
    microphone: DeviceChoice,
) -> anyhow::Result<(LiveEnd, bool)> {
    Ok(match on_stage {
        OnStage::Settle(settling) => (settle_on(driver, settling, microphone).await?.1, false),
        OnStage::Quiz(quizzing) => (quiz_on(driver, quizzing, microphone).await?.1, false),
        OnStage::Lesson(teaching) => (teach_on(driver, teaching, microphone).await?, false),
        OnStage::SetUp(check_up) => {
            let (checked, end) = check_on(driver, check_up).await?;
            (end, checked.report.saved)
        }
    })
}

/// The ear of the settings again, once what the check said last was heard.
fn talk_through(ear: Option<(DeviceChoice, Tuning)>, driver: &mut Driver<'_>) {
    driver.stage.desk.goodbye(true);
    if let Some((choice, tuning)) = ear {
        driver.stage.desk.talk_through(choice, tuning);
    }
}
