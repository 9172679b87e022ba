"""Baselines of expected strokes."""

from __future__ import annotations

from typing import Any

from flask import abort
from flask.views import MethodView
from flask_smorest import Blueprint

from server.analysis.baseline_files import shipped_ids
from server.analysis.expected_strokes import Baseline
from server.api.answers import BaselineCurvesSchema, BaselinesSchema
from server.season.valued import baseline_by_id

blueprint = Blueprint("baselines", "baselines", url_prefix="/api/baselines", description="Expected strokes")


def named_baseline(baseline_id: str) -> Baseline:
    """A shipped baseline, or a 404. Only ids are looked up, never paths."""
    if baseline_id not in shipped_ids():
        abort(404, description=f"There is no baseline {baseline_id!r}; there is {', '.join(shipped_ids())}.")
    return baseline_by_id(baseline_id)


def _about(baseline: Baseline) -> dict[str, Any]:
    about = baseline.about
    return {"id": about.id, "title": about.title, "version": about.version, "source": about.source}


@blueprint.route("")
class Baselines(MethodView):
    """All baselines."""

    @blueprint.response(200, BaselinesSchema)
    def get(self) -> Any:
        """List the baselines."""
        return {"baselines": [_about(baseline_by_id(name)) for name in shipped_ids()]}


@blueprint.route("/<string:baseline_id>")
class OneBaseline(MethodView):
    """One baseline."""

    @blueprint.response(200, BaselineCurvesSchema)
    def get(self, baseline_id: str) -> Any:
        """A baseline with its curves: straight lines between the knots, `slope_beyond` strokes a yard after the last;
        outside `printed_from` to `printed_to` a value is extended."""
        baseline = named_baseline(baseline_id)
        curves = {
            lie: {
                "distance_yd": curve.distance_yd.tolist(),
                "expected": curve.expected.tolist(),
                "printed_from": curve.printed_from,
                "printed_to": curve.printed_to,
                "slope_beyond": curve.slope_beyond,
            }
            for lie, curve in baseline.curves.items()
        }
        return _about(baseline) | {"curves": curves}
