// Package program makes a program of any language a segmentation method.
//
// A YAML file describes the method; --method takes its path. The program is started
// once per worker and asked about one recording after the other. Each request and each
// answer is a line of JSON (JSON Lines, jsonlines.org), on standard input and standard
// output. Signals come as NumPy files (.npy, format 1.0: one-dimensional, '<f8', that
// is, doubles of 8 bytes with the lowest first), so that no program has to decode audio.
//
// # The file
//
//	name: envelope-peaks                # small letters, digits and -
//	title: Peaks of the envelope        # what it is, in a line
//	citation: Author A. Title. 2026.    # optional
//	segment: [python3, envelope.py, segment, "{model}", "{options}"]
//	fit: [python3, envelope.py, fit, "{examples}", "{model}", "{fit-options}"]   # optional
//	signal: {rate: 1000, band: [25, 400]}
//	labels: false
//	answers: intervals
//	files: [envelope.py]
//	options: {threshold: 0.3}
//	fit-options: {steps: 20}
//
// A command is a list of a program and its arguments, which no shell reads. It runs in
// the folder of the file. In its arguments stand {model}, the file of the model;
// {examples}, the folder of the examples; {options} and {fit-options}, the options as
// JSON.
//
// With signal, a request names a NumPy file with the recording at the rate, and in the
// band if there is one, in hertz: a Butterworth band-pass of second order, run forwards
// and backwards. "rate: recorded" is the rate of the recording; 1000 is the default.
// With "audio: path" in its place, a request names the audio file as it is.
//
// With "labels: true", a request holds what the data set says of the recording. A
// method that reads labels knows more than the sound: say so with its scores.
//
// Options are declared with their default values: numbers, texts, true or false, lists
// of numbers or of texts. --option key=value sets one, --fit-option one of the fit.
//
// The plan of a run holds a digest of the file, of all files under files, and of the
// files beside it that the commands name. List what else the program reads, so that a
// change does not pass unseen.
//
// # Requests and answers
//
// A request (here in two lines), and an answer to it:
//
//	{"recording": "a1", "signal": "/tmp/…/signal.npy", "rate": 1000, "duration": 3.2,
//	 "labels": {"age": "Child"}}
//	{"recording": "a1", "intervals": [["S1", 0.02, 0.13], ["S2", 0.34, 0.43]]}
//
// With "audio: path" there is "audio" in place of "signal" and "rate". Labels without a
// value are left out. The signal file is there until the answer.
//
// An answer repeats the recording, and has one of these:
//
//   - intervals: [state, start, end], in seconds, in their order. The states are S1,
//     systole, S2 and diastole. Either each begins where the one before ends, and all
//     follow each other in the order of the cycle; or all are S1 and S2 in turn, and
//     what lies between is systole and diastole. Times that differ by a millisecond are
//     the same. Before the first and behind the last interval silence goes on to the
//     end of the recording; no sound is added.
//   - points, with "answers: points": [sound, time], the middle of each S1 and S2, in
//     seconds, in their order. With "durations: {S1: 0.12, S2: 0.1}" in the file each
//     becomes an interval around the point, and the rules of intervals hold: S1 and S2
//     in turn, and none may touch the next. Without durations, only the middles of
//     sounds are scored.
//   - error: why there is no segmentation, as in {"recording": "a1", "error": "no beat"}.
//
// It may have a confidence from 0 to 1.
//
// A whole program in Python is this:
//
//	import json, sys
//	import numpy as np
//
//	for line in sys.stdin:
//	    request = json.loads(line)
//	    x = np.load(request["signal"])
//	    sounds = find_sounds(x, request["rate"])  # [("S1", 0.02, 0.13), …]
//	    print(json.dumps({"recording": request["recording"], "intervals": sounds}), flush=True)
//
// Standard output is for answers alone, one line each, flushed at once; messages belong
// on standard error. The program ends when its standard input does. Python's json writes
// no NumPy numbers: convert them with float.
//
// # Faults
//
// A fault costs its recording and never the run. The row of the recording says what
// happened, with the last lines of standard error: a command that does not start, an end
// before or in an answer, a line that is no answer, one of more than 16 MB, an answer to
// another recording, no answer within the time limit. The process is then killed, and the
// next recording gets a new one. Where a process has answered before, the recording itself
// is given to a new process first, and only what that does counts; the run tells how often.
// An answer with wrong content (states, order, times, numbers that are not finite) costs
// its recording too, and the process goes on.
//
// The program runs in a process group of its own, with a private folder (TMPDIR) for
// temporary files that is removed at its end. All processes that it has started end with
// it: at the end of the run, at the time limit, and when the run is stopped. On Linux this
// reaches processes outside the group as well, if they keep TMPDIR in their environment, and
// the program is killed when phonocycle is; its private folder and its own children then stay.
// On other systems it then finds the end of its standard input. On Windows only the program
// itself is killed.
//
// # The same result every time
//
// A program must answer from the request alone: which process gets which recordings, and
// in which order, depends on the number of workers. Nothing may be carried from one
// recording to the next, random numbers need a seed that is set for each recording, and
// nothing may depend on the clock or on the path of the signal. There is a process for
// each worker, and in a cross-validation one for each worker and fold; a library with
// threads of its own is best told to use one, as in
// [env, OMP_NUM_THREADS=1, python3, envelope.py].
//
// # Fits
//
// The folder of examples holds examples.jsonl, with a line for each recording of the
// training people: a request with the person and the annotated intervals. Stretches that
// nobody annotated have none.
//
//	{"recording": "a1", "signal": "/tmp/…/000001.npy", "rate": 1000, "duration": 3.2,
//	 "person": "p1", "intervals": [["S1", 0.02, 0.13], ["systole", 0.13, 0.31], …]}
//
// The program writes its model, of up to 32 MB, to the file {model} and ends with status 0.
// Its messages are shown as the progress of the fit. The examples take 8 kB per second of
// audio at 1 kHz in the folder for temporary files.
//
// Only the person who starts a run names a program: with --method, or in a run
// configuration. No data set and no layout can.
package program
