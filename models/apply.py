"""Adds the differences that were learnt to the pinned acoustic model; nothing but Python itself is needed.

    apply.py PINNED DIFFERENCES OUT

DIFFERENCES begins with a line of JSON, a list of [offset in the model's file, count of numbers]; after it come the
differences one after another, in half precision. Each sum is rounded to single precision once, so that the same bytes
come out everywhere.
"""

import json
import operator
import struct
import sys


def applied(pinned, differences):
    head, _, numbers = differences.partition(b"\n")
    data, at = bytearray(pinned), 0
    for offset, count in json.loads(head):
        old = struct.unpack_from(f"<{count}f", data, offset)
        new = struct.unpack_from(f"<{count}e", numbers, at)
        struct.pack_into(f"<{count}f", data, offset, *map(operator.add, old, new))
        at += 2 * count
    if at != len(numbers):
        sys.exit("the differences are not whole")
    return data


if __name__ == "__main__":
    with open(sys.argv[1], "rb") as pinned, open(sys.argv[2], "rb") as differences, open(sys.argv[3], "wb") as out:
        out.write(applied(pinned.read(), differences.read()))
