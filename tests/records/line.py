"""A line to a server that a test can cut: a station sees what it sees when the network is away."""

import contextlib
import socket
import threading
from collections.abc import Callable
from urllib.parse import parse_qs, urlsplit


class Line:
    """Carries bytes between a port of this machine and a PostgreSQL server, until it is cut.

    `lose_reply_after` is asked with what a client sends; where it says so, the server gets it and works, and
    the line is cut before its reply is seen.
    """

    def __init__(self, url: str) -> None:
        """Open a port and wait for clients of the server at an address."""
        parts = urlsplit(url)
        asked = parse_qs(parts.query)
        host = asked.get("host", [parts.hostname or ""])[0]
        port = int(asked.get("port", [parts.port or 5432])[0])
        self._server: tuple[int, object]
        if host.startswith("/"):
            self._server = socket.AF_UNIX, f"{host}/.s.PGSQL.{port}"
        else:
            self._server = socket.AF_INET, (host, port)
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port = self._listening.getsockname()[1]
        self.up = True
        self.lose_reply_after: Callable[[bytes], bool] = lambda _: False
        self._open: list[socket.socket] = []
        self.url = f"postgresql+psycopg://postgres@127.0.0.1:{self.port}{parts.path}"
        threading.Thread(target=self._accept, daemon=True).start()

    def cut(self) -> None:
        """Cut the line; who tries it finds nobody."""
        self.up = False
        for one in self._open:
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            one.close()
        self._open = []

    def mend(self) -> None:
        """Let the line carry again."""
        self.lose_reply_after = lambda _: False
        self.up = True

    def close(self) -> None:
        """Take the line away."""
        self.cut()
        self._listening.close()

    def _accept(self) -> None:
        while True:
            try:
                client, _ = self._listening.accept()
            except OSError:
                return
            if not self.up:
                client.close()
                continue
            family, address = self._server
            server = socket.socket(family)
            server.connect(address)
            self._open += [client, server]
            threading.Thread(target=self._carry, args=(client, server, True), daemon=True).start()
            threading.Thread(target=self._carry, args=(server, client, False), daemon=True).start()

    def _carry(self, source: socket.socket, target: socket.socket, asks: bool) -> None:
        with contextlib.suppress(OSError):
            while data := source.recv(1 << 16):
                if asks and self.lose_reply_after(data):
                    self.up = False
                    with contextlib.suppress(OSError):  # the reply goes nowhere
                        source.shutdown(socket.SHUT_RDWR)
                target.sendall(data)
        for one in (source, target):
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
