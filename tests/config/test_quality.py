"""The tools that watch over the code, run as a contributor runs them."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests import houses

ROOT = houses.ROOT


def run(*command: str, **env: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *command],
        cwd=ROOT, env={**os.environ, "NO_COLOR": "1", **env}, capture_output=True, text=True, timeout=600,
    )  # fmt: skip


def clean(done: subprocess.CompletedProcess[str]) -> None:
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-3000:]


def test_ruff_finds_nothing() -> None:
    clean(run("-m", "ruff", "check", "."))


def test_mypy_finds_nothing() -> None:
    clean(run("-m", "mypy"))


def test_no_room_imports_from_above() -> None:
    clean(run("-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"))


def test_the_import_contracts_notice_a_breach(tmp_path: Path) -> None:
    """Each contract can fail: a copy of the bare rooms, with one wrong import in it at a time."""
    for room in {path.name for path in (ROOT / "studio").iterdir() if (path / "__init__.py").exists()}:
        (tmp_path / "studio" / room).mkdir(parents=True)
        (tmp_path / "studio" / room / "__init__.py").touch()
    (tmp_path / "studio" / "__init__.py").touch()
    (tmp_path / "studio" / "bootstrap.py").touch()
    (tmp_path / "studio" / "ledger" / "journal.py").touch()
    (tmp_path / "pyproject.toml").write_text((ROOT / "pyproject.toml").read_text())
    checker = "from importlinter.cli import lint_imports_command; lint_imports_command(['--no-cache'])"

    def verdict() -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-c", checker], cwd=tmp_path, capture_output=True, text=True, timeout=120
        )

    clean(verdict())
    breaches = {
        "studio/wood/a.py": "from studio.stores import x",
        "studio/ledger/a.py": "from studio.work import x",
        "studio/craft/a.py": "def f():\n    import pandas",
        "studio/web/a.py": "def f():\n    import pandas",
        "studio/reports/a.py": "def f():\n    import reportlab",
        "studio/work/a.py": "from studio.ledger.journal import Entry",
    }
    for name, text in breaches.items():
        (tmp_path / name).write_text(text + "\n")
        assert verdict().returncode == 1, f"{name} with {text!r} went unnoticed"
        (tmp_path / name).unlink()
    (tmp_path / "studio" / "attic").mkdir()
    (tmp_path / "studio" / "attic" / "__init__.py").touch()
    assert verdict().returncode == 1, "a room outside the list went unnoticed"


def test_no_migration_is_pending() -> None:
    clean(run("manage.py", "makemigrations", "--check", "--dry-run"))


def test_the_https_profile_passes_the_deployment_check(tmp_path: Path) -> None:
    command = [sys.executable, "manage.py", "check", "--deploy", "--fail-level", "WARNING"]
    env = houses.environment(tmp_path, STUDIO_HOSTS="studio.example")
    done = subprocess.run(
        command, cwd=ROOT, env={**env, "STUDIO_HTTPS": "1"}, capture_output=True, text=True, timeout=120
    )
    clean(done)
    # What the check is good for: the plain profile of a shed's own network does not pass it.
    plain = subprocess.run(command, cwd=ROOT, env=env, capture_output=True, text=True, timeout=120)
    assert plain.returncode == 1
    assert "security.W004" in plain.stderr


@pytest.mark.parametrize("folder", ["studio", "tests"])
def test_files_stay_short_enough_to_read(folder: str) -> None:
    long = {
        str(path.relative_to(ROOT)): count
        for path in (ROOT / folder).rglob("*.py")
        if "migrations" not in path.parts and (count := len(path.read_text().splitlines())) > 400
    }
    assert long == {}
