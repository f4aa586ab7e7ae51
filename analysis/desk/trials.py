"""What improves the finish: comparisons, and what they are worth."""

from __future__ import annotations

from analysis.trials.answer import comparison_keys, comparison_words
from analysis.trials.compare import compare

__all__ = ["compare", "comparison_keys", "comparison_words"]
