//! Choosing by one switch, for whatever is driven: presses go to the scanner first, and what it asks for is carried out.

use std::time::Duration;

use minijinja::context;

use super::driver::Driven;
use super::stage::{Came, Hands, Onset, Told};
use crate::interpret::switch::Pressed;
use crate::machine::Machine;
use crate::scan::{ScanEffect, ScanInput};
use crate::wording::filled;

impl<M, H> Driven<'_, '_, M, H>
where
    M: Machine<Time = Duration>,
    H: Hands<M>,
{
    /// The switch was pressed: about what is read or asked, or for the machine's hands.
    pub(super) fn pressed(&mut self, pressed: Vec<Pressed>) -> anyhow::Result<()> {
        for pressed in pressed {
            let choices = self.machine.choices();
            let menu = self.hands.opens_menu(pressed.press, self.machine);
            let input = ScanInput::Pressed { pressed, menu, choices };
            let effects = self.scanner.handle(pressed.at, input);
            self.chosen(pressed.at, effects)?;
        }
        Ok(())
    }

    /// Lets time pass for the scanner: what it waits for, and what comes due.
    pub(super) fn choose(&mut self) -> anyhow::Result<()> {
        let now = self.driver.stage.clock.now();
        if self.scanner.by_switch() && self.is_free() {
            let stage = &mut self.driver.stage;
            let choices = self.machine.choices();
            let silent = !stage.awaits_quiet && !stage.speaking();
            let mut effects = self.scanner.handle(now, ScanInput::Now(choices.clone()));
            if silent && self.scanner.awaits_quiet() {
                if choices.asks {
                    self.machine.choosing(self.scanner.until(now));
                }
                effects.extend(self.scanner.handle(now, ScanInput::Quiet(choices)));
            }
            self.chosen(now, effects)?;
        }
        self.keep_pace();
        self.driver.by_switch = self.scanner.by_switch();
        // A press that is not known yet may still take what is read.
        let to = self.driver.switches.pending_since().map_or(now, |since| since.min(now));
        let effects = self.scanner.pass(to);
        self.chosen(now, effects)
    }

    /// The pace is the driver's from now on, and one that was changed is kept.
    fn keep_pace(&mut self) {
        let pace = self.scanner.pace();
        if pace == self.driver.pace {
            return;
        }
        self.driver.pace = pace;
        if let Err(error) = (self.driver.keep_pace)(pace) {
            let error = format!("{error:#}");
            let told = filled("screen.pace_not_kept", context! { error });
            self.driver.stage.desk.printer.remark(&told);
        }
    }

    fn chosen(&mut self, at: Duration, effects: Vec<ScanEffect<M::Input>>) -> anyhow::Result<()> {
        for effect in effects {
            match effect {
                ScanEffect::Bring(pressed) => self.bring(Came::Pressed(vec![pressed]))?,
                ScanEffect::Read(label) => {
                    let stage = &mut self.driver.stage;
                    let text = stage.desk.wording().choice(&label);
                    stage.desk.read(&text);
                    stage.awaits_quiet = true;
                    let now = stage.clock.now();
                    self.machine.choosing(self.scanner.until(now));
                }
                ScanEffect::Take(inputs) => {
                    let stage = &mut self.driver.stage;
                    if let Some(sounds) = &mut stage.desk.sounds {
                        sounds.hush();
                    }
                    let onset = stage.desk.session_at(at);
                    let onset = onset.map(|at| Onset { at: at.back(stage.offset), times: None });
                    let told = inputs.into_iter().map(|input| Told { at, input, onset });
                    self.tell(told.collect())?;
                }
            }
        }
        Ok(())
    }
}
