# Reads the table scores with nothing but Python's own library, by way of phonocycle csv.
import csv, subprocess, sys

printed = subprocess.run([sys.argv[2], "csv", "--table", sys.argv[1] + "/scores"], check=True, capture_output=True, text=True).stdout
for row in csv.DictReader(printed.splitlines()):
    print(row["recording"], row["class"], row["tp"], "%g" % float(row["f1"]))
