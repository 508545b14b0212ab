"""An independent reckoning of the instrument chain's uncertainty with numpy and scipy; nothing of this project in it.

Arguments: ratio limit in percent, phase limit in minutes, meter limit in percent, power factor, correlation between the
three current transformers. Prints: u by the law of propagation, the 95 % point by convolution (correlation 1 or 0 only,
else nan), the 2.5 and 97.5 % points and the standard deviation of a million draws of the exact formula.
"""
import sys

import numpy as np
from scipy import integrate, optimize, stats


def of_sum(half_widths, at):
    """P(sum of rectangular errors <= at), by the inversion theorem of Gil-Pelaez."""
    def integrand(t):
        value = np.prod([np.sinc(t * a / np.pi) for a in half_widths])
        return value * np.sin(t * at) / t
    value, _ = integrate.quad(integrand, 0.0, 400.0 / max(half_widths), limit=2000)
    return 0.5 + value / np.pi


ratio, minutes, meter, factor, correlation = (float(word) for word in sys.argv[1:6])
phi = np.arccos(factor)
phase = 100.0 * np.radians(minutes / 60.0) * np.tan(phi)
alike = (1.0 + 2.0 * correlation) / 3.0
u = np.sqrt(stats.uniform(-ratio, 2 * ratio).var() * alike + stats.uniform(-phase, 2 * phase).var() * alike
            + stats.uniform(-meter, 2 * meter).var())

point = float("nan")
if correlation in (0.0, 1.0):
    count = 1 if correlation == 1.0 else 3
    half_widths = [ratio / count] * count + [phase / count] * count + [meter]
    point = optimize.brentq(lambda x: of_sum(half_widths, x) - 0.975, 0.0, sum(half_widths))

draws = 1_000_000
rng = np.random.default_rng(20240229)


def three_alike(limit):
    """A Gaussian copula over three rectangular errors, written with scipy's own distributions."""
    inner = 2.0 * np.sin(np.pi * correlation / 6.0)
    covariance = (1.0 - inner) * np.eye(3) + inner * np.ones((3, 3))
    normal = rng.multivariate_normal(np.zeros(3), covariance, size=draws, method="eigh")
    return stats.uniform(-limit, 2.0 * limit).ppf(stats.norm.cdf(normal))


size = 1.0 + three_alike(ratio) / 100.0
turn = three_alike(np.radians(minutes / 60.0))
error = 100.0 * ((size * np.cos(phi - turn) / np.cos(phi)).mean(axis=1) * (1.0 + rng.uniform(-meter, meter, draws) / 100.0) - 1.0)
low, high = np.quantile(error, [0.025, 0.975])
print(f"{u:.9f} {point:.9f} {low:.9f} {high:.9f} {error.std():.9f}")
