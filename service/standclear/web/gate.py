"""The gate: pairing codes, sessions and tokens, kept hashed in the library's small store.

A code is six digits, good for one pairing and ten minutes; five wrong tries lock pairing for a
minute. The code lies in the store, so that ``standclear pair`` can renew it beside a running
service. Tokens carry 256 bits, so a plain SHA-256 of them is enough to store.
"""

import hashlib
import hmac
import secrets
import threading
from datetime import datetime, timedelta
from typing import Any, ClassVar, Literal, Protocol

from standclear.clock import Clock
from standclear.errors import CallerError

CODE_MINUTES = 10
TRIES = 5
LOCK_SECONDS = 60
TOKEN_DAYS = 3650
CAMERA_MARK = "camera."

Kind = Literal["remote", "camera"]


class WrongCode(CallerError):
    """The code is not the one on the host's screen, or it has been used or has run out."""

    code = "wrong_code"
    status = 401
    title = "That is not the code"
    hint = "Read the six digits on the host's screen; `standclear pair` shows fresh ones."


class PairingLocked(CallerError):
    """Too many wrong codes."""

    code = "pairing_locked"
    status = 429
    title = "Pairing is locked for a minute"
    hint = "Wait a minute, then read the code again."


class SessionStore(Protocol):
    """The part of the library that the gate needs."""

    def setting(self, name: str) -> Any: ...
    def put_setting(self, name: str, value: Any) -> None: ...
    def add_session(self, token_hash: str, name: str, expires_at: datetime) -> Any: ...
    def session(self, token_hash: str) -> Any: ...
    def remove_session(self, token_hash: str) -> None: ...


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


class Gate:
    """Lets devices in and knows them again."""

    SESSION_DAYS: ClassVar[int] = 90
    _CACHE_S: ClassVar[float] = 2.0

    def __init__(self, store: SessionStore, clock: Clock) -> None:
        self._store = store
        self._clock = clock
        self._lock = threading.Lock()
        self._wrong = 0
        self._locked_until = 0.0
        self._known: dict[str, tuple[float, str]] = {}

    def new_code(self) -> str:
        """A fresh code; the one before is void."""
        code = f"{secrets.randbelow(1_000_000):06d}"
        expires = self._clock.now() + timedelta(minutes=CODE_MINUTES)
        self._store.put_setting("pairing_code", {"code": code, "expires_at": expires.isoformat()})
        return code

    def new_token(self, name: str, days: int = TOKEN_DAYS, kind: Kind = "remote") -> str:
        """A token for a device or script, remembered by its hash. Its kind stands in it: nobody
        can change that without the token becoming another, unknown one."""
        token = secrets.token_urlsafe(32)
        if kind == "camera":
            token = CAMERA_MARK + token
        self._store.add_session(_hash(token), name, self._clock.now() + timedelta(days=days))
        return token

    def pair(self, code: str, name: str, kind: Kind = "remote") -> str:
        """Trade a code for a session token. Raises :class:`WrongCode`, :class:`PairingLocked`."""
        with self._lock:
            left = self._locked_until - self._clock.monotonic()
            if left > 0:
                raise PairingLocked(
                    "Too many wrong codes; pairing is locked.", retry_after=int(left) + 1
                )
            if not self._is_current(code):
                self._count_wrong()
                raise WrongCode("That is not the code on the host's screen.")
            self._wrong = 0
            self._store.put_setting("pairing_code", None)
            return self.new_token(name, self.SESSION_DAYS, kind)

    @staticmethod
    def kind_of(token: str | None) -> Kind:
        """What a session may do: a remote everything, a camera only what a camera must."""
        return "camera" if token and token.startswith(CAMERA_MARK) else "remote"

    def name_of(self, token: str | None) -> str | None:
        """The device's name if the token is valid."""
        if not token or len(token) > 200:
            return None
        key = _hash(token)
        now = self._clock.monotonic()
        cached = self._known.get(key)
        if cached is not None and now - cached[0] < self._CACHE_S:
            return cached[1]
        session = self._store.session(key)
        if session is None:
            self._known.pop(key, None)
            return None
        if len(self._known) > 1000:
            self._known.clear()
        self._known[key] = (now, session.name)
        return str(session.name)

    def leave(self, token: str | None) -> None:
        """Forget the device."""
        if token:
            self._store.remove_session(_hash(token))
            self._known.pop(_hash(token), None)

    def _is_current(self, code: str) -> bool:
        current = self._store.setting("pairing_code")
        if not current:
            return False
        if datetime.fromisoformat(current["expires_at"]) < self._clock.now():
            return False
        digits = "".join(code.split())
        return hmac.compare_digest(digits.encode(), str(current["code"]).encode())

    def _count_wrong(self) -> None:
        self._wrong += 1
        if self._wrong >= TRIES:
            self._wrong = 0
            self._locked_until = self._clock.monotonic() + LOCK_SECONDS
