"""All English texts together."""

from __future__ import annotations

from dashboards.texts_english_aside import ASIDE
from dashboards.texts_english_cautions import CAUTIONS
from dashboards.texts_english_drawings import DRAWINGS
from dashboards.texts_english_files import FILES
from dashboards.texts_english_import import IMPORT
from dashboards.texts_english_lab import LAB
from dashboards.texts_english_live import LIVE
from dashboards.texts_english_lots import LOTS
from dashboards.texts_english_pages import PAGES
from dashboards.texts_english_report import REPORT
from dashboards.texts_english_units import UNITS_TEXTS
from dashboards.texts_english_upkeep import UPKEEP

ENGLISH: dict[str, str] = {
    **DRAWINGS,
    **PAGES,
    **LIVE,
    **ASIDE,
    **LOTS,
    **LAB,
    **UPKEEP,
    **REPORT,
    **CAUTIONS,
    **UNITS_TEXTS,
    **IMPORT,
    **FILES,
}
