"""Every derived quantity that a line has once a feeder; names carry the feeder after a colon."""

from __future__ import annotations

from monitor.contract import Context
from monitor.quantities.at_die import die_flow_of, die_share_of
from monitor.quantities.feed import share_of
from monitor.quantities.feeding import feed_factor_of, refilling_of, usual_feed_factor_of, weight_noise_of
from monitor.quantities.quantity import Quantity

PER_FEEDER_UNITS = {
    "share": "%",
    "weight_noise": "kg",
    "refilling": "1",
    "feed_factor": "kg/h/%",
    "usual_feed_factor": "kg/h/%",
    "die_flow": "kg/h",
    "die_share": "%",
}
"""Units by the name before the colon."""


def per_feeder(ctx: Context) -> tuple[Quantity, ...]:
    """What a line may have for each of its feeders; the plan takes what its channels allow."""
    fed, weighed = ctx.subjects_of("feeder_rate"), ctx.subjects_of("feeder_weight")
    watched = tuple(dict.fromkeys((*weighed, *ctx.subjects_of("feeder_refill"))))
    factors = {name: feed_factor_of(name, (f"refilling:{name}",) if name in watched else ()) for name in fed}
    driven = [name for name in fed if factors[name].possible(ctx)]
    ways = {
        name: tuple(
            f"{kind}:{name}"
            for kind in (("refilling", "feed_factor", "usual_feed_factor") if name in driven else ("refilling",))
        )
        for name in fed
        if name in watched
    }
    return (
        *(share_of(name) for name in fed),
        *(weight_noise_of(name) for name in weighed),
        *(refilling_of(name, (f"weight_noise:{name}",) if name in weighed else ()) for name in watched),
        *(factors[name] for name in driven),
        *(usual_feed_factor_of(name) for name in driven),
        *(die_flow_of(name, ways.get(name, ())) for name in fed),
        *(die_share_of(name, fed) for name in fed),
    )
