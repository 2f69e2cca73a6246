"""When knocks are heard: raw samples on standard input, the system's clock at each on standard output.

Reads 48 kHz, one channel, 32-bit floats, as `parec --raw --format=float32le --rate=48000 --channels=1` gives them. Every
piece that arrives is stamped; its last sample was made no later than that. The least lateness over a stretch of 10 s is
taken off, so that what is left is the recorder's own delay and the knock's.
"""

import collections
import struct
import sys
import time

RATE = 48_000
LOUD = 0.02
QUIET_S = 0.5


def main() -> None:
    seen, quiet = 0, RATE
    stamps = collections.deque()  # (samples so far, clock)
    while True:
        piece = sys.stdin.buffer.read1(4096)
        now = time.time()
        if not piece:
            return
        count = len(piece) // 4
        stamps.append((seen + count, now))
        while stamps[0][1] < now - 10.0:
            stamps.popleft()
        for k, value in enumerate(struct.unpack(f"<{count}f", piece[: 4 * count])):
            if abs(value) > LOUD:
                if quiet > QUIET_S * RATE:
                    start = min(clock - samples / RATE for samples, clock in stamps)
                    print(f"{start + (seen + k) / RATE:.6f}", flush=True)
                quiet = 0
            else:
                quiet += 1
        seen += count


if __name__ == "__main__":
    main()
