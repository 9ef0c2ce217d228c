"""The start of a recipe file, to be filled in."""

from __future__ import annotations

from monitor.line import Line

START = """# What one product needs from the line. Targets and limits in fixed units: C, bar, kg/h, rpm, %, mbar.

format = 1

[recipe]
name = "new recipe"
product = ""
# materials = ["PP", "talc"]   # names of the material table, or your own with what follows
# melting_point_c = 165.0      # of a crystalline polymer (PE, PP, PA, POM, PET, PBT, ...)
# glass_transition_c = 100.0   # in its place, of an amorphous one (PVC, PS, ABS, PMMA, PC, ...)
# ceiling_c = 290.0
# hot_hold_min = 60.0
# rate_kg_h = 400.0
# screw_speed_rpm = 350.0

# Wanted temperature of each zone, C. Where no window is stated, 3 C inner and 5 C outer are taken as a plain start.
[zones]
{zones}

# Percent of each feeder, by mass; they sum to 100.
[shares]
{shares}

# Inner limits bound good product, outer limits ask for action now. Leave out what has no limit.
# [[window]]
# role = "melt_pressure"
# at = "P1"
# target = 60.0
# low = 50.0
# high = 70.0
# low_outer = 40.0
# high_outer = 85.0
"""


def recipe_start(line: Line | None) -> str:
    """Commented, with the zones and feeders of a line where one is known."""
    zones = [f"# {name} = 200.0" for name in line.zone_names] if line is not None else ["# Z1 = 200.0"]
    shares = [f"# {feeder.name} = 0.0" for feeder in line.feeder] if line is not None else ["# F1 = 100.0"]
    return START.replace("{zones}", "\n".join(zones)).replace("{shares}", "\n".join(shares or ["# F1 = 100.0"]))
