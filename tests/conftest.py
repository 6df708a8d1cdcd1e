"""For all tests: one thread for small matrices, a cache that is nobody's, no clock.

A busy machine is no fault of what is tested: hypothesis neither times an example nor complains
that making one takes long. No test says otherwise for itself (tests/test_no_deadlines.py).
"""

import atexit
import os
import shutil
import tempfile

from hypothesis import HealthCheck, settings

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

_CACHE = tempfile.mkdtemp(prefix="coldcheck-tests-")
os.environ["XDG_CACHE_HOME"] = _CACHE
atexit.register(shutil.rmtree, _CACHE, ignore_errors=True)

settings.register_profile("coldcheck", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("coldcheck")
