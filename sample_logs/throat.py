"""From feeder outlet into the screws: the fall through the chute, the throat and what it takes in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sample_logs.upsets import Upsets

SLOTS = 32
"""Length of the delay line, steps."""
USUAL_PART = 0.02
"""Weight of one step in what usually lands. A part-closed path passes its part of that, however high it packs."""


@dataclass
class ThroatParameters:
    """intake_kg_rev, side_intake_kg_rev: most the screw, or the side feeder's screws, take in per turn.
    chute_kg, side_chute_kg: what the chute holds before it packs up to the feeders."""

    intake_kg_rev: np.ndarray
    side_intake_kg_rev: np.ndarray
    chute_kg: np.ndarray
    side_chute_kg: np.ndarray


@dataclass
class ThroatState:
    """line_kg [slot, feeder, run]: falling; waiting_kg [feeder, run]: above a blocked path;
    throat_kg [feeder, run]: in the throat; usual_kg [feeder, run]: what landed in a step while the path was open;
    slot: where the delay line stands."""

    line_kg: np.ndarray
    waiting_kg: np.ndarray
    throat_kg: np.ndarray
    slot: int
    usual_kg: np.ndarray


def empty(feeders: int, runs: int) -> ThroatState:
    """Nothing on the way."""
    none = np.zeros((feeders, runs))
    return ThroatState(np.zeros((SLOTS, feeders, runs)), none.copy(), none.copy(), 0, none.copy())


def packed(state: ThroatState, p: ThroatParameters, side: np.ndarray) -> np.ndarray:
    """Part of each feeder's outlet still free: 1 until the chute is full, then down to 0, [feeder, run]."""
    here = state.waiting_kg + state.throat_kg
    main = (here * (1.0 - side)).sum(0)
    aside = (here * side).sum(0)
    free = np.clip(2.0 - main / p.chute_kg, 0.0, 1.0)
    free_side = np.clip(2.0 - aside / p.side_chute_kg, 0.0, 1.0)
    return np.where(side > 0.5, free_side, free)


def advance(
    state: ThroatState,
    p: ThroatParameters,
    upset: Upsets,
    delivered_kg: np.ndarray,
    lag_steps: np.ndarray,
    side: np.ndarray,
    turns: np.ndarray,
    room_kg: np.ndarray,
    side_room_kg: np.ndarray,
) -> np.ndarray:
    """Kilograms that enter the screws in this step, [feeder, run].

    lag_steps: whole steps of fall, int, at most SLOTS - 1. turns [run]: screw turns in this step.
    """
    feeders, runs = delivered_kg.shape
    f, r = np.arange(feeders)[:, None], np.arange(runs)
    state.line_kg[(state.slot + lag_steps) % SLOTS, f, r] += delivered_kg * (1.0 - upset.sampled)
    landed = state.line_kg[state.slot].copy()
    state.line_kg[state.slot] = 0.0
    state.slot = (state.slot + 1) % SLOTS
    waiting = state.waiting_kg + landed
    open_part = np.where(side > 0.5, upset.side_path, upset.path)
    is_open = open_part >= 0.999
    state.usual_kg = state.usual_kg + USUAL_PART * (landed - state.usual_kg) * is_open
    through = np.where(is_open, waiting, np.minimum(state.usual_kg * open_part, waiting))
    state.waiting_kg = waiting - through
    there = state.throat_kg + through
    main = there * (1.0 - side)
    aside = there * side
    main_kg, side_kg = main.sum(0), aside.sum(0)
    most = np.minimum(p.intake_kg_rev * upset.intake * turns, room_kg)
    side_most = np.minimum(p.side_intake_kg_rev * turns, side_room_kg)
    taken = main * np.minimum(most / np.maximum(main_kg, 1e-12), 1.0)
    taken += aside * np.minimum(side_most / np.maximum(side_kg, 1e-12), 1.0)
    state.throat_kg = there - taken
    return taken
