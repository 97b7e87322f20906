#!/usr/bin/env python3
"""Plan the same days with aerugo timetable and with MiniZinc's Gecode, and print a table.

    bench/timetable.py AERUGO DIR [--seconds S] [--only WORD]

AERUGO is the program, DIR a folder for the days and answers (outside the repository).
Needs, on Debian: apt-get install minizinc. Both run alone, one thread, S seconds of wall
time. MiniZinc runs twice: with a scheduling search (smallest start first) and with
weighted degrees and restarts; the better answer stands in the table.
"""
import argparse
import csv
import json
import pathlib
import re
import subprocess
import time

DATA = pathlib.Path(__file__).resolve().parent.parent / "internal/flow/timetable/testdata"

MODEL = """include "cumulative.mzn"; include "disjunctive.mzn";
int: n; int: horizon; array[1..n] of int: d;
int: l; array[1..l] of 1..n: lf; array[1..l] of 1..n: lt; array[1..l] of int: w;
int: h; array[1..h] of 1..n: hf; array[1..h] of 1..n: ht; array[1..h] of int: hr; array[1..h] of int: ha;
int: m; array[1..m] of int: cap;
array[1..n] of var 0..horizon: s;
array[1..h] of var 0..horizon: long = [s[ht[k]] + d[ht[k]] - s[hf[k]] | k in 1..h];
var 0..horizon: finish;
constraint forall(i in 1..n)(s[i] + d[i] <= finish);
constraint forall(k in 1..l)(s[lt[k]] >= s[lf[k]] + w[k]);
constraint forall(r in 1..m)(let { array[int] of int: k = [i | i in 1..h where hr[i] = r] } in
  if cap[r] = 1 /\\ forall(i in k)(hf[i] = ht[i]) then disjunctive([s[hf[i]] | i in k], [d[hf[i]] | i in k])
  else cumulative([s[hf[i]] | i in k], [long[i] | i in k], [ha[i] | i in k], cap[r]) endif);
"""
SEARCH = [
    "solve :: int_search(s, smallest, indomain_min) minimize finish;\n",
    "solve :: int_search(s, dom_w_deg, indomain_min) :: restart_luby(250) minimize finish;\n",
]


def rows(path):
    for line in path.read_text().splitlines():
        f = line.split()
        if f and not f[0].startswith(("#", "**")):
            yield f


class Day:
    """durations, arcs (from, to, least start to start), holds (resource, amount, from, to), capacities"""

    def __init__(self):
        self.d, self.arcs, self.holds, self.cap = [], [], [], []


def job_shop(path):
    r = list(rows(path))
    day = Day()
    day.cap = [1] * int(r[0][1])
    for row in r[1:1 + int(r[0][0])]:
        for k in range(0, len(row), 2):
            i = len(day.d)
            if k:
                day.arcs.append((i - 1, i, day.d[-1]))
            day.d.append(int(row[k + 1]))
            day.holds.append((int(row[k]), 1, i, i))
    return day


def project(path):
    day, part, arcs = Day(), "", []
    for row in rows(path):
        if not row[0].lstrip("-").isdigit():
            part = row[0]
        elif part == "jobnr.":
            arcs += [(int(row[0]) - 1, int(j) - 1) for j in row[3:]]
        elif part == "R":
            day.cap = [int(c) for c in row]
        elif part.startswith("---") and len(row) > 3:
            i = len(day.d)
            day.d.append(int(row[2]))
            day.holds += [(r, int(a), i, i) for r, a in enumerate(row[3:]) if int(a)]
    day.arcs = [(i, j, day.d[i]) for i, j in arcs]
    return day


def lagged(path):
    r = list(rows(path))
    n = int(r[0][0]) + 2
    day = Day()
    day.cap = [int(c) for c in r[-1]]
    for i, row in enumerate(r[1 + n:1 + 2 * n]):
        day.d.append(int(row[2]))
        day.holds += [(k, int(a), i, i) for k, a in enumerate(row[3:]) if int(a)]
    for i, row in enumerate(r[1:1 + n]):
        k = int(row[2])
        day.arcs += [(i, int(j), int(w.strip("[]"))) for j, w in zip(row[3:3 + k], row[3 + k:])]
    return day


def bench_day(path):
    day, inside = Day(), 0
    for row in rows(path):
        if row[0] == "places":
            day.cap = [1, int(row[1])]
        elif row[0] == "op":
            i = len(day.d)
            day.d.append(int(row[2]))
            day.holds.append((0, 1, i, i))
            if row[3] == "in":
                inside = i
            elif row[3] == "out":
                day.holds.append((1, 1, inside, i))
            if row[4] != "-":
                day.arcs += [(i, i + 1, int(row[2]) + int(row[4])), (i + 1, i, -int(row[2]) - int(row[5]))]
    return day


def as_json(day):
    return {
        "resources": [{"name": f"r{r}", "capacity": c} for r, c in enumerate(day.cap)],
        "operations": [{"name": f"o{i}", "duration_min": d} for i, d in enumerate(day.d)],
        "lags": [{"from": f"o{i}", "to": f"o{j}", "min_min": w - day.d[i]} for i, j, w in day.arcs],
        "holds": [{"resource": f"r{r}", "amount": a, "from": f"o{i}", "to": f"o{j}"} for r, a, i, j in day.holds],
    }


def as_dzn(day):
    horizon = sum(day.d) + sum(abs(w) for _, _, w in day.arcs)
    one = lambda v: "[" + ",".join(str(x) for x in v) + "]"
    holds = [h for h in day.holds if h[2] != h[3] or day.d[h[2]] > 0]
    return "\n".join([
        f"n={len(day.d)}; horizon={horizon}; d={one(day.d)};",
        f"l={len(day.arcs)}; lf={one(a[0] + 1 for a in day.arcs)}; lt={one(a[1] + 1 for a in day.arcs)}; w={one(a[2] for a in day.arcs)};",
        f"h={len(holds)}; hf={one(x[2] + 1 for x in holds)}; ht={one(x[3] + 1 for x in holds)}; hr={one(x[0] + 1 for x in holds)}; ha={one(x[1] for x in holds)};",
        f"m={len(day.cap)}; cap={one(day.cap)};", ""])


def gecode(folder, day, seconds):
    best = None
    (folder / "day.dzn").write_text(as_dzn(day))
    for k, search in enumerate(SEARCH):
        (folder / f"day{k}.mzn").write_text(MODEL + search + 'output ["finish=\\(finish)\\n"];\n')
        begun = time.time()
        out = subprocess.run(["minizinc", "--solver", "gecode", "-a", "--time-limit", str(int(seconds * 1000)), "--output-time",
                              str(folder / f"day{k}.mzn"), str(folder / "day.dzn")], capture_output=True, text=True).stdout
        spent = time.time() - begun
        found = re.findall(r"finish=(\d+)", out)
        got = {"finish": int(found[-1]) if found else None, "proven": "==========" in out or "UNSATISFIABLE" in out, "seconds": spent}
        rank = lambda g: (g["finish"] is None and not g["proven"], not g["proven"], g["finish"] or 0, g["seconds"])
        if best is None or rank(got) < rank(best):
            best = got
    return best


def aerugo(program, folder, day, seconds):
    (folder / "day.json").write_text(json.dumps(as_json(day)))
    begun = time.time()
    out = subprocess.run([program, "timetable", str(folder / "day.json"), "--seconds", str(seconds), "--json"], capture_output=True, text=True).stdout
    got = json.loads(out)
    return {"finish": got["makespan"], "bound": got["lower_bound"], "proven": got["proven"] or got["status"] == "cannot fit", "seconds": time.time() - begun}


def main():
    p = argparse.ArgumentParser()
    p.add_argument("program")
    p.add_argument("dir", type=pathlib.Path)
    p.add_argument("--seconds", type=float, default=5)
    p.add_argument("--only", default="")
    a = p.parse_args()
    a.dir.mkdir(parents=True, exist_ok=True)
    print("| day | published | aerugo finish | bound | s | Gecode finish | proven | s |\n| --- | --- | --- | --- | --- | --- | --- | --- |")
    for kind, read in [("jobshop", job_shop), ("rcpsp", project), ("rcpspmax", lagged), ("benchday", bench_day)]:
        best = {}
        table = DATA / kind / "optimum.csv"
        if table.exists():
            best = {r[0]: r[1] for r in csv.reader(l for l in table.open() if not l.startswith("#"))}
        for path in sorted((DATA / kind).iterdir()):
            if path.suffix == ".csv" or a.only not in f"{kind}/{path.name}":
                continue
            day = read(path)
            ours, theirs = aerugo(a.program, a.dir, day, a.seconds), gecode(a.dir, day, a.seconds)
            say = lambda g: g["finish"] if g["finish"] is not None else ("can't fit" if g["proven"] else "none")
            print(f"| {path.name} | {best.get(path.name, '-')} | {say(ours)} | {ours['bound'] if ours['finish'] is not None else '-'} | {ours['seconds']:.2f} | {say(theirs)} | {'yes' if theirs['proven'] else 'no'} | {theirs['seconds']:.2f} |", flush=True)


if __name__ == "__main__":
    main()
