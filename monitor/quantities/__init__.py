"""Derived quantities and the one plan in which each is computed once."""

from monitor.quantities.plan import Plan, plan
from monitor.quantities.registry import LEARNED, QUANTITIES

__all__ = ["LEARNED", "QUANTITIES", "Plan", "plan"]
