//! Text in columns of a terminal: some letters are two columns wide, others, such as accents of their own, none.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// How many columns a text takes.
pub(crate) fn width(text: &str) -> usize {
    text.width()
}

/// The text with as many spaces after it as it lacks columns.
pub(crate) fn padded(text: &str, columns: usize) -> String {
    format!("{text}{}", " ".repeat(columns.saturating_sub(width(text))))
}

/// As much of the beginning of a text as has room in so many columns.
pub(crate) fn cut(text: &str, columns: usize) -> &str {
    let mut taken = 0;
    let too_far = text.char_indices().find(|(_, letter)| {
        taken += letter.width().unwrap_or(0);
        taken > columns
    });
    too_far.map_or(text, |(place, _)| &text[..place])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Unicode Standard Annex 11, East Asian Width: ideographs are wide, combining marks take no column.
    #[test]
    fn wide_letters_take_two_columns_and_accents_none() {
        assert_eq!(["juniper", "犬の名", "Zoe\u{308}"].map(width), [7, 6, 3]);
        assert_eq!(padded("犬の名", 8), "犬の名  ");
        assert_eq!(padded("Zoe\u{308}", 2), "Zoe\u{308}");
        assert_eq!([cut("犬の名", 5), cut("犬の名", 6), cut("ab", 1)], ["犬の", "犬の名", "a"]);
        assert_eq!(cut("Zoe\u{308}!", 3), "Zoe\u{308}");
    }
}
