"""The screws' sections: what they hold, pass on, dissipate and exchange with the wall.

One section per zone. A partly filled conveying section passes its content on at a speed set by the screw
(transit revolutions), mixed inside itself: the row of sections gives plug flow with mixing. The last barrel
section is the filled length that makes the die pressure; adapter, screen and die are full pipes behind it.
Mass and energy are conserved to rounding; `Ledger` holds the sums that prove it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sample_logs.die import pressure_and_flow
from sample_logs.melt import MeltParameters, relative_consistency

BACK_UP = 3.0
"""The filled length may back up over two more sections before the pump section refuses melt."""
UNLIMITED_KG = 1e9
MIX_LIMIT = 0.35
"""ln of the most a wrong mix can stiffen or thin the melt; own choice."""
PLASTIC_SPEED_POWER = 0.5
"""Plastic work of melting a kilogram grows weakly with speed; own choice."""


@dataclass
class BarrelParameters:
    """Shapes [section] or [section, feeder], run axis behind. Sections in machine order; pipes last.

    capacity_kg: content when full. transit_rev: screw turns to pass a partly filled section.
    hold_kg: content a kneading or reverse element keeps; it drains over drain_s only.
    wall_w_k: heat passed to the wall per kelvin when fully wetted.
    power_w: dissipation at nominal speed, content nominal_kg and melt at nominal_c.
    melts: part of the melting done here. plastic_j_kg: work of melting. fusion_j_kg: heat taken up by melting.
    shares: mass shares of the recipe in the section. enters: 1 where a feeder enters.
    pump_bar_per_kg: pressure per kilogram of filled length at nominal speed.
    to_wall: part of a section's work that goes straight into the barrel (film sheared at the wall).
    """

    capacity_kg: np.ndarray
    transit_rev: np.ndarray
    hold_kg: np.ndarray
    drain_s: np.ndarray
    wall_w_k: np.ndarray
    power_w: np.ndarray
    nominal_kg: np.ndarray
    nominal_c: np.ndarray
    melts: np.ndarray
    plastic_j_kg: np.ndarray
    fusion_j_kg: np.ndarray
    cp_j_kg_k: np.ndarray
    shares: np.ndarray
    enters: np.ndarray
    speed_rps: np.ndarray
    pump_bar_per_kg: np.ndarray
    to_wall: np.ndarray


@dataclass
class Ledger:
    """Sums since the start, per run: kilograms and joules in, out, from the screws, from the wall, to melting."""

    in_kg: np.ndarray
    out_kg: np.ndarray
    in_j: np.ndarray
    out_j: np.ndarray
    screw_j: np.ndarray
    wall_j: np.ndarray
    fusion_j: np.ndarray


@dataclass
class BarrelState:
    """mass_kg [section, feeder, run]; temperature_c, passed_kg (last step), wall_w [section, run]; the rest [run]."""

    mass_kg: np.ndarray
    temperature_c: np.ndarray
    passed_kg: np.ndarray
    wall_w: np.ndarray
    pressure_bar: np.ndarray
    screw_w: np.ndarray
    die_consistency: np.ndarray
    ledger: Ledger


@dataclass
class BarrelInput:
    """What acts on the sections in one step.

    arrivals_kg [feeder, run]; speed_rps [run]; wall_c [section, run]; feed_c [run];
    resistance_bar [run]: screen and die at the nominal rate and nominal melt; die_rate_kg_s [run];
    ln_lot [run]: ln of the lot's consistency; dissipation [run]: factor on screw heat;
    vent_loss [run]: part of the flow that leaves through the vent ahead of the pump section.
    """

    arrivals_kg: np.ndarray
    speed_rps: np.ndarray
    wall_c: np.ndarray
    feed_c: np.ndarray
    resistance_bar: np.ndarray
    die_rate_kg_s: np.ndarray
    ln_lot: np.ndarray
    dissipation: np.ndarray
    vent_loss: np.ndarray


def empty_ledger(runs: int) -> Ledger:
    """A ledger that starts at zero."""
    return Ledger(*(np.zeros(runs) for _ in range(7)))


def room_kg(state: BarrelState, p: BarrelParameters, pump: int) -> np.ndarray:
    """What each section could still take in one step, [section, run]."""
    limit = p.capacity_kg.copy()
    limit[pump] *= BACK_UP
    limit[pump + 1 :] = UNLIMITED_KG
    return np.maximum(limit - state.mass_kg.sum(1) + state.passed_kg, 0.0)


def advance(
    state: BarrelState,
    p: BarrelParameters,
    melt: MeltParameters,
    given: BarrelInput,
    pump: int,
    step_s: float,
) -> None:
    """Moves every section one step on, throat to die, in place. `pump` is the index of the last barrel section."""
    sections = p.capacity_kg.shape[0]
    held = state.mass_kg.sum(1)
    turn = given.speed_rps * step_s
    leaves = 1.0 - np.exp(-turn / p.transit_rev)
    passes = 1.0 - leaves * p.transit_rev / np.maximum(turn, 1e-9)
    passes *= turn > 1e-9
    drains = (1.0 - np.exp(-step_s / p.drain_s)) * (turn > 1e-9)
    flows = np.maximum(held - p.hold_kg, 0.0) * leaves + np.minimum(held, p.hold_kg) * drains
    room = room_kg(state, p, pump)
    consistency = _consistency(state, p, melt, given.ln_lot, held)
    speed = given.speed_rps / p.speed_rps
    n = melt.power_law_index
    work = p.power_w * consistency * speed ** (n + 1.0) * (held / p.nominal_kg) * given.dissipation * step_s
    plastic = p.plastic_j_kg * speed**PLASTIC_SPEED_POWER * given.dissipation
    wetted = p.wall_w_k * np.minimum(held / p.capacity_kg, 1.0) * step_s
    entering = p.enters * given.arrivals_kg
    ledger = state.ledger
    fed = entering.sum(1)
    fed_j = p.cp_j_kg_k * given.feed_c * fed
    room_next = np.concatenate([room[1:], room[-1:]])
    from_wall, fusion = np.empty_like(held), np.zeros_like(held)
    stored_j = p.cp_j_kg_k * held * state.temperature_c + wetted * given.wall_c
    in_melt = 1.0 - p.to_wall
    heating = work * in_melt
    # Where nothing enters or melts, nothing is added: most sections are so.
    feeds, melts = (np.asarray(x.reshape(sections, -1).any(axis=1)).tolist() for x in (p.enters, p.melts))
    moving = np.zeros_like(given.arrivals_kg)
    moving_kg, moving_c = np.zeros_like(given.feed_c), given.feed_c
    for s in range(sections):
        in_kg = moving_kg + fed[s] if feeds[s] else moving_kg
        content = state.mass_kg[s] + moving
        if feeds[s]:
            content = content + entering[s]
        content_kg = held[s] + in_kg
        if s == pump:
            gain = p.pump_bar_per_kg * speed**n * consistency[s]
            resistance = given.resistance_bar * consistency[sections - 1]
            state.pressure_bar, out_kg = pressure_and_flow(content_kg, gain, resistance, given.die_rate_kg_s, n, step_s)
        elif s > pump:
            out_kg = np.maximum(content_kg - p.capacity_kg[s], 0.0)
        else:
            out_kg = np.minimum(np.minimum(flows[s] + in_kg * passes[s], content_kg), room_next[s])
        heat_j = stored_j[s] + p.cp_j_kg_k * moving_kg * moving_c
        if feeds[s]:
            heat_j = heat_j + fed_j[s]
        if melts[s]:
            melting = p.melts[s] * in_kg
            work[s] += plastic * melting
            fusion[s] = p.fusion_j_kg * melting
            heat_j = heat_j + work[s] * in_melt[s] - fusion[s]
        else:
            heat_j = heat_j + heating[s]
        now_c = heat_j / (p.cp_j_kg_k * content_kg + wetted[s] + 1e-12)
        now_c = np.where(content_kg > 1e-9, now_c, given.wall_c[s])
        from_wall[s] = wetted[s] * (given.wall_c[s] - now_c)
        state.temperature_c[s] = now_c
        moving = content * (out_kg / np.maximum(content_kg, 1e-12))
        state.mass_kg[s] = content - moving
        state.passed_kg[s] = out_kg
        moving_kg, moving_c = out_kg, now_c
        if s == pump - 1:
            lost_kg = out_kg * given.vent_loss
            moving, moving_kg = moving * (1.0 - given.vent_loss), out_kg - lost_kg
            ledger.out_kg += lost_kg
            ledger.out_j += p.cp_j_kg_k * lost_kg * now_c
    from_wall -= p.to_wall * work
    state.wall_w = from_wall / step_s
    ledger.in_j += fed_j.sum(0)
    ledger.wall_j += from_wall.sum(0)
    ledger.fusion_j += fusion.sum(0)
    screw_j = work.sum(0)
    state.screw_w = screw_j / step_s
    state.die_consistency = consistency[sections - 1]
    ledger.screw_j += screw_j
    ledger.in_kg += given.arrivals_kg.sum(0)
    ledger.out_kg += moving_kg
    ledger.out_j += p.cp_j_kg_k * moving_kg * moving_c


def _consistency(
    state: BarrelState, p: BarrelParameters, melt: MeltParameters, ln_lot: np.ndarray, held: np.ndarray
) -> np.ndarray:
    shares = state.mass_kg / np.maximum(held, 1e-9)[:, None, :]
    known = held > 1e-6
    ln_mix = ((shares - p.shares) * melt.share_effect).sum(1) * known
    ln_mix = MIX_LIMIT * np.tanh(ln_mix / MIX_LIMIT)
    return relative_consistency(melt, state.temperature_c, p.nominal_c, ln_mix + ln_lot)
