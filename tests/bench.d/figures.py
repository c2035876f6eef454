"""Turns the figures that an area prints into a table or a JSON object. See tests/bench --help for the lines."""

import json
import math
import re
import sys


class BadLine(Exception):
    """A line that is no figure."""


def number(text):
    """A finite number; a whole one stays whole."""
    try:
        value = int(text) if re.fullmatch(r"-?\d+", text) else float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise BadLine(f'"{text}" is not a number')
    return value


def figure(line):
    name, value, unit, reach, *peers = line.split("\t") + [""] * max(0, 3 - line.count("\t"))
    if not re.fullmatch(r"[a-z][a-z0-9_]*", name):
        raise BadLine(f'"{name}" is not a name: small letters, digits and _ only')
    peer = {}
    for entry in filter(None, peers):
        who, equals, its = entry.partition("=")
        if not equals:
            raise BadLine(f'the peer "{entry}" is not written as NAME=VALUE')
        peer[who] = number(its)
    reach = None if reach in ("", "-") else reach
    if reach and not re.fullmatch(r"(<=|>=|=)-?\d+(\.\d+)?", reach):
        raise BadLine(f'"{reach}" is no bound such as <=0.30')
    return {"name": name, "value": number(value), "unit": unit, "reach": reach, "peer": peer}


def verdict(entry):
    """Whether the value is within reach."""
    if entry["reach"] is None:
        return ""
    sign, bound = re.fullmatch(r"(<=|>=|=)(.*)", entry["reach"]).groups()
    value, bound = entry["value"], float(bound)
    within = {"<=": value <= bound, ">=": value >= bound, "=": value == bound}[sign]
    return "reached" if within else "falls short"


def shown(value):
    return str(value) if isinstance(value, int) else f"{value:.4g}"


def table(area, figures):
    rows = [("figure", "value", "unit", "reach", "", "others")]
    for entry in figures:
        others = ", ".join(f"{who} {shown(its)}" for who, its in entry["peer"].items())
        rows.append((entry["name"], shown(entry["value"]), entry["unit"], entry["reach"] or "", verdict(entry), others))
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths)).rstrip() for row in rows]
    return "\n".join([area, *lines, ""])


def main():
    area, form = sys.argv[1:]
    figures = []
    for place, line in enumerate(sys.stdin, start=1):
        try:
            figures.append(figure(line.rstrip("\n")))
        except BadLine as trouble:
            sys.exit(f"tests/bench.d/{area}: line {place} of its output: {trouble}")
    if not figures:
        sys.exit(f"tests/bench.d/{area} printed no figure")
    names = [entry["name"] for entry in figures]
    twice = {name for name in names if names.count(name) > 1}
    if twice:
        sys.exit(f"tests/bench.d/{area} printed a figure twice: {', '.join(sorted(twice))}")
    if form == "json":
        print(json.dumps({"area": area, "figures": figures}, ensure_ascii=False))
    else:
        print(table(area, figures))


main()
