"""Baselines of expected strokes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from flask import abort, current_app
from flask.views import MethodView
from flask_smorest import Blueprint

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.files import shipped_ids
from server.api.answers import BaselineAbout, BaselineCurves, BaselineList, ExpectedCurve
from server.api.authorization import caller
from server.questions.own_baselines import own_folder, own_ids, players_in
from server.questions.valued_shots import baseline_by_id
from server.records.typed_schemas import schema_of

blueprint = Blueprint("baselines", "baselines", url_prefix="/api/baselines", description="Expected strokes")


def named_baseline(baseline_id: str) -> Baseline:
    """A shipped baseline, or an own one that the caller may see, or a 404. Only ids are looked up, never paths."""
    known = known_ids()
    if baseline_id not in known:
        abort(404, description=f"There is no baseline {baseline_id!r}; there is {', '.join(known)}.")
    return baseline_by_id(baseline_id, own_baselines_folder())


def known_ids() -> list[str]:
    """The shipped baselines, then the own ones that hold shots of a player whom the caller may read."""
    readable = caller().readable
    folder = own_baselines_folder()
    own = [name for name in own_ids(folder) if readable is None or players_in(folder / f"{name}.toml") & readable]
    return [*shipped_ids(), *own]


def own_baselines_folder() -> Path:
    """Where baselines of one's own lie."""
    return own_folder(str(current_app.config["DATABASE"]), current_app.config.get("BASELINES"))


def _about(baseline: Baseline) -> BaselineAbout:
    about = baseline.about
    return {"id": about.id, "title": about.title, "version": about.version, "source": about.source}


@blueprint.route("")
class Baselines(MethodView):
    """All baselines."""

    @blueprint.response(200, schema_of(BaselineList))
    def get(self) -> Any:
        """List the baselines."""
        return {"baselines": [_about(named_baseline(name)) for name in known_ids()]}


@blueprint.route("/<string:baseline_id>")
class OneBaseline(MethodView):
    """One baseline."""

    @blueprint.response(200, schema_of(BaselineCurves))
    def get(self, baseline_id: str) -> Any:
        """A baseline with its curves: straight lines between the knots, `slope_beyond` strokes a yard after the last;
        outside `printed_from` to `printed_to` a value is extended."""
        baseline = named_baseline(baseline_id)
        curves: dict[str, ExpectedCurve] = {
            lie: {
                "distance_yd": curve.distance_yd.tolist(),
                "expected": curve.expected.tolist(),
                "printed_from": curve.printed_from,
                "printed_to": curve.printed_to,
                "slope_beyond": curve.slope_beyond,
            }
            for lie, curve in baseline.curves.items()
        }
        return {**_about(baseline), "curves": curves}
