"""The API describes itself once in a process of tests: each further application takes the description of the first.
What builds the address of a route is compiled when it is first asked for, which no test does of most routes.

The two take most of making an application, and hundreds of tests make one. The long tier makes both each time.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flask_smorest import Blueprint
from werkzeug.routing import Rule

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
    _compile_when_asked()


def _compile_when_asked() -> None:
    compiling: Callable[[Rule, bool], Callable[..., tuple[str, str]]] = Rule._compile_builder

    def compile_builder(self: Rule, append_unknown: bool = True) -> Callable[..., tuple[str, str]]:
        compiled: list[Callable[..., tuple[str, str]]] = []

        def build(self: Rule, **values: Any) -> tuple[str, str]:
            if not compiled:
                compiled.append(compiling(self, append_unknown))
            return compiled[0](self, **values)

        return build

    Rule._compile_builder = compile_builder
