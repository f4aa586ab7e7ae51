"""Entry point of ``python -m analysis``."""

import gc
import sys

from analysis.cli import main

# A verb makes what it reads once and keeps it to its end: looking again and again for
# what could be thrown away costs a large log a tenth of its time.
_MADE_BETWEEN_LOOKS = 100_000

if __name__ == "__main__":
    gc.set_threshold(_MADE_BETWEEN_LOOKS)
    sys.exit(main(sys.argv[1:]))
