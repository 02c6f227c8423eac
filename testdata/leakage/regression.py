"""Writes regression.json: a multinomial logistic regression with a ridge penalty, its probabilities and their scores, by
scikit-learn, for the test of the leakage report.

    python3 regression.py > regression.json
"""
import json
import sys

import numpy as np
import sklearn
from sklearn.linear_model import LogisticRegression
from sklearn.metrics import balanced_accuracy_score, roc_auc_score

random = np.random.default_rng(1)
n, p, classes = 90, 5, 3
y = np.arange(n) % classes
x = random.normal(size=(n, p)) + 0.8 * np.eye(classes, p)[y]
x = np.round(x, 6)
cases = []
for c in (0.05, 1, 20):
    model = LogisticRegression(C=c, solver="newton-cg", tol=1e-8, max_iter=10000, multi_class="multinomial").fit(x, y)
    probability = model.predict_proba(x)
    cases.append({
        "c": c,
        "coefficients": model.coef_.tolist(),
        "intercepts": (model.intercept_ - model.intercept_.mean()).tolist(),
        "probabilities": probability[:6].tolist(),
        "accuracy": float(np.mean(model.predict(x) == y)),
        "balanced_accuracy": balanced_accuracy_score(y, model.predict(x)),
        "auc": [roc_auc_score(y == k, probability[:, k]) for k in range(classes)],
    })
# Scores with many ties, and a weight for each, as in a bootstrap.
score = random.integers(0, 6, size=40)
positive = random.integers(0, 2, size=40)
weight = random.integers(0, 4, size=40)
ties = {
    "score": score.tolist(), "positive": positive.tolist(), "weight": weight.tolist(),
    "auc": roc_auc_score(positive, score),
    "weighted_auc": roc_auc_score(np.repeat(positive, weight), np.repeat(score, weight)),
}
json.dump({"scikit_learn": sklearn.__version__, "numpy": np.__version__, "x": x.tolist(), "y": y.tolist(), "cases": cases, "ties": ties},
          sys.stdout, indent=1)
print()
