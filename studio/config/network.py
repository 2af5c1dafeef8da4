"""The names and addresses this machine can be reached by from the same network."""

import contextlib
import socket


def own_names() -> list[str]:
    """Addresses and names of this machine, the most useful first. Sends nothing: a UDP socket is only pointed
    outward."""
    found: list[str] = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            found.append(probe.getsockname()[0])
        except OSError:
            pass
    name = socket.gethostname().lower()
    with contextlib.suppress(OSError):
        found.extend(socket.gethostbyname_ex(name)[2])
    if name and "." not in name:
        found += [f"{name}.local", name]
    elif name:
        found.append(name)
    return [each for each in dict.fromkeys(found) if not each.startswith("127.")]
