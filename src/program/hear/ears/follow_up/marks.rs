//! A click or a whistle for the marker, and words in the same moment: one of them stands, the other is uncertain. Pure.

use crate::at::At;
use crate::audio::RATE;
use crate::hear::clicks::Click;
use crate::hear::{Doubt, Heard, HeardTag};
use crate::interpret::{Details, OtherReading, Said};
use crate::plan::MarkerSound;

/// A sound that marked, or words that were heard: where, and as what.
#[derive(Debug, Clone)]
struct Placed {
    from: At,
    to: At,
    words: String,
}

impl Placed {
    fn overlaps(&self, from: At, to: At) -> bool {
        self.from < to && from < self.to
    }
}

/// The latest sound that marked, and the latest words.
#[derive(Debug, Clone, Default)]
pub(super) struct Marks {
    marked: Option<Placed>,
    spoken: Option<Placed>,
}

impl Marks {
    /// What a click or whistle is: the marker, or uncertain when words were heard in the same moment.
    pub(super) fn clicked(&mut self, click: Click, decided: At) -> Heard {
        let at = At::of_sample(click.onset, RATE);
        let end = At::of_sample(click.end, RATE);
        let words = name(click.sound).to_owned();
        if let Some(spoken) = self.spoken.as_ref().filter(|spoken| spoken.overlaps(at, end)) {
            let other = OtherReading::Read(spoken.words.clone());
            return Heard::Doubt(Doubt { at, end, words, other, decided });
        }
        self.marked = Some(Placed { from: at, to: end, words: words.clone() });
        Heard::Tags(vec![HeardTag { at, end, said: Said::Rep(Details::default()), words, decided }])
    }

    /// What tags are that were said: themselves, or uncertain when they lie over a sound that marked, for the marker
    /// stands already.
    pub(super) fn said(&mut self, tags: Vec<HeardTag>, decided: At) -> Heard {
        let (Some(first), Some(last)) = (tags.first(), tags.last()) else {
            return Heard::Tags(tags);
        };
        let words = tags.iter().map(|tag| tag.words.as_str()).collect::<Vec<_>>().join(" ");
        let (at, end) = (first.at, last.end);
        if let Some(marked) = self.marked.as_ref().filter(|marked| marked.overlaps(at, end)) {
            let other = OtherReading::Read(marked.words.clone());
            return Heard::Doubt(Doubt { at, end, words, other, decided });
        }
        self.spoken = Some(Placed { from: at, to: end, words });
        Heard::Tags(tags)
    }
}

fn name(sound: MarkerSound) -> &'static str {
    match sound {
        MarkerSound::Clicker | MarkerSound::TongueClick => "click",
        MarkerSound::Whistle => "whistle",
    }
}
