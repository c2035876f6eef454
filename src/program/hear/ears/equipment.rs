//! What ears are made of, once for the words of a plan: the model, its recognisers, the rules to judge by.

use std::cell::OnceCell;
use std::collections::BTreeSet;
use std::sync::Arc;

use super::judge::{Rules, is_one_thing};
use super::readers::{Recognisers, TagRecognisers};
use crate::hear::personal::Learnt;
use crate::hear::recogniser::{Recognise, Recogniser};
use crate::hear::verdict::TagBounds;
use crate::hear::{Frequent, HearError, SpeechModel, lines};
use crate::interpret::Grammar;
use crate::plan::{MarkerSound, Words};

/// Frequent words that compete with the tags.
const ORDINARY: usize = 3000;
/// Readings asked for with tags alone, among ordinary words, and in free words.
const OF_TAGS: u16 = 10;
const AMONG_ORDINARY: u16 = 15;
const FREE: u16 = 1;

/// What does not change while ears listen.
pub(super) struct Equipment {
    pub(super) model: SpeechModel,
    pub(super) recognisers: Recognisers,
    /// Reads free words; made when the first note begins.
    free: OnceCell<Arc<dyn Recognise>>,
    pub(super) rules: Rules,
    pub(super) marker_sounds: BTreeSet<MarkerSound>,
    /// Others may say the words too.
    pub(super) others_near: bool,
}

impl Equipment {
    /// For these words, and what was learnt from the person who speaks.
    ///
    /// # Errors
    /// [`HearError`] when a word is neither in the model's lexicon nor learnt, or the recogniser does not start.
    pub(super) fn new(
        mut model: SpeechModel,
        words: &Words,
        learnt: &Learnt,
    ) -> Result<Self, HearError> {
        let grammar = Grammar::new(words);
        let vocabulary = grammar.vocabulary();
        let mut unknown = model.unknown(&vocabulary);
        let learnt = learnt.matcher(|phrase| is_one_thing(&grammar, phrase));
        let is_in = |word: &str, phrase: &str| phrase.split(' ').any(|part| part == word);
        let needed = |word: &str| {
            let mut phrases = words.iter().map(|(_, phrase)| phrase);
            phrases.any(|phrase| is_in(word, phrase) && !learnt.knows(phrase))
        };
        let silent: Vec<String> = unknown.iter().map(|unknown| unknown.word.clone()).collect();
        unknown.retain(|unknown| needed(&unknown.word));
        if !unknown.is_empty() {
            return Err(HearError::UnknownWords(unknown));
        }
        let sayable = |mut lines: Vec<String>| {
            lines.retain(|line| !silent.iter().any(|word| is_in(word, line)));
            lines
        };
        let frequent = Frequent::english();
        let mut beside = |lines: &[String]| {
            let taken: Vec<&str> = lines.iter().flat_map(|line| line.split(' ')).collect();
            model.known(&frequent.others(ORDINARY, &taken))
        };
        let beside_tags = beside(&grammar.tags());
        let beside_commands = beside(&grammar.called_commands());
        let recogniser = |process, lines, readings| -> Result<Arc<dyn Recognise>, HearError> {
            Ok(Arc::new(Recogniser::new(process, Some(sayable(lines)), readings)?))
        };
        let of_tags = |process| -> Result<TagRecognisers, HearError> {
            Ok(TagRecognisers {
                tags: recogniser(process, lines::tags(&grammar), OF_TAGS)?,
                open: recogniser(process, lines::open(&grammar, &beside_tags), AMONG_ORDINARY)?,
            })
        };
        let commands = lines::commands(&grammar, &beside_commands);
        let recognisers = Recognisers {
            of_tags: of_tags(model.process())?,
            in_noise: model.process_in_noise().map(of_tags).transpose()?,
            commands: recogniser(model.process(), commands, AMONG_ORDINARY)?,
        };
        let (bounds, behind) = (TagBounds::of(model.scores()), model.scores().behind());
        Ok(Equipment {
            model,
            recognisers,
            free: OnceCell::new(),
            rules: Rules { grammar, bounds, behind, learnt },
            marker_sounds: words.marker_sounds().clone(),
            others_near: words.others_near(),
        })
    }

    /// The recogniser of free words; none when it does not start.
    pub(super) fn free(&self) -> Option<&Arc<dyn Recognise>> {
        if self.free.get().is_none() {
            match Recogniser::new(self.model.process(), None, FREE) {
                Ok(recogniser) => {
                    let recogniser: Arc<dyn Recognise> = Arc::new(recogniser);
                    return Some(self.free.get_or_init(|| recogniser));
                }
                Err(error) => tracing::warn!("no note can be taken: {error}"),
            }
        }
        self.free.get()
    }
}
