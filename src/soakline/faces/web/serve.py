"""Start the web application on loopback, say where, and end cleanly."""

from __future__ import annotations

import errno
import socket

import typer
import uvicorn

from soakline.errors import Finding, InputRefused
from soakline.faces.web.app import create_app
from soakline.settings import Settings

HOST = "127.0.0.1"
# Somebody who thinks between two steps finds the connection still open; closed at 5 s, it went as they asked again.
_KEEP_OPEN_S = 75


def serve(settings: Settings, port: int) -> None:
    """Serve the pages at ``port`` of this computer until stopped; 0 takes any free port.

    Raises InputRefused when the port is taken or the record cannot be opened.
    """
    app = create_app(settings)
    with _listen(port) as listening:
        typer.echo(f"Open http://{HOST}:{listening.getsockname()[1]} in a browser on this computer. Ctrl-C stops it.")
        config = uvicorn.Config(
            app, log_level="warning", server_header=False, lifespan="on", timeout_keep_alive=_KEEP_OPEN_S
        )
        try:
            uvicorn.Server(config).run(sockets=[listening])
        except KeyboardInterrupt:
            typer.echo("Stopped.")


def _listen(port: int) -> socket.socket:
    # With the protocol named, the event loop sends small parts of an answer at once: gathering them takes 40 ms.
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((HOST, port))
    except OSError as error:
        listening.close()
        why = "already in use" if error.errno == errno.EADDRINUSE else (error.strerror or str(error))
        says = f"{port}: {why}; allowed is a free port from 1024 to 65535; name another, or stop what uses this one"
        raise InputRefused([Finding("refuse", "--port", says)]) from error
    return listening
