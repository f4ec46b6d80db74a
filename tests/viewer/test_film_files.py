"""A film as PNG and as DICOM: what is read back is what was written, and the file says what it is."""

from __future__ import annotations

import struct
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pydicom
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays
from PIL import Image

from lessons.caution import CAUTION
from tests.meshes.refusals import refused
from viewer.export.dicom import FilmWords, letters, uid_of, write_film_dicom
from viewer.export.png16 import grey, write_film_png

Film = npt.NDArray[np.float32]
FRONT = FilmWords("front", "Alder", "0.1.0", 0.29296875, (1.0, 0.0, 0.0), (0.0, 0.0, -1.0), (0.0, 1.0, 0.0), 1.3)
#: Of every mandatory module of PS3.3, table A.8-1: attributes that must be there and hold something (type 1, and 1C
#: where its condition holds), and those that must be there (type 2).
HOLDING = {
    "C.7.2.1": ("StudyInstanceUID",),
    "C.7.3.1": ("Modality", "SeriesInstanceUID"),
    "C.7.6.3": (
        "SamplesPerPixel", "PhotometricInterpretation", "Rows", "Columns", "BitsAllocated", "BitsStored", "HighBit",
        "PixelRepresentation", "PixelData",
    ),
    "C.8.6.1": ("ConversionType",),
    "C.8.6.2": ("PixelSpacing", "PixelSpacingCalibrationDescription"),
    "C.11.2": ("WindowCenter", "WindowWidth"),
    "C.12.1": ("SOPClassUID", "SOPInstanceUID", "SpecificCharacterSet"),
}  # fmt: skip
THERE = {
    "C.7.1.1": ("PatientName", "PatientID", "PatientBirthDate", "PatientSex"),
    "C.7.2.1": ("StudyDate", "StudyTime", "ReferringPhysicianName", "StudyID", "AccessionNumber"),
    "C.7.3.1": ("SeriesNumber",),
    "C.7.6.1": ("InstanceNumber", "PatientOrientation"),
}
#: Of other objects' modules (CR, DX), or barred by a condition: Laterality stands only with one part of a pair.
BARRED = ("ImagerPixelSpacing", "ViewPosition", "Laterality", "PixelAspectRatio", "PlanarConfiguration")


def ramp(height: int = 24, width: int = 40) -> Film:
    return np.linspace(0.0, 1.0, height * width, dtype=np.float32).reshape(height, width)


def written(path: Path, words: FilmWords = FRONT, film: Film | None = None) -> pydicom.Dataset:
    write_film_dicom(ramp() if film is None else film, path, words)
    return pydicom.dcmread(path)


@given(arrays(np.float32, array_shapes(min_dims=2, max_dims=2, max_side=12), elements=st.floats(0, 1, width=32)))
def test_levels_are_the_nearest_ones(film: Film) -> None:
    for bits in (8, 16):
        step = 1.0 / (2**bits - 1)
        assert np.abs(grey(film, bits) * step - film).max() <= step / 2 + 1e-9


@pytest.mark.parametrize("bits", [8, 16])
def test_a_png_reads_back(tmp_path: Path, bits: int) -> None:
    path = tmp_path / "film.png"
    write_film_png(ramp(), path, bits, pixel_mm=0.25)
    with Image.open(path) as image:
        assert image.mode == {8: "L", 16: "I;16"}[bits]
        assert np.array_equal(np.asarray(image), grey(ramp(), bits))
        said: dict[Any, Any] = dict(image.info)
    assert said["Software"] == "furcal"
    assert "synthetic" in said["Title"]
    assert said["Disclaimer"] == CAUTION
    assert said["dpi"] == pytest.approx((101.6, 101.6))
    raw = path.read_bytes()
    assert struct.unpack(">IIBB", raw[16:26]) == (40, 24, bits, 0)  # width, height, bits, greyscale
    at = raw.index(b"pHYs") + 4
    assert struct.unpack(">IIB", raw[at : at + 9]) == (4000, 4000, 1)  # pixels a metre
    assert [entry.name for entry in tmp_path.iterdir()] == ["film.png"]


def test_dicom_pixels_read_back(tmp_path: Path) -> None:
    file = written(tmp_path / "film.dcm")
    assert np.array_equal(file.pixel_array, grey(ramp(), 16))
    assert file.pixel_array.dtype == np.uint16
    assert (file.Rows, file.Columns) == ramp().shape
    assert (file.BitsAllocated, file.BitsStored, file.HighBit, file.PixelRepresentation) == (16, 16, 15, 0)
    assert file.PhotometricInterpretation == "MONOCHROME2"
    centre, width = float(file.WindowCenter), float(file.WindowWidth)
    assert (centre - 0.5 - (width - 1) / 2, centre - 0.5 + (width - 1) / 2) == (0, 65535)  # PS3.3, C.11.2.1.2.1


@pytest.mark.parametrize("module", HOLDING)
def test_what_the_standard_asks_for_is_there(tmp_path: Path, module: str) -> None:
    file = written(tmp_path / "film.dcm")
    for keyword in HOLDING[module]:
        assert file[keyword].value not in (None, "", b""), keyword


@pytest.mark.parametrize("module", THERE)
def test_what_may_be_empty_is_there(tmp_path: Path, module: str) -> None:
    file = written(tmp_path / "film.dcm")
    assert [keyword for keyword in THERE[module] if keyword not in file] == []


def test_nothing_of_other_objects_is_there(tmp_path: Path) -> None:
    file = written(tmp_path / "film.dcm")
    assert [keyword for keyword in BARRED if keyword in file] == []


def test_it_says_that_it_is_synthetic_and_of_no_patient(tmp_path: Path) -> None:
    file = written(tmp_path / "film.dcm")
    assert file.SyntheticData == "YES"
    assert file.ConversionType == "SYN"
    assert file.ContentQualification == "RESEARCH"
    assert (str(file.PatientName), file.PatientID) == ("SYNTHETIC^FILM", "SYNTHETIC")
    assert not any(file[k].value for k in ("PatientBirthDate", "PatientSex", "StudyDate", "AccessionNumber"))
    for keyword in ("StudyDescription", "SeriesDescription", "ImageComments"):
        assert "synthetic" in file[keyword].value
    assert CAUTION in file.ImageComments


def test_spacing_on_the_detector_and_in_the_body(tmp_path: Path) -> None:
    file = written(tmp_path / "film.dcm")
    assert [float(v) for v in file.NominalScannedPixelSpacing] == pytest.approx([FRONT.pixel_mm] * 2)
    assert [float(v) for v in file.PixelSpacing] == pytest.approx([FRONT.pixel_mm / 1.3] * 2)
    plain = written(tmp_path / "plain.dcm", replace(FRONT, magnification=None))
    assert "PixelSpacing" not in plain
    assert "PixelSpacingCalibrationType" not in plain


@pytest.mark.parametrize(
    ("beam_to", "view"),
    [
        ((0.0, 1.0, 0.0), "antero-posterior"),
        ((0.0, -1.0, 0.0), "postero-anterior"),
        ((1.0, 0.0, 0.0), "left lateral"),
        ((-1.0, 0.0, 0.0), "right lateral"),
        ((0.8, 0.6, 0.0), "oblique projection"),
        ((0.0, 0.0, 1.0), "oblique projection"),
    ],
)
def test_a_view_is_named_by_where_the_beam_goes(tmp_path: Path, beam_to: tuple[float, float, float], view: str) -> None:
    file = written(tmp_path / "film.dcm", replace(FRONT, beam_to=beam_to))
    assert file.ViewCodeSequence[0].CodeMeaning == view


def test_sides_are_lettered_as_the_standard_has_it(tmp_path: Path) -> None:
    assert list(written(tmp_path / "film.dcm").PatientOrientation) == ["L", "F"]
    assert letters((0.8, -0.6, 0.0)) == "LA"
    assert letters((-0.6, 0.8, 0.0)) == "PR"
    assert letters((0.0, 0.04, 0.999)) == "H"


def test_the_same_film_is_the_same_file(tmp_path: Path) -> None:
    one, two = tmp_path / "one.dcm", tmp_path / "two.dcm"
    written(one)
    written(two)
    assert one.read_bytes() == two.read_bytes()


def test_another_film_has_another_number_in_the_same_study(tmp_path: Path) -> None:
    one = written(tmp_path / "one.dcm")
    brighter = ramp()
    brighter[0, 0] = 1.0
    two = written(tmp_path / "two.dcm", film=brighter)
    side = written(tmp_path / "side.dcm", replace(FRONT, view="left"))
    assert len({f.SOPInstanceUID for f in (one, two, side)}) == 3
    assert one.SeriesInstanceUID == two.SeriesInstanceUID != side.SeriesInstanceUID
    assert one.StudyInstanceUID == two.StudyInstanceUID == side.StudyInstanceUID


@given(st.lists(st.binary(max_size=20), max_size=4))
def test_an_identifier_is_legal(parts: list[bytes]) -> None:
    uid = pydicom.uid.UID(uid_of(*parts))
    assert uid.is_valid
    assert uid.startswith("2.25.")


def test_parts_of_an_identifier_do_not_run_together() -> None:
    assert uid_of(b"ab", b"c") != uid_of(b"a", b"bc")


def test_long_words_are_cut_to_what_a_field_may_hold(tmp_path: Path) -> None:
    """pydicom warns of a value that is too long, and a warning is an error here."""
    file = written(tmp_path / "film.dcm", replace(FRONT, view="left, turned " * 20, specimen="Älder" * 40))
    assert len(file.SeriesDescription) == 64


@pytest.mark.parametrize("value", [-0.001, 1.001, float("nan")])
def test_values_outside_are_a_mistake_of_ours(tmp_path: Path, value: float) -> None:
    film = ramp()
    film[3, 3] = value
    with pytest.raises(ValueError, match="from 0 to 1"):
        write_film_dicom(film, tmp_path / "film.dcm", FRONT)
    with pytest.raises(ValueError, match="from 0 to 1"):
        write_film_png(film, tmp_path / "film.png", 16)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    for name, write in (("f.dcm", written), ("f.png", lambda path: write_film_png(ramp(), path, 8))):
        path = tmp_path / "lost" / name
        assert refused(write, path).startswith(f"{path}: cannot be written")


def test_what_was_there_stays_when_writing_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "film.dcm"
    path.write_bytes(b"old")

    def full(_self: Path, _target: Path) -> Path:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    assert "No space left" in refused(written, path)
    assert [entry.name for entry in tmp_path.iterdir()] == ["film.dcm"]
    assert path.read_bytes() == b"old"


def test_a_missing_package_is_told_with_its_remedy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pydicom", None)
    said = refused(write_film_dicom, ramp(), tmp_path / "film.dcm", FRONT)
    assert "pip install 'furcal[dicom]'" in said
