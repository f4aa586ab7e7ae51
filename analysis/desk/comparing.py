"""Compare levels of a factor: what the screens and the command line call."""

from __future__ import annotations

from analysis.trials.answer import comparison_keys, sentence
from analysis.trials.compare import compare

__all__ = ["compare", "comparison_keys", "sentence"]
