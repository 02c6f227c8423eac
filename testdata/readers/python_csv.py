# Reads the table scores through phonocycle csv, with the standard library of Python only.
import csv, subprocess, sys

printed = subprocess.run([sys.argv[2], "csv", "--table", sys.argv[1] + "/scores"], check=True, capture_output=True, text=True).stdout
for row in csv.DictReader(printed.splitlines()):
    print(row["recording"], row["class"], row["tp"], "%g" % float(row["f1"]))
