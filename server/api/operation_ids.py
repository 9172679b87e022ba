"""The name of every operation in the description: a program's client calls it by this, so a name never changes."""

from __future__ import annotations

from typing import Any, Final

from apispec import BasePlugin
from werkzeug.routing import Rule

OPERATION_IDS: Final[dict[tuple[str, str], str]] = {
    ("accounts.JoinCode", "post"): "make_join_code",
    ("accounts.OneSession", "delete"): "end_session",
    ("accounts.OneToken", "delete"): "end_token",
    ("accounts.Password", "post"): "change_password",
    ("accounts.Sessions", "get"): "list_sessions",
    ("accounts.Tokens", "get"): "list_tokens",
    ("accounts.Tokens", "post"): "make_token",
    ("baselines.Baselines", "get"): "list_baselines",
    ("baselines.OneBaseline", "get"): "read_baseline",
    ("caddies.Caddies", "get"): "list_caddies",
    ("caddies.OneCaddie", "delete"): "end_caddie",
    ("caddies.RoundCaddies", "post"): "invite_caddie",
    ("caddying.Caddying", "delete"): "stop_caddying",
    ("caddying.Caddying", "get"): "read_caddying",
    ("caddying.RoundChanges", "get"): "pull_round_changes",
    ("caddying.RoundChanges", "post"): "push_round_changes",
    ("caddying.TakingUp", "post"): "take_up_caddying",
    ("changes.Changes", "get"): "pull_changes",
    ("changes.Changes", "post"): "push_changes",
    ("changes.Quarantine", "get"): "list_quarantine",
    ("evidence.Level", "get"): "read_level",
    ("evidence.Scores", "get"): "read_scores",
    ("evidence.StrokesGained", "get"): "read_strokes_gained",
    ("evidence.TrialOfTwo", "get"): "read_trial",
    ("evidence.TwoSpans", "get"): "compare_spans",
    ("importing.Import", "post"): "import_shots",
    ("importing.ImportPractice", "post"): "import_practice",
    ("invitations.Accepting", "post"): "accept_invitation",
    ("invitations.Invitations", "get"): "list_invitations",
    ("invitations.Invitations", "post"): "make_invitation",
    ("invitations.OneInvitation", "delete"): "revoke_invitation",
    ("operation.Health", "get"): "read_health",
    ("operation.Metrics", "get"): "read_metrics",
    ("operation.Ready", "get"): "read_readiness",
    ("others.Against", "get"): "read_against",
    ("others.Pair", "get"): "read_pair",
    ("others.PlayerHoles", "get"): "read_holes",
    ("others.Ranks", "get"): "read_ranks",
    ("others.SquadHoles", "get"): "read_squad_holes",
    ("own_data.Erasure", "post"): "erase_player",
    ("own_data.Everything", "get"): "read_everything",
    ("course_bags.CourseBag", "get"): "read_course_bag",
    ("plans.Distances", "get"): "read_distances",
    ("plans.HoleMaps", "get"): "read_hole_maps",
    ("plans.HoleMaps", "post"): "store_hole_maps",
    ("plans.Patterns", "get"): "read_patterns",
    ("plans.Plannable", "get"): "list_plannable_courses",
    ("plans.Strikes", "get"): "read_strikes",
    ("plans.TeePlan", "get"): "read_tee_plan",
    ("plans.TeePlan", "post"): "plan_shot",
    ("players.OnePlayer", "get"): "read_player",
    ("players.Players", "get"): "list_players",
    ("players.Record", "get"): "read_record",
    ("players.Rounds", "get"): "list_rounds",
    ("players.Scorecard", "get"): "read_scorecard",
    ("practice.AgainstCourse", "get"): "read_practice_against_course",
    ("practice.OneSession", "get"): "read_practice_session",
    ("practice.Sessions", "get"): "list_practice_sessions",
    ("practice.Targets", "get"): "read_practice_targets",
    ("priorities.Priorities", "get"): "read_priorities",
    ("putting.PartSwings", "get"): "read_part_swings",
    ("putting.Putting", "get"): "read_putting",
    ("rounds_ahead.RoundAhead", "get"): "read_round_ahead",
    ("rounds_ahead.RoundsChecked", "get"): "read_rounds_checked",
    ("season.SeasonPackage", "get"): "read_season_package",
    ("season.SeasonTable", "get"): "read_season_table",
    ("sharing.Notes", "get"): "list_notes",
    ("sharing.Notes", "post"): "write_note",
    ("sharing.OneNote", "delete"): "remove_note",
    ("sharing.OneShare", "delete"): "end_share",
    ("sharing.Shares", "get"): "list_shares",
    ("sharing.Shares", "post"): "make_share",
    ("signing_in.Join", "post"): "join_by_code",
    ("signing_in.Me", "get"): "read_me",
    ("signing_in.SignIn", "post"): "sign_in",
    ("signing_in.SignOut", "post"): "sign_out",
    ("squad.Choices", "get"): "read_choices",
    ("squad.Squad", "get"): "read_squad",
}


class OperationIds(BasePlugin):
    """Names every operation; the application does not start with a route that has no name."""

    def operation_helper(
        self, path: str | None = None, operations: dict[str, Any] | None = None, **kwargs: Any
    ) -> None:
        """Add the name to each method of a route."""
        rule: Rule = kwargs["rule"]
        for method, operation in (operations or {}).items():
            operation["operationId"] = OPERATION_IDS[rule.endpoint, method]
