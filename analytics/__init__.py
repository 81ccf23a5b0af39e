"""Closed repair records in, failure intervals, life curves and reorder forecasts out."""

import os

# the matrices are many and small: threads of the linear algebra library cost four times what they give here
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
