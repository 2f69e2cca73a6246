"""Times of rest-to-rest moves by the `ruckig` package, all degrees of freedom on one straight line.

Reads lines `d1,d2,.. v1,v2,.. a1,a2,.. j1,j2,..` from standard input. Prints for each the duration and, for each
degree of freedom, its position at a quarter and a half of it.
"""

import sys

import ruckig

for line in sys.stdin:
    d, v, a, j = ([float(x) for x in field.split(",")] for field in line.split())
    given = ruckig.InputParameter(len(d))
    given.current_position = [0.0] * len(d)
    given.target_position = d
    given.max_velocity = v
    given.max_acceleration = a
    given.max_jerk = j
    given.synchronization = ruckig.Synchronization.Phase
    path = ruckig.Trajectory(len(d))
    result = ruckig.Ruckig(len(d), 0.001).calculate(given, path)
    assert result in (ruckig.Result.Working, ruckig.Result.Finished), (line, result)
    numbers = [path.duration]
    for share in (0.25, 0.5):
        numbers += path.at_time(share * path.duration)[0]
    print(" ".join(repr(x) for x in numbers))
