#!/bin/sh
# Makes the WAV files of this folder with sox, which shares no code with the
# decoder under test. Run it in this folder.
#
# Made with: SoX v14.4.2 (Debian 12)
#
# Sample n of channel c, from 1, is sin(2π·100(c+1)·n/8000)/2 unless noted. -D
# turns dither off, so that every value is the tone rounded to the encoding; sox
# computes in 32-bit integers, which bounds what the wider encodings hold. The
# rate stands before -n, lest the tone be made at 48 kHz and resampled.
set -eu

tone() { # rate, frames, options and name of the output; frequencies
	rate=$1 frames=$2 out=$3
	shift 3
	synth=
	for f in "$@"; do synth="$synth sine $f"; done
	# shellcheck disable=SC2086
	sox -D -r "$rate" -n $out synth "${frames}s" $synth vol 0.5
}

# One file an encoding. sox writes 24 and 32 bits of PCM under the extensible
# tag, and under the plain one for the type wavpcm.
tone 8000 401 "-e unsigned -b 8 uint8.wav" 200
tone 8000 400 "-e signed -b 16 int16.wav" 200
tone 8000 401 "-e signed -b 24 int24_extensible.wav" 200
tone 8000 401 "-t wavpcm -e signed -b 24 int24.wav" 200
tone 8000 400 "-e signed -b 32 int32_extensible.wav" 200
tone 8000 400 "-t wavpcm -e signed -b 32 int32.wav" 200
tone 8000 400 "-e float -b 32 float32.wav" 200
tone 8000 400 "-e float -b 64 float64.wav" 200

# Channels.
tone 8000 200 "-e signed -b 16 int16_2ch.wav" 200 300
tone 8000 201 "-e unsigned -b 8 uint8_3ch_extensible.wav" 200 300 400
tone 8000 200 "-e float -b 32 float32_6ch.wav" 200 300 400 500 600 700

# The ends of the range of rates, with a tone at a fortieth of the rate.
tone 500 400 "-e signed -b 16 rate500.wav" 12.5
tone 192000 400 "-e signed -b 16 rate192000.wav" 4800

# What is not read: each must be named.
tone 8000 400 "-e a-law alaw.wav" 200
tone 8000 400 "-e mu-law mulaw.wav" 200
tone 8000 1000 "-e ms-adpcm msadpcm.wav" 200
tone 8000 1010 "-e ima-adpcm imaadpcm.wav" 200
tone 8000 320 "-e gsm gsm.wav" 200
tone 8000 20 "-B -e signed -b 16 rifx.wav" 200
tone 8000 20 "-t au -e signed -b 16 au.wav" 200
tone 8000 20 "-t w64 -e signed -b 16 wave64.wav" 200
tone 8000 20 "-t flac -b 16 flac.wav" 200
tone 499 20 "-e signed -b 16 rate499.wav" 12.5
