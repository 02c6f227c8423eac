#!/usr/bin/python3
"""Check values for pipeline/segment: logistic regression from scikit-learn, cut
Gaussian laws from SciPy. Writes check.json beside itself.

Run: /usr/bin/python3 check.py   (scikit-learn 1.2.1, SciPy 1.10.1, NumPy 1.24.2)
"""
import json
import math
import pathlib

import numpy as np
import scipy
import sklearn
from scipy import stats
from sklearn.linear_model import LogisticRegression

rng = np.random.default_rng(20160501)
n, p = 400, 3
x = rng.normal(size=(n, p))
x[:, 1] += 0.5 * x[:, 0]
z = 1.2 * x[:, 0] - 0.7 * x[:, 1] - 1.5
y = rng.uniform(size=n) < 1 / (1 + np.exp(-z))
x = np.round(x, 6)

fits = []
for l2 in [1e-3, 1.0, 50.0]:
    # newton-cg and not lbfgs: it reaches the tolerance.
    model = LogisticRegression(C=1 / l2, class_weight="balanced", solver="newton-cg", tol=1e-9, max_iter=1000)
    model.fit(x, y)
    fits.append({"l2": l2, "weights": [float(model.intercept_[0]), *map(float, model.coef_[0])]})

laws = []
for mean, sd, low, high in [(6.1, 1.1, 2.8, 9.4), (4.6, 0.9, 1.2, 7.9), (1.2, 1.0, -2.0, 4.5), (30.4, 2.4, 22.9, 37.8), (7.0, 2.0, 20.0, 25.0)]:
    support = list(range(max(1, math.ceil(low)), math.floor(high) + 1))
    mass = np.array([stats.norm.sf(d - 0.5, mean, sd) - stats.norm.sf(d + 0.5, mean, sd) for d in support])
    laws.append({"mean": mean, "sd": sd, "low": low, "high": high, "first": support[0], "p": list(mass / mass.sum())})

pathlib.Path(__file__).with_name("check.json").write_text(json.dumps({
    "sklearn": sklearn.__version__, "scipy": scipy.__version__, "numpy": np.__version__,
    "x": x.ravel().tolist(), "width": p, "y": y.astype(int).tolist(), "fits": fits, "laws": laws,
}) + "\n")
