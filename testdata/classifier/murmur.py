"""Trains a classifier on the table recordings, to show that the table works.

    phonocycle csv --table results/recordings > recordings.csv
    python3 murmur.py recordings.csv --label murmur --positive Present --negative Absent [--least 0.5]

A logistic regression of scikit-learn with its default settings predicts the label of a person from the features of their
recordings. No setting was chosen by looking at the result. Folds are by person: those of the column fold, or five folds of
StratifiedGroupKFold if that is empty. The score of a person is the mean probability over their recordings. The area under the
receiver operating characteristic has a 95 % percentile interval by bootstrap over people. With --least the program fails if the
lower bound is not above the given value.

This is research on how labels and features go together. It is no diagnosis.
"""
import argparse
import csv
import sys

import numpy as np
import sklearn
from sklearn.impute import SimpleImputer
from sklearn.linear_model import LogisticRegression
from sklearn.metrics import roc_auc_score
from sklearn.model_selection import StratifiedGroupKFold
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import StandardScaler

parser = argparse.ArgumentParser()
parser.add_argument("table")
parser.add_argument("--label", default="murmur")
parser.add_argument("--positive", default="Present")
parser.add_argument("--negative", default="Absent")
parser.add_argument("--least", type=float)
args = parser.parse_args()

with open(args.table, newline="") as f:
    rows = [r for r in csv.DictReader(f) if r["outcome"] == "done" and r[args.label] in (args.positive, args.negative)]
names = list(rows[0])
features = names[names.index("cycles_count"):]  # the features follow the labels
x = np.array([[float(r[n]) if r[n] else np.nan for n in features] for r in rows])
y = np.array([r[args.label] == args.positive for r in rows])
person = np.array([r["person"] for r in rows])
x = x[:, ~np.all(np.isnan(x), axis=0)]

if all(r["fold"] for r in rows):
    fold, whose = np.array([int(r["fold"]) for r in rows]), "of the table"
else:
    fold, whose = np.zeros(len(y), int), "of StratifiedGroupKFold"
    splits = StratifiedGroupKFold(5, shuffle=True, random_state=1).split(x, y, person)
    for k, (_, test) in enumerate(splits):
        fold[test] = k

probability = np.zeros(len(y))
for k in np.unique(fold):
    test = fold == k
    assert not set(person[test]) & set(person[~test]), "a person on both sides"
    model = make_pipeline(SimpleImputer(), StandardScaler(), LogisticRegression(max_iter=5000))
    probability[test] = model.fit(x[~test], y[~test]).predict_proba(x[test])[:, 1]

people = np.unique(person)
score = np.array([probability[person == p].mean() for p in people])
truth = np.array([y[person == p].max() for p in people])
area = roc_auc_score(truth, score)
random = np.random.default_rng(1)
replicates = []
while len(replicates) < 2000:
    draw = random.integers(len(people), size=len(people))
    if truth[draw].any() and not truth[draw].all():
        replicates.append(roc_auc_score(truth[draw], score[draw]))
low, high = np.percentile(replicates, [2.5, 97.5])

print(f"{args.label}: {args.positive} in {truth.sum()} of {len(people)} people, {len(y)} recordings, {x.shape[1]} features")
print(f"logistic regression of scikit-learn {sklearn.__version__}, default settings; {len(np.unique(fold))} folds by person, {whose}")
print(f"area under the curve by person {area:.3f} (95 % {low:.3f} to {high:.3f}, bootstrap over people)")
if args.least is not None and low <= args.least:
    sys.exit(f"the lower bound is not above {args.least}")
