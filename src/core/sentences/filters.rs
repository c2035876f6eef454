//! How numbers and units are said.

use jiff::civil::Date;
use minijinja::{Environment, Value};

/// Makes them known to the templates.
pub(super) fn add_to(templates: &mut Environment<'static>) {
    templates.add_filter("count", count);
    templates.add_filter("span", span);
    templates.add_filter("tidy", tidy);
    templates.add_filter("percent", percent);
    templates.add_filter("seconds", seconds);
    templates.add_filter("grams", grams);
    templates.add_filter("fixed", |number: f64, digits: Option<usize>| {
        format!("{number:.*}", digits.unwrap_or(1))
    });
    templates.add_filter("pieces", pieces);
    templates.add_filter("signed", |number: f64| format!("{number:+.1}"));
    templates.add_filter("date", date);
    templates.add_filter("since", since);
    templates.add_filter("listed", listed);
}

/// `3 | count("rep")` is "3 reps"; a second word is the plural when an s is not enough.
pub fn count(number: u64, one: &str, many: Option<String>) -> String {
    match number {
        1 => format!("1 {one}"),
        _ => format!("{number} {}", many.unwrap_or_else(|| format!("{one}s"))),
    }
}

/// Seconds as "40 seconds", "2 minutes" or "2 minutes 10 seconds", to the nearest five seconds past a minute.
pub fn span(seconds: f64) -> String {
    let whole = if seconds < 59.5 { seconds.round() } else { (seconds / 5.0).round() * 5.0 } as u64;
    match (whole / 60, whole % 60) {
        (0, s) => count(s, "second", None),
        (m, 0) => count(m, "minute", None),
        (m, s) => format!("{} {}", count(m, "minute", None), count(s, "second", None)),
    }
}

/// A number as one would say it: one decimal below ten unless that is zero, none above.
fn tidy(number: f64) -> String {
    if number.abs() >= 9.95 {
        return format!("{number:.0}");
    }
    let short = format!("{number:.1}");
    short.strip_suffix(".0").map_or(short.clone(), str::to_owned)
}

/// Percent as one would say it: whole, one decimal only below one.
fn percent(number: f64) -> String {
    if number.abs() < 0.95 { format!("{number:.1}") } else { format!("{number:.0}") }
}

/// "1 second", "2.5 seconds".
fn seconds(seconds: f64) -> String {
    unit(&tidy(seconds), "second")
}

/// "92.5 grams"; from a kilogram on "1.2 kilograms".
fn grams(grams: f64) -> String {
    let [number, name] = if grams < 1000.0 {
        [format!("{grams:.1}"), "gram".to_owned()]
    } else {
        [format!("{:.2}", grams / 1000.0), "kilogram".to_owned()]
    };
    let number = number.trim_end_matches('0').trim_end_matches('.');
    unit(number, &name)
}

/// "a fresh sunflower heart" as "8 fresh sunflower hearts" or "1 fresh sunflower heart", "sunflower hearts" as "4 sunflower
/// hearts", and what is not counted in ones, "millet", as "3 pieces of millet". English.
fn pieces(what: &str, number: u64) -> String {
    let one = ["a ", "an ", "one "].iter().find_map(|article| what.strip_prefix(article));
    // What is counted ends where something is said of it: "slice of carrot", "pea (frozen)".
    let named = one.unwrap_or(what);
    let ends = [" of ", " with ", " from ", " in ", " (", ","];
    let end = ends.iter().filter_map(|sign| named.find(sign)).min().unwrap_or(named.len());
    let (head, rest) = named.split_at(end);
    match (one, number) {
        (Some(one), 1) => format!("1 {one}"),
        (Some(_), _) => format!("{number} {}{rest}", plural(head)),
        (None, 1) if is_plural(head) => format!("1 piece of {what}"),
        (None, _) if is_plural(head) => format!("{number} {what}"),
        (None, _) => format!("{} of {what}", count(number, "piece", None)),
    }
}

fn is_plural(head: &str) -> bool {
    head.ends_with('s') && !head.ends_with("ss")
}

fn plural(one: &str) -> String {
    let before_y = one.strip_suffix('y').filter(|stem| !stem.ends_with(['a', 'e', 'i', 'o', 'u']));
    match before_y {
        Some(stem) => format!("{stem}ies"),
        None if ["s", "x", "z", "ch", "sh"].iter().any(|end| one.ends_with(end)) => {
            format!("{one}es")
        }
        None if one.ends_with("leaf") || one.ends_with("half") => {
            format!("{}ves", &one[..one.len() - 1])
        }
        None => format!("{one}s"),
    }
}

/// "2026-03-05" as "5 March 2026"; what is not a date stays as it is.
fn date(day: &str) -> String {
    day.parse::<Date>().map_or_else(|_| day.to_owned(), |day| day.strftime("%-d %B %Y").to_string())
}

/// "today", "yesterday", "on 5 March", with its year when that is long ago. Of what has `day` and `days_ago`.
fn since(of: &Value) -> String {
    let field = |name| of.get_attr(name).unwrap_or_default();
    let day = field("day").to_string();
    match i64::try_from(field("days_ago")).unwrap_or(i64::MAX) {
        i64::MIN..=0 => "today".to_owned(),
        1 => "yesterday".to_owned(),
        // Within this time the day and the month name one day.
        2..300 => day.parse::<Date>().map_or(day, |day| format!("on {}", day.strftime("%-d %B"))),
        _ => format!("on {}", date(&day)),
    }
}

/// "blood", "blood and limping", "blood, limping and sneezes".
fn listed(words: Vec<String>) -> String {
    match words.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => words.concat(),
    }
}

fn unit(number: &str, name: &str) -> String {
    if number == "1" { format!("1 {name}") } else { format!("{number} {name}s") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn singular_plural_and_rounding() {
        let spans = [0.4, 1.0, 59.4, 59.6, 61.0, 130.0, 3600.0].map(span);
        let expected = [
            "0 seconds",
            "1 second",
            "59 seconds",
            "1 minute",
            "1 minute",
            "2 minutes 10 seconds",
            "60 minutes",
        ];
        assert_eq!(spans, expected);
        assert_eq!(
            [0.04, 1.0, 7.04, 9.94, 9.96, 11.5].map(tidy),
            ["0", "1", "7", "9.9", "10", "12"]
        );
        assert_eq!(
            [1.0, 92.5, 100.0, 999.0, 1200.0, 160_000.0].map(grams),
            ["1 gram", "92.5 grams", "100 grams", "999 grams", "1.2 kilograms", "160 kilograms"]
        );
        let listed = |words: &[&str]| listed(words.iter().map(|word| (*word).into()).collect());
        assert_eq!(
            [listed(&[]), listed(&["blood"]), listed(&["blood", "a limp", "mites"])],
            ["", "blood", "blood, a limp and mites"]
        );
        assert_eq!([1.0, 1.26].map(seconds), ["1 second", "1.3 seconds"]);
        let treats = [
            ("a fresh sunflower heart", 8),
            ("a fresh sunflower heart", 1),
            ("sunflower hearts", 4),
            ("a slice of carrot", 3),
            ("a berry", 2),
            ("a pea (frozen)", 5),
            ("millet", 3),
            ("grass", 1),
        ];
        assert_eq!(
            treats.map(|(what, number)| pieces(what, number)),
            [
                "8 fresh sunflower hearts",
                "1 fresh sunflower heart",
                "4 sunflower hearts",
                "3 slices of carrot",
                "2 berries",
                "5 peas (frozen)",
                "3 pieces of millet",
                "1 piece of grass",
            ]
        );
    }
}
