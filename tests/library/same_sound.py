#!/usr/bin/env python3
"""Are the samples of two WAV files the same, bit for bit?  same_sound.py A.wav B.wav"""
import struct
import sys


def samples(path):
    data = open(path, "rb").read()
    if data[:4] != b"RIFF" or data[8:12] != b"WAVE":
        sys.exit(f"{path} is no WAV file")
    at, found = 12, {}
    while at + 8 <= len(data):
        name, size = struct.unpack("<4sI", data[at:at + 8])
        found[name] = data[at + 8:at + 8 + size]
        at += 8 + size + size % 2
    kind, channels, rate = struct.unpack("<HHI", found[b"fmt "][:8])
    bits = struct.unpack("<H", found[b"fmt "][14:16])[0]
    if channels != 1 or bits != 32 or kind not in (3, 0xFFFE):
        sys.exit(f"{path} is not one channel of 32-bit float")
    return rate, found[b"data"]


a, b = samples(sys.argv[1]), samples(sys.argv[2])
if a[0] != b[0] or len(a[1]) != len(b[1]):
    sys.exit(f"{a[0]} Hz, {len(a[1]) // 4} samples against {b[0]} Hz, {len(b[1]) // 4}")
for i in range(0, len(a[1]), 4):
    if a[1][i:i + 4] != b[1][i:i + 4]:
        sys.exit(f"sample {i // 4} differs")
if not any(a[1]):
    sys.exit("silence")
print(f"{len(a[1]) // 4} samples at {a[0]} Hz, all the same")
