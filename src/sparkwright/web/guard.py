"""What every request passes before a page sees it, and what every answer carries.

Refused here: a host name that is not ours, a post from another site, a body that is too large. Pages from
elsewhere are told apart by what browsers state themselves (`Sec-Fetch-Site`, `Origin`: W3C Fetch Metadata;
RFC 6454); a program that is no browser states neither and carries no cookie of a person.
"""

from __future__ import annotations

from contextlib import suppress
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from sparkwright.web.settings import Settings

READING = {"GET", "HEAD", "OPTIONS"}

FROM_ELSEWHERE = "This came from another site and was not taken. Do it on the workbench's own page."

CONTENT_SECURITY_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
    "connect-src 'self'; frame-src 'self'; form-action 'self'; frame-ancestors 'self'; base-uri 'none'"
)

HEADERS = {
    "content-security-policy": CONTENT_SECURITY_POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "SAMEORIGIN",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "cache-control": "no-store",
}
"""Set on every answer that doesn't set its own."""


class _TooLargeError(Exception):
    """More came than this workbench takes in one post."""


class Guard:
    """The outermost layer of the workbench."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self.app = app
        self.settings = settings
        # Browsers ask for a name in small letters, however the machine writes its own.
        self._hosts = {host.lower() for host in settings.hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse what must not come in; let the rest through and add the headers."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refusal = (
            self._wrong_host(headers)
            or self._from_elsewhere(scope["method"], headers)
            or self._too_large(scope["path"], headers)
        )
        sender = _with_headers(send)
        if refusal is not None:
            status, sentence = refusal
            await PlainTextResponse(sentence + "\n", status)(scope, receive, sender)
            return
        body = _Body(receive, sender, self._most_bytes(scope["path"]))
        with suppress(_TooLargeError):
            await self.app(scope, body.receive, body.send)
        if body.too_large:
            sentence = self._too_large_sentence(scope["path"])
            await PlainTextResponse(sentence + "\n", 413)(scope, receive, sender)

    def _wrong_host(self, headers: Headers) -> tuple[int, str] | None:
        host = headers.get("host", "")
        try:
            name = urlsplit(f"//{host}").hostname or ""
        except ValueError:
            name = host
        if name in self._hosts:
            return None
        return 421, (
            f"This workbench doesn't answer to the name {name!r}. Open it under the address that "
            "`sparkwright serve` printed."
        )

    def _from_elsewhere(self, method: str, headers: Headers) -> tuple[int, str] | None:
        site = headers.get("sec-fetch-site")
        if method in READING:
            # A link from elsewhere may open a page; a page from elsewhere must not make us work behind it.
            behind = site == "cross-site" and headers.get("sec-fetch-mode") != "navigate"
            return (403, FROM_ELSEWHERE) if behind else None
        origin = headers.get("origin")
        if site in ("same-origin", "none") or (site is None and origin is None):
            return None
        if site is None and origin in (f"http://{headers.get('host')}", f"https://{headers.get('host')}"):
            return None
        return 403, FROM_ELSEWHERE

    def _most_bytes(self, path: str) -> int:
        takes_files = path.endswith(("/files", "/import"))
        return self.settings.most_upload_bytes if takes_files else self.settings.most_body_bytes

    def _too_large(self, path: str, headers: Headers) -> tuple[int, str] | None:
        stated = headers.get("content-length", "0")
        if not (stated.isascii() and stated.isdigit()):
            return 400, "The length of what was sent is not a number."
        return None if int(stated) <= self._most_bytes(path) else (413, self._too_large_sentence(path))

    def _too_large_sentence(self, path: str) -> str:
        return f"More was sent than is taken here, {self._most_bytes(path):,} bytes. Nothing was saved."


class _Body:
    """Counts a body as it comes in, for a sender that states no length or a wrong one.

    Whatever the application makes of a body that was cut off, the answer is the guard's.
    """

    def __init__(self, receive: Receive, send: Send, most_bytes: int) -> None:
        self._receive, self._send, self._most_bytes = receive, send, most_bytes
        self._seen = 0
        self.too_large = False

    async def receive(self) -> Message:
        message = await self._receive()
        self._seen += len(message.get("body", b""))
        if self._seen > self._most_bytes:
            self.too_large = True
            raise _TooLargeError
        return message

    async def send(self, message: Message) -> None:
        if not self.too_large:
            await self._send(message)


def _with_headers(send: Send) -> Send:
    async def sender(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return sender
