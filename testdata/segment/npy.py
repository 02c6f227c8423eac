#!/usr/bin/python3
"""Check values for the NumPy files of pipeline/segment/program from NumPy. Writes npy.json beside itself.

Run: /usr/bin/python3 npy.py   (NumPy 1.24.2)
"""
import hashlib
import io
import json
import pathlib

import numpy as np

values = {"numpy": np.__version__, "arrays": []}
for n in (0, 1, 999, 8192, 8193, 100_000):
    x = np.arange(n) / 7 - 1
    f = io.BytesIO()
    np.lib.format.write_array(f, x, version=(1, 0))
    content = f.getvalue()
    start = len(content) - 8 * n
    values["arrays"].append({"n": n, "header": content[:start].hex(), "sha256": hashlib.sha256(content).hexdigest()})
pathlib.Path(__file__).with_name("npy.json").write_text(json.dumps(values, indent=1) + "\n")
