"""Run by Alembic: every migration due, inside the transaction that `spyhole.store.migrate` has begun."""

from alembic import context

context.configure(connection=context.config.attributes["connection"], transactional_ddl=True)
context.run_migrations()
