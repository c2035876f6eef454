//! Text to pieces that are spoken one by one: the first can sound while the next is being made, and a
//! stop between two of them costs nothing. Pure.

/// A piece without any end of sentence is cut here, in characters.
const LONGEST: usize = 400;

/// The sentences of `text`, each with its end mark, none blank.
pub(crate) fn sentences(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut current = String::new();
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        // Control characters, with line ends among them, mean a pause at most.
        current.push(if letter.is_control() { ' ' } else { letter });
        let next_is_blank = letters.peek().is_none_or(|next| next.is_whitespace());
        // "2.5 seconds" has a point inside.
        let ends = matches!(letter, '.' | '!' | '?' | ':' | ';') && next_is_blank || letter == '\n';
        let too_long = current.chars().count() >= LONGEST && letter.is_whitespace()
            || current.chars().count() >= 2 * LONGEST;
        if ends || too_long {
            keep(&mut found, &mut current);
        }
    }
    keep(&mut found, &mut current);
    found
}

fn keep(found: &mut Vec<String>, current: &mut String) {
    let sentence = current.trim();
    if sentence.chars().any(char::is_alphanumeric) {
        found.push(sentence.to_owned());
    }
    current.clear();
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn text_is_cut_at_ends_of_sentences_and_not_within_numbers() {
        let text = "Ten reps, nine rewarded: 4.5 a minute. Next time?\nAsk for two seconds";
        assert_eq!(
            sentences(text),
            ["Ten reps, nine rewarded:", "4.5 a minute.", "Next time?", "Ask for two seconds"]
        );
        assert!(sentences(" \n . - ! ").is_empty());
    }

    proptest! {
        #[test]
        fn no_word_is_lost_and_no_piece_is_endless(text in ".{0,2000}") {
            let pieces = sentences(&text);
            let letters = |s: &str| s.chars().filter(|c| c.is_alphanumeric()).collect::<String>();
            prop_assert_eq!(letters(&pieces.join(" ")), letters(&text));
            prop_assert!(pieces.iter().all(|p| p.chars().count() <= 2 * LONGEST));
        }
    }
}
