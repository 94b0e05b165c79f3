"""Compares our regression with statsmodels on the same numbers.

python regression.py PROGRAM COMPARABLES.csv

PROGRAM is the example `regression` of the crate `tangmark-measure`. Data sets: Norris (NIST StRD, public domain), the
demo comparables, and seeded invented ones with outliers. Coefficients, standard errors, scale and prediction
intervals must agree to 1e-6 relative. Our Huber fit runs until nothing moves, so statsmodels is told to do the same;
what its default stopping rule leaves is printed.
"""

import csv
import datetime
import json
import subprocess
import sys
import tempfile
import warnings
from pathlib import Path

import numpy as np
import statsmodels.api as sm

from common import Tally

RELATIVE = 1e-6

# NIST Statistical Reference Datasets, Norris: y, x.
NORRIS = """0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3 998.5 996.3 449.1 448.6
778.9 777.0 559.2 558.2 0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9 339.3 338.0 448.9 447.5 10.8 11.6 557.7 556.0
228.3 228.1 998.0 995.8 888.8 887.6 119.6 120.2 0.3 0.3 0.6 0.3 557.6 556.8 339.3 339.1 888.0 887.2 998.5 999.0
778.9 779.0 10.2 11.1 117.6 118.3 228.9 229.2 668.4 669.1 449.2 448.9 0.2 0.5"""


def norris():
    pairs = np.array([float(number) for number in NORRIS.split()]).reshape(-1, 2)
    return pairs[:, 0], pairs[:, 1:]


def comparables(path):
    """Log prices of the demo comparables on length, condition, signature, papers and date."""
    steps = ["deeply_rusted", "rusted", "stained_or_scratched", "worn_polish", "full_polish"]
    prices, features = [], []
    with open(path, encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            year, month = (int(part) for part in row["sold_on"].split("-"))
            day = datetime.date(year, month, 15)
            prices.append(np.log(float(row["price"])))
            features.append([
                np.log(float(row["length_mm"]) / 600),
                steps.index(row["condition"]),
                row["signed"] == "yes",
                row["papers"] == "yes",
                (day - datetime.date(2026, 6, 1)).days / 365.25,
            ])
    return np.array(prices), np.array(features, dtype=float)


def invented(seed):
    """Data with outliers, features of very different size, and sometimes heavy tails."""
    draw = np.random.default_rng(seed)
    count, width = int(draw.integers(12, 90)), int(draw.integers(1, 6))
    features = draw.normal(size=(count, width)) * 10.0 ** draw.integers(-2, 4, size=width)
    if seed % 3 == 0:
        features[:, 0] = (features[:, 0] > 0).astype(float)
    noise = draw.standard_t(3, size=count) if seed % 2 else draw.normal(size=count)
    response = 5 + features @ draw.normal(size=width) + noise * 10.0 ** draw.integers(-1, 2)
    odd = draw.random(count) < 0.1
    response[odd] += draw.normal(size=odd.sum()) * 50
    return response, features


def close(found, expected, relative=RELATIVE):
    """Agreement of every number; a vector is measured by its largest where single numbers may be near zero."""
    found, expected = np.asarray(found, dtype=float), np.asarray(expected, dtype=float)
    if found.shape != expected.shape:
        return False
    return bool(np.all(np.abs(found - expected) <= relative * np.abs(expected)))


def near(found, expected, size, relative=RELATIVE):
    """Agreement against a size of their own, for numbers that may be zero."""
    found, expected = np.asarray(found, dtype=float), np.asarray(expected, dtype=float)
    return found.shape == expected.shape and bool(np.all(np.abs(found - expected) <= relative * size))


def squares(tally, name, ours, theirs, design, response):
    size = np.abs(response).max()
    tally.check(close(ours["coefficients"], theirs.params), f"{name}: coefficients")
    tally.check(close(ours["standard_errors"], theirs.bse), f"{name}: standard errors")
    tally.check(close(ours["residual_sd"], np.sqrt(theirs.scale)), f"{name}: residual sd")
    tally.check(near(ours["r_squared"], theirs.rsquared, 1), f"{name}: R2")
    predicted = theirs.get_prediction(design, weights=np.ones(len(design)))
    frame = predicted.summary_frame(alpha=0.05)
    columns = np.array(ours["predictions"], dtype=float)
    tally.check(near(columns[:, 0], frame["mean"], size), f"{name}: predictions")
    tally.check(close(columns[:, 1], predicted.se_obs), f"{name}: standard errors of predictions")
    tally.check(near(columns[:, 2], frame["obs_ci_lower"], size), f"{name}: lower ends")
    tally.check(near(columns[:, 3], frame["obs_ci_upper"], size), f"{name}: upper ends")


def leave_one_out(tally, name, ours, theirs, response):
    influence = theirs.get_influence()
    tally.check(close(ours["leverages"], influence.hat_matrix_diag), f"{name}: leverages")
    tally.check(
        near(ours["left_out_errors"], influence.resid_press, np.abs(response).max()), f"{name}: leave-one-out errors"
    )


def robust(tally, name, ours, design, response):
    """Returns how far the default stopping rule of statsmodels is from the settled fit, relative."""
    model = sm.RLM(response, design, M=sm.robust.norms.HuberT(t=1.345))
    default = model.fit()
    size = np.abs(default.params).max()
    settled = model.fit(tol=1e-14 * size, maxiter=3000, conv="coefs")
    tally.check(close(ours["coefficients"], settled.params), f"{name}: Huber coefficients")
    tally.check(close(ours["scale"], settled.scale), f"{name}: Huber scale")
    tally.check(close(ours["standard_errors"], settled.bse), f"{name}: Huber standard errors")
    tally.check(near(ours["weights"], settled.weights, 1), f"{name}: Huber weights")
    return float(np.max(np.abs(default.params - settled.params) / np.abs(settled.params)))


def main():
    program, table = sys.argv[1:3]
    tally = Tally("regression", "statsmodels", "numpy", "scipy")
    warnings.simplefilter("ignore")
    samples = {"Norris": norris(), "demo comparables": comparables(table)}
    samples.update({f"invented {seed}": invented(seed) for seed in range(30)})
    with tempfile.TemporaryDirectory() as folder:
        paths, weights = [], []
        for number, (response, features) in enumerate(samples.values()):
            weight = np.random.default_rng(1000 + number).uniform(0.2, 5, size=len(response))
            path = Path(folder) / f"{number}.csv"
            rows = np.column_stack([response, weight, features])
            lines = [",".join(repr(float(cell)) for cell in row) for row in rows]
            names = [f"x{column}" for column in range(features.shape[1])]
            path.write_text("\n".join([",".join(["y", "weight", *names]), *lines]) + "\n", encoding="utf-8")
            paths.append(path)
            weights.append(weight)
        run = subprocess.run([program, *map(str, paths)], capture_output=True, text=True, check=True)
    answers = [json.loads(line) for line in run.stdout.splitlines()]
    tally.check(len(answers) == len(samples), f"{len(answers)} answers for {len(samples)} data sets")
    default_rule = 0.0
    for (name, (response, features)), weight, ours in zip(samples.items(), weights, answers):
        design = np.column_stack([np.ones(len(response)), features])
        plain = sm.OLS(response, design).fit()
        squares(tally, f"{name}: OLS", ours["ordinary"], plain, design, response)
        leave_one_out(tally, f"{name}: OLS", ours["ordinary"], plain, response)
        squares(tally, f"{name}: WLS", ours["weighted"], sm.WLS(response, design, weights=weight).fit(), design, response)
        default_rule = max(default_rule, robust(tally, name, ours["huber"], design, response))
    print(f"regression: {len(samples)} data sets; statsmodels' default stopping rule leaves up to {default_rule:.1e} of a coefficient")
    tally.close()


main()
