# praat --run measure.praat JOBS
# JOBS: a table, tab-separated, with the columns what file from to low high. Prints a line for each row:
#   formants  medians of F1 F2 F3 from..to (Burg, 4 formants up to 4600 Hz, windows of 25 ms, emphasis from 50 Hz)
#   pitch     mean pitch from..to (autocorrelation, 60 to 250 Hz)
#   gravity   centre of gravity of the power spectrum from..to, band low..high
#   level     rms from..to, dB of full scale
form Measure
    sentence jobs
endform
Read Table from tab-separated file: jobs$
table = selected ("Table")
rows = Get number of rows
last$ = ""
clearinfo
for row to rows
    selectObject: table
    what$ = Get value: row, "what"
    file$ = Get value: row, "file"
    begin = Get value: row, "from"
    end = Get value: row, "to"
    low = Get value: row, "low"
    high = Get value: row, "high"
    sound = Read from file: file$
    if what$ = "formants"
        tool = noprogress To Formant (burg): 0, 4, 4600, 0.025, 50
        f1 = Get quantile: 1, begin, end, "hertz", 0.5
        f2 = Get quantile: 2, begin, end, "hertz", 0.5
        f3 = Get quantile: 3, begin, end, "hertz", 0.5
        appendInfoLine: f1, " ", f2, " ", f3
    elsif what$ = "pitch"
        tool = noprogress To Pitch (ac): 0, 60, 15, "yes", 0.03, 0.45, 0.01, 0.35, 0.14, 250
        mean = Get mean: begin, end, "Hertz"
        appendInfoLine: fixed$ (mean, 6)
    elsif what$ = "gravity"
        part = Extract part: begin, end, "Hanning", 1, "no"
        tool = To Spectrum: "yes"
        Formula: ~if x < low or x > high then 0 else self endif
        gravity = Get centre of gravity: 2
        appendInfoLine: gravity
        removeObject: part
    else
        tool = Copy: "level"
        rms = Get root-mean-square: begin, end
        appendInfoLine: 20 * log10 (rms)
    endif
    removeObject: sound, tool
endfor
