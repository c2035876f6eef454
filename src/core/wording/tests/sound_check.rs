//! What the sound check says, as it is said.

use super::*;

#[test]
fn every_line_of_the_sound_check() {
    use crate::soundcheck::{Advice, EarKind, Missed, NotSure, SoundcheckLine};
    let english = Wording::english();
    let (yes, no, name) = ("yes".to_owned(), "miss".to_owned(), "headset".to_owned());
    let missed = |taken_for: Option<&str>| Missed {
        phrase: "calm".into(),
        taken_for: taken_for.map(str::to_owned),
    };
    let not_sure = |taken_for: Option<&str>, instead: &[&str]| NotSure {
        missed: missed(taken_for),
        instead: instead.iter().map(|word| (*word).to_owned()).collect(),
    };
    let level = |verdict, above_db, again| SoundcheckLine::Level {
        verdict,
        speech_dbfs: -30.0,
        above_db,
        again,
        yes: yes.clone(),
    };
    let keep = |ear: Option<&str>, ear_kind, voice| SoundcheckLine::Keep {
        mic: name.clone(),
        ear: ear.map(str::to_owned),
        ear_kind,
        voice,
        yes: yes.clone(),
    };
    let advice = vec![
        Advice::Nearer,
        Advice::LowerGain,
        Advice::OtherMicrophone,
        Advice::Earphone,
        Advice::OtherWords {
            words: vec![
                not_sure(Some("come"), &["meadow", "pencil"]),
                not_sure(Some("calm"), &["willow"]),
                not_sure(None, &[]),
            ],
        },
        Advice::OtherWords { words: vec![not_sure(None, &["meadow"]); 6] },
    ];
    let lines = [
        SoundcheckLine::There { mics: vec!["default".into(), name.clone()], ears: Vec::new() },
        SoundcheckLine::BeQuiet,
        SoundcheckLine::MicFailed { name: name.clone(), why: "It is busy.".into() },
        SoundcheckLine::NextMic { name: name.clone() },
        SoundcheckLine::NoMic,
        SoundcheckLine::Noise { dbfs: -61.6 },
        SoundcheckLine::SayWord { yes: yes.clone() },
        SoundcheckLine::SayAgain { yes: yes.clone() },
        level(AudibilityVerdict::Well, 31.2, false),
        level(AudibilityVerdict::Noisy, 9.0, true),
        level(AudibilityVerdict::Noisy, 9.0, false),
        level(AudibilityVerdict::Loud, 50.0, true),
        level(AudibilityVerdict::Unknown, 0.0, true),
        SoundcheckLine::WhichEar { count: 1, yes: yes.clone() },
        SoundcheckLine::WhichEar { count: 3, yes: yes.clone() },
        SoundcheckLine::Playing { name: name.clone() },
        SoundcheckLine::EarFailed { name: name.clone(), why: "It is busy.".into() },
        SoundcheckLine::NoEar,
        SoundcheckLine::WhichKind { yes: yes.clone(), no },
        SoundcheckLine::KindOpen,
        SoundcheckLine::Instead {
            words: vec![not_sure(None, &["meadow", "pencil"]), not_sure(None, &[])],
        },
        SoundcheckLine::Words { count: 20 },
        SoundcheckLine::Word { phrase: "calm".into() },
        SoundcheckLine::WordHeard { phrase: "calm".into() },
        SoundcheckLine::WordMissed { missed: missed(Some("come")), again: true },
        SoundcheckLine::WordMissed { missed: missed(None), again: false },
        SoundcheckLine::WordMissed { missed: missed(Some("calm")), again: false },
        SoundcheckLine::WordsLeftOut,
        SoundcheckLine::Heard { right: 20, of: 20, advice: Vec::new() },
        SoundcheckLine::Heard { right: 18, of: 20, advice },
        SoundcheckLine::Voice {
            attention: "juniper".into(),
            phrases: ["slower", "faster", "louder", "quieter"].map(str::to_owned).to_vec(),
            yes: yes.clone(),
            no: Some("miss".into()),
        },
        SoundcheckLine::OtherVoice { yes: yes.clone(), no: "miss".into() },
        SoundcheckLine::Changed { change: VoiceChange::Slower, yes: yes.clone() },
        keep(None, None, false),
        keep(Some("bud"), None, true),
        keep(Some("bud"), Some(EarKind::Earphone), true),
        keep(Some("box"), Some(EarKind::Loudspeaker), true),
        SoundcheckLine::Kept,
        SoundcheckLine::NotKept,
        SoundcheckLine::Unsaved { why: "the disk is full".into() },
        SoundcheckLine::NotNow { words: "two".into() },
    ];
    let said: Vec<String> = lines.iter().map(|line| english.check(line)).collect();
    insta::assert_snapshot!(said.join("\n"), @r#"
    Microphones: default, headset. Outputs: none.
    Sound check. Please be quiet for three seconds.
    The microphone headset does not open. It is busy.
    I have heard nothing so far. Now the microphone headset. Please be quiet for three seconds.
    I can't hear you on any microphone. Plug one in or switch it on, and check again. Nothing was kept.
    the room's noise: -62 dBFS (0 is the loudest that can be recorded)
    Now say yes, as you do in training.
    I heard that. Once more, please, after me: yes.
    I hear you well: -30 dBFS, 31 decibels above the room; 15 or more are good.
    I hear you badly: -30 dBFS, 9 decibels above the room; 15 or more are good. Come nearer to the microphone, or make the room quieter. Then say yes again.
    I hear you badly: -30 dBFS, 9 decibels above the room; 15 or more are good. Come nearer to the microphone, or make the room quieter.
    You are too loud for the microphone: -30 dBFS, 50 decibels above the room; 15 or more are good. Move the microphone away, or turn its gain down. Then say yes again.
    I have not heard enough: -30 dBFS, 0 decibels above the room; 15 or more are good. Then say yes again.
    A soft sound comes now. Say yes when you hear it where you want it.
    Soft sounds come now, on 3 outputs. Say yes after the one you want.
    a soft sound on headset
    headset does not open: It is busy.
    You chose no output. I leave it as it is; everything stands on the screen too.
    Do only you hear this? Say yes for an earphone, miss for a loudspeaker.
    not answered; it is found out in training whether the microphone hears it
    words that may take their place: calm: meadow or pencil; calm: none known
    Now 20 words. Say each one after me.
    calm
    heard: calm
    not heard: calm (taken for "come"); once more
    not heard: calm
    not heard surely: calm
    I do not hear you any more, so I leave the other words out.
    I heard 20 of 20 words.
    I heard 18 of 20 words. Come nearer to the microphone, or make the room quieter. Turn the microphone's gain down, or move it away. That is few, at a right level: try another microphone. On a loudspeaker nudges stay silent, since the animal hears them; one earphone is better. Not heard surely: calm, as come, better meadow or pencil; calm, better willow; calm. Words are changed in the plan. Not heard surely: calm; calm; calm; calm; calm; calm. Words are changed in the plan.
    This is how I speak. Say juniper and slower, faster, louder, or quieter; miss for another voice; yes when it is right.
    This is another voice: nine of ten, step two. Say yes when it is right, miss for the next one.
    Slower, like this. Say yes when it is right.
    Microphone: headset. Say yes to keep this.
    Microphone: headset. Output: bud. The voice as it is now. Say yes to keep this.
    Microphone: headset. Output: bud, an earphone. The voice as it is now. Say yes to keep this.
    Microphone: headset. Output: box, a loudspeaker. The voice as it is now. Say yes to keep this.
    Kept. Training uses it from now on.
    Nothing was kept; all is as it was.
    It could not be kept: the disk is full
    heard, and not asked for now: two
    "#);
}
