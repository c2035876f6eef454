//! A person's name, found wherever it stands as a word of its own: in any spelling that Unicode holds for the same
//! (compatibility caseless matching, The Unicode Standard, section 3.13, D146), and nowhere inside another word.

use caseless::Caseless;
use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::canonical_combining_class;

/// Stands where a name stood.
pub(super) const GONE: &str = "(forgotten)";

/// A name that is looked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Name {
    folded: String,
}

impl Name {
    /// The name as typed; `None` when there is no letter or digit in it, so that it would be found everywhere.
    pub fn new(typed: &str) -> Option<Self> {
        let folded = Folded::of(typed.trim()).text;
        folded.contains(char::is_alphanumeric).then_some(Name { folded })
    }

    /// Whether a text is this name and nothing else.
    pub fn is(&self, text: &str) -> bool {
        Folded::of(text.trim()).text == self.folded
    }

    /// Whether the name stands somewhere in a text.
    pub fn is_in(&self, text: &str) -> bool {
        !self.surely_not_in(text) && self.without(text, GONE).is_some()
    }

    /// The text with `gone` wherever the name stood; `None` when it stands nowhere.
    pub(super) fn without(&self, text: &str, gone: &str) -> Option<String> {
        let folded = Folded::of(text);
        let mut clean = String::new();
        let (mut from, mut searched) = (0, 0);
        while let Some(found) = folded.text[searched..].find(&self.folded) {
            let (start, end) = (searched + found, searched + found + self.folded.len());
            let places = folded.original(start).zip(folded.original(end));
            if let Some((start, end)) = places.filter(|(start, end)| own_word(text, *start, *end)) {
                clean.push_str(&text[from..start]);
                clean.push_str(gone);
                from = end;
                searched += found + self.folded.len();
            } else {
                let next = folded.text[start..].chars().next().map_or(1, char::len_utf8);
                searched = start + next;
            }
        }
        (from > 0).then(|| clean + &text[from..])
    }

    /// A quick look that spares most texts the careful one.
    pub(super) fn surely_not_in(&self, text: &str) -> bool {
        let sought = self.folded.as_bytes();
        text.is_ascii()
            && (!self.folded.is_ascii()
                // White space may be another run of it.
                || !sought.contains(&b' ')
                    && !text.as_bytes().windows(sought.len()).any(|w| w.eq_ignore_ascii_case(sought)))
    }
}

/// A text as it is compared, and where each piece of it comes from.
struct Folded {
    text: String,
    /// Places in the folded text where a piece begins, and where that piece begins in the original; the ends last.
    pieces: Vec<(usize, usize)>,
}

impl Folded {
    /// Piece by piece: a character with the marks that follow it, or a run of white space.
    fn of(original: &str) -> Self {
        let mut folded = Folded { text: String::new(), pieces: Vec::new() };
        let mut chars = original.char_indices().peekable();
        while let Some((start, first)) = chars.next() {
            folded.pieces.push((folded.text.len(), start));
            let mut end = start + first.len_utf8();
            let belongs = |next: char| {
                if first.is_whitespace() {
                    next.is_whitespace()
                } else {
                    canonical_combining_class(next) != 0
                }
            };
            while let Some((at, next)) = chars.next_if(|(_, next)| belongs(*next)) {
                end = at + next.len_utf8();
            }
            if first.is_whitespace() {
                folded.text.push(' ');
            } else {
                let piece = original[start..end].chars();
                folded
                    .text
                    .extend(piece.nfd().default_case_fold().nfkd().default_case_fold().nfkd());
            }
        }
        folded.pieces.push((folded.text.len(), original.len()));
        folded
    }

    /// Where a place of the folded text is in the original; `None` inside a piece.
    fn original(&self, place: usize) -> Option<usize> {
        // A piece that folds to nothing begins where the next one does: the last of them is the edge.
        let index = self.pieces.partition_point(|(folded, _)| *folded <= place).checked_sub(1)?;
        let (folded, original) = self.pieces[index];
        (folded == place).then_some(original)
    }
}

/// Whether what stands from `start` to `end` is not the middle of a longer word.
fn own_word(text: &str, start: usize, end: usize) -> bool {
    let joined = |one: Option<char>, other: Option<char>| match (one, other) {
        (Some(one), Some(other)) => {
            one.is_alphanumeric() && other.is_alphanumeric() && !unspaced(one) && !unspaced(other)
        }
        _ => false,
    };
    let (before, name, after) = (&text[..start], &text[start..end], &text[end..]);
    !joined(before.chars().next_back(), name.chars().next())
        && !joined(name.chars().next_back(), after.chars().next())
}

/// Scripts that put no space between words: there, any edge may be one. By their Unicode blocks.
fn unspaced(c: char) -> bool {
    matches!(c,
        '\u{e00}'..='\u{eff}' | '\u{1000}'..='\u{109f}' | '\u{1780}'..='\u{17ff}'
        | '\u{3040}'..='\u{30ff}' | '\u{3400}'..='\u{9fff}' | '\u{f900}'..='\u{faff}'
        | '\u{20000}'..='\u{3ffff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gone(name: &str, text: &str) -> Option<String> {
        Name::new(name).unwrap().without(text, GONE)
    }

    #[test]
    fn a_name_goes_where_it_stands_as_a_word() {
        let expected = "with (forgotten), and (forgotten)'s towel";
        assert_eq!(gone("Ada", "with ada, and ADA's towel").as_deref(), Some(expected));
        assert_eq!(gone("Ada", "Canada, adapted, adaada"), None);
        assert_eq!(gone("Ada", "Ünïcode Ada é").as_deref(), Some("Ünïcode (forgotten) é"));
        assert_eq!(gone("Ada", "ada_plan.toml").as_deref(), Some("(forgotten)_plan.toml"));
        assert_eq!(gone("Ada Bo", "with Ada\n  BO").as_deref(), Some("with (forgotten)"));
        assert_eq!(gone("S", "is S. so"), Some("is (forgotten). so".into()));
        assert_eq!(gone("王", "王先生").as_deref(), Some("(forgotten)先生"));
        assert_eq!(gone("aa", "aaa aa"), Some("aaa (forgotten)".into()));
        for nothing in ["", "  ", "-", "…"] {
            assert_eq!(Name::new(nothing), None);
        }
    }

    /// The Unicode Standard, section 3.13 (full case folding, CaseFolding.txt: ß folds to ss, final sigma to sigma) and
    /// Annex 15 (a letter with its mark, whole or in two).
    #[test]
    fn a_name_goes_in_every_spelling_of_it() {
        for (name, text) in [
            ("Zoë", "ZOË"),
            ("Zoë", "Zoe\u{308}"),
            ("ZOE\u{308}", "zoë"),
            ("Strauß", "STRAUSS"),
            ("ΣΙΣΥΦΟΣ", "Σίσυφος".replace('ί', "ι").as_str()),
            ("Ada", "Ａｄａ"),
            ("Åsa", "A\u{30a}SA"),
            ("Nguyễn", "NGUYE\u{302}\u{303}N"),
        ] {
            assert_eq!(gone(name, text).as_deref(), Some(GONE), "{name} in {text}");
            assert!(Name::new(name).unwrap().is(text) && Name::new(text).unwrap().is_in(name));
        }
        // Another letter is another name.
        assert_eq!(gone("Zoe", "Zoë"), None);
        assert_eq!(gone("Zoë", "Zoe"), None);
    }

    #[test]
    fn the_quick_look_never_says_no_too_early() {
        for (name, text) in
            [("Ada", "with ADA"), ("Ada Bo", "ada  bo"), ("K", "\u{212a}"), ("\u{212a}", "k")]
        {
            let name = Name::new(name).unwrap();
            assert!(!name.surely_not_in(text) && name.is_in(text), "{name:?} in {text}");
        }
        assert!(Name::new("Ada").unwrap().surely_not_in("Bo"));
    }
}
