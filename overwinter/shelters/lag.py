"""First-order lags of hourly series, exact for straight lines between the hours."""

import numpy as np

from overwinter.model.shelter import FloatArray


def first_order_lag(
    series_c: FloatArray, time_constant_h: FloatArray | float, start_c: FloatArray | None = None
) -> FloatArray:
    """Follow ``series_c`` with a first-order lag.

    Parameters
    ----------
    series_c : array (hour, ...)
        What is followed, value at the end of each hour, degC; straight in between.
    time_constant_h : array broadcast to one hour of ``series_c``, or float
        h, >= 0; 0 follows at once.
    start_c : array, optional
        State before the first hour; by default the series' first value.

    Returns
    -------
    array (hour, ...)
        State at the end of each hour, degC.
    """
    tau = np.asarray(time_constant_h, dtype=np.float64)
    shape = np.broadcast_shapes(series_c.shape[1:], tau.shape)
    safe = np.where(tau > 0, tau, 1.0)
    keep = np.where(tau > 0, np.exp(-1.0 / safe), 0.0)
    # Response to a ramp over the hour: the new value enters with `new`, the old with the rest.
    new = np.where(tau > 0, 1 - safe * (1 - keep), 1.0)
    old = 1 - keep - new
    series = series_c.reshape(_padded(series_c, len(shape)))
    out = np.empty((series.shape[0], *shape))
    np.multiply(new, series, out=out)
    out[1:] += old * series[:-1]
    first = series[0] if start_c is None else start_c
    state = np.array(np.broadcast_to(first, shape), dtype=np.float64)
    out[0] += old * series[0]
    if not keep.any():
        return out
    keep, carried = np.array(np.broadcast_to(keep, shape)), np.empty(shape)
    for t in range(out.shape[0]):
        after = out[t, ...]
        np.multiply(keep, state, out=carried)
        np.add(after, carried, out=after)
        state = after
    return out


def _padded(series_c: FloatArray, dimensions: int) -> tuple[int, ...]:
    """Shape of ``series_c`` with ones after the hour, so that trailing axes broadcast."""
    missing = dimensions - (series_c.ndim - 1)
    return (series_c.shape[0], *(1,) * missing, *series_c.shape[1:])
