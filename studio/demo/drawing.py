"""Pictures of turned forms, drawn by code: a profile turned round its axis, wood grain, a seam of resin, light.

Nothing here is a photograph. Whoever asks twice with the same figures gets the same picture.
"""

import io
from collections.abc import Callable
from functools import cache
from typing import Any

WIDE, HIGH = 640, 480
# The row on which everything stands.
FOOT = 408
GROUND_TOP, GROUND_BOTTOM = (196, 204, 194), (158, 168, 158)
QUALITY = 88
Colour = tuple[int, ...]

# Radius over height, both in parts of the form's own, bottom to top.
PROFILES: dict[str, tuple[tuple[float, float], ...]] = {
    "bowl": ((0.0, 0.34), (0.08, 0.42), (0.35, 0.78), (0.7, 0.96), (1.0, 1.0)),
    "jar": ((0.0, 0.7), (0.14, 0.88), (0.5, 1.0), (0.72, 0.92), (0.82, 0.76), (0.9, 0.58), (0.95, 0.3), (1.0, 0.12)),
    "dish": ((0.0, 0.5), (0.2, 0.72), (0.6, 0.94), (1.0, 1.0)),
    "stone": ((0.0, 0.66), (0.2, 0.92), (0.5, 1.0), (0.8, 0.86), (1.0, 0.6)),
    "tall": (
        (0.0, 0.6),
        (0.14, 0.82),
        (0.46, 1.0),
        (0.68, 0.88),
        (0.8, 0.66),
        (0.88, 0.44),
        (0.94, 0.2),
        (1.0, 0.16),
    ),
    "float": ((0.0, 0.36), (0.1, 0.64), (0.26, 0.88), (0.5, 1.0), (0.74, 0.88), (0.9, 0.6), (1.0, 0.2)),
    "cup": ((0.0, 0.6), (0.06, 0.68), (0.4, 0.86), (0.8, 0.98), (1.0, 1.0)),
}
# Where a lid or the other half meets the body, as a part of the height.
JOINTS = {"jar": 0.8, "tall": 0.77, "float": 0.5}
# Half the width and the height in pixels, and how far one looks into it from above.
SHAPES: dict[str, tuple[int, int, float]] = {
    "bowl": (188, 138, 0.24),
    "jar": (112, 236, 0.0),
    "dish": (236, 92, 0.2),
    "stone": (140, 172, 0.2),
    "tall": (104, 280, 0.0),
    "float": (140, 228, 0.0),
    "cup": (86, 184, 0.24),
}


def draw(profile: str, wood: Colour, resin: Colour | None, seed: int) -> bytes:
    """A JPEG of 640 × 480 of one form; a pair is two cups beside each other."""
    import numpy as np
    from PIL import Image

    picture = _ground()
    rng = np.random.default_rng(seed)
    places = ((236, "cup"), (416, "cup")) if profile == "pair" else ((WIDE // 2, profile),)
    for middle, name in places:
        _turn(picture, name, middle, wood, resin, rng)
    image = Image.fromarray(np.clip(picture, 0, 255).astype("uint8"))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=QUALITY)
    return out.getvalue()


@cache
def _noise() -> Any:
    """A field of smooth noise that closes on itself, made once: sums of coarser and finer random grids."""
    import numpy as np

    rng = np.random.default_rng(7)
    size = 512
    field = np.zeros((size, size))
    for step, weight in ((64, 1.0), (32, 0.55), (16, 0.3), (8, 0.16)):
        coarse = rng.standard_normal((size // step, size // step))
        at = np.arange(size) / step
        low = np.floor(at).astype(int)
        part = at - low
        part = part * part * (3 - 2 * part)
        rows = coarse[low % len(coarse)] * (1 - part[:, None]) + coarse[(low + 1) % len(coarse)] * part[:, None]
        both = rows[:, low % len(coarse)] * (1 - part) + rows[:, (low + 1) % len(coarse)] * part
        field += both * weight
    return field / field.std()


def _sample(x: Any, y: Any) -> Any:
    import numpy as np

    field = _noise()
    size = len(field)
    return field[np.mod(y, size).astype(int), np.mod(x, size).astype(int)]


def _ground() -> Any:
    import numpy as np

    shade = np.linspace(0, 1, HIGH)[:, None, None]
    rows = np.array(GROUND_TOP) * (1 - shade) + np.array(GROUND_BOTTOM) * shade
    return np.repeat(rows, WIDE, axis=1).astype("float32")


def _turn(picture: Any, name: str, middle: int, wood: Colour, resin: Colour | None, rng: Any) -> None:
    """Draw one form standing on the ground at `middle`. Only the window it stands in is reckoned."""
    import numpy as np

    half, tall, look = SHAPES[name]
    known = np.array(PROFILES[name])
    top = FOOT - tall
    _shadow(picture, middle, half * (known[0][1] + 0.35))
    first, last = max(0, top - int(half * look) - 4), min(HIGH, FOOT + int(half * 0.2) + 4)
    window = picture[first:last, middle - half - 2 : middle + half + 3]
    rows, columns = np.mgrid[first:last, middle - half - 2 : middle + half + 3].astype("float32")
    height = (FOOT - rows) / tall
    line = _smooth(known)
    across = (columns - middle) / np.maximum(half * line(np.clip(height, 0, 1)), 1)
    body = (np.abs(across) <= 1) & (height <= 1) & (rows <= FOOT)
    # the foot is rounded by the ellipse one sees of it
    foot_across = (columns - middle) / (half * known[0][1])
    base = half * known[0][1] * 0.2 * np.sqrt(np.clip(1 - foot_across**2, 0, 1))
    under = (np.abs(foot_across) <= 1) & (rows > FOOT) & (rows <= FOOT + base)
    across = np.where(under, foot_across, across)
    inside = body | under
    angle = np.arcsin(np.clip(across, -1, 1))
    colours = _skin(angle * 118 + float(rng.integers(0, 512)), height * tall, wood, resin, rng)
    light = _light(across, height, line, half, tall)
    if name in JOINTS:
        # one looks at it from a little above, so the joint is seen as a shallow bow
        bow = JOINTS[name] - 0.05 * half / tall * np.sqrt(np.clip(1 - across**2, 0, 1))
        light = light * (1 - 0.62 * np.exp(-(((height - bow) * tall / 1.7) ** 2)))
    window[inside] = (colours * light[..., None])[inside]
    if look:
        _hollow(window, rows, columns, middle, top, half * known[-1][1], look, wood, resin)


def _smooth(known: Any) -> Callable[[Any], Any]:
    import numpy as np

    at = np.linspace(0, 1, 400)
    line = np.interp(at, known[:, 0], known[:, 1])
    kernel = np.hanning(67)
    padded = np.pad(line, 33, mode="reflect", reflect_type="odd")
    smooth = np.convolve(padded, kernel / kernel.sum(), mode="valid")
    return lambda height: np.interp(height, at, smooth)


def _skin(x: Any, y: Any, wood: Colour, resin: Colour | None, rng: Any) -> Any:
    """Wood with its rings and figure, and resin where the burr was open."""
    import numpy as np

    warp = _sample(x, y * 0.9)
    rings = np.sin(x * 0.05 + y * 0.11 + warp * 2.6)
    fine = _sample(x * 3.1 + 90, y * 1.7 + 40)
    tone = 1 + 0.13 * rings + 0.05 * fine
    colours = np.array(wood) * tone[..., None]
    if resin is None:
        return colours
    slope, level = float(rng.uniform(-0.5, 0.5)), float(rng.uniform(30, 90))
    edge = (y - level - slope * x * 0.5) / 26 + _sample(x * 0.8 + 200, y * 0.8 + 300) * 1.1
    part = 1 / (1 + np.exp((np.abs(edge) - 0.95) * 9))
    swirl = 1 + 0.1 * _sample(x * 0.6 + 20, y * 0.5)
    poured = np.array(resin) * swirl[..., None]
    bark = np.exp(-(((np.abs(edge) - 1.05) / 0.16) ** 2))
    mixed = colours * (1 - part[..., None]) + poured * part[..., None]
    return mixed * (1 - 0.45 * bark[..., None])


def _light(across: Any, height: Any, line: Callable[[Any], Any], half: int, tall: int) -> Any:
    """Light from the upper left, a window's gleam, and the turn away at the edges."""
    import numpy as np

    out = np.sqrt(np.clip(1 - across**2, 0, 1))
    step = 0.01
    slope = (line(np.clip(height + step, 0, 1)) - line(np.clip(height - step, 0, 1))) * half / (2 * step * tall)
    up = -slope / np.sqrt(1 + slope**2)
    level = np.sqrt(1 - np.clip(up, -1, 1) ** 2)
    lit = np.clip(-0.5 * across * level + 0.62 * up + 0.62 * out * level, 0, None)
    gleam = np.clip(-0.42 * across * level + 0.5 * up + 0.76 * out * level, 0, 1) ** 34
    return 0.42 + 0.78 * lit + 0.55 * gleam


def _hollow(
    picture: Any, rows: Any, columns: Any, middle: int, top: int, rim: float, look: float, wood: Colour,
    resin: Colour | None,
) -> None:  # fmt: skip
    """What one sees of the inside over the rim."""
    import numpy as np

    across, down = (columns - middle) / rim, (rows - top) / (rim * look)
    far = across**2 + down**2
    lip = far <= 1
    wall = (across / 0.93) ** 2 + (down / 0.88) ** 2 <= 1
    grain = 1 + 0.08 * _sample(columns * 1.3, rows * 3)
    shade = np.clip(0.62 - 0.22 * across + 0.3 * down, 0.25, 1.05) * grain
    picture[lip] = (np.array(wood) * (1.12 * grain)[..., None])[lip]
    picture[wall] = (np.array(wood) * shade[..., None])[wall]
    if resin is not None:
        seam = wall & (np.abs(down + 0.4 * across + 0.18 * _sample(columns, rows * 2)) < 0.17)
        picture[seam] = (np.array(resin) * shade[..., None])[seam]


def _shadow(picture: Any, middle: int, wide: float) -> None:
    import numpy as np

    first = FOOT - 60
    rows, columns = np.mgrid[first:HIGH, 0:WIDE].astype("float32")
    far = ((columns - middle - 26) / (wide * 1.25)) ** 2 + ((rows - FOOT - 10) / (wide * 0.2)) ** 2
    picture[first:] *= (1 - 0.42 * np.exp(-far * 1.6))[..., None]
