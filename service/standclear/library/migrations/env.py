"""Run by Alembic for each command; the connection is handed in by ``library/migrate.py``."""

from alembic import context

from standclear.library.schema import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    transactional_ddl=True,
)
# One BEGIN around all of it: SQLite's own driver does not begin before DDL.
context.get_bind().exec_driver_sql("BEGIN IMMEDIATE")
with context.begin_transaction():
    context.run_migrations()
