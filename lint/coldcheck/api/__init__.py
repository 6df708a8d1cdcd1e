"""The Python interface: a drawing, its states, its parts, and what becomes of them at other values.

    import coldcheck

    amp = coldcheck.read("samples/harbour-light.tube")
    amp.warm["RES"].dc                      # volts to gnd; .ac_rms .low .high .samples
    amp.warm.parts["R7"].watts.dc           # .volts .amps .watts
    amp.warm.tubes["V2"].plate_ma
    amp.with_values(R7="330 ohm").warm      # the drawing stays as it is
    amp.sweep(R7=[220, 270, 330]).tubes["V2"].plate_w
    amp.review().verdict()

Names here are kept (see the page of changes). Figures are plain floats and numpy arrays in volts,
amperes and watts, and say their unit (``.unit``) or have it in their name (``plate_ma``). States,
nets, parts and tubes are mappings: ``state["B+"]``, ``for net in state``. In a notebook each shows
itself as a table; ``to_frame()`` gives a pandas data frame, and pandas is needed for that alone.
"""

from coldcheck.api.drawing import Drawing, States, Values, read, read_text
from coldcheck.api.errors import BadValueError, MissingError, UnreadableError
from coldcheck.api.reading import Curve, Reading
from coldcheck.api.review import Review, review, review_text
from coldcheck.api.state import Part, Parts, State, Tube, Tubes
from coldcheck.api.sweep import PartCurves, Sweep, SweptParts, SweptTubes, TubeCurves
from coldcheck.api.table import Table
from coldcheck.drawing.valued import Value

__all__ = [
    "BadValueError",
    "Curve",
    "Drawing",
    "MissingError",
    "Part",
    "PartCurves",
    "Parts",
    "Reading",
    "Review",
    "State",
    "States",
    "Sweep",
    "SweptParts",
    "SweptTubes",
    "Table",
    "Tube",
    "TubeCurves",
    "Tubes",
    "UnreadableError",
    "Value",
    "Values",
    "read",
    "read_text",
    "review",
    "review_text",
]
