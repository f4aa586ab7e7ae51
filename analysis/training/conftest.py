"""Examples of this room run only where torch is installed."""

from importlib.util import find_spec

collect_ignore_glob = [] if find_spec("torch") else ["*.py"]
