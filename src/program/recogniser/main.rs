//! The recogniser's process: the only program that is linked with libvosk. It reads what the main program asks on
//! its standard input and answers on its standard output (`hushtally::hear::wire`); when the main program ends, so
//! does this one. Nothing here touches a file but the model, or keeps any sound.

use std::collections::BTreeMap;
use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::ExitCode;

use hushtally::audio::RATE;
use hushtally::clock::Clock;
use hushtally::hear::wire::{self, Alternative, Ask, Placed, Told};

/// Samples of soft noise that a new recogniser is tried out with, so that a model that breaks it does so now.
const TRIAL: usize = 3_200;

#[expect(clippy::disallowed_methods, reason = "another program reads it, not a terminal")]
fn main() -> ExitCode {
    vosk::set_log_level(vosk::LogLevel::Error);
    let (mut asked, mut out) = (io::stdin().lock(), io::stdout().lock());
    let mut desk = Desk::default();
    loop {
        match wire::read(&mut asked) {
            Ok(Some(ask)) => {
                let told = desk.answer(ask);
                if told.is_some_and(|told| wire::write(&mut out, &told).is_err()) {
                    return ExitCode::SUCCESS;
                }
            }
            Ok(None) => return ExitCode::SUCCESS,
            Err(_) => return ExitCode::FAILURE,
        }
    }
}

/// The model and its recognisers.
#[derive(Default)]
struct Desk {
    // Before the model, so that they go first.
    recognisers: BTreeMap<usize, Recogniser>,
    model: Option<vosk::Model>,
}

struct Recogniser {
    inner: vosk::Recognizer,
    /// Samples of the present segment, and of all before: its clock goes on.
    fed: usize,
    before: usize,
}

impl Desk {
    fn answer(&mut self, ask: Ask) -> Option<Told> {
        let done = |done: bool| Some(if done { Told::Done } else { Told::Failed });
        match ask {
            Ask::Load { folder } => {
                self.recognisers.clear();
                self.model = vosk::Model::new(folder);
                done(self.model.is_some())
            }
            Ask::Known { words } => {
                let model = self.model.as_mut()?;
                let known = words.iter().map(|word| model.find_word(word).is_some());
                Some(Told::Known(known.collect()))
            }
            Ask::Start { recogniser, lines, alternatives } => {
                let model = self.model.as_ref()?;
                let made = Recogniser::new(model, lines.as_deref(), alternatives);
                let made = made.map(|made| self.recognisers.insert(recogniser, made));
                done(made.is_some())
            }
            Ask::Feed { recogniser, samples } => {
                self.recognisers.get_mut(&recogniser)?.feed(&samples);
                None
            }
            Ask::Finish { recogniser } => {
                let read = self.recognisers.get_mut(&recogniser).and_then(Recogniser::finish);
                Some(read.map_or(Told::Failed, Told::Read))
            }
            Ask::Stop { recogniser } => {
                self.recognisers.remove(&recogniser);
                None
            }
            Ask::Worked => Some(Told::Worked(Clock::worked())),
        }
    }
}

impl Recogniser {
    /// A recogniser that has been tried out.
    fn new(model: &vosk::Model, lines: Option<&[String]>, alternatives: u16) -> Option<Self> {
        let hz = RATE.get() as f32;
        let mut inner = match lines {
            Some(lines) => vosk::Recognizer::new_with_grammar(model, hz, lines),
            None => vosk::Recognizer::new(model, hz),
        }?;
        inner.set_words(true);
        inner.set_max_alternatives(alternatives);
        let mut made = Recogniser { inner, fed: 0, before: 0 };
        let noise = (0..TRIAL).scan(1_u32, |state, _| {
            // Numerical Recipes' quick generator: any noise will do.
            *state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            Some((*state >> 22) as i16 - 512)
        });
        made.feed(&noise.collect::<Vec<_>>());
        made.finish()?;
        Some(made)
    }

    fn feed(&mut self, samples: &[i16]) {
        self.fed += samples.len();
        // An end that the recogniser thinks it hears means nothing: the gate decides.
        let _state = self.inner.accept_waveform(samples);
    }

    /// Ends the segment: its readings, best first; `None` where what came is not a reading.
    fn finish(&mut self) -> Option<Vec<Alternative>> {
        let offset = self.before as f32 / RATE.get() as f32;
        self.before += self.fed;
        self.fed = 0;
        // To 10 ms, as finely as words are placed: where a word is must not depend on what was read before it.
        let placed = |second: f32| ((second - offset).max(0.0) * 100.0).round() / 100.0;
        let inner = &mut self.inner;
        // The crate panics on a result that it does not expect.
        let read = catch_unwind(AssertUnwindSafe(|| {
            let result = inner.final_result().multiple()?;
            let alternatives = result.alternatives.into_iter().map(|alternative| Alternative {
                score: alternative.confidence,
                words: alternative
                    .result
                    .iter()
                    .map(|word| Placed {
                        text: word.word.to_owned(),
                        start: placed(word.start),
                        end: placed(word.end),
                    })
                    .collect(),
            });
            Some(alternatives.collect::<Vec<_>>())
        }));
        let read = read.ok().flatten()?;
        read.iter().all(|alternative| alternative.score.is_finite()).then_some(read)
    }
}
