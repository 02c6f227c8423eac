# Reads the table scores through phonocycle csv, with base R only.
args <- commandArgs(trailingOnly = TRUE)
scores <- read.csv(pipe(paste(args[2], "csv --table", file.path(args[1], "scores"))))
cat(paste(scores$recording, scores$class, scores$tp, scores$f1), sep = "\n")
