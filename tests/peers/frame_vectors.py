"""Builds the frames of controller/vectors.txt a second time, from the tables of docs/frame.md, with struct and zlib."""

import struct
import zlib


def frame(kind, legs, session, sequence, time_us, body):
    length = 24 + len(body) + 4
    head = struct.pack("<2sBBHBBIIQ", b"Cu", 2, kind, length, legs, 0, session, sequence, time_us)
    return head + body + struct.pack("<I", zlib.crc32(head + body))


def order():
    body = struct.pack("<QBBHI", 5_000_002_123, 2, 0b10, 20, 3_100)
    body += struct.pack("<qiI", 541_250_001, -120_500, 980_000)
    body += struct.pack("<qiI", -7, 1, 2**32 - 1)
    return frame(2, 2, 0xA1B2C3D4, 70_000, 5_000_000_123, body)


def feedback():
    closed, unknown, opened = 2, 0, 1
    inputs = closed | closed << 2 | opened << 4 | unknown << 6 | closed << 8
    body = struct.pack("<QIBBHBBBBI", 5_000_000_123, 70_000, 6, 1, inputs, 1, 4, 1, 0, 3)
    body += struct.pack("<qiihH", 541_249_500, -120_000, 612_345, 413, 1 | 2)
    body += struct.pack("<qiihH", 541_249_500, -120_000, -1, -5, 32)
    return frame(3, 2, 0xA1B2C3D4, 9, 77, body)


def identity():
    body = struct.pack("<IIQ32sQQ", 2000, 0x00010203, 99, b"Larkfield no 1", 0x1122334455667788, 42)
    return frame(4, 2, 1, 2, 3, body)


print("# Frames of the open link, docs/frame.md: name, then every byte in hexadecimal.")
for name, value in [("hello", frame(1, 0, 1, 0, 3, b"")), ("order", order()), ("feedback", feedback()), ("identity", identity())]:
    print(name, value.hex())
