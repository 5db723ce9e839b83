"""Who may come in on a shop's network: one pass-phrase for the shop, and sign-ins that end by themselves.

The pass-phrase is kept as a salted scrypt hash (RFC 7914; cost N = 2^14, r = 8, p = 1). A sign-in is a
random token with the moment it ends, signed by itsdangerous with a secret of the store (HMAC-SHA-256, RFC
2104); a new pass-phrase makes a new secret, which ends every sign-in at once.
"""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import secrets
import threading
import time
from datetime import UTC, datetime, timedelta

from itsdangerous import BadSignature, Signer
from starlette.requests import Request

from sparkwright.errors import Refusal
from sparkwright.shop import Shop, TryLimits
from sparkwright.shop.settings import ENDED_SIGN_INS, PASSPHRASE, SESSION_SECRET

LEAST_LETTERS = 10
WAIT_S = 30
LIMITS = TryLimits(from_one_place=5, from_all=20, within=timedelta(seconds=WAIT_S))
"""Choices: a person mistypes a few times; a phrase of four words outlasts 20 guesses in half a minute."""
TOO_MANY_TRIES = "Too many wrong pass-phrases were tried; wait half a minute and try again."


class TooManyTriesError(Exception):
    """So many wrong pass-phrases came, from one place or from all, that whoever asks has to wait."""


def set_passphrase(shop: Shop, passphrase: str) -> None:
    """Set the pass-phrase of a shop; ends every sign-in there is.

    Parameters
    ----------
    shop : Shop
        The store.
    passphrase : str
        The new pass-phrase.

    Raises
    ------
    Refusal
        If it is shorter than ten letters.
    """
    if len(passphrase) < LEAST_LETTERS:
        raise Refusal.at(
            "pass-phrase",
            f"{len(passphrase)} letters",
            f"must have at least {LEAST_LETTERS}",
            "four words that don't belong together are easy to keep and hard to guess",
        )
    salt = secrets.token_bytes(16)
    shop.settings.set(PASSPHRASE, f"{salt.hex()}:{_hashed(passphrase, salt).hex()}")
    shop.settings.set(SESSION_SECRET, secrets.token_hex(32))


def has_passphrase(shop: Shop) -> bool:
    """Whether a pass-phrase was ever set.

    Parameters
    ----------
    shop : Shop
        The store.
    """
    return shop.settings.get(PASSPHRASE) is not None


def _hashed(passphrase: str, salt: bytes) -> bytes:
    return hashlib.scrypt(passphrase.encode(), salt=salt, n=2**14, r=8, p=1)


def place_of(request: Request) -> str:
    """Give the place that a request comes from, as tries are counted.

    With IPv6 that is the network, for a machine may take any address in it (RFC 4291, section 2.5.1).

    Parameters
    ----------
    request : Request
        The request.
    """
    try:
        address = ipaddress.ip_address(request.client.host if request.client else "")
    except ValueError:
        return "elsewhere"
    if isinstance(address, ipaddress.IPv4Address):
        return str(address)
    return str(address.ipv4_mapped or ipaddress.ip_network((address, 64), strict=False))


class Sessions:
    """Sign-ins to one shop."""

    def __init__(self, shop: Shop, hours: float) -> None:
        self._shop = shop
        self._seconds = hours * 3600.0
        self._known: set[bytes] = set()
        self._programs: dict[str, float] = {}
        self._lock = threading.Lock()

    def opens(self, passphrase: str, place: str, now_s: float | None = None) -> bool:
        """Whether this is the shop's pass-phrase; hashes slowly, so ask it in a thread.

        Parameters
        ----------
        passphrase : str
            What was typed.
        place : str
            Where it comes from, as tries are counted.
        now_s : float, optional
            The moment that counts [s since 1970]; None for the present one.

        Raises
        ------
        TooManyTriesError
            While there were too many wrong ones lately. Who has to wait learns nothing, whatever they give.
        """
        kept = self._shop.settings.get(PASSPHRASE)
        if kept is None or not passphrase:
            return False  # many programs ask once without, to learn what is wanted; that is no guess
        now = datetime.fromtimestamp(time.time() if now_s is None else now_s, UTC)
        if not self._shop.tries.may_take(place, LIMITS, now):
            raise TooManyTriesError
        # A program sends the pass-phrase with every call; hash it slowly once, then know it again.
        known = hmac.digest(kept.encode(), passphrase.encode(), "sha256")
        if known in self._known:
            return True
        counted = self._shop.tries.take(place, LIMITS, now)
        if counted is None:
            raise TooManyTriesError
        salt, hashed = (bytes.fromhex(part) for part in kept.split(":"))
        right = hmac.compare_digest(_hashed(passphrase, salt), hashed)
        if right:
            self._shop.tries.forget(counted)
            self._known = {known}
        else:
            self._shop.log.note("wrong try", place)
        return right

    def note_program(self, place: str, now_s: float | None = None) -> None:
        """Note that a program signs in, which it does with every call: once in the hours of a sign-in.

        Parameters
        ----------
        place : str
            Where it comes from.
        now_s : float, optional
            The moment that counts [s since 1970]; None for the present one.
        """
        now_s = time.time() if now_s is None else now_s
        with self._lock:
            if now_s < self._programs.get(place, 0.0) + self._seconds:
                return
            self._programs = {each: at for each, at in self._programs.items() if now_s < at + self._seconds}
            self._programs[place] = now_s
        self._shop.log.note("sign-in", place, about="a program")

    def begin(self, now_s: float | None = None) -> str:
        """Give the token of a new sign-in.

        Parameters
        ----------
        now_s : float, optional
            The moment that counts [s since 1970]; None for the present one.
        """
        now_s = time.time() if now_s is None else now_s
        body = f"{secrets.token_hex(16)}.{int(now_s + self._seconds)}"
        return self._signer().sign(body).decode()

    def holds(self, token: str, now_s: float | None = None) -> bool:
        """Whether a token is one of ours and its time is not over.

        A token that was to last longer than sign-ins last now holds no more.

        Parameters
        ----------
        token : str
            Token that came with a request.
        now_s : float, optional
            The moment that counts [s since 1970]; None for the present one.
        """
        now_s = time.time() if now_s is None else now_s
        if self._secret() is None:
            return False
        try:
            body = self._signer().unsign(token).decode()
        except BadSignature:
            return False
        return now_s < _ends_s(body) <= now_s + self._seconds and body not in self._ended()

    def end(self, token: str, now_s: float | None = None) -> None:
        """End one sign-in for good, wherever its token may have been copied to.

        Parameters
        ----------
        token : str
            Token of the sign-in.
        now_s : float, optional
            The moment that counts [s since 1970]; None for the present one.
        """
        now_s = time.time() if now_s is None else now_s
        if not self.holds(token, now_s):
            return
        with self._lock:
            over = [body for body in self._ended() if now_s < _ends_s(body)]
            self._shop.settings.set(ENDED_SIGN_INS, "\n".join([*over, token.rpartition(".")[0]]))

    def _ended(self) -> list[str]:
        return (self._shop.settings.get(ENDED_SIGN_INS) or "").split()

    def _secret(self) -> str | None:
        return self._shop.settings.get(SESSION_SECRET)

    def _signer(self) -> Signer:
        return Signer(
            self._secret() or "", salt="sign-in", key_derivation="hmac", digest_method=hashlib.sha256
        )


def _ends_s(body: str) -> int:
    """When a sign-in ends, as its token says."""
    return int(body.rpartition(".")[2])
