//! Weights, and what was noted of the body.

use super::*;

#[test]
fn weights_are_read_in_every_unit() {
    for (text, grams) in [
        ("92", 92.0),
        ("92 g", 92.0),
        ("0,0925 kg", 92.5),
        ("3.5 oz", 99.223_330_937_5),
        ("2 lb 3 oz", 992.233_309_375),
    ] {
        approx::assert_abs_diff_eq!(parse_weight(text).unwrap(), grams, epsilon = 1e-9);
    }
    for text in ["", "heavy", "-4 g", "0 g", "5 stone", "1e9 g", "20000 kg", "NaN g", "4 g g"] {
        assert_eq!(parse_weight(text), None, "{text}");
    }
}

fn says(body: &body::Body) -> Vec<String> {
    crate::wording::Wording::english().warnings("Pepino", &body.alarms)
}

#[test]
fn a_tenth_less_than_the_baseline_stops_training() {
    // 405 g of 450 g is exactly -10 %: the alarm must fire (arithmetic; the limit: BirdChannel).
    let mut log = weighed(&[450.0; 8]);
    log.extend(weighed(&[405.0]).into_iter().map(|one| Noted { day: date(2026, 3, 1), ..one }));
    let body = read(&log, date(2026, 3, 1));
    assert_eq!(body.train, Train::NotAtAll);
    assert!(says(&body)[0].ends_with("see a veterinarian today"), "{:?}", says(&body));
    let next = next::plan(&history(vec![session(0, 2, 20, 20)]), &plan(), &body, date(2026, 3, 1));
    assert_eq!(next.train, Train::NotAtAll);
    assert_eq!(next.work.moves, Moves::Stay);
}

#[test]
fn five_percent_at_three_weighings_running_asks_for_a_veterinarian() {
    let log = weighed(&[400.0, 400.0, 400.0, 400.0, 400.0, 400.0, 379.0, 378.0, 380.0]);
    let body = read(&log, date(2026, 3, 1));
    assert_eq!(body.train, Train::Less);
    assert!(says(&body)[0].contains("three weighings running"), "{:?}", says(&body));
    let body = read(&log[..7], date(2026, 3, 1));
    assert!(says(&body)[0].contains("weigh again tomorrow"), "{:?}", says(&body));
    // Scatter of one or two percent is usual.
    assert!(read(&weighed(&[400.0, 396.0, 403.0, 394.0]), date(2026, 2, 1)).alarms.is_empty());
}

#[test]
fn a_slip_of_the_unit_is_told_and_counts_for_nothing() {
    let body = read(&weighed(&[400.0, 402.0, 399.0, 0.4, 401.0, 400_000.0]), date(2026, 2, 10));
    assert_eq!(body.latest_g, Some(401.0));
    assert_eq!(body.alarms.len(), 2);
    assert!(says(&body)[1].contains("kilograms for grams"), "{:?}", says(&body));
}

#[test]
fn told_ill_there_is_no_training_until_told_well() {
    let ill = Noted { day: date(2026, 1, 5), fact: Fact::Ill("sneezes".into()) };
    let well = Noted { day: date(2026, 1, 9), fact: Fact::Well };
    let body = read(std::slice::from_ref(&ill), date(2026, 1, 8));
    assert_eq!(body.train, Train::NotAtAll);
    assert_eq!(
        says(&body),
        [
            "noted ill on 5 January: sneezes; no training is planned until you say Pepino is well; see a veterinarian"
        ]
    );
    assert_eq!(read(&[ill, well], date(2026, 1, 9)).train, Train::AsPlanned);
}

#[test]
fn what_was_noted_of_its_health_stays_open_until_it_is_well() {
    let on = |month, day, fact| Noted { day: date(2026, month, day), fact };
    let sore = || Fact::Sore("left fore, warm".into());
    let signs = || Fact::Signs { text: "blood and limping".into(), words: vec!["blood".into()] };
    let open = |log: &[Noted], month| read(log, date(2026, month, 20)).concerns().len();
    // However long ago it was: nobody has said that it is over.
    assert_eq!(open(&[on(1, 5, sore())], 9), 1);
    assert_eq!(open(&[on(1, 5, sore()), on(1, 9, Fact::Well)], 9), 0);
    // A note that nobody answered is asked about, and is not logged by itself.
    let asked = read(&[on(1, 5, signs())], date(2026, 1, 20));
    assert_eq!((asked.concerns().len(), asked.train), (1, Train::AsPlanned));
    assert!(says(&asked)[0].starts_with("you noted blood on 5 January"), "{:?}", says(&asked));
    assert_eq!(open(&[on(1, 5, signs())], 9), 0, "not for ever");
    // "No" answers notes, and nothing else.
    assert_eq!(open(&[on(1, 5, sore()), on(1, 6, signs()), on(1, 7, Fact::NoConcern)], 1), 1);
    // Logged, it is a concern, and no question any more.
    let logged = [on(1, 5, signs()), on(1, 5, Fact::Concern("blood and limping".into()))];
    assert_eq!(open(&logged, 9), 1);
    assert_eq!(read(&logged, date(2026, 9, 20)).train, Train::NotAtAll);
}
