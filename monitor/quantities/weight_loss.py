"""What a hopper lost against what its reported rate promised, over the shortest window that can tell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from monitor.contract import Context, State
from monitor.exact import Bools, Floats, blank, with_past
from monitor.quantities.feeding import disturbance_kg
from monitor.quantities.windows import window_start, window_sums

WINDOWS_S = (300.0, 900.0, 1800.0)
LEAP_SHARE, LEAP_NOISES = 0.0005, 5.0
"""A step of the weight beyond both is a hand, a tare or a filling. From cell to cell a scale scatters by 1.4 times its
noise: five are 3.5 standard deviations, met once in some hours. Less than a two-thousandth no scale is sure of: value
from memory."""

SURE_SHARE = 0.01
"""A window is long enough when the error is 1 % of what was promised."""


@dataclass(frozen=True)
class Loss:
    """lost, promised: kg over the window. error: what both can be wrong by, kg. window_s: its length.

    [subject, n] each; NaN where no window without a refill, a touched scale or a missing reading is there.
    """

    lost: Floats
    promised: Floats
    error: Floats
    window_s: Floats


def loss_start(count: int, ctx: Context) -> State:
    """Nothing seen."""
    most = max(ctx.cells(seconds) for seconds in WINDOWS_S)
    names = ("promised", "promised_squares", "steps", "step_squares")
    return {
        "weight": blank(count, most),
        "kept": window_start(count, most),
        **{name: window_start(count, most) for name in names},
    }


def loss(state: State, weight: Floats, noise: Floats, rate: Floats, calm: Bools, ctx: Context) -> tuple[Loss, State]:
    """weight and `weight_noise`, kg, and the reported rate, kg/h, [subject, n] each.

    calm: cells fit to be judged: no refill, nothing changed. Cells in which the weight leaps away from what is fed
    by more than the scale does of itself (a hand on it, a catch sample, blanket gas, tare) spoil their windows.
    The error holds the scale's noise and digit and the scatter of the reported rate, which is sampled, not summed.
    """
    n, most = weight.shape[1], state["weight"].shape[1]
    after: State = {}
    weights, after["weight"] = with_past(state["weight"], weight)
    fed = rate * (ctx.step_s / 3600)
    step = weight - weights[:, most - 1 : -1]
    with np.errstate(invalid="ignore"):
        # A tare shifts a small scale by grams: what its own noise does not do counts, no fixed weight. What a feeder is
        # told in a cell may be wrong by all of it: that is the fault looked for, no leap.
        least = np.fmax(LEAP_SHARE * weight, LEAP_NOISES * noise) + fed
        leap = np.abs(step + fed) > np.where(noise > 0, least, disturbance_kg(weight, noise))
    fit = calm & ~leap & np.isfinite(step) & np.isfinite(fed)
    widths = [ctx.cells(seconds) for seconds in WINDOWS_S]
    _, kept, after["kept"] = window_sums(state["kept"], np.where(fit, 1.0, np.nan), widths)
    sums = {}
    for name, cells in (
        ("promised", fed),
        ("promised_squares", fed * fed),
        ("steps", step),
        ("step_squares", step * step),
    ):
        sums[name], _, after[name] = window_sums(state[name], cells, widths)
    out = [np.full(weight.shape, np.nan) for _ in range(4)]
    sure = np.zeros(weight.shape, bool)
    for place, (width, seconds) in enumerate(zip(widths, WINDOWS_S, strict=True)):
        promised = sums["promised"][place]
        of_scale = _spread(sums["step_squares"][place], sums["steps"][place], width)
        of_rate = _spread(sums["promised_squares"][place], promised, width)
        scale = np.fmax(1.5 * of_scale, 2 * np.nan_to_num(noise))
        error = np.sqrt(scale * scale + width * of_rate * of_rate)
        take = (kept[place] == width) & ~sure & (promised > 0)
        lost = weights[:, most - width : most - width + n] - weight
        for target, value in zip(out, (lost, promised, error, seconds), strict=True):
            np.copyto(target, value, where=take)
        sure |= take & (error <= SURE_SHARE * promised)
    return Loss(*out), after


def _spread(squares: Floats, total: Floats, width: int) -> Floats:
    """Standard deviation of the cells of a window from their sums."""
    return np.sqrt(np.fmax(squares / width - np.square(total / width), 0.0))
