"""Expected strokes: baselines read, checked, interpolated and fitted."""

from __future__ import annotations

from server.analysis.expected_strokes.baseline import Baseline, load_baseline

__all__ = ["Baseline", "load_baseline"]
