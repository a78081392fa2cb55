"""Several processes serve one PostgreSQL record: one session for all, one lock, and nobody overwritten unseen."""

import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager

import httpx
import pytest
from tests.faces.site_server import OWN, add, browser_at, certified, free_port, own_password, send, serving, signed_in
from tests.record.postgresql_server import started

from soakline.record.cases import list_versions
from soakline.record.opening import open_record
from soakline.record.verify import verify_record

PROCESSES, WRITERS, SAVES = 3, 6, 5


@pytest.fixture(scope="module")
def database() -> Iterator[str]:
    with started() as server:
        yield server.url(server.create_database())


@pytest.fixture(scope="module")
def sites(command, surroundings, database, tmp_path_factory) -> Iterator[list[str]]:
    """The addresses of processes of their own on one record, started at once."""
    around = (
        surroundings
        | certified(tmp_path_factory.mktemp("tls"))
        | {
            "SOAKLINE_DATABASE_URL": database,
            "PYTHONUNBUFFERED": "1",
        }
    )
    first = {
        name: add(command, around, name, "--role", role, *wards)
        for name, role, wards in (("chief", "administrator", ()), ("kari", "specialist", ("--ward", "4 north")))
    }
    with ExitStack() as stack:
        addresses, processes = [], []
        for _ in range(PROCESSES):
            port = free_port()
            addresses.append(f"https://127.0.0.1:{port}")
            of_process = around | {"SOAKLINE_SITE_ADDRESS": addresses[-1]}
            processes.append(stack.enter_context(serving(command, of_process, port)))
        for address, process in zip(addresses, processes, strict=True):
            assert process.stdout.readline().startswith(f"Open {address}")
        for name, password in first.items():
            with browser_at(addresses[0]) as client:
                signed_in(client, name, password)
                own_password(client, password)
        yield addresses


@contextmanager
def kari_at(address: str) -> Iterator[httpx.Client]:
    with browser_at(address) as client:
        assert signed_in(client, "kari", OWN).status_code == 303
        yield client


def test_a_session_of_one_process_holds_at_all_and_ends_at_all(sites):
    with kari_at(sites[0]) as client:
        held = {"cookie": f"__Host-soakline_session={client.cookies['__Host-soakline_session']}"}

        def opened() -> list[int]:
            return [httpx.get(f"{site}/", headers=held, verify=False).status_code for site in sites]  # noqa: S501

        assert opened() == [200] * PROCESSES
        send(client, "/sign-out")
        assert opened() == [303] * PROCESSES


def test_tries_at_all_processes_are_counted_together(sites):
    refused = []
    for number in range(PROCESSES * 3):
        with browser_at(sites[number % PROCESSES]) as client:
            refused.append("Too many" in signed_in(client, "ola", "wrong").text)
    assert refused == [False] * 5 + [True] * 4


def test_of_all_who_save_at_once_nobody_is_overwritten_unseen(sites, database, case_text):
    with kari_at(sites[0]) as client:
        where = send(client, "/cases", text=case_text, ward="4 north").headers["location"]

    def save(writer: int) -> list[str]:
        acknowledged = []
        with kari_at(sites[writer % PROCESSES]) as client:
            for number in range(SAVES):
                page = client.get(f"{where}/file").text
                version = re.search(r'name="version" value="(\d+)"', page)[1]
                mark = f"# writer {writer}, save {number}"
                answer = send(client, f"{where}/file", text=f"{case_text}\n{mark}\n", version=version)
                assert answer.status_code in {303, 409}
                if answer.status_code == 303:
                    acknowledged.append(mark)
                else:
                    assert "Somebody saved this case since you opened it" in answer.text
        return acknowledged

    with ThreadPoolExecutor(WRITERS) as pool:
        acknowledged = [mark for marks in pool.map(save, range(WRITERS)) for mark in marks]
    engine = open_record(database)
    kept = [text.rpartition("\n# ")[2] for text in list_versions(engine, int(where.rpartition("/")[2]))[1:]]
    assert sorted(f"# {mark.strip()}" for mark in kept) == sorted(acknowledged)
    assert len(acknowledged) >= SAVES
    assert verify_record(engine).broken == ()
    engine.dispose()
