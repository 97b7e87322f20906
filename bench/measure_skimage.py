#!/usr/bin/env python3
"""The steps of `aerugo measure`, written with general libraries.

    measure_skimage.py --marks FILE [--choose gap|silhouette] [--by opencv|skimage|half]
                       [--seed N] [--runs N] [--jobs N] PHOTOGRAPH...

Prints a JSON list with one object a photograph: what was read, and the seconds of
processor and wall time for each stage, reading included, start of the process not.

numpy does the arithmetic, scikit-image Lab, dE00 and co-occurrence, scikit-learn
k-means, scipy the neighbourhoods; OpenCV only reads the file and straightens the
face. It is written to be fast: only the part of the picture that holds the face is
linearised, through a table; the face is straightened at three samples a cell in one
call; k-means works on the same samples of 1500 and 20,000 cells as Aerugo's. With
--by skimage the file is read by Pillow and straightened by scikit-image, for those
who do without OpenCV. With --by half OpenCV decodes the file at half its size, the
shortcut that it offers itself; Aerugo takes none that moves an answer.
"""

import argparse
import json
import math
import multiprocessing
import os
import sys
import time

# One thread a process: with two, OpenMP and OpenCV wait for each other busily, and
# the processor time that is compared would grow.
for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

import cv2  # noqa: E402
import numpy as np  # noqa: E402
from PIL import Image, ImageOps  # noqa: E402
from scipy import ndimage  # noqa: E402
from skimage.color import deltaE_ciede2000, xyz2lab  # noqa: E402
from skimage.feature import graycomatrix, graycoprops  # noqa: E402
from skimage.transform import ProjectiveTransform, warp  # noqa: E402
from sklearn.cluster import KMeans  # noqa: E402
from sklearn.metrics import silhouette_score  # noqa: E402

cv2.setNumThreads(1)

SIDE = 600  # cells along the face
SAMPLES = 3  # along a cell's side; a cell of these photographs has 2.8 pixels
BAND = 0.015  # of each side, left out along the edges
GREY_L = 49.5
GLARE_CODE, GLARE_L = 250, 95.0
THRESHOLD, LOOSER = 10.0, 1.5  # dE00 from the bare metal of another photograph
MOST_COLOURS, GAP_SAMPLE, GAP_REFERENCES, FIT_SAMPLE = 5, 1500, 10, 20000
SAME_COLOUR, FLAT = 3.0, 0.75
CELL_MM, PAIR_MM = 0.25, 1.0
VARIANCE_MM, GRAIN_MM = (0.5, 1, 2, 4), (0.75, 1.25, 2.25, 4.25)

# sRGB, 8 bits to linear light, and to XYZ under D50 by the Bradford transformation.
_c = np.arange(256) / 255
LINEAR = np.where(_c <= 0.04045, _c / 12.92, ((_c + 0.055) / 1.055) ** 2.4).astype(np.float32)
TO_XYZ = np.array([
    [0.4123907993, 0.3575843394, 0.1804807884],
    [0.2126390059, 0.7151686788, 0.0721923154],
    [0.0193308187, 0.1191947798, 0.9505321522],
])
_cone = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
D50 = np.array([0.9642956764295677, 1, 0.8251046025104602])  # scikit-image's
_gain = (_cone @ D50) / (_cone @ TO_XYZ.sum(axis=1))
TO_XYZ = np.linalg.inv(_cone) @ np.diag(_gain) @ _cone @ TO_XYZ


class Clock:
    """Sums up processor and wall seconds by stage."""

    def __init__(self):
        self.cpu, self.wall = {}, {}
        self.at = time.process_time(), time.perf_counter()

    def stage(self, name):
        now = time.process_time(), time.perf_counter()
        self.cpu[name] = now[0] - self.at[0]
        self.wall[name] = now[1] - self.at[1]
        self.at = now


def lab_of(xyz):
    return xyz2lab(xyz, illuminant="D50")


def read(path, by):
    """The picture, turned by its EXIF orientation, as 8-bit RGB."""
    if by == "skimage":
        with Image.open(path) as m:
            return np.asarray(ImageOps.exif_transpose(m))
    photo = cv2.imread(path, cv2.IMREAD_REDUCED_COLOR_2 if by == "half" else cv2.IMREAD_COLOR)
    if photo is None:
        sys.exit(f"{path} can't be read")
    return photo[..., ::-1]


def straighten(photo, corners, by):
    """The face in linear light, and which of its samples are at the glare code."""
    x0, y0 = np.floor(corners.min(axis=0) - 2).astype(int).clip(0)
    x1, y1 = np.ceil(corners.max(axis=0) + 2).astype(int)
    part = photo[y0:y1, x0:x1]
    glare = (part.max(axis=2) >= GLARE_CODE).astype(np.float32)
    linear = LINEAR[part]
    n = SIDE * SAMPLES
    # both libraries count from the centre of the first pixel, the marks from its corner
    to = np.array([[0, 0], [n, 0], [n, n], [0, n]], np.float32) - 0.5
    at = (corners - [x0, y0] - 0.5).astype(np.float32)
    if by == "skimage":
        m = ProjectiveTransform()
        m.estimate(to, at)
    else:
        m = cv2.getPerspectiveTransform(at, to)

    def cells(plane):
        if by == "skimage":
            big = warp(plane, m, output_shape=(n, n), order=1, preserve_range=True)
            return big.reshape(SIDE, SAMPLES, SIDE, SAMPLES, *plane.shape[2:]).mean(axis=(1, 3))
        big = cv2.warpPerspective(plane, m, (n, n), flags=cv2.INTER_LINEAR)
        return cv2.resize(big, (SIDE, SIDE), interpolation=cv2.INTER_AREA)

    face = cells(linear)
    if not glare.any():
        return face, np.zeros((SIDE, SIDE), bool)
    return face, cells(glare) >= 0.25


def thin(points, n, rng):
    """n points, one at a random place in each of n equal runs."""
    n = min(n, len(points))
    at = ((np.arange(n) + rng.random(n)) * (len(points) / n)).astype(int)
    return points[at]


def fit(points, k, starts, rng):
    state = int(rng.integers(1 << 31))
    return KMeans(n_clusters=k, n_init=starts, random_state=state, algorithm="lloyd").fit(points)


def by_gap(points, rng):
    """Tibshirani, Walther and Hastie 2001, by the same rule as Aerugo's."""
    mean = points.mean(axis=0)
    _, axes = np.linalg.eigh(np.cov((points - mean).T))
    along = (points - mean) @ axes
    low, high = along.min(axis=0), along.max(axis=0)
    references = [rng.uniform(low, high, points.shape) @ axes.T + mean for _ in range(GAP_REFERENCES)]
    gaps, errors = [], []
    for k in range(1, MOST_COLOURS + 1):
        logs = np.log([fit(r, k, 1, rng).inertia_ + 1e-9 for r in references])
        gaps.append(logs.mean() - math.log(fit(points, k, 4, rng).inertia_ + 1e-9))
        errors.append(logs.std() * math.sqrt(1 + 1 / GAP_REFERENCES))
    best = int(np.argmax(gaps))
    return next(k + 1 for k in range(best + 1) if k == best or gaps[k] >= gaps[best] - errors[best])


def by_silhouette(points, rng):
    """Rousseeuw 1987. Cheaper, but it can't say that there is one colour only."""
    scores = [silhouette_score(points, fit(points, k, 4, rng).labels_) for k in range(2, MOST_COLOURS + 1)]
    return 2 + int(np.argmax(scores))


def palette(xyz, lab, choose, rng):
    sample = thin(lab, GAP_SAMPLE, rng)
    k = 1
    if ((sample - sample.mean(axis=0)) ** 2).sum(axis=1).mean() > FLAT**2:
        k = choose(sample, rng)
    points = thin(lab, FIT_SAMPLE, rng)
    while True:
        means = fit(points, k, 4, rng)
        c = means.cluster_centers_
        apart = [deltaE_ciede2000(c[i], c[j]) for i in range(k) for j in range(i)]
        if k == 1 or min(apart) >= SAME_COLOUR:
            break
        k -= 1
    label = means.predict(lab)
    counts = np.bincount(label, minlength=k)
    sums = np.stack([np.bincount(label, weights=xyz[:, i], minlength=k) for i in range(3)], axis=1)
    order = [i for i in np.argsort(-counts) if counts[i]]
    return [{"lab": lab_of(sums[i] / counts[i]).tolist(), "share": counts[i] / len(lab)} for i in order]


def coverage(xyz, lab, usable, bare):
    """The share farther than THRESHOLD from the metal, plain and with the cells on an
    edge counted by the part of them that is covered."""
    apart = np.zeros(usable.shape)
    apart[usable] = deltaE_ciede2000(lab[usable], np.broadcast_to(bare, (usable.sum(), 3)))
    taken = apart > THRESHOLD
    open_ = usable & ~taken
    edge = taken & ndimage.maximum_filter(open_, 5, mode="constant")
    weight = taken.astype(float)
    if edge.any():
        f = (bare[0] + 16) / 116 + np.array([bare[1] / 500, 0, -bare[2] / 200])
        metal = D50 * np.where(f > 6 / 29, f**3, 3 * (6 / 29) ** 2 * (f - 4 / 29))
        light = np.sqrt(((xyz - metal) ** 2).sum(axis=2))
        most = ndimage.maximum_filter(np.where(taken, light, 0), 7, mode="constant")
        weight[edge] = light[edge] / most[edge]
    n = usable.sum()
    return {
        "value": weight.sum() / n,
        "plain": taken.sum() / n,
        "looser": (apart > LOOSER * THRESHOLD).sum() / n,
        "closer": (apart > THRESHOLD / LOOSER).sum() / n,
    }


def blocks(values, usable, k):
    """Means of blocks k cells wide, and which are at least half usable."""
    h, w = values.shape[0] // k, values.shape[1] // k
    parts = np.where(usable, values, 0)[: h * k, : w * k].reshape(h, k, w, k).sum(axis=(1, 3))
    n = usable[: h * k, : w * k].reshape(h, k, w, k).sum(axis=(1, 3))
    return parts / np.maximum(n, 1), 2 * n >= k * k


def texture(lightness, usable, cell_mm):
    k = round(CELL_MM / cell_mm)
    grid, ok = blocks(lightness, usable, k)
    mm = k * cell_mm
    # a level of its own for what does not count, taken out of the counts again
    level = np.where(ok, (grid / 100 * 32).clip(0, 31), 32).astype(np.uint8)
    angles = [0, math.pi / 4, math.pi / 2, 3 * math.pi / 4]
    pairs = graycomatrix(level, [round(PAIR_MM / mm)], angles, levels=33, symmetric=True)[:32, :32].astype(float)
    pairs /= pairs.sum(axis=(0, 1))
    out = {
        "contrast": graycoprops(pairs, "contrast").mean(),
        "homogeneity": graycoprops(pairs, "homogeneity").mean(),
        "entropy": -(pairs * np.log(np.where(pairs > 0, pairs, 1))).sum(axis=(0, 1)).mean(),
    }
    out["block_variance"] = []
    for width in VARIANCE_MM:
        means, counts = blocks(grid, ok, round(width / mm))
        out["block_variance"].append(means[counts].var())
    dark = np.where(ok, 100 - grid, np.inf)
    total = dark[ok].sum()
    out["grain"] = []
    for width in GRAIN_MM:
        size = 2 * round((width / mm - 1) / 2) + 1
        low = ndimage.minimum_filter(dark, size, mode="constant", cval=np.inf)
        low[np.isinf(low)] = -np.inf
        opened = ndimage.maximum_filter(low, size, mode="constant", cval=-np.inf)
        out["grain"].append(1 - opened[ok].sum() / total)
    return out


def measure(path, marks, choose, by, seed):
    clock = Clock()
    rng = np.random.default_rng(seed)
    photo = read(path, by)
    if by == "half":
        marks = marks | {name: [v / 2 for v in marks[name]] for name in ("corners", "grey")}
    clock.stage("decode")

    face, glare = straighten(photo, np.array(marks["corners"]).reshape(4, 2), by)
    clock.stage("straighten")

    x, y, w, h = (round(v) for v in marks["grey"])
    grey = LINEAR[photo[y : y + h, x : x + w]].mean(axis=(0, 1), dtype=np.float64)
    xyz = face @ (TO_XYZ * (((GREY_L + 16) / 116) ** 3 / grey)).T.astype(face.dtype)
    lab = lab_of(xyz)
    band = math.ceil(BAND * SIDE)
    usable = np.zeros((SIDE, SIDE), bool)
    usable[band:-band, band:-band] = True
    glare = usable & (glare | (lab[..., 0] > GLARE_L))
    if glare.any():
        usable &= ~ndimage.binary_dilation(glare, np.ones((5, 5)))
    flat_xyz, flat_lab = xyz[usable].astype(float), lab[usable].astype(float)
    mean = lab_of(flat_xyz.mean(axis=0))
    sd = math.sqrt(((flat_lab - mean) ** 2).sum(axis=1).mean())
    clock.stage("colour")

    colours = palette(flat_xyz, flat_lab, choose, rng)
    clock.stage("palette")
    cover = coverage(xyz, lab, usable, np.array(marks["bare"]))
    clock.stage("coverage")
    pattern = texture(lab[..., 0].astype(float), usable, marks["size"][0] / SIDE)
    clock.stage("texture")
    return {
        "file": path, "lab": mean.tolist(), "sd": sd, "palette": colours, "coverage": cover, "texture": pattern,
        "cpu": clock.cpu, "wall": clock.wall,
    }


def main():
    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    ask.add_argument("--marks", required=True, help="the file of marks that bench/make wrote")
    ask.add_argument("--choose", choices=["gap", "silhouette"], default="gap", help="how the number of colours is found")
    ask.add_argument("--by", choices=["opencv", "skimage", "half"], default="opencv", help="what reads and straightens")
    ask.add_argument("--seed", type=int, default=1, help="of the chance in sampling and k-means")
    ask.add_argument("--runs", type=int, default=1, help="times to measure each photograph")
    ask.add_argument("--jobs", type=int, default=1, help="processes at once")
    ask.add_argument("photographs", nargs="+")
    said = ask.parse_args()
    marks = {}
    with open(said.marks, encoding="utf-8") as f:
        for line in f:
            name, _, values = line.strip().partition("=")
            marks[name] = [float(v) for v in values.split(",")]
    choose = {"gap": by_gap, "silhouette": by_silhouette}[said.choose]
    work = [(p, marks, choose, said.by, said.seed) for p in said.photographs for _ in range(said.runs)]
    if said.jobs > 1:
        with multiprocessing.Pool(said.jobs) as pool:
            answers = pool.starmap(measure, work, chunksize=1)
    else:
        answers = [measure(*w) for w in work]
    json.dump(answers, sys.stdout, indent=1, default=float)
    print()


if __name__ == "__main__":
    main()
