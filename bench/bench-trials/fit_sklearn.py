"""Fits the swatches that `bench-trials -against DIR` wrote with scikit-learn's
GaussianProcessRegressor: three outputs, each with a Matern 5/2 kernel with a length
for each factor (logarithms to 0 to 1, labels as ones and noughts) and white noise.

    python3 bench/bench-trials/fit_sklearn.py DIR      (Debian: python3-sklearn)
"""
import os
import sys
import time

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ[name] = "1"  # as Aerugo's fit, one thread

import numpy as np
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel

RANGES = [(8, 120), (0.03, 0.2), (15, 80), (2, 48)]


def read(path):
    rows = np.loadtxt(path, delimiter=",", skiprows=1)
    numbers = [np.log(rows[:, 2 + i] / low) / np.log(high / low) for i, (low, high) in enumerate(RANGES)]
    labels = [rows[:, 0] == k for k in range(3)] + [rows[:, 1] == k for k in range(2)]
    return np.column_stack(numbers + labels), rows[:, 6:]


x, y = read(os.path.join(sys.argv[1], "learn.csv"))
at, truth = read(os.path.join(sys.argv[1], "judge.csv"))
wall, spent = time.perf_counter(), time.process_time()
models = []
for a in range(3):
    kernel = ConstantKernel(1) * Matern(np.ones(x.shape[1]), (1e-2, 1e2), nu=2.5) + WhiteKernel(0.01, (1e-5, 1))
    models.append(GaussianProcessRegressor(kernel, normalize_y=True, n_restarts_optimizer=2, random_state=1).fit(x, y[:, a]))
wall, spent = time.perf_counter() - wall, time.process_time() - spent
miss = inside = 0
for a, m in enumerate(models):
    mean, sd = m.predict(at, return_std=True)
    miss += np.mean((mean - truth[:, a]) ** 2) / 3
    inside += np.mean(np.abs(mean - truth[:, a]) <= 1.6449 * sd) / 3
print(f"scikit-learn: fitted in {wall:.2f} s by the clock, {spent:.2f} s of processor time; misses by {miss ** 0.5:.3f} "
      f"(root mean square); {100 * inside:.1f} % inside 90 % intervals")
