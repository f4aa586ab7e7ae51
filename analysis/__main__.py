"""Entry point of ``python -m analysis``."""

import gc
import os
import sys

# Before NumPy is read: threads of linear algebra wait in a busy loop between tasks as
# small as a verb's, and take the processor's time for nothing.
for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

from analysis.cli import main  # noqa: E402 - as above

# A verb makes what it reads once and keeps it to its end: looking again and again for
# what could be thrown away costs a large log a tenth of its time.
_MADE_BETWEEN_LOOKS = 100_000

if __name__ == "__main__":
    gc.set_threshold(_MADE_BETWEEN_LOOKS)
    sys.exit(main(sys.argv[1:]))
