"""Names of months and weekdays, and the words for the halves of a day, in the languages of European plants.

From the calendars of these languages; where a short form could be two months, as 'jui' in French, it is none.
"""

from __future__ import annotations

import unicodedata
from functools import cache

LETTER = "[A-Za-z\u00c0-\u024f]"
"""Of a word in these languages, in a pattern."""
BLANK = "[ \u00a0\u2009\u202f]"
"""Widths of blanks that programs put between the parts of a stamp."""

_MONTHS = """
january february march april may june july august september october november december
januar februar märz april mai juni juli august september oktober november dezember
jänner feber maerz april mai juni juli august september oktober november dezember
enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre
janvier février mars avril mai juin juillet août septembre octobre novembre décembre
gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre
januari februari maart april mei juni juli augustus september oktober november december
janeiro fevereiro março abril maio junho julho agosto setembro outubro novembro dezembro
styczeń luty marzec kwiecień maj czerwiec lipiec sierpień wrzesień październik listopad grudzień
stycznia lutego marca kwietnia maja czerwca lipca sierpnia września października listopada grudnia
leden únor březen duben květen červen červenec srpen září říjen listopad prosinec
ledna února března dubna května června července srpna září října listopadu prosince
ocak şubat mart nisan mayıs haziran temmuz ağustos eylül ekim kasım aralık
januari februari mars april maj juni juli augusti september oktober november december
januar februar marts april maj juni juli august september oktober november desember
"""
_SHORT = {
    "jan": 1, "feb": 2, "mar": 3, "apr": 4, "may": 5, "jun": 6, "jul": 7, "aug": 8, "sep": 9, "oct": 10,
    "nov": 11, "dec": 12, "mrz": 3, "mrt": 3, "mär": 3, "set": 9, "dez": 12, "dic": 12, "čvn": 6, "čvc": 7,
}  # fmt: skip

_WEEKDAYS = """
mon monday tue tues tuesday wed wednesday thu thur thurs thursday fri friday sat saturday sun sunday
mo montag di dienstag mi mittwoch do donnerstag fr freitag sa samstag sonnabend so sonntag
lun lunes mar martes mié miércoles jue jueves vie viernes sáb sábado dom domingo
lundi mardi mer mercredi jeu jeudi ven vendredi sam samedi dim dimanche
lunedì martedì mercoledì gio giovedì venerdì sab sabato domenica
ma maandag dinsdag wo woensdag donderdag vr vrijdag za zaterdag zo zondag
seg segunda segunda-feira ter terça terça-feira qua quarta quarta-feira qui quinta quinta-feira sex sexta sexta-feira
pon poniedziałek wt wtorek śr środa czw czwartek pt pią piątek sob sobota nd niedz niedziela
po pondělí út úterý st středa čt čtvrtek pá pátek ne neděle
pzt pazartesi sal salı çar çarşamba per perşembe cum cuma cmt cumartesi paz pazar
"""


def _spellings(word: str) -> set[str]:
    return {word, word.capitalize(), word.upper()}


WEEKDAY = "(?:" + "|".join(sorted({way for word in _WEEKDAYS.split() for way in _spellings(word)})) + ")"
"""A weekday in a pattern."""
AM = ("vorm", "ÖÖ", "öö", "πμ", "π.μ")
PM = ("nachm", "ÖS", "ös", "μμ", "μ.μ")
"""The halves of a day where they are not called am and pm, without a point behind."""


def _plain(word: str) -> str:
    marks = unicodedata.normalize("NFKD", word.casefold().replace("ı", "i").replace("ł", "l"))
    return "".join(mark for mark in marks if not unicodedata.combining(mark))


@cache
def _months() -> tuple[tuple[str, int], ...]:
    lines = [line.split() for line in _MONTHS.strip().splitlines()]
    return tuple({(_plain(name), number) for line in lines for number, name in enumerate(line, 1)})


@cache
def month_of(name: str) -> int:
    """Number of a month, 0 for what is none or might be two; at least three letters are needed."""
    key = _plain(name)
    short = {_plain(word): number for word, number in _SHORT.items()}
    if key in short:
        return short[key]
    whole = {number for word, number in _months() if word == key}
    found = whole or {number for word, number in _months() if word.startswith(key) and len(key) >= 3}
    return found.pop() if len(found) == 1 else 0
