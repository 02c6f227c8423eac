#!/usr/bin/env python3
"""Makes excerpt.json: half a minute of ECG, and where SciPy finds its peaks.

Run in this folder: /usr/bin/python3 excerpt.py > excerpt.json

samples: the first 30 s of the ECG that SciPy ships, 360 samples per second, lead
MLII, as the converter wrote them: 1024 is 0 mV and 200 steps are 1 mV. It is cut
from record 208 (19:35 to 24:35) of the MIT-BIH Arrhythmia Database on PhysioNet:
Moody G. B., Mark R. G., IEEE Eng Med Biol 2001;20(3):45-50, doi 10.13026/C2F305;
Goldberger A. L. et al., Circulation 2000;101:e215-e220. Licence of the database:
ODC-By 1.0 (from memory); of SciPy: BSD-3-Clause. Read from the file that Debian's
python3-scipy 1.10 installs, scipy/misc/ecg.dat.

peaks: scipy.signal.find_peaks(x, distance=150) of x = samples 2000 to 4000. Their
differences are the numbers that SciPy's documentation of find_peaks prints:
186 180 177 171 177 169 167 164 158 162 172.
"""

import json
import os

import numpy
import scipy.misc
from scipy.signal import find_peaks

ecg = numpy.load(os.path.join(os.path.dirname(scipy.misc.__file__), "ecg.dat"))["ecg"].astype(int)
peaks, _ = find_peaks(ecg[2000:4000], distance=150)
print(json.dumps({"rate": 360, "samples": ecg[: 30 * 360].tolist(), "peaks": (2000 + peaks).tolist()}, separators=(",", ":")))
