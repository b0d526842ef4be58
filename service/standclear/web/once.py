"""`Idempotency-Key`: a repeat after a lost reply returns the first answer.

Each exposure is recorded against its key in the transaction that keeps it. So a repeat after a
crash finds what was kept and takes only what is missing. Other writes claim the key before anything
is done. A repeat while the first is still being carried out waits for its answer. When the first
came to nothing (camera away, busy, disk full), the key is free again.
"""

import hashlib
import json
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from flask import request

from standclear.errors import CallerError
from standclear.library.failures import KeyReused
from standclear.library.library import Library

WAIT_S = 30.0

Answer = tuple[dict[str, Any], int]


class BadKey(CallerError):
    """The key is empty, too long, or not plain text."""

    code = "bad_idempotency_key"
    status = 400
    title = "The Idempotency-Key cannot be used"
    hint = "Send 1 to 200 printable ASCII characters, new for each press."


class StillInProgress(CallerError):
    """The first request under this key has not ended."""

    code = "in_progress"
    status = 409
    title = "The first request under this key is still being carried out"
    hint = "Ask again in a moment with the same key."


def key_of_request() -> str | None:
    """The Idempotency-Key header, checked."""
    key = request.headers.get("Idempotency-Key")
    if key is None:
        return None
    if not 1 <= len(key) <= 200 or not key.isascii() or not key.isprintable():
        raise BadKey("The Idempotency-Key must be 1 to 200 printable ASCII characters.")
    return key


def fingerprint_of_request() -> str:
    """What the key stands for: method, path and body."""
    body = request.get_json(silent=True)
    text = json.dumps([request.method, request.path, body], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Claim:
    """A key, and what it stands for."""

    key: str
    fingerprint: str


class Once:
    """Carries out a request once for each key."""

    def __init__(self, library: Library) -> None:
        self._library = library
        self._condition = threading.Condition()
        self._in_progress: set[str] = set()

    def capture(self, perform: Callable[[Claim | None, Sequence[str]], Answer]) -> Answer:
        """As :meth:`do`, for the shutter: nothing is flushed but the exposure itself.

        Each exposure is recorded against the claim in its own transaction, so the receipt needs
        none, and a repeat answers with those exposures (as they are now).
        """
        key = key_of_request()
        if key is None:
            return perform(None, ())
        claim = Claim(key, fingerprint_of_request())
        with self._alone(key):
            earlier = self._library.receipt(key)
            if earlier is not None and earlier.fingerprint != claim.fingerprint:
                raise KeyReused("This Idempotency-Key was used for another request before.")
            return perform(claim, () if earlier is None else earlier.exposure_ids)

    def do(self, perform: Callable[[str | None, Sequence[str]], Answer]) -> Answer:
        """``perform(receipt, kept)`` the request; ``kept`` lists what an earlier try has kept."""
        key = key_of_request()
        if key is None:
            return perform(None, ())
        with self._alone(key):
            return self._do(key, perform)

    def _do(self, key: str, perform: Callable[[str | None, Sequence[str]], Answer]) -> Answer:
        earlier = self._library.claim_receipt(key, fingerprint_of_request())
        if earlier is not None and earlier.answer is not None:
            return dict(earlier.answer["body"]), int(earlier.answer["status"])
        kept = () if earlier is None else earlier.exposure_ids
        try:
            body, status = perform(key, kept)
        except BaseException:
            self._library.release_receipt(key)
            raise
        self._library.close_receipt(key, {"body": body, "status": status})
        return body, status

    @contextmanager
    def _alone(self, key: str) -> Iterator[None]:
        with self._condition:
            free = self._condition.wait_for(lambda: key not in self._in_progress, WAIT_S)
            if not free:
                raise StillInProgress("The first request under this key has not ended.")
            self._in_progress.add(key)
        try:
            yield
        finally:
            with self._condition:
                self._in_progress.discard(key)
                self._condition.notify_all()
