"""Where Alembic enters: it runs in the transaction that `api.store.schema` has begun."""

from alembic import context

from api.store.tables import METADATA

context.configure(connection=context.config.attributes["connection"], target_metadata=METADATA)
context.run_migrations()
