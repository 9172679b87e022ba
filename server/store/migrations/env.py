"""Runs the numbered steps on the connection that `server.store.engine.migrate` hands over."""

from alembic import context

import server.store.account_tables  # noqa: F401
from server.store.tables import METADATA

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=METADATA, transactional_ddl=False)
context.run_migrations()
