"""Measures the history over a million invented reps in 20,000 sessions of 200 animals, and pandas on the CSV; then the
same number of reps of 3 animals with long histories, and of 10,000 with short ones. The record is checked for each.

Every view is a fresh start of the program, as a person would have it; the time is the median of three. The
peer answers the same question from the same CSV, read again, as a spreadsheet has to be: share met by session
and step of one animal with a straight line through it, in one Python that has pandas loaded already, so that
its own start is not counted. Both see files that were just written, so that the disk's speed is no part of it.
"""

import csv
import datetime
import math
import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy
import pandas

PROGRAM = os.environ["HUSHTALLY"]
SEED = 7
ANIMALS = 200
REPS_A_SESSION = 50
FULL = 20_000
SIZES = [2_500, 5_000, 10_000, FULL]
BEHAVIOUR = "rests a foot on the nail file"
COLUMNS = ["animal", "species", "behaviour", "began", "session", "outcome", "at_s", "step", "working", "person", "place", "weight"]


def write_notes(path, sessions, animals=ANIMALS, a_day=1):
    """Sessions in turn for each animal, so many a day; every tenth day a weight."""
    dice = random.Random(SEED)
    first = datetime.datetime(2024 if a_day > 1 else 2025, 1, 1, 9)
    with open(path, "w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file)
        rows.writerow(COLUMNS)
        for number in range(sessions):
            animal, turn = number % animals, number // animals
            day = turn // a_day
            name = f"animal {animal:03}"
            began = first + datetime.timedelta(days=day, minutes=animal % 600 + 40 * (turn % a_day))
            step = 1 + min(day // 25, 4)
            chance = min(0.95, 0.4 + 0.02 * (day % 25))
            person, place = dice.choice(["Ada", "Ben"]), dice.choice(["kitchen", "garden"])
            at = 0.0
            for _ in range(REPS_A_SESSION):
                at += 1.0 + dice.expovariate(0.25)
                met = dice.random() < chance
                outcome = dice.choice(["low", "high"]) if met else "missed"
                rows.writerow([name, "cockatiel", BEHAVIOUR, began, number, outcome, f"{at:.2f}", step, step, person, place, ""])
            if day % 10 == 0:
                rows.writerow([name, "cockatiel", "", began, "", "", "", "", "", person, "", f"{dice.gauss(92, 1):.1f} g"])


def run(*arguments):
    """Seconds that a run took, and the most memory it held, in bytes."""
    began = time.perf_counter()
    process = subprocess.Popen([PROGRAM, *arguments], stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    took = time.perf_counter() - began
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        sys.exit(f"hushtally {' '.join(arguments)} failed with {process.returncode}")
    return took, usage.ru_maxrss * 1024


VIEWS = {
    "animals": ["animals"],
    "latest": ["sessions"],
    "calendar": ["sessions", "--calendar"],
    "all_sessions": ["sessions", "--from", "2025-01-01", "--json"],
    "one_session": ["session", "last"],
    "progress": ["progress", "animal 007"],
    "next": ["plan", "next", "animal 007"],
    "handover": ["handover", "animal 007"],
    "body": ["body", "animal 007"],
}


def views(database, animal="animal 007"):
    """Median seconds and most memory of each view."""
    figures = {}
    for name, arguments in VIEWS.items():
        arguments = [animal if argument == "animal 007" else argument for argument in arguments]
        runs = [run(*arguments, "--db", str(database)) for _ in range(3)]
        figures[name] = (statistics.median(took for took, _ in runs), max(memory for _, memory in runs))
    return figures


def peer(notes):
    """The same question asked of the CSV: share met by session and step of one animal, with its slope."""
    began = time.perf_counter()
    table = pandas.read_csv(notes, low_memory=False)
    one = table[(table["animal"] == "animal 007") & table["outcome"].notna()].copy()
    one["met"] = (one["outcome"] != "missed") & (one["step"] >= one["working"])
    levels = one.groupby(["working", "session", "began"])["met"].mean().reset_index()
    levels["day"] = pandas.to_datetime(levels["began"]).astype("int64") / 86_400e9
    slopes = {step: numpy.polyfit(part["day"], part["met"], 1)[0] for step, part in levels.groupby("working") if len(part) > 1}
    took = time.perf_counter() - began
    if not slopes:
        sys.exit("the peer found no slope")
    return took


def peer_memory(notes):
    """Most memory of a Python that does nothing but answer the peer's question, in bytes."""
    reading = f"import pandas; t = pandas.read_csv({str(notes)!r}, low_memory=False); t.groupby('animal').size()"
    process = subprocess.Popen([sys.executable, "-c", reading])
    _, _, usage = os.wait4(process.pid, 0)
    return usage.ru_maxrss * 1024


def exponent(sizes, times):
    """The slope on logarithmic scales: 1 is linear."""
    return float(numpy.polyfit(numpy.log(sizes), numpy.log(times), 1)[0])


def other_shape(folder, animals, a_day):
    """Seconds of the import, of the slowest view, and of a check of the record; the slowest view's name."""
    notes, database = Path(folder, f"{animals}.csv"), Path(folder, f"{animals}.db")
    write_notes(notes, FULL, animals, a_day)
    import_s, _ = run("import", str(notes), "--zone", "UTC", "--db", str(database))
    shown = views(database, "animal 001")
    slowest = max(shown, key=lambda name: shown[name][0])
    verify_s = statistics.median(run("verify", "--db", str(database))[0] for _ in range(3))
    for name, (took, memory) in shown.items():
        print(f"  {animals} animals: {name} {took:.3f} s, {memory / 1e6:.0f} MB", file=sys.stderr)
    print(f"{animals} animals: import {import_s:.2f} s, verify {verify_s:.2f} s, slowest {slowest}", file=sys.stderr)
    notes.unlink()
    database.unlink()
    return import_s, shown[slowest][0], verify_s


def main():
    curve = []
    with tempfile.TemporaryDirectory() as folder:
        for sessions in SIZES:
            notes, database = Path(folder, f"{sessions}.csv"), Path(folder, f"{sessions}.db")
            write_notes(notes, sessions)
            import_s, import_memory = run("import", str(notes), "--zone", "UTC", "--db", str(database))
            shown = views(database)
            slowest = max(shown, key=lambda name: shown[name][0])
            print(f"{sessions * REPS_A_SESSION} reps: import {import_s:.2f} s, slowest view {slowest} {shown[slowest][0]:.3f} s", file=sys.stderr)
            for name, (took, memory) in shown.items():
                print(f"  {name} {took:.3f} s, {memory / 1e6:.0f} MB", file=sys.stderr)
            curve.append((sessions, import_s, import_memory, shown))
            if sessions == FULL:
                peer_s = statistics.median(peer(notes) for _ in range(3))
                peer_bytes = peer_memory(notes)
                verify_s = statistics.median(run("verify", "--db", str(database))[0] for _ in range(3))
            notes.unlink()
            database.unlink()
        few_import_s, few_view_s, few_verify_s = other_shape(folder, 3, 8)
        many_import_s, many_view_s, many_verify_s = other_shape(folder, FULL // 2, 1)
    _, import_s, import_memory, shown = curve[-1]
    sizes = [sessions for sessions, *_ in curve]
    slowest = max(took for took, _ in shown.values())
    memory = max(memory for _, memory in shown.values())
    progress = shown["progress"][0]
    lines = [
        ("slowest_view_s", slowest, "s", "<=0.3", f"pandas={peer_s:.3f}"),
        ("progress_view_s", progress, "s", "<=0.3", f"pandas={peer_s:.3f}"),
        ("slowest_view_few_animals_s", few_view_s, "s", "<=0.3", ""),
        ("slowest_view_many_animals_s", many_view_s, "s", "<=0.3", ""),
        ("import_million_s", import_s, "s", "<=20", ""),
        ("import_million_other_shapes_s", max(few_import_s, many_import_s), "s", "<=20", ""),
        ("verify_s", max(verify_s, few_verify_s, many_verify_s), "s", "<=10", ""),
        ("memory_mb", max(memory, import_memory) / 1e6, "MB", "<=300", f"pandas={peer_bytes / 1e6:.0f}"),
        ("view_memory_mb", memory / 1e6, "MB", "<=300", f"pandas={peer_bytes / 1e6:.0f}"),
        ("growth_exponent", exponent(sizes, [took for _, took, *_ in curve]), "", "<=1.15", ""),
        ("view_growth_exponent", exponent(sizes, [max(t for t, _ in views.values()) for *_, views in curve]), "", "<=1.15", ""),
    ]
    for name, value, unit, reach, other in lines:
        if not math.isfinite(value):
            sys.exit(f"{name} is {value}")
        print("\t".join(filter(None, [name, f"{value:.4g}", unit or "-", reach, other])))


main()
