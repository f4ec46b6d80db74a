"""Figures that the average adult is known to miss, by id, each with the reason. They are told by `furcal measure`."""

DISAGREEMENTS: dict[str, str] = {
    "obturator_exit_asis": "the three distances of this series do not meet in one point of a pelvis of average width",
    "quadratus_crest_model": "muscle lines of one open model; our sections follow supine imaging, wider at the crest",
}
