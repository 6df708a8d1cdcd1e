"""For all tests: one thread for small matrices, and a cache that is nobody's."""

import atexit
import os
import shutil
import tempfile

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

_CACHE = tempfile.mkdtemp(prefix="coldcheck-tests-")
os.environ["XDG_CACHE_HOME"] = _CACHE
atexit.register(shutil.rmtree, _CACHE, ignore_errors=True)
