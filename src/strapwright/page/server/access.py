"""Who may come in: this machine's own browser, or a phone where that was asked for, each with its key."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING, Final
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, RedirectResponse

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.types import ASGIApp, Message, Receive, Scope, Send

POST_HEADER: Final = "x-bench-post"
"""Header that every post carries: only a page of ours knows what stands in it."""

LARGEST_POST: Final = 8 * 10**6
"""Most bytes taken in one post."""

LARGER_POSTS: Final = {"/leather/photograph": 40 * 10**6}
"""The same at addresses that take more: a photograph as the camera saved it."""

_SAFE: Final = ("GET", "HEAD")
_HEADERS: Final = {
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self' data:; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'",
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}


class Entrance:
    """A way in: the addresses it is asked for under, its key, and the cookie that is given for it.

    Args:
        hosts: under which the page may be asked for, each with its port.
        key: in its first address; a browser that brings it is given the cookie instead.
        address: of this machine that requests must have come to; empty for any of its loopback ones.
    """

    def __init__(self, hosts: frozenset[str], key: str, address: str = "") -> None:
        self.hosts = hosts
        self.key = key
        self.address = address
        self.cookie = secrets.token_urlsafe(32)
        # Cookies of one host are shared by its ports: two pages open at once must not take each other's.
        self.cookie_name = f"bench-{secrets.token_hex(4)}"

    @property
    def is_phone(self) -> bool:
        """Whether it is for another device than this machine."""
        return bool(self.address)

    def takes(self, host: str, server: str) -> bool:
        """Whether a request belongs here.

        Args:
            host: it asks for.
            server: this machine's address that it came to.
        """
        at_home = server == self.address if self.address else server.startswith("127.")
        return at_home and host in self.hosts


class Door:
    """Middleware that refuses whatever does not come from the page itself.

    Any site one visits can have the browser ask this machine, and can give this machine a name of its own.
    So first the Host must be one of ours, then the cookie right, then the Origin, and for whatever changes
    something the header of a post. A cookie does not know ports: a page of another program on this machine
    has ours sent along, so what a browser says of where it asks from is heeded too.

    Args:
        app: what is behind it.
        entrances: the ways in; each has a key and a cookie of its own, good for it alone.
        seen: how many messages to all tabs there have been.
    """

    def __init__(
        self, app: ASGIApp, entrances: tuple[Entrance, ...], seen: Callable[[], int] = lambda: 0
    ) -> None:
        self._app = app
        self._seen = seen
        self._entrances = entrances
        self.post_token = secrets.token_urlsafe(32)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it here."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        host, server = headers.get("host", ""), (scope.get("server") or ("",))[0]
        entrance = next((one for one in self._entrances if one.takes(host, server)), None)
        refused = self._refused(scope, headers, entrance)
        response: ASGIApp | None = refused
        if refused is None and scope["path"] == "/" and b"key=" in scope["query_string"]:
            response = RedirectResponse("/", 303)
        if response is None:
            state = {
                "post_token": self.post_token,
                "phone": entrance is not None and entrance.is_phone,
                "seen": self._seen(),
            }
            scope.setdefault("state", {}).update(state)
            await self._app(scope, _Bounded(receive, _most(scope)), _with_headers(send))
            return
        cookie = ""
        if refused is None and entrance is not None:
            cookie = f"{entrance.cookie_name}={entrance.cookie}; Path=/; HttpOnly; SameSite=Strict"
        await response(scope, receive, _with_headers(send, cookie))

    def _refused(self, scope: Scope, headers: Headers, entrance: Entrance | None) -> PlainTextResponse | None:
        if entrance is None:
            return PlainTextResponse("This page answers only under the address it printed.\n", 421)
        if not _knows(scope, headers, entrance):
            text = "Open the address that strapwright bench printed; its key is good while that runs.\n"
            return PlainTextResponse(text, 403)
        if _is_from_elsewhere(scope, headers, entrance):
            return PlainTextResponse("This did not come from the page itself; nothing was done.\n", 403)
        if scope["method"] not in _SAFE:
            if not secrets.compare_digest(headers.get(POST_HEADER, "").encode(), self.post_token.encode()):
                return PlainTextResponse("This page is an old one: load it again; nothing was done.\n", 403)
            length, most = headers.get("content-length", "0"), _most(scope)
            if not (length.isdecimal() and len(length) < 12 and int(length) <= most):
                return PlainTextResponse(f"Larger than {most / 1e6:g} MB; nothing was done.\n", 413)
        return None


def _knows(scope: Scope, headers: Headers, entrance: Entrance) -> bool:
    """Whether a request brings the entrance's cookie, or its key to the first address."""
    found = cookie_parser(headers.get("cookie", "")).get(entrance.cookie_name, "")
    if secrets.compare_digest(found.encode(), entrance.cookie.encode()):
        return True
    if scope["path"] != "/" or scope["method"] not in _SAFE:
        return False
    given = parse_qs(scope["query_string"].decode("latin-1")).get("key", [""])
    return secrets.compare_digest(given[0].encode(), entrance.key.encode())


def _is_from_elsewhere(scope: Scope, headers: Headers, entrance: Entrance) -> bool:
    """Whether another site asks: a post without our Origin, or what no link to a page of ours asks for."""
    origin = headers.get("origin", "")
    if origin or scope["method"] not in _SAFE:
        return origin not in {f"http://{host}" for host in entrance.hosts}
    foreign = headers.get("sec-fetch-site", "") in ("same-site", "cross-site")
    return foreign and headers.get("sec-fetch-dest", "") != "document"


def _most(scope: Scope) -> int:
    return LARGER_POSTS.get(scope["path"], LARGEST_POST)


class TooLargeError(Exception):
    """A post that goes on beyond what is taken, whatever length it announced."""


class _Bounded:
    """A request's body, of which no more than so many bytes are taken."""

    def __init__(self, receive: Receive, most: int) -> None:
        self._receive = receive
        self._most = most
        self._taken = 0

    async def __call__(self) -> Message:
        message = await self._receive()
        self._taken += len(message.get("body", b""))
        if self._taken > self._most:
            raise TooLargeError
        return message


def _with_headers(send: Send, cookie: str = "") -> Send:
    """Return a way to send that adds what every answer carries."""

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in _HEADERS.items():
                headers.setdefault(name, value)
            if cookie:
                headers.append("set-cookie", cookie)
        await send(message)

    return sending
