"""How a measurement is taken and said: ratios of one machine to itself."""

import statistics
import time


def say(name, ratio, limit):
    print(f"\n{name}: {ratio:.2f} (wanted: at most {limit}){'' if ratio <= limit else '  OVER'}")


def seconds(act, times):
    taken = []
    for _ in range(times):
        begin = time.perf_counter()
        act()
        taken.append(time.perf_counter() - begin)
    return taken


def p95(taken):
    return statistics.quantiles(taken, n=20)[-1]
