"""Adds made-up people to a copy of the CirCor data set, in its form.

    python3 more_people.py SYNTH CIRCOR

SYNTH is a folder that `phonocycle synth --many` wrote, CIRCOR the copy. Each made-up
person gets recordings, annotations and a row of labels, as the real ones have them.
"""
import csv
import pathlib
import shutil
import sys

SITES = {"aortic": "AV", "pulmonary": "PV", "tricuspid": "TV", "mitral": "MV"}
CODES = {"S1": 1, "systole": 2, "S2": 3, "diastole": 4}

synth, circor = map(pathlib.Path, sys.argv[1:])
people = {}
for wav in sorted((synth / "recordings").glob("*.wav")):
    name, site = wav.stem.split("_", 1)
    person = people.setdefault(name, str(1_000_000 + len(people)))
    target = circor / "training_data" / f"{person}_{SITES[site]}"
    shutil.copy(wav, target.with_suffix(".wav"))
    with open(wav.with_suffix(".csv")) as rows, open(target.with_suffix(".tsv"), "w") as out:
        for row in csv.DictReader(rows):
            print(row["start_s"], row["end_s"], CODES[row["state"]], sep="\t", file=out)

table = circor / "training_data.csv"
with open(table) as f:
    header = next(csv.reader(f))
with open(table, "a") as f:
    labels = {"Age": "Adolescent", "Sex": "Female", "Murmur": "Present", "Pregnancy status": "False"}
    for person in people.values():
        row = {"Patient ID": person, **labels}
        f.write(",".join(row.get(column, "nan") for column in header) + "\n")
print(f"{len(people)} people added")
