"""Even light: what each exposure's light must be changed by, and the changing itself.

Flicker is taken out in linear light, as a field over the picture and by the camera's own response
over tone; lasting steps and fades stay (see ``trend``). Inside, all is floating point.
"""

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
import numpy.typing as npt

from standclear.finishing.develop import Pixels
from standclear.finishing.lightfit import (
    LUMA_BGR,
    Doubles,
    LightFit,
    Response,
    field_terms,
    tone_of,
)
from standclear.finishing.survey import Survey
from standclear.finishing.trend import trend
from standclear.imaging.linear import bits_of, linear_to_srgb, srgb_to_linear

Floats = npt.NDArray[np.float32]

LEAST_CHANGE = 3e-4
"""Natural logarithm: a smaller change everywhere is left alone, so that the bytes stay."""

LEAST_FLICKER = 1e-3
"""Natural logarithm, rms over the shot of the largest change in a frame: less is no flicker."""

_NODES = (37, 65)
_STRIP = 96
_LEAST_SIGNAL = 0.5


@dataclass(frozen=True)
class LightChange:
    """The change to make to one exposure: field coefficients by channel, natural logarithm."""

    field: tuple[tuple[float, ...], ...]
    response: Response


def light_plan(
    found: Survey, strength: float, with_field: bool, left_alone: set[int]
) -> dict[int, LightChange]:
    """The change for each exposure index; those that need none are not in it."""
    indices = sorted(i for i, one in found.measured.items() if one.light is not None)
    if len(indices) < 2:
        return {}
    fields = np.stack([_light_of(found, index).terms for index in indices])
    noise = np.stack([_light_of(found, index).noise for index in indices])
    heeded = np.array([p for p, i in enumerate(indices) if i not in left_alone], dtype=int)
    if heeded.size < 2:
        return {}
    paths = fields.reshape(len(indices), -1)
    excess = trend(paths, heeded, _deciding(fields)) - paths
    excess *= _signal_part(excess[heeded], noise.reshape(len(indices), -1)[heeded])
    changes = strength * excess.reshape(fields.shape)
    if not with_field:
        changes[:, :, 1:] = 0.0
    if np.sqrt(np.mean([_largest(change) ** 2 for change in changes])) < LEAST_FLICKER:
        return {}
    response = found.plate.response
    return {
        index: LightChange(tuple(tuple(map(float, row)) for row in change), response)
        for index, change in zip(indices, changes, strict=True)
        if index not in left_alone and _largest(change) >= LEAST_CHANGE
    }


def relit(
    picture: Pixels, change: LightChange, part: tuple[int, int, int, int] | None = None
) -> Floats:
    """The picture under the changed light, (h, w, 3) codes from 0 to 255 as floats, not rounded.

    ``part`` (left, top, whole width, whole height) says that it is a part of a larger picture.
    """
    height, width = picture.shape[:2]
    left, above, *whole = part or (0, 0, width, height)
    tables = _tables(change, bits_of(picture))
    nodes = _nodes(change)
    across = (left + np.arange(width) + 0.5) / whole[0]
    result = np.empty(picture.shape, np.float32)
    for top in range(0, height, _STRIP):
        stop = min(top + _STRIP, height)
        strip = picture[top:stop]
        down = (above + np.arange(top, stop) + 0.5) / whole[1]
        result[top:stop] = _relit_strip(strip, tables, _field_rows(nodes, down, across))
    return result


def _relit_strip(strip: Pixels, tables: Floats, moved: Floats | None) -> Floats:
    base = _looked_up(strip, tables[0])
    if moved is None:
        return base
    slope = _looked_up(strip, tables[1])
    bend = _looked_up(strip, tables[2])
    if moved.ndim == 2:
        moved = cv2.merge([moved, moved, moved]).astype(np.float32, copy=False)
    np.multiply(bend, moved, out=bend)
    np.add(bend, slope, out=bend)
    np.multiply(bend, moved, out=bend)
    np.add(base, bend, out=base)
    return base


def _light_of(found: Survey, index: int) -> LightFit:
    light = found.measured[index].light
    if light is None:
        raise KeyError(index)
    return light


def _deciding(fields: Doubles) -> Doubles:
    """Level, and how it leans along x and y: where a lamp is switched on, these step."""
    return np.asarray(np.einsum("c,nct->nt", LUMA_BGR, fields[:, :, :3]))


def _signal_part(excess: Doubles, noise: Doubles) -> Doubles:
    """By coefficient the part of the spread that is not the measurement's own noise, 0 to 1.

    What is mostly noise is not corrected at all, so that an even shot keeps its bytes.
    """
    spread = np.mean(np.square(excess), axis=0)
    own = np.mean(noise, axis=0)
    part = np.clip(1.0 - 2.0 * own / np.maximum(spread, 1e-18), 0.0, 1.0)
    return np.where(part < _LEAST_SIGNAL, 0.0, part)


def _largest(change: Doubles) -> float:
    y, x = np.meshgrid(np.linspace(-1, 1, 5), np.linspace(-1, 1, 7), indexing="ij")
    return float(np.abs(np.einsum("ct,trk->crk", change, field_terms(x, y))).max())


def _nodes(change: LightChange) -> Floats | None:
    """The field without its level on a coarse grid, (rows, columns) or with 3 channels; or None."""
    terms = np.array(change.field)
    terms[:, 0] = 0.0
    if np.abs(terms).max() < 1e-5:
        return None
    y, x = np.meshgrid(*(np.linspace(-1, 1, n) for n in _NODES), indexing="ij")
    spread = np.einsum("ct,trk->rkc", terms, field_terms(x, y)).astype(np.float32)
    alike = np.abs(spread - spread[:, :, 1:2]).max() < 5e-5
    return np.ascontiguousarray(spread[:, :, 1]) if alike else spread


def _field_rows(nodes: Floats | None, down: Doubles, across: Doubles) -> Floats | None:
    """The field at the pixels of some rows; ``down`` and ``across`` from 0 to 1."""
    if nodes is None:
        return None
    across, down = across * (_NODES[1] - 1), down * (_NODES[0] - 1)
    rows = np.clip(down.astype(int), 0, _NODES[0] - 2)
    part = (down - rows).astype(np.float32).reshape(-1, *([1] * (nodes.ndim - 1)))
    lines = nodes[rows] * (1 - part) + nodes[rows + 1] * part
    columns = np.clip(across.astype(int), 0, _NODES[1] - 2)
    share = (across - columns).astype(np.float32).reshape(1, -1, *([1] * (nodes.ndim - 2)))
    return np.asarray(lines[:, columns] * (1 - share) + lines[:, columns + 1] * share, np.float32)


def _tables(change: LightChange, bits: int) -> Floats:
    """By code and channel: the relit code, and its first and half its second derivative by field.

    (3, codes, 3) float32 in units of 8-bit codes.
    """
    levels = tuple(row[0] for row in change.field)
    return _tables_for(levels, change.response, bits)


@lru_cache(maxsize=16)
def _tables_for(levels: tuple[float, ...], response: Response, bits: int) -> Floats:
    top = 2**bits - 1
    light = srgb_to_linear(np.arange(top + 1, dtype=np.float64) / top)
    factor = response.at(tone_of(np.log(np.maximum(light, 1e-6)))) * _unclipped(top)
    result = np.empty((3, top + 1, 3), np.float32)
    step = 1e-3
    for channel, level in enumerate(levels):
        low, middle, high = (
            255 * linear_to_srgb(light * np.exp(factor * (level + s))) for s in (-step, 0.0, step)
        )
        result[0, :, channel] = middle
        result[1, :, channel] = (high - low) / (2 * step)
        result[2, :, channel] = (high - 2 * middle + low) / (2 * step * step)
    return result


def _unclipped(top: int) -> Doubles:
    """1 for codes that light made, falling to 0 at the ceiling: what is clipped stays white."""
    part = np.arange(top + 1) / top
    return np.asarray(np.clip((1.0 - part) / (1.0 - 247 / 255), 0.0, 1.0))


def _looked_up(strip: Pixels, table: Floats) -> Floats:
    if strip.dtype == np.uint8:
        return np.asarray(cv2.LUT(strip, table[None]), np.float32)
    return np.stack([table[strip[..., c], c] for c in range(3)], axis=-1)
