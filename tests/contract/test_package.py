"""The wheel carries all that the program needs where there is no checkout."""

import zipfile

from hatchling.build import build_wheel


def test_the_wheel_holds_every_file_of_the_program_and_the_examples(root, tracked, tmp_path, monkeypatch):
    monkeypatch.chdir(root)
    with zipfile.ZipFile(tmp_path / build_wheel(str(tmp_path))) as wheel:
        held = {name for name in wheel.namelist() if ".dist-info/" not in name}
    program = {str(path.relative_to(root / "src")) for path in tracked if root / "src" in path.parents}
    examples = {f"soakline/{path.relative_to(root)}" for path in tracked if root / "examples" in path.parents}
    assert examples
    assert held == program | examples
