"""What a hopper lost against what its reported rate promised, over the shortest window that can tell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from monitor.contract import Context, State
from monitor.exact import Bools, Floats, blank, with_past
from monitor.quantities.feeding import DIGIT_CELLS, digit_kg, disturbance_kg, scale_noise
from monitor.quantities.windows import window_mean, window_start, window_sums

WINDOWS_S = (300.0, 900.0, 1800.0)
NOISE_S = 300.0
SURE_SHARE = 0.01
"""A window is long enough when what the scale can be wrong by is 1 % of what was promised."""


@dataclass(frozen=True)
class Loss:
    """lost, promised: kg over the window. error: what the scale can be wrong by, kg. window_s: its length.

    [subject, n] each; NaN where no window without a refill, a touched scale or a missing reading is there.
    """

    lost: Floats
    promised: Floats
    error: Floats
    window_s: Floats


def loss_start(count: int, ctx: Context) -> State:
    """Nothing seen."""
    most = max(ctx.cells(seconds) for seconds in WINDOWS_S)
    return {
        "weight": blank(count, most),
        "raw": blank(count, DIGIT_CELLS - 1),
        "noise": window_start(count, ctx.cells(NOISE_S)),
        "kept": window_start(count, most + 1),
        "promised": window_start(count, most),
        "steps": window_start(count, most),
        "squares": window_start(count, most),
    }


def loss(state: State, weight: Floats, raw: Floats, rate: Floats, calm: Bools, ctx: Context) -> tuple[Loss, State]:
    """weight, kg, its last reading as logged in each cell, and the reported rate, kg/h, [subject, n] each.

    calm: cells fit to be judged: no refill, nothing changed. Cells in which the weight leaps away from what is fed
    by more than the scale does of itself (a hand on it, a catch sample, blanket gas, tare) spoil their windows.
    """
    n, most = weight.shape[1], state["weight"].shape[1]
    after: State = {}
    weights, after["weight"] = with_past(state["weight"], weight)
    raws, after["raw"] = with_past(state["raw"], raw)
    digit = digit_kg(raws)
    bends = scale_noise(weights[:, most - 2 :], np.fmax(0.01 * weight, 0.2))
    noise, after["noise"] = window_mean(state["noise"], bends, state["noise"]["sum"].shape[1])
    fed = rate * (ctx.step_s / 3600)
    step = weight - weights[:, most - 1 : -1]
    with np.errstate(invalid="ignore"):
        leap = np.abs(step + fed) > disturbance_kg(weight, np.nan_to_num(noise), digit)
    fit = calm & ~leap & np.isfinite(step) & np.isfinite(fed)
    widths = [ctx.cells(seconds) for seconds in WINDOWS_S]
    _, kept, after["kept"] = window_sums(state["kept"], np.where(fit, 1.0, np.nan), widths)
    promised, _, after["promised"] = window_sums(state["promised"], fed, widths)
    total, _, after["steps"] = window_sums(state["steps"], step, widths)
    squares, _, after["squares"] = window_sums(state["squares"], step * step, widths)
    out = [np.full(weight.shape, np.nan) for _ in range(4)]
    sure = np.zeros(weight.shape, bool)
    for place, (width, seconds) in enumerate(zip(widths, WINDOWS_S, strict=True)):
        spread = np.fmax(squares[place] / width - np.square(total[place] / width), 0.0)
        error = np.fmax(1.5 * np.sqrt(spread), 0.5 * digit)
        take = (kept[place] == width) & ~sure & (promised[place] > 0)
        lost = weights[:, most - width : most - width + n] - weight
        for target, value in zip(out, (lost, promised[place], error, seconds), strict=True):
            np.copyto(target, value, where=take)
        sure |= take & (error <= SURE_SHARE * promised[place])
    return Loss(*out), after
