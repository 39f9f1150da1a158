#!/usr/bin/python3
"""lists_disjoint.py: nothing is tuned on the check words.

Every word of words_tuning.txt has a hash (FNV-1a, 32 bits) that is 0 or 1 modulo 5, every word of words_check_*.txt one that is
not; no word stands twice; no digit stands anywhere; each check list has 100 words and there are at least 300 in all."""
import glob
import os
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
DIGITS = "zero one two three four five six seven eight nine".split()


def fnv1a(word):
    h = 2166136261
    for byte in word.encode():
        h = (h ^ byte) * 16777619 & 0xffffffff
    return h


def words(path):
    return open(path, encoding="utf-8").read().split()


def main():
    tuning = words(os.path.join(HERE, "words_tuning.txt"))
    lists = {os.path.basename(p): words(p) for p in sorted(glob.glob(os.path.join(HERE, "words_check_*.txt")))}
    check = [w for l in lists.values() for w in l]
    bad = [f"{w}: a tuning word by place, a check word by hash" for w in tuning if fnv1a(w) % 5 >= 2]
    bad += [f"{w}: a check word by place, a tuning word by hash" for w in check if fnv1a(w) % 5 < 2]
    bad += [f"{w}: in both lists" for w in set(tuning) & set(check)]
    bad += [f"{w}: stands twice" for w in set(tuning + check) if (tuning + check).count(w) > 1]
    bad += [f"{w}: a digit" for w in tuning + check if w in DIGITS]
    bad += [f"{n}: {len(l)} words instead of 100" for n, l in lists.items() if len(l) != 100]
    bad += ["fewer than 300 check words"] if len(check) < 300 else []
    print("\n".join(bad + [f"{len(tuning)} tuning words, {len(check)} check words in {len(lists)} lists: {len(bad)} problems"]))
    return 1 if bad else 0


sys.exit(main())
