"""The one sentence that stands wherever a body is shown or measured."""

CAUTION = "For teaching. An average body built from published figures; not for planning or guiding an operation."
