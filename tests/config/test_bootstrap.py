"""The bootstrap is run for real, on a small project whose only package is a stand-in for the framework."""

import ast
import os
import re
import subprocess
import sys
import time
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest

from studio import bootstrap

ROOT = Path(__file__).resolve().parent.parent.parent
BASE_PYTHON = getattr(sys, "_base_executable", None) or sys.executable
STAND_IN = """
import os, sys
def execute_from_command_line(argv):
    print("ran", *argv[1:], "data", os.environ.get("STUDIO_DATA", "-"), "inside", sys.prefix)
    if "seven" in argv:
        sys.exit(7)
"""


def wheel(folder: Path, name: str, version: str, files: dict[str, str]) -> Path:
    """A wheel built by hand, so that no index and no build tool is needed."""
    path = folder / f"{name}-{version}-py3-none-any.whl"
    info = f"{name}-{version}.dist-info"
    files = {
        **files,
        f"{info}/METADATA": f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n",
        f"{info}/WHEEL": "Wheel-Version: 1.0\nGenerator: hand\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
    }
    record = "".join(f"{each},,\n" for each in [*files, f"{info}/RECORD"])
    with zipfile.ZipFile(path, "w") as archive:
        for each, text in {**files, f"{info}/RECORD": record}.items():
            archive.writestr(each, text)
    return path


@dataclass
class Project:
    root: Path

    def run(self, *args: str, python: str = BASE_PYTHON, **env: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [python, "manage.py", *args],
            cwd=self.root, env=self.env(**env), capture_output=True, text=True, timeout=240,
        )  # fmt: skip

    def env(self, **more: str) -> dict[str, str]:
        dropped = ("STUDIO_", "VIRTUAL_ENV", "PYTHON", "PIP_", "DJANGO_")
        kept = {key: value for key, value in os.environ.items() if not key.startswith(dropped)}
        # No index at all: whatever is installed here came from the disk.
        return {**kept, "PIP_NO_INDEX": "1", "PIP_CONFIG_FILE": os.devnull, **more}

    def depend_on(self, *requirements: str) -> None:
        listed = ", ".join(f'"{each}"' for each in requirements)
        text = f'[project]\nname = "p"\nversion = "1"\ndependencies = [{listed}]\n'
        text += "[project.optional-dependencies]\ntest = []\npostgres = []\n"
        (self.root / "pyproject.toml").write_text(text)

    @property
    def home(self) -> Path:
        return self.root / ".venv"

    @property
    def packages(self) -> Path:
        return next(self.home.glob("[Ll]ib/**/site-packages"))


def new(folder: Path) -> Project:
    root = folder / "project"
    (root / "studio").mkdir(parents=True)
    (root / ".ci").mkdir()
    (root / ".ci" / "constraints.txt").write_text("django==1.0\n")
    for name in ("manage.py", "studio/__init__.py", "studio/bootstrap.py"):
        (root / name).write_text((ROOT / name).read_text())
    built = wheel(
        folder, "django", "1.0",
        {"django/__init__.py": "", "django/core/__init__.py": "", "django/core/management.py": STAND_IN},
    )  # fmt: skip
    project = Project(root)
    project.depend_on(f"django @ {built.as_uri()}")
    return project


@pytest.fixture
def project(tmp_path: Path) -> Project:
    """A project on a machine where nothing was done yet."""
    return new(tmp_path)


@pytest.fixture(scope="module")
def ready(tmp_path_factory: pytest.TempPathFactory) -> Project:
    """A project made ready from nothing by its first run. Tests leave it able to run."""
    project = new(tmp_path_factory.mktemp("ready"))
    first = project.run("check", "--deploy")
    assert first.returncode == 0, first.stderr
    assert f"ran check --deploy data - inside {project.home}" in first.stdout
    assert "Everything is in place." in first.stderr
    return project


def test_arguments_exit_codes_and_the_place_of_the_data_pass_through(ready: Project) -> None:
    assert ready.run("seven").returncode == 7
    assert f"data {ready.root / 'var' / 'demo'}" in ready.run("serve", "--demo").stdout
    assert "data /elsewhere" in ready.run("serve", "--demo", STUDIO_DATA="/elsewhere").stdout
    assert "data -" in ready.run("serve").stdout


def test_what_is_ready_needs_no_install_and_so_no_network(ready: Project) -> None:
    # Without pip nothing can be installed, so what runs now rests on the stamp alone.
    aside = ready.root / "aside"
    aside.mkdir()
    moved = list(ready.packages.glob("pip*"))
    for pip in moved:
        pip.rename(aside / pip.name)
    again = ready.run("check")
    for pip in moved:
        (aside / pip.name).rename(pip)
    assert moved and (again.returncode, again.stderr) == (0, "")


def test_a_changed_list_is_installed_and_a_changed_comment_is_not(ready: Project) -> None:
    listed = ready.root / "pyproject.toml"
    listed.write_text(listed.read_text() + "\n# a remark\n")
    assert ready.run("check").stderr == ""
    (ready.root / ".ci" / "constraints.txt").write_text("django==1.0\n# another pin\n")
    assert "Everything is in place." in ready.run("check").stderr


def test_a_second_run_waits_for_the_first_saying_so(ready: Project) -> None:
    (ready.root / ".ci" / "constraints.txt").write_text("django==1.0\n# pinned once more\n")
    with bootstrap.locked(str(ready.root / "var" / "packages.lock")):
        process = subprocess.Popen(
            [BASE_PYTHON, "manage.py", "check"],
            cwd=ready.root, env=ready.env(), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert process.stderr is not None
        assert "Another run is getting things ready" in process.stderr.readline()
        time.sleep(0.5)
        assert process.poll() is None
    out, err = process.communicate(timeout=240)
    assert process.returncode == 0, err
    assert "ran check" in out and "Everything is in place." in err


def test_an_install_that_fails_says_what_to_do_and_the_next_run_mends_it(ready: Project) -> None:
    listed = ready.root / "pyproject.toml"
    good = listed.read_text()
    ready.depend_on("no-such-thing-anywhere==9")
    failed = ready.run("check")
    listed.write_text(good)
    assert failed.returncode == 2
    assert "ready-made package" in failed.stderr and "same command again" in failed.stderr
    assert "Traceback" not in failed.stderr
    # What the failed install may have left half done is told by its mark, and made anew.
    assert (ready.home / "unfinished").exists()
    module = ready.packages / "django" / "core" / "management.py"
    module.unlink()
    mended = ready.run("check")
    assert mended.returncode == 0, mended.stderr
    assert module.exists() and not (ready.home / "unfinished").exists()


def test_without_its_mark_a_half_install_would_pass_for_a_whole_one(ready: Project) -> None:
    module = ready.packages / "django" / "core" / "management.py"
    kept = module.read_text()
    module.unlink()
    broken = ready.run("check")
    module.write_text(kept)
    assert broken.returncode == 1
    assert "ModuleNotFoundError" in broken.stderr


def test_a_lock_is_taken_by_one_and_free_again_when_let_go(tmp_path: Path) -> None:
    path = tmp_path / "lock"
    with open(path, "a+") as first, open(path, "a+") as second:
        assert bootstrap.try_lock(first)
        assert not bootstrap.try_lock(second)
        first.close()
        assert bootstrap.try_lock(second)


def test_a_users_own_environment_is_used_as_it_is(project: Project, tmp_path: Path) -> None:
    own = tmp_path / "own"
    subprocess.run([BASE_PYTHON, "-m", "venv", "--without-pip", str(own)], check=True)
    python = bootstrap.python_of(str(own))

    told = project.run("check", python=python)
    assert told.returncode == 2
    assert "-m pip install --only-binary :all: -c .ci/constraints.txt -e ." in told.stderr
    assert not project.home.exists()

    for_tests = project.run("test", python=python)
    assert "-e '.[test]'" in for_tests.stderr

    packages = next(own.glob("[Ll]ib/**/site-packages"))
    (packages / "django" / "core").mkdir(parents=True)
    (packages / "django" / "core" / "management.py").write_text(STAND_IN)
    used = project.run("check", python=python)
    assert used.returncode == 0, used.stderr
    assert f"inside {own}" in used.stdout
    assert not project.home.exists()


def test_a_folder_that_is_no_environment_is_left_alone(project: Project) -> None:
    project.home.mkdir()
    (project.home / "letters.txt").write_text("mine")
    refused = project.run("check")
    assert refused.returncode == 2
    assert "Move it away first" in refused.stderr
    assert (project.home / "letters.txt").read_text() == "mine"


def test_an_older_python_is_told_plainly(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr(sys, "version_info", (3, 9, 2))
    monkeypatch.setattr(bootstrap.shutil, "which", lambda name: None)
    assert bootstrap.main(["manage.py", "serve"]) == 2
    assert "needs Python 3.11 or later" in capsys.readouterr().err
    monkeypatch.setattr(bootstrap.shutil, "which", lambda name: name if name == "python3.12" else None)
    bootstrap.main(["manage.py", "serve"])
    assert "run `python3.12 manage.py ...` instead" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["manage.py", "studio/bootstrap.py", "studio/__init__.py"])
def test_what_an_older_python_reads_first_is_in_words_it_knows(name: str) -> None:
    text = (ROOT / name).read_text()
    ast.parse(text, feature_version=(3, 8))
    with pytest.raises(SyntaxError):
        ast.parse("match text:\n    case 1: pass", feature_version=(3, 8))


def test_manage_py_stays_ten_lines() -> None:
    assert len((ROOT / "manage.py").read_text().splitlines()) <= 10


def test_the_bootstrap_imports_nothing_but_the_standard_library() -> None:
    tree = ast.parse((ROOT / "studio" / "bootstrap.py").read_text())
    tops = [node for node in tree.body if isinstance(node, ast.Import | ast.ImportFrom)]
    names = {alias.name.split(".")[0] for node in tops if isinstance(node, ast.Import) for alias in node.names}
    names |= {str(node.module).split(".")[0] for node in tops if isinstance(node, ast.ImportFrom)}
    assert names and names <= set(sys.stdlib_module_names)


def test_a_missing_venv_module_is_named_with_its_remedy(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    import importlib.util

    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    with pytest.raises(bootstrap.CannotStart, match=r"apt install python3\.\d+-venv"):
        bootstrap._build(str(tmp_path / "home"))


@pytest.mark.parametrize(
    ("words", "advice"),
    [
        ("Failed to establish a new connection: [Errno 101]", "Look at the network connection"),
        ("OSError: [Errno 28] No space left on device", "The disk is full"),
        ("ERROR: No matching distribution found for x", "try another Python"),
    ],
)
def test_why_the_packages_did_not_come_is_said(words: str, advice: str) -> None:
    assert advice in bootstrap._why_pip_failed([words])


def test_a_child_process_hands_its_exit_code_back() -> None:
    assert bootstrap.run_as_child([sys.executable, "-c", "raise SystemExit(5)"]) == 5


def test_the_plain_lines_of_the_pins_carry_no_addresses() -> None:
    lines = (ROOT / ".ci" / "constraints.txt").read_text().splitlines()
    pinned = re.compile(r"[a-z0-9._-]+==[0-9][^ ]*( ; .+)?")
    assert lines and [line for line in lines if not pinned.fullmatch(line)] == []


def test_every_package_asked_for_is_pinned() -> None:
    pins = {line.split("==")[0] for line in (ROOT / ".ci" / "constraints.txt").read_text().splitlines()}
    wanted = {
        re.match(r"[A-Za-z0-9._-]+", line).group().lower().replace("_", "-")  # type: ignore[union-attr]
        for line in bootstrap.requirements(["postgres", "test"])
    }
    assert wanted - pins == set()
