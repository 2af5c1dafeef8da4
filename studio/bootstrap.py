"""Makes `manage.py` work on a bare machine: finds or builds the place the studio's packages live in, then
starts.

Standard library only, and written in syntax that an old Python can still read, so that it can say what is
missing.
"""

import contextlib
import hashlib
import os
import shutil
import subprocess
import sys
import time

NEEDS = (3, 11)
ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
PLAIN_LINE = "{python} -m pip install --only-binary :all: -c .ci/constraints.txt -e {extra}"
RULE = "The packages could not be put in place."


class CannotStart(Exception):
    """Carries one plain sentence or two: what is wrong and what to do about it."""


def main(argv):
    """Run one management command, or the tests, with everything they need. Returns the exit code."""
    try:
        if sys.version_info < NEEDS:
            raise CannotStart(_older_python())
        _choose_data(argv)
        if sys.prefix == sys.base_prefix:
            home = os.path.join(ROOT, ".venv")
            _make_ready(home, argv)
            return _hand_over(python_of(home), argv)
        if _is_ours(sys.prefix):
            _make_ready(sys.prefix, argv)
        else:
            _check_their_own(argv)
    except CannotStart as reason:
        sys.stderr.write(str(reason) + "\n")
        return 2
    except KeyboardInterrupt:
        sys.stderr.write("\nStopped. The same command picks up where this left off.\n")
        return 130
    return _run_here(argv)


# --- what is asked for ----------------------------------------------------------------------------


def _command(argv):
    return argv[1] if len(argv) > 1 else ""


def _choose_data(argv):
    """The demo lives beside the studio, never in it: settled here, before any settings are read."""
    if _command(argv) == "demo" or "--demo" in argv[2:]:
        os.environ.setdefault("STUDIO_DATA", os.path.join(ROOT, "var", "demo"))


def wanted_extras(argv):
    """The optional parts of the package list this command needs: `test`, `postgres`, both or none."""
    extras = []
    if os.environ.get("STUDIO_DATABASE", "").startswith("postgres"):
        extras.append("postgres")
    if _command(argv) == "test":
        extras.append("test")
    return extras


def requirements(extras, root=ROOT):
    """Requirement lines from pyproject.toml: the dependencies, then those of each extra named."""
    import tomllib

    with open(os.path.join(root, "pyproject.toml"), "rb") as handle:
        project = tomllib.load(handle)["project"]
    lines = list(project["dependencies"])
    for extra in extras:
        lines.extend(project["optional-dependencies"][extra])
    return lines


def fingerprint(lines, root=ROOT):
    """What the packages in place were chosen by: the list and the pins."""
    with open(os.path.join(root, ".ci", "constraints.txt"), "rb") as handle:
        pins = handle.read()
    return hashlib.sha256("\n".join(sorted(lines)).encode() + b"\n" + pins).hexdigest()


# --- sentences ------------------------------------------------------------------------------------


def _older_python():
    found = "%d.%d" % sys.version_info[:2]
    words = "This needs Python 3.11 or later; `%s` is Python %s.\n" % (
        os.path.basename(sys.executable),
        found,
    )
    for minor in range(20, NEEDS[1] - 1, -1):
        if shutil.which("python3.%d" % minor):
            return words + "A newer one is here already: run `python3.%d manage.py ...` instead." % minor
    return words + (
        "Get a newer one from python.org, or from your system's own packages,\nand run the same command with it."
    )


def _no_venv_module():
    version = "%d.%d" % sys.version_info[:2]
    return (
        "Python %s is here, but the part of it that makes a separate place for packages is missing.\n"
        "On Debian or Ubuntu: sudo apt install python%s-venv\n"
        "Elsewhere: install Python from python.org. Then run the same command again." % (version, version)
    )


def _check_their_own(argv):
    from importlib.util import find_spec

    extras = wanted_extras(argv)
    for module, extra in (("django", ""), ("pytest", "test"), ("psycopg", "postgres")):
        if (extra == "" or extra in extras) and find_spec(module) is None:
            what = "'.[%s]'" % ",".join(extras) if extras else "."
            raise CannotStart(
                "You have a virtual environment of your own active (%s), and %s is not in it.\n"
                "Put the packages there yourself:\n    %s\n"
                "or leave it (`deactivate`) and run the same command again:\n"
                "a place for them is then made in .venv."
                % (sys.prefix, module, PLAIN_LINE.format(python="python", extra=what))
            )


def _why_pip_failed(tail):
    text = "\n".join(tail)
    lowered = text.lower()
    unreachable = ("connection", "name resolution", "timed out", "network is unreachable", "proxy", "ssl")
    if any(word in lowered for word in unreachable):
        advice = (
            "The package index could not be reached. Look at the network connection,\n"
            "then run the same command again."
        )
    elif "no space left" in lowered:
        advice = "The disk is full. About 900 MB are needed. Make room, then run the same command again."
    elif "no matching distribution" in lowered:
        advice = (
            "A ready-made package for this machine was not found (they are never built here).\n"
            "If the network is cut off, connect it and run the same command again;\n"
            "otherwise try another Python, 3.11 to 3.13."
        )
    else:
        advice = "Run the same command again; what is half done is repaired first."
    return "%s\n%s\n\nThe last words of pip were:\n%s" % (RULE, advice, text)


# --- the place the packages live in ---------------------------------------------------------------


def python_of(home):
    """The interpreter inside a virtual environment."""
    if os.name == "nt":
        return os.path.join(home, "Scripts", "python.exe")
    return os.path.join(home, "bin", "python")


def _is_ours(prefix):
    home = os.path.join(ROOT, ".venv")
    return os.path.exists(home) and os.path.samefile(prefix, home)


def _stamp(home, extras):
    return os.path.join(home, "ready-" + "-".join(["run"] + extras))


def _unfinished(home):
    return os.path.join(home, "unfinished")


def is_ready(home, extras, mark):
    """True when a stamp for these packages, or for these and more, stands in `home`, and no install broke
    off."""
    if os.path.exists(_unfinished(home)) or not os.path.exists(python_of(home)):
        return False
    larger = [sorted(set(extras) | set(more)) for more in ([], ["test"], ["postgres"], ["postgres", "test"])]
    for names in larger:
        try:
            with open(_stamp(home, names)) as handle:
                stamped = handle.read().split()
        except OSError:
            continue
        expected = mark if names == extras else fingerprint(requirements(names))
        if stamped == [expected]:
            return True
    return False


def _make_ready(home, argv):
    extras = wanted_extras(argv)
    lines = requirements(extras)
    mark = fingerprint(lines)
    if is_ready(home, extras, mark):
        return
    try:
        with locked(os.path.join(ROOT, "var", "packages.lock")):
            if not is_ready(home, extras, mark):
                _install(home, extras, lines, mark)
    except OSError as problem:
        raise CannotStart(
            "%s\n%s\nThe folder %s must be writable and the disk must have room." % (RULE, problem, ROOT)
        )


def _install(home, extras, lines, mark):
    running_inside = sys.prefix != sys.base_prefix
    broken = os.path.exists(_unfinished(home)) or not _works(home)
    if broken and not running_inside:
        _build(home)
    with open(_unfinished(home), "w") as handle:
        handle.write("An install began here and has not ended.\n")
    command = [
        python_of(home), "-m", "pip", "install", "--only-binary", ":all:", "--no-compile",
        "--disable-pip-version-check", "--no-input", "--progress-bar", "off",
        "-c", os.path.join(ROOT, ".ci", "constraints.txt"),
    ]  # fmt: skip
    # What broke off may look installed to pip; in an environment that is running it can't be cleared, so all
    # is redone.
    if broken and running_inside:
        command.append("--force-reinstall")
    _watch_pip(command + lines)
    with open(_stamp(home, extras), "w") as handle:
        handle.write(mark + "\n")
    os.remove(_unfinished(home))


def _works(home):
    """Whether `home` holds an interpreter of this very version that starts and has pip."""
    if not os.path.exists(python_of(home)):
        return False
    probe = "import sys, pip; print('%d.%d' % sys.version_info[:2])"
    try:
        found = subprocess.run([python_of(home), "-c", probe], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    except OSError:
        return False
    return found.returncode == 0 and found.stdout.decode().strip() == "%d.%d" % sys.version_info[:2]


def _build(home):
    from importlib.util import find_spec

    if find_spec("venv") is None or find_spec("ensurepip") is None:
        raise CannotStart(_no_venv_module())
    if os.path.isdir(home) and os.listdir(home) and not os.path.exists(os.path.join(home, "pyvenv.cfg")):
        names = set(os.listdir(home)) - {"unfinished"}
        if names:
            raise CannotStart("%s holds something that isn't a Python environment. Move it away first." % home)
    sys.stderr.write("Making a place for the packages in .venv (once; the system's own Python stays untouched).\n")
    made = subprocess.run(
        [sys.executable, "-m", "venv", "--clear", home], stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    )
    if made.returncode != 0:
        words = made.stdout.decode(errors="replace").strip()
        if "ensurepip" in words:
            raise CannotStart(_no_venv_module())
        raise CannotStart("%s\n%s" % (RULE, words))


def _watch_pip(command):
    """Run pip, showing one line of progress, and keep its last words for when it fails."""
    with open(os.path.join(ROOT, ".ci", "constraints.txt")) as handle:
        about = max(1, sum(1 for line in handle if line.strip() and not line.startswith("#")))
    seen, shown = 0, 0.0
    tail = []  # type: list
    on_screen = sys.stderr.isatty()
    environment = dict(os.environ, PYTHONIOENCODING="utf-8", PYTHONUNBUFFERED="1")
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=environment)
    try:
        for raw in process.stdout or ():
            line = raw.decode("utf-8", "replace").rstrip()
            tail = (tail + [line])[-12:]
            words = line.split()
            if words[:1] == ["Collecting"] or words[:2] == ["Requirement", "already"]:
                seen += 1
                words_now = "Fetching packages: %d of about %d (%s)" % (
                    min(seen, about),
                    about,
                    words[1 if words[0] == "Collecting" else 3],
                )
            elif words[:3] == ["Installing", "collected", "packages:"]:
                words_now = "Putting %d packages in place; a minute or so" % (len(words) - 3)
            else:
                continue
            if on_screen:
                sys.stderr.write("\r\033[K" + words_now[:100])
            elif words[0] == "Installing" or time.monotonic() - shown > 5:
                sys.stderr.write(words_now + "\n")
                shown = time.monotonic()
            sys.stderr.flush()
    except BaseException:
        process.terminate()
        process.wait()
        raise
    code = process.wait()
    if on_screen:
        sys.stderr.write("\r\033[K")
    if code != 0:
        raise CannotStart(_why_pip_failed(tail))
    sys.stderr.write("Everything is in place.\n")


@contextlib.contextmanager
def locked(path):
    """Hold a lock file of the operating system; a second run waits, saying so. The lock dies with its
    process."""
    os.makedirs(os.path.dirname(path), exist_ok=True)
    with open(path, "a+") as handle:
        if not try_lock(handle):
            sys.stderr.write("Another run is getting things ready; waiting for it.\n")
            while not try_lock(handle):
                time.sleep(0.2)
        yield


def try_lock(handle):
    """Take the lock on an open file without waiting. True when taken; it is let go when the file is
    closed."""
    try:
        if os.name == "nt":
            import msvcrt

            handle.seek(0)
            msvcrt.locking(handle.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


# --- running --------------------------------------------------------------------------------------


def _hand_over(python, argv):
    command = [python] + list(argv)
    if os.name == "nt":
        return run_as_child(command)
    sys.stdout.flush()
    sys.stderr.flush()
    # The same process goes on as the other interpreter, so signals and exit codes need no passing on.
    os.execv(python, command)  # noqa: S606


def run_as_child(command):
    """Run to the end and return the exit code. Ctrl-C reaches the child by itself; here it is only waited
    out."""
    process = subprocess.Popen(command)
    while True:
        try:
            return process.wait()
        except KeyboardInterrupt:
            continue


def _run_here(argv):
    if _command(argv) == "test":
        os.environ["DJANGO_SETTINGS_MODULE"] = "studio.config.tests_settings"
        import pytest

        # Asked for everything, use every core, and one process more: some always wait for a server or a browser.
        # Asked for something, stay plain and quick to start.
        hands = str((os.cpu_count() or 1) + 1)
        return int(pytest.main(argv[2:] or ["-n", hands, "--dist", "loadfile", "--no-loadscope-reorder"]))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.config.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(argv)
    return 0
