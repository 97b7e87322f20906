#!/usr/bin/env python3
"""Prints what bench/effects.sh found in DIR as tables in Markdown."""

import json
import math
import re
import statistics
import sys
from pathlib import Path

where = Path(sys.argv[1])
ours, lme4 = (json.loads((where / f"{name}.json").read_text()) for name in ("ours", "lme4"))


def log(name):
    """Wall, user + sys seconds and peak MB of each run."""
    rows = [[float(v) for v in line.split()] for line in (where / f"{name}.log").read_text().splitlines()]
    return [(wall, user + system, kb / 1024) for wall, user, system, kb in rows]


def spread(values, scale=1000, digits=0):
    return " / ".join(f"{scale * v:.{digits}f}" for v in (min(values), statistics.median(values), max(values)))


def row(*cells):
    print("| " + " | ".join(str(c) for c in cells) + " |")


def head(*cells):
    row(*cells)
    row(*["---"] * len(cells))


def digits(a, b):
    return 16 if a == b else -math.log10(abs(a - b) / abs(b))


def plain(name):
    return name.replace("=", "").replace("(Intercept)", "intercept")


if [plain(n) for n in ours["Names"]] != [plain(n) for n in lme4["Names"]]:
    sys.exit("the two fitted different models")

middle = statistics.median
print(f"Load before and after: {'; '.join(re.search('load average.*', l)[0] for l in (where / 'load.log').read_text().splitlines())}\n")
print(f"200 swatches by 8 factors, both faces, day, run and swatch nested; milliseconds, min / median / max of {len(ours['Wall'])}\n")
head("", "wall, start excluded", "processor, start excluded", "wall, start included", "processor, start included", "peak MB")
for name, label, inside in (("ours", "stat.FitMixed", ours), ("lme4", "lmer and summary", lme4)):
    outer = log(name)
    row(label, spread(inside["Wall"], digits=1), spread(inside["Spent"], digits=1), spread([r[0] for r in outer]), spread([r[1] for r in outer]), f"{max(r[2] for r in outer):.0f}")
outer = log("program")
row("aerugo effects, whole", "", "", spread([r[0] for r in outer]), spread([r[1] for r in outer]), f"{max(r[2] for r in outer):.0f}")
start = log("lme4-start")
row("R and lmerTest loaded, nothing fitted", "", "", spread([r[0] for r in start]), spread([r[1] for r in start]), f"{max(r[2] for r in start):.0f}")
print(f"\nStart excluded, medians: lmer takes {middle(lme4['Wall']) / middle(ours['Wall']):.1f} times as long by the clock, "
      f"{middle(lme4['Spent']) / middle(ours['Spent']):.1f} times the processor time. Start included: "
      f"{middle(r[0] for r in log('lme4')) / middle(r[0] for r in log('program')):.1f} and {middle(r[1] for r in log('lme4')) / middle(r[1] for r in log('program')):.1f} times `aerugo effects`.")

print("\nDigits that agree, the least of all\n")
head("", "lmer as it comes", "lmer with the finest stop")
for what in ("Estimate", "SE", "DF"):
    row({"Estimate": "estimates", "SE": "standard errors", "DF": "Satterthwaite's degrees of freedom"}[what],
        *(f"{min(digits(a, b) for a, b in zip(ours[what], lme4[kind + what])):.1f}" for kind in ("", "Fine")))
row("standard deviations of day, run, swatch, rest", "", f"{min(digits(ours['SD'][k], v) for k, v in lme4['SD'].items()):.1f}")
row("REML criterion", "", f"{digits(ours['Criterion'], lme4['Criterion']):.1f}")

print("\n300 swatches by 6 factors, three outputs, Gaussian processes with their hyperparameters found\n")
head("", "wall s, start included", "processor s, start included", "peak MB", "said of itself")
for name, label in (("guess", "guess.Fit"), ("sklearn", "scikit-learn")):
    outer = log(name)
    row(label, spread([r[0] for r in outer], 1, 1), spread([r[1] for r in outer], 1, 1), f"{max(r[2] for r in outer):.0f}",
        (where / f"{name}-said.log").read_text().splitlines()[-1].split(": ", 1)[1])
