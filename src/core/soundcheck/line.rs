//! What the sound check says and asks of the world.

use serde::Serialize;

use super::EarKind;
use crate::dialogue::{AudibilityVerdict, VoiceChange};

/// To be carried out in order.
#[derive(Debug, Clone, PartialEq)]
#[must_use = "an effect not carried out is lost"]
pub enum SoundcheckEffect {
    /// Say this, and show it.
    Say(SoundcheckLine),
    /// Show it only.
    Show(SoundcheckLine),
    /// Listen to this microphone from now on.
    OpenMic(usize),
    /// Play one soft sound on this output, and be silent on every other.
    Play(usize),
    /// Speak through this output from now on.
    UseEar(usize),
    /// Speak otherwise from now on.
    Voice(VoiceChange),
    /// Speak with this voice from now on.
    UseVoice(usize),
    /// Put what was found into the settings.
    Save,
    /// The check is over.
    End,
}

/// A word that was not heard as it was meant.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Missed {
    /// The phrase asked for.
    pub phrase: String,
    /// What it was taken for, if for anything.
    pub taken_for: Option<String>,
}

/// A word that was not heard surely.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct NotSure {
    /// The phrase asked for, and what it was taken for.
    #[serde(flatten)]
    pub missed: Missed,
    /// Words of its role that were measured to be heard and are far in sound from those of the plan; none is offered for
    /// two.
    pub instead: Vec<String>,
}

/// What would make hearing better.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "advice", rename_all = "snake_case")]
pub enum Advice {
    /// Speech stands too little above the room's noise.
    Nearer,
    /// The microphone is set too loud, or too near.
    LowerGain,
    /// Many words were not heard although the level is right: the microphone itself, or one word after the
    /// other in the settings.
    OtherMicrophone,
    /// Words that were not heard surely, each with others that may take its place.
    OtherWords {
        /// Every one that was missed, or heard only when it was said again.
        words: Vec<NotSure>,
    },
    /// Nudges stay silent on a loudspeaker, since the animal hears them.
    Earphone,
}

/// Something to say; templates in `prompts/` make sentences of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "line", rename_all = "snake_case")]
pub enum SoundcheckLine {
    /// What there is to listen and play with.
    There {
        /// Microphones, the one that is tried first at the head.
        mics: Vec<String>,
        /// Outputs, likewise.
        ears: Vec<String>,
    },
    /// Be quiet for a moment.
    BeQuiet,
    /// This microphone does not open.
    MicFailed {
        /// Its name.
        name: String,
        /// Why.
        why: String,
    },
    /// Nothing was heard through the last one; this one is tried, in quiet.
    NextMic {
        /// Its name.
        name: String,
    },
    /// No microphone is left to try.
    NoMic,
    /// The room's noise.
    Noise {
        /// In dBFS of the microphone.
        dbfs: f32,
    },
    /// Say this word as in training.
    SayWord {
        /// The word for yes.
        yes: String,
    },
    /// The word was heard without its level; say it again.
    SayAgain {
        /// The word for yes.
        yes: String,
    },
    /// How loud the trainer is; asks for the word once more unless all is well.
    Level {
        /// Whether that is well enough.
        verdict: AudibilityVerdict,
        /// Speech in dBFS.
        speech_dbfs: f32,
        /// How far it stands above the room's noise, in dB.
        above_db: f32,
        /// Whether the word is asked for again.
        again: bool,
        /// The word for yes.
        yes: String,
    },
    /// Sounds follow, one an output.
    WhichEar {
        /// How many.
        count: usize,
        /// The word for yes.
        yes: String,
    },
    /// The sound on this output comes now.
    Playing {
        /// Its name.
        name: String,
    },
    /// This output does not open.
    EarFailed {
        /// Its name.
        name: String,
        /// Why.
        why: String,
    },
    /// None of them was heard.
    NoEar,
    /// Does only the trainer hear it?
    WhichKind {
        /// The word for yes.
        yes: String,
        /// The word for no.
        no: String,
    },
    /// It was not answered, and finds itself in training.
    KindOpen,
    /// Words follow, to be said after each other.
    Words {
        /// How many.
        count: usize,
    },
    /// This one.
    Word {
        /// The phrase.
        phrase: String,
    },
    /// It was heard.
    WordHeard {
        /// The phrase.
        phrase: String,
    },
    /// It was not, or as another.
    WordMissed {
        /// The phrase.
        #[serde(flatten)]
        missed: Missed,
        /// Whether it is asked for again.
        again: bool,
    },
    /// Several in a row in silence: the rest is left out.
    WordsLeftOut,
    /// How many were heard, and what would make it better.
    Heard {
        /// Words heard.
        right: usize,
        /// Words asked for.
        of: usize,
        /// What would help.
        advice: Vec<Advice>,
    },
    /// Words that may take the place of those that were not heard surely, where they are too many to be said.
    Instead {
        /// Each with its own.
        words: Vec<NotSure>,
    },
    /// The voice, to be chosen by ear.
    Voice {
        /// The attention word.
        attention: String,
        /// The phrases for slower, faster, louder, quieter.
        phrases: Vec<String>,
        /// The word for yes.
        yes: String,
        /// The word for another voice, where there is one.
        no: Option<String>,
    },
    /// Another voice speaks.
    OtherVoice {
        /// The word for yes.
        yes: String,
        /// The word for the next voice.
        no: String,
    },
    /// The voice changed.
    Changed {
        /// How.
        change: VoiceChange,
        /// The word for yes.
        yes: String,
    },
    /// Shall this be kept?
    Keep {
        /// The microphone.
        mic: String,
        /// The output, when one was chosen.
        ear: Option<String>,
        /// What it is, when that was answered.
        ear_kind: Option<EarKind>,
        /// Whether the voice was confirmed.
        voice: bool,
        /// The word for yes.
        yes: String,
    },
    /// It is.
    Kept,
    /// It is not.
    NotKept,
    /// It cannot be.
    Unsaved {
        /// Why.
        why: String,
    },
    /// Heard, and of no use here.
    NotNow {
        /// What was heard.
        words: String,
    },
}
