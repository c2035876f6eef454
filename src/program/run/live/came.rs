//! What was heard, typed or pressed, as the dialogue is told it.

use minijinja::context;

use super::{Live, Tells};
use crate::dialogue::{Dialogue, DialogueInput, Place, Question};
use crate::hear::{Doubt, Heard};
use crate::interpret::switch::{Meant, Pressed};
use crate::plan::Role;
use crate::run::said::{hear_tags, said_by_hand};
use crate::run::stage::{Onset, Stage, Told};
use crate::run::typed::{called, typed, understood};
use crate::wording::filled;

impl Live<'_> {
    pub(super) fn hear(
        &mut self,
        heard: Heard,
        dialogue: &Dialogue,
        stage: &mut Stage<'_>,
    ) -> Tells {
        match heard {
            Heard::Tags(tags) => return Ok(hear_tags(tags, stage)),
            Heard::Doubt(_) | Heard::Withdrawn(_) | Heard::Lost { .. }
                if self.keeps_events(dialogue) =>
            {
                let turns = self.conductor.hear(heard.later(stage.offset), stage.desk);
                return Ok(self.turned(turns));
            }
            // Called by name, and not understood: asked about, if it is like a command.
            Heard::Doubt(doubt) if is_no_command(&doubt, stage) => {
                let input = DialogueInput::NoCommand { words: doubt.words };
                return Ok(vec![Told::new(self.clock.now(), input)]);
            }
            // Outside a session a doubt has nothing to be kept with.
            Heard::Doubt(Doubt { words, other, .. }) => {
                let other = other.to_string();
                let told = filled("screen.unsure", context! { words, other });
                stage.desk.printer.remark(&told);
            }
            Heard::Withdrawn(doubt) => {
                let told = filled("screen.was_talk", context! { words => doubt.other.to_string() });
                stage.desk.printer.remark(&told);
            }
            // A note comes as a dictation, which the dialogue asked for.
            Heard::Note { .. } | Heard::Lost { .. } | Heard::Other { .. } => {}
        }
        Ok(Vec::new())
    }

    /// A typed line: the text in answer to a question that is dictated to, unless it begins with the attention word;
    /// else what its words mean.
    pub(super) fn line(
        &mut self,
        line: &str,
        dialogue: &Dialogue,
        stage: &mut Stage<'_>,
    ) -> Vec<Told<DialogueInput>> {
        let now = self.clock.now();
        let asked = dialogue.question().is_some_and(Question::is_dictated_to);
        if asked {
            self.leave_dictation(stage);
        }
        let words = self.words.clone();
        let attention = words.of(&Role::Attention).first();
        let calls = line.split_whitespace().next().map(str::to_lowercase).as_ref() == attention;
        let lower = line.to_lowercase();
        if asked && !calls && !dialogue.is_no_part(&called(&lower, &words)) {
            return vec![Told::new(now, DialogueInput::Dictated { text: line.to_owned() })];
        }
        let said = typed(&lower, &words);
        if said.is_empty() && !matches!(dialogue.place(), Place::Training(_)) {
            return vec![Told::new(now, DialogueInput::NoCommand { words: lower })];
        }
        let said = if said.is_empty() { understood(&lower, &words, stage.desk) } else { said };
        said.into_iter().map(|said| said_by_hand(said, lower.clone(), None, stage)).collect()
    }

    /// The line answers what a dictation was for, so what is said next is not part of it.
    fn leave_dictation(&mut self, stage: &Stage<'_>) {
        self.dictate = false;
        if let Some(mic) = &stage.mic {
            mic.leave_dictation();
        }
    }

    /// What was dictated; to a part of a plan, yes, no and a command do not belong.
    pub(super) fn dictated(&self, text: String, dialogue: &Dialogue) -> Told<DialogueInput> {
        let means = if text.is_empty() { Vec::new() } else { called(&text, &self.words) };
        let input = match means.into_iter().next() {
            Some(said) if dialogue.is_no_part(std::slice::from_ref(&said)) => {
                DialogueInput::Said { said, words: text, keyed: false }
            }
            _ => DialogueInput::Dictated { text },
        };
        Told::new(self.clock.now(), input)
    }

    /// The switch was pressed: what that says depends on where we are.
    pub(super) fn pressed(
        &self,
        pressed: Vec<Pressed>,
        dialogue: &Dialogue,
        stage: &mut Stage<'_>,
    ) -> Vec<Told<DialogueInput>> {
        let under = self.under(dialogue);
        let mut told = Vec::new();
        for Pressed { press, at } in pressed {
            let Meant::Said(said) = self.switch.action(press).meant(under) else { continue };
            let onset = stage.desk.session_at(at);
            let onset = onset.map(|at| Onset { at: at.back(stage.offset), times: None });
            let words = filled("screen.press", context! { press => format!("{press:?}") });
            told.push(said_by_hand(said, words, onset, stage));
        }
        told
    }
}

/// Whether this was said after the attention word, is not a command, and was none of our own sentences.
fn is_no_command(doubt: &Doubt, stage: &mut Stage<'_>) -> bool {
    let offset = stage.offset;
    let from = stage.desk.clock_time(doubt.at + offset);
    let to = stage.desk.clock_time(doubt.end + offset);
    let sounds = stage.desk.sounds.as_mut();
    doubt.is_no_command() && !sounds.is_some_and(|sounds| sounds.may_be_own(&doubt.words, from, to))
}
