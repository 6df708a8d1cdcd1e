"""For all tests: small matrices want one thread, as the command line sets it."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
