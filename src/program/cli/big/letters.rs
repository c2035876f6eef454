//! Large letters made of blocks. Pure.

/// Rows of a letter.
pub(super) const HEIGHT: usize = 5;
/// Columns of a letter, without the gap after it.
const WIDTH: usize = 5;
/// Columns between two letters.
const GAP: usize = 1;

/// A letter in five rows of five; the highest of five bits stands left.
const LETTERS: [(char, [u8; HEIGHT]); 42] = [
    ('A', [0b01110, 0b10001, 0b11111, 0b10001, 0b10001]),
    ('B', [0b11110, 0b10001, 0b11110, 0b10001, 0b11110]),
    ('C', [0b01111, 0b10000, 0b10000, 0b10000, 0b01111]),
    ('D', [0b11110, 0b10001, 0b10001, 0b10001, 0b11110]),
    ('E', [0b11111, 0b10000, 0b11110, 0b10000, 0b11111]),
    ('F', [0b11111, 0b10000, 0b11110, 0b10000, 0b10000]),
    ('G', [0b01111, 0b10000, 0b10011, 0b10001, 0b01111]),
    ('H', [0b10001, 0b10001, 0b11111, 0b10001, 0b10001]),
    ('I', [0b11111, 0b00100, 0b00100, 0b00100, 0b11111]),
    ('J', [0b00111, 0b00001, 0b00001, 0b10001, 0b01110]),
    ('K', [0b10001, 0b10010, 0b11100, 0b10010, 0b10001]),
    ('L', [0b10000, 0b10000, 0b10000, 0b10000, 0b11111]),
    ('M', [0b10001, 0b11011, 0b10101, 0b10001, 0b10001]),
    ('N', [0b10001, 0b11001, 0b10101, 0b10011, 0b10001]),
    ('O', [0b01110, 0b10001, 0b10001, 0b10001, 0b01110]),
    ('P', [0b11110, 0b10001, 0b11110, 0b10000, 0b10000]),
    ('Q', [0b01110, 0b10001, 0b10101, 0b10010, 0b01101]),
    ('R', [0b11110, 0b10001, 0b11110, 0b10010, 0b10001]),
    ('S', [0b01111, 0b10000, 0b01110, 0b00001, 0b11110]),
    ('T', [0b11111, 0b00100, 0b00100, 0b00100, 0b00100]),
    ('U', [0b10001, 0b10001, 0b10001, 0b10001, 0b01110]),
    ('V', [0b10001, 0b10001, 0b10001, 0b01010, 0b00100]),
    ('W', [0b10001, 0b10001, 0b10101, 0b10101, 0b01010]),
    ('X', [0b10001, 0b01010, 0b00100, 0b01010, 0b10001]),
    ('Y', [0b10001, 0b01010, 0b00100, 0b00100, 0b00100]),
    ('Z', [0b11111, 0b00010, 0b00100, 0b01000, 0b11111]),
    ('0', [0b01110, 0b10011, 0b10101, 0b11001, 0b01110]),
    ('1', [0b00100, 0b01100, 0b00100, 0b00100, 0b01110]),
    ('2', [0b11110, 0b00001, 0b01110, 0b10000, 0b11111]),
    ('3', [0b11110, 0b00001, 0b01110, 0b00001, 0b11110]),
    ('4', [0b10010, 0b10010, 0b11111, 0b00010, 0b00010]),
    ('5', [0b11111, 0b10000, 0b11110, 0b00001, 0b11110]),
    ('6', [0b01110, 0b10000, 0b11110, 0b10001, 0b01110]),
    ('7', [0b11111, 0b00001, 0b00010, 0b00100, 0b00100]),
    ('8', [0b01110, 0b10001, 0b01110, 0b10001, 0b01110]),
    ('9', [0b01110, 0b10001, 0b01111, 0b00001, 0b01110]),
    (' ', [0; HEIGHT]),
    ('.', [0b00000, 0b00000, 0b00000, 0b01100, 0b01100]),
    (':', [0b00000, 0b00100, 0b00000, 0b00100, 0b00000]),
    ('-', [0b00000, 0b00000, 0b01110, 0b00000, 0b00000]),
    ('\'', [0b00100, 0b00100, 0b00000, 0b00000, 0b00000]),
    ('?', [0b11110, 0b00001, 0b00110, 0b00000, 0b00100]),
];

/// A text in large letters, each block `scale` columns wide and high: its rows. `None` when a letter is missing or
/// it would be wider than `columns`.
pub(super) fn large(text: &str, scale: usize, columns: usize) -> Option<Vec<String>> {
    let letters: Vec<[u8; HEIGHT]> = text
        .chars()
        .map(|letter| {
            let known = LETTERS.iter().find(|(known, _)| *known == letter.to_ascii_uppercase());
            known.map(|(_, rows)| *rows)
        })
        .collect::<Option<_>>()?;
    if letters.is_empty() || letters.len() * (WIDTH + GAP) * scale > columns {
        return None;
    }
    let row = |row: usize| {
        let mut line = String::new();
        for letter in &letters {
            for column in 0..WIDTH {
                let set = letter[row] >> (WIDTH - 1 - column) & 1 == 1;
                line.extend(std::iter::repeat_n(if set { '█' } else { ' ' }, scale));
            }
            line.extend(std::iter::repeat_n(' ', GAP * scale));
        }
        line.trim_end().to_owned()
    };
    Some((0..HEIGHT).flat_map(|index| std::iter::repeat_n(row(index), scale)).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_in_blocks() {
        insta::assert_snapshot!(large("yes 2", 1, 80).unwrap().join("\n"), @r"
        █   █ █████  ████       ████
         █ █  █     █               █
          █   ████   ███         ███
          █   █         █       █
          █   █████ ████        █████
        ");
    }

    #[test]
    fn what_does_not_fit_or_has_no_letter_is_left_to_plain_text() {
        assert_eq!(large("end soon", 1, 47), None);
        assert_eq!(large("end soon", 1, 48).unwrap().len(), HEIGHT);
        assert_eq!(large("end soon", 2, 96).unwrap().len(), 2 * HEIGHT);
        assert_eq!(large("größe", 1, 200), None);
        assert_eq!(large("", 1, 80), None);
    }

    #[test]
    fn no_two_letters_look_alike() {
        for (index, (one, rows)) in LETTERS.iter().enumerate() {
            for (other, others) in &LETTERS[index + 1..] {
                assert_ne!(one, other);
                assert_ne!(rows, others, "{one} and {other}");
            }
        }
    }
}
