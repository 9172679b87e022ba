"""Strokes gained: baselines, the value of every shot, scores and summaries."""

from __future__ import annotations

from server.analysis.strokes_gained.attribution import attribute

__all__ = ["attribute"]
