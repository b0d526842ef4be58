"""The service's own settings and its paired sessions."""

from datetime import datetime
from typing import Any

from sqlalchemy import delete, select
from sqlalchemy.dialects.sqlite import insert

from standclear.clock import Clock
from standclear.library.database import Database
from standclear.library.records import Session
from standclear.library.schema import SessionRow, SettingRow


class Settings:
    """Small values by name, and sessions by the hash of their token."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    def setting(self, name: str) -> Any:
        """A value (JSON); ``None`` where it was never put."""
        with self._database.read() as c:
            return c.scalar(select(SettingRow.value).where(SettingRow.name == name))

    def put_setting(self, name: str, value: Any) -> None:
        """Keep a value (JSON) under a name."""
        with self._database.write("recording the setting") as write:
            statement = insert(SettingRow).values(name=name, value=value)
            write.connection.execute(
                statement.on_conflict_do_update(
                    index_elements=["name"], set_={"value": statement.excluded.value}
                )
            )

    def add_session(self, token_hash: str, name: str, expires_at: datetime) -> Session:
        """Let a remote in until then. Sessions that have expired are forgotten."""
        now = self._clock.now()
        with self._database.write("recording the session") as write:
            c = write.connection
            c.execute(delete(SessionRow).where(SessionRow.expires_at < now))
            c.execute(
                insert(SessionRow).values(
                    token_hash=token_hash, name=name, created_at=now, expires_at=expires_at
                )
            )
        return Session(token_hash, name, now, expires_at)

    def session(self, token_hash: str) -> Session | None:
        """The session with that token, unless it has expired."""
        with self._database.read() as c:
            row = c.execute(
                select(SessionRow).where(SessionRow.token_hash == token_hash)
            ).one_or_none()
        if row is None or row.expires_at <= self._clock.now():
            return None
        return Session(row.token_hash, row.name, row.created_at, row.expires_at)

    def sessions(self) -> list[Session]:
        """All sessions, oldest first."""
        with self._database.read() as c:
            found = c.execute(select(SessionRow).order_by(SessionRow.created_at)).all()
        return [Session(r.token_hash, r.name, r.created_at, r.expires_at) for r in found]

    def remove_session(self, token_hash: str) -> None:
        """Let it in no longer; no error when it is gone already."""
        with self._database.write("removing the session") as write:
            write.connection.execute(delete(SessionRow).where(SessionRow.token_hash == token_hash))
