"""Passes on what `cargo test` prints; at its end names the slowest tests and adds up all results.

The test harness says when a test has ended, and not how long it took. But it starts them in the order of their names, as
many at once as it has threads, and the next one when one has ended: so the n-th began when the (n - threads)-th ended.
"""

import os
import re
import sys
import time

SHOWN = 10
ENDED = re.compile(r"test (.+?)(?: - should panic)? \.\.\. (?:ok|FAILED|ignored)")
RESULT = re.compile(r"test result: \w+\. (\d+) passed; (\d+) failed; (\d+) ignored")


def threads():
    given = re.search(r"--test-threads[= ](\d+)", " ".join(sys.argv))
    return int(given[1] if given else os.environ.get("RUST_TEST_THREADS") or len(os.sched_getaffinity(0)))


def took(start, ended, at_once):
    """Seconds and name of each test of a binary, from the moments at which they ended, as they ended."""
    moments = [start] * at_once + [moment for moment, _ in ended]
    began = dict(zip(sorted(name for _, name in ended), moments))
    return [(moment - began[name], name) for moment, name in ended]


def main():
    at_once = threads()
    start, ended, all_took, totals = time.monotonic(), [], [], []
    for line in sys.stdin:
        print(line, end="", flush=True)
        if line.startswith("running "):
            start, ended = time.monotonic(), []
        elif test := ENDED.match(line):
            ended.append((time.monotonic(), test[1]))
        elif result := RESULT.match(line):
            totals.append([int(count) for count in result.groups()])
            all_took += took(start, ended, at_once)
            ended = []
    if not totals:
        return
    print("\nThe slowest:")
    for seconds, name in sorted(all_took, reverse=True)[:SHOWN]:
        print(f"{seconds:7.1f} s  {name}")
    print("\n{} passed, {} failed, {} skipped".format(*map(sum, zip(*totals))))


main()
