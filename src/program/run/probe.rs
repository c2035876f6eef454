//! A test of a cue that was told by voice: kept, and what to test next.

use super::carry_out::unreadable;
use super::live::Live;
use super::stage::{Stage, Told};
use crate::dialogue::{Dialogue, DialogueInput, DialogueLine};
use crate::history::cue::{self, Given};
use crate::store::{Entry, ProbeCue};

impl Live<'_> {
    pub(super) fn probe(
        &mut self,
        given: Given,
        came: bool,
        dialogue: &Dialogue,
        stage: &mut Stage<'_>,
    ) -> Vec<Told<DialogueInput>> {
        let behaviour = self.conductor.session().plan().behaviour.clone();
        let cue = match given {
            Given::Own => ProbeCue::Own,
            Given::None => ProbeCue::None,
            Given::Other => ProbeCue::another(),
        };
        let (instead, latency_s, context) = (None, None, None);
        let entry =
            Entry::Probe { behaviour: behaviour.clone(), cue, came, instead, latency_s, context };
        let told = self.journal(entry, dialogue, stage);
        match self.known(stage.desk) {
            Ok(known) => {
                let probes = known.as_ref().and_then(|known| known.probes.get(&behaviour));
                let next = cue::control(probes.map_or(&[][..], Vec::as_slice)).next;
                stage.desk.tell_line(stage.latest, &DialogueLine::ProbeKept { next });
            }
            Err(error) => stage.desk.tell(stage.latest, unreadable(&error)),
        }
        told
    }
}
