"""SplitMix64 from the paper's formula (Steele, Lea, Flood, OOPSLA 2014), in Python's own integers."""
import json
import sys

MASK = 2**64 - 1
asked = json.load(sys.stdin)
state = int(asked["seed"])
drawn = []
for _ in range(asked["count"]):
    state = (state + 0x9E3779B97F4A7C15) & MASK
    z = state
    z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & MASK
    z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & MASK
    drawn.append(str(z ^ (z >> 31)))
json.dump(drawn, sys.stdout)
