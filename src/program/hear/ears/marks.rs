//! Ears that take a click or a whistle for the marker.

use super::after::Saying;
use super::{Ears, RATE};
use crate::at::At;
use crate::hear::clicks::Click;
use crate::hear::{Doubt, Heard, HeardTag};
use crate::interpret::{Details, Said};
use crate::plan::MarkerSound;

/// A sound that marked, or words that were heard: where, and as what.
#[derive(Debug, Clone)]
pub(super) struct Placed {
    from: At,
    to: At,
    words: String,
}

impl Placed {
    fn overlaps(&self, from: At, to: At) -> bool {
        self.from < to && from < self.to
    }
}

impl Ears {
    /// What a click or whistle is: the marker, or a doubt when something else was heard in the same moment.
    pub(super) fn clicked(&mut self, click: Click) -> Heard {
        let at = At::of_sample(click.onset, RATE);
        let end = At::of_sample(click.end, RATE);
        let words = name(click.sound).to_owned();
        let decided = self.now();
        if let Some(spoken) = self.spoken.as_ref().filter(|spoken| spoken.overlaps(at, end)) {
            let other = spoken.words.clone();
            return Heard::Doubt(Doubt { at, end, words, other, decided });
        }
        self.marked = Some(Placed { from: at, to: end, words: words.clone() });
        // Talk that withdraws what was said before would take this along.
        self.saying = Saying::default();
        Heard::Tags(vec![HeardTag { at, end, said: Said::Rep(Details::default()), words, decided }])
    }

    /// Keeps where words were heard. When they lie over a sound that marked, they are a doubt: the marker
    /// stands already.
    pub(super) fn beside_marks(&mut self, heard: Heard) -> Heard {
        let Heard::Tags(tags) = &heard else { return heard };
        let (Some(first), Some(last)) = (tags.first(), tags.last()) else { return heard };
        let words = tags.iter().map(|tag| tag.words.as_str()).collect::<Vec<_>>().join(" ");
        let (at, end) = (first.at, last.end);
        if let Some(marked) = self.marked.as_ref().filter(|marked| marked.overlaps(at, end)) {
            let other = marked.words.clone();
            return Heard::Doubt(Doubt { at, end, words, other, decided: self.now() });
        }
        self.spoken = Some(Placed { from: at, to: end, words });
        heard
    }
}

fn name(sound: MarkerSound) -> &'static str {
    match sound {
        MarkerSound::Clicker | MarkerSound::TongueClick => "click",
        MarkerSound::Whistle => "whistle",
    }
}
