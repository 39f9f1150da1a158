#!/usr/bin/env python3
"""The library from Python, with nothing but the standard library: the same samples as hello.c.

    hello.py FILE.wav       HYOID_LIBRARY names libhyoid.so.0 if the system does not find it
"""
import array
import ctypes as c
import os
import struct
import sys

ON_REQUEST = -(2**63)
RATE = 48000


class Input(c.Structure):
    _fields_ = [("ps", c.c_int64), ("end_ps", c.c_int64), ("hz", c.c_double), ("kind", c.c_uint32), ("value", c.c_uint32)]


LATCH = c.CFUNCTYPE(None, c.c_void_p, c.c_uint64, c.c_int64, c.c_uint)


class Setup(c.Structure):
    _fields_ = [("part", c.c_void_p), ("rate", c.c_uint32), ("relaxed", c.c_uint32),
                ("ring", c.POINTER(c.c_float)), ("ring_room", c.c_size_t),
                ("queue", c.POINTER(Input)), ("queue_room", c.c_size_t),
                ("user", c.c_void_p), ("frames", c.c_void_p), ("level", c.c_void_p), ("latch", LATCH),
                ("request", c.c_void_p)]


def load():
    lib = c.CDLL(os.environ.get("HYOID_LIBRARY", "libhyoid.so.0"))
    lib.hyoid_part_default.restype = c.c_void_p
    lib.hyoid_pull_size.restype = c.c_size_t
    lib.hyoid_status_text.restype = c.c_char_p
    lib.hyoid_version.restype = c.c_uint32
    lib.hyoid_pull_init.argtypes = [c.c_void_p, c.POINTER(Setup)]
    lib.hyoid_pull_write.argtypes = [c.c_void_p, c.c_int64, c.c_uint]
    lib.hyoid_pull_frames.argtypes = [c.c_void_p, c.POINTER(c.c_float), c.c_size_t]
    return lib


def main():
    lib = load()

    def check(status):
        if status != 0:
            sys.exit("hyoid: " + lib.hyoid_status_text(status).decode())

    latched = []
    on_latch = LATCH(lambda user, cycle, ps, code: latched.append((cycle, code)))
    ring, queue = (c.c_float * 1)(), (Input * 8)()
    pull = (c.c_uint64 * ((lib.hyoid_pull_size() + 7) // 8))()  # 8 bytes apart: aligned for doubles
    setup = Setup(lib.hyoid_part_default(), RATE, 0, ring, 1, queue, 8, None, None, None, on_latch, None)
    check(lib.hyoid_pull_init(pull, c.byref(setup)))
    for code in (0x1B, 0x02, 0x18, 0x35, 0x3E):
        check(lib.hyoid_pull_write(pull, ON_REQUEST, code))
    sound = (c.c_float * RATE)()
    check(lib.hyoid_pull_frames(pull, sound, RATE))
    version = lib.hyoid_version()
    print(f"hyoid {version // 10000}.{version // 100 % 100}.{version % 100}: latches {latched}")

    data = array.array("f", sound)
    if sys.byteorder == "big":
        data.byteswap()
    data = data.tobytes()
    with open(sys.argv[1] if len(sys.argv) > 1 else "hello.wav", "wb") as file:  # module wave knows no float
        file.write(struct.pack("<4sI8sIHHIIHH4sI", b"RIFF", 36 + len(data), b"WAVEfmt ", 16, 3, 1, RATE, 4 * RATE, 4, 32,
                               b"data", len(data)) + data)


main()
