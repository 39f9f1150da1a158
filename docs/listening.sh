#!/bin/sh
# The listening page, drawn anew: pictures of the demo scores and of a word list, and the page that shows them.
#
#   sh docs/listening.sh [FOLDER [SOUNDS]]
#
# Writes FOLDER/listening.md and FOLDER/pictures/*.png (default: docs), and with SOUNDS the WAVs to hear beside them.
# HYOID names the program (default: build/hyoid); with PART every rendering uses that part folder.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
hyoid=${HYOID:-$here/../build/hyoid}
folder=${1:-$here}
if [ ! -x "$hyoid" ]; then
    echo "listening.sh: $hyoid is not there; build it first (cmake --build build), or name it: HYOID=... sh docs/listening.sh" >&2
    exit 2
fi
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
mkdir -p "$folder/pictures"

# The word list: a word a line; each is a sentence of its own, with a mark at its start.
: >"$work/explained"
while read -r word; do
    printf 'mark %s\n' "$word"
    "$hyoid" spell "$word."
    "$hyoid" spell --explain "$word." | awk 'NR == 2' >>"$work/explained"
done <"$here/words.txt" >"$work/words.score"

for name in hour storm mutter words; do
    score=$here/scores/$name.score
    [ "$name" != words ] || score=$work/words.score
    "$hyoid" render "$score" -q ${PART:+--part "$PART"} -o "$work/$name.wav" --picture "$work/$name.png"
done

# Everything is there: now it may replace what was there before.
for name in hour storm mutter words; do
    cp "$work/$name.png" "$folder/pictures/$name.png"
done
if [ $# -ge 2 ]; then
    mkdir -p "$2"
    cp "$work"/*.wav "$2"
fi

{
    cat <<'END'
<!-- Written by docs/listening.sh; change it there. -->
# Listening

Pictures of what `hyoid` says, to be read while one listens. Each shows the spectrum over time, raised by 6 dB an octave so that the upper formants show, with the phonemes above it; below it the signal, the request line and the clock. Hear them:

    sh docs/listening.sh docs out          # draws this page anew and leaves the sounds in out/
    aplay out/hour.wav                     # start quietly, above all with headphones

The built-in part is an **estimate** from published, recalled and fitted figures, not a reading of any chip. How your own part sounds: `PART=my/part sh docs/listening.sh mine mine`.

What to look for:

- The dark bands that move are formants: F1 lowest, then F2 and F3; the line that stays is the fixed resonance.
- Fine vertical lines are pulses of the voice. They lie closer when the pitch is higher.
- Grey clouds are noise: *s* high up, *sh* lower, *hh* where the formants are.
- A stop is a gap and then a burst. The gate closes a little after its phoneme begins.
- Request falls when a phoneme is latched and rises when its time is over. Where it stays low from one phoneme to the next, the host did not wait.
- Where the clock moves, everything moves: pitch, formants and tempo go together.

## hour

The tide clock of a small harbour museum tells the hour and the tide: *It is four o'clock. The tide is rising. High water at six.* ([score](scores/hour.score))

![Spectrogram of hour](pictures/hour.png)

## storm

A storm warning: each phoneme is cut after 80 ms, the clock bends upward, and at the end it falls to nothing. *Storm warning. Storm warning. All boats come in.* The dark lines that fan out as the clock falls are the images of the chip's staircase. ([score](scores/storm.score))

![Spectrogram of storm](pictures/storm.png)

## mutter

Nobody feeds it coins: random syllables from a seed, a yawn that bends the clock down and back, and three low repeats. ([score](scores/mutter.score))

![Spectrogram of mutter](pictures/mutter.png)

## Words

A list of words ([words.txt](words.txt)), spoken from their spelling by `hyoid spell`, each as a sentence that falls at its end:

END
    printf '    %s\n' 'word              phones                      codes'
    awk '{ printf "    %s%s\n", substr($0, 1, 18), substr($0, 35) }' "$work/explained"
    cat <<'END'

![Spectrogram of the words](pictures/words.png)

## More to look at

    hyoid chart --picture chart.png                  # the vowels in their plane, and all 64 codes
    hyoid sweep docs/scores/hour.score --clock 500k..1.1M --steps 7 --picture sweep.png
END
} >"$work/listening.md"
cp "$work/listening.md" "$folder/listening.md"
echo "Wrote $folder/listening.md and its pictures: $(cat "$folder"/pictures/hour.png "$folder"/pictures/storm.png \
    "$folder"/pictures/mutter.png "$folder"/pictures/words.png | wc -c) bytes"
