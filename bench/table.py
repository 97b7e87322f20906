#!/usr/bin/env python3
"""Prints what bench/compare.sh found in DIR as tables in Markdown."""

import json
import statistics
import sys
from pathlib import Path

import numpy as np
from scipy.optimize import linear_sum_assignment
from skimage.color import deltaE_ciede2000

where = Path(sys.argv[1])


def log(name):
    """Rows of wall, user + sys seconds and peak MB."""
    rows = [[float(v) for v in line.split()] for line in (where / f"{name}.log").read_text().splitlines()]
    return [(wall, user + system, kb / 1024) for wall, user, system, kb in rows]


def answers(name):
    return json.loads((where / f"{name}.json").read_text())


def spread(values, digits=2):
    return " / ".join(f"{v:.{digits}f}" for v in (min(values), statistics.median(values), max(values)))


def row(*cells):
    print("| " + " | ".join(str(c) for c in cells) + " |")


def head(*cells):
    row(*cells)
    row(*["---"] * len(cells))


def times():
    ours, start = log("ours"), statistics.median(r[1] for r in log("ours-start"))
    start_wall = statistics.median(r[0] for r in log("ours-start"))
    names = {
        "gap": "libraries, gap", "silhouette": "libraries, silhouette", "plain": "libraries, gap, without OpenCV",
        "half": "libraries, gap, read at half size",
    }
    mid = statistics.median(r[1] for r in ours)
    inside = statistics.median(r[1] for r in ours) - start
    print(f"\nOne photograph, seconds of processor time (user + sys), min / median / max of {len(ours)} runs\n")
    head("", "start included", "ratio", "start excluded", "ratio", "wall, start included", "wall, start excluded", "peak MB")
    row("aerugo measure", spread([r[1] for r in ours]), "1", spread([r[1] - start for r in ours]), "1",
        spread([r[0] for r in ours]), spread([r[0] - start_wall for r in ours]), f"{max(r[2] for r in ours):.0f}")
    for name, label in names.items():
        outer, inner = log(name), [sum(a["cpu"].values()) for a in answers(f"{name}-inside")]
        row(label, spread([r[1] for r in outer]), f"{statistics.median(r[1] for r in outer) / mid:.1f}",
            spread(inner), f"{statistics.median(inner) / inside:.1f}",
            spread([r[0] for r in outer]), spread([sum(a["wall"].values()) for a in answers(f"{name}-inside")]), f"{max(r[2] for r in outer):.0f}")

    print("\nThe libraries' stages, median processor milliseconds, start excluded\n")
    stages = list(answers("gap-inside")[0]["cpu"])
    head("", *stages)
    for name, label in names.items():
        inner = answers(f"{name}-inside")
        row(label, *(f"{1000 * statistics.median(a['cpu'][s] for a in inner):.0f}" for s in stages))

    n = len(answers("ours-all"))
    print(f"\n{n} photographs on two cores\n")
    head("", "wall s", "processor s", "peak MB of the largest process")
    for name, label in (("ours-all", "aerugo measure, one process"), ("gap-all", "libraries, gap, two processes")):
        wall, cpu, peak = log(name)[0]
        row(label, f"{wall:.1f}", f"{cpu:.1f}", f"{peak:.0f}")


def vector(lab):
    return np.array([lab["L"], lab["a"], lab["b"]])


def palettes(ours, theirs):
    """How far the colours of two palettes of one length lie apart, best matched, and
    how far their shares do, in percentage points."""
    apart = np.array([[float(deltaE_ciede2000(p, q)) for q, _ in theirs] for p, _ in ours])
    i, j = linear_sum_assignment(apart)
    shares = [100 * abs(ours[m][1] - theirs[n][1]) for m, n in zip(i, j)]
    return list(apart[i, j]), shares


def agreement():
    ours, theirs, again = answers("ours-all"), answers("gap-all"), answers("again-all")
    half = answers("half-all")
    found, counts = {}, {"Aerugo and the libraries": 0, "the libraries and themselves": 0}

    def note(what, values):
        found.setdefault(what, []).extend(np.atleast_1d(values))

    within = 0
    for a, b, c, d in zip(ours, theirs, again, half):
        if len({Path(x["file"]).name for x in (a, b, c, d)}) != 1 or "error" in a:
            sys.exit(f"{a['file']} and {b['file']} can't be compared")
        note("mean Lab, dE00", float(deltaE_ciede2000(vector(a["lab"]), np.array(b["lab"]))))
        note("spread (SD), CIELAB units", abs(a["lab"]["sd"] - b["sd"]))
        note("coverage, percentage points", 100 * abs(a["coverage"]["value"] - b["coverage"]["value"]))
        within += a["coverage"]["low"] <= b["coverage"]["plain"] <= a["coverage"]["high"]
        p = [(vector(x["lab"]), x["share"]) for x in a["palette"]]
        q, r = ([(np.array(y["lab"]), y["share"]) for y in x["palette"]] for x in (b, c))
        for who, x in (("Aerugo and the libraries", p), ("the libraries and themselves", r)):
            if len(x) == len(q):
                counts[who] += 1
                colours, shares = palettes(x, q)
                note(f"palette centre, dE00: {who}", colours)
                note(f"palette share, percentage points: {who}", shares)
        note("the libraries at half size, mean Lab, dE00", float(deltaE_ciede2000(np.array(d["lab"]), np.array(b["lab"]))))
        note("the libraries at half size, co-occurrence contrast, % of it", 100 * abs(d["texture"]["contrast"] / b["texture"]["contrast"] - 1))
        t, u = a["texture"], b["texture"]
        for name in ("contrast", "homogeneity", "entropy"):
            note(f"co-occurrence {name}, % of it", 100 * abs(t[name] / u[name] - 1))
        for x, y in zip(t["block_variance"], u["block_variance"]):
            note("block variance, % of it", 100 * abs(x["value"] / y - 1))
        for x, y in zip(t["grain"], u["grain"]):
            note("grain, percentage points", 100 * abs(x["value"] - y))
    print(f"\nWhat the two read of {len(ours)} photographs, difference\n")
    head("", "median", "95 in 100 below", "largest")
    for what, values in sorted(found.items(), key=lambda f: "palette" in f[0]):
        row(what, *(f"{v:.3f}" for v in (np.median(values), np.percentile(values, 95), max(values))))
    print()
    for who, n in counts.items():
        print(f"- the same number of colours, {who}: {n} of {len(ours)}")
    print(f"- the libraries' plain coverage inside Aerugo's range: {within} of {len(ours)}")


times()
agreement()
