"""A database's tables beside those that the code describes."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext

from server.store.tables import METADATA


def differences(connection: sa.Connection, *, defaults: bool = False) -> list[Any]:
    """What a step would have to add, take away or change, the values that columns begin with among it where asked; what
    is described for another database than this is left out, as when tables are made."""

    def of_this(described: Any, _name: Any, _sort: str, _reflected: bool, _other: Any) -> bool:
        condition = getattr(described, "_ddl_if", None)
        return condition is None or condition.dialect == connection.dialect.name

    opts = {"compare_type": True, "compare_server_default": defaults, "include_object": of_this}
    return list(compare_metadata(MigrationContext.configure(connection, opts=opts), METADATA))
