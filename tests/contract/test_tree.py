"""What no file may hold: an address of a registry, a path of the machine that it was written on."""

import re
from pathlib import Path

PIN = re.compile(
    r"[a-z0-9.-]+==[0-9][^\s]*( ; [^\\]+)? \\(\n {4}--hash=sha256:[0-9a-f]{64} \\)*\n {4}--hash=sha256:[0-9a-f]{64}\n"
)
ADDRESS = re.compile(r"://|--[a-z-]*(index|links|host)|file:|@ ")
# In pieces, so that this file does not hold what it looks for.
REGISTRIES = ("pypi" + ".org", "pythonhosted" + ".org", "registry.npmjs" + ".org", "deb.debian" + ".org")
HOMES = re.compile("/" + r"(home|Users|root|work)/\w|[A-Z]:\\Users\\")


def texts(tracked: list[Path]) -> dict[Path, str]:
    return {path: text for path in tracked if "\0" not in (text := path.read_text("utf-8", errors="replace"))}


def is_locked(text: str) -> bool:
    return bool(text) and not PIN.sub("", text) and not ADDRESS.search(text)


def test_locks_hold_versions_and_hashes_and_nothing_else(root):
    locks = sorted(root.glob("requirements*.lock"))
    assert {lock.name for lock in locks} >= {"requirements.lock", "requirements-dev.lock"}
    assert [lock.name for lock in locks if not is_locked(lock.read_text("utf-8"))] == []


def test_a_planted_address_or_a_missing_hash_fails(root):
    lock = (root / "requirements.lock").read_text("utf-8")
    assert not is_locked("--index-url https://packages.example/simple\n" + lock)
    assert not is_locked("plain==1.0\n" + lock)
    assert not is_locked(lock.replace("--hash=sha256:", "--hash=md5:", 1))


def test_no_file_names_a_registry_or_a_path_of_a_machine(root, tracked):
    forbidden = (*REGISTRIES, f"{root}/", f"{root.parent}/shared")
    found = [
        f"{path.relative_to(root)}: {hit}"
        for path, text in texts(tracked).items()
        for hit in (*(word for word in forbidden if word in text), *(m.group() for m in HOMES.finditer(text)))
    ]
    assert found == []


def test_a_planted_path_of_a_machine_is_seen():
    assert HOMES.search("kept in /" + "home/nurse/ward.db")
