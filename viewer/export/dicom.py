"""A film as a DICOM file that a department's viewer opens: Secondary Capture Image Storage, 16-bit greyscale.

DICOM PS3.3, A.8.1 (the object and its modules). The file says in four places that it is synthetic, and it has no
patient: (0008,001C) Synthetic Data, Conversion Type SYN, the name and number of the patient, and the descriptions.
The same film gives the same file, byte for byte: every identifier comes from what is in it, and no date is written.
"""

from __future__ import annotations

import hashlib
import uuid
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from lessons.caution import CAUTION
from meshes.errors import FurcalError

if TYPE_CHECKING:
    from pydicom.dataset import Dataset

Vector = tuple[float, float, float]

SYNTHETIC = "SYNTHETIC"
SECONDARY_CAPTURE = "1.2.840.10008.5.1.4.1.1.7"
EXPLICIT_LITTLE_ENDIAN = "1.2.840.10008.1.2.1"
#: Letters of PS3.3, C.7.6.1.1.1: where each axis of a body points. DICOM's axes are ours: +x left, +y back, +z head.
ENDS = (("L", "R"), ("P", "A"), ("H", "F"))
#: A direction within 3 degrees of an axis is named by that axis alone.
ALONG = 0.05
#: Views of PS3.16, CID 4010, by the way the beam goes through the body.
VIEWS = {
    "P": ("399348003", "antero-posterior"),
    "A": ("272479007", "postero-anterior"),
    "L": ("399173006", "left lateral"),
    "R": ("399198007", "right lateral"),
}
OBLIQUE = ("399182000", "oblique projection")


@dataclass(frozen=True)
class FilmWords:
    """What a film's file says besides its pixels.

    view                : in our words, such as "front" or "left, turned 12 degrees"
    specimen            : name of the specimen
    specimen_whole      : all that makes the specimen, in any fixed form: two of one name are two studies
    furcal_version      : of the program that made it
    pixel_mm            : distance of the middles of two pixels on the detector
    columns_to, rows_to : unit vectors in the body's frame: along a row (to the next column), down a column
    beam_to             : unit vector of the middle ray, from the source to the detector
    magnification       : of the plane through the origin of the body's frame; None leaves it to the reader
    """

    view: str
    specimen: str
    furcal_version: str
    pixel_mm: float
    columns_to: Vector
    rows_to: Vector
    beam_to: Vector
    magnification: float | None = None
    specimen_whole: str = ""


def write_film_dicom(values: npt.NDArray[np.float32], target: Path, words: FilmWords) -> None:
    """Write a film, whole or not at all.

    values : (height, width), 0 (black) to 1 (white), kept to 1/65535

    Raises FurcalError when pydicom is not installed, or naming the file when it cannot be written.
    """
    check_pydicom()
    from pydicom import Dataset
    from pydicom.dataset import FileMetaDataset

    if values.ndim != 2 or not bool(np.all((values >= 0.0) & (values <= 1.0))):
        raise ValueError("a film is an array (height, width) of values from 0 to 1")
    pixels = np.rint(values.astype(np.float64) * 65535.0).astype("<u2")
    file = Dataset()
    file.file_meta = FileMetaDataset()
    _identify(file, pixels, words)
    _describe(file, words)
    _fill(file, pixels, words)
    beside = target.with_name(f".{target.name}.part")
    try:
        file.save_as(beside, enforce_file_format=True)
        beside.replace(target)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise FurcalError(f"{target}: cannot be written ({error.strerror or error}).") from None


def check_pydicom() -> None:
    """Raise FurcalError, with the remedy, where pydicom is not installed."""
    try:
        import pydicom  # noqa: F401
    except ModuleNotFoundError:
        raise FurcalError("a DICOM file needs pydicom, which is not installed: pip install 'furcal[dicom]'.") from None


def uid_of(*parts: bytes) -> str:
    """An identifier that hangs on what is given and on nothing else: 2.25 and a UUID (PS3.5, B.2; RFC 9562, v8)."""
    digest = hashlib.sha256(b"".join(len(part).to_bytes(8, "big") + part for part in parts)).digest()
    raw = int.from_bytes(digest[:16], "big")
    raw = raw & ~(0xF << 76) | (8 << 76)  # version 8, free use
    raw = raw & ~(0x3 << 62) | (0x2 << 62)  # the variant of RFC 9562
    return f"2.25.{uuid.UUID(int=raw).int}"


def letters(to: Vector) -> str:
    """A direction in the letters of DICOM, the longest part first: ("L", "LA", ...)."""
    order = sorted(range(3), key=lambda axis: -abs(to[axis]))
    return "".join(ENDS[axis][to[axis] < 0.0] for axis in order if abs(to[axis]) > ALONG)


def _identify(file: Dataset, pixels: npt.NDArray[np.uint16], words: FilmWords) -> None:
    """Identifiers: PS3.10, 7.1 (file), and the modules SOP Common, General Study and General Series."""
    from pydicom.uid import UID

    study = uid_of(b"study", words.furcal_version.encode(), words.specimen.encode(), words.specimen_whole.encode())
    series = uid_of(b"series", study.encode(), words.view.encode())
    shape = repr((pixels.shape, words)).encode()
    file.SpecificCharacterSet = "ISO_IR 192"
    file.SOPClassUID = SECONDARY_CAPTURE
    file.SOPInstanceUID = uid_of(b"film", series.encode(), shape, pixels.tobytes())
    file.StudyInstanceUID, file.SeriesInstanceUID = study, series
    file.SyntheticData = "YES"
    file.ContentQualification = "RESEARCH"  # the standard's word for: not for use with patients
    meta = file.file_meta
    meta.MediaStorageSOPClassUID = file.SOPClassUID
    meta.MediaStorageSOPInstanceUID = file.SOPInstanceUID
    meta.TransferSyntaxUID = UID(EXPLICIT_LITTLE_ENDIAN)
    meta.ImplementationClassUID = UID(uid_of(b"furcal"))
    meta.ImplementationVersionName = "FURCAL"


def _describe(file: Dataset, words: FilmWords) -> None:
    """Patient (there is none), study, series and equipment: PS3.3, C.7.1.1, C.7.2.1, C.7.3.1 and C.8.6.1."""
    # Both may be empty (type 2). A viewer heads its pictures with them, and an empty line looks like a person
    # whose name was taken away.
    file.PatientName, file.PatientID = f"{SYNTHETIC}^FILM", SYNTHETIC
    for empty in (
        "PatientBirthDate", "PatientSex", "StudyDate", "StudyTime", "AccessionNumber", "ReferringPhysicianName",
    ):  # fmt: skip
        setattr(file, empty, "")
    file.StudyID = "1"
    file.StudyDescription = _short(f"synthetic, no patient: specimen {words.specimen}")
    file.SeriesDescription = _short(f"synthetic film, for teaching: {words.view}")
    file.Modality = "OT"  # no X-ray machine made it
    file.SeriesNumber = file.InstanceNumber = 1
    file.BodyPartExamined = "LSPINE"  # not one of a pair: Laterality must not stand beside it
    file.ConversionType = "SYN"
    file.SecondaryCaptureDeviceManufacturer = "furcal"
    file.SecondaryCaptureDeviceSoftwareVersions = words.furcal_version


def _fill(file: Dataset, pixels: npt.NDArray[np.uint16], words: FilmWords) -> None:
    """The image: PS3.3, C.7.6.1 (General Image), C.7.6.3 (Pixel), C.8.6.2 (SC Image) and C.11.2 (VOI LUT)."""
    file.ImageType = ["DERIVED", "SECONDARY"]
    file.PatientOrientation = [letters(words.columns_to), letters(words.rows_to)]
    file.ImageComments = f"synthetic. {CAUTION} View: {words.view}. Specimen: {words.specimen}."
    file.BurnedInAnnotation = "NO"  # asks for words on the picture by which a patient can be known
    file.RecognizableVisualFeatures = "NO"
    file.LossyImageCompression = "00"
    file.PresentationLUTShape = "IDENTITY"
    file.ViewCodeSequence = [_code(*VIEWS.get(letters(words.beam_to), OBLIQUE))]
    file.NominalScannedPixelSpacing = [_decimal(words.pixel_mm)] * 2
    if words.magnification is not None:
        file.PixelSpacing = [_decimal(words.pixel_mm / words.magnification)] * 2
        file.PixelSpacingCalibrationType = "GEOMETRY"
        file.PixelSpacingCalibrationDescription = _short("in the plane through the middle of the S1 upper endplate")
    file.WindowCenter, file.WindowWidth = 32768, 65536  # all of it
    file.set_pixel_data(pixels, "MONOCHROME2", 16, generate_instance_uid=False)


def _code(value: str, meaning: str) -> Dataset:
    from pydicom import Dataset

    code = Dataset()
    code.CodeValue, code.CodingSchemeDesignator, code.CodeMeaning = value, "SCT", meaning
    return code


def _decimal(value: float) -> Any:
    """A number in the 16 characters that a decimal string may have (PS3.5, 6.2)."""
    from pydicom.valuerep import DSfloat

    return DSfloat(value, auto_format=True)


def _short(said: str) -> str:
    """The 64 characters that a long string may have (PS3.5, 6.2)."""
    return said if len(said) <= 64 else f"{said[:61]}..."
