"""Short cautions in the usual wording. They defer to the maker's manual, site procedure and local codes.

Evenmelt watches and explains; it is not a safety function and protects nobody.
"""

PRESSURE = (
    "Hot melt under pressure can burst out. Stand aside, never in line with die, burst disc or head bolts. "
    "Follow the maker's manual and site procedure."
)
COLD = (
    "Frozen melt can trap gas and pressure. Stop the screw, heat die and head through, soak, then turn slowly while "
    "watching pressure and torque, as the maker's manual says."
)
HEAT = (
    "Overheated polymer gives off harmful gas and burns. Keep people away from die and vents, ventilate, follow site "
    "procedure and the supplier's sheet."
)
ELECTRICAL = "Heater bands carry mains voltage. For qualified staff only, isolated and locked out by site procedure."
MOVING = (
    "Screws and feeders move without warning. No hands, no metal rods in throat or feeder; isolate and lock out first."
)
HOLD = (
    "Melt held hot degrades and can build up gas. Purge or cool as the supplier's sheet and site procedure say; "
    "stand aside when the screw starts again."
)
TORQUE = (
    "Shaft, coupling and gearbox carry this load, and a screw that jams can shear them. Do not try again and again "
    "under load; follow the maker's manual and site procedure."
)
