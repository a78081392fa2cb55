"""Start the web application, say where, and end cleanly; beyond this computer only for people who sign in, over TLS."""

from __future__ import annotations

import errno
import socket
from ipaddress import ip_address

import typer
from sqlalchemy import Engine

from soakline.errors import Finding, InputRefused
from soakline.faces.web.key import Key
from soakline.record.opening import open_record
from soakline.record.people import list_people
from soakline.settings import PREFIX, Settings

# Somebody who thinks between two steps finds the connection still open; closed at 5 s, it went as they asked again.
_KEEP_OPEN_S = 75


def serve(settings: Settings, host: str, port: int) -> None:
    """Serve the pages at ``port`` until stopped; 0 takes any free port.

    Without a site's address that is for this computer alone, opened by a key that is printed. Raises InputRefused when
    the port is taken, the record cannot be opened, or people of a site could not sign in safely.
    """
    _refuse_unsafe(settings, host)
    record = open_record(settings.database_url)
    if settings.site_address is not None:
        _refuse_without_people(record)
    with _listen(host, port) as listening:
        at, key = f"{host}:{listening.getsockname()[1]}", Key()
        if settings.site_address is None:
            _say_where(key, at)
        # The models come in while whoever reads the address turns to a browser; who is quicker waits for them there.
        import uvicorn  # noqa: PLC0415

        from soakline.faces.web.app import create_app  # noqa: PLC0415

        app = create_app(settings, record, key)
        if settings.site_address is not None:
            typer.echo(f"Open {settings.site_address} in a browser; served at {at}. Ctrl-C stops it.")
        config = uvicorn.Config(
            app,
            log_level="warning",
            server_header=False,
            lifespan="on",
            timeout_keep_alive=_KEEP_OPEN_S,
            # Whom to believe about the other side is said by the application's own door.
            proxy_headers=False,
            ssl_certfile=settings.tls_certificate,
            ssl_keyfile=settings.tls_key,
        )
        try:
            uvicorn.Server(config).run(sockets=[listening])
        except KeyboardInterrupt:
            typer.echo("Stopped.")


def _say_where(key: Key, at: str) -> None:
    def say_next() -> None:
        typer.echo(f"Opened. For another browser on this computer: http://{at}{key.path}")

    key.renewed = say_next
    typer.echo(f"Open http://{at}{key.path} in a browser on this computer; it opens once. Ctrl-C stops it.")


def _refuse_unsafe(settings: Settings, host: str) -> None:
    faults: list[Finding] = []
    is_here = _is_here(host)
    if settings.site_address is None:
        if not is_here:
            says = (
                f'"{host}": others could ask there, and nobody signs in; name the site with {PREFIX}SITE_ADDRESS, give '
                f"people accounts with `soakline people add`, and TLS with {PREFIX}TLS_CERTIFICATE and {PREFIX}TLS_KEY "
                f"or a proxy with {PREFIX}PROXY; or leave --host out for this computer alone"
            )
            faults.append(Finding("refuse", "--host", says))
        for name in ("tls_certificate", "tls_key", "proxy", "oidc_issuer", "oidc_client_id", "oidc_secret_file"):
            if getattr(settings, name) is not None:
                says = f"given without {PREFIX}SITE_ADDRESS, the address at which people open the pages; name it, too"
                faults.append(Finding("refuse", PREFIX + name.upper(), says))
    else:
        missing_count = (settings.tls_certificate, settings.tls_key).count(None)
        if missing_count == 1 or (missing_count == 2 and settings.proxy is None):
            says = (
                f"what is typed at {settings.site_address} would be sent in the clear; name {PREFIX}TLS_CERTIFICATE "
                f"and {PREFIX}TLS_KEY, both, or with {PREFIX}PROXY the computer that speaks TLS before this one"
            )
            faults.append(Finding("refuse", f"{PREFIX}SITE_ADDRESS", says))
        for name in ("tls_certificate", "tls_key"):
            file = getattr(settings, name)
            if file is not None and not file.is_file():
                faults.append(Finding("refuse", PREFIX + name.upper(), f"{file}: no such file; name one in PEM"))
    if faults:
        raise InputRefused(faults)


def _refuse_without_people(record: Engine) -> None:
    able = any(person.role == "administrator" and not person.is_locked for person in list_people(record))
    if not able:
        says = (
            "nobody could look after the people who sign in; first run: soakline people add NAME --role administrator"
        )
        raise InputRefused([Finding("refuse", f"{PREFIX}SITE_ADDRESS", says)])


def _is_here(host: str) -> bool:
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return False


def _listen(host: str, port: int) -> socket.socket:
    try:
        family = socket.AF_INET6 if ip_address(host).version == 6 else socket.AF_INET
    except ValueError as error:
        says = f'"{host}": allowed is the address of an interface of this computer, such as 127.0.0.1; write it so'
        raise InputRefused([Finding("refuse", "--host", says)]) from error
    # With the protocol named, the event loop sends small parts of an answer at once: gathering them takes 40 ms.
    listening = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
        # Who opens the address as soon as it is printed waits for the first answer, instead of being turned away.
        listening.listen()
    except OSError as error:
        listening.close()
        why = "already in use" if error.errno == errno.EADDRINUSE else (error.strerror or str(error))
        says = f"{port}: {why}; allowed is a free port from 1024 to 65535; name another, or stop what uses this one"
        raise InputRefused([Finding("refuse", "--port", says)]) from error
    return listening
