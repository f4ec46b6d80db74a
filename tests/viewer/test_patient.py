"""What lesions cost a patient: from a docked portal and from a picked point."""

import pytest

from lessons.patient import Lesion, lesions_of, reported_after, told_of
from meshes.body import Body
from meshes.contact import dock
from meshes.errors import FurcalError
from meshes.portal import place
from meshes.supply import supply


def said(body: Body, structure_id: str, share: float) -> str:
    """Everything that is told of a lesion at a share of a nerve's length."""
    told = told_of(body, Lesion(structure_id, share * body.centrelines[structure_id].length))
    return "\n".join([told.title, *(line for title, lines in told.blocks for line in (title, *lines))])


def test_a_portal_hurts_each_nerve_once_where_the_nerve_enters_it(alder: Body) -> None:
    docking = dock(alder, place(alder, "L4-5", "left", "lateral", 0.5, 11.0, cranial_deg=7.0))
    touched = {c.id: c for c in docking.nerves if c.touched}
    lesions = lesions_of(alder, docking)
    assert {"femoral_left", "lateral_femoral_cutaneous_left"} <= {lesion.id for lesion in lesions}
    # A share that joins a nerve which is itself hurt is no second lesion.
    assert "l3_lateral_femoral_cutaneous_left" in touched
    assert "l3_lateral_femoral_cutaneous_left" not in {lesion.id for lesion in lesions}
    for lesion in lesions:
        inside = touched[lesion.id].inside_mm
        assert inside is None or lesion.at_mm == inside[0]


def test_a_portal_that_touches_no_nerve_hurts_none(alder: Body) -> None:
    docking = dock(alder, place(alder, "L3-4", "left", "lateral", 0.5, 3.0))
    assert not [c for c in docking.nerves if c.touched]
    assert lesions_of(alder, docking) == []


@pytest.mark.parametrize("side", ["left", "right"])
def test_further_out_a_nerve_costs_less(alder: Body, side: str) -> None:
    """Preston and Shapiro: iliacus leaves the femoral nerve above the ligament."""
    high, low = said(alder, f"femoral_{side}", 0.3), said(alder, f"femoral_{side}", 0.97)
    assert "iliacus, L2" in high.split("spared:")[0]
    assert "iliacus, L2" not in low.split("spared:")[0]
    assert "knee extension: lost" in high
    assert side in high.splitlines()[0]


def test_a_nerve_of_the_skin_alone_weakens_nothing_and_lights_its_skin(alder: Body) -> None:
    told = told_of(alder, Lesion("lateral_femoral_cutaneous_left", 150.0))
    assert dict(told.blocks)["weak:"] == ("  nothing",)
    assert {patch for patch, _ in told.patches} == {"lfcn_anterior", "lfcn_posterior"}
    assert {patch for patch, _ in told.patches} <= set(supply().patches)
    assert told.side == "left"


def test_every_line_that_claims_something_names_its_source_and_every_key_is_cited(alder: Body) -> None:
    told = told_of(alder, Lesion("femoral_left", 30.0))
    cited = {source.partition(":")[0] for source in told.sources}
    claims = [line for title, lines in told.blocks if title in ("weak:", "numb:", "reflexes:") for line in lines]
    own = [line for line in claims if line.startswith("    ") or "thigh" in line]
    assert own
    for line in own:
        keys = line.rsplit("[", 1)[1].rstrip("]").split(", ")
        assert all(
            key in cited or key in ("from memory", "judgement", "teaching text", "common_practice") for key in keys
        )


@pytest.mark.parametrize(
    ("name", "words"), [("psoas_major_left", "no such nerve"), ("nerve_of_nobody", "no such nerve")]
)
def test_what_is_no_nerve_of_the_body_is_told(alder: Body, name: str, words: str) -> None:
    with pytest.raises(FurcalError, match=words):
        told_of(alder, Lesion(name, 0.0))


def test_what_else_it_could_be_and_what_was_reported_stand_beside_it(alder: Body) -> None:
    told = told_of(alder, Lesion("femoral_left", 60.0))
    tables = {title: lines for title, lines in told.blocks if title.startswith("what else it could be")}
    assert any("root, plexus or muscle" in title for title in tables)
    assert all("[" in line for lines in tables.values() for line in lines if line.startswith("    "))
    docking = dock(alder, place(alder, "L4-5", "left", "lateral", 0.5, 11.0))
    reported = reported_after(docking)
    assert reported is not None
    ((caution, lines),) = reported.blocks
    assert caution.startswith("A range")
    heads = [line for line in lines if not line.startswith("    ")]
    assert all("%" in line for line in heads)
    assert any(" of " in line for line in lines)
    assert {s.partition(":")[0] for s in reported.sources} >= {"cummock_2011"}
