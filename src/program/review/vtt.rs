//! Captions and chapters as WebVTT (W3C, WebVTT: The Web Video Text Tracks Format), so that any player can
//! show a session's reps over its film. Pure.

use std::fmt::Write;

/// A stretch of a film with its text.
#[derive(Debug, Clone, PartialEq)]
pub struct Cue {
    /// Begin in film time, in seconds.
    pub from_s: f64,
    /// End.
    pub to_s: f64,
    /// What is shown.
    pub text: String,
}

/// A whole WebVTT file. Cues that end before the film begins are left out.
pub fn file(cues: &[Cue]) -> String {
    let mut text = "WEBVTT\n".to_owned();
    let there = cues.iter().filter(|cue| cue.to_s > 0.0 && cue.to_s > cue.from_s);
    for (number, cue) in (1..).zip(there) {
        let _ = write!(
            text,
            "\n{number}\n{} --> {}\n{}\n",
            stamp(cue.from_s),
            stamp(cue.to_s),
            escaped(&cue.text)
        );
    }
    text
}

/// Chapters from the times of reps: each lasts to the next.
pub fn chapters(reps: &[(f64, String)], film_end_s: f64) -> Vec<Cue> {
    let ends = reps.iter().skip(1).map(|rep| rep.0).chain([film_end_s]);
    reps.iter()
        .zip(ends)
        .map(|((from_s, text), to_s)| Cue { from_s: *from_s, to_s, text: text.clone() })
        .collect()
}

/// `hh:mm:ss.ttt`.
fn stamp(seconds: f64) -> String {
    let millis = (seconds.max(0.0) * 1000.0).round() as u64;
    let (s, ms) = (millis / 1000, millis % 1000);
    format!("{:02}:{:02}:{:02}.{ms:03}", s / 3600, s / 60 % 60, s % 60)
}

/// Cue text has no blank line, and no `<`, `&` or `-->` that would mean something.
fn escaped(text: &str) -> String {
    let one_line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    one_line.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_as_the_standard_has_it() {
        let cues = [
            Cue { from_s: -5.0, to_s: -1.0, text: "before the film".into() },
            Cue { from_s: -0.5, to_s: 1.0, text: "cut <b>&\n\n--> it".into() },
            Cue { from_s: 3661.0015, to_s: 3662.25, text: "step 2, high".into() },
        ];
        assert_eq!(
            file(&cues),
            "WEBVTT\n\n1\n00:00:00.000 --> 00:00:01.000\ncut &lt;b&gt;&amp; --&gt; it\n\n\
             2\n01:01:01.002 --> 01:01:02.250\nstep 2, high\n"
        );
    }

    #[test]
    fn a_chapter_lasts_to_the_next() {
        let chapters = chapters(&[(1.0, "a".into()), (4.0, "b".into())], 9.0);
        assert_eq!((chapters[0].to_s, chapters[1].to_s), (4.0, 9.0));
    }
}
