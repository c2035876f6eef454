"""How long the slowest page takes with a million reps in the record (REVIEW_REPS sets another number)."""

import json
import os
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
import uuid
from hashlib import sha256
from pathlib import Path

REPS = int(os.environ.get("REVIEW_REPS", "1000000"))
A_SESSION = 20
PLAN = """animal = "Animal {n}"
species = "cockatiel"
behaviour = "rests a foot on the nail file"
[[step]]
name = "looks at the file"
[[step]]
name = "touches the file"
"""
BEGAN = 1_600_000_000_000_000


def event(kind, **more):
    return json.dumps({"event": kind, **more})


def fill(path):
    """Writes sessions straight into the log, as the program would have."""
    base = sqlite3.connect(path)
    base.execute("PRAGMA synchronous = OFF")
    number = 0

    def key(moment_us):
        nonlocal number
        number += 1
        high = (moment_us // 1000) << 80 | 0x7000 << 64 | 0x8000 << 48 | number
        return uuid.UUID(int=high).bytes

    animals = 50
    for animal in range(1, animals + 1):
        text = PLAN.format(n=animal)
        base.execute("INSERT INTO animal (no, id, name, species) VALUES (?, ?, ?, 'cockatiel')", (animal, key(BEGAN), f"Animal {animal}"))
        base.execute("INSERT INTO animal_name VALUES (?, ?, ?)", (animal, f"Animal {animal}", BEGAN))
        base.execute("INSERT INTO plan_version VALUES (?, ?, 'rests a foot on the nail file', 'a.toml', ?, ?, ?)",
                     (animal, animal, text, sha256(text.encode()).digest(), BEGAN))
    rep = event("tagged", said={"kind": "rep"}, words="yes")
    miss = event("tagged", said={"kind": "miss"}, words="miss")
    for session in range(1, REPS // A_SESSION + 1):
        began = BEGAN + session * 3_600_000_000
        day = time.strftime("%Y-%m-%d", time.gmtime(began / 1e6))
        animal = session % animals + 1
        base.execute("INSERT INTO session VALUES (?, ?, ?, ?, 'rests a foot on the nail file', 1, NULL, NULL, ?, 'UTC', 0, ?, 'simulated', NULL, 'bench')",
                     (session, key(began), animal, animal, began, day))
        rows = [(session, 0, key(began), 2_000_000_000, began, "began", event("began", step=1))]
        for n in range(A_SESSION):
            at = 2_000_000_000 + n * 6_000_000_000
            body = miss if (n + session) % 6 == 0 else rep
            rows.append((session, n + 1, key(began), at, began + at // 1000, "tagged", body))
        rows.append((session, A_SESSION + 1, key(began), at + 5_000_000_000, began + at // 1000, "finished", event("finished", why="said")))
        base.executemany("INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?)", rows)
    base.commit()
    session_id, animal_id = (uuid.UUID(bytes=base.execute(f"SELECT id FROM {table} ORDER BY no DESC LIMIT 1").fetchone()[0])
                             for table in ("session", "animal"))
    base.close()
    return session_id, animal_id


def main():
    program = os.environ["HUSHTALLY"]
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "record.db"
        # Notes without a line make an empty record.
        notes = Path(name) / "notes.csv"
        notes.write_text("animal,began\n")
        subprocess.run([program, "import", notes, "--db", path], stdin=subprocess.DEVNULL, capture_output=True, check=True)
        session, animal = fill(path)
        review = subprocess.Popen([program, "review", "--no-open", "--db", path], stdout=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True)
        try:
            address = review.stdout.readline().removeprefix("Review: ").strip()

            def took(page):
                begin = time.perf_counter()
                with urllib.request.urlopen(address + page, timeout=900) as answer:
                    answer.read()
                return time.perf_counter() - begin

            print(f"first page, which reads {REPS} reps into the views once: {took(''):.1f} s", file=sys.stderr)
            pages = ["", "?more=5", f"session/{session}", f"session/{session}/report.html", f"animal/{animal}", f"animal/{animal}/card",
                     f"animal/{animal}/report.html"]
            times = {page: statistics.median(took(page) for _ in range(5)) for page in pages}
        finally:
            review.kill()
            review.wait()
    for page, seconds in times.items():
        print(f"{seconds:.3f} s  /{page}", file=sys.stderr)
    print(f"slowest_page_s\t{max(times.values()):.3f}\ts\t<=0.2")
    print(f"slowest_page_reps\t{REPS}\treps\t-")


main()
