# praat --run measure.praat FOLDER BEGIN END: a line for each FOLDER/NN.wav (00 to 3f):
# medians of F1 F2 F3 (Burg, 4 formants up to 4600 Hz, windows of 25 ms, emphasis from 50 Hz), level, centre of gravity.
form Measure
    sentence folder
    real begin
    real end
endform
clearinfo
strings = Create Strings as file list: "list", folder$ + "/*.wav"
Sort
count = Get number of strings
for i to count
    selectObject: strings
    name$ = Get string: i
    sound = Read from file: folder$ + "/" + name$
    rms = Get root-mean-square: begin, end
    part = Extract part: begin, end, "rectangular", 1, "no"
    spectrum = To Spectrum: "yes"
    gravity = Get centre of gravity: 2
    selectObject: sound
    formant = noprogress To Formant (burg): 0, 4, 4600, 0.025, 50
    f1 = Get quantile: 1, begin, end, "hertz", 0.5
    f2 = Get quantile: 2, begin, end, "hertz", 0.5
    f3 = Get quantile: 3, begin, end, "hertz", 0.5
    appendInfoLine: name$, " ", f1, " ", f2, " ", f3, " ", rms, " ", gravity
    removeObject: sound, part, spectrum, formant
endfor
