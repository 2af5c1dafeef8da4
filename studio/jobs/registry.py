"""Which function does which kind of long work, and which ones tidy up. `config` fills it at start-up."""

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, Any

from studio.jobs.errors import UnknownKind

if TYPE_CHECKING:
    from studio.jobs.operations import Outcome
    from studio.jobs.progress import Progress

Handler = Callable[[dict[str, Any], "Progress"], "Outcome"]


@dataclass(frozen=True)
class Entry:
    words: str
    path: str

    def load(self) -> Handler:
        """Import the module and return the function; only the worker calls this."""
        module, _, name = self.path.partition(":")
        handler: Handler = getattr(import_module(module), name)
        return handler


_entries: dict[str, Entry] = {}
_sweeps: dict[str, str] = {}


def register(kind: str, words: str, path: str) -> None:
    """Make `kind` known: what it is called on screen, and its handler as `package.module:function`."""
    _entries[kind] = Entry(words, path)


def forget(kind: str) -> None:
    _entries.pop(kind, None)


def entry(kind: str) -> Entry:
    """The entry for `kind`; raises `UnknownKind`."""
    try:
        return _entries[kind]
    except KeyError:
        raise UnknownKind(f"This studio doesn't know how to do “{kind}”. Nothing was started.") from None


def register_sweep(name: str, path: str) -> None:
    """Have `package.module:function` called with `now` from time to time, to remove what was left over."""
    _sweeps[name] = path


def sweeps() -> dict[str, str]:
    return dict(_sweeps)
