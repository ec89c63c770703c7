#!/usr/bin/env python3
"""Makes lay_least_squares.json: small fabrics at the least energy that scipy finds.

    python3 lay_least_squares.py > ../published/lay_least_squares.json        needs numpy and scipy

The energy is written down here once more, from the description of the model, with angles for
the turns and with none of the program's ways to find the least: scipy.optimize.least_squares
(a trust region method) starts from the lattice and from the lattice shaken, and the best end
counts. Lengths are in knots; columns and half rows of the lattice lie as far apart as `column` and
`half_row` say.
"""
import json
import numpy as np
from scipy.optimize import least_squares

SAME_SIDE, EDGE, APART = 0.3, 0.2, 0.5


def threads_of(threads, columns):
    """(knot, side it leaves, next knot, side it enters, position) of every stretch of thread."""
    at, stretches = {}, []
    for knot, column in enumerate(columns):
        for position, side in ((column, -1), (column + 1, 1)):
            if position in at:
                stretches.append((*at[position], knot, side, position))
            at[position] = (knot, side)
    return stretches


def levels_of(columns):
    top = {}
    for column in columns:
        under = [top.get(column, -2) + 2, top.get(column - 1, -1) + 1, top.get(column + 1, -1) + 1]
        top[column] = max(under)
        yield top[column]


def residuals_of(threads, columns, column, half_row):
    n = len(columns)
    alpha = np.arctan2(half_row, column)
    frames, loops, apart, last = [], [], [], {}
    for a, leaves, b, enters, position in threads_of(threads, columns):
        if leaves != enters:
            out = alpha if leaves > 0 else np.pi - alpha
            into = alpha if enters < 0 else np.pi - alpha
            frames.append((a, b, out, into, 1.0))
        elif position in (1, threads):
            loops.append((a, b))
        else:
            out = np.pi / 2 - alpha if leaves > 0 else np.pi / 2 + alpha
            into = np.pi / 2 - alpha if enters < 0 else np.pi / 2 + alpha
            frames.append((a, b, out, into, SAME_SIDE))
    for knot, c in enumerate(columns):
        if c in last:
            apart.append((last[c], knot))
        last[c] = knot
    least, most = min(1.0, 2 * half_row), max(1.0, 2 * half_row)
    a, b, out, into, weight = map(np.array, zip(*frames))
    a, b = a.astype(int), b.astype(int)
    loops, apart = np.array(loops).reshape(-1, 2).astype(int), np.array(apart).reshape(-1, 2).astype(int)

    def residuals(z):
        x, y, turn = z[:n], z[n:2 * n], z[2 * n:]
        root, parts = np.sqrt(weight), []
        for knot, angle in ((a, out), (b, into)):
            parts.append(root * (x[b] - x[a] - np.cos(angle + turn[knot])))
            parts.append(root * (y[b] - y[a] - np.sin(angle + turn[knot])))
        length = lambda p: np.hypot(x[p[:, 1]] - x[p[:, 0]], y[p[:, 1]] - y[p[:, 0]])
        parts.append(np.sqrt(APART) * np.minimum(length(apart) - least, 0))
        l = length(loops)
        parts.append(np.sqrt(EDGE) * (l - np.clip(l, least, most)))
        return np.concatenate(parts)
    return residuals


def least_energy(threads, columns, column, half_row, tries=12):
    chance = np.random.default_rng(1)
    residuals = residuals_of(threads, columns, column, half_row)
    lattice = np.r_[np.array(columns) * column, np.array(list(levels_of(columns))) * half_row, np.zeros(len(columns))]
    best = None
    for attempt in range(tries):
        start = lattice + chance.normal(0, 0.15 * (attempt > 0), len(lattice))
        found = least_squares(residuals, start, xtol=1e-12, ftol=1e-14, gtol=1e-12, max_nfev=400)
        if best is None or found.cost < best.cost - 1e-9:
            best = found
    n = len(columns)
    return 2 * best.cost, np.c_[best.x[:n], best.x[n:2 * n]]


S = 0.5 ** 0.5
SQUARE, FLAT = (S, S), (0.8, 0.6)
right, left = [1, 2, 3, 4], [4, 3, 2, 1]
CASES = {
    "leader rows": (5, (right + left) * 2, SQUARE),
    "a hole in courses": (6, [1, 3, 5, 2, 4, 1, 5, 2, 4, 1, 3, 5, 2, 4], SQUARE),
    "two holes in courses": (6, [1, 3, 5, 2, 4, 3, 5, 2, 4, 1, 3, 5, 2, 1, 3, 5, 2, 4], SQUARE),
    "courses, leader rows, courses": (5, [1, 3, 2, 4, 1, 3, 2, 4] + right + left + [1, 3, 2, 4, 1, 3, 2, 4], SQUARE),
    "leader rows beside courses": (6, [1, 2, 4, 2, 1, 3, 5] * 4, SQUARE),
    "leader rows, a flat gauge": (5, (right + left) * 2, FLAT),
    "a hole in courses, a flat gauge": (6, [1, 3, 5, 2, 4, 1, 5, 2, 4, 1, 3, 5, 2, 4], FLAT),
}

if __name__ == "__main__":
    cases = []
    for name, (threads, columns, (column, half_row)) in CASES.items():
        energy, places = least_energy(threads, columns, column, half_row)
        cases.append({
            "id": name, "threads": threads, "columns": columns, "column": column, "half_row": half_row,
            "energy": round(energy, 9), "places": [[round(v, 6) for v in p] for p in (places - places[0]).tolist()],
        })
    print(json.dumps({
        "file": "lay_least_squares",
        "source": "our own definition of how soft fabric lies, minimised by scipy.optimize.least_squares, trust region reflective (Virtanen et al., SciPy 1.0, Nature Methods 17 (2020) 261-272, from memory)",
        "verified": "the best of twelve starts of each case, from the lattice and from the lattice shaken",
        "fields": "columns: column of each knot in tying order, from 1; column, half_row: pitches of the gauge in knots; energy: the least sum of squares; places: across and along in knots, the first knot at 0",
        "n_cases": len(cases), "cases": cases,
    }, indent=1))
