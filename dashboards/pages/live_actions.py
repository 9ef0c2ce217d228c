"""What a person can do about the finding whose chart is shown; the only thing a live page ever writes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, dcc, html
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.alarm_states import SetAside
from dashboards.charts import channels_of
from dashboards.clock import MINUTE, SECOND, PlantClock
from dashboards.data import JournalData
from dashboards.figures.findings_line import ordered
from dashboards.parts import field
from dashboards.presses import pressed_now
from dashboards.shifts import next_shift
from dashboards.text_field import left_in
from dashboards.texts import say
from dashboards.views import LineNow
from monitor.alarms import LONGEST_SHELF_S, never_out_of_service, never_shelved
from monitor.journal.errors import JournalError
from monitor.records import Finding

SPAN_OF = {
    ids.LIVE_ASIDE_30: "30",
    ids.LIVE_ASIDE_60: "60",
    ids.LIVE_ASIDE_120: "120",
    ids.LIVE_ASIDE_SHIFT: "shift",
}
"""For how long something can be set aside, by button: minutes, or to the end of the shift."""

KIND_OF = {
    ids.LIVE_SEEN: "acknowledged",
    ids.LIVE_NOTE: "note",
    ids.LIVE_RESET: "reset",
    ids.LIVE_OUT: "out of service",
    **dict.fromkeys(SPAN_OF, "shelved"),
}
"""What pressing a button of the form does."""

KIND_OF_BACK = {ids.LIVE_BACK: "unshelved", ids.LIVE_IN: "back in service"}
"""What pressing a button beside what was taken away does."""


@dataclass(frozen=True)
class About:
    """The finding that the form is about, and what can be done about it: 'seen', 'note', 'aside', 'reset', 'away'.

    why_not: why it cannot be set aside, where that is not plain.
    """

    finding: Finding | None
    can: tuple[str, ...] = ()
    why_not: str = ""

    @property
    def signature(self) -> list[str]:
        """Changes when the form would read differently."""
        last = self.finding.last if self.finding else None
        return [last.finding, last.summary, self.why_not, *self.can] if last else []


def about_of(now: LineNow, key: str) -> About:
    """The most pressing finding of a channel that stands, is set aside, or is gone but not reset."""
    away = tuple(item.finding for item in (*now.set_aside, *now.out_of_service))
    kinds = (tuple(ordered(now.findings)), away, now.latched)
    found = next((f for some in kinds for f in some if key in channels_of(f)), None)
    return About(None) if found is None else _about(now, found)


def _about(now: LineNow, finding: Finding) -> About:
    last = finding.last
    if any(item.finding.last.finding == last.finding for item in (*now.set_aside, *now.out_of_service)):
        return About(finding, ("note", "away"))
    letter = now.alarms.letters.get(last.finding)
    if letter == "E":
        return About(finding, ("seen", "note"), say("act.reset_later"))
    if letter == "F":
        return About(finding, ("note", "reset"))
    if last.priority == 1:
        return About(finding, ("seen", "note"), say("act.never_aside"))
    if last.finding in now.alarms.latching:
        return About(finding, ("seen", "note"), say("act.latching"))
    if letter in ("B", "C"):
        return About(finding, ("seen", "note", "aside"))
    return About(finding, ("seen", "note"))


def action_form() -> html.Div:
    """The form. What it is about and which of its parts apply comes with every tick that changes them."""
    group: Any = {"aria-labelledby": ids.LIVE_ASIDE}
    out_group: Any = {"aria-labelledby": ids.LIVE_OUT_TITLE}
    spans = [html.Button(say(f"act.for.{span}"), id=button, n_clicks=0) for button, span in SPAN_OF.items()]
    return html.Div(
        [
            dcc.Store(id=ids.LIVE_ABOUT_ID, data=""),
            html.P(id=ids.LIVE_ABOUT, className="about"),
            field(say("act.who"), ids.LIVE_WHO, "who", persistence=True),
            field(say("act.text"), ids.LIVE_TEXT),
            html.Button(say("act.seen"), id=ids.LIVE_SEEN, n_clicks=0, className="if-seen"),
            html.Button(say("act.note"), id=ids.LIVE_NOTE, n_clicks=0),
            html.Button(say("act.reset"), id=ids.LIVE_RESET, n_clicks=0, className="if-reset"),
            html.Div(
                [html.Span(say("act.aside_for"), id=ids.LIVE_ASIDE, className="soft"), *spans],
                className="if-aside",
                role="group",
                **group,
            ),
            html.Div(
                [
                    html.Span(say("act.out_for"), id=ids.LIVE_OUT_TITLE, className="soft"),
                    html.Button(say("act.out"), id=ids.LIVE_OUT, n_clicks=0),
                ],
                className="if-aside",
                role="group",
                **out_group,
            ),
            html.P(id=ids.LIVE_SAID, className="soft", role="status"),
        ],
        id=ids.LIVE_FORM,
        className="act none",
    )


def form_parts(about: About) -> tuple[list[Any], str, str]:
    """What the form says it is about, the finding's id, and the class that shows what applies."""
    if about.finding is None:
        return [say("act.no_finding")], "", "act none"
    last = about.finding.last
    told: list[Any] = [html.Span(say("act.about") + " ", className="soft"), html.B(last.summary)]
    if about.why_not:
        told.append(html.Span(" " + about.why_not, className="soft"))
    return told, last.finding, " ".join(["act", *(f"can-{what}" for what in about.can)])


def register(app: Dash, data: JournalData) -> None:
    """Writes what people did to the journal."""

    @app.callback(
        Output(ids.LIVE_SAID, "children"),
        Output(ids.LIVE_TEXT, "left"),
        *(Input(button, "n_clicks") for button in KIND_OF),
        *(Input({"type": button, "finding": ALL}, "n_clicks") for button in KIND_OF_BACK),
        State(ids.LIVE_WHO, "value"),
        State(ids.LIVE_TEXT, "value"),
        State(ids.LIVE_ABOUT_ID, "data"),
        State(ids.LIVE_LINE, "data"),
        prevent_initial_call=True,
    )
    def act(*given: Any) -> tuple[str, Any]:
        who, text, finding, name = given[-4:]
        if not pressed_now() or data.line(name) is None:
            raise PreventUpdate
        pressed: Any = ctx.triggered_id
        in_form = isinstance(pressed, str)
        kind = KIND_OF[pressed] if in_form else KIND_OF_BACK[pressed["type"]]
        wanted = finding if in_form else str(pressed["finding"])
        span = SPAN_OF.get(pressed, "30") if in_form else "30"
        said, left = done(data, name, wanted, kind, who or "", text or "", span)
        return said, left_in(text, left)


def done(
    data: JournalData, name: str, finding: str, kind: str, who: str, text: str, span: str = "30"
) -> tuple[str, str]:
    """What is said after a press, and what is left in the text field. finding: the one the presser saw.

    Another person may have been faster: what no longer applies is said, with who did it, and not written.
    """
    now, clock = data.line_now(name), data.clock(name)
    refusal = refused(now, clock, finding, kind, who, text)
    if refusal:
        return refusal, text
    until = until_of(now, clock, span) if kind == "shelved" else None
    back = kind in KIND_OF_BACK.values()
    try:
        data.act(name, finding, kind, who.strip(), "" if back else text.strip(), until)
    except JournalError as error:
        return str(error), text
    if until is not None:
        return say("act.aside_done", at=clock.since(until, now.now)), ""
    if kind == "out of service":
        return say("act.out_done"), ""
    return say("act.done", at=clock.time(now.now)), text if back else ""


def refused(now: LineNow, clock: PlantClock, finding: str, kind: str, who: str, text: str) -> str:
    """Why an action can't be written down, '' if it can."""
    if not finding:
        return say("act.no_finding")
    if not who.strip():
        return say("act.no_name")
    if kind == "note" and not text.strip():
        return say("act.no_text")
    aside = next((item for item in now.set_aside if item.finding.last.finding == finding), None)
    out = next((item for item in now.out_of_service if item.finding.last.finding == finding), None)
    if kind == "back in service":
        return "" if out is not None else say("act.not_out")
    if out is not None and kind in ("shelved", "out of service"):
        return say("act.out_already", who=out.who, at=clock.since(out.at_ns, now.now))
    if kind == "out of service":
        return _why_not_out(now, finding, text)
    if kind == "unshelved":
        return "" if aside is not None else say("act.not_aside")
    if kind == "reset":
        return "" if now.alarms.letters.get(finding) == "F" else say("act.no_reset")
    return _why_not_aside(now, clock, finding, aside, text) if kind == "shelved" else ""


def _why_not_aside(now: LineNow, clock: PlantClock, finding: str, aside: SetAside | None, text: str) -> str:
    if aside is not None:
        return say("act.aside_already", who=aside.who, at=clock.since(aside.until_ns, now.now))
    stands = next((f for f in now.findings if f.last.finding == finding), None)
    if stands is None:
        return say("act.ended")
    if finding in now.alarms.latching and stands.last.priority > 1:
        return say("act.latching")
    if never_shelved(stands.last.priority):
        return say("act.never_aside" if stands.last.priority == 1 else "act.only_note")
    return "" if text.strip() else say("act.no_reason")


def _why_not_out(now: LineNow, finding: str, text: str) -> str:
    stands = next((f for f in now.findings if f.last.finding == finding), None)
    if stands is not None and never_out_of_service(stands.last.priority):
        return say("act.never_out" if stands.last.priority == 1 else "act.only_note")
    if finding in now.alarms.latching:
        return say("act.latching")
    return "" if text.strip() else say("act.no_out_reason")


def refuse(about: Finding | None, who: str | None) -> str:
    """Why what was done about a finding can't be written down without more, '' if it can."""
    if about is None:
        return say("act.no_finding")
    return "" if (who or "").strip() else say("act.no_name")


def until_of(now: LineNow, clock: PlantClock, span: str) -> int:
    """When what is set aside now comes back: at most a shift later."""
    if span == "shift":
        return min(next_shift(clock, now.now, now.line.line.shift_starts), now.now + LONGEST_SHELF_S * SECOND)
    return now.now + int(span) * MINUTE
