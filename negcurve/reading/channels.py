"""What the channels of a scan see of the light, one by one.

Turns an encoding into one curve a channel and the channels' shares of luminance, so
that a channel can be read alone or set right by a grey wedge.
"""

from collections.abc import Sequence

import numpy as np

from negcurve.encoding import CurveEncoding, Encoding, TransferCurve
from negcurve.errors import InvalidValueError
from negcurve.values import Finding, FloatArray

CHANNELS = ("red", "green", "blue")

NODES = 65536
"""Levels at which a curve is kept: every code of 16 bits."""


def grey_light(encoding: Encoding) -> FloatArray:
    """Return the light of a neutral at even levels 0..1, shape (65536,)."""
    level = np.linspace(0.0, 1.0, NODES)
    return encoding.luminance(np.repeat(level[:, np.newaxis], encoding.channels, 1))


def channel_light(encoding: Encoding) -> list[FloatArray]:
    """Return the light that each channel seems to see at even levels.

    Parameters
    ----------
    encoding : Encoding

    Returns
    -------
    list of array, shape (65536,)
        One a channel; where channels have no curves of their own, that of neutrals.
    """
    if isinstance(encoding, CurveEncoding):
        level = np.linspace(0.0, 1.0, NODES)
        return [np.asarray(curve(level)) for curve in encoding.curves]
    return [grey_light(encoding)] * encoding.channels


def channel_weights(encoding: Encoding) -> tuple[float, ...]:
    """Return the share of each channel in luminance; their sum is 1.

    Notes
    -----
    Exact for curve and matrix encodings, the nearest such sum for others.
    """
    if encoding.channels == 1:
        return (1.0,)
    alone = encoding.luminance(np.eye(encoding.channels))
    share = np.maximum(alone - encoding.luminance(np.zeros((1, 3))), 0.0)
    return tuple((share / share.sum()).tolist())


def curves_encoding(
    name: str, light: Sequence[FloatArray], weights: Sequence[float]
) -> CurveEncoding:
    """Make an encoding from the light of each channel at even levels.

    Parameters
    ----------
    name : str
        For messages.
    light : sequence of array, shape (65536,)
        One a channel.
    weights : sequence of float
        Share of each channel in what is read.

    Returns
    -------
    CurveEncoding
    """
    return CurveEncoding(
        name=name,
        curves=tuple(_curve(each) for each in light),
        weights=tuple(weights),
    )


def one_channel(encoding: Encoding, channel: str) -> CurveEncoding:
    """Return what one channel of an RGB encoding sees, on the scale of neutrals.

    Parameters
    ----------
    encoding : Encoding
        With three channels.
    channel : {"red", "green", "blue"}

    Returns
    -------
    CurveEncoding

    Raises
    ------
    InvalidValueError
        If the encoding is grey, or the channel is none of the three.

    Notes
    -----
    Exact for curve and matrix encodings. Through other profiles each channel is taken
    to see neutrals as all three together do, which their makers aim for.
    """
    if channel not in CHANNELS:
        raise InvalidValueError(
            f"{channel!r} is not known", where="channel", fix="Use red, green or blue."
        )
    if encoding.channels != len(CHANNELS):
        raise InvalidValueError(
            f"has no {channel} channel, it is grey",
            where=encoding.name,
            fix="Scan in colour, or leave the channel away.",
        )
    light = channel_light(encoding)
    weights = [float(name == channel) for name in CHANNELS]
    return curves_encoding(f"{encoding.name}, {channel}", light, weights)


def channel_finding(encoding: Encoding, *, where: str) -> tuple[Finding, ...]:
    """Say where a channel is read as neutrals show it, for want of a curve of its own.

    Parameters
    ----------
    encoding : Encoding
        Of the whole scan.
    where : str
        The scan.

    Returns
    -------
    tuple of Finding
    """
    if isinstance(encoding, CurveEncoding):
        return ()
    return (
        Finding(
            severity="note",
            where=where,
            what="its profile mixes the channels, so one channel is read on the curve "
            "that neutrals have",
        ),
    )


def _curve(light: FloatArray) -> TransferCurve:
    def curve(level: FloatArray) -> FloatArray:
        place = np.clip(level, 0.0, 1.0) * (NODES - 1)
        low = np.minimum(place.astype(np.int64), NODES - 2)
        share = place - low
        return np.asarray(light[low] * (1 - share) + light[low + 1] * share)

    return curve
