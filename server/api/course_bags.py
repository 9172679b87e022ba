"""The bag for a course."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from flask.views import MethodView
from flask_smorest import Blueprint
from marshmallow import fields, validate

from server.analysis.course_bag.course import LONGER_YD
from server.analysis.plan.solve import Progress
from server.api.answers import Query
from server.api.asking import asked
from server.api.bodies import StrictParser
from server.api.plan_answers import hole_number, mapped_course, plan_answer, plan_key
from server.api.plans import within
from server.game import ranges
from server.questions.question import Question
from server.records.fields import Text
from server.records.typed_schemas import schema_of
from server.reports.course_bag import LEAST_LONGER_YD, MOST_LONGER_YD, BagAsked, course_bag_document
from server.reports.course_bag_rows import CourseBagDocument
from server.store.frames import clubs_in_use

blueprint = Blueprint("course_bags", "course_bags", url_prefix="/api/players", description="The bag for a course")
blueprint.ARGUMENTS_PARSER = StrictParser()


class CourseBagQuery(Query):
    """Which course, from which tees, on which holes; `hole` may be repeated."""

    course_id = fields.UUID(required=True, metadata={"range": "a UUID"})
    tees = Text(60)
    holes = fields.List(
        hole_number(),
        data_key="hole",
        validate=validate.Length(max=ranges.MOST_HOLES, error="has too many entries"),
        metadata={"range": f"numbers from 1 to {ranges.MOST_HOLES}"},
    )
    longer_yd = within(LEAST_LONGER_YD, MOST_LONGER_YD, "yd", load_default=LONGER_YD)
    baseline = Text(80, 1)


@blueprint.route("/<uuid:player_id>/course-bag")
class CourseBag(MethodView):
    """The bag for a course."""

    @blueprint.arguments(CourseBagQuery, location="query")
    @blueprint.response(200, schema_of(CourseBagDocument))
    @blueprint.alt_response(404, description="No such player, course or baseline")
    @blueprint.alt_response(422, description="A course, hole or club that cannot be compared, with the reason")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: dict[str, Any], player_id: UUID) -> Any:
        """Which fourteen clubs cost the fewest strokes over the mapped holes, what each is worth there with an
        interval, and what longer or tighter clubs, one more wedge and the baseline's putting would save."""
        with asked(player_id, Question(baseline=query.get("baseline"))) as put:
            player, found = put.player, put.snapshot()  # which asks for the competition lock before anything else
            key = plan_key(put, query)
            course, maps = mapped_course(put, str(query["course_id"]))
            owned = clubs_in_use(put.connection, player.player_id)
        holes = tuple(query["holes"]) if "holes" in query else None
        wanted = BagAsked(query.get("tees"), query["longer_yd"], holes)

        def make(progress: Progress | None) -> CourseBagDocument:
            return course_bag_document(
                player, found.chosen.valued, found.baseline, course, maps, owned, wanted, progress
            )

        return plan_answer(key, schema_of(CourseBagDocument), make)
