"""The same screens in a browser, through Textual's own server. On this computer only, unless the user says otherwise.

Each browser gets a program of its own. Opened to a network, nothing answers without the token in the address.
"""

import hmac
import logging
import secrets
import shlex
import socket
import sys
from collections.abc import Sequence
from importlib.resources import files
from ipaddress import ip_address
from urllib.parse import urlsplit

from aiohttp import web
from aiohttp.typedefs import Handler, Middleware
from textual_serve.server import Server

LOOPBACK = "127.0.0.1"
PORT = 8750
COOKIE = "coach-token"


def is_loopback(host: str) -> bool:
    """Whether only this computer can reach it."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def own_address(host: str) -> str:
    """What others write to reach this computer: the host, or for "every address" the one that leads out."""
    if host not in ("0.0.0.0", "::"):
        return host
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address for documentation, RFC 5737; nothing is sent
            return str(probe.getsockname()[0])
        except OSError:
            return socket.gethostname()


class CoachServer(Server):
    """Textual's server with a door: the page of our own, a token, and no other site's pages let in."""

    def __init__(self, command: str, host: str, port: int, token: str) -> None:
        super().__init__(
            command,
            host=host,
            port=port,
            title="coach",
            public_url=f"http://{bracketed(own_address(host))}:{port}",
            templates_path=str(files("coach.screen").joinpath("browser")),
        )
        self.token = token

    @property
    def address(self) -> str:
        """What to open."""
        return f"{self.public_url}/?token={self.token}" if self.token else f"{self.public_url}/"

    async def _make_app(self) -> web.Application:
        app = await super()._make_app()
        app.middlewares.append(self.door)
        return app

    @property
    def door(self) -> Middleware:
        """Who may come in."""

        @web.middleware
        async def at_the_door(request: web.Request, handler: Handler) -> web.StreamResponse:
            if not self.welcome(request):
                raise web.HTTPForbidden(text="Open the address with its token, as the coach printed it.")
            response = await handler(request)
            if self.token and request.path == "/":
                response.set_cookie(COOKIE, self.token, httponly=True, samesite="Strict")
            return response

        return at_the_door

    def welcome(self, request: web.Request) -> bool:
        """From our own address, not from another site's page; with the token where there is one."""
        asked = urlsplit(f"//{request.headers.get('Host', '')}").hostname or ""
        if is_loopback(self.host) and not is_loopback(asked):
            return False  # a name that was made to lead here
        origin = request.headers.get("Origin")
        if origin is not None and urlsplit(origin).netloc != request.headers.get("Host"):
            return False
        if not self.token or request.path.startswith("/static"):
            return True
        given = request.query.get("token") or request.cookies.get(COOKIE, "")
        return hmac.compare_digest(given.encode(), self.token.encode())

    async def on_startup(self, app: web.Application) -> None:
        """Say where."""
        for line in spoken(self.host, self.address):
            print(line, file=sys.stderr, flush=True)

    def initialize_logging(self) -> None:
        """Only what went wrong; that a browser's program outlives the server by a moment is nothing wrong."""
        logging.basicConfig(level=logging.WARNING, format="coach: %(message)s", stream=sys.stderr)
        logging.getLogger("asyncio").setLevel(logging.ERROR)


def bracketed(host: str) -> str:
    """An address as it stands in a URL."""
    return f"[{host}]" if ":" in host else host


def spoken(host: str, address: str) -> list[str]:
    """What is said when it begins."""
    lines = [f"Open {address} in a browser. Control-C ends it."]
    if not is_loopback(host):
        lines += [
            "Caution: others in this network can reach it, and what goes over the air is not encrypted.",
            "Whoever has the whole address can see your car's data and steer the coach. Pass it to nobody.",
        ]
    return lines


def server(arguments: Sequence[str] = (), *, host: str = LOOPBACK, port: int = PORT) -> CoachServer:
    """A server that is not begun yet; a token only where others can reach it."""
    command = shlex.join([sys.executable, "-m", "coach.screen", *arguments])
    return CoachServer(command, host, port, "" if is_loopback(host) else secrets.token_urlsafe(16))


def check_free(host: str, port: int) -> None:
    """OSError when nothing can be served there: the port is taken, or the address is not this computer's."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        probe.bind((host, port))


def serve(*, host: str = LOOPBACK, port: int = PORT, us: bool = False, folder: str | None = None) -> None:
    """Serve the start screen until it is ended."""
    arguments = (["--us"] if us else []) + (["--jobs", folder] if folder else [])
    try:
        check_free(host, port)  # else the address would be told before it is known to be ours
        server(arguments, host=host, port=port).serve()
    except (OSError, TypeError, OverflowError) as error:  # the last two: what can be no address, and no port
        why = getattr(error, "strerror", None) or error
        raise ValueError(f"{host}, port {port}: {why}; name another port or address") from None
