# praat --run textgrid.praat FILE.TextGrid
# Prints the end time, and for each tier its name and the number of intervals or points. Fails if Praat can't read the file.
form Read labels
    sentence file
endform
Read from file: file$
end = Get end time
writeInfoLine: "end ", fixed$ (end, 12)
tiers = Get number of tiers
for tier to tiers
    name$ = Get tier name: tier
    interval = Is interval tier: tier
    if interval
        count = Get number of intervals: tier
        appendInfoLine: name$, " intervals ", count
    else
        count = Get number of points: tier
        appendInfoLine: name$, " points ", count
    endif
endfor
