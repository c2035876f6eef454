"""Measures hearing and prints the figures. HUSHTALLY_BENCH=full takes every recording and an hour of talk."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np

import clicks
import hard
import personal
import sets
from peers import PlainVosk, PocketSphinx, score

# What is measured beside what is used unless something else is asked for: the published model without the taught one.
BESIDE = "published_alone"
FULL = os.environ.get("HUSHTALLY_BENCH") == "full"
PLAN = Path(__file__).parent.parent.parent / "plans" / "people.toml"


def say(text):
    print(text, file=sys.stderr, flush=True)


def run(*arguments):
    command = [os.environ["HUSHTALLY"], "words", *map(str, arguments)]
    return subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout


def ours(folder, *more):
    # What this machine's user taught must make no difference.
    figures = json.loads(run("score", folder, "--json", *(more or ["--no-learnt"])))
    say(f"  {folder.name}: " + json.dumps({name: figures[name] for name in (
        "tags_expected", "right", "wrong", "missed", "unsure", "extra", "worst_word", "nothing_s", "false_tags",
        "lone_details", "doubts", "accidental_commands", "onset_error_ms", "delay_ms", "real_time_factor")}))
    weak = [f"{word['word']} {word['right']}/{word['expected']}" for word in figures["per_word"] if word["recall"] < 1]
    say("    weak words: " + ", ".join(weak[:12]))
    return figures


def make_peers(words):
    return {
        "vosk_grammar": PlainVosk(words, False),
        "vosk_grammar_unk": PlainVosk(words, True),
        "pocketsphinx": PocketSphinx(words),
    }


def theirs(folder, peers):
    scores = {}
    for name, peer in peers.items():
        scores[name] = score(folder, peer)
        say(f"    {name}: " + json.dumps(scores[name]))
    return {**scores, **beside(folder)}


def published_alone():
    """A folder from which the published model is loaded, and where the taught one does not lie beside it."""
    data = os.environ.get("HUSHTALLY_HOME") or Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local/share") / "hushtally"
    alone = sets.cache_folder() / "alone" / "en-us-small"
    alone.parent.mkdir(parents=True, exist_ok=True)
    alone.unlink(missing_ok=True)
    alone.symlink_to(Path(data) / "models" / "en-us-small")
    return alone


def beside(folder):
    say("    the same by the published model alone:")
    return {BESIDE: ours(folder, "--no-learnt", "--model", published_alone())}


def figure(name, value, unit, reach, peers=None, key=None, factor=1.0):
    if value is None:
        return
    cells = [name, f"{value * factor:.4g}", unit, reach]
    for peer, its in (peers or {}).items():
        if its.get(key) is not None:
            cells.append(f"{peer}={its[key] * factor:.4g}")
    print("\t".join(cells), flush=True)


def spread(figures, kind, part):
    return figures[kind] and figures[kind][part]


def together(list_of_figures, field):
    return sum(figures[field] for figures in list_of_figures)


def corrupted_figures(cache, shared, peers, count):
    """The same people beside other noise, in rooms, from afar, by telephone, too loud."""

    def recall(name, **how):
        folder = sets.people(cache / f"people-{name}", PLAN, shared, "report", count, **how)
        corrupted, others = ours(folder), theirs(folder, peers)
        figure(f"recall_{name}", corrupted["recall"], "%", "-", others, "recall", 100)

    recall("noise_5db", decibels=5)
    for kind in ("rain", "bird"):
        recall(f"{kind}_10db", decibels=10, noise=sets.of_kind(shared, kind))
    for name, corrupt in sets.corrupted(shared, np.random.default_rng(9)).items():
        recall(name, corrupt=corrupt)
    # None of these animals had a part in tuning.
    for name, kinds in (("among_birds", ("bird", "seagull", "peacock", "chicken", "turkey", "penguin")),
                        ("among_beasts", ("horse", "cow", "pig", "squirrel", "raccoon", "bear"))):
        around = sets.of_kind(shared, *kinds)
        folder = sets.all_the_time(cache / f"people-{name}", PLAN, shared, "report", count, around, 20)
        heard, others = ours(folder), theirs(folder, peers)
        figure(f"recall_{name}_20db", heard["recall"], "%", "-", others, "recall", 100)


def hard_figures(cache, shared, count):
    """Whispers, soft voices, and reading that must give nothing, fluent and word by word."""
    for name, made in (("whisper", hard.whisper), ("soft", hard.soft)):
        corrupt = made(np.random.default_rng(9))
        folder = sets.people(cache / f"people-{name}", PLAN, shared, "report", count, corrupt=corrupt)
        figure(f"recall_{name}", ours(folder)["recall"], "%", ">=90" if name == "whisper" else ">=95", beside(folder), "recall", 100)
    found = hard.aligned(shared, "report", PlainVosk.model())
    slow = hard.one_by_one(cache / "slow", 24 if FULL else 6, hard.readers_words(shared, found), 100, PLAN)
    for name, folder, reach in (("fluent", hard.fluent(cache / "fluent", shared, "report", plan=PLAN), "<=0.5"),
                                ("slow_reading", slow, "<=3")):
        figure(f"false_tags_{name}_per_hour", ours(folder)["false_tags_per_hour"], "1/h", reach, beside(folder),
               "false_tags_per_hour")


def others_figures(cache, shared):
    """Somebody further away says the words too: what of it is written, and what it costs the trainer."""
    say("somebody further away says the words too")
    for name, near in (("unless_told", False), ("when_told", True)):
        folder = sets.beside_others(cache / f"others-{name}", PLAN, shared, "report", near)
        heard = ours(folder)
        written = heard["false_tags"] + heard["lone_details"]
        figure(f"recall_beside_others_{name}", heard["recall"], "%", "-", factor=100)
        figure(f"others_written_{name}", written, f"of {written + heard['doubts']}", "-")


def personal_figures(cache, shared, other):
    """Sounds that were taught, and the same words without what was taught."""
    groups = {"accents": personal.accents(cache / "personal-accents", 6 if FULL else 3)}
    if shared:
        groups["digits"] = personal.digits(cache / "personal-digits", shared)
        groups["single words"] = personal.single_words(cache / "personal-words", shared)
    everyone, right, expected, false, hours = [], 0, 0, 0, 0.0
    taught = {}
    for name, people in groups.items():
        of_group = []
        for person in people:
            db = person / "record.db"
            run("learn", person / "plan.toml", "--from", person / "taught", "--db", db)
            of_group.append(ours(person / "asked", "--db", db))
            everyone.append((person, db))
        share = together(of_group, "right") / together(of_group, "tags_expected")
        say(f"  taught, {name}: {len(people)} people, {together(of_group, 'tags_expected')} words, recall {share:.3f}, "
            f"wrong {together(of_group, 'wrong')}, unsure {together(of_group, 'unsure')}")
        taught[name] = of_group
        right, expected = right + together(of_group, "right"), expected + together(of_group, "tags_expected")
        false, hours = false + together(of_group, "false_tags"), hours + together(of_group, "nothing_s") / 3600
    peers = {}
    if shared:
        # Only digits: without being taught, a name that is not a word cannot be listened for.
        alone = [ours(person / "asked") for person in groups["digits"]]
        for kind, figures in (("digits_untaught", alone), ("digits_taught", taught["digits"])):
            peers[kind] = {"recall": together(figures, "right") / together(figures, "tags_expected")}
    figure("recall_personal_sounds", right / expected, "%", ">=95", peers, "recall", 100)
    for person, db in everyone if FULL else everyone[:: max(1, len(everyone) // 3)]:
        if other:
            heard = ours(other, "--plan", person / "plan.toml", "--db", db)
            # What the recogniser alone takes for a tag is counted elsewhere.
            alone = ours(other, "--plan", person / "plan.toml", "--no-learnt")
            false += heard["false_tags"] - alone["false_tags"]
            hours += heard["nothing_s"] / 3600
    figure("personal_false_tags_per_hour", false / hours, "1/h", "<=1")
    figure("personal_nothing_hours", hours, "h", "-")


def click_figures(cache, shared, other):
    """Clicks and whistles as markers: synthesised, and sounds of the world that are none."""
    folder = clicks.synthesised(cache / "clicks", shared, 200 if FULL else 60)
    heard = ours(folder, "--no-learnt")
    for word in heard["per_word"]:
        figure(f"recall_{word['word']}", word["recall"], "%", ">=95", factor=100)
    figure("click_onset_error_ms_p95", spread(heard, "onset_error_ms", "p95"), "ms", "<=5")
    false, hours = heard["false_tags"], heard["nothing_s"] / 3600
    say(f"  clicks: false among synthesised sounds {false} in {hours:.2f} h")
    if not other:
        return

    def with_markers(sounds):
        plan = cache / "clicks.toml"
        plan.write_text(clicks.PLAN.format(", ".join(f'"{sound}"' for sound in sounds)), encoding="utf-8")
        return ours(other, "--plan", plan, "--no-learnt")

    without = with_markers([])
    for kind, sounds in (("click", clicks.CLICKS), ("whistle", clicks.WHISTLES)):
        with_it = with_markers(sounds)
        extra = with_it["false_tags"] - without["false_tags"]
        figure(f"{kind}_false_markers_per_hour", extra / (with_it["nothing_s"] / 3600), "1/h", "<=1" if kind == "click" else "-")


def main():
    cache = sets.cache_folder()
    shared = os.environ.get("HUSHTALLY_SHARED")
    shared = Path(shared) / "speech" if shared else None
    if shared and not shared.is_dir():
        shared = None
    default = sorted(set(sets.DEFAULT))
    silent = []

    if shared:
        say("people: the reporting half of the speakers (SHA-1 of the name begins with an odd digit)")
        words = sorted(set(default + sets.PEOPLE))
        peers = make_peers(words)
        count = 5000 if FULL else 300
        folder = sets.people(cache / "people", PLAN, shared, "report", count)
        clean, others = ours(folder), theirs(folder, peers)
        figure("recall_people", clean["recall"], "%", ">=98", others, "recall", 100)
        figure("recall_worst_word", clean["worst_word"][1], "%", ">=96", factor=100)
        figure("doubts_share", clean["unsure"] / clean["tags_expected"], "%", "<=3", factor=100)
        figure("decision_delay_people_ms_p95", spread(clean, "delay_ms", "p95"), "ms", "<=200", others, "delay_p95")
        for decibels, reach in ((20, ">=98"), (10, ">=95")):
            folder = sets.people(cache / f"people-{decibels}db", PLAN, shared, "report", count, decibels)
            noisy, others = ours(folder), theirs(folder, peers)
            figure(f"recall_noise_{decibels}db", noisy["recall"], "%", reach, others, "recall", 100)
            reach = "<=450" if decibels == 10 else "-"
            delay = spread(noisy, "delay_ms", "p95")
            figure(f"decision_delay_babble_{decibels}db_ms_p95", delay, "ms", reach, others, "delay_p95")
        corrupted_figures(cache, shared, {name: peers[name] for name in ("vosk_grammar",)}, 1000 if FULL else 150)
        hard_figures(cache, shared, 1000 if FULL else 150)
        others_figures(cache, shared)
    else:
        say("skipped: there are no recordings of people (HUSHTALLY_SHARED)")

    say("synthetic voices: default words and phrases")
    # One recogniser lexicon differs from another's: PocketSphinx is given what it knows.
    peers = make_peers(sorted(set(" ".join(default + sets.PHRASES).split())))
    folder = sets.synthetic(cache / "synthetic", 10_000 if FULL else 250)
    synthetic, synthetic_peers = ours(folder), theirs(folder, peers)
    figure("recall_synthetic", synthetic["recall"], "%", ">=99", synthetic_peers, "recall", 100)

    say("synthetic voices: plans whose words are all others, in speech for teaching or held out of it")
    of_words = {}
    for name, words in (("trained", hard.TRAINED), ("untrained", hard.UNTRAINED)):
        folder = hard.swapped(cache / f"{name}-words", words, 5000 if FULL else 300)
        heard, others = ours(folder), beside(folder)
        of_words[name] = heard["recall"]
        least = f">={of_words['trained'] * 100 - 1:.4g}" if name == "untrained" else "-"
        figure(f"recall_{name}_words", heard["recall"], "%", least, others, "recall", 100)

    say("sound that must give nothing")
    silent = [
        sets.synthetic_talk(cache / "talk", 60 if FULL else 10, sets.TALK),
        sets.synthetic_talk(cache / "near-talk", 10 if FULL else 4, sets.NEAR),
    ]
    if shared:
        silent.insert(0, sets.other_sound(cache / "other-sound", shared))
    heard = [ours(folder) for folder in silent]
    peers = make_peers(default)
    others = {name: {"false_tags_per_hour": 0.0, "hours": 0.0} for name in [*peers, BESIDE]}
    for folder, figures in zip(silent, heard):
        hours = figures["nothing_s"] / 3600
        for name, its in theirs(folder, peers).items():
            others[name]["false_tags_per_hour"] += its["false_tags_per_hour"] * hours
            others[name]["hours"] += hours
    others = {name: {"rate": its["false_tags_per_hour"] / its["hours"]} for name, its in others.items()}
    hours = together(heard, "nothing_s") / 3600
    figure("false_tags_per_hour", together(heard, "false_tags") / hours, "1/h", "<=0.5", others, "rate")
    figure("accidental_commands", together(heard, "accidental_commands"), "", "<=0")
    figure("nothing_hours", hours, "h", "-")
    figure("lone_details_per_hour", together(heard, "lone_details") / hours, "1/h", "-")

    other = silent[0] if shared else None
    personal_figures(cache, shared, other)
    click_figures(cache, shared, other)

    p = synthetic_peers
    figure("onset_error_ms_median", spread(synthetic, "onset_error_ms", "median"), "ms", "<=10", p, "onset_median")
    figure("onset_error_ms_p95", spread(synthetic, "onset_error_ms", "p95"), "ms", "<=30", p, "onset_p95")
    figure("decision_delay_ms_p95", spread(synthetic, "delay_ms", "p95"), "ms", "<=200", p, "delay_p95")
    talk = [f for f, folder in zip(heard, silent) if "talk" in folder.name]
    figure("real_time_factor_talk", sum(f["real_time_factor"] * f["sound_s"] for f in talk) / sum(f["sound_s"] for f in talk), "", "<=0.06")
    every = heard + [synthetic]
    worked = sum(f["real_time_factor"] * f["sound_s"] for f in every) / sum(f["sound_s"] for f in every)
    figure("real_time_factor", worked, "", "<=0.10", p, "real_time_factor")


if __name__ == "__main__":
    main()
