"""Receipts: what was done under an Idempotency-Key, so that a repeat gets the first answer."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from standclear.clock import Clock
from standclear.errors import NotFound
from standclear.library.database import Database
from standclear.library.failures import KeyReused
from standclear.library.records import Receipt
from standclear.library.schema import ReceiptExposureRow, ReceiptRow

#: Twice what is promised (24 h), so that a clock set forward by some hours costs no receipt.
KEPT_FOR = timedelta(hours=48)


class Receipts:
    """The receipts of one library."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    def one(self, key: str) -> Receipt | None:
        """The receipt under ``key``, if there is one."""
        with self._database.read() as c:
            return _receipt(c, key)

    def claim(self, key: str, fingerprint: str) -> Receipt | None:
        """Take the key for this request. ``None``: it is ours; else the receipt that has it.

        Raises :class:`KeyReused` where the key belongs to a request with another fingerprint.
        """
        with self._database.write("the request's receipt") as write:
            c = write.connection
            self._forget_old(c)
            found = _receipt(c, key)
            if found is not None:
                if found.fingerprint != fingerprint:
                    raise KeyReused("This Idempotency-Key was used for another request before.")
                return found
            c.execute(
                insert(ReceiptRow).values(
                    key=key, fingerprint=fingerprint, answer=None, created_at=self._clock.now()
                )
            )
            return None

    def close(self, key: str, answer: Mapping[str, Any]) -> None:
        """Keep the answer that was given."""
        with self._database.write("the request's receipt") as write:
            done = write.connection.execute(
                update(ReceiptRow).where(ReceiptRow.key == key).values(answer=dict(answer))
            )
            if done.rowcount == 0:
                raise NotFound("There is no receipt under this Idempotency-Key.")

    def release(self, key: str) -> None:
        """Give the key back, for a request that failed and kept nothing: it may be repeated."""
        with self._database.write("the request's receipt") as write:
            found = _receipt(write.connection, key)
            if found is not None and not found.exposure_ids:
                write.connection.execute(delete(ReceiptRow).where(ReceiptRow.key == key))

    def _forget_old(self, c: Connection) -> None:
        old = select(ReceiptRow.key).where(ReceiptRow.created_at < self._clock.now() - KEPT_FOR)
        c.execute(delete(ReceiptExposureRow).where(ReceiptExposureRow.key.in_(old)))
        c.execute(delete(ReceiptRow).where(ReceiptRow.key.in_(old)))


def _receipt(c: Connection, key: str) -> Receipt | None:
    row = c.execute(select(ReceiptRow).where(ReceiptRow.key == key)).one_or_none()
    if row is None:
        return None
    kept = c.scalars(
        select(ReceiptExposureRow.exposure_id)
        .where(ReceiptExposureRow.key == key)
        .order_by(ReceiptExposureRow.position)
    )
    return Receipt(key, row.fingerprint, tuple(kept), row.answer)
