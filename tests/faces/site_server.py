"""A site as its people meet it: the program over TLS on a loopback port, browsers that send forms, people added."""

import re
import socket
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

import httpx
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

OWN = "green kettle under seven maps"


def certified(folder: Path) -> dict[str, str]:
    """Make a certificate of this run's own for the loopback address; give its settings."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "127.0.0.1")])
    now = datetime.now(UTC)
    signed = (
        x509.CertificateBuilder(name, name, key.public_key(), x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ip_address("127.0.0.1"))]), critical=False)
        .sign(key, hashes.SHA256())
    )
    files = folder / "certificate.pem", folder / "key.pem"
    files[0].write_bytes(signed.public_bytes(serialization.Encoding.PEM))
    files[1].write_bytes(
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    )
    return {"SOAKLINE_TLS_CERTIFICATE": str(files[0]), "SOAKLINE_TLS_KEY": str(files[1])}


@contextmanager
def serving(command, around, port: int) -> Iterator[subprocess.Popen[str]]:
    """Serve until the block ends; what the command prints is the process's own to be read."""
    serve = [*command, "serve", "--port", str(port)]
    with subprocess.Popen(serve, env=around, stdout=subprocess.PIPE, text=True) as process:
        try:
            yield process
        finally:
            process.terminate()


def free_port() -> int:
    """Give a port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def add(command, around, *words: str) -> str:
    """Add a person on the command line and return the first password."""
    done = subprocess.run(
        [*command, "people", "add", *words], env=around, capture_output=True, text=True, timeout=60, check=True
    )
    return re.search(r"shown this once: (\S+)", done.stdout)[1]


@contextmanager
def browser_at(address: str) -> Iterator[httpx.Client]:
    """Give a browser that knows nobody yet."""
    with httpx.Client(base_url=address, verify=False, timeout=60) as opened:  # noqa: S501 - the run's own certificate
        yield opened


def send(client: httpx.Client, path: str, **fields: str) -> httpx.Response:
    """Send a form as a page of this browser does."""
    client.get("/about")
    token = client.cookies["__Host-soakline_form"]
    return client.post(path, files={name: (None, value) for name, value in {"token": token, **fields}.items()})


def signed_in(client: httpx.Client, name: str, password: str) -> httpx.Response:
    """Send name and password."""
    return send(client, "/sign-in", name=name, password=password, then="/")


def own_password(client: httpx.Client, first: str) -> None:
    """Choose OWN in place of the first password."""
    assert send(client, "/account", old=first, new=OWN).status_code == 303


@contextmanager
def site_at(command, around, port: int) -> Iterator[str]:
    """Serve a site whose administrator is chief, with the password OWN, over TLS; give its address."""
    first = add(command, around, "chief", "--role", "administrator")
    address = around["SOAKLINE_SITE_ADDRESS"]
    with serving(command, around, port) as process:
        assert process.stdout.readline().startswith(f"Open {address} in a browser")
        with browser_at(address) as chief:
            signed_in(chief, "chief", first)
            own_password(chief, first)
        yield address
