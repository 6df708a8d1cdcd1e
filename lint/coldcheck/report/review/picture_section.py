"""The picture of a review in its page, and what a reader can ask of it."""

from __future__ import annotations

from dataclasses import replace
from importlib.resources import files
from typing import TYPE_CHECKING

from coldcheck.picture.volts import volts_of, with_volts
from coldcheck.report.picture import svg
from coldcheck.report.review.live import (
    data_of,
    devices,
    net_key,
    nets_drawn,
    part_key,
    states_shown,
)
from coldcheck.report.shared.html_page import text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.picture.model import Picture
    from coldcheck.verdict.document.content import Document, Shown

STYLE = """
figure { margin: .3rem 0; }
.sheet { overflow: auto; border: 1px solid #767676; }
.sheet svg { display: block; height: auto; max-width: 100%; }
.sheet.natural svg { max-width: none; }
figcaption, .where { color: #444; }
.ask { display: flex; flex-wrap: wrap; gap: .3rem 1.2rem; margin: .3rem 0; }
.ask[hidden] { display: none; }
.ask select { font: inherit; max-width: 14rem; }
.asked { position: sticky; bottom: 0; box-sizing: border-box; min-height: 5rem; max-height: 42vh;
        overflow: auto; padding: .1rem .8rem; background: #fff; border: 1px solid #767676;
        border-left-width: 4px; }
.front > .asked { max-width: none; }
.asked h3 { margin: .1rem 0; font-size: 1rem; }
.asked p, .asked dl { margin: .1rem 0; }
.asked dl { display: flex; flex-wrap: wrap; gap: 0 1.2rem; }
.asked dt, .asked dd { display: inline; margin: 0 .4rem 0 0; }
button { font: inherit; color: #000; background: #fff; border: 1px solid #767676;
         padding: .2rem .6rem; margin: .2rem 0; text-align: left; }
.asked button { display: block; }
.asked button, .asked .where { font-size: .9rem; }
.drawn .hit { fill: transparent; stroke: none; pointer-events: all; }
.drawn path.hit { fill: none; stroke: transparent; stroke-width: 12; pointer-events: stroke; }
.drawn path.lit, .drawn .lit path, .drawn .lit circle { stroke: #a3004f; stroke-width: 2.6; }
.drawn .lit .ink, .drawn circle.dot.lit { fill: #a3004f; }
.drawn path.hit.lit { stroke: #a3004f; stroke-opacity: .18; }
.drawn rect.hit { stroke: none; }
.drawn .lit > rect.hit { fill: #a3004f; fill-opacity: .1; }
.drawn text.lit, .drawn .lit text { fill: #a3004f; font-weight: bold; }
.drawn rect.badge.lit { stroke-width: 3; }
.drawn [data-part], .drawn [data-net], .drawn [data-finding] { cursor: pointer; }
@media (max-width: 40rem) {
  .sheet { max-height: 70vh; }
  .sheet svg { max-width: none; }
  .fit { display: none; }
  .ask select { max-width: 100%; }
}
@media print {
  @page sheet { size: A4 landscape; margin: 10mm; }
  .front:has(.picture) { page: sheet; }
  .picture { break-inside: avoid; }
  .sheet { border: 0; overflow: visible; max-height: none; }
  .sheet svg, .sheet.natural svg { width: 100%; max-width: 100%; max-height: 125mm; }
  .ask.ask, .asked.asked, button.place { display: none; }
}
"""


def script() -> str:
    """The script of the page, of our own and always the same."""
    return (files("coldcheck.report.review") / "live.js").read_text(encoding="utf-8")


def picture_section(document: Document, level: int) -> Iterator[str]:
    """The picture; or a line saying why there is none."""
    if document.shown is None:
        if document.not_shown:
            yield f'<p class="no-picture">No picture: {text(document.not_shown)}.</p>'
        return
    shown = document.shown
    yield f'<div class="picture"><h{level}>Circuit</h{level}>'
    yield from _asking(document, shown)
    yield '<figure><div class="sheet" tabindex="0" role="region" aria-label="circuit diagram">'
    yield svg.inline(replace(_first_state(document, shown), entries=()))
    yield f"</div>{_caption(document, shown)}</figure></div>"
    yield (
        '<div class="asked" tabindex="0" role="region" aria-label="what is known of it" '
        'aria-live="polite" hidden></div>'
    )
    yield f'<script type="application/json">{data_of(document, shown)}</script>'


def _first_state(document: Document, shown: Shown) -> Picture:
    """The picture with the volts of the first state, which a page without its script keeps."""
    states = states_shown(document)
    points = document.states[states[0]].points if states else {}
    return with_volts(shown.picture, volts_of(points))


def _caption(document: Document, shown: Shown) -> str:
    states = states_shown(document)
    if not states:
        return f"<figcaption>{text(shown.picture.state or 'No state is solved.')}</figcaption>"
    return (
        f'<figcaption>Volts to gnd, state <b class="in-state">{text(states[0])}</b>. '
        "~ is AC. Drawn from the text.</figcaption>"
    )


def _asking(document: Document, shown: Shown) -> Iterator[str]:
    """What only a script can answer is not shown without one."""
    states = "".join(_option(name, name) for name in states_shown(document))
    parts = "".join(_option(part_key(d.name), d.name) for d in devices(shown))
    points = "".join(_option(net_key(net), net) for net in nets_drawn(shown))
    yield '<div class="ask" hidden>'
    if states:
        yield f'<label>State <select class="state">{states}</select></label>'
    yield (
        f'<label>Part or point <select class="which">{_option("", "none")}'
        f'<optgroup label="parts">{parts}</optgroup>'
        f'<optgroup label="points">{points}</optgroup></select></label>'
    )
    yield '<label class="fit"><input type="checkbox" class="large"> full size</label></div>'


def _option(value: str, words: str) -> str:
    return f'<option value="{text(value)}">{text(words)}</option>'
