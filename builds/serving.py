"""Serving a book on the shop's network: the address, the checks before the first visit, and the server."""

import contextlib
import errno
import hashlib
import os
import signal
import socket
import sqlite3
import sys
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.contrib.staticfiles.storage import ManifestFilesMixin, staticfiles_storage
from django.core.management import call_command
from django.db import DatabaseError, connection
from django.utils import timezone
from waitress.server import BaseWSGIServer, create_server

from builds import health
from builds.printing.press import press
from builds.setting_up import CannotStart, locked

DEFAULT_LISTEN = "127.0.0.1:8000"
THREADS = 8
LOOPBACK = ("127.", "::1", "localhost")
EVERYWHERE = ("0.0.0.0", "::")


@dataclass(frozen=True)
class Address:
    """Where the server listens."""

    host: str
    port: int

    @classmethod
    def parse(cls, text: str) -> "Address":
        """Read `8000`, `0.0.0.0:8000`, `shop-pc:8000`, `[::]:8000`; `CannotStart` says what is wrong."""
        host, colon, port = text.strip().rpartition(":")
        host = host.removeprefix("[").removesuffix("]") if colon else "127.0.0.1"
        if not port.isascii() or not port.isdigit() or not 0 <= int(port) <= 65535 or not host:
            raise CannotStart(
                f"“{text}” is no address to listen on. Write HOST:PORT: 127.0.0.1:8000 or 0.0.0.0:8000."
            )
        return cls(host, int(port))

    @property
    def is_loopback(self) -> bool:
        """Whether only this machine can connect."""
        return self.host.startswith(LOOPBACK)

    def url(self, host: str | None = None) -> str:
        """The address as a browser takes it."""
        name = host or self.host
        return f"http://{f'[{name}]' if ':' in name else name}:{self.port}/"

    def names(self) -> list[str]:
        """What a browser may call this server: the names and numbers of this machine on its network."""
        if self.host not in EVERYWHERE:
            return [self.host]
        return machine_addresses() or ["127.0.0.1"]


def machine_addresses() -> list[str]:
    """This machine's numbers on its network, the one that leads outward first, then its name."""
    found: list[str] = []
    # Connecting a datagram socket sends nothing; it only picks the way out. The number is set aside for
    # documentation (RFC 5737), so nobody has it. Without a network the names below still serve.
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(("192.0.2.1", 9))
        found.append(probe.getsockname()[0])
    name = socket.gethostname()
    with contextlib.suppress(OSError):
        found += [str(entry[4][0]) for entry in socket.getaddrinfo(name, None, socket.AF_INET)]
    numbers = [number for number in dict.fromkeys(found) if not number.startswith(LOOPBACK)]
    return [*numbers, name.lower(), f"{name.lower()}.local"] if name and name != "localhost" else numbers


def take(address: Address) -> socket.socket:
    """Take the address before anything else is done, so that a taken one is said at once."""
    try:
        family, kind, protocol, _, where = socket.getaddrinfo(
            address.host, address.port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        taken = socket.socket(family, kind, protocol)
    except OSError:
        raise CannotStart(
            f"This machine has no address “{address.host}”. Try --listen {DEFAULT_LISTEN}."
        ) from None
    if os.name == "posix":
        # A restart need not wait for the last connections to time out. Windows means something else by it.
        taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        taken.bind(where)
    except PermissionError:
        taken.close()
        raise CannotStart(
            f"Port {address.port} is kept for the system. Try --listen {address.host}:8000."
        ) from None
    except OSError as error:
        taken.close()
        if error.errno == errno.EADDRNOTAVAIL:
            raise CannotStart(
                f"This machine has no address “{address.host}”. Try --listen {DEFAULT_LISTEN}."
            ) from None
        raise CannotStart(
            f"Port {address.port} is taken: is Standbook running already? If something else has it, try "
            f"--listen {address.host}:{address.port % 65535 + 1}."
        ) from None
    return taken


def allow_hosts(names: list[str]) -> None:
    """Answer to these names too, for as long as this process runs."""
    settings.ALLOWED_HOSTS = list(dict.fromkeys([*settings.ALLOWED_HOSTS, *names]))


def prepare() -> None:
    """Bring tables and static files up to date, and look at the book; `CannotStart` says what is not well."""
    folder = health.data_folder()
    if not folder.well:
        raise CannotStart(folder.sentence)
    with locked(
        Path(settings.DATA_DIR) / ".starting", waiting="Another start is preparing this book; waiting for it."
    ):
        try:
            migrate()
        except DatabaseError as error:
            raise CannotStart(
                f"The database in {settings.DATA_DIR} cannot be used: {error}. `manage.py health` says more."
            ) from None
        collect_static()
    not_well = health.unwell(health.look(thorough=False))
    if not_well:
        raise CannotStart(
            "\n".join(f"Not started: {finding.what}: {finding.sentence}" for finding in not_well)
        )


def migrate() -> None:
    """Apply pending migrations, keeping a copy of a book that has something in it."""
    tables = health.migrations()[0]
    if tables.well:
        # Triggers lost to somebody's hand-made change come back even when nothing else waits.
        if not health.triggers().well:
            call_command("migrate", verbosity=0, interactive=False)
        return
    if "newer Standbook" in tables.sentence:
        raise CannotStart(tables.sentence)
    copy_before_change()
    call_command("migrate", verbosity=0, interactive=False)


def copy_before_change() -> Path | None:
    """Copy the database beside itself before its tables change; nothing to do for an empty one."""
    if connection.vendor != "sqlite" or not connection.introspection.table_names():
        return None
    folder = Path(settings.DATA_DIR) / "before-upgrades"
    folder.mkdir(exist_ok=True)
    target = folder / f"{timezone.now():%Y-%m-%dT%H%M%S}.sqlite3"
    # A connection of its own: it waits for a writer as long as any other, and then says so.
    book = sqlite3.connect(connection.settings_dict["NAME"], timeout=20)
    try:
        book.execute("VACUUM INTO ?", [str(target)])
    except sqlite3.Error as error:
        raise CannotStart(
            f"This version changes the book's tables, and no copy could be made first: {error}. Nothing is changed."
        ) from None
    finally:
        book.close()
    return target


def collect_static() -> None:
    """Gather the style sheets and scripts under their hashed names, when anything in them has changed."""
    if not isinstance(staticfiles_storage, ManifestFilesMixin):
        return
    mark = Path(settings.STATIC_ROOT) / ".collected"
    print_now = static_fingerprint()
    if mark.exists() and mark.read_text(encoding="ascii") == print_now:
        return
    call_command("collectstatic", verbosity=0, interactive=False, clear=True)
    mark.write_text(print_now, encoding="ascii")
    # The manifest was read when this process started, perhaps before there was one.
    staticfiles_storage.hashed_files, staticfiles_storage.manifest_hash = staticfiles_storage.load_manifest()


def static_fingerprint() -> str:
    """A digest that changes when any static file is added, taken away or changed."""
    digest = hashlib.sha256()
    for finder in get_finders():
        for path, storage in finder.list([]):
            seen = os.stat(storage.path(path))
            digest.update(f"{path}\0{seen.st_size}\0{seen.st_mtime_ns}\n".encode())
    return digest.hexdigest()


def open_server(taken: socket.socket, *, proxy: str = "") -> BaseWSGIServer:
    """Make the server. From here on a browser connects; it is answered as soon as the server runs."""
    from builds.wsgi import application  # made only now: it looks through the static files when it is made

    behind_proxy = (
        # Only that machine is believed about who is asking and whether the way to it was encrypted.
        {
            "trusted_proxy": proxy,
            "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto", "x-forwarded-host"},
        }
        if proxy
        else {}
    )
    server: BaseWSGIServer = create_server(
        application, sockets=[taken], threads=THREADS, ident=None, channel_timeout=60, **behind_proxy
    )
    return server


def run(server: BaseWSGIServer) -> None:
    """Serve until Ctrl-C or a request to stop, then let the requests that are under way end."""
    signal.signal(signal.SIGTERM, _stop)
    try:
        press.warm_up()  # the first sheet should not wait for a child to start
        server.run()
    finally:
        server.close()


def _stop(number: int, frame: FrameType | None) -> None:
    sys.exit(0)
