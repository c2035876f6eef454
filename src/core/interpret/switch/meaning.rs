//! What presses mean, by where they find us and by how the switch is set up.

use std::time::Duration;

use serde::{Deserialize, Serialize};

use super::{Press, Timing};
use crate::interpret::Said;
use crate::interpret::said::Details;
use crate::plan::Command;

/// What a press does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Action {
    /// The marker; also the word for yes.
    Marker,
    /// A miss; also the word for no.
    Miss,
    /// Take back the last; in a pause, finish the session.
    TakeBack,
    /// Pause or go on; outside a session, what can be done is read.
    Pause,
    /// The cue was given.
    Cue,
    /// A hold begins.
    HoldStart,
    /// Finish the session.
    Finish,
    /// What can be done is read.
    Menu,
    /// Nothing.
    None,
}

/// Where a press finds us.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Under {
    /// A session is under way.
    Way,
    /// It is paused.
    Pause,
    /// None is, and one that was cut off can be gone on with.
    CutOff,
    /// None is.
    None,
}

/// What a press means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Meant {
    /// As if this was said.
    Said(Said),
    /// What can be done is to be read.
    Menu,
    /// Nothing.
    Nothing,
}

impl Action {
    /// What it means for the trainer.
    pub fn meant(self, under: Under) -> Meant {
        let command = |command| Meant::Said(Said::Command { command });
        match (self, under) {
            (Action::None, _) => Meant::Nothing,
            (Action::Menu, _) => Meant::Menu,
            // With one switch alone, a session must find an end.
            (Action::TakeBack, Under::Pause) | (Action::Finish, _) => command(Command::Finish),
            (Action::Pause, Under::Way) => command(Command::Pause),
            (Action::Pause, Under::Pause | Under::CutOff) => command(Command::GoOn),
            // Where there is nothing to pause or to take back, and where a tag would only be a doubt.
            (Action::Pause | Action::TakeBack, Under::None | Under::CutOff) => Meant::Menu,
            (Action::Marker | Action::Miss | Action::Cue | Action::HoldStart, Under::Pause) => {
                Meant::Menu
            }
            (Action::Marker, _) => Meant::Said(Said::Rep(Details::default())),
            (Action::Miss, _) => Meant::Said(Said::Miss(Details::default())),
            (Action::TakeBack, _) => Meant::Said(Said::TakeBack),
            (Action::Cue, _) => Meant::Said(Said::Cue),
            (Action::HoldStart, _) => Meant::Said(Said::HoldStart),
        }
    }
}

/// A switch as it is set up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct SwitchSettings {
    /// What a short press does.
    pub short: Action,
    /// What a long press does.
    pub long: Action,
    /// What a double press does.
    pub double: Action,
    /// What a triple press does: without a word a miss, and nothing where a double one does nothing, so that whoever
    /// wants no press waited for need not know of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub triple: Option<Action>,
    /// See [`Timing::long`], in milliseconds.
    pub long_ms: u16,
    /// See [`Timing::double`], in milliseconds; it is that of [`Timing::triple`] too.
    pub double_ms: u16,
    /// See [`Timing::repeat_delay`], in milliseconds.
    pub repeat_delay_ms: u16,
    /// Where choices are read one after the other: how long each may still be taken after it was read, in milliseconds.
    /// A usable time is that which one takes to press, over 0.65 (Simpson, Koester and LoPresti 2007, Assist Technol
    /// 19(2):51-60, doi:10.1080/10400435.2007.10131865). The default is that of somebody who takes 1.3 s; that one begins
    /// slowly is common practice, no source.
    pub scan_ms: u16,
}

impl Default for SwitchSettings {
    fn default() -> Self {
        let usual = Timing::default();
        let ms = |time: Duration| time.as_millis() as u16;
        SwitchSettings {
            short: Action::Marker,
            long: Action::Pause,
            double: Action::TakeBack,
            triple: None,
            long_ms: ms(usual.long),
            double_ms: ms(usual.double),
            repeat_delay_ms: ms(usual.repeat_delay),
            scan_ms: 2000,
        }
    }
}

impl SwitchSettings {
    /// What tells presses apart. A press that does nothing is not waited for, so the others are known sooner.
    pub fn timing(&self) -> Timing {
        let ms = |ms: u16| Duration::from_millis(u64::from(ms));
        let used =
            |action: Action, time| if action == Action::None { Duration::ZERO } else { time };
        let triple = self.action(Press::Triple);
        Timing {
            long: ms(self.long_ms),
            double: used(self.double, ms(self.double_ms)).max(used(triple, ms(self.double_ms))),
            triple: used(triple, ms(self.double_ms)),
            repeat_delay: used(self.long, ms(self.repeat_delay_ms)),
        }
    }

    /// What this press does.
    pub fn action(&self, press: Press) -> Action {
        match press {
            Press::Short => self.short,
            Press::Long => self.long,
            Press::Double => self.double,
            Press::Triple => self.triple.unwrap_or(match self.double {
                Action::None => Action::None,
                _ => Action::Miss,
            }),
        }
    }

    /// How long each choice may be taken after it was read.
    pub fn pace(&self) -> Duration {
        Duration::from_millis(u64::from(self.scan_ms))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_press_does_what_is_of_use_where_we_are() {
        let settings = SwitchSettings::default();
        let command = |command| Meant::Said(Said::Command { command });
        let tag = Meant::Said;
        let marker = || tag(Said::Rep(Details::default()));
        let miss = || tag(Said::Miss(Details::default()));
        let expected = [
            (Under::Way, [marker(), command(Command::Pause), tag(Said::TakeBack), miss()]),
            (
                Under::Pause,
                [Meant::Menu, command(Command::GoOn), command(Command::Finish), Meant::Menu],
            ),
            (Under::CutOff, [marker(), command(Command::GoOn), Meant::Menu, miss()]),
            (Under::None, [marker(), Meant::Menu, Meant::Menu, miss()]),
        ];
        let presses = [Press::Short, Press::Long, Press::Double, Press::Triple];
        for (under, meant) in expected {
            assert_eq!(
                presses.map(|press| settings.action(press).meant(under)),
                meant,
                "{under:?}"
            );
        }
        assert_eq!(Action::None.meant(Under::Way), Meant::Nothing);
        assert_eq!(Action::Menu.meant(Under::Way), Meant::Menu);
    }
}
