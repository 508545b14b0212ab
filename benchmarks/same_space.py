"""The four-wire space once more in plain vectorised numpy: every hypothesis, no pruning, no sharing beyond the tap
landings. Reads the arrays that benchmark_speed wrote into the folder named on the command line, prints the seconds of the
best of three evaluations and the probability of every hypothesis into `numpy.f64` there.

It is a yardstick of speed and, by the way, a second opinion: closed-form normals here, grids there."""
import itertools
import sys
import time

import numpy as np
from scipy.special import erf

folder = sys.argv[1] + "/"


def array(name, dtype="f8", columns=None):
    values = np.fromfile(folder + name, dtype)
    return values if columns is None else values.reshape(-1, columns)


tap_of, current_of, ratio_of = array("tap_of", "u4"), array("current_of", "u4"), array("ratio_of", "u4")
log_prior, log_volts = array("log_prior"), array("log_volts")
view_deg = array("view_deg", columns=3)  # NaN: no angle
path, sign = array("path", "i4", 3), array("sign", "i4", 3)
coil, vars_turned = array("coil", "i4"), array("vars_turned", "i4")
ratio = array("ratio", columns=3)
path_deg, lag_read, amps, noise = array("path_deg"), array("lag_read"), array("amps"), array("noise")
atoms = array("atoms", columns=3)
(wander, own, tail, tail_w, outlier, log_own, log_tail, log_tail_w, low, high) = array("numbers")


def wrapped(deg):
    return (deg + 180.0) % 360.0 - 180.0


def normal(x, sigma):
    return np.exp(-0.5 * (x / sigma) ** 2) / (sigma * np.sqrt(2.0 * np.pi))


def evaluate():
    n = len(tap_of)
    lag = np.full((n, 3), np.nan)
    size = np.full((n, 3), np.nan)
    whose = np.zeros((n, 3))
    beside = np.ones(n)
    joined_lag, joined_size = np.full(n, np.nan), np.full(n, np.nan)
    turned = np.where(vars_turned[current_of] == 1, -1.0, 1.0)
    for k in range(3):
        here, view = path[current_of, k], view_deg[tap_of, k]
        flipped = np.where(sign[current_of, k] < 0, 180.0, 0.0)
        own_deg = np.where(here >= 0, path_deg[np.maximum(here, 0)], 0.0)
        value = wrapped(turned * lag_read[k] + own_deg - view + flipped + 90.0 * coil[current_of])
        log_amps = np.log(amps[k]) - np.log(ratio[ratio_of, k])
        dead = here == -1
        beside = np.where(dead, beside * 0.03 * 0.4 * 1e-3, beside)
        beside = np.where(dead | np.isnan(view), beside / 360.0, beside)
        crossed = here == -2
        second = crossed & ~np.isnan(joined_size)
        same_size = 0.99 * normal(log_amps - joined_size, 0.02) + 0.01 * 0.1
        beside = np.where(second, beside * 0.2 * same_size, beside)
        both = second & ~np.isnan(view) & ~np.isnan(joined_lag)
        beside = np.where(both, beside * (0.99 * normal(wrapped(value - joined_lag), 2.0) + 0.01 / 360.0), beside)
        first = crossed & ~np.isnan(view) & np.isnan(joined_lag)
        beside = np.where(first, beside / 360.0, beside)
        joined_lag = np.where(first, value, joined_lag)
        joined_size = np.where(crossed & ~second, log_amps, joined_size)
        for p in range(3):
            on = here == p
            known = ~np.isnan(size[:, p])
            beside = np.where(on & known, beside * (0.99 * normal(log_amps - size[:, p], 0.02) + 0.01 * 0.1), beside)
            size[:, p] = np.where(on & ~known, log_amps, size[:, p])
            seen = ~np.isnan(lag[:, p])
            angled = on & ~np.isnan(view)
            off = wrapped(value - lag[:, p])
            beside = np.where(angled & seen, beside * (0.99 * normal(off, 1.0) + 0.01 / 360.0), beside)
            whose[:, p] = np.where(angled & ~seen, noise[k], whose[:, p])
            lag[:, p] = np.where(angled & ~seen, value, lag[:, p])
    measured = ~np.isnan(lag)
    angle = np.zeros(n)
    for weight, mean, sigma in atoms:
        middle = np.angle(np.nansum(np.exp(1j * np.radians(lag - mean)), axis=1), deg=True)[:, None]
        y = np.where(measured, middle + wrapped(lag - mean - middle), 0.0)
        common = sigma**2 + wander**2
        for way in itertools.product(range(3), repeat=3):
            w = np.full(n, weight)
            inverse, weighted, square, determinant = np.zeros(n), np.zeros(n), np.zeros(n), np.ones(n)
            skip = np.zeros(n, bool)
            for p, choice in enumerate(way):
                there = measured[:, p]
                if choice == 2:
                    w = np.where(there, w * outlier / 360.0, w)
                    skip |= ~there  # counted once, with the first choice
                    continue
                if choice == 1:
                    skip |= ~there
                share = (1.0 - outlier) * (tail_w if choice else 1.0 - tail_w)
                variance = (tail if choice else own) ** 2 + whose[:, p] ** 2
                w = np.where(there, w * share, w)
                inverse += np.where(there, 1.0 / variance, 0.0)
                weighted += np.where(there, y[:, p] / variance, 0.0)
                square += np.where(there, y[:, p] ** 2 / variance, 0.0)
                determinant *= np.where(there, 2.0 * np.pi * variance, 1.0)
            rounds = (-360.0, 0.0, 360.0) if sigma > 30.0 else (0.0,)
            for shift in rounds:
                a = weighted + shift * inverse
                b = square + 2.0 * shift * weighted + shift**2 * inverse
                stretch = 1.0 + common * inverse
                density = np.exp(-0.5 * (b - common * a**2 / stretch)) / np.sqrt(determinant * stretch)
                only_outliers = inverse == 0.0
                density = np.where(only_outliers, 1.0 if shift == 0.0 else 0.0, density)
                angle += np.where(skip, 0.0, w * density)
    sized = ~np.isnan(size)
    count = sized.sum(axis=1)
    level = np.zeros(n)
    for way in itertools.product(range(2), repeat=3):
        w, skip = np.ones(n), np.zeros(n, bool)
        inverse, weighted, square, determinant = np.zeros(n), np.zeros(n), np.zeros(n), np.ones(n)
        for p, choice in enumerate(way):
            there = sized[:, p]
            if choice == 1:
                skip |= ~there
            variance = (log_tail if choice else log_own) ** 2
            value = np.where(there, size[:, p], 0.0)
            w = np.where(there, w * (log_tail_w if choice else 1.0 - log_tail_w), w)
            inverse += np.where(there, 1.0 / variance, 0.0)
            weighted += np.where(there, value / variance, 0.0)
            square += np.where(there, value**2 / variance, 0.0)
            determinant *= np.where(there, 2.0 * np.pi * variance, 1.0)
        safe = np.where(inverse > 0.0, inverse, 1.0)
        mean, spread = weighted / safe, 1.0 / np.sqrt(safe)
        inside = 0.5 * (erf((high - mean) / (spread * np.sqrt(2.0))) - erf((low - mean) / (spread * np.sqrt(2.0))))
        density = inside / (high - low) * np.exp(-0.5 * (square - weighted**2 / safe)) * np.sqrt(2.0 * np.pi / safe)
        level += np.where(skip, 0.0, w * density / np.sqrt(determinant))
    level = np.where(count > 0, (1.0 - 1e-4) * level + 1e-4 * 0.05**count, 1.0)
    level = np.where(coil[current_of] == 1, 0.1**count, level)
    with np.errstate(divide="ignore"):
        log_weight = log_prior + log_volts[tap_of] + np.log(beside * angle * level)
    weight = np.exp(log_weight - log_weight.max())
    return weight / weight.sum()


best = np.inf
for _ in range(3):
    start = time.perf_counter()
    probability = evaluate()
    best = min(best, time.perf_counter() - start)
probability.tofile(folder + "numpy.f64")
print(best)
