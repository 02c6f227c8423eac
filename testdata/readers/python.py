# Reads the table scores with pandas and pyarrow.
import sys
import pandas

scores = pandas.read_parquet(sys.argv[1] + "/scores")
for row in scores.itertuples():
    print(row.recording, row[3], row.tp, "%g" % row.f1)
