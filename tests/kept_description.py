"""The API describes itself once in a process of tests: each further application takes the description of the first.

Making it takes two thirds of making an application, and hundreds of tests make one. The long tier makes it each time.
"""

from __future__ import annotations

from typing import Any

from flask_smorest import Blueprint

from server.api.problems import ProblemApi


def use() -> None:
    """From now on, in this process."""
    first: list[ProblemApi] = []
    describing = ProblemApi.register_blueprint

    def register(self: ProblemApi, blueprint: Blueprint, **options: Any) -> None:
        if not first:
            first.append(self)
        if self is first[0]:
            describing(self, blueprint, **options)
            return
        self.spec = first[0].spec
        self._app.extensions["flask-smorest"]["blp_name_to_api"][blueprint.name] = self
        self._app.register_blueprint(blueprint, **options)

    ProblemApi.register_blueprint = register
