# Reads a part of the table scores with nanoparquet.
folder <- commandArgs(trailingOnly = TRUE)[1]
scores <- nanoparquet::read_parquet(file.path(folder, "scores", "part-000000.parquet"))
cat(paste(scores$recording, scores$class, scores$tp, scores$f1, "\n", sep = " ", collapse = ""))
