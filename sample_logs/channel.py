"""The channel of a flood-fed single screw: drag flow, back flow, filling, melting, dissipation, heat.

Q = drag - back flow, with the die's Q ~ P^(1/n) behind it (extruder characteristic: the flow does not depend on how
stiff the melt is, because screw and die share it; the pressure does).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sample_logs.barrel import PLASTIC_SPEED_POWER, Ledger
from sample_logs.die import pressure_and_flow
from sample_logs.melt import MeltParameters, relative_consistency


@dataclass
class ChannelParameters:
    """Shapes [section], sections in machine order, pipes (adapter, screen, die) last.

    capacity_kg: content when full. drag_kg_rev: drag flow of a full section per turn (pipes: 1).
    back_kg_s_bar: back flow of the metering section per bar at nominal melt and speed.
    elastic_kg_bar: melt the pressure packs into metering section and pipes.
    power_w: dissipation at nominal speed, full, melt at nominal_c. work_j_bar_kg: heat per bar and kilogram dragged.
    to_wall: part of a section's work that goes straight into the barrel.
    """

    capacity_kg: np.ndarray
    drag_kg_rev: np.ndarray
    back_kg_s_bar: np.ndarray
    elastic_kg_bar: np.ndarray
    wall_w_k: np.ndarray
    power_w: np.ndarray
    nominal_c: np.ndarray
    melts: np.ndarray
    plastic_j_kg: np.ndarray
    fusion_j_kg: np.ndarray
    cp_j_kg_k: np.ndarray
    speed_rps: np.ndarray
    work_j_bar_kg: np.ndarray
    to_wall: np.ndarray


@dataclass
class ChannelState:
    """content_kg, temperature_c, passed_kg, wall_w [section, run]; the rest [run]. elastic_kg: part of the metering
    section's content that is packed by the pressure."""

    content_kg: np.ndarray
    temperature_c: np.ndarray
    passed_kg: np.ndarray
    wall_w: np.ndarray
    pressure_bar: np.ndarray
    elastic_kg: np.ndarray
    screw_w: np.ndarray
    ledger: Ledger


@dataclass
class ChannelInput:
    """intake_kg: what the throat would give in this step. Others as in `barrel.BarrelInput`; [run]."""

    intake_kg: np.ndarray
    speed_rps: np.ndarray
    wall_c: np.ndarray
    feed_c: np.ndarray
    resistance_bar: np.ndarray
    die_rate_kg_s: np.ndarray
    ln_lot: np.ndarray
    dissipation: np.ndarray


def advance(
    state: ChannelState,
    p: ChannelParameters,
    melt: MeltParameters,
    given: ChannelInput,
    metering: int,
    step_s: float,
) -> np.ndarray:
    """Moves the channel one step on, in place; returns the kilograms taken from the throat, [run]."""
    sections = p.capacity_kg.shape[0]
    held = state.content_kg
    turn = given.speed_rps * step_s
    speed = given.speed_rps / p.speed_rps
    n = melt.power_law_index
    consistency = relative_consistency(melt, state.temperature_c, p.nominal_c, given.ln_lot + 0.0 * held)
    loose = held.copy()
    loose[metering] = np.maximum(held[metering] - state.elastic_kg, 0.0)
    fill = np.minimum(loose / p.capacity_kg, 1.0)
    dragged = fill * p.drag_kg_rev * turn
    room = np.maximum(p.capacity_kg - loose, 0.0)
    # a section that could drag more than the metering section takes works as if full until it carries less
    busy = np.minimum(fill * p.drag_kg_rev / p.drag_kg_rev[metering], 1.0)
    work = p.power_w * consistency * speed ** (n + 1.0) * busy * given.dissipation * step_s
    wetted = p.wall_w_k * fill * step_s
    out = np.minimum(dragged, loose)
    out[metering] = _through_the_die(state, p, given, dragged[metering], consistency, speed, n, metering, step_s)
    work[metering] += p.work_j_bar_kg * state.pressure_bar * dragged[metering]
    for s in range(metering - 1, -1, -1):
        out[s] = np.minimum(out[s], room[s + 1] + out[s + 1])
    intake = np.minimum(given.intake_kg, room[0] + out[0])
    ledger = state.ledger
    from_wall, fusion = np.empty_like(held), np.empty_like(held)
    stored_j = p.cp_j_kg_k * held * state.temperature_c + wetted * given.wall_c
    in_melt = 1.0 - p.to_wall
    moving_kg, moving_c = intake, given.feed_c
    for s in range(sections):
        content = held[s] + moving_kg
        if s > metering:
            out[s] = np.maximum(content - p.capacity_kg[s], 0.0)
        melting = p.melts[s] * moving_kg
        work[s] += p.plastic_j_kg * melting * speed**PLASTIC_SPEED_POWER * given.dissipation
        fusion[s] = p.fusion_j_kg * melting
        heat_j = stored_j[s] + p.cp_j_kg_k * moving_kg * moving_c + work[s] * in_melt[s] - fusion[s]
        now_c = heat_j / (p.cp_j_kg_k * content + wetted[s] + 1e-12)
        now_c = np.where(content > 1e-9, now_c, given.wall_c[s])
        from_wall[s] = wetted[s] * (given.wall_c[s] - now_c)
        state.temperature_c[s] = now_c
        state.content_kg[s] = content - out[s]
        moving_kg, moving_c = out[s], now_c
    from_wall -= p.to_wall * work
    state.wall_w = from_wall / step_s
    ledger.wall_j += from_wall.sum(0)
    ledger.fusion_j += fusion.sum(0)
    state.passed_kg[:] = out
    screw_j = work.sum(0)
    state.screw_w = screw_j / step_s
    ledger.screw_j += screw_j
    ledger.in_kg += intake
    ledger.in_j += p.cp_j_kg_k * intake * given.feed_c
    ledger.out_kg += moving_kg
    ledger.out_j += p.cp_j_kg_k * moving_kg * moving_c
    return intake


def _through_the_die(
    state: ChannelState,
    p: ChannelParameters,
    given: ChannelInput,
    dragged_kg: np.ndarray,
    consistency: np.ndarray,
    speed: np.ndarray,
    n: np.ndarray,
    metering: int,
    step_s: float,
) -> np.ndarray:
    """Solves drag = die flow + back flow + packing for the pressure; returns what leaves the metering section."""
    stiff = consistency[metering] * np.maximum(speed, 0.02) ** (n - 1.0)
    back = p.back_kg_s_bar / stiff * step_s
    resistance = given.resistance_bar * consistency[-1]
    packed = state.elastic_kg
    pressure, out = pressure_and_flow(
        dragged_kg + packed,
        1.0 / (p.elastic_kg_bar + back),
        resistance,
        given.die_rate_kg_s,
        n,
        step_s,
        rounds=8,
    )
    returned = np.minimum(pressure * back, dragged_kg + packed)
    state.elastic_kg = np.maximum(dragged_kg + packed - out - returned, 0.0)
    state.pressure_bar = pressure
    return out
