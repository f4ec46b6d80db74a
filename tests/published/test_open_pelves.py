"""The built pelvis against 26 open pelves (musculoskeletal-models 0.2.4, MPL-2.0), each in its own plane.

The tables are not fitted to them: they only check.
"""

import io
import pickle

import numpy as np
import pytest

from meshes.body import Body
from meshes.figures import published
from meshes.measure import measure_one
from tests.published.open_pelves import PELVIS_NODES, PEOPLE, NumbersOnly, figures, mean_shape, people, shape_model

ROWS = {row.id: row for row in published() if row.source == "open_pelves"}


@pytest.fixture(scope="module")
def spread() -> dict[str, tuple[float, float]]:
    """id -> mean and standard deviation of the 26 people."""
    all_figures = [figures(person) for person in people()]
    return {
        key: (float(np.mean([f[key] for f in all_figures])), float(np.std([f[key] for f in all_figures], ddof=1)))
        for key in all_figures[0]
    }


def test_rows_are_modes_and_columns_are_people() -> None:
    """The trap of the file: read the other way round it still gives plausible pelves, with a wrong spread."""
    model = shape_model()
    assert {key: value.shape for key, value in model.items()} == {
        "mean": (9675,),
        "modes": (9675, 26),
        "weights": (26,),
        "projectedWeights": (26, 26),
    }
    scores = model["projectedWeights"][:25]
    assert scores.var(axis=1) / model["weights"][:25] == pytest.approx(np.full(25, 25.0 / 26.0))
    assert np.abs(scores.mean(axis=1)).max() < 1e-9


def test_both_files_hold_the_same_mean_shape() -> None:
    in_pickle = shape_model()["mean"].reshape(3, -1).T[:PELVIS_NODES]
    assert mean_shape() == pytest.approx(in_pickle, abs=1e-9)
    assert len(people()) == PEOPLE
    assert np.mean(people(), axis=0) == pytest.approx(mean_shape(), abs=1e-9)


def test_a_pickle_that_is_more_than_numbers_is_refused() -> None:
    with pytest.raises(pickle.UnpicklingError, match="is not part of an array"):
        NumbersOnly(io.BytesIO(pickle.dumps(print))).load()


def test_the_table_cites_the_figures_that_the_data_gives(spread: dict[str, tuple[float, float]]) -> None:
    """Within half a millimetre of mean and spread; the crest is read as its highest node, 1.5 mm apart."""
    for key, (mean, sd) in spread.items():
        near = 1.5 if "crest" in key else 0.5
        assert ROWS[key].mean == pytest.approx(mean, abs=near), key
        assert ROWS[key].sd == pytest.approx(sd, abs=near), key


@pytest.mark.parametrize("key", sorted(figures(mean_shape())))
def test_our_pelvis_lies_among_the_26(key: str, alder: Body, spread: dict[str, tuple[float, float]]) -> None:
    mean, sd = spread[key]
    ours = measure_one(ROWS[key], alder).ours
    assert ours == pytest.approx(mean, abs=2.0 * sd)
