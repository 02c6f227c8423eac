# Marks the loudest sounds, about two in a cycle. Of two neighbours, the one after the
# longer pause is S1: diastole lasts longer than systole.
library(jsonlite)

read_npy <- function(name) {
  npy <- file(name, "rb")
  on.exit(close(npy))
  readBin(npy, "raw", 8) # magic number and version
  header <- readChar(npy, readBin(npy, "integer", size = 2, endian = "little"))
  readBin(npy, "double", as.integer(sub(".*\\((\\d+),\\).*", "\\1", header)), endian = "little")
}

# The envelope at 100 values per second: the root of the mean power of 60 ms.
envelope <- function(x, rate) {
  power <- stats::filter(x^2, rep(1, 0.06 * rate) / (0.06 * rate))
  power[is.na(power)] <- 0
  sqrt(pmax(power[seq(1, length(x), by = rate / 100)], 0))
}

# The length of a cycle: the lag of the largest autocorrelation from 0.4 to 1.4 s.
cycle_length <- function(e) {
  lags <- 40:min(140, length(e) - 1)
  lags[which.max(acf(e, lag.max = max(lags), plot = FALSE)$acf[lags + 1])]
}

# The highest peaks that lie more than a fifth of a cycle apart.
loudest <- function(e, cycle) {
  inner <- 2:(length(e) - 1)
  peaks <- inner[e[inner] > e[inner - 1] & e[inner] >= e[inner + 1]]
  kept <- c()
  for (p in peaks[order(-e[peaks])]) {
    if (length(kept) >= 2 * length(e) / cycle) break
    if (all(abs(kept - p) > cycle / 5)) kept <- c(kept, p)
  }
  sort(kept)
}

answer <- function(request) {
  e <- envelope(read_npy(request$signal), request$rate)
  at <- loudest(e, cycle_length(e))
  if (length(at) < 3) return(list(recording = request$recording, error = "fewer than three sounds"))
  pause <- diff(c(-Inf, at, Inf))
  sound <- ifelse(head(pause, -1) > tail(pause, -1), "S1", "S2")
  list(recording = request$recording, points = unname(Map(list, sound, (at - 1) / 100)))
}

lines <- file("stdin", "r")
while (length(line <- readLines(lines, 1)) > 0) {
  reply <- answer(fromJSON(line))
  cat(toJSON(reply, auto_unbox = TRUE, digits = NA), "\n", sep = "")
  flush(stdout())
}
