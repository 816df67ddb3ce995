"""Answers each line on standard input with the nanoseconds that a peer took."""
import io
import sys
import time

import polars

data = open(sys.argv[1], "rb").read()
for line in sys.stdin:
    start = time.perf_counter_ns()
    table = polars.read_csv(io.BytesIO(data))
    took = time.perf_counter_ns() - start
    print(took, table.height, flush=True)
