"""Following the finish over pours, and forms over their uses."""

from __future__ import annotations

from analysis.series.intake import follow
from analysis.series.output import track_json
from analysis.series.standing import standing, track_sentence, track_summary

__all__ = ["follow", "standing", "track_json", "track_sentence", "track_summary"]
