# Reads the table scores with nothing but base R, by way of phonocycle csv.
args <- commandArgs(trailingOnly = TRUE)
scores <- read.csv(pipe(paste(args[2], "csv --table", file.path(args[1], "scores"))))
cat(paste(scores$recording, scores$class, scores$tp, scores$f1), sep = "\n")
